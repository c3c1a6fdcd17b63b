"""A place in a piece as a teacher names it in a plain file: printed bar, and felt beat as a whole or mixed number."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from trainer.music.piece import Piece
from trainer.music.pitch import MusicError

BEAT = r"\d{1,3}(?: \d{1,4}/\d{1,4})?"
_BEAT = re.compile(r"(\d{1,3})(?: (\d{1,4})/(\d{1,4}))?")


def beat_of(text: str, where: str) -> Fraction:
    """A beat from 1, written ``3`` or ``2 1/2``; `MusicError` says `where` it is wrong.

    >>> beat_of("2 1/2", "harmony.toml")
    Fraction(5, 2)
    """
    match = _BEAT.fullmatch(text.strip())
    if not match or (match[3] and not int(match[3])) or not int(match[1]):
        raise MusicError(f'{where}: beat must be like "3" or "2 1/2", counted from 1.')
    return int(match[1]) + (Fraction(int(match[2]), int(match[3])) if match[3] else Fraction(0))


def beat_words(beat: Fraction) -> str:
    """The same written.

    >>> beat_words(Fraction(5, 2)), beat_words(Fraction(3))
    ('2 1/2', '3')
    """
    whole = beat.numerator // beat.denominator
    rest = beat - whole
    return f"{whole} {rest.numerator}/{rest.denominator}" if rest else str(whole)


def place_of(piece: Piece, onset: Fraction) -> tuple[int, Fraction]:
    """The printed number of the bar an onset lies in, and the beat in it."""
    at = piece.bar_index(onset)
    bar = piece.bars[at]
    return bar.number, (onset - bar.onset + _before(piece, at)) / bar.beat_quarters + 1


def onsets_of(piece: Piece, number: int, beat: Fraction) -> Iterator[Fraction]:
    """The onsets of a beat wherever the bar of that number is played, in every repeat."""
    for at, bar in enumerate(piece.bars):
        if bar.number == number:
            onset = bar.onset + (beat - 1) * bar.beat_quarters - _before(piece, at)
            if bar.onset <= onset < bar.onset + bar.length:
                yield onset


def _before(piece: Piece, at: int) -> Fraction:
    """What of a bar that a repeat divides stands before its second half, which bears the same number."""
    bar, bars = piece.bars[at], piece.bars
    whole = Fraction(4 * bar.meter[0], bar.meter[1])
    # The first half follows the bar before it; to the second a repeat comes back from further on, too.
    if bar.length >= whole or not at or bars[at - 1].number == bar.number - 1:
        return Fraction(0)
    halves = (one for one in pairwise(bars) if one[0].number == one[1].number == bar.number)
    return whole - bar.length if any(one.length + other.length == whole for one, other in halves) else Fraction(0)
