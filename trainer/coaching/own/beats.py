"""A place in a piece as a teacher names it in a plain file: printed bar, and felt beat as a whole or mixed number."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction

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
    index = piece.bar_index(onset)
    bar = piece.bars[index]
    return bar.number, (onset - bar.onset + _before(piece, index)) / bar.beat_quarters + 1


def onsets_of(piece: Piece, number: int, beat: Fraction) -> Iterator[Fraction]:
    """The onsets of a beat wherever the bar of that number is played, in every repeat."""
    for index, bar in enumerate(piece.bars):
        if bar.number == number:
            onset = bar.onset + (beat - 1) * bar.beat_quarters - _before(piece, index)
            if bar.onset <= onset < bar.onset + bar.length:
                yield onset


def _before(piece: Piece, index: int) -> Fraction:
    """Quarters of a bar that stand before the sign of a repeat which divides it; a pickup is counted by itself."""
    return piece.begun[index] if index and piece.bars[index].number else Fraction(0)
