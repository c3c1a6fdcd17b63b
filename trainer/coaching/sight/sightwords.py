"""The sight rating in the trade's terms: up to where about four notes in five come right at sight.

The rungs are those of the difficulty table in `sight`: level and hands, and in each the keys by their
accidentals, as the test asks for them: read from a page without accidentals (or with one sharp), at 60 to the quarter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from trainer.coaching.sight.sight import PLAIN_TEMPO, PRIOR_SPREAD, Item, Rating, chance
from trainer.coaching.today.schedule import page_key
from trainer.music.compass import HEXACHORD, OPEN, PENTACHORD, TRICHORD
from trainer.music.keys import Key
from trainer.music.piece import BOTH, RIGHT

# Four in five: below it reading is guessing, above it there is nothing to learn from (ours).
FOUR_IN_FIVE = 0.8
# From easy to hard; both hands only where the levels for one hand end, so that each rung is harder than the last.
LADDER = ((TRICHORD, RIGHT), (PENTACHORD, RIGHT), (HEXACHORD, RIGHT), (OPEN, RIGHT), (OPEN, BOTH))
_ACCIDENTALS = range(1, 7)
_COUNTED = {1: "one sharp or flat", 2: "two sharps or flats", 3: "three sharps or flats", 4: "four sharps or flats",
            5: "five sharps or flats", 6: "six sharps or flats"}  # fmt: skip


@dataclass(frozen=True, slots=True, order=True)
class Rung:
    """A place on the ladder: which of `LADDER`, and keys of up to so many accidentals. ``Rung(-1, 0)`` is below it."""

    at: int
    accidentals: int

    @property
    def words(self) -> str:
        """``pentachord pieces for one hand in keys of up to two sharps or flats``."""
        if self.at < 0:
            return "less than trichord pieces"
        level, hands = LADDER[self.at]
        said = f"{level} pieces for {'both hands' if hands == BOTH else 'one hand'}"
        if self.accidentals == _ACCIDENTALS[-1]:
            return f"{said} in every key"
        return f"{said} in keys of up to {_COUNTED[self.accidentals]}"


def difficulty(at: int, accidentals: int) -> float:
    """Of reading at a rung, at 60."""
    level, hands = LADDER[at]
    target = Key.from_signature(accidentals, "major")
    return Item(level, hands, page_key(target), target, PLAIN_TEMPO).difficulty


def rung(ability: float) -> Rung:
    """The hardest level at which four notes in five come right in some key, and in it the most accidentals.

    >>> rung(2.0)
    Rung(at=1, accidentals=2)
    """
    found = Rung(-1, 0)
    for at in range(len(LADDER)):
        read = [n for n in _ACCIDENTALS if chance(ability, difficulty(at, n)) >= FOUR_IN_FIVE]
        if read:
            found = Rung(at, read[-1])
    return found


def reach(rating: Rating) -> str:
    """Where reading at sight has come to, with how sure that is, in one or two sentences."""
    return " ".join(one for one in reached(rating) if one)


def reached(rating: Rating) -> tuple[str, str]:
    """Where reading at sight has come to, and how sure that is; the second is empty where nothing need be added."""
    if rating.spread >= PRIOR_SPREAD:
        return "How far your reading at sight reaches is not known yet: a test of two minutes tells.", ""
    here, low, high = (rung(value) for value in (rating.ability, rating.low, rating.high))
    if here.at < 0:
        said = "At sight fewer than four notes in five come right yet, even in trichord pieces."
        return said, "" if high == here else f"By what was read so far it may also be {high.words}."
    said = f"At sight, at {PLAIN_TEMPO:.0f}, about four notes in five come right in {here.words}."
    band = f"By what was read so far it may be anything from {low.words} to {high.words}."
    return said, "" if low == high else band


def rungs() -> dict[str, float]:
    """The steps of the ladder by name, and the ability from which each is within reach in its easiest keys."""
    even = math.log(FOUR_IN_FIVE / (1 - FOUR_IN_FIVE))
    names = [level if hands != BOTH else f"{level}, both hands" for level, hands in LADDER]
    return {name: difficulty(at, _ACCIDENTALS[0]) + even for at, name in enumerate(names)}
