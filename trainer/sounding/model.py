"""The piece as it should sound: chosen bars, one hand or both, slower if wished."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from trainer.music.passage import passage
from trainer.music.piece import BOTH, LEFT, Note, Piece
from trainer.sounding.tempo import TempoMap
from trainer.sounding.voice import Schedule, Sounded

VELOCITIES = {LEFT: 58}
VELOCITY = 68
# A note ends this much before its written end, so that the next one is heard to begin.
_LIFT = 0.04
_GRACE_S = 0.09


def model(
    piece: Piece,
    hand: str = BOTH,
    bars: tuple[int, int] | None = None,
    tempo: float | None = None,
    speed: float = 1.0,
) -> Schedule:
    """A piece, or part of it, as a schedule whose 0 is the start of its first bar.

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
    chosen = passage(piece, bars, hand)
    course = TempoMap(piece, tempo, speed)
    start = piece.bars[bars[0]].onset if bars else Fraction(0)
    began = course.seconds(start)

    def seconds(onset: Fraction) -> float:
        return course.seconds(start + onset) - began

    sounded = [_sounded(note, seconds, grace) for note, grace in _with_graces(chosen.notes)]
    places = [(seconds(moment.onset), start + moment.onset) for moment in chosen.moments]
    return Schedule.of(sounded, places, seconds(chosen.length))


def _with_graces(notes: tuple[Note, ...]) -> list[tuple[Note, int]]:
    """Notes, and for a grace note how many places before the note it leans on it stands."""
    graces: dict[tuple[Fraction, str], int] = {}
    for note in notes:
        if note.grace:
            graces[note.onset, note.hand] = graces.get((note.onset, note.hand), 0) + 1
    found = []
    for note in notes:
        found.append((note, graces[note.onset, note.hand] if note.grace else 0))
        if note.grace:
            graces[note.onset, note.hand] -= 1
    return found


def _sounded(note: Note, seconds: Callable[[Fraction], float], grace: int) -> Sounded:
    at = seconds(note.onset)
    velocity = VELOCITIES.get(note.hand, VELOCITY)
    if grace:
        return Sounded(max(0.0, at - grace * _GRACE_S), _GRACE_S, note.midi, velocity - 6)
    whole = seconds(note.end) - at
    return Sounded(at, max(whole * (1 - _LIFT), 0.03), note.midi, velocity)
