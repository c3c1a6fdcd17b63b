"""Bars in words: a pickup is the upbeat, and bars are counted as they are printed."""

from __future__ import annotations

from trainer.following.reach import Reach
from trainer.music.piece import Piece
from trainer.window.strings import say


def bar(number: int) -> str:
    """``bar 3``; the pickup has number 0."""
    return say("bar.one", bar=number) if number else say("bar.upbeat")


def bars(first: int, last: int) -> str:
    """``bars 1 to 4``, by the numbers printed; one bar alone by its name."""
    if first == last:
        return bar(first)
    return say("bar.some", first=first, last=last) if first else say("bar.from-upbeat", last=last)


def reached(piece: Piece, found: Reach) -> str:
    """How far a take went: ``bars 1 to 4 of 16``."""
    stretch = bars(piece.bars[found.first].number, piece.bars[found.last].number)
    return say("bar.of", stretch=stretch, bars=piece.bars[-1].number)
