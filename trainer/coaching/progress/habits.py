"""The most expensive habits, and whether anything changed, in words that can be checked.

A habit is a kind of slip on a degree within a group of keys that comes more often than that kind comes on any note; or
a melodic interval or a hand with more slips than there are on any note. Its expense is how many slips it cost beyond
the usual: ``slips - n * usual``. Only habits at least half again as frequent as usual, whose 95 % band lies wholly
above the usual, are told, so neither a few unlucky notes nor a hair's breadth in very many make one.

A change of tempo below one in forty is not told: listeners' threshold for a changed pace in an even sequence is about
2.5 % for intervals above a quarter of a second (A. Friberg, J. Sundberg, "Time discrimination in a monotonic,
isochronous sequence", JASA 98 (1995) 2524-2531).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache

from trainer.following import marks
from trainer.journal.bands import SURE, difference_band, share_band
from trainer.journal.reading import Reading
from trainer.journal.summary import Stretch, by_facet, sights, whole
from trainer.music.keys import MAJOR, MINOR, TWENTY_FOUR, Key
from trainer.music.pitch import Interval
from trainer.music.solfege import DO_BASED, LA_BASED, syllable

RECENT_DAYS = 90
LEAST_SLIPS = 4
LEAST_TIMES = 1.5
TOLD = 3
JUST_NOTICEABLE = 0.025
TREND_WEEKS = 4


@dataclass(frozen=True, slots=True)
class Habit:
    """A habit: what in words, the keys it is found in, slips out of notes, and how many of them are too many."""

    words: str
    keys: str
    slips: int
    n: int
    expense: float

    @property
    def sentence(self) -> str:
        """``in flat keys fa is played a semitone sharp: 14 of 22``."""
        return f"{self.keys}{self.words}: {self.slips} of {self.n}"


def _groups() -> dict[str, tuple[str, ...]]:
    """Keys that share a look: the words for them, and their names of twenty-four."""
    found: dict[str, list[str]] = {}
    for key in TWENTY_FOUR:
        kind = "flat" if key.signature < 0 else "sharp" if key.signature > 0 else "plain"
        mode = "" if key.mode == MAJOR else " minor"
        if kind != "plain":
            found.setdefault(f"in {kind}{mode} keys ", []).append(key.short)
        found.setdefault("" if key.mode == MAJOR else "in minor ", []).append(key.short)
    return {words: tuple(keys) for words, keys in found.items()}


def habits(
    journal: Reading, player: str, today: date, *, days: int = RECENT_DAYS, minor: str = LA_BASED
) -> list[Habit]:
    """The most expensive habits of the last `days` days, the costliest first."""
    since = today - timedelta(days=days)
    all_ = whole(journal, player, since)
    n = all_.played + all_.missed
    if not n:
        return []
    usual = 1 - all_.right / n
    by_cause = {row.value: row.n / n for row in by_facet(journal, player, "cause", since)}
    found: list[tuple[tuple[str, ...], Habit]] = []
    for words, keys in _groups().items():
        mode = MINOR if "minor" in words else MAJOR
        asked = {row.value: row.n for row in by_facet(journal, player, "degree", since, keys)}
        for row in by_facet(journal, player, "habit", since, keys):
            degree, cause, offset = row.value.split("|")
            said = _degree_words(degree, mode, minor, cause, int(offset))
            habit = _habit(said, words, row.n, asked.get(degree, row.n), by_cause.get(cause, 0.0))
            if habit:
                found.append((("degree", mode, degree, cause), habit))
        for row in by_facet(journal, player, "interval", since, keys):
            habit = _habit(f"{_interval_words(row.value)} goes wrong", words, row.n - row.right, row.n, usual)
            if habit:
                found.append((("interval", mode, row.value), habit))
    for row in by_facet(journal, player, "hand", since):
        habit = _habit(f"the {row.value} hand slips", "", row.n - row.right, row.n, usual)
        if habit:
            found.append((("hand", row.value), habit))
    return _costliest(found, TOLD)


def _habit(words: str, keys: str, slips: int, n: int, usual: float) -> Habit | None:
    if slips < LEAST_SLIPS or slips < LEAST_TIMES * usual * n or share_band(slips, n)[0] <= usual:
        return None
    return Habit(words, keys, slips, n, slips - n * usual)


def _costliest(found: Iterable[tuple[tuple[str, ...], Habit]], most: int) -> list[Habit]:
    """The costliest habits; one found in several groups of keys is told of the group where it is costly and dense."""
    best: dict[tuple[str, ...], Habit] = {}
    for what, habit in found:
        other = best.get(what)
        if other is None or _weight(habit) > _weight(other):
            best[what] = habit
    return sorted(best.values(), key=lambda h: (-h.expense, h.sentence))[:most]


def _weight(habit: Habit) -> float:
    # A narrower group says more: the expense counts by how dense the slips are in it.
    return habit.expense * habit.slips / habit.n


def _degree_words(degree: str, mode: str, minor: str, cause: str, offset: int) -> str:
    name = degree_syllable(degree, mode, minor)
    aim = "sharp" if offset > 0 else "flat"
    return {
        marks.SIGNATURE: f"{name} is played {aim}, against the key signature",
        marks.ACCIDENTAL: f"{name} is played {aim}, the accidental carried over wrongly",
        marks.AS_WRITTEN: f"{name} is played as written",
        marks.STEP: f"{name} is taken a step too {'high' if offset > 0 else 'low'}",
        marks.OCTAVE: f"{name} lands an octave too {'high' if offset > 0 else 'low'}",
        marks.DISPLACED: f"{name} falls where the hand is displaced",
        marks.BRUSHED: f"a neighbouring key is brushed at {name}",
        marks.REPEATED: f"{name} is struck again",
        marks.MISSED: f"{name} is left out",
    }.get(cause, f"{name} is missed for another key")


@cache
def degree_syllable(degree: str, mode: str, minor: str = LA_BASED) -> str:
    """The syllable of a degree label (``4``, ``♯4``) in a major or minor key.

    >>> degree_syllable("4", "major"), degree_syllable("♯7", "minor"), degree_syllable("3", "minor", "do")
    ('fa', 'si', 'me')
    """
    key = Key.from_signature(0, mode)
    number = int(degree.lstrip("♯♭"))
    altered = degree.count("♯") - degree.count("♭")
    pitch = key.degree(number)
    raised = type(pitch)(pitch.letter, pitch.alteration + altered, pitch.octave)
    return syllable(raised, key, DO_BASED if minor == DO_BASED else LA_BASED)


def _interval_words(short: str) -> str:
    interval = Interval.parse(short)
    if interval.steps == 0:
        return "a repeated note" if interval.semitones == 0 else "a chromatic step"
    return f"the way {interval.words}"


@dataclass(frozen=True, slots=True)
class Trend:
    """What changed between the last weeks and those before: before, now, the band of the difference, in words."""

    what: str
    before: float
    now: float
    low: float
    high: float
    words: str

    @property
    def is_told(self) -> bool:
        """Whether the change can be told from chance."""
        return self.low > 0 or self.high < 0


def trends(journal: Reading, player: str, today: date) -> list[Trend]:
    """Accuracy, cost of transposing and sight speed of the last weeks against as many weeks before."""
    middle = today - timedelta(weeks=TREND_WEEKS)
    start = middle - timedelta(weeks=TREND_WEEKS)
    early, late = whole(journal, player, start, middle), whole(journal, player, middle)
    found = [_accuracy(early, late), _cost(early, late), _sight(journal, player, start, middle)]
    return [trend for trend in found if trend is not None]


def _accuracy(early: Stretch, late: Stretch) -> Trend | None:
    (right_a, n_a), (right_b, n_b) = ((one.right, one.played + one.missed) for one in (early, late))
    if not n_a or not n_b:
        return None
    a, b = right_a / n_a, right_b / n_b
    low, high = difference_band(right_a, n_a, right_b, n_b)
    told = f"{a:.0%} right before, {b:.0%} now"
    return Trend("accuracy", a, b, low, high, _say("Accuracy", told, low, high))


def _cost(early: Stretch, late: Stretch) -> Trend | None:
    if early.cost is None or late.cost is None:
        return None
    (a, _, high_a), (b, _, high_b) = early.cost, late.cost
    change = math.log(b / a)
    half = math.hypot(math.log(high_a / a), math.log(high_b / b))
    low, high = _noticeable(change, change - half, change + half)
    told = f"{a:.2f} times the time of the written key before, {b:.2f} now"
    return Trend("cost", a, b, low, high, _say("The cost of transposing", told, low, high))


def _noticeable(change: float, low: float, high: float) -> tuple[float, float]:
    """The band of a change of tempo, on the log scale, widened to hold 0 when nobody could hear the change."""
    return (low, high) if abs(change) >= math.log1p(JUST_NOTICEABLE) else (min(low, -1e-9), max(high, 1e-9))


def _sight(journal: Reading, player: str, start: date, middle: date) -> Trend | None:
    found = sights(journal, player, start)
    early = [math.log(s.per_minute) for s in found if s.day < middle and s.per_minute > 0]
    late = [math.log(s.per_minute) for s in found if s.day >= middle and s.per_minute > 0]
    if len(early) < 3 or len(late) < 3:
        return None
    a, b = sum(early) / len(early), sum(late) / len(late)
    spread = math.sqrt(_variance(early) / len(early) + _variance(late) / len(late))
    low, high = b - a - SURE * spread, b - a + SURE * spread
    low, high = _noticeable(b - a, low, high)
    told = f"{math.exp(a):.0f} notes right a minute at sight before, {math.exp(b):.0f} now"
    return Trend("sight speed", math.exp(a), math.exp(b), low, high, _say("Reading at sight", told, low, high))


def _variance(values: list[float]) -> float:
    mean = sum(values) / len(values)
    return sum((value - mean) ** 2 for value in values) / (len(values) - 1)


def _say(what: str, told: str, low: float, high: float) -> str:
    if low > 0:
        return f"{what} rose: {told}."
    if high < 0:
        return f"{what} fell: {told}."
    return f"{what}: {told}; the difference may be chance."
