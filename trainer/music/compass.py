"""Compass and level: how far a piece reaches, and whether the hand must travel.

Levels follow the teaching order the trade knows: three notes, five fingers, just beyond, then travelling music
(common practice, no source for the borders; the numbers below are ours).
"""

from __future__ import annotations

from dataclasses import dataclass

from trainer.music.piece import Note, Piece
from trainer.music.pitch import Interval, SpelledPitch

TRICHORD = "trichord"
PENTACHORD = "pentachord"
HEXACHORD = "hexachord"
OPEN = "open"
LEVELS = (TRICHORD, PENTACHORD, HEXACHORD, OPEN)
# Letter steps from lowest to highest note of one hand that each level allows, and chromatic notes it allows.
_REACH = {TRICHORD: 2, PENTACHORD: 4, HEXACHORD: 6}


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


def level(piece: Piece) -> str:
    """The level of a piece: the widest that any of its hands needs.

    A hand stays in *trichord* when it uses only the first three degrees at one place; in *pentachord* within five
    neighbouring letters; in *hexachord* within seven; otherwise *open*. Chromatic notes (outside the key's scale)
    make a trichord or pentachord piece hexachord only when they leave the five letters; two alterations of one
    letter in one hand are travelling notes only at *open*.
    """
    widest = 0
    for hand in piece.hands:
        notes = tuple(note for note in piece.notes if note.hand == hand)
        span = compass(notes)
        assert span is not None
        reach = span.interval.steps
        place = next((i for i, name in enumerate(LEVELS[:3]) if reach <= _REACH[name]), 3)
        if place == 0:
            key = piece.key
            degrees = {(note.pitch.steps - key.tonic.steps) % 7 + 1 for note in notes}
            if not degrees <= {1, 2, 3}:
                place = 1
        widest = max(widest, place)
    return LEVELS[widest]
