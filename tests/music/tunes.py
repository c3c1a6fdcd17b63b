"""Small tunes for the tests of every room."""

from __future__ import annotations

from fractions import Fraction

from trainer.music.keys import Key
from trainer.music.piece import Bar, KeyChange, Note, Piece
from trainer.music.pitch import SpelledPitch


def tune(key: str, pitches: str) -> Piece:
    """A piece of quarter notes in 4/4, right hand, ids n0, n1 …"""
    notes = tuple(Note(f"n{i}", SpelledPitch.parse(p), Fraction(i), Fraction(1)) for i, p in enumerate(pitches.split()))
    bars = tuple(Bar(i + 1, Fraction(4 * i), Fraction(4)) for i in range(max((len(notes) + 3) // 4, 1)))
    return Piece("tune", notes, bars, (KeyChange(Fraction(0), Key.parse(key)),))
