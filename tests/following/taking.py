"""Takes made note by note, bar by bar, heard through a session."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from fractions import Fraction

from trainer.listening.press import Press
from trainer.music.piece import Note, Piece
from trainer.music.transpose import plan
from trainer.scores import reading
from trainer.scores.shelf import library
from trainer.session import Session

# Of a bar's index and a note's index, how far from the note keys are struck: none, one or several.
Struck = Callable[[int, int], Collection[int]]
QUARTER_S = 0.6


def shelf(name: str) -> Piece:
    return reading.read(library.find(name))


def as_it_stands(*_: int) -> list[int]:
    return [0]


def even(at: float, _: Note) -> float:
    """When a note `at` quarters from the beginning of the take sounds."""
    return at * QUARTER_S


def taken(
    piece: Piece | str,
    to: str,
    struck: Struck = as_it_stands,
    bars: Iterable[int] | None = None,
    when: Callable[[float, Note], float] = even,
) -> Session:
    """A finished take of these bars one after the other (all when None)."""
    piece = shelf(piece) if isinstance(piece, str) else piece
    session = Session(piece, plan(piece.key, to))
    presses = []
    at = Fraction(0)
    for bar in range(len(piece.bars)) if bars is None else bars:
        for index, note in enumerate(session.expected.notes):
            if piece.bar_index(note.onset) == bar:
                sounds = when(float(at + note.onset - piece.bars[bar].onset), note)
                presses += [Press(sounds + 0.002 * n, note.midi + away) for n, away in enumerate(struck(bar, index))]
        at += piece.bars[bar].length
    for press in sorted(presses, key=lambda one: one.at):
        session.hear(press)
    session.finish()
    return session
