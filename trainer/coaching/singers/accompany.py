"""Which keys suit a singer: where a line lies in a tessitura, and how the key lies under the hands.

The figures (how fast comfort falls, what extremes and register changes cost) are our own, kept in one place below;
common practice, no source, is the idea: a song suits when most of its time lies in the comfortable middle, when its
extremes are not far outside, and when it does not dwell where the registers change.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

from trainer.coaching.singers.voices import Span, Voice
from trainer.hands.ease import ease
from trainer.hands.fingering import finger_piece
from trainer.hands.why import signature_words
from trainer.music.keys import Key
from trainer.music.piece import Note, Piece
from trainer.music.pitch import MusicError, SpelledPitch
from trainer.music.transpose import OCTAVE, Transposition, by_semitones, transposed
from trainer.scores.composing.patterns import pattern

# A note this many semitones outside the tessitura has no comfort left.
REACH = 5.0
# Lost by a note within a semitone of a register change (per share of the time spent there).
PASSAGGIO_COST = 0.15
# Lost once by the whole line: for going outside at all, and for each further semitone of its highest and lowest note.
FIRST_OUTSIDE = 0.1
EACH_FURTHER = 0.03
# How far ease for the hands can lift a key over another that fits the voice better. Below `FIRST_OUTSIDE`, so that
# a key in which the line fits wholly is never passed by one in which it does not.
EASE_WEIGHT = 0.09
# A long piece is judged by so many notes, so that twelve keys take about a second.
MOST_NOTES = 400
PENTASCALE = "pentascale"
# The piano's part moves by at most an octave; a voice that lies elsewhere sings in another octave than the page.
MAX_SHIFT = 12
# A line whose middle lies below middle C stands in the bass clef, where men read at pitch.
MIDDLE_C = 60
# A tessitura whose middle lies below this is a man's: above a high tenor's (G3-A4), below a low alto's (G3-C5). Ours.
MENS_BELOW = 63
# Keys fitting less than this are not offered while a better one exists.
WORTH_OFFERING = 0.5
# How many keys are shown when none fits.
COMPROMISES = 3

Ease = Callable[[Transposition], float]


@dataclass(frozen=True)
class Line:
    """A voice line: its written key, and for every pitch the quarter notes spent on it.

    Parameters
    ----------
    key : Key
        The written key.
    sung : tuple of (SpelledPitch, float)
        Pitches from low to high, each once, with the time spent on it.
    timed : bool
        Whether those times are known; else all are alike.
    at_pitch : bool
        Whether the page says the octave it is sung in, for men too.
    """

    key: Key
    sung: tuple[tuple[SpelledPitch, float], ...]
    timed: bool = True
    at_pitch: bool = False

    @property
    def low(self) -> SpelledPitch:
        return self.sung[0][0]

    @property
    def high(self) -> SpelledPitch:
        return self.sung[-1][0]

    @property
    def span(self) -> Span:
        return Span(self.low, self.high)


@dataclass(frozen=True)
class Suits:
    """One key for a singer.

    Parameters
    ----------
    transposition : Transposition
        From the written key.
    low, high : SpelledPitch
        Where the line is then sung, concert pitch.
    fit : float
        0 to 1: how long the line lies where it is comfortable, less what extremes and register changes cost.
    ease : float
        0 to 1 for the hands.
    above, below : int
        Semitones by which the line passes the tessitura.
    octaves : int
        Octaves between the page and the voice: -1 when a man sings, as usual, an octave below a treble-clef line.
    beyond : str
        By how much the line passes the tessitura, and for how long; empty when it does not.
    why : str
        Where the line lies, with what is true of every key: a line too wide, a voice in another octave; and the
        signature.
    """

    transposition: Transposition
    low: SpelledPitch
    high: SpelledPitch
    fit: float
    ease: float
    above: int
    below: int
    octaves: int
    beyond: str
    why: str

    @property
    def key(self) -> Key:
        return self.transposition.target

    @property
    def rank(self) -> float:
        return self.fit + EASE_WEIGHT * self.ease

    @property
    def inside(self) -> bool:
        """The whole line lies in the tessitura."""
        return not self.above and not self.below


def voice_line(piece: Piece, singer: int = 0) -> Line:
    """The line that is sung: as a `Line` in concert pitch (`Piece.voice` finds it); or another singer's, by its index.

    Raises
    ------
    MusicError
        When the piece has no notes, or nobody else sings.
    """
    if singer >= max(len(piece.singers), 1):
        raise MusicError(f"'{piece.title}' has one singer, or does not tell two apart: ask for one alone.")
    at_pitch = piece.singers[singer].at_pitch if singer else piece.at_pitch
    return line_of(piece, piece.sung_by(singer) if singer else piece.voice, at_pitch)


def line_of(piece: Piece, notes: Sequence[Note], at_pitch: bool) -> Line:
    """Some notes of a piece as a line."""
    times: dict[SpelledPitch, float] = {}
    for note in notes:
        if note.length:
            times[note.pitch] = times.get(note.pitch, 0.0) + float(note.length)
    if not times:
        raise MusicError(f"'{piece.title}' has no line to sing: choose a piece with notes, or say --line F4-F5.")
    pitches = sorted(times.items(), key=lambda item: (item[0].midi, item[0].steps))
    return Line(piece.key, tuple(pitches), at_pitch=at_pitch)


def plain_line(span: Span, key: Key) -> Line:
    """A line known only by its lowest and highest pitch: every scale note between them, equally long."""
    pitches = {span.low: 1.0, span.high: 1.0}
    for steps in range(span.low.steps + 1, span.high.steps):
        letter = SpelledPitch.from_steps(steps, 0).letter
        pitch = SpelledPitch(letter, key.alteration_of(letter), steps // 7)
        if span.low.midi < pitch.midi < span.high.midi:
            pitches[pitch] = 1.0
    return Line(key, tuple(sorted(pitches.items(), key=lambda item: (item[0].midi, item[0].steps))), timed=False)


def ease_of(piece: Piece) -> Ease:
    """How a piece lies under the hands, key by key (`hands.ease`), judged by its beginning when it is long."""
    stop = piece.notes[min(MOST_NOTES, len(piece.notes)) - 1].onset
    judged = piece.with_notes(note for note in piece.notes if note.onset <= stop)
    before = {hand: finger_piece(judged, hand) for hand in judged.hands}
    return lambda move: ease(judged, transposed(judged, move.interval), before=before).total


def plain_ease(move: Transposition) -> float:
    """How a key lies under the hands when there is no piece: by its five-finger pattern."""
    return ease(pattern(PENTASCALE, move.written), pattern(PENTASCALE, move.target)).total


def suit(
    line: Line, tessitura: Span, voice: Voice | None = None, hands: Ease = plain_ease, most: int = 12
) -> list[Suits]:
    """The keys that suit, best first; each of the twelve keys at most once, in its best octave.

    When no key lets the line stay inside, the first say by how much it passes the tessitura.

    Parameters
    ----------
    tessitura : Span
        The singer's own, or that of the voice type.
    voice : Voice, optional
        Adds the full range (no comfort outside it) and the places where the registers change.
    hands : callable
        Transposition -> 0 to 1: `ease_of` a piece, or `plain_ease`.
    most : int
        How many at most.

    >>> line = plain_line(Span.parse("F4-F5"), Key.parse("Bb"))
    >>> first = suit(line, Span.parse("D4-D5"))[0]
    >>> first.key.short, first.transposition.words, first.fit
    ('G', 'down a minor third', 1.0)
    """
    octaves = voice_octaves(line, tessitura, voice)
    worth = _worth_offering(lambda semitones: fit_of(line, semitones + 12 * octaves, tessitura, voice))
    keys = [_suits(line, semitones, octaves, fit, tessitura, hands) for fit, semitones in worth]
    return sorted(keys, key=lambda s: (-s.rank, abs(s.transposition.interval.semitones)))[:most]


@dataclass(frozen=True)
class Part:
    """One of those who sing together: the line, where it is comfortable, the voice type when known."""

    line: Line
    tessitura: Span
    voice: Voice | None = None

    def fit(self, semitones: int) -> float:
        """How well the line lies that many semitones from the page, in the octave of the voice."""
        return fit_of(self.line, semitones + 12 * self.octaves, self.tessitura, self.voice)

    @property
    def octaves(self) -> int:
        return voice_octaves(self.line, self.tessitura, self.voice)


def suit_all(parts: Sequence[Part], hands: Ease = plain_ease, most: int = 12) -> list[tuple[Suits, ...]]:
    """The keys of a duet or a choir, best first: a key is as good as it is for the one whom it suits least."""
    worth = _worth_offering(lambda semitones: min(part.fit(semitones) for part in parts))
    # How a key lies under the hands takes the most time and is the same for all.
    lies = cache(hands)
    keys = [
        tuple(_suits(part.line, move, part.octaves, part.fit(move), part.tessitura, lies) for part in parts)
        for _, move in worth
    ]
    best = sorted(keys, key=lambda row: (-min(s.rank for s in row), abs(row[0].transposition.interval.semitones)))
    return best[:most]


def _worth_offering(fit: Callable[[int], float]) -> list[tuple[float, int]]:
    """The fit of each of the twelve keys in its best octave, with its semitones from the page, where one may offer it.

    Ease takes the most time, so it is asked only for these.
    """
    best: dict[int, tuple[float, int]] = {}
    for semitones in range(-MAX_SHIFT, MAX_SHIFT + 1):
        found = fit(semitones), -abs(semitones)
        kept = best.get(semitones % 12)
        if kept is None or found > (kept[0], -abs(kept[1])):
            best[semitones % 12] = found[0], semitones
    kept_fits = sorted(best.values(), key=lambda pair: (-pair[0], abs(pair[1])))
    return [pair for pair in kept_fits if pair[0] >= WORTH_OFFERING] or kept_fits[:COMPROMISES]


def voice_octaves(line: Line, tessitura: Span, voice: Voice | None = None) -> int:
    """The octaves between the page and the voice.

    Women and children sing at pitch, men an octave below a line in the treble clef (common practice, no source) that
    has no 8 under it. It is another octave only where the piano's part, moved by at most `MAX_SHIFT`, cannot bring the
    line there.
    """
    mans = _is_mans(voice.tessitura if voice else tessitura) and not line.at_pitch
    usual = -1 if mans and line.span.middle >= MIDDLE_C else 0
    apart = tessitura.middle - line.span.middle - 12 * usual
    # The one can lie anywhere inside the other.
    least = abs(tessitura.semitones - line.span.semitones) / 2
    further = max(0, math.ceil((abs(apart) - least - MAX_SHIFT) / 12))
    return usual + (further if apart > 0 else -further)


def _is_mans(tessitura: Span) -> bool:
    return tessitura.middle < MENS_BELOW


def fit_of(line: Line, semitones: int, tessitura: Span, voice: Voice | None = None) -> float:
    """How well a line sung some semitones from the page lies, 0 to 1."""
    comfort = whole = 0.0
    for pitch, time in line.sung:
        comfort += time * _comfort(pitch.midi + semitones, tessitura, voice)
        whole += time
    above, below = _passing(line, semitones, tessitura)
    cost = sum(FIRST_OUTSIDE + EACH_FURTHER * (by - 1) for by in (above, below) if by)
    return round(max(0.0, comfort / whole - cost), 3)


def _comfort(midi: int, tessitura: Span, voice: Voice | None) -> float:
    if voice is not None and not voice.range.low.midi <= midi <= voice.range.high.midi:
        return 0.0
    outside = max(tessitura.low.midi - midi, midi - tessitura.high.midi, 0)
    comfort = max(0.0, 1.0 - outside / REACH)
    if voice is not None and any(abs(midi - change.midi) <= 1 for change in voice.passaggi):
        comfort = max(0.0, comfort - PASSAGGIO_COST)
    return comfort


def _passing(line: Line, semitones: int, tessitura: Span) -> tuple[int, int]:
    above = max(0, line.high.midi + semitones - tessitura.high.midi)
    below = max(0, tessitura.low.midi - line.low.midi - semitones)
    return above, below


def _suits(line: Line, semitones: int, octaves: int, fit: float, tessitura: Span, hands: Ease) -> Suits:
    move = by_semitones(line.key, semitones)
    sung = move.interval
    for _ in range(abs(octaves)):
        sung = sung + (OCTAVE if octaves > 0 else -OCTAVE)
    above, below = _passing(line, sung.semitones, tessitura)
    low, high = line.low + sung, line.high + sung
    beyond = _beyond(line, sung.semitones, above, below, tessitura)
    where = f"passes {tessitura.name}: {beyond}" if beyond else f"lies wholly in {tessitura.name}"
    lies = f"{Span(low, high).name} {where}."
    wide = too_wide(line, tessitura)
    why = " ".join(
        part for part in (wide, lies, in_another_octave(octaves), f"{_capital(signature_words(move.target))}.") if part
    )
    return Suits(move, low, high, fit, round(hands(move), 3), above, below, octaves, beyond, why)


_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def in_semitones(count: int) -> str:
    if count <= 2:
        return ("nothing", "a semitone", "a tone")[count]
    return f"{_NUMBERS[count] if count < len(_NUMBERS) else count} semitones"


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]


def in_another_octave(octaves: int) -> str:
    """That the voice sounds in another octave than the page, in a sentence; empty when it does not."""
    if not octaves:
        return ""
    many = "an octave" if abs(octaves) == 1 else f"{_NUMBERS[abs(octaves)]} octaves"
    return f"The voice sounds {many} {'above' if octaves > 0 else 'below'} the page."


def _beyond(line: Line, sung: int, above: int, below: int, tessitura: Span) -> str:
    """By how much a line passes a tessitura, and where its times are known, for how much of them."""
    passes = " and ".join(f"{in_semitones(by)} {side} it" for by, side in ((above, "above"), (below, "below")) if by)
    if not passes or not line.timed:
        return passes
    outside = sum(
        time for pitch, time in line.sung if not tessitura.low.midi <= pitch.midi + sung <= tessitura.high.midi
    )
    return f"{passes}, for {max(round(100 * outside / sum(time for _, time in line.sung)), 1)}% of its time"


def too_wide(line: Line, tessitura: Span) -> str | None:
    """By how much a line is wider than a tessitura, in a sentence; None when some key can hold all of it."""
    wider = line.high.midi - line.low.midi - tessitura.semitones
    if wider <= 0:
        return None
    return f"The line is {in_semitones(wider)} wider than {tessitura.name}, so no key holds all of it."
