"""Compass and level: how far a piece reaches, and whether the hand must travel.

Levels follow the teaching order the trade knows: three notes, five fingers, just beyond, then travelling music
(common practice, no source for the borders; the numbers below are ours).
"""

from __future__ import annotations

from dataclasses import dataclass

from trainer.music.piece import Note, Piece
from trainer.music.pitch import Interval, SpelledPitch
from trainer.music.solfege import degree

TRICHORD = "trichord"
PENTACHORD = "pentachord"
HEXACHORD = "hexachord"
OPEN = "open"
LEVELS = (TRICHORD, PENTACHORD, HEXACHORD, OPEN)
# Letter steps from the lowest to the highest note of one hand that each level allows.
_REACH = {TRICHORD: 2, PENTACHORD: 4, HEXACHORD: 6}

# Fewer keys than that say nothing of a key (ours).
_LINE_KEYS = 3


@dataclass(frozen=True)
class Compass:
    """The span of a line: lowest and highest written pitch and the interval between."""

    low: SpelledPitch
    high: SpelledPitch

    @property
    def interval(self) -> Interval:
        return self.high - self.low


def compass(notes: tuple[Note, ...]) -> Compass | None:
    """The compass of some notes, or None when there are none."""
    if not notes:
        return None
    by_step = sorted((note.pitch for note in notes), key=lambda p: (p.steps, p.midi))
    return Compass(by_step[0], by_step[-1])


def lines(piece: Piece) -> tuple[str, ...]:
    """The hands that have a line to play alone: at least three keys; a tone or two under the other hand is none."""
    keys = {hand: {note.midi for note in piece.notes if note.hand == hand} for hand in piece.hands}
    return tuple(hand for hand in piece.hands if len(keys[hand]) >= _LINE_KEYS)


def level(piece: Piece) -> str:
    """The level of a piece: the widest that any of its hands needs.

    A hand stays in *trichord* when it uses only the first three degrees, unaltered; in *pentachord* within five
    neighbouring letters, one key to a letter, so that five fingers lie on five keys; in *hexachord* within seven
    letters, or when a finger of the five serves two keys (F and F sharp); otherwise *open*.
    """
    return LEVELS[max((_place(piece, hand) for hand in piece.hands), default=0)]


def _place(piece: Piece, hand: str) -> int:
    """The place in `LEVELS` of what one hand plays."""
    pitches = {note.pitch for note in piece.notes if note.hand == hand}
    steps = {pitch.steps for pitch in pitches}
    reach = max(steps) - min(steps)
    place = next((at for at, name in enumerate(LEVELS[:3]) if reach <= _REACH[name]), 3)
    if place == 0 and not {degree(pitch, piece.key) for pitch in pitches} <= {(1, 0), (2, 0), (3, 0)}:
        place = 1
    if place == 1 and len(pitches) > len(steps):
        place = 2
    return place
