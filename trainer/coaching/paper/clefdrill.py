"""A drill for reading by clef: single heads, then short lines, with accidentals where the clef makes them change."""

from __future__ import annotations

import random
from fractions import Fraction

from trainer.music.clefs import BASS, TREBLE, ClefReading, reading
from trainer.music.keys import Key
from trainer.music.piece import RIGHT, Bar, KeyChange, Note, Piece
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import Transposition

BARS = 8
# Of four notes this share carries an accidental that reads differently in the imagined clef.
ACCIDENTALS = 0.2
# Heads keep within the staff and one ledger line on either side: steps from the bottom line.
LOWEST, HIGHEST = -2, 10


def clef_drill(move: Transposition, seed: int, hand: str = RIGHT) -> tuple[ClefReading, Piece]:
    """A line to be read in the imagined clef, and how to read it. The same seed gives the same line.

    The piece is in the written key, in quarter notes of 4/4, mostly by step; what is to be played is the piece
    transposed by the move, as with any piece.
    """
    clef = TREBLE if hand == RIGHT else BASS
    how = reading(clef, move)
    draw = random.Random(f"{seed} {move.interval.short} {move.written.short} {hand}")
    low, high = clef.bottom.steps + LOWEST, clef.bottom.steps + HIGHEST
    tonics = [step for step in range(low, high) if (step - move.written.tonic.steps) % 7 == 0]
    at = min(tonics, key=lambda step: abs(step - (low + high) / 2))
    home = at
    notes: list[Note] = []
    for index in range(4 * BARS - 3):
        last = index == 4 * BARS - 4
        at = home if last else at
        accidental = 0 if last or not index else _accidental(draw, how, move, at)
        notes.append(_head(index, at, accidental, move.written, hand, Fraction(4 if last else 1)))
        step = draw.choice((-1, 1, -1, 1, -2, 2, -3, 3, 0))
        at = at + step if low <= at + step <= high else at - step
    rows = tuple(Bar(i + 1, Fraction(4 * i), Fraction(4)) for i in range(BARS))
    piece = Piece(
        f"Read in the {how.clef.name} clef", tuple(notes), rows, (KeyChange(Fraction(0), move.written),),
        source=f"drill, seed {seed}", licence="CC0-1.0",
    )  # fmt: skip
    return how, piece


def _accidental(draw: random.Random, how: ClefReading, move: Transposition, step: int) -> int:
    """+1 or -1 against the signature where the head's letter is one whose accidentals change, now and then."""
    played = SpelledPitch.from_steps(step + move.interval.steps, 0).letter
    if played in dict(how.changed):
        return draw.choice((-1, 1)) if draw.random() < ACCIDENTALS * 3.5 / len(how.changed) else 0
    return 0


def _head(index: int, step: int, accidental: int, key: Key, hand: str, length: Fraction) -> Note:
    letter = SpelledPitch.from_steps(step, 0).letter
    alteration = max(-1, min(1, key.alteration_of(letter) + accidental))
    pitch = SpelledPitch(letter, alteration, step // 7)
    return Note(f"d{index}", pitch, Fraction(index), length, hand, staff=1 if hand == RIGHT else 2)
