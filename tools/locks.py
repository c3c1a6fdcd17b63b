"""Make the lists of pinned packages again: ``python tools/locks.py [--upgrade]``.

``tools/lock/run.txt`` holds everything the program needs, ``test.txt`` everything its checks need besides, ``midi.txt``
python-rtmidi for where it is built from its source, ``build.txt`` what builds it: one version of each package for each
Python and system, with the hashes of all its files. `tools/environment.py` installs nothing else. What is pinned
already stays, unless ``--upgrade`` is said or pyproject.toml asks for another version. Wants uv
(``pip install uv``) and the connection to PyPI.
"""

from __future__ import annotations

import importlib.util
import shutil
import subprocess
import sys
import tomllib

from environment import ROOT

LOWEST = "3.11"
MIDI = "python-rtmidi"
# What its source asks for (build-system.requires of version 1.5.8).
MIDI_BUILDERS = ("cython", "wheel", "meson-python", "ninja")


def main() -> int:
    """Resolve anew for every Python from the lowest on and every system."""
    if not (importlib.util.find_spec("uv") or shutil.which("uv")):
        raise SystemExit("The lists are made by uv, which is not here: pip install uv.")
    uv = [sys.executable, "-m", "uv"] if importlib.util.find_spec("uv") else ["uv"]
    asked = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    # What builds the project is pinned like the rest; editables is asked for by hatchling when it installs in place.
    builders = [*asked["build-system"]["requires"], "editables"]
    for name, words, more in (
        ("run", ["pyproject.toml"], builders),
        ("test", ["--extra", "test", "--constraints", "tools/lock/run.txt", "pyproject.toml"], builders),
        ("build", ["--constraints", "tools/lock/test.txt"], MIDI_BUILDERS),
        ("midi", ["--no-deps"], [one for one in asked["project"]["dependencies"] if MIDI in one]),
    ):
        command = [*uv, "pip", "compile", "--quiet", "--universal", "--generate-hashes", "--python-version", LOWEST,
                   "--custom-compile-command", "python tools/locks.py", "--no-annotate", *sys.argv[1:],
                   "--output-file", f"tools/lock/{name}.txt", *words, "-"]  # fmt: skip
        wanted = "\n".join(one.partition(";")[0] if name == "midi" else one for one in more)
        done = subprocess.run(command, input=wanted, text=True, cwd=ROOT)
        if done.returncode:
            return done.returncode
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
