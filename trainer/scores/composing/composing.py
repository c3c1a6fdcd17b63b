"""Fresh pieces by rule: phrase and answer, motif and sequence, cadences on the right degrees, within a level.

The same wish and seed give the same piece on every platform: chance comes only from `random.Random(seed).random()`
and every cost is a whole number.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from random import Random

from trainer.music.compass import HEXACHORD, LEVELS, OPEN, PENTACHORD, TRICHORD, level
from trainer.music.keys import Key
from trainer.music.piece import BOTH, HANDS, LEFT, RIGHT, Bar, KeyChange, Note, Piece, sorted_notes
from trainer.music.pitch import MusicError, SpelledPitch
from trainer.scores.composing.lefthand import EXCHANGE, STYLES, Span, Upper, accompany
from trainer.scores.composing.melody import Slot, Wish, line, repeat_at
from trainer.scores.composing.progressions import Chord, progression
from trainer.scores.composing.rhythms import METERS, Meter, bar_rhythm, closing_rhythm, draw

PHRASE = 4
MOST_BARS = 32
# Phrases by their number: a question, its answer, b and d contrast; one phrase alone is closed in itself.
_FORMS = {1: "o", 2: "ac", 3: "abc", 4: "acbc", 5: "acbac", 6: "acbdac", 7: "acbacbc", 8: "acacbdac"}
# Degrees of the melody from the tonic. A hexachord has two places: round the tonic, or above it.
_REACHES = {
    TRICHORD: ((0, 2),),
    PENTACHORD: ((0, 4),),
    HEXACHORD: ((-1, 5), (-2, 4), (0, 6)),
    OPEN: ((-3, 6), (-2, 7), (-1, 8)),
}
# Bars alike within a phrase: a motif, what answers it, the cadence.
_SCHEMES = ("abac", "aabc", "abbc", "aaac")
_TEMPO = {TRICHORD: 80, PENTACHORD: 88, HEXACHORD: 92, OPEN: 96}
_TRIES = 300
# Of so many pieces the one with the fewest parallels between its outer voices is kept.
_CHOSEN_FROM = 8
# No phrase begins further than a sixth from where the one before it ended.
_SIXTH = 5


@dataclass(frozen=True)
class Request:
    """What is to be composed.

    Parameters
    ----------
    level : str
        ``trichord``, ``pentachord``, ``hexachord`` or ``open``.
    key : Key
    meter : str
        A key of `rhythms.METERS`, as ``3/4``.
    bars : int
        A multiple of four up to 32.
    hands : str
        ``both``, ``right`` or ``left``.
    seed : int
    """

    level: str
    key: Key
    meter: str = "4/4"
    bars: int = 8
    hands: str = BOTH
    seed: int = 0


@dataclass(frozen=True)
class _Tone:
    """A melody note before it has a pitch."""

    slot: Slot
    degree: int
    drawn_up: bool = False


def compose(request: Request) -> Piece:
    """A piece as requested.

    Raises
    ------
    MusicError
        When level, key, meter, bars or hands are none that can be composed; the text lists those that can.
    """
    _check(request)
    rng = Random(request.seed)
    found: list[tuple[int, int, Piece]] = []
    style = ""
    for tried in range(_TRIES):
        composer = _Composer(request, rng, style)
        piece = composer.piece()
        if piece is None or level(piece) != request.level:
            continue
        if _coloured(piece, request) and not grates(piece):
            # What follows differs in its notes only: else the styles that go wrong most would be rare.
            style = composer.style
            found.append((parallels(piece), tried, piece))
            if not found[-1][0] or len(found) == _CHOSEN_FROM:
                break
    if found:
        return min(found)[2]
    raise MusicError(f"No piece came out of seed {request.seed}: take another seed.")


def parallels(piece: Piece) -> int:
    """How often melody and bass go in octaves or fifths from bar to bar: between downbeats, or over the barline.

    The bass of a bar is what the left hand strikes first in it, however it goes on.
    """
    bass: dict[Fraction, int] = {}
    for note in piece.notes:
        if note.hand == LEFT:
            bass[note.onset] = min(note.midi, bass.get(note.onset, note.midi))
    melody = {note.onset: note.midi for note in piece.notes if note.hand == RIGHT}
    before = {other: melody[one] for one, other in pairwise(melody)}
    count = 0
    for one, other in pairwise(bar.onset for bar in piece.bars):
        if not {one, other} <= bass.keys() & melody.keys():
            continue
        for left in {melody[one], before[other]}:
            same_way = (melody[other] - left) * (bass[other] - bass[one]) > 0
            count += same_way and (left - bass[one]) % 12 == (melody[other] - bass[other]) % 12 in (0, 7)
    return count


def grates(piece: Piece) -> bool:
    """Whether the hands hold a letter against itself, raised in one of them: E and E sharp."""
    plain = {letter: piece.key.alteration_of(letter) for letter in "CDEFGAB"}
    raised = [note for note in piece.notes if note.pitch.alteration != plain[note.pitch.letter]]
    return any(
        one.pitch.letter == other.pitch.letter and one.pitch.alteration != other.pitch.alteration
        and one.hand != other.hand and one.onset < other.end and other.onset < one.end
        for one in raised for other in piece.notes
    )  # fmt: skip


def _check(request: Request) -> None:
    for asked, allowed, word in ((request.level, LEVELS, "level"),
                                 (request.meter, tuple(METERS), "meter to compose in"),
                                 (request.hands, HANDS, "choice of hands")):  # fmt: skip
        if asked not in allowed:
            raise MusicError(f"'{asked}' is no {word}: there are {', '.join(allowed)}.")
    if request.bars > MOST_BARS:
        raise MusicError(f"{request.bars} bars are too many to be read at sight: ask for up to {MOST_BARS}.")
    if request.bars % PHRASE or request.bars < PHRASE:
        raise MusicError(f"{request.bars} bars make no whole phrases: ask for 4, 8, 12 and so on up to {MOST_BARS}.")
    if request.key.church:
        raise MusicError(f"Fresh pieces are composed in major and minor: ask for {request.key.plain.name}.")


def _coloured(piece: Piece, request: Request) -> bool:
    """Chromatic notes come with the open level, and there they come in every piece of eight bars or more."""
    if request.level != OPEN or request.bars < 2 * PHRASE:
        return True
    return any(note.pitch.alteration != request.key.alteration_of(note.pitch.letter) for note in piece.notes)


class _Composer:
    """One try: phrases one after the other, then pitches, then the left hand."""

    def __init__(self, request: Request, rng: Random, style: str = "") -> None:
        self.request = request
        self.rng = rng
        self.meter: Meter = METERS[request.meter]
        self.minor = request.key.is_minor
        reaches = _REACHES[request.level]
        self.low, self.high = reaches[draw(rng, [1] * len(reaches))]
        self.scheme = _SCHEMES[draw(rng, (3, 2, 2, 1))]
        styles = STYLES[request.level]
        self.style = style or (styles[draw(rng, [1] * len(styles))] if request.hands == BOTH else "")
        self.rhythms = {label: bar_rhythm(self.meter, request.level, rng, moving=label != "b") for label in "abde"}
        self.opening = progression("opening", request.level, self.minor, rng)

    def piece(self) -> Piece | None:
        form = _FORMS[self.request.bars // PHRASE]
        phrases: dict[str, list[_Tone]] = {}
        for label in form:
            if label not in phrases:
                made = self._phrase(label, phrases)
                if made is None:
                    return None
                phrases[label] = made
        if any(abs(phrases[one][-1].degree - phrases[other][0].degree) > _SIXTH for one, other in pairwise(form)):
            return None
        tones: list[_Tone] = []
        for number, label in enumerate(form):
            start = number * PHRASE
            tones += [replace(tone, slot=replace(tone.slot, bar=tone.slot.bar + start,
                              onset=tone.slot.onset + start * self.meter.bar)) for tone in phrases[label]]  # fmt: skip
        return self._written(tones, form)

    def _phrase(self, label: str, before: dict[str, list[_Tone]]) -> list[_Tone] | None:
        harmony = self._harmony(label)
        lengths = self._lengths(label)
        slots = self._slots(lengths, harmony)
        closed = label in "oc"
        fixed: dict[int, int] = {}
        if label == "c":
            kept = [tone.degree for tone in before["a"] if tone.slot.bar < 2]
            fixed = dict(enumerate(kept))
        wish = self._wish(label, closed, fixed)
        first = line(slots, wish, self.rng)
        if first is None:
            return None
        repeats = self._repeats(label, slots, first, wish)
        if repeats:
            again = line(slots, replace(wish, fixed={**repeats, **fixed}), self.rng)
            first = again or first
        tones = [_Tone(slot, degree) for slot, degree in zip(slots, first, strict=True)]
        if self.request.level == OPEN:
            tones = self._neighbours(tones)
        return tones

    def _harmony(self, label: str) -> list[tuple[Chord, ...]]:
        def part(name: str) -> list[tuple[Chord, ...]]:
            return progression(name, self.request.level, self.minor, self.rng)

        start = part("contrast") if label in "bd" else self.opening
        bars = start + part("full" if label in "oc" else "half")
        # Two chords share a bar only where it has two equal halves; else the second one has it alone.
        halves = len(self.meter.groups) == 2 and len(set(self.meter.groups)) == 1
        halves = halves or self.meter.groups == (2,)
        return [bar if halves else bar[-1:] for bar in bars]

    def _lengths(self, label: str) -> list[tuple[Fraction, ...]]:
        names = {"b": "d", "d": "e"}
        motif = names.get(label, "a")
        bars = []
        for place in self.scheme[:-1]:
            bars.append(self.rhythms[motif if place == "a" else "b"])
        return [*bars, closing_rhythm(self.meter, self.rng, final=label in "oc")]

    def _slots(self, lengths: list[tuple[Fraction, ...]], harmony: list[tuple[Chord, ...]]) -> list[Slot]:
        slots: list[Slot] = []
        for number, (bar, chords) in enumerate(zip(lengths, harmony, strict=True)):
            at = Fraction(0)
            for length in bar:
                chord = chords[int(at * len(chords) / self.meter.bar)]
                strength = 3 if at == 0 else 2 if at in self.meter.strong else 1 if at % self.meter.beat == 0 else 0
                slots.append(Slot(number, number * self.meter.bar + at, length, strength, chord))
                at += length
        return slots

    def _wish(self, label: str, closed: bool, fixed: dict[int, int]) -> Wish:
        low, high = self.low, self.high
        peak = high - int(self.rng.random() * 2)
        valley = low + int(self.rng.random() * 2)
        shapes = ((0, peak, 2, 0), (2, valley, peak, 1), (2, peak, valley, 0)) if label not in "bd" else (
            (peak, 2, peak, 1), (2, peak, valley, 1))  # fmt: skip
        tonic_chord, dominant = (0, 2, 4), (1, 4, 6, -1, -3)
        first = tuple(range(low, high + 1)) if label in "bd" else tonic_chord
        return Wish(
            low, high, self.minor, first,
            last=(0,) if closed else dominant, by_step=closed, shape=shapes[draw(self.rng, [1] * len(shapes))],
            fixed=fixed,
        )  # fmt: skip

    def _repeats(self, label: str, slots: list[Slot], degrees: list[int], wish: Wish) -> dict[int, int]:
        """Bars that take up an earlier bar of the phrase again, with that earlier bar held as it is."""
        starts = {number: [at for at, slot in enumerate(slots) if slot.bar == number] for number in range(PHRASE)}
        fixed: dict[int, int] = {}
        seen: dict[str, int] = {}
        for number, place in enumerate(self.scheme[:-1]):
            if place not in seen:
                seen[place] = number
                continue
            if label == "c" and number < 2:
                continue
            earlier = starts[seen[place]]
            motif = [degrees[at] for at in earlier]
            again = repeat_at(slots, motif, earlier[0], starts[number][0], wish, self.rng)
            if again is not None:
                fixed |= {at: degrees[at] for at in earlier} | again
        return fixed

    def _written(self, tones: list[_Tone], form: str) -> Piece:
        request = self.request
        bars = tuple(
            Bar(number + 1, number * self.meter.bar, self.meter.bar, (self.meter.beats, self.meter.unit))
            for number in range(request.bars)
        )
        raised = _raised(tones, self.minor)
        octave = _octave_near(request.key, self.low, self.high, 53 if request.hands == LEFT else 68)
        notes: list[Note] = []
        takes = self._takers(form)
        for number, tone in enumerate(tones):
            hand = takes[tone.slot.bar // PHRASE if request.bars > PHRASE else tone.slot.bar // 2]
            lower = 1 if hand == LEFT and request.hands == BOTH else 0
            pitch = _pitch(request.key, tone.degree, octave - lower, number in raised)
            finger = self._finger(tone, hand) if tone.slot.onset % (PHRASE * self.meter.bar) == 0 else None
            notes.append(_note(pitch, tone.slot.onset, tone.slot.length, hand, finger))
        if self.style not in ("", EXCHANGE):
            notes += self._left(tones, min(note.midi for note in notes))
        ordered = tuple(replace(note, id=f"n{place}") for place, note in enumerate(sorted_notes(notes), 1))
        tempo = float(_TEMPO[request.level] * (Fraction(3, 2) if self.meter.beat != 1 else 1))
        return Piece(
            f"Fresh piece {request.seed} in {request.key.name}", ordered, bars, (KeyChange(Fraction(0), request.key),),
            tempo=tempo, tempi=((Fraction(0), tempo),), composer="Keyfarer", origin="composed by rule",
            source=f"keyfarer fresh --level {request.level} --key {request.key.short} --meter {request.meter} "
                   f"--bars {request.bars} --hands {request.hands} --seed {request.seed}",
            licence="CC0 1.0",
        )  # fmt: skip

    def _takers(self, form: str) -> list[str]:
        """Which hand has the tune, phrase by phrase (in a piece of one phrase, half by half)."""
        if self.request.hands != BOTH:
            return [self.request.hands] * max(len(form), 2)
        if self.style != EXCHANGE:
            return [RIGHT] * max(len(form), 2)
        return [RIGHT, LEFT] if len(form) == 1 else [LEFT if label == "c" else RIGHT for label in form]

    def _finger(self, tone: _Tone, hand: str) -> int | None:
        if self.request.level not in (TRICHORD, PENTACHORD):
            return None
        return tone.degree + 1 if hand == RIGHT else 5 - tone.degree

    def _neighbours(self, tones: list[_Tone]) -> list[_Tone]:
        """The first lower neighbour between beats drawn up to a semitone: a leading note of the moment."""
        whole = {0: False, 1: True, 2: not self.minor, 3: self.minor, 4: True, 5: not self.minor, 6: True}
        for number in range(1, len(tones) - 1):
            before, here, after = tones[number - 1 : number + 2]
            turns = before.degree == after.degree == here.degree + 1
            if turns and here.slot.strength == 0 and whole[before.degree % 7] and not before.slot.chord.raises:
                return [*tones[:number], replace(here, drawn_up=True), *tones[number + 1 :]]
        return tones

    def _left(self, tones: list[_Tone], lowest: int) -> list[Note]:
        spans = self._spans(tones)
        upper = Upper(tuple(tone.slot.onset for tone in tones), tuple(tone.degree for tone in tones))
        played = accompany(self.style, self.request.level, self.meter, spans, upper, self.rng)
        key = self.request.key
        highest = max(degree for one in played for degree in one.degrees)
        octave = max(octave for octave in range(1, 5) if _pitch(key, highest, octave, True).midi < lowest - 1)
        octave = min(octave, _octave_near(key, min(d for p in played for d in p.degrees), highest, 52))
        notes: list[Note] = []
        for number, one in enumerate(played):
            for degree in one.degrees:
                pitch = _pitch(key, degree, octave, degree % 7 in one.chord.raises)
                notes.append(_note(pitch, one.onset, one.length, LEFT, self._left_finger(number, degree)))
        return notes

    def _left_finger(self, number: int, degree: int) -> int | None:
        in_position = self.request.level in (TRICHORD, PENTACHORD) and number == 0
        return 5 - degree if in_position else None

    def _spans(self, tones: list[_Tone]) -> list[Span]:
        """The chords of the piece, from the notes that stand over them, bar by bar."""
        found: list[Span] = []
        for number in range(self.request.bars):
            inside = [tone.slot for tone in tones if tone.slot.bar == number]
            start = number * self.meter.bar
            chords = [inside[0].chord]
            for slot in inside:
                if slot.onset - start >= self.meter.bar / 2 and slot.chord != chords[0]:
                    chords = [inside[0].chord, slot.chord]
            length = self.meter.bar / len(chords)
            final = number == self.request.bars - 1
            half = number % PHRASE == PHRASE - 1 and not final
            found += [Span(start + place * length, length, chord, half, final) for place, chord in enumerate(chords)]
        return found


def _note(pitch: SpelledPitch, onset: Fraction, length: Fraction, hand: str, finger: int | None) -> Note:
    return Note("", pitch, onset, length, hand, finger=finger, staff=1 if hand == RIGHT else 2)


def _pitch(key: Key, degree: int, octave: int, raised: bool) -> SpelledPitch:
    octaves, place = divmod(degree, 7)
    pitch = key.degree(place + 1, octave + octaves)
    return SpelledPitch(pitch.letter, pitch.alteration + 1, pitch.octave) if raised else pitch


def _octave_near(key: Key, low: int, high: int, middle: int) -> int:
    """The octave of the tonic that brings the middle of the reach nearest to a MIDI note."""

    def off(octave: int) -> int:
        return abs(_pitch(key, low, octave, False).midi + _pitch(key, high, octave, False).midi - 2 * middle)

    return min(range(1, 6), key=off)


def _raised(tones: list[_Tone], minor: bool) -> frozenset[int]:
    """Numbers of the notes raised by a semitone: by their chord, and in minor on the way up to the tonic."""
    raised = {number for number, tone in enumerate(tones) if tone.drawn_up or tone.degree % 7 in tone.slot.chord.raises}
    if not minor:
        return frozenset(raised)
    for number, tone in enumerate(tones[:-1]):
        rising = tone.degree % 7 == 6 and tones[number + 1].degree == tone.degree + 1
        from_sixth = number > 0 and tones[number - 1].degree == tone.degree - 1
        if rising and not from_sixth and not tone.slot.chord.holds(6):
            raised.add(number)
    for number, tone in enumerate(tones):
        beside = {number - 1, number + 1} & raised
        leads = any(tones[one].degree % 7 == 6 and abs(tones[one].degree - tone.degree) == 1 for one in beside)
        if tone.degree % 7 == 5 and leads and not tone.slot.chord.holds(5):
            raised.add(number)
    return frozenset(raised)
