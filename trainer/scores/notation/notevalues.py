"""Note values: names, dots and tuplets for exact lengths, and rests as the metre counts them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import pairwise, repeat

from trainer.music.piece import UNSHOWN, Bar

# Names of note values in MusicXML 4.0 (note-type-value), with their length in quarters.
VALUES = {
    "breve": Fraction(8), "whole": Fraction(4), "half": Fraction(2), "quarter": Fraction(1),
    "eighth": Fraction(1, 2), "16th": Fraction(1, 4), "32nd": Fraction(1, 8), "64th": Fraction(1, 16),
    "128th": Fraction(1, 32), "256th": Fraction(1, 64),
}  # fmt: skip
BEAMS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4, "128th": 5, "256th": 6}
_DOTTED = {length * (2 - Fraction(1, 2**dots)): (name, dots) for dots in (2, 1, 0) for name, length in VALUES.items()}
_SHORTEST = min(VALUES.values())


@dataclass(frozen=True, slots=True)
class Value:
    """A writable value: name, dots, and the tuplet it stands in as (actual, normal), (1, 1) for none."""

    name: str
    dots: int
    tuplet: tuple[int, int] = (1, 1)

    @property
    def length(self) -> Fraction:
        return VALUES[self.name] * (2 - Fraction(1, 2**self.dots)) * Fraction(self.tuplet[1], self.tuplet[0])


@cache
def value_of(length: Fraction) -> Value | None:
    """The single value that has this length, or None when it takes several tied ones.

    >>> value_of(Fraction(3)), value_of(Fraction(1, 3)), value_of(Fraction(5, 2))
    (Value(name='half', dots=1, tuplet=(1, 1)), Value(name='eighth', dots=0, tuplet=(3, 2)), None)
    """
    odd = length.denominator
    while odd % 2 == 0:
        odd //= 2
    if odd == 1:
        found = _DOTTED.get(length)
        return Value(*found) if found else None
    normal = 1
    while normal * 2 < odd:
        normal *= 2
    found = _DOTTED.get(length * odd / normal)
    return Value(found[0], found[1], (odd, normal)) if found else None


def spell_length(onset: Fraction, length: Fraction, beat: Fraction) -> list[Value]:
    """Values that add up to `length`, first reaching the next beat when the note starts between beats.

    Parameters
    ----------
    onset : Fraction
        From the start of the bar, so that beats can be seen.
    beat : Fraction
        Length of a felt beat in quarters.
    """
    values: list[Value] = []
    while length > 0:
        single = value_of(length)
        if single and not _hides_beat(onset, length, beat):
            values.append(single)
            break
        to_beat = beat - onset % beat
        first = value_of(to_beat) if onset % beat and to_beat < length else None
        first = first or _longest_within(length)
        if first is None:  # a crumb no value can write; the reader never makes one this small
            break
        values.append(first)
        onset += first.length
        length -= first.length
    return values


def _hides_beat(onset: Fraction, length: Fraction, beat: Fraction) -> bool:
    """Whether one value from here would run over a beat that the eye needs: only from a beat or half a beat on (a third
    of a beat of three) may a note be syncopated. Tuplets keep the values they have.
    """
    inside = onset % beat
    part = beat / 3 if beat.numerator == 3 else beat / 2
    if not inside or inside % part == 0 or length <= beat - inside:
        return False
    return all(place.denominator & (place.denominator - 1) == 0 for place in (onset, length))


def _longest_within(length: Fraction) -> Value | None:
    odd = length.denominator
    while odd % 2 == 0:
        odd //= 2
    grid = Fraction(1, odd)
    for whole in sorted(VALUES.values(), reverse=True):
        for candidate in (whole * grid * _power_below(odd), whole):
            if candidate <= length:
                found = value_of(candidate)
                if found:
                    return found
    return None


def _power_below(odd: int) -> int:
    power = 1
    while power * 2 < odd:
        power *= 2
    return power


def tuplet_values(length: Fraction, ratio: tuple[int, int]) -> list[Value]:
    """Values of one tuplet that add up to a length, the longest first.

    >>> tuplet_values(Fraction(1, 2), (3, 2))
    [Value(name='eighth', dots=1, tuplet=(3, 2))]
    """
    values: list[Value] = []
    left = length * ratio[0] / ratio[1]
    while left >= _SHORTEST:
        found = max(one for one in _DOTTED if one <= left and (one == left or _DOTTED[one][1] == 0))
        values.append(Value(*_DOTTED[found], ratio))
        left -= found
    return values


def rest_values(bar: Bar, start: Fraction, end: Fraction) -> list[Value]:
    """Rests from one place of a bar to another, as the metre is counted: none is dotted but in a beat of three, none
    lies over the half of a bar of four, and only a bar of four has rests of two beats, on its first and third. Without
    a metre they are as long as may be.

    Common practice (e.g. E. Gould, Behind Bars, 2011; from memory).

    >>> [value.name for value in rest_values(Bar(1, Fraction(0), Fraction(4)), Fraction(1), Fraction(4))]
    ['quarter', 'half']
    """
    full = Fraction(4 * bar.meter[0], bar.meter[1])
    shift = full - bar.length if bar.number == 0 and bar.length < full else Fraction(0)
    values: list[Value] = []
    if any(place % _SHORTEST for place in (start + shift, end + shift)):  # in tuplets that are not told
        beat = bar.beat_quarters
        edges = sorted({start, min(start + -start % beat, end), end})
        return [value for here, there in pairwise(edges) for value in spell_length(here, there - here, beat)]
    if bar.symbol == UNSHOWN:
        return tuplet_values(end - start, (1, 1))
    beats, unit = bar.meter
    three = beats % 3 == 0 and (beats > 3 or unit >= 8)
    beat = Fraction(12 if three else 4, unit)
    at = Fraction(0)
    for span in _counted(beats // 3 if three else beats, beat, paired=unit >= 8 and not three):
        if at >= end + shift:
            break
        values += _rests_in(at, span, start + shift, end + shift, beat if three else Fraction(0))
        at += span
    return values


def _counted(beats: int, beat: Fraction, paired: bool) -> Iterator[Fraction]:
    """The parts a bar falls into at first sight, and its beats for as long as it goes on."""
    if beats == 4:
        yield from (2 * beat, 2 * beat)
    elif paired:
        yield from repeat(2 * beat, beats // 2)
    yield from repeat(beat)


def _rests_in(at: Fraction, span: Fraction, start: Fraction, end: Fraction, three: Fraction) -> list[Value]:
    """Rests in one part of a bar, as far as they lie in it; `three`: the beat of three, 0 where beats have halves."""
    start, end = max(at, start), min(at + span, end)
    if start >= end:
        return []
    parts = 3 if span == three else 2
    part = span / parts
    whole = value_of(end - start)
    if whole and start == at and (end - start == span or (parts == 3 and end - start == 2 * part)):
        return [whole]
    return [value for many in range(parts) for value in _rests_in(at + many * part, part, start, end, three)]
