"""Patterns in any key: five-finger scales, chords, cadences, scales, and chains through all keys.

The fingers of five-finger patterns are 1 to 5 in the right hand and 5 to 1 in the left in every key; chords in close
position take 1-3-5, 1-2-5 or 1-4-5 and their mirror (common practice, no source). Scales: see `scalefingers`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.music.keys import CIRCLE_MAJOR, CIRCLE_MINOR, Key
from trainer.music.piece import BOTH, HANDS, LEFT, RIGHT, Bar, KeyChange, Note, Piece, sorted_notes
from trainer.music.pitch import MusicError, SpelledPitch
from trainer.scores.composing.scalefingers import FORMS, HARMONIC, MELODIC, NATURAL, scale_fingers

TEMPO = 72.0
_RIGHT_OCTAVE = 4
_QUARTER = Fraction(1)


@dataclass(frozen=True)
class Stroke:
    """What one hand plays at once: pitches from low to high with their fingers, and the length in quarters."""

    pitches: tuple[SpelledPitch, ...]
    fingers: tuple[int, ...]
    length: Fraction


@dataclass(frozen=True)
class Kind:
    """A kind of pattern: what it is called on screen and how one hand of it is made."""

    name: str
    says: str
    make: Callable[[Key, str, str], list[Stroke]]


def pattern(kind: str, key: Key, hands: str = BOTH, *, form: str = HARMONIC) -> Piece:
    """A pattern as a piece in `key`, fingered.

    Parameters
    ----------
    kind : str
        A key of `KINDS`.
    hands : str
        ``both`` (an octave apart), ``right`` or ``left``.
    form : str
        Of minor scales: ``natural``, ``harmonic`` or ``melodic``.

    Raises
    ------
    MusicError
        With the list of what there is, when kind, hands or form is none of them.

    Examples
    --------
    >>> from trainer.music.keys import Key
    >>> [note.pitch.name for note in pattern("pentascale", Key.parse("Eb"), "right").notes][:5]
    ['Eb4', 'F4', 'G4', 'Ab4', 'Bb4']
    """
    for asked, allowed, word in ((kind, tuple(KINDS), "pattern"), (hands, HANDS, "choice of hands"),
                                 (form, FORMS, "form of the minor scale")):  # fmt: skip
        if asked not in allowed:
            raise MusicError(f"'{asked}' is no {word}: there are {', '.join(allowed)}.")
    made = KINDS[kind]
    key = key.plain if kind in CHAINS else key
    chosen = (RIGHT, LEFT) if hands == BOTH else (hands,)
    strokes = {hand: made.make(key, hand, form) for hand in chosen}
    if kind == "pentascale-apart" and hands == BOTH:
        strokes = _one_after_the_other(strokes)
    keys = _chain_keys(kind, key) if kind in CHAINS else [key]
    changes = tuple(KeyChange(Fraction(4 * number), one) for number, one in enumerate(keys))
    return _piece(f"{made.says} in {key.name}", strokes, changes)


def _piece(title: str, strokes: dict[str, list[Stroke]], keys: tuple[KeyChange, ...]) -> Piece:
    notes: list[Note] = []
    length = Fraction(0)
    for hand, played in strokes.items():
        now = Fraction(0)
        for stroke in played:
            for pitch, finger in zip(stroke.pitches, stroke.fingers, strict=True):
                notes.append(Note("", pitch, now, stroke.length, hand, finger=finger, staff=1 if hand == RIGHT else 2))
            now += stroke.length
        length = max(length, now)
    ordered = tuple(replace(note, id=f"n{place}") for place, note in enumerate(sorted_notes(notes), 1))
    bars = tuple(Bar(number + 1, Fraction(4 * number), Fraction(4)) for number in range(-int(-length // 4)))
    return Piece(
        title, ordered, bars, keys, tempo=TEMPO, tempi=((Fraction(0), TEMPO),),
        origin="a pattern of practice, common to all schools", licence="CC0 1.0",
    )  # fmt: skip


def _one_after_the_other(strokes: dict[str, list[Stroke]]) -> dict[str, list[Stroke]]:
    right, left = strokes[RIGHT], strokes[LEFT]
    rest = Stroke((), (), sum((stroke.length for stroke in right), Fraction(0)))
    return {RIGHT: right, LEFT: [rest, *left]}


def _degree(key: Key, hand: str, number: int, octave: int = 0, *, raised: bool = False) -> SpelledPitch:
    """Degree `number` (1 the tonic, 8 its octave, 0 the seventh below) where the hand lies."""
    octaves, place = divmod(number - 1, 7)
    base = _RIGHT_OCTAVE + octave - (1 if hand == LEFT else 0)
    pitch = key.degree(place + 1, base + octaves)
    return SpelledPitch(pitch.letter, pitch.alteration + 1, pitch.octave) if raised else pitch


def _five(hand: str, place: int) -> int:
    """The finger on the place-th note of a five-finger position, counted from 1 at the bottom."""
    return place if hand == RIGHT else 6 - place


def _run(key: Key, hand: str, places: Iterable[int]) -> list[Stroke]:
    """Quarter notes on places of the five-finger position, the last one a whole note."""
    run = [Stroke((_degree(key, hand, place),), (_five(hand, place),), _QUARTER) for place in places]
    run[-1] = replace(run[-1], length=Fraction(4))
    return run


def _trichord(key: Key, hand: str, form: str) -> list[Stroke]:
    return _run(key, hand, (1, 2, 3, 2, 1))


def _pentascale(key: Key, hand: str, form: str) -> list[Stroke]:
    return _run(key, hand, (1, 2, 3, 4, 5, 4, 3, 2, 1))


def _contrary(key: Key, hand: str, form: str) -> list[Stroke]:
    up, down = (1, 2, 3, 4, 5, 4, 3, 2, 1), (5, 4, 3, 2, 1, 2, 3, 4, 5)
    return _run(key, hand, up if hand == RIGHT else down)


# Chords of the close-position cadence as degrees (0 is the leading note below), with right- and left-hand fingers.
_TONIC = ((1, 3, 5), (1, 3, 5), (5, 3, 1))
_SUBDOMINANT = ((1, 4, 6), (1, 3, 5), (5, 2, 1))
_DOMINANT = ((0, 2, 5), (1, 2, 5), (5, 3, 1))
_DOMINANT_SEVENTH = ((0, 4, 5), (1, 4, 5), (5, 2, 1))
_CADENCE = (_TONIC, _SUBDOMINANT, _DOMINANT, _TONIC)
_CADENCE_SEVENTH = (_TONIC, _SUBDOMINANT, _DOMINANT_SEVENTH, _TONIC)
_Chord = tuple[tuple[int, ...], tuple[int, ...], tuple[int, ...]]


def _chord_pitches(key: Key, hand: str, degrees: tuple[int, ...]) -> tuple[SpelledPitch, ...]:
    return tuple(_degree(key, hand, number, raised=key.is_minor and number == 0) for number in degrees)


# The four chords fill three bars: the dominant has one for itself, and so has the last tonic.
_CADENCE_LENGTHS = (Fraction(2), Fraction(2), Fraction(4), Fraction(4))


def _cadence(chords: tuple[_Chord, ...]) -> Callable[[Key, str, str], list[Stroke]]:
    def make(key: Key, hand: str, form: str) -> list[Stroke]:
        return [
            Stroke(_chord_pitches(key, hand, degrees), right if hand == RIGHT else left, length)
            for (degrees, right, left), length in zip(chords, _CADENCE_LENGTHS, strict=True)
        ]

    return make


_FULL_SEVENTH = ((0, 2, 4, 5), (1, 2, 4, 5), (5, 4, 2, 1))


def _broken(key: Key, hand: str, form: str) -> list[Stroke]:
    """Tonic, dominant seventh in its nearest position, tonic: each broken up and down."""
    played: list[Stroke] = []
    for (degrees, right, left), order in ((_TONIC, (0, 1, 2, 1)), (_FULL_SEVENTH, (0, 1, 2, 3)),
                                          (_FULL_SEVENTH, (3, 2, 1, 0)), (_TONIC, (0, 1, 2, 1))):  # fmt: skip
        pitches = _chord_pitches(key, hand, degrees)
        fingers = right if hand == RIGHT else left
        played += [Stroke((pitches[place],), (fingers[place],), _QUARTER) for place in order]
    return [*played, replace(played[0], length=Fraction(4))]


def _scale(octaves: int) -> Callable[[Key, str, str], list[Stroke]]:
    def make(key: Key, hand: str, form: str) -> list[Stroke]:
        # Two octaves from G, A or B begin an octave lower, so that neither hand leaves the staff.
        lower = -1 if octaves > 1 and key.letter in "GAB" else 0
        top = 7 * octaves + 1
        played: list[Stroke] = []
        for rising in (True, False):
            fingers = scale_fingers(key, hand, form, rising=rising).upward(octaves)
            numbers = range(1, top + 1) if rising else range(top - 1, 0, -1)
            for number in numbers:
                raised = key.is_minor and not key.church and _is_raised(number, form, rising)
                pitch = _degree(key, hand, number, lower, raised=raised)
                played.append(Stroke((pitch,), (fingers[number - 1],), Fraction(1, 2)))
        # Up and down again is one note more than fills bars of eighths: the last note is held to the bar's end.
        rest = (sum((stroke.length for stroke in played), Fraction(0)) - Fraction(1, 2)) % 4
        return [*played[:-1], replace(played[-1], length=4 - rest)]

    return make


def _is_raised(number: int, form: str, rising: bool) -> bool:
    place = (number - 1) % 7 + 1
    if form == NATURAL or (form == MELODIC and not rising):
        return False
    return place == 7 or (place == 6 and form == MELODIC)


CHAINS = {"chain-fifths": 1, "chain-semitones": 7}


def _chain_keys(kind: str, start: Key) -> list[Key]:
    """Thirteen keys of one mode from `start` back to it, by steps round the circle of fifths."""
    circle = CIRCLE_MINOR if start.is_minor else CIRCLE_MAJOR
    home = next(place for place, key in enumerate(circle) if key.tonic.midi % 12 == start.tonic.midi % 12)
    between = [circle[(home + CHAINS[kind] * number) % 12] for number in range(1, 12)]
    return [start, *between, start]


def _chain(kind: str) -> Callable[[Key, str, str], list[Stroke]]:
    def make(key: Key, hand: str, form: str) -> list[Stroke]:
        home = key.tonic.midi
        played: list[Stroke] = []
        keys = _chain_keys(kind, key)
        for number, one in enumerate(keys):
            octave = _chain_octave(kind, one, home, number)
            last = number == len(keys) - 1
            places = (1, 2, 3, 4, 5, 4, 3, 2) if not last else (1,)
            for place in places:
                pitch = _degree(one, hand, place, octave)
                played.append(Stroke((pitch,), (_five(hand, place),), Fraction(4) if last else Fraction(1, 2)))
        return played

    return make


def _chain_octave(kind: str, key: Key, home: int, number: int) -> int:
    """Octaves to move a key's position: by semitones it climbs, by fifths it stays within a tritone of home."""
    target = home + number if kind == "chain-semitones" else home
    off = key.tonic.midi - target
    return -((off + 5) // 12)


KINDS = {
    kind.name: kind
    for kind in (
        Kind("trichord", "Three notes", _trichord),
        Kind("pentascale", "Pentascale", _pentascale),
        Kind("pentascale-apart", "Pentascale, hands apart", _pentascale),
        Kind("pentascale-contrary", "Pentascale in contrary motion", _contrary),
        Kind("cadence", "Cadence", _cadence(_CADENCE)),
        Kind("cadence-seventh", "Cadence with the seventh", _cadence(_CADENCE_SEVENTH)),
        Kind("broken-chords", "Broken chords", _broken),
        Kind("scale-one-octave", "Scale, one octave,", _scale(1)),
        Kind("scale-two-octaves", "Scale, two octaves,", _scale(2)),
        Kind("chain-fifths", "Five fingers by fifths through all keys, beginning", _chain("chain-fifths")),
        Kind("chain-semitones", "Five fingers by semitones through all keys, beginning", _chain("chain-semitones")),
    )
}
