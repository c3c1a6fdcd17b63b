"""Time at the piano: what is left of the minutes given for a day, and when to rest."""

from __future__ import annotations

from datetime import date, datetime
from itertools import pairwise

from trainer.journal.store import Journal
from trainer.journal.summary import minutes_by_day

BREAK_AFTER_MINUTES = 25.0
BREAK_MINUTES = 5.0
# Between two takes the hands stay at the piano for so long: the next piece is looked at, marks are read (ours).
PAUSE_MINUTES = 2.0
# Who has not played for so long begins again with what is known (ours).
AWAY_DAYS = 14


def comes_back(journal: Journal, player: str, now: datetime) -> bool:
    """Whether this is the first day after a long time away from the piano."""
    today_ = (now.date() - date(1970, 1, 1)).days
    (last,) = journal.ask(
        "SELECT max(day) FROM take WHERE player = (SELECT id FROM player WHERE name = ?) AND day < ?", (player, today_)
    )[0]
    return last is not None and today_ - last >= AWAY_DAYS


def minutes_left(journal: Journal, player: str, minutes: float, now: datetime) -> float:
    """Of the minutes given for a day, those not spent at the piano yet on this one: short pauses count."""
    today_ = now.date()
    played = minutes_by_day(journal, player, today_).get(today_, 0.0)
    rows = journal.ask(
        "SELECT began, began + seconds FROM take WHERE player = (SELECT id FROM player WHERE name = ?) AND day = ? "
        "AND seconds IS NOT NULL ORDER BY began",
        (player, (today_ - date(1970, 1, 1)).days),
    )
    pauses = [float(after - end) / 60 for (_, end), (after, _) in pairwise(rows)]
    return max(0.0, minutes - played - sum(pause for pause in pauses if 0 < pause <= PAUSE_MINUTES))


def rest_line(journal: Journal, player: str, now: datetime) -> str:
    """A quiet line after twenty-five minutes without a break of five; empty before.

    Common practice among teachers and in musicians' health advice, no single source: short stretches, frequent rests.
    """
    rows = journal.ask(
        "SELECT began, seconds FROM take WHERE player = (SELECT id FROM player WHERE name = ?) AND day >= ? "
        "AND began BETWEEN ? AND ? AND seconds IS NOT NULL ORDER BY began DESC",
        (player, (now.date() - date(1970, 1, 1)).days - 1, now.timestamp() - 6 * 3600, now.timestamp()),
    )
    if not rows:
        return ""
    began = end = now.timestamp()
    for start, seconds in rows:
        if began - (start + seconds) > BREAK_MINUTES * 60:
            break
        began = start
    if (end - began) / 60 < BREAK_AFTER_MINUTES:
        return ""
    return "Twenty-five minutes: rest the hands a little. Pain is a reason to stop."
