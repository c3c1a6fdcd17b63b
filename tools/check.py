"""Set up and pass every check, real parts included: ``python3 tools/check.py [words for pytest]``."""

from __future__ import annotations

import json
import os
import pathlib
import shutil
import subprocess
import sys

from environment import HEADERS, LOCKS, PLACE, ROOT, can_build_midi, midi_is_here, prepare

# Program the system tests call -> Debian package that brings it.
PARTS = {"jackd": "jackd2", "Xvfb": "xvfb", "xdotool": "xdotool"}
# Run on every system.
ON_WINDOWS = ("tools/start.py", "tools/check.py", "tools/environment.py")
LONG_FILE = 400
AUDIT_S = 60
# A mirror of Debian's packages that does not answer holds up nobody for long.
PATIENCE = [word for name in ("http", "https") for word in ("-o", f"Acquire::{name}::Timeout=20")]
# Each takes some 600 MB.
MOST_PROCESSES = 4


def system_parts() -> None:
    """Get the programs the system tests need, or print the one line that does."""
    missing = [package for program, package in PARTS.items() if not shutil.which(program)]
    if not midi_is_here() and not can_build_midi():
        missing += HEADERS
    if not missing:
        return
    line = f"apt-get install -y {' '.join(missing)}"
    if shutil.which("apt-get") and getattr(os, "geteuid", lambda: 1)() == 0:
        print(f"Getting {', '.join(missing)} for the system tests …", flush=True)
        quiet = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
        done = [
            subprocess.run([*words, "-qq", *PATIENCE], env=quiet, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            for words in (["apt-get", "update"], line.split())
        ]
        if done[-1].returncode:
            print(f"They could not be got; what needs them is not tested. By hand: {line}", flush=True)
    elif shutil.which("apt-get"):
        print(f"The system tests want: sudo {line}", flush=True)
    else:
        print("The system tests want JACK 2 (jackd), Xvfb and xdotool from your system's packages.", flush=True)


def long_files() -> None:
    """A file past 400 lines is asked whether it is two; said, not failed."""
    for path in sorted((ROOT / "trainer").rglob("*.py")):
        lines = len(path.read_text(encoding="utf-8").splitlines())
        if lines > LONG_FILE:
            print(f"{path.relative_to(ROOT)}: {lines} lines; is it two things?")


def audit(python: pathlib.Path) -> subprocess.Popen[str]:
    """Begin to ask the registry, which is waited for while the other checks work."""
    command = [str(python), "-m", "pip_audit", "--requirement", str(LOCKS / "test.txt"), "--require-hashes",
               "--disable-pip", "--format", "json", "--progress-spinner", "off", "--timeout", "10"]  # fmt: skip
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)


def audited(asked: subprocess.Popen[str]) -> bool:
    """Whether no package of the lock has a known weakness; True when the registry tells nothing, which is said."""
    print("— pip-audit", flush=True)
    try:
        found = json.loads(asked.communicate(timeout=AUDIT_S)[0])["dependencies"]
    except subprocess.TimeoutExpired:
        asked.kill()
        asked.wait()
        print("Not audited: the registry did not tell its known weaknesses in time.", flush=True)
        return True
    except ValueError:
        print("Not audited: the registry's list of known weaknesses cannot be reached.", flush=True)
        return True
    known = [one for one in found if "vulns" in one]
    weak = [one for one in known if one["vulns"]]
    for one in weak:
        numbers = ", ".join(each["id"] for each in one["vulns"])
        mended = sorted({version for each in one["vulns"] for version in each["fix_versions"]})
        then = f"mended in {', '.join(mended)}" if mended else "not mended yet"
        print(f"{one['name']} {one['version']}: {numbers}, {then}.", flush=True)
    if len(known) < len(found):
        print(f"Not audited: {len(found) - len(known)} of {len(found)} packages, of which the registry tells nothing.")
    return not weak


def testing(words: list[str], cores: int | None) -> list[list[str]]:
    """How pytest is called: for all tests over the cores, file by file, and then for those with real ports and windows,
    which have the machine to themselves; for tests asked for by name once, which starts sooner.
    """
    processes = min(cores or 1, MOST_PROCESSES)
    if words or processes < 2:
        return [["pytest", *words]]
    beside = ["-n", str(processes), "--dist", "loadfile", "--no-loadscope-reorder"]
    return [["pytest", *beside, "-m", "not system"], ["pytest", "-m", "system"]]


def compiled() -> dict[str, str]:
    """The environment of the tests. Where Python is told to keep nothing it compiles it keeps it beside the packages
    instead: the tests start some hundred programs, and each would compile the whole house."""
    if not os.environ.get("PYTHONDONTWRITEBYTECODE"):
        return dict(os.environ)
    return os.environ | {"PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": str(PLACE / "compiled")}


def main() -> int:
    prepare("test")
    system_parts()
    # Again, for what the system's packages have just made possible.
    python = prepare("test")
    steps = (
        ["ruff", "check", "."],
        ["ruff", "format", "--check", "."],
        ["mypy"],
        # What runs there is named: most of what else stands in tools/ measures this system.
        ["mypy", "--platform", "win32", "--cache-dir", ".mypy_cache/windows", "trainer", *ON_WINDOWS],
        *testing(sys.argv[1:], os.cpu_count()),
    )
    failed = []
    asked = audit(python)
    for step in steps:
        print(f"— {' '.join(step)}", flush=True)
        if subprocess.run([str(python), "-m", *step], cwd=ROOT, env=compiled()).returncode:
            failed.append(" ".join(step))
    if not audited(asked):
        failed.append("audit")
    long_files()
    print(f"Failed: {', '.join(failed)}." if failed else "All checks pass.", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    os.chdir(pathlib.Path(ROOT))
    raise SystemExit(main())
