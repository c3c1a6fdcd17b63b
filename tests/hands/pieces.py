"""Small pieces for the tests of the hands: a line by note names, `.` is a rest."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from trainer.music.keys import Key
from trainer.music.piece import LEFT, RIGHT, Bar, KeyChange, Note, Piece, sorted_notes
from trainer.music.pitch import SpelledPitch


def piece(key: str, *, length: Fraction = Fraction(1), right: str = "", left: str = "") -> Piece:
    """Hands as text, ``right="C4 D4 E4/3 C4+E4+G4"``: chords with +, a printed finger after /; in 4/4."""
    notes: list[Note] = []
    longest = Fraction(0)
    for name, text in {RIGHT: right, LEFT: left}.items():
        at = Fraction(0)
        for word in text.split():
            body, _, finger = word.partition("/")
            for pitch in [] if body == "." else body.split("+"):
                spelled = SpelledPitch.parse(pitch)
                number = int(finger) if finger else None
                notes.append(Note(f"{name[0]}{len(notes)}", spelled, at, length, name, finger=number))
            at += length
        longest = max(longest, at)
    bars = tuple(Bar(i + 1, Fraction(4 * i), Fraction(4)) for i in range(int(-(-longest // 4))))
    return Piece("Test", sorted_notes(notes), bars, (KeyChange(Fraction(0), Key.parse(key)),))


def held(of: Piece, index: int, length: int) -> Piece:
    """The same piece with one note held longer."""
    notes = list(of.notes)
    notes[index] = replace(notes[index], length=Fraction(length))
    return replace(of, notes=tuple(notes))


def one_hand(key: str, hand: str, line: str) -> Piece:
    """A line of one hand."""
    return piece(key, right=line) if hand == RIGHT else piece(key, left=line)
