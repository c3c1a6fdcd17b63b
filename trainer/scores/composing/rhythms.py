"""Meters and the rhythms of each level, for composing.

The cells are the order in which sight-reading primers bring them in (common practice, no source): whole beats and
longer first, then pairs, then dotted figures, then short-long figures.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from random import Random

from trainer.music.compass import HEXACHORD, LEVELS, OPEN, PENTACHORD, TRICHORD


@dataclass(frozen=True)
class Meter:
    """A meter as it is felt: length of one beat in quarters, beats in the bar, whether a beat falls in three.

    `groups` are the beats held together, strong beat first; 5/4 is three and two.
    """

    beats: int
    unit: int
    beat: Fraction
    groups: tuple[int, ...]
    compound: bool = False

    @property
    def bar(self) -> Fraction:
        return Fraction(4 * self.beats, self.unit)

    @property
    def strong(self) -> tuple[Fraction, ...]:
        """Places in the bar where a group of beats begins."""
        starts = [sum(self.groups[:number]) for number in range(len(self.groups))]
        return tuple(self.beat * start for start in starts)

    @property
    def felt(self) -> int:
        """Felt beats in the bar."""
        return sum(self.groups)


_HALF, _QUARTER, _EIGHTH, _DOTTED = Fraction(2), Fraction(1), Fraction(1, 2), Fraction(3, 2)
METERS = {
    "2/4": Meter(2, 4, _QUARTER, (2,)),
    "3/4": Meter(3, 4, _QUARTER, (3,)),
    "4/4": Meter(4, 4, _QUARTER, (2, 2)),
    "5/4": Meter(5, 4, _QUARTER, (3, 2)),
    "2/2": Meter(2, 2, _HALF, (2,)),
    "3/2": Meter(3, 2, _HALF, (3,)),
    "3/8": Meter(3, 8, _EIGHTH, (3,)),
    "6/8": Meter(6, 8, _DOTTED, (1, 1), compound=True),
    "9/8": Meter(9, 8, _DOTTED, (1, 1, 1), compound=True),
    "12/8": Meter(12, 8, _DOTTED, (2, 2), compound=True),
}

# Cells in beats: how many beats they fill, the lengths, the level they come in at, and how often they are drawn.
_Cell = tuple[int, tuple[Fraction, ...], str, int]


def _cell(beats: int, lengths: str, level: str, weight: int) -> _Cell:
    return beats, tuple(Fraction(length) for length in lengths.split()), level, weight


_SIMPLE = (
    _cell(1, "1", TRICHORD, 8),
    _cell(2, "2", TRICHORD, 3),
    _cell(1, "1/2 1/2", PENTACHORD, 4),
    _cell(2, "3/2 1/2", HEXACHORD, 4),
    _cell(1, "3/4 1/4", OPEN, 1),
    _cell(2, "1/2 1 1/2", OPEN, 1),
)
_COMPOUND = (
    _cell(1, "1", TRICHORD, 5),
    _cell(1, "2/3 1/3", TRICHORD, 7),
    _cell(1, "1/3 1/3 1/3", PENTACHORD, 5),
    _cell(1, "1/2 1/6 1/3", OPEN, 2),
)


# Notes a motif has at least, more than the bar has beats.
_MOTION = {TRICHORD: -1, PENTACHORD: 0, HEXACHORD: 0, OPEN: 1}


def bar_rhythm(meter: Meter, level: str, rng: Random, *, moving: bool) -> tuple[Fraction, ...]:
    """A bar as lengths in quarters; a bar that is a motif (`moving`) has as many notes as its level wants."""
    while True:
        lengths = _any_bar(meter, level, rng)
        if not moving or len(lengths) >= meter.felt + _MOTION[level]:
            return lengths


def _any_bar(meter: Meter, level: str, rng: Random) -> tuple[Fraction, ...]:
    """Cells drawn until the bar is full; none crosses from one group of beats to the next."""
    upto = LEVELS.index(level)
    allowed = [cell for cell in (_COMPOUND if meter.compound else _SIMPLE) if LEVELS.index(cell[2]) <= upto]
    lengths: list[Fraction] = []
    for group in meter.groups:
        left = group
        while left:
            fitting = [cell for cell in allowed if cell[0] <= left]
            beats, cell, _, _ = fitting[draw(rng, [weight for *_, weight in fitting])]
            lengths += [length * meter.beat for length in cell]
            left -= beats
    return tuple(lengths)


def closing_rhythm(meter: Meter, rng: Random, *, final: bool) -> tuple[Fraction, ...]:
    """The bar of a cadence: one long note, or at a half cadence also two with the longer first when it divides."""
    if final or meter.felt < 2 or draw(rng, (2, 1)):
        return (meter.bar,)
    last = meter.beat * meter.groups[-1] if len(meter.groups) > 1 else meter.beat
    return meter.bar - last, last


def draw(rng: Random, weights: tuple[int, ...] | list[int]) -> int:
    """An index drawn by whole-number weights; only `Random.random` is used, so every platform draws alike."""
    at = rng.random() * sum(weights)
    for index, weight in enumerate(weights):
        at -= weight
        if at < 0:
            return index
    return len(weights) - 1
