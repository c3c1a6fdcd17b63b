"""Measure: ``python tools/bench.py follow|shelf|window|journal|hands [options]``. Prints ratios and percentiles."""

from __future__ import annotations

import importlib
import pathlib
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))


def main() -> int:
    subjects = sorted(p.stem for p in (ROOT / "tools" / "benches").glob("*.py") if p.stem != "__init__")
    if len(sys.argv) < 2 or sys.argv[1] not in subjects:
        print(f"Say what to measure: {', '.join(subjects)}.", file=sys.stderr)
        return 2
    return int(importlib.import_module(f"tools.benches.{sys.argv[1]}").run(sys.argv[2:]) or 0)


if __name__ == "__main__":
    raise SystemExit(main())
