"""What every teacher knows about transposing at the piano: common practice, no source."""

from __future__ import annotations

from itertools import pairwise

import pytest

from tests.hands.pieces import one_hand
from trainer.hands.changes import changes
from trainer.hands.fingering import finger_piece
from trainer.hands.keyboard import centre, is_black
from trainer.hands.position import five_finger
from trainer.music.keys import CIRCLE_MAJOR, TWENTY_FOUR, Key
from trainer.music.piece import LEFT, RIGHT
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import interval_between, plan, transposed


def test_a_line_from_f_to_f_in_b_flat_wanted_from_d_to_d_goes_to_g() -> None:
    down = SpelledPitch.parse("D4") - SpelledPitch.parse("F4")
    assert down.words == "down a minor third"
    assert SpelledPitch.parse("F5") + down == SpelledPitch.parse("D5")
    assert Key.parse("Bb").transposed(down) == Key.parse("G")
    assert plan(Key.parse("Bb"), "G").interval == down


def test_g_minor_and_c_sharp_minor_lie_six_fifths_apart() -> None:
    assert Key.parse("g").fifths_away(Key.parse("c#")) == 6


def first_three(key: Key) -> list[int]:
    return [key.degree(number).midi for number in (1, 2, 3)]


def neighbouring_whites(keys: list[int]) -> bool:
    apart = [centre(b) - centre(a) for a, b in pairwise(keys)]
    return not any(map(is_black, keys)) and max(apart) == min(apart) == 23.5


def test_the_first_three_degrees_lie_on_neighbouring_white_keys_in_c_f_and_g_alone() -> None:
    found = {key.short for key in CIRCLE_MAJOR if neighbouring_whites(first_three(key))}
    assert found == {"C", "F", "G"}


def test_the_first_three_degrees_lie_on_black_keys_in_f_sharp_alone() -> None:
    assert {key.short for key in CIRCLE_MAJOR if all(map(is_black, first_three(key)))} == {"F#"}


@pytest.mark.parametrize("hand", [RIGHT, LEFT])
def test_a_three_note_tune_takes_the_same_three_fingers_in_c_f_g_and_f_sharp(hand: str) -> None:
    tune = one_hand("C", hand, "E4 D4 C4 . E4 D4 C4 . C4 C4 D4 D4 E4 D4 C4")
    wanted = finger_piece(tune, hand)
    assert len(set(wanted.values())) == 3
    for target in ("F", "G", "F#"):
        moved = transposed(tune, interval_between(tune.key, Key.parse(target)))
        assert finger_piece(moved, hand) == wanted
        assert changes(tune, moved).kept == 1


@pytest.mark.parametrize("hand", [RIGHT, LEFT])
def test_f_sharp_minor_is_more_crowded_than_d_minor(hand: str) -> None:
    assert five_finger(Key.parse("f#"), hand).crowding > five_finger(Key.parse("d"), hand).crowding


def test_the_families_of_major_positions() -> None:
    # The multiple-key methods group C G F, D A E, and D flat A flat E flat; F sharp, B flat and B stand alone.
    shapes = {key.short: five_finger(key).shape for key in CIRCLE_MAJOR}
    families = {key.short: five_finger(key).family for key in CIRCLE_MAJOR}
    assert families["C"] == families["G"] == families["F"]
    assert families["D"] == families["A"] == families["E"]
    assert families["Db"] == families["Ab"] == families["Eb"]
    assert len({shapes[key] for key in ("F#", "Bb", "B")}) == 3
    assert shapes["C"] == shapes["G"] == "wwwww"
    assert shapes["F#"] == "bbbwb"


def test_all_twenty_four_pentascales_span_a_fifth_under_five_fingers() -> None:
    for key in TWENTY_FOUR:
        for hand, fingers in ((RIGHT, (1, 2, 3, 4, 5)), (LEFT, (5, 4, 3, 2, 1))):
            position = five_finger(key, hand)
            assert position.fingers == fingers
            assert position.midi[-1] - position.midi[0] == 7
