"""Break things on purpose: ``python tools/faults.py SUBJECT [--seed S] [--count N] [--quick]``.

Subjects: kill, disk, midi, files, fuzz, time, long, upgrade, privacy, all.

Each subject prints a table of what was done, how often, how often it was not borne as promised, and what was measured.
The same seed does the same again. ``--quick`` does a small part of it, as the tests do.
"""

from __future__ import annotations

import argparse
import importlib
import os
import pathlib
import sys
import time

ROOT = pathlib.Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

# Subject -> module, how much of it by default, how much quickly.
SUBJECTS = {
    "kill": ("kill", 200, 7),
    "disk": ("disk", 200, 12),
    "midi": ("midi", 1_000_000, 20_000),
    "files": ("inputs", 20_000, 300),
    "fuzz": ("fuzz", 20_000, 80),
    "time": ("clocks", 1, 1),
    "long": ("long", 8, 1),
    "upgrade": ("upgrade", 30, 2),
    "privacy": ("privacy", 20, 1),
}


def main() -> int:
    """Run the subjects asked for; 1 when anything was not borne, 130 when it was stopped."""
    parser = argparse.ArgumentParser(prog="faults.py", description="Break things on purpose and see what is lost.")
    parser.add_argument("subject", choices=[*SUBJECTS, "all"], nargs="?", default="all")
    parser.add_argument("--seed", type=int, default=11, help="the same seed does the same (11)")
    parser.add_argument("--count", type=int, help="how much: moments, wounds, messages, files, hours")
    parser.add_argument("--quick", action="store_true", help="a small part of it")
    args = parser.parse_args()
    os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
    from tools.fault.stopping import leaving_nothing

    with leaving_nothing():
        failed = _broken([*SUBJECTS] if args.subject == "all" else [args.subject], args)
    print("All of it was borne." if not failed else f"{failed} times it was not borne.")
    return 1 if failed else 0


def _broken(subjects: list[str], args: argparse.Namespace) -> int:
    """How often something was not borne."""
    from tools.fault.table import show

    failed = 0
    for subject in subjects:
        module, usual, little = SUBJECTS[subject]
        count = args.count or (little if args.quick else usual)
        began = time.monotonic()
        rows = importlib.import_module(f"tools.fault.{module}").run(args.seed, count, args.quick)
        failed += show(f"{subject}, seed {args.seed}, {time.monotonic() - began:.0f} s", rows)
    return failed


if __name__ == "__main__":
    raise SystemExit(main())
