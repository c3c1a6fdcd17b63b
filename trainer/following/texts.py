"""A piece on the page and as it is meant to sound, note by note: what a diagnosis looks at."""

from __future__ import annotations

from trainer.music.keys import Key
from trainer.music.piece import Piece
from trainer.music.transpose import plan, transposed


def _keys(piece: Piece) -> list[Key]:
    """For each note the key in force."""
    if len(piece.keys) == 1:
        return [piece.keys[0].key] * len(piece.notes)
    return [piece.key_at(note.onset) for note in piece.notes]


def in_key(piece: Piece, semitones: int) -> Piece:
    """A piece in the key so many semitones away."""
    return transposed(piece, plan(piece.key, f"{semitones:+d}").interval)


class Texts:
    """A piece on the page and as it is meant to sound, note by note.

    Attributes
    ----------
    pitch : list of int
        For each note the MIDI number meant.
    keys, pages : list of Key
        For each note the key it is played in and the key it is written in.
    shift : int
        Semitones from what is meant to the written pitch: what playing as written sounds like.
    """

    def __init__(self, written: Piece, expected: Piece) -> None:
        self.written = written
        self.expected = expected
        self.pitch = [note.midi for note in expected.notes]
        self.keys, self.pages = _keys(expected), _keys(written)
        self.shift = written.notes[0].midi - self.pitch[0] if self.pitch else 0
        self._moved: dict[int, Texts] = {}

    def moved(self, semitones: int) -> Texts:
        """The same with the music meant in the key so many semitones away; made once, as it goes through all notes."""
        if not semitones:
            return self
        if semitones not in self._moved:
            self._moved[semitones] = Texts(self.written, in_key(self.expected, semitones))
        return self._moved[semitones]
