"""The project's own environment: found, made and filled, with nothing but the standard library."""

from __future__ import annotations

import hashlib
import os
import pathlib
import platform
import re
import shutil
import subprocess
import sys
import time

ROOT = pathlib.Path(__file__).resolve().parent.parent
PLACE = ROOT / ".venv"
# Every package in one version with its hashes, by what it is for; made by tools/locks.py.
LOCKS = ROOT / "tools" / "lock"
# python-rtmidi has wheels for the first two, pygame for the third as well (July 2025 releases).
WANTED = ((3, 12), (3, 11), (3, 13))
# Debian's packages python-rtmidi is built with where there is no wheel of it.
HEADERS = ("g++", "pkg-config", "python3-dev", "libasound2-dev", "libjack-jackd2-dev")

# How pip says that a package was there and would not build; anything else is a matter of the network.
_NOT_BUILT = ("metadata-generation-failed", "Failed building wheel", "Failed to build")
# And how it says that the index could not be reached; nothing else is then to be learned from it.
_UNREACHED = ("Retrying (", "Read timed out", "Failed to establish a new connection", "Temporary failure in name")
_AGAIN_S = 86_400.0


def _works(command: list[str], version: tuple[int, int]) -> bool:
    """Whether a command runs that Python and can make environments with it."""
    ask = "import sys, venv, ensurepip; print(*sys.version_info[:2])"
    try:
        found = subprocess.run([*command, "-c", ask], capture_output=True, text=True, timeout=30)
    except (OSError, subprocess.TimeoutExpired):
        return False
    return found.returncode == 0 and found.stdout.split() == [str(part) for part in version]


def interpreter() -> list[str]:
    """The best Python present: the one running when it serves, else one found by name."""
    candidates: list[tuple[list[str], tuple[int, int]]] = []
    for version in WANTED:
        name = f"{version[0]}.{version[1]}"
        if sys.version_info[:2] == version:
            candidates.append(([sys.executable], version))
        found = shutil.which(f"python{name}")
        if found:
            candidates.append(([found], version))
        if os.name == "nt" and shutil.which("py"):
            candidates.append((["py", f"-{name}"], version))
    for command, version in candidates:
        if _works(command, version):
            return command
    here = ".".join(str(part) for part in sys.version_info[:2])
    wanted = "3.11, 3.12 or 3.13"
    hint = "apt install python3-venv" if shutil.which("apt-get") else "see python.org"
    raise SystemExit(
        f"Keyfarer needs Python {wanted} with its venv module; this one is {here} and no other was found ({hint})."
    )


def python() -> pathlib.Path:
    return PLACE / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def prepare(kind: str = "run") -> pathlib.Path:
    """Make the environment once and install Keyfarer into it; again only when what it needs has changed.

    Nothing is asked of the network when it is installed already. Only files whose hashes the lock names are installed.

    Parameters
    ----------
    kind : {'run', 'test'}
        The list in tools/lock; ``test`` holds all of ``run``.

    Returns
    -------
    pathlib.Path
        The environment's interpreter.
    """
    outgrown = _is_outgrown()
    if python().exists() and not outgrown and any(is_installed(each) for each in {kind, "test"}):
        if not midi_is_here():
            _build_midi()
        return python()
    if outgrown or not _works([str(python())], _version_of(python())):
        command = interpreter()
        print(f"Making Keyfarer's own environment in {PLACE.name}/ (once) …", flush=True)
        made = subprocess.run([*command, "-m", "venv", "--clear", str(PLACE)])
        if made.returncode:
            raise SystemExit(
                "The environment could not be made: is there room on the disk, and may this folder be written?"
            )
    steps = (
        ["--require-hashes", "--requirement", str(LOCKS / f"{kind}.txt")],
        ["--no-deps", "--no-build-isolation", "--no-index", "--editable", str(ROOT)],
    )
    many = sum("==" in line for line in (LOCKS / f"{kind}.txt").read_text(encoding="utf-8").splitlines())
    print(f"Fetching {many} packages (two minutes or so; longer where the line is slow) …", flush=True)
    for step in steps:
        done = subprocess.run([*_pip(), *step], stderr=subprocess.PIPE, encoding="utf-8", errors="replace")
        if done.returncode:
            raise SystemExit(_refusal(done.stderr or ""))
    if not midi_is_here() and not _build_midi():
        print("No python-rtmidi for this Python: MIDI will come through pygame instead.", flush=True)
        if shutil.which("apt-get") and not can_build_midi():
            print(f"To have it built at the next start: sudo apt-get install {' '.join(HEADERS)}", flush=True)
    _marker(kind).write_text(_stamp(kind))
    return python()


def _refusal(said: str) -> str:
    """Why the packages are not there, in a sentence, from what pip said."""
    if any(words in said for words in _UNREACHED):
        return "PyPI, where the packages come from, does not answer: check the connection and run the command again."
    why = [line.removeprefix("ERROR: ") for line in said.splitlines() if line.startswith("ERROR: ")]
    return f"The packages could not be installed ({why[-1][:200].rstrip('.') if why else 'pip gives no reason'})."


def midi_is_here() -> bool:
    """Whether python-rtmidi is in the environment; on most systems its wheel has come with the other packages."""
    return any(any(PLACE.glob(f"{lib}/site-packages/rtmidi")) for lib in ("lib/python3*", "Lib"))


def can_build_midi() -> bool:
    """Whether python-rtmidi can be built here: on Linux, with a compiler and the headers of `HEADERS`."""
    if platform.system() != "Linux" or not (shutil.which("c++") and shutil.which("pkg-config")):
        return False
    if subprocess.run(["pkg-config", "--exists", "alsa", "jack"]).returncode:
        return False
    ask = "import sysconfig; print(sysconfig.get_path('include'))"
    found = subprocess.run([str(python()), "-c", ask], capture_output=True, text=True)
    return (pathlib.Path(found.stdout.strip()) / "Python.h").exists()


def _build_midi() -> bool:
    """Build python-rtmidi where it has no wheel; False where that cannot be done.

    What the compiler refused is not tried again until the lists change; what could not be fetched is, a day later.
    """
    tried = PLACE / "tried-to-build-midi"
    lists = hashlib.sha256(b"".join((LOCKS / f"{name}.txt").read_bytes() for name in ("build", "midi"))).hexdigest()
    before = tried.read_text(encoding="utf-8") if tried.exists() else None
    if not can_build_midi() or before == lists or (before == "" and _is_of_today(tried)):
        return False
    print("Building python-rtmidi for this Python (once, half a minute) …", flush=True)
    # Its builders are looked for by name.
    path = os.pathsep.join([str(python().parent), os.environ.get("PATH", os.defpath)])
    steps = (
        ["--require-hashes", "--requirement", str(LOCKS / "build.txt")],
        ["--require-hashes", "--no-deps", "--no-build-isolation", "--requirement", str(LOCKS / "midi.txt")],
    )
    for step in steps:
        done = subprocess.run([*_pip(), *step], env=os.environ | {"PATH": path}, capture_output=True, encoding="utf-8",
                              errors="replace")  # fmt: skip
        if done.returncode:
            refused = any(words in f"{done.stdout}{done.stderr}" for words in _NOT_BUILT)
            tried.write_text(lists if refused else "")
            if not refused:
                print("It could not be fetched; tomorrow it is tried again.", flush=True)
            return False
    tried.write_text(lists)
    return True


def _is_of_today(marker: pathlib.Path) -> bool:
    """Whether a marker was left within a day; one from the future was not."""
    return 0 <= time.time() - marker.stat().st_mtime < _AGAIN_S


def _pip() -> list[str]:
    return [str(python()), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]


def is_installed(kind: str) -> bool:
    """Whether what the list `kind` of tools/lock names was installed for this folder as it is now."""
    return _marker(kind).exists() and _marker(kind).read_text(encoding="utf-8") == _stamp(kind)


def _marker(kind: str) -> pathlib.Path:
    return PLACE / f"installed-{kind}"


def _stamp(kind: str) -> str:
    asked = (ROOT / "pyproject.toml").read_bytes() + (LOCKS / f"{kind}.txt").read_bytes() + str(ROOT).encode()
    return hashlib.sha256(asked).hexdigest()


def _is_outgrown() -> bool:
    """Whether its Python is no longer the one it was made with: an upgraded system's finds no packages there."""
    settings = PLACE / "pyvenv.cfg"
    told = settings.read_text(encoding="utf-8", errors="replace") if settings.exists() else ""
    made = re.search(r"^version(?:_info)? *= *(\d+)\.(\d+)", told, re.MULTILINE)
    if made is None:
        return False
    # Mostly the file itself is called by its version; to ask it costs a start of Python.
    called = re.fullmatch(r"python(\d+)\.(\d+)", python().resolve().name)
    now = (int(called[1]), int(called[2])) if called is not None else _version_of(python())
    return (int(made[1]), int(made[2])) != now


def _version_of(executable: pathlib.Path) -> tuple[int, int]:
    if not executable.exists():
        return (0, 0)
    found = subprocess.run(
        [str(executable), "-c", "import sys; print(*sys.version_info[:2])"], capture_output=True, text=True
    )
    parts = found.stdout.split()
    return (int(parts[0]), int(parts[1])) if found.returncode == 0 and len(parts) == 2 else (0, 0)
