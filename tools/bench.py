"""Measure: ``python tools/bench.py SUBJECT [options]``. Prints ratios and percentiles.

Subjects: accompany, bound, follow, hands, journal, shelf, sound, studio, window.
"""

from __future__ import annotations

import importlib
import pathlib
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

SUBJECTS = ("accompany", "bound", "follow", "hands", "journal", "shelf", "sound", "studio", "window")


def main() -> int:
    if len(sys.argv) < 2 or sys.argv[1] not in SUBJECTS:
        print(f"Say what to measure: {', '.join(SUBJECTS)}.", file=sys.stderr)
        return 2
    return int(importlib.import_module(f"tools.benches.{sys.argv[1]}").run(sys.argv[2:]) or 0)


if __name__ == "__main__":
    raise SystemExit(main())
