"""Places as they are named in plain files."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import accumulate

import pytest

from tests.music.tunes import tune
from trainer.coaching.own.beats import onsets_of, place_of
from trainer.music.piece import Bar, Piece


def played(*bars: tuple[int, int]) -> Piece:
    """A piece in 4/4 of bars by number and quarters, as its repeats play them."""
    onsets = [0, *accumulate(length for _, length in bars)]
    made = (Bar(number, Fraction(on), Fraction(long)) for on, (number, long) in zip(onsets, bars, strict=False))
    return replace(tune("C", " ".join(["C4"] * onsets[-1])), bars=tuple(made))


@pytest.mark.parametrize("first", [1, 2, 3])
def test_the_second_half_of_a_bar_that_a_repeat_divides_goes_on_with_its_beats(first: int) -> None:
    """``|:cccc|c3:|:G|cccc|c3:|``, divided after each of its beats: both halves are bar 2."""
    rest = 4 - first
    opening, closing = [(1, 4), (2, first)], [(2, rest), (3, 4), (4, first)]
    piece = played(*opening, *opening, *closing, *closing)
    again = 2 * (4 + first)
    length = rest + 4 + first
    assert place_of(piece, Fraction(4)) == (2, 1)
    assert place_of(piece, Fraction(again)) == (2, first + 1)
    assert list(onsets_of(piece, 2, Fraction(1))) == [4, 4 + 4 + first]
    assert list(onsets_of(piece, 2, Fraction(first + 1))) == [again, again + length]
    assert list(onsets_of(piece, 2, Fraction(5))) == []


def test_an_upbeat_and_a_bar_that_ends_early_begin_with_their_first_beat() -> None:
    piece = played((0, 1), (1, 4), (2, 3), (0, 1), (1, 4), (2, 3))
    assert [place_of(piece, Fraction(on)) for on in (0, 1, 5, 8)] == [(0, 1), (1, 1), (2, 1), (0, 1)]
    assert list(onsets_of(piece, 0, Fraction(1))) == [0, 8]
    assert list(onsets_of(piece, 2, Fraction(3))) == [7, 15]
