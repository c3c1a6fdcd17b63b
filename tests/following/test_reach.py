"""How far a take went."""

from __future__ import annotations

import pytest

from trainer.following.marks import RIGHT, Mark, Settled
from trainer.following.reach import reach
from trainer.music.piece import BOTH, LEFT, Piece
from trainer.music.piece import RIGHT as RIGHT_HAND
from trainer.scores.library import find
from trainer.scores.reading import read


@pytest.fixture(scope="module")
def piece() -> Piece:
    return read(find("aura-lee"))


def played(notes: list[int]) -> Settled:
    return Settled(tuple(Mark(at, note, RIGHT) for at, note in enumerate(notes)), (), ())


def in_bars(piece: Piece, first: int, last: int, hand: str = BOTH) -> list[int]:
    return [
        index for index, note in enumerate(piece.notes)
        if first <= piece.bar_index(note.onset) <= last and hand in (BOTH, note.hand)
    ]  # fmt: skip


def test_a_whole_take_and_a_part_of_it(piece: Piece) -> None:
    last = len(piece.bars) - 1
    whole = reach(piece, BOTH, played(in_bars(piece, 0, last)))
    assert whole is not None
    assert (whole.first, whole.last, whole.share, whole.is_whole, whole.is_most) == (0, last, 1.0, True, True)
    part = reach(piece, BOTH, played(in_bars(piece, 0, 3)))
    assert part is not None
    assert (part.first, part.last, part.is_whole, part.is_most) == (0, 3, False, False)
    assert part.share == pytest.approx(len(in_bars(piece, 0, 3)) / len(piece.notes))


def test_notes_left_out_on_the_way_do_not_make_it_shorter(piece: Piece) -> None:
    found = reach(piece, BOTH, played(in_bars(piece, 0, len(piece.bars) - 1)[::2]))
    assert found is not None
    assert found.is_most


def test_a_silent_hand_is_none_of_the_piece_unless_the_other_was_asked_for(piece: Piece) -> None:
    alone = played(in_bars(piece, 0, len(piece.bars) - 1, RIGHT_HAND))
    both = reach(piece, BOTH, alone)
    assert both is not None
    assert (both.share, both.is_whole) == (0.0, True)
    right = reach(piece, RIGHT_HAND, alone)
    assert right is not None
    assert right.share == 1.0
    assert LEFT in piece.hands


def test_nothing_meant_for_a_note_reaches_nothing(piece: Piece) -> None:
    assert reach(piece, BOTH, Settled((Mark(0, None, "extra"),), (), ())) is None
