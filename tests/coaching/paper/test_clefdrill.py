"""The clef drill: same seed, same line; inside the staff; every changing letter met."""

from __future__ import annotations

import pytest

from trainer.coaching.paper.clefdrill import HIGHEST, LOWEST, clef_drill
from trainer.music.keys import Key
from trainer.music.piece import LEFT, RIGHT
from trainer.music.transpose import Transposition, plan, transposed

MOVES = [plan(Key.parse(w), t) for w, t in (("C", "D"), ("Bb", "G"), ("e", "g"), ("F#", "E"), ("C", "C#"))]


@pytest.mark.parametrize("hand", [RIGHT, LEFT])
@pytest.mark.parametrize("move", MOVES)
def test_heads_stay_near_the_staff_and_end_at_home(move: Transposition, hand: str) -> None:
    how, piece = clef_drill(move, seed=3, hand=hand)
    steps = [note.pitch.steps - how.written_clef.bottom.steps for note in piece.notes]
    assert min(steps) >= LOWEST
    assert max(steps) <= HIGHEST
    assert piece.notes[-1].pitch.letter == move.written.letter
    assert piece.notes[-1].end == piece.bars[-1].onset + piece.bars[-1].length


def test_same_seed_same_line() -> None:
    assert clef_drill(MOVES[0], 7) == clef_drill(MOVES[0], 7)
    assert clef_drill(MOVES[0], 7)[1].notes != clef_drill(MOVES[0], 8)[1].notes


def test_accidentals_stand_only_where_they_read_differently() -> None:
    met = set()
    for seed in range(30):
        how, piece = clef_drill(MOVES[0], seed)
        played = transposed(piece, MOVES[0].interval)
        for note, sound in zip(piece.notes, played.notes, strict=True):
            if note.pitch.alteration != MOVES[0].written.alteration_of(note.pitch.letter):
                assert sound.pitch.letter in dict(how.changed)
                met.add(sound.pitch.letter)
    assert met == {"F", "C"}
