"""Which stretches of a bar a voice writes as tuplets, told by where its notes begin and end.

A stretch fills a beat, an aligned part of one, or several beats, and divides them evenly: within it all values are of
one tuplet (a dotted eighth, a sixteenth and an eighth of a triplet), and a note that comes from outside is tied into it
(a quarter into the first eighth of a triplet).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from math import lcm
from typing import NamedTuple

from trainer.music.piece import Bar

# More notes are rather a tuplet within one, or two side by side; and none fills less.
_MOST, _LEAST = 13, Fraction(1, 16)
_WIDE = (8, 4, 2)


class Stretch(NamedTuple):
    """From where to where in the bar, and how many values stand in the time of how many."""

    start: Fraction
    end: Fraction
    ratio: tuple[int, int]


def stretches(bar: Bar, cuts: Sequence[Fraction]) -> list[Stretch]:
    """The tuplets of one voice in a bar.

    Parameters
    ----------
    cuts : sequence of Fraction
        From the start of the bar, in order: its two ends and wherever a note of the voice begins or ends.
    """
    unit = min(Fraction(4, bar.meter[1]), Fraction(1))
    found: list[Stretch] = []
    even = [cut for cut in cuts if not _is_odd(cut)]
    if len(even) == len(cuts):
        return found
    for start, end in pairwise(even):
        if any(start < cut < end for cut in cuts):
            found += [one for one in _over_beats(cuts, start, end, unit) if _is_free(found, one.start, one.end)]
    beat = bar.beat_quarters
    # In a beat of three the smallest parts are looked at after the beat as a whole.
    for span in (beat, unit) if beat.numerator == 3 else (unit,):
        at = Fraction(0)
        while at < cuts[-1]:
            if _is_free(found, at, at + span) and _parts_of(cuts, at, span) <= _MOST:
                found += _within(cuts, at, span, whole=span == beat != unit)
            at += span
    return sorted(found)


def _is_free(found: Sequence[Stretch], start: Fraction, end: Fraction) -> bool:
    return all(one.end <= start or end <= one.start for one in found)


def _is_odd(length: Fraction) -> bool:
    """Whether no halving of a quarter comes to this length."""
    return length.denominator & (length.denominator - 1) != 0


def _over_beats(cuts: Sequence[Fraction], start: Fraction, end: Fraction, unit: Fraction) -> list[Stretch]:
    """Tuplets over several beats between two places on the halves."""
    lengths = [many * unit for many in _WIDE if many * unit <= end - start]
    if lengths and lengths[0] == end - start and start % unit == 0 and (one := _even(cuts, start, lengths[0])):
        return [one]
    found: list[Stretch] = []
    for length in lengths:
        at = start - start % length
        while at < end:
            middles = [at + unit * many for many in range(1, int(length / unit))]
            one = _even(cuts, at, length)
            if one and any(_crosses(cuts, middle) for middle in middles) and _is_free(found, at, at + length):
                found.append(one)
            at += length
    return found


def _within(cuts: Sequence[Fraction], start: Fraction, length: Fraction, whole: bool = False) -> list[Stretch]:
    """Tuplets in a beat: the beat as a whole where it is divided evenly, else its halves."""
    odd = [cut for cut in cuts if start < cut < start + length and _is_odd(cut)]
    if not odd or length < _LEAST:
        return []
    one = _even(cuts, start, length)
    if one or whole:
        return [one] if one else []
    half = length / 2
    if _crosses(cuts, start + half) and (one := _even(cuts, start, length, finer=2)):
        return [one]
    return _within(cuts, start, half) + _within(cuts, start + half, half)


def _parts_of(cuts: Sequence[Fraction], start: Fraction, length: Fraction) -> int:
    """Into how many parts, halvings aside, the notes in a stretch divide it; 1 where no tuplet is."""
    inside = (cut for cut in cuts if start < cut < start + length and _is_odd(cut))
    return lcm(*(_odd_part(((cut - start) / length).denominator) for cut in inside))


def _crosses(cuts: Sequence[Fraction], place: Fraction) -> bool:
    """Whether a value of a tuplet begins before a place and ends after it."""
    return any(here < place < there and _is_odd(here) and _is_odd(there) for here, there in pairwise(cuts))


def _even(cuts: Sequence[Fraction], start: Fraction, length: Fraction, finer: int = 1) -> Stretch | None:
    """A stretch as one tuplet, if its notes begin where that divides it, or half way.

    `finer`: into how many parts a value of it may be divided where the halves meet.
    """
    inner = [cut - start for cut in cuts if start < cut < start + length]
    odd = [cut for cut in inner if _is_odd(cut)]
    if not odd or start + length > cuts[-1]:
        return None
    actual = _parts_of(cuts, start, length)
    three = length.numerator == 3
    if actual > _MOST or (three and actual % 3 == 0):
        return None
    grid = length / actual / finer
    if any(cut % grid for cut in odd) or any(cut % (grid / 2) for cut in inner):
        return None
    normal = 3 if three else 1
    while normal * 2 <= actual:
        normal *= 2
    return Stretch(start, start + length, (actual, normal))


def _odd_part(number: int) -> int:
    while number % 2 == 0:
        number //= 2
    return number
