from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.music.tunes import tune
from trainer.music.compass import compass, level, lines
from trainer.music.piece import LEFT, Note, Piece
from trainer.music.pitch import SpelledPitch


@pytest.mark.parametrize(
    ("key", "pitches", "expected"),
    [
        ("C", "C4 D4 E4 D4 C4", "trichord"),
        ("a", "A4 B4 C5 B4 A4", "trichord"),
        ("C", "E4 F4 G4 F4", "pentachord"),
        ("C", "C4 D4 E4 F4 G4", "pentachord"),
        ("C", "B3 C4 D4 E4 F4 G4", "hexachord"),
        ("C", "B3 C4 D4 E4 F4 G4 A4", "hexachord"),
        ("C", "C4 G4 C5", "open"),
        ("C", "C4 D4 Eb4 D4 C4", "pentachord"),
        ("C", "D4 E4 F#4 G4 A4", "pentachord"),
        ("C", "C4 D4 E4 F4 F#4 G4", "hexachord"),
        ("a", "A4 G#4 A4 G4", "hexachord"),
        ("C", "C4 E4 F4 F#4 C5", "open"),
    ],
)
def test_level_by_reach(key: str, pitches: str, expected: str) -> None:
    assert level(tune(key, pitches)) == expected


def two_hands(right: str, left: str) -> Piece:
    """A tune over a bass in whole notes."""
    above = tune("C", right)
    below = (
        Note(f"l{at}", SpelledPitch.parse(name), Fraction(4 * at), Fraction(4), hand=LEFT)
        for at, name in enumerate(left.split())
    )
    return replace(above, notes=()).with_notes([*above.notes, *below])


def test_a_piece_has_the_level_of_its_wider_hand_and_each_hand_is_looked_at_alone() -> None:
    assert level(two_hands("C4 D4 E4 D4", "C3")) == "trichord"
    assert level(two_hands("C4 D4 E4 D4", "C3 G2")) == "pentachord"
    assert level(two_hands("C4 D4 E4 F4 G4", "C3 D3")) == "pentachord"
    assert level(replace(tune("C", "C4"), notes=())) == "trichord"


def test_a_hand_has_a_line_where_it_plays_three_keys() -> None:
    assert lines(two_hands("C4 D4 E4", "C3 G2")) == ("right",)
    assert lines(two_hands("C4 D4 C4 D4", "C3 G2 F2")) == ("left",)
    assert lines(two_hands("C4 D4 E4 F4", "C3 G2 F2 A2")) == ("right", "left")


def test_the_compass_goes_from_the_lowest_line_to_the_highest() -> None:
    """By their places on the staff: C flat stands over B sharp, which sounds higher."""
    found = compass(tune("C", "E4 G4 Cb5 B#4 D4").notes)
    assert found is not None
    assert (found.low.name, found.high.name, found.interval.words) == ("D4", "Cb5", "up a diminished seventh")
    assert compass(()) is None
