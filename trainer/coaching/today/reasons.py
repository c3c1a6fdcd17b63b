"""Why something is on today's list, in words."""

from __future__ import annotations

from datetime import date

from trainer.coaching.path.cells import Cell
from trainer.journal.take import EPOCH_ORDINAL

# From so many days late on it says more when a key was played last than for how long it has been due (ours).
LONG_DAYS = 21


def when_due(cell: Cell, today: date) -> str:
    """``due today``, ``due in 5 days, with time left today``, ``last played 11 weeks ago``."""
    late = (today - cell.due).days if cell.due else 0
    if late < 0:
        return "due tomorrow" if late == -1 else f"due in {-late} days, with time left today"
    if late >= LONG_DAYS and cell.recent:
        weeks = (today.toordinal() - EPOCH_ORDINAL - cell.recent[-1].day) // 7
        return f"last played {weeks} weeks ago"
    return {0: "due today", 1: "due since yesterday"}.get(late, f"due for {late} days")
