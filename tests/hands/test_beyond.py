"""Which notes a keyboard does not have, in words."""

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.scores.making import note, piece
from trainer.hands.keyboard import KEYBOARDS
from trainer.hands.why import PIANO, beyond
from trainer.music.piece import LEFT, RIGHT, Bar

WIDE = piece(note("a", "C6", 0, 1), note("b", "D6", 1, 1), note("c", "E6", 4, 1), note("d", "B1", 4, 1, LEFT))


def test_nothing_is_said_of_notes_the_keyboard_has() -> None:
    assert beyond(WIDE, PIANO) == beyond(WIDE, KEYBOARDS[76]) == ""


def test_notes_on_both_sides_are_counted_and_the_first_of_each_is_named() -> None:
    assert beyond(WIDE, KEYBOARDS[49]) == (
        "2 notes lie above the 49 keys, the first D6 in bar 1; one note lies below the 49 keys, B1 in bar 2: choose "
        "another key or octave, or leave them out."
    )


def test_a_note_that_comes_again_in_a_repeat_is_counted_once() -> None:
    twice = piece(note("a", "D6", 0, 1), note("a", "D6", 4, 1))
    assert beyond(twice, KEYBOARDS[49]).startswith("One note lies above the 49 keys, D6 in bar 1")


@pytest.mark.parametrize(("hand", "named"), [(LEFT, "B1 in bar 2"), (RIGHT, "D6 in bar 1")])
def test_only_the_hand_asked_for_is_looked_at(hand: str, named: str) -> None:
    said = beyond(WIDE, KEYBOARDS[49], hand)
    assert named in said
    assert ";" not in said


def test_a_note_before_the_first_barline_and_one_in_another_language() -> None:
    early = replace(piece(note("a", "B6", 0, 1)), bars=(Bar(0, Fraction(0), Fraction(1), (4, 4)),))
    assert beyond(early, KEYBOARDS[49], named=lambda pitch: "H").startswith(
        "One note lies above the 49 keys, H6 in the upbeat: "
    )
