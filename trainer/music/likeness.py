"""How much two pieces have in common, whatever keys they stand in: an export put right, or other music of one name."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

from trainer.music.piece import Piece

# Notes in a row that are taken for one turn of phrase (ours).
_TURN = 4


def in_common(one: Piece, other: Piece) -> float:
    """The share, 0 to 1, of the smaller piece's turns of four notes in a hand that the other one has, too.

    1 where one of them has no four notes in a row: nothing can be told apart.
    """
    here, there = _turns(one), _turns(other)
    least = min(here.total(), there.total())
    return (here & there).total() / least if least else 1.0


def _turns(piece: Piece) -> Counter[tuple[int, ...]]:
    found: Counter[tuple[int, ...]] = Counter()
    for hand in piece.hands:
        keys = [note.midi for note in sorted(piece.only_hand(hand).notes, key=lambda note: (note.onset, note.midi))]
        steps = [after - before for before, after in pairwise(keys)]
        found.update(tuple(steps[at : at + _TURN - 1]) for at in range(len(steps) - _TURN + 2))
    return found
