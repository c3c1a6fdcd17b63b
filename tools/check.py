"""Set up and pass every check, real parts included: ``python3 tools/check.py [words for pytest]``."""

from __future__ import annotations

import os
import pathlib
import shutil
import subprocess
import sys

from environment import ROOT, prepare

# Program the system tests call -> Debian package that brings it.
PARTS = {"jackd": "jackd2", "Xvfb": "xvfb", "xdotool": "xdotool"}
LONG_FILE = 400


def system_parts() -> None:
    """Get the programs the system tests need, or print the one line that does."""
    missing = [package for program, package in PARTS.items() if not shutil.which(program)]
    if not missing:
        return
    line = f"apt-get install -y {' '.join(missing)}"
    if shutil.which("apt-get") and getattr(os, "geteuid", lambda: 1)() == 0:
        print(f"Getting {', '.join(missing)} for the system tests …", flush=True)
        quiet = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
        subprocess.run(["apt-get", "update", "-qq"], env=quiet, stdout=subprocess.DEVNULL)
        subprocess.run([*line.split(), "-qq"], env=quiet, stdout=subprocess.DEVNULL)
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


def main() -> int:
    python = prepare("test")
    system_parts()
    steps = (
        ["ruff", "check", "."],
        ["mypy"],
        ["pytest", *sys.argv[1:]],
    )
    failed = []
    for step in steps:
        print(f"— {step[0]}", flush=True)
        if subprocess.run([str(python), "-m", *step], cwd=ROOT).returncode:
            failed.append(step[0])
    long_files()
    print(f"Failed: {', '.join(failed)}." if failed else "All checks pass.", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    os.chdir(pathlib.Path(ROOT))
    raise SystemExit(main())
