"""The piece as it should sound: chosen bars, one hand or both, slower if wished."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import Counter
from collections.abc import Callable, Iterator
from fractions import Fraction

from trainer.music.passage import passage
from trainer.music.piece import BOTH, LEFT, RIGHT, Note, Piece
from trainer.sounding.tempo import TempoMap
from trainer.sounding.voice import Schedule, Sounded

VELOCITIES = {LEFT: 58}
VELOCITY = 68
# A note ends this much before its written end, so that the next one is heard to begin.
_LIFT = 0.04
_GRACE_S = 0.09
# Shares of its written length a note with such a sign sounds, and how much louder than others it is struck. Staccato is
# half (D. G. Tuerk, *Klavierschule*, 1789, from memory); the others are common practice, no source.
_SHORT = {"staccato": 0.5, "spiccato": 0.35, "staccatissimo": 0.25}
_PORTATO = 0.75
# As velocities louder than what is not marked (ours).
_DYNAMICS = {"ppp": -32, "pp": -24, "p": -14, "mp": -7, "mf": 0, "f": 14, "ff": 26, "fff": 36}
_LOUDER = {"accent": 14, "strong-accent": 22}


def model(
    piece: Piece,
    hand: str = BOTH,
    bars: tuple[int, int] | None = None,
    tempo: float | None = None,
    speed: float = 1.0,
) -> Schedule:
    """A piece, or part of it, as a schedule whose 0 is the first note: the start of its first bar, unless grace notes
    go before that.

    Parameters
    ----------
    piece : Piece
        In the key it shall sound in: the piece itself, or `trainer.music.transpose.transposed` of it.
    hand : str
        ``both``, ``right`` or ``left``.
    bars : (int, int), optional
        First and last, as indices in `Piece.bars`.
    tempo, speed
        As in `TempoMap`.

    Raises
    ------
    MusicError
        When there is nothing to play in these bars and this hand, or no such bars.
    """
    schedule = in_bars(piece, hand, bars, tempo, speed, held=True)
    before = min((note.at for note in schedule.notes), default=0.0)
    return schedule.later(-before) if before < 0 else schedule


def in_bars(
    piece: Piece,
    hand: str = BOTH,
    bars: tuple[int, int] | None = None,
    tempo: float | None = None,
    speed: float = 1.0,
    held: bool = False,
) -> Schedule:
    """As `model`, but 0 is the start of the first bar for certain: grace notes before it come before 0. Fermatas are no
    longer than written, as a click has them, unless they are `held`.
    """
    chosen = passage(piece, bars, hand)
    course = TempoMap(piece, tempo, speed)
    start = piece.bars[bars[0]].onset if bars else Fraction(0)
    began = course.seconds(start)

    holds = {end: longer * 60.0 / course.rate(start + end) for end, longer in _holds(chosen.notes)} if held else {}

    def seconds(onset: Fraction) -> float:
        waited = sum(longer for end, longer in holds.items() if end <= onset)
        return course.seconds(start + onset) - began + waited

    marked = {hand: _Dynamics(piece, hand) for hand in (RIGHT, LEFT)}
    sounded = [
        _sounded(note, seconds, before, marked[note.hand].at(start + note.onset))
        for note, before in _with_graces(chosen.notes, seconds)
    ]
    places = [(seconds(moment.onset), start + moment.onset) for moment in chosen.moments]
    return Schedule.of(sounded, places, seconds(chosen.length))


def _holds(notes: tuple[Note, ...]) -> Iterator[tuple[Fraction, float]]:
    """Where notes under a fermata end, and for how many quarters more they are held: half of the shortest, a quarter at
    least (common practice, no source).
    """
    ends: dict[Fraction, Fraction] = {}
    for note in notes:
        if "fermata" in note.signs and not note.grace:
            ends[note.end] = min(note.length, ends.get(note.end, note.length))
    for end, length in ends.items():
        yield end, max(float(length) / 2, 1.0)


def _with_graces(
    notes: tuple[Note, ...], seconds: Callable[[Fraction], float]
) -> Iterator[tuple[Note, tuple[float, float]]]:
    """Notes, and for a grace note how long before the note it leans on it begins, and lasts."""
    counts = Counter((note.onset, note.hand) for note in notes if note.grace)
    steps: dict[tuple[Fraction, str], float] = {}
    latest: dict[str, Fraction] = {}
    for note in notes:
        place = note.onset, note.hand
        if not note.grace:
            latest[note.hand] = note.onset
            yield note, (0.0, 0.0)
            continue
        if place not in steps:
            # However many: the note before has at least half its time.
            room = seconds(note.onset) - seconds(latest[note.hand]) if note.hand in latest else math.inf
            steps[place] = min(_GRACE_S, room / 2 / counts[place])
        yield note, (counts[place] * steps[place], steps[place])
        counts[place] -= 1


class _Dynamics:
    """How much louder or softer than the usual a hand plays; hairpins are passed over."""

    def __init__(self, piece: Piece, hand: str) -> None:
        said = (word for word in piece.directions if word.place in ("", hand) and word.text in _DYNAMICS)
        marked = sorted((word.onset, _DYNAMICS[word.text]) for word in said)
        self._onsets = [onset for onset, _ in marked]
        self._louder = [0, *(louder for _, louder in marked)]

    def at(self, onset: Fraction) -> int:
        return self._louder[bisect_right(self._onsets, onset)]


def _sounded(note: Note, seconds: Callable[[Fraction], float], grace: tuple[float, float], louder: int) -> Sounded:
    at = seconds(note.onset)
    velocity = VELOCITIES.get(note.hand, VELOCITY) + louder
    if note.grace:
        before, length = grace
        return Sounded(at - before, length, note.midi, velocity - 6)
    whole = seconds(note.end) - at
    share = min((_SHORT[sign] for sign in note.signs if sign in _SHORT), default=1 - _LIFT)
    if share < 1 - _LIFT and "tenuto" in note.signs:
        # A dot under a dash: apart, and yet held (portato).
        share = _PORTATO
    velocity += max((_LOUDER[sign] for sign in note.signs if sign in _LOUDER), default=0)
    return Sounded(at, max(whole * share, 0.03), note.midi, velocity)
