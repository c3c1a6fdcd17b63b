"""Make the lists of pinned packages again: ``python tools/locks.py [--upgrade]``.

``tools/lock/run.txt`` holds everything the program needs, ``test.txt`` everything its checks need besides: one version
of each package for each Python and system, with the hashes of all its files. `tools/environment.py` installs nothing
else. What is pinned already stays, unless ``--upgrade`` is said or pyproject.toml asks for another version. Wants uv
(``pip install uv``) and the connection to PyPI.
"""

from __future__ import annotations

import importlib.util
import shutil
import subprocess
import sys
import tomllib

from environment import LOCKS, ROOT

LOWEST = "3.11"


def main() -> int:
    """Resolve anew for every Python from the lowest on and every system."""
    if not (importlib.util.find_spec("uv") or shutil.which("uv")):
        raise SystemExit("The lists are made by uv, which is not here: pip install uv.")
    uv = [sys.executable, "-m", "uv"] if importlib.util.find_spec("uv") else ["uv"]
    asked = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    # What builds the project is pinned like the rest; editables is asked for by hatchling when it installs in place.
    builders = "\n".join([*asked["build-system"]["requires"], "editables"])
    LOCKS.mkdir(exist_ok=True)
    for name, extra in (("run", []), ("test", ["--extra", "test", "--constraints", str(LOCKS / "run.txt")])):
        command = [*uv, "pip", "compile", "--quiet", "--universal", "--generate-hashes", "--python-version", LOWEST,
                   "--custom-compile-command", "python tools/locks.py", "--no-annotate", *extra, *sys.argv[1:],
                   "--output-file", str((LOCKS / f"{name}.txt").relative_to(ROOT)), "pyproject.toml", "-"]  # fmt: skip
        done = subprocess.run(command, input=builders, text=True, cwd=ROOT)
        if done.returncode:
            return done.returncode
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
