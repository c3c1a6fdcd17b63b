"""Left hands for composed pieces: drone, single notes, two parts, broken chords, bass and chords.

Notes are degrees from the left hand's own tonic, 0, as in `melody`; what a style may reach is its level's.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from random import Random

from trainer.music.compass import HEXACHORD, OPEN, PENTACHORD, TRICHORD
from trainer.scores.composing.progressions import Chord
from trainer.scores.composing.rhythms import Meter, draw

DRONE = "drone"
EXCHANGE = "exchange"
SINGLE = "single notes"
BROKEN = "broken chords"
WALTZ = "bass and chords"
TWO_PART = "two parts"
STYLES = {
    TRICHORD: (DRONE, EXCHANGE),
    PENTACHORD: (DRONE, SINGLE, BROKEN, EXCHANGE),
    HEXACHORD: (SINGLE, BROKEN, WALTZ, TWO_PART),
    OPEN: (BROKEN, WALTZ, TWO_PART),
}
# Lowest and highest degree of a left hand that stays in one position.
_POSITION = {PENTACHORD: (0, 4), HEXACHORD: (-1, 5)}
_TRAVEL = (-8, 2)
_NEVER = 10_000


@dataclass(frozen=True)
class Span:
    """A stretch of one chord: onset and length in quarters, and whether it is a half or the final cadence."""

    onset: Fraction
    length: Fraction
    chord: Chord
    half: bool = False
    final: bool = False


@dataclass(frozen=True)
class Played:
    """What the left hand plays at once."""

    onset: Fraction
    length: Fraction
    degrees: tuple[int, ...]
    chord: Chord


@dataclass(frozen=True)
class Upper:
    """The melody as the bass hears it: onsets in order, and the degree that begins at each."""

    onsets: tuple[Fraction, ...]
    degrees: tuple[int, ...]

    def at(self, onset: Fraction) -> int:
        """The degree that sounds at an onset."""
        return self.degrees[bisect_right(self.onsets, onset) - 1]

    def before(self, onset: Fraction) -> int:
        """The degree that sounds just before an onset."""
        return self.degrees[bisect_left(self.onsets, onset) - 1]


def accompany(style: str, level: str, meter: Meter, spans: Sequence[Span], upper: Upper, rng: Random) -> list[Played]:
    """The left hand of a piece in one style."""
    if style == DRONE:
        fifth = (0,) if level == TRICHORD else (0, 4)
        return [Played(span.onset, span.length, fifth, span.chord) for span in _whole_bars(spans, meter)]
    if style in (SINGLE, TWO_PART):
        return _bass_line(_divided(spans, meter, rng) if style == TWO_PART else list(spans), level, upper, rng)
    played: list[Played] = []
    for span in spans:
        if span.final:
            played.append(Played(span.onset, span.length, _close(span.chord, level), span.chord))
        elif style == BROKEN:
            played += _broken(span, level, meter)
        else:
            played += _bass_and_chords(span, level, meter)
    return played


def _whole_bars(spans: Sequence[Span], meter: Meter) -> list[Span]:
    starts = [span for span in spans if span.onset % meter.bar == 0]
    return [Span(span.onset, meter.bar, span.chord) for span in starts]


def _voicing(chord: Chord, level: str) -> tuple[int, ...]:
    """The chord's members within the position, low to high; of a seventh chord the fifth is left out first."""
    low, high = _POSITION[level]
    members = chord.members if len(chord.members) < 4 else (*chord.members[:2], chord.members[3])
    inside = sorted({m - 7 * down for m in members for down in (0, 1) if low <= m - 7 * down <= high})
    if len(inside) < 3 and len(chord.members) == 4:
        inside = sorted({*inside, chord.members[2]})
    return tuple(inside)


def _low_root(chord: Chord) -> int:
    return chord.root - (14 if chord.root == 6 else 7)


def _upper_pair(chord: Chord) -> tuple[int, ...]:
    """Third and fifth (third and seventh of a seventh chord) laid nearest to the degree below the tonic."""
    members = (chord.members[1], chord.members[3 if len(chord.members) == 4 else 2])
    return tuple(sorted(min((m - 7, m), key=lambda place: abs(place + 1)) for m in members))


def _close(chord: Chord, level: str) -> tuple[int, ...]:
    """How the last bar is held: the tonic chord in position, or the octave of the bass where the hand travels."""
    return (-7, -3, 0) if level == OPEN else _voicing(chord, level)


def _broken(span: Span, level: str, meter: Meter) -> list[Played]:
    if level == OPEN:
        root = _low_root(span.chord)
        top = root + 7 if root + 7 <= _TRAVEL[1] else root + 2
        notes: tuple[int, ...] = (root, root + 4, top)
    else:
        notes = _voicing(span.chord, level)
    played: list[Played] = []
    onset = span.onset
    for unit, count in _pulses(span, meter):
        order = (0, 1, 2) if count == 3 else (0, 2, 1, 2)
        for number in range(count):
            degree = notes[min(order[number % len(order)], len(notes) - 1)]
            if len(notes) == 2:
                degree = notes[number % 2]
            played.append(Played(onset, unit, (degree,), span.chord))
            onset += unit
    return played


def _pulses(span: Span, meter: Meter) -> list[tuple[Fraction, int]]:
    """Groups of broken notes that fill a span: the length of each note and how many."""
    if meter.compound:
        return [(meter.beat / 3, 3)] * int(span.length / meter.beat)
    groups = list(meter.groups) if span.length == meter.bar else [int(span.length / meter.beat)]
    found = []
    for group in groups:
        found.append((meter.beat, 3) if group == 3 else (meter.beat / 2, 2 * group))
    return found


def _bass_and_chords(span: Span, level: str, meter: Meter) -> list[Played]:
    if level == OPEN:
        bass, chord = _low_root(span.chord), _upper_pair(span.chord)
    else:
        voicing = _voicing(span.chord, level)
        bass, chord = voicing[0], voicing[1:]
    if meter.compound:
        beats = int(span.length / meter.beat)
        parts = [Fraction(2, 3) * meter.beat, Fraction(1, 3) * meter.beat] * beats
        low = [True, False] * beats
    else:
        groups = meter.groups if span.length == meter.bar else (int(span.length / meter.beat),)
        parts = [meter.beat for group in groups for _ in range(group)]
        low = [number == 0 for group in groups for number in range(group)]
    played: list[Played] = []
    onset = span.onset
    for length, is_low in zip(parts, low, strict=True):
        played.append(Played(onset, length, (bass,) if is_low else chord, span.chord))
        onset += length
    return played


def _divided(spans: Sequence[Span], meter: Meter, rng: Random) -> list[Span]:
    """Two-part writing: the spans cut at the groups of the bar, threes into two and one."""
    found: list[Span] = []
    cut_threes = draw(rng, (1, 2)) == 1
    for span in spans:
        cuts = [span.onset]
        if not span.final and span.length == meter.bar:
            start = span.onset
            for group in meter.groups:
                if start > span.onset:
                    cuts.append(start)
                if group == 3 and cut_threes:
                    cuts.append(start + 2 * meter.beat)
                start += group * meter.beat
            if len(meter.groups) == 1 and meter.groups[0] == 2:
                cuts.append(span.onset + meter.beat)
        ends = [*cuts[1:], span.onset + span.length]
        found += [Span(a, b - a, span.chord, span.half, span.final) for a, b in zip(cuts, ends, strict=True)]
    return found


# Cost of moving the bass by so many degrees: steps first, then the leaps of a bass, fourth, fifth and octave.
_BASS_MOVE = {0: 6, 1: 0, 2: 2, 3: 3, 4: 4, 5: 9, 7: 6}
# Root, third, fifth, seventh in the bass.
_BASS_MEMBER = (0, 3, 9, 8)


def _bass_line(spans: Sequence[Span], level: str, upper: Upper, rng: Random) -> list[Played]:
    """One note to a span, the cheapest line against the melody: contrary motion, no parallel fifths or octaves."""
    low, high = _POSITION.get(level, _TRAVEL)
    costs = {d: _bass_alone(spans, upper, 0, d) + int(rng.random() * 5) for d in range(low, high + 1)}
    came: list[dict[int, int]] = []
    for at in range(1, len(spans)):
        arrived = upper.at(spans[at].onset)
        lefts = {upper.before(spans[at].onset), upper.at(spans[at - 1].onset)} - {arrived}
        fresh: dict[int, int] = {}
        back: dict[int, int] = {}
        for degree in range(low, high + 1):
            alone = _bass_alone(spans, upper, at, degree) + int(rng.random() * 5)
            options = [
                (costs[one] + _bass_move(lefts, arrived, one, degree) + _seventh(spans[at - 1], one, degree), one)
                for one in costs
            ]
            best, back[degree] = min(options)
            fresh[degree] = best + alone
        costs = fresh
        came.append(back)
    degree = min((cost, one) for one, cost in costs.items())[1]
    found = [degree]
    for back in reversed(came):
        found.append(back[found[-1]])
    return [Played(span.onset, span.length, (degree,), span.chord)
            for span, degree in zip(spans, reversed(found), strict=True)]  # fmt: skip


def _bass_alone(spans: Sequence[Span], upper: Upper, at: int, degree: int) -> int:
    span = spans[at]
    if not span.chord.holds(degree):
        return _NEVER
    cost = _BASS_MEMBER[span.chord.members.index(degree % 7)]
    if (span.final or at == 0) and degree % 7 != span.chord.root:
        cost += _NEVER if span.final else 20
    if span.half and degree % 7 != span.chord.root:
        cost += 8
    if degree % 7 == upper.at(span.onset) % 7 == 6:
        cost += 30
    return cost


def _seventh(span: Span, one: int, other: int) -> int:
    """A seventh in the bass wants to fall by a step."""
    falls = other in (one, one - 1)
    return 15 if len(span.chord.members) == 4 and one % 7 == span.chord.members[3] and not falls else 0


def _bass_move(lefts: set[int], arrived: int, one: int, other: int) -> int:
    """What the bass pays to go from `one` to `other` while the melody comes to `arrived` from each of `lefts`."""
    cost = _BASS_MOVE.get(abs(other - one), 40)
    perfect = (arrived - other) % 7 in (0, 4)
    for left in lefts if one != other else ():
        same_way = (arrived > left) == (other > one)
        if perfect and (left - one) % 7 == (arrived - other) % 7:
            cost += 1000 if same_way else 30
        elif perfect and same_way:
            cost += 5
        elif not same_way:
            cost -= 1
    return cost
