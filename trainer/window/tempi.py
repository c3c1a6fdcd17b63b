"""Tempi as a metronome has them."""

from __future__ import annotations

from fractions import Fraction

from trainer.music.piece import Piece

TEMPO_STEPS = (
    30, 33, 36, 40, 44, 48, 52, 56, 60, 63, 66, 69, 72, 76, 80, 84, 88, 92, 96, 100, 104, 108, 112, 116, 120, 126, 132,
    138, 144, 152, 160, 168, 176, 184, 192, 200,
)  # fmt: skip


def felt_tempo(piece: Piece, quarters: float) -> float:
    """A tempo in quarters a minute as felt beats a minute of a piece, on a metronome step."""
    beat = piece.bars[0].beat_quarters if piece.bars else Fraction(1)
    tempo = quarters / float(beat)
    return float(min(TEMPO_STEPS, key=lambda step: abs(step - tempo)))
