"""The project's own environment: found, made and filled, with nothing but the standard library."""

from __future__ import annotations

import hashlib
import os
import pathlib
import platform
import shutil
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
PLACE = ROOT / ".venv"
# Every package in one version with its hashes, by what it is for; made by tools/locks.py.
LOCKS = ROOT / "tools" / "lock"
# python-rtmidi has wheels for the first two, pygame for the third as well (July 2025 releases).
WANTED = ((3, 12), (3, 11), (3, 13))


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
    if python().exists() and any(is_installed(each) for each in {kind, "test"}):
        return python()
    if not _works([str(python())], _version_of(python())):
        command = interpreter()
        print(f"Making Keyfarer's own environment in {PLACE.name}/ (once, a minute or two) …", flush=True)
        made = subprocess.run([*command, "-m", "venv", "--clear", str(PLACE)])
        if made.returncode:
            raise SystemExit(
                "The environment could not be made: is there room on the disk, and may this folder be written?"
            )
    if _version_of(python()) >= (3, 13) or (platform.system(), platform.machine()) == ("Linux", "aarch64"):
        print("No python-rtmidi for this Python: MIDI will come through pygame instead.", flush=True)
    pip = [str(python()), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    steps = (
        ["--require-hashes", "--requirement", str(LOCKS / f"{kind}.txt")],
        ["--no-deps", "--no-build-isolation", "--no-index", "--editable", str(ROOT)],
    )
    if any(subprocess.run([*pip, *step]).returncode for step in steps):
        raise SystemExit("The packages could not be installed: check the connection to PyPI and run the command again.")
    _marker(kind).write_text(_stamp(kind))
    return python()


def is_installed(kind: str) -> bool:
    """Whether what the list `kind` of tools/lock names was installed for this folder as it is now."""
    return _marker(kind).exists() and _marker(kind).read_text() == _stamp(kind)


def _marker(kind: str) -> pathlib.Path:
    return PLACE / f"installed-{kind}"


def _stamp(kind: str) -> str:
    asked = (ROOT / "pyproject.toml").read_bytes() + (LOCKS / f"{kind}.txt").read_bytes() + str(ROOT).encode()
    return hashlib.sha256(asked).hexdigest()


def _version_of(executable: pathlib.Path) -> tuple[int, int]:
    if not executable.exists():
        return (0, 0)
    found = subprocess.run(
        [str(executable), "-c", "import sys; print(*sys.version_info[:2])"], capture_output=True, text=True
    )
    parts = found.stdout.split()
    return (int(parts[0]), int(parts[1])) if found.returncode == 0 and len(parts) == 2 else (0, 0)
