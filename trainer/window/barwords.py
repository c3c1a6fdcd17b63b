"""Bars in words: a pickup is the upbeat, and bars are counted as they are printed; and how long something takes."""

from __future__ import annotations

from trainer.following.reach import Reach
from trainer.music.piece import Piece
from trainer.window.strings import say


def bar(number: int) -> str:
    """``bar 3``; the pickup has number 0."""
    return say("bar.one", bar=number) if number else say("bar.upbeat")


def bar_of(piece: Piece, index: int) -> str:
    """``bar 3``, and where a repeat plays it again ``bar 3 (second time)``, by its index in `Piece.bars`."""
    return bar(piece.bars[index].number) + piece.time_words(index) if piece.bars else bar(1)


def bars(piece: Piece, first: int, last: int) -> str:
    """``bars 1 to 4``, by the numbers printed; one bar alone by its name. Indices in `Piece.bars`."""
    begin, end = piece.bars[first].number, piece.bars[last].number
    if begin == end and piece.times_round[first] == piece.times_round[last]:
        return bar_of(piece, first)
    if piece.times_round[first] != piece.times_round[last]:
        return say("bar.across", first=bar_of(piece, first), last=bar_of(piece, last))
    stretch = say("bar.some", first=begin, last=end) if begin else say("bar.from-upbeat", last=end)
    return stretch + piece.time_words(last)


def reached(piece: Piece, found: Reach) -> str:
    """How far a take went: ``bars 1 to 4 of 16``; into a repeat, which time the bars were played tells it better."""
    stretch = bars(piece, found.first, found.last)
    if (found.first, found.last) == (1, len(piece.bars) - 1) and not piece.bars[0].number:
        return say("bar.but-upbeat", stretch=stretch)
    return stretch if piece.times_round[found.last] > 1 else say("bar.of", stretch=stretch, bars=printed(piece))


def printed(piece: Piece) -> int:
    """The number of the last bar on the page."""
    return max((bar.number for bar in piece.bars), default=0)


def is_repeated(piece: Piece) -> bool:
    """Whether some bars are played more than once: on the page they stand written out."""
    return max(piece.times_round, default=1) > 1


def time_words(minutes: float) -> str:
    """How long something takes, as a clock says it.

    >>> time_words(0.75), time_words(2), time_words(1.25)
    ('45 s', '2 min', '1:15 min')
    """
    whole, seconds = divmod(round(minutes * 60), 60)
    if not whole:
        return say("time.seconds", seconds=seconds)
    return say("desk.minutes", minutes=f"{whole}:{seconds:02d}" if seconds else whole)
