"""Jobs of the second process that give pieces, and what was played of them; they know nothing of a page.

What they need is imported where it is needed: the window names them before its first frame.
"""

from __future__ import annotations

from time import monotonic
from typing import TYPE_CHECKING

from trainer.music.keys import Key
from trainer.music.piece import Piece
from trainer.scores.shelf.library import Entry, Shelf, find

if TYPE_CHECKING:
    from trainer.coaching.today.schedule import Suggestion
    from trainer.following.marks import Settled
    from trainer.following.timing import Timing
    from trainer.hands.keyboard import Compass
    from trainer.journal.values import KeptTake
    from trainer.session import Summary

# The shelf is read for so long before others have their turn.
_WHILE_S = 1.0


def shelved(at_once: bool = False) -> tuple[list[Entry], str, int]:
    """The shelf, read for a while where files are new or changed, or else all of it at once; which folder of it cannot
    be read and why; how many files are still to be read. Whoever plays meanwhile does not wait for a great book.
    """
    shelf, end = Shelf(), monotonic() + _WHILE_S
    shelf.refresh(None if at_once else lambda *_: monotonic() < end)
    return shelf.entries, shelf.trouble, shelf.waiting


def piece_at(path: str) -> Piece:
    """The piece in a file."""
    from trainer.scores.reading import read

    return read(path)


def left_out_at(path: str) -> str:
    """What of a file is not read, in a sentence, or empty."""
    from trainer.scores.reading import left_out

    return left_out(path)


def shelf_piece(name: str) -> Piece:
    """A piece by its name on the shelf."""
    return piece_at(str(find(name)))


def pattern_of(kind: str, key: Key, hands: str) -> Piece:
    """A pattern in a key."""
    from trainer.scores.composing.patterns import pattern

    return pattern(kind, key, hands)


def piece_of(suggestion: Suggestion, seed: int) -> Piece:
    """The piece of a suggestion: a pattern in its key, from the shelf, or composed from a seed."""
    if suggestion.pattern:
        return pattern_of(suggestion.pattern, suggestion.key, suggestion.hands)
    if suggestion.name:
        return shelf_piece(suggestion.name)
    from trainer.coaching.sight.fresh import composed
    from trainer.coaching.today.schedule import page_key

    written = suggestion.written or page_key(suggestion.key)
    return composed(suggestion.level, written, suggestion.hands, 8, seed, suggestion.tempo)


def marked_again(kept: KeptTake, compass: Compass) -> tuple[Settled, Summary, Timing | None]:
    """What a take that was cut off comes to: its marks, its figures, its pulse."""
    from trainer.session import heard_again

    session = heard_again(kept, compass)
    assert session.settled is not None
    assert session.summary is not None
    return session.settled, session.summary, session.timing
