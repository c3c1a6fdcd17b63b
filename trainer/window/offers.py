"""From what the coach suggests to a piece that can be put on the stand: the job of the second process."""

from __future__ import annotations

from trainer.coaching.schedule import Suggestion
from trainer.music.keys import Key
from trainer.music.piece import Piece


def pattern_of(kind: str, key: Key, hands: str) -> Piece:
    """A pattern in a key."""
    from trainer.scores.patterns import pattern

    return pattern(kind, key, hands)


def piece_of(suggestion: Suggestion) -> Piece:
    """The piece of a suggestion: from the shelf, a pattern in its key, or freshly composed."""
    if suggestion.pattern:
        return pattern_of(suggestion.pattern, suggestion.key, suggestion.hands)
    from trainer.scores.library import find
    from trainer.scores.reading import read

    return read(find(suggestion.name))
