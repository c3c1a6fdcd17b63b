"""How a take is filed when it is over: results, packed rows, the cost of transposing, and the counts."""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Mapping
from functools import cache
from typing import Any

from trainer.following.marks import Settled
from trainer.following.timing import Timing
from trainer.journal import packing
from trainer.journal.columns import Columns, columns_of
from trainer.journal.counting import Counting, facts
from trainer.journal.tally import Count, PieceLabels, TakeFacts, canonical
from trainer.journal.values import FINISHED, KEPT, KeptTake, Summary
from trainer.music.keys import Key

_RESULT_COLUMNS = (
    "right", "played", "notes", "missed", "accuracy", "pulse", "seconds", "quarters", "pace", "cost", "steadiness",
    "hesitations", "share",
)  # fmt: skip


def result_values(settled: Settled, summary: Summary, timing: Timing | None, found: TakeFacts) -> tuple[Any, ...]:
    """The values of `_RESULT_COLUMNS`; the cost of transposing is weighed when they are written."""
    return (
        summary.right, summary.played, summary.written, len(settled.missed), summary.accuracy, summary.pulse_bpm,
        summary.seconds, found.quarters, found.pace, None, timing.steadiness if timing else None,
        len(timing.hesitations) if timing else None, summary.share,
    )  # fmt: skip


def complete(
    db: sqlite3.Connection, take: int | None, results: tuple[Any, ...], events: bytes, verdicts: bytes
) -> None:
    """A take gets its results and its packed rows; its live rows go. The cost of transposing follows from the past."""
    values = ", ".join(f"{column} = ?" for column in _RESULT_COLUMNS)
    db.execute(f"UPDATE take SET {values}, state = ? WHERE id = ?", (*results, FINISHED, take))
    db.execute("INSERT OR REPLACE INTO playing VALUES (?, ?, ?)", (take, events, verdicts))
    db.execute("DELETE FROM live WHERE take = ?", (take,))
    weigh(db, take)


def keep_unmarked(db: sqlite3.Connection, take: int | None, events: bytes) -> None:
    """A take cut off stays as it is, without marks."""
    db.execute("UPDATE take SET state = ? WHERE id = ?", (KEPT, take))
    db.execute("INSERT OR REPLACE INTO playing VALUES (?, ?, NULL)", (take, events))
    db.execute("DELETE FROM live WHERE take = ?", (take,))


def _counts(of: str = "") -> str:
    """What makes a take count for the cost of transposing: at least half of what is written was played right, by every
    hand asked for, and the player, not the click, set the pace. What a repeat has again is written once.
    """
    half = f"({of}right * 2 >= {of}notes OR {of}share * {of}accuracy >= 0.5)"
    played = f"{half} AND ifnull({of}share, 1) > 0"
    return f"{of}state = 'finished' AND {of}mode <> 'a tempo' AND {of}pace > 0 AND {played}"


# The same in questions to takes `t`.
_COUNTS, BASELINE = _counts(), _counts("t.")
BASELINE_TAKES = 5


def weigh(db: sqlite3.Connection, take: int | None) -> None:
    """Work out the cost of transposing: of this take, or, for a take in the written key, of those that waited for one.

    Cost is the median pace of the player's last takes of the same piece and hands in the written key, over the pace
    in the target key.
    """
    row = db.execute(
        f"SELECT player, piece, hands, interval, written FROM take WHERE id = ? AND {_COUNTS}", (take,)
    ).fetchone()
    if row is None:
        return
    player, piece, hands, interval, written = row
    same = (player, piece, hands)
    base = db.execute(
        f"SELECT pace FROM take WHERE player = ? AND piece = ? AND hands = ? AND key = ? AND interval = '+P1' "
        f"AND {_COUNTS} ORDER BY began DESC LIMIT {BASELINE_TAKES}",
        (*same, canonical(Key.parse(written))),
    ).fetchall()
    if not base:
        return
    paces = sorted(pace for (pace,) in base)
    middle = (paces[(len(paces) - 1) // 2] + paces[len(paces) // 2]) / 2
    if interval == "+P1":
        waiting = db.execute(
            "SELECT id, player, day, key, pace FROM take WHERE player = ? AND piece = ? AND hands = ? AND cost IS NULL "
            f"AND interval <> '+P1' AND {_COUNTS}",
            same,
        ).fetchall()
    else:
        waiting = db.execute("SELECT id, player, day, key, pace FROM take WHERE id = ?", (take,)).fetchall()
    for number, who, day, key, pace in waiting:
        cost = middle / pace
        db.execute("UPDATE take SET cost = ? WHERE id = ?", (cost, number))
        count_cost(db, (who, day, key), cost)


def count_cost(db: sqlite3.Connection, when: tuple[int, int, str], cost: float, sign: int = 1) -> None:
    """Add a cost of transposing to the sums of its (player, day, key)."""
    sums = Sums()
    sums.cost(when, cost, sign)
    sums.write(db)


def count(db: sqlite3.Connection, take: int | None, counts: dict[tuple[str, str], Count], sign: int = 1) -> None:
    """Add a finished take to the tables the figures are read from (`sign` -1: take it out again)."""
    cursor = db.execute(f"SELECT {', '.join(Sums.OF_TAKE)} FROM take WHERE id = ?", (take,))
    sums = Sums()
    sums.take(dict(zip(Sums.OF_TAKE, cursor.fetchone(), strict=True)), counts, sign)
    sums.write(db)


def uncount(db: sqlite3.Connection, kept: KeptTake) -> None:
    """Take a finished take out of the tables of counts again, before it is erased or marked anew."""
    if kept.settled is None:
        return
    number = kept.row.id
    found = facts(PieceLabels(kept.piece), kept.written, kept.target, columns_of(kept.presses, kept.settled))
    count(db, number, found.counts, -1)
    if kept.row.cost is not None:
        player, day, key = db.execute("SELECT player, day, key FROM take WHERE id = ?", (number,)).fetchone()
        count_cost(db, (player, day, key), kept.row.cost, -1)
    db.execute("DELETE FROM tally WHERE n = 0")
    db.execute("DELETE FROM daily WHERE takes = 0")


def file_anew(
    db: sqlite3.Connection, kept: KeptTake, settled: Settled, summary: Summary, timing: Timing | None
) -> None:
    """Finish a take that was cut off, or file one that is finished by other marks."""
    found = facts(PieceLabels(kept.piece), kept.written, kept.target, columns_of(kept.presses, settled))
    # What the window had no time to mark has its first verdict now.
    first = (*kept.first, *settled.marks[len(kept.first) :])
    events = packing.pack_events([packing.event_row(event) for event in kept.events])
    results = result_values(settled, summary, timing, found)
    uncount(db, kept)
    complete(db, kept.row.id, results, events, packing.pack_verdicts(first, settled))
    count(db, kept.row.id, found.counts)


_key = cache(Key.parse)
# (player, day, key), the first of the ten sums meant, what is added to it and to those after it
_More = tuple[tuple[int, int, str], int, tuple[float, ...]]


def _week(day: int) -> int:
    return (day + 3) // 7  # 1 January 1970 was a Thursday; weeks begin on Monday


class Sums:
    """What takes add to the tables of counts, put together first, so that years of takes are a few rows to write."""

    OF_TAKE = ("player", "day", "key", "seconds", "right", "played", "missed", "quarters")

    def __init__(self) -> None:
        self._tally: list[tuple[Any, ...]] = []
        self._daily: dict[tuple[int, int, str], list[float]] = {}
        self._groups: dict[tuple[int, int, str], int] = {}
        self._counting = Counting()

    def merged(self, values: Mapping[str, Any], labels: PieceLabels, take: Columns) -> None:
        """Add a finished take from its row and what is packed of it; `MusicError`, `IndexError`: damaged, not added."""
        written, target = _key(values["written"]), _key(values["target"])
        group = self._groups.setdefault((values["player"], _week(values["day"]), values["key"]), len(self._groups))
        sums = [self._of_day(values, 1, not take.elsewhere)]
        if values["cost"] is not None:
            sums.append(self._of_cost((values["player"], values["day"], values["key"]), values["cost"], 1))
        self._counting.add(group, labels, written.fifths_away(target), take)
        for one in sums:
            self._add(*one)

    def take(self, values: Mapping[str, Any], counts: Mapping[tuple[str, str], Count], sign: int = 1) -> None:
        """Add a finished take that was counted: the values of its row named in `OF_TAKE`, and its counts."""
        player, week, key = values["player"], _week(values["day"]), values["key"]
        self._tally += [
            (player, facet, week, key, value, sign * c.n, sign * c.right, sign * c.timed, sign * c.late)
            for (facet, value), c in counts.items()
        ]
        self._add(*self._of_day(values, sign, bool(counts)))

    def _of_day(self, values: Mapping[str, Any], sign: int, counted: bool) -> _More:
        """What a take adds to its day; one whose notes are not counted was practice, but neither right nor wrong."""
        # Adding to a number is what refuses a text.
        sums = [sign, *(sign * (0 + values[name]) for name in self.OF_TAKE[3:])]
        aside = 0.0
        if not counted:
            sums[2:5], aside = (0, 0, 0), sums[1]
        return (values["player"], values["day"], values["key"]), 0, (*sums, 0, 0.0, 0.0, aside)

    def cost(self, when: tuple[int, int, str], cost: float, sign: int = 1) -> None:
        """Add a cost of transposing to its (player, day, key)."""
        self._add(*self._of_cost(when, cost, sign))

    def _of_cost(self, when: tuple[int, int, str], cost: float, sign: int) -> _More:
        log = math.log(cost)
        return when, 6, (sign, sign * log, sign * log * log)

    def _add(self, when: tuple[int, int, str], start: int, more: tuple[float, ...]) -> None:
        sums = self._daily.setdefault(when, [0] * 10)
        for at, value in enumerate(more, start):
            sums[at] += value

    def write(self, db: sqlite3.Connection) -> None:
        """Add everything to the tables."""
        groups = list(self._groups)
        for group, facet, value, *numbers in self._counting.rows():
            player, week, key = groups[group]
            self._tally.append((player, facet, week, key, value, *numbers))
        db.executemany(
            "INSERT INTO tally VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET n = n + excluded.n, "
            "right = right + excluded.right, timed = timed + excluded.timed, late = late + excluded.late",
            sorted(self._tally),  # as the table lies on the disk
        )
        db.executemany(
            "INSERT INTO daily VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET "
            "takes = takes + excluded.takes, seconds = seconds + excluded.seconds, right = right + excluded.right, "
            "played = played + excluded.played, missed = missed + excluded.missed, "
            "quarters = quarters + excluded.quarters, costs = costs + excluded.costs, "
            "cost_log = cost_log + excluded.cost_log, cost_square = cost_square + excluded.cost_square, "
            "aside = aside + excluded.aside",
            [(*when, *sums) for when, sums in self._daily.items()],
        )
