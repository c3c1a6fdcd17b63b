"""From exact lengths to what can be written: a voice's chords and rests, ties, beams, accidentals."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import groupby, pairwise

from trainer.music.keys import Key
from trainer.music.piece import Bar
from trainer.music.pitch import SpelledPitch
from trainer.scores.notation.notevalues import BEAMS, Value, rest_values, spell_length, tuplet_values, value_of
from trainer.scores.notation.tuplets import Stretch, stretches


@dataclass(slots=True)
class Chord:
    """What one voice does from `onset` for one writable value: the notes that sound, none for a rest.

    `ties` holds, for each note, whether it is tied from before and to the next; `tremolo` which end of one between two
    chords it is, ``start`` or ``stop``; `group` where the tuplet begins that is told of the whole bar (`tuplets`).
    """

    onset: Fraction
    value: Value
    notes: tuple[int, ...]
    ties: tuple[tuple[bool, bool], ...] = ()
    beams: list[str] = field(default_factory=list)
    tuplet_start: bool = False
    tuplet_stop: bool = False
    tuplet_bracket: bool = False
    whole_bar: bool = False
    tremolo: str = ""
    group: Fraction | None = None

    @property
    def length(self) -> Fraction:
        return self.value.length


def voice_in_bar(
    bar: Bar, sounding: Sequence[tuple[int, Fraction, Fraction]], also: Sequence[Fraction] = ()
) -> list[Chord]:
    """What one voice writes in one bar: chords and rests that fill it.

    Parameters
    ----------
    sounding : sequence of (note index, onset, end)
        Notes that sound in the bar, which may begin before it or last beyond it.
    also : sequence of onsets
        Where a grace note wants something to lean on.
    """
    start, end = bar.onset, bar.onset + bar.length
    ends = {max(on, start) for _, on, _ in sounding} | {min(off, end) for _, _, off in sounding}
    inner = {onset for onset in (*ends, *also) if start < onset < end}
    if not ends and not inner:
        return _rests(bar, start, end)
    cuts = sorted({start, end} | inner)
    parts = stretches(bar, [cut - start for cut in cuts])
    chords: list[Chord] = []
    for here, there in pairwise(cuts):
        held = [(index, on, off) for index, on, off in sounding if on < there and off > here]
        for position, value, group in _values(bar, here, there, parts, bool(held)):
            stop = position + value.length
            ties = tuple((on < position, off > stop) for _, on, off in held)
            chords.append(Chord(position, value, tuple(index for index, _, _ in held), ties, group=group))
    for group, run in groupby(chords, key=lambda chord: chord.group):
        members = list(run)
        if group is None:
            _mark_tuplets(members)
        else:
            members[0].tuplet_start = members[-1].tuplet_stop = True
    _beam(chords, bar)
    _bracket(chords)
    return chords


def _values(
    bar: Bar, here: Fraction, there: Fraction, parts: Sequence[Stretch], sounds: bool
) -> Iterator[tuple[Fraction, Value, Fraction | None]]:
    """The values of a note or a rest with their onsets, and where the tuplet they belong to begins."""
    edges = {bar.onset + edge for part in parts for edge in (part.start, part.end)}
    for at, end in pairwise(sorted({here, there} | {edge for edge in edges if here < edge < there})):
        inside = at - bar.onset
        part = next((one for one in parts if one.start <= inside < one.end), None)
        if part:
            values = tuplet_values(end - at, part.ratio)
        elif sounds:
            values = spell_length(inside, end - at, bar.beat_quarters)
        else:
            values = rest_values(bar, inside, end - bar.onset)
        for value in values:
            yield at, value, bar.onset + part.start if part else None
            at += value.length


def _rests(bar: Bar, here: Fraction, there: Fraction) -> list[Chord]:
    """An empty bar. The rest of a whole bar stands for the metre; in an upbeat rests say how long it is."""
    full = Fraction(4 * bar.meter[0], bar.meter[1])
    if bar.length >= full:
        return [Chord(here, value_of(bar.length) or Value("whole", 0), (), whole_bar=True)]
    return [Chord(at, value, ()) for at, value, _ in _values(bar, here, there, (), sounds=False)]


def _mark_tuplets(chords: list[Chord]) -> None:
    """Bracket runs of one tuplet from where they leave the binary grid to where they meet it again."""
    open_ratio: tuple[int, int] | None = None
    opened = 0
    passed = Fraction(0)
    for at, chord in enumerate(chords):
        ratio = chord.value.tuplet
        if open_ratio and ratio != open_ratio:
            chords[at - 1].tuplet_stop = True
            open_ratio = None
        if ratio == (1, 1):
            continue
        if open_ratio is None:
            chord.tuplet_start = True
            open_ratio, opened, passed = ratio, at, Fraction(0)
        passed += chord.length
        if passed.denominator & (passed.denominator - 1) == 0 and at > opened:
            chord.tuplet_stop = True
            open_ratio = None
    if open_ratio:
        chords[-1].tuplet_stop = True


def _bracket(chords: list[Chord]) -> None:
    """A tuplet takes a bracket where no beam shows from where to where it goes."""
    for at, chord in enumerate(chords):
        if chord.tuplet_start:
            stop = next((place for place in range(at, len(chords)) if chords[place].tuplet_stop), at)
            beams = [one.beams for one in chords[at : stop + 1]]
            own = ["begin", *["continue"] * (len(beams) - 2), "end"]
            levels = min(len(one) for one in beams)
            chord.tuplet_bracket = all([one[level] for one in beams] != own for level in range(levels))


def _beam(chords: list[Chord], bar: Bar) -> None:
    """Beam notes shorter than a quarter within beats; plain eighths within half a 4/4 bar or a whole 3/4 bar; in 3/8,
    5/8, 7/8 and the like two and two, the odd one with the last.
    """
    beat = min(bar.beat_quarters, Fraction(3, 2) if bar.meter[1] > 2 else Fraction(1))
    # A beat of three stands by itself, however short.
    pairs = max(bar.meter[0] // 2, 1) if beat < 1 and beat.numerator != 3 else 0
    if pairs:
        beat *= 2
    wide = {(4, 4): Fraction(2), (2, 2): Fraction(2), (3, 4): Fraction(3), (2, 4): Fraction(2),
            (3, 2): Fraction(2)}.get(bar.meter, beat)  # fmt: skip
    full = Fraction(4 * bar.meter[0], bar.meter[1])
    shift = full - bar.length if bar.number == 0 and bar.length < full else Fraction(0)

    def place_of(chord: Chord, span: Fraction) -> int:
        onset = chord.onset if chord.group is None else chord.group
        at = int((onset - bar.onset + shift) // span)
        return min(at, pairs - 1) if pairs else at

    groups: dict[int, list[Chord]] = {}
    for chord in chords:
        groups.setdefault(place_of(chord, wide), []).append(chord)
    for group in groups.values():
        only_eighths = all(chord.value.name not in BEAMS or chord.value == Value("eighth", 0) for chord in group)
        span = wide if only_eighths else beat
        run: list[Chord] = []
        place = -1
        for chord in group:
            here = place_of(chord, span)
            beamable = chord.notes and chord.value.name in BEAMS
            if run and (not beamable or here != place):
                _join(run)
                run = []
            if beamable:
                run.append(chord)
                place = here
        _join(run)


def _join(run: list[Chord]) -> None:
    if len(run) < 2:
        return
    counts = [BEAMS[chord.value.name] for chord in run]
    for at, chord in enumerate(run):
        before = counts[at - 1] if at else 0
        after = counts[at + 1] if at + 1 < len(run) else 0
        # Tuplets side by side share the outer beam alone.
        before = min(before, 1) if chord.tuplet_start else before
        after = min(after, 1) if chord.tuplet_stop else after
        for level in range(1, counts[at] + 1):
            joins = (before >= level, after >= level)
            word = {(False, True): "begin", (True, True): "continue", (True, False): "end"}.get(joins)
            chord.beams.append(word or ("forward hook" if at == 0 else "backward hook"))


@dataclass(frozen=True, slots=True)
class Accidental:
    """What is printed before a note; `courtesy`: only so that nobody doubts."""

    alteration: int
    courtesy: bool = False


class Accidentals:
    """Which accidental a note needs: the signature first, then what was written after it in the bar on its line.

    A courtesy is printed once where a reader would doubt: on a line altered in the bar before, and in another octave
    of a letter altered in this one (common practice, e.g. E. Gould, Behind Bars, 2011; from memory).
    """

    def __init__(self) -> None:
        self._key: Key | None = None
        self._seen: dict[int, int] = {}
        self._before: dict[int, int] = {}
        self._over: dict[int, int] = {}

    def new_bar(self, key: Key) -> None:
        self._before = self._over | self._seen
        self._over = {}
        self.new_signature(key)

    def new_signature(self, key: Key) -> None:
        """At the start of a bar or within it."""
        self._seen = {}
        self._key = key

    def needed(self, pitch: SpelledPitch, tied: bool) -> Accidental | None:
        """The accidental to print, or None. A tie keeps its accidental over the barline unprinted."""
        assert self._key is not None
        if tied:
            self._over[pitch.steps] = pitch.alteration
            return None
        line, own = pitch.steps, self._key.alteration_of(pitch.letter)
        standing = self._seen.get(line, own)
        doubted = pitch.alteration != standing
        courtesy = not doubted and line not in self._seen and self._doubtful(line, pitch.alteration)
        if not doubted and not courtesy:
            return None
        self._seen[line] = pitch.alteration
        return Accidental(pitch.alteration, courtesy)

    def _doubtful(self, line: int, alteration: int) -> bool:
        elsewhere = [met for place, met in self._seen.items() if (place - line) % 7 == 0]
        met = [*elsewhere, self._over.get(line, self._before.get(line, alteration))]
        return any(other != alteration for other in met)
