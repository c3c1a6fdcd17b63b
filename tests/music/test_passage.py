"""Cutting a passage out of a piece."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.scores.making import note, piece
from trainer.music.passage import passage
from trainer.music.piece import LEFT
from trainer.music.pitch import MusicError

WHOLE = piece(note("a", "C5", 0, 4), note("b", "D5", 4, 8), note("c", "E5", 12, 4), note("l", "C3", 4, 4, LEFT),
              note("v", "G4", 4, 1, voice=2), bars=4, key="G")  # fmt: skip


def test_bars_are_cut_out_and_begin_at_nought() -> None:
    cut = passage(WHOLE, bars=(1, 2))
    assert [(n.id, n.onset, n.length) for n in cut.notes] == [("l", 0, 4), ("v", 0, 1), ("b", 0, 8)]
    assert [(b.number, b.onset) for b in cut.bars] == [(2, 0), (3, 4)]
    assert cut.key == WHOLE.key


def test_a_note_that_lasts_beyond_the_passage_ends_with_it() -> None:
    assert {n.id: n.length for n in passage(WHOLE, bars=(1, 1)).notes}["b"] == Fraction(4)


def test_one_hand_and_one_voice() -> None:
    assert [n.id for n in passage(WHOLE, hand="left").notes] == ["l"]
    assert [n.id for n in passage(WHOLE, voice=2).notes] == ["v"]


@pytest.mark.parametrize(
    ("bars", "hand"), [((2, 1), "both"), ((0, 9), "both"), ((0, 4), "both"), ((-1, 1), "both"), ((0, 0), "left")]
)
def test_what_is_not_there_is_refused(bars: tuple[int, int], hand: str) -> None:
    with pytest.raises(MusicError):
        passage(WHOLE, bars=bars, hand=hand)
