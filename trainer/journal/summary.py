"""Figures out of the journal: accuracy, speed and cost of transposing, by key, degree, interval, cause and hand.

Definitions
-----------
accuracy    right presses over presses and notes left out
speed       notes right a minute of playing; pace: quarters of music a minute of playing, stops included
late        how much longer the way to a note took than the pulse of its take gives it (1.0 = in time), geometric mean
cost        time taken in the target key over time taken in the written key, same player, piece and hands; geometric
            mean over takes
bands       95 %, see `trainer.journal.bands`
week        begins on Monday; numbered in weeks since Monday, 29 December 1969

Everything is read from the tables of counts, so it takes no longer after ten years.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from typing import Any

from trainer.journal.bands import mean_band, share_band
from trainer.journal.reading import Reading
from trainer.journal.tally import FACETS
from trainer.journal.values import EPOCH
from trainer.music.keys import TWENTY_FOUR, Key

FIRST_MONDAY = date(1969, 12, 29)
# Minutes that rounding may leave of none.
_NO_TIME = 1e-6
_KEYS = frozenset(key.short for key in TWENTY_FOUR)
_PLAYER = "player = (SELECT id FROM player WHERE name = ?)"


def week_of(day: date) -> int:
    """The number of a day's week."""
    return (day - FIRST_MONDAY).days // 7


def monday(week: int) -> date:
    """The first day of a week."""
    return FIRST_MONDAY + timedelta(weeks=week)


@dataclass(frozen=True, slots=True)
class Slice:
    """One value of a facet: presses or notes, how many were right, the band of that share, how late (None: unknown)."""

    value: str
    n: int
    right: int
    accuracy: float
    low: float
    high: float
    late: float | None


@dataclass(frozen=True, slots=True)
class Stretch:
    """A key, a day, a week: what was played in it.

    Parameters
    ----------
    cost : tuple of float or None
        (cost, low, high) of transposing; None when fewer than two takes have one.
    aside : float
        Of the minutes those of takes that lay in another octave or key as a whole.
    """

    takes: int
    minutes: float
    right: int
    played: int
    missed: int
    pace: float | None
    cost: tuple[float, float, float] | None
    aside: float = 0.0

    @property
    def accuracy(self) -> float | None:
        n = self.played + self.missed
        return self.right / n if n else None

    @property
    def band(self) -> tuple[float, float]:
        return share_band(self.right, self.played + self.missed)

    @property
    def per_minute(self) -> float | None:
        """Notes right a minute of playing in the key and octave asked for."""
        minutes = self.minutes - self.aside
        return self.right / minutes if minutes > _NO_TIME else None


_SUMS = (
    "sum(takes), sum(seconds), sum(right), sum(played), sum(missed), sum(quarters), sum(costs), sum(cost_log), "
    "sum(cost_square), sum(aside)"
)


def _stretch(sums: Iterable[Any]) -> Stretch:
    takes, seconds, right, played, missed, quarters, costs, logs, squares, aside = (value or 0 for value in sums)
    band = mean_band(costs, logs, squares)
    cost = (math.exp(band[0]), math.exp(band[1]), math.exp(band[2])) if band else None
    pace = 60 * quarters / seconds if seconds else None
    return Stretch(takes, seconds / 60, right, played, missed, pace, cost, aside / 60)


def _days(since: date | None) -> int:
    """A day as the journal counts it; before any for none, as a wrong clock dates takes before 1970, too."""
    return ((since or date.min) - EPOCH).days


def whole(journal: Reading, player: str, since: date | None = None, before: date = date.max) -> Stretch:
    """Everything a player played, from a day on (or ever) and before another."""
    sql = f"SELECT {_SUMS} FROM daily WHERE {_PLAYER} AND day >= ? AND day < ?"
    return _stretch(journal.ask(sql, (player, _days(since), _days(before)))[0])


def by_key(journal: Reading, player: str, since: date | None = None) -> dict[str, Stretch]:
    """Each of the twenty-four keys played, in the order of the circle."""
    rows = journal.ask(
        f"SELECT key, {_SUMS} FROM daily WHERE {_PLAYER} AND day >= ? GROUP BY key", (player, _days(since))
    )
    found = {key: _stretch(sums) for key, *sums in rows}
    return {key.short: found[key.short] for key in TWENTY_FOUR if key.short in found}


def by_week(journal: Reading, player: str, since: date | None = None, key: str | None = None) -> dict[date, Stretch]:
    """Weeks with any playing, by their Monday; of one target key, under its name of twenty-four, or of all."""
    only = "" if key is None else "AND key = ?"
    rows = journal.ask(
        f"SELECT (day + 3 - ((day + 3) % 7 + 7) % 7) / 7 AS week, {_SUMS} FROM daily "
        f"WHERE {_PLAYER} AND day >= ? {only} GROUP BY week ORDER BY week",
        (player, _days(since), *([] if key is None else [key])),
    )
    return {monday(week): _stretch(sums) for week, *sums in rows}


def minutes_by_day(journal: Reading, player: str, since: date) -> dict[date, float]:
    """Minutes of playing on each day there was any."""
    rows = journal.ask(
        f"SELECT day, sum(seconds) FROM daily WHERE {_PLAYER} AND day >= ? GROUP BY day", (player, _days(since))
    )
    return {EPOCH + timedelta(days=day): seconds / 60 for day, seconds in rows}


def by_facet(
    journal: Reading, player: str, facet: str, since: date | None = None, keys: Iterable[str] | None = None
) -> list[Slice]:
    """A facet's values, the most frequent first; see `trainer.journal.tally` for the facets.

    Parameters
    ----------
    keys : iterable of str, optional
        Only these target keys, under their names of twenty-four.
    """
    wanted = sorted(keys) if keys is not None else []
    only = f"AND key IN ({', '.join('?' * len(wanted))})" if keys is not None else ""
    rows = journal.ask(
        f"SELECT value, sum(n), sum(right), sum(timed), sum(late) FROM tally WHERE {_PLAYER} AND facet = ? "
        f"AND week >= ? {only} GROUP BY value ORDER BY 2 DESC, 1",
        (player, facet, week_of(since or date.min), *wanted),
    )
    return [_slice(*row) for row in rows if row[1] > 0 and re.fullmatch(FACETS[facet], row[0])]


def _slice(value: str, n: int, right: int, timed: int, late: float) -> Slice:
    return Slice(value, n, right, right / n, *share_band(right, n), math.exp(late / timed) if timed else None)


def causes_by_week(journal: Reading, player: str, since: date | None = None) -> dict[date, dict[str, int]]:
    """How many presses of each cause (and notes missed) in each week."""
    rows = journal.ask(
        f"SELECT week, value, sum(n) FROM tally WHERE {_PLAYER} AND facet = 'cause' AND week >= ? "
        "GROUP BY week, value ORDER BY week",
        (player, week_of(since or date.min)),
    )
    found: dict[date, dict[str, int]] = {}
    for week, cause, n in rows:
        found.setdefault(monday(week), {})[cause] = n
    return found


def cost_by_distance(journal: Reading, player: str, since: date) -> dict[int, tuple[float, float, float]]:
    """(cost, low, high) by fifths between the written and the target key, of takes since a day."""
    sums: dict[int, list[float]] = {}
    for written, target, cost in journal.ask(
        f"SELECT written, target, cost FROM take WHERE {_PLAYER} AND day >= ? AND cost IS NOT NULL",
        (player, _days(since)),
    ):
        log = math.log(cost)
        distance = _distance(written, target)
        kept = sums.setdefault(distance, [0, 0.0, 0.0])
        kept[0] += 1
        kept[1] += log
        kept[2] += log * log
    return _costs(sums)


@cache
def _distance(written: str, target: str) -> int:
    return Key.parse(written).fifths_away(Key.parse(target))


def _costs(sums: dict[Any, list[float]]) -> dict[Any, tuple[float, float, float]]:
    found = {}
    for value, (n, logs, squares) in sorted(sums.items()):
        band = mean_band(int(n), logs, squares)
        if band:
            found[value] = (math.exp(band[0]), math.exp(band[1]), math.exp(band[2]))
    return found


def cost_by_family(journal: Reading, player: str, since: date) -> dict[str, tuple[float, float, float]]:
    """(cost, low, high) by the shape of the target key's five-finger position, as ``white white black white white``."""
    rows = journal.ask(
        f"SELECT key, sum(costs), sum(cost_log), sum(cost_square) FROM daily WHERE {_PLAYER} AND day >= ? GROUP BY key",
        (player, _days(since)),
    )
    sums: dict[str, list[float]] = {}
    for key, n, logs, squares in rows:
        if key not in _KEYS:
            continue
        kept = sums.setdefault(family(Key.parse(key)), [0, 0.0, 0.0])
        kept[0] += n
        kept[1] += logs
        kept[2] += squares
    return _costs(sums)


def family(key: Key) -> str:
    """The shape family of a key: its five-finger position in black and white.

    >>> family(Key.parse("D")) == family(Key.parse("A"))
    True
    """
    from trainer.hands.keyboard import is_black

    return " ".join("black" if is_black(pitch.midi) else "white" for pitch in key.scale[:5])


@dataclass(frozen=True, slots=True)
class Sight:
    """A reading at sight: day, notes right a minute, share right, cost, rating with its standard deviation (logits)."""

    day: date
    per_minute: float
    accuracy: float
    cost: float | None
    rating: float
    spread: float


def sights(journal: Reading, player: str, since: date | None = None) -> list[Sight]:
    """Readings at sight in another key than the written, oldest first."""
    rows = journal.ask(
        f"SELECT day, per_minute, right, n, cost, rating, spread FROM sight WHERE {_PLAYER} AND baseline = 0 "
        "AND day >= ? ORDER BY day, take",
        (player, _days(since)),
    )
    return [
        Sight(EPOCH + timedelta(days=day), per_minute, right / n if n else 0.0, cost, rating, spread)
        for day, per_minute, right, n, cost, rating, spread in rows
    ]
