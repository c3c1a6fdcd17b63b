from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.hands.pieces import held, one_hand, piece
from tests.music.tunes import tune
from trainer.hands.fingering import Judge, finger, finger_piece, five_keys
from trainer.hands.position import HAND_SIZES
from trainer.music.keys import TWENTY_FOUR, Key
from trainer.music.piece import LEFT, RIGHT, Piece
from trainer.music.transpose import interval_between, transposed

LINES = st.lists(st.integers(48, 84), min_size=1, max_size=24)


@given(LINES, st.sampled_from([RIGHT, LEFT]), st.sampled_from(HAND_SIZES))
@settings(deadline=None, max_examples=60)
def test_every_line_gets_one_finger_a_note(line: list[int], hand: str, size: str) -> None:
    found = finger(line, hand, size)
    assert len(found) == len(line)
    assert set(found) <= {1, 2, 3, 4, 5}


@given(LINES)
@settings(deadline=None, max_examples=40)
def test_a_left_hand_is_a_right_hand_in_the_mirror(line: list[int]) -> None:
    # D and G sharp are the centres of symmetry of the keyboard: mirrored there, black stays black.
    assert finger([2 * 62 - key for key in line], LEFT) == finger(line, RIGHT)


@given(LINES)
@settings(deadline=None, max_examples=40)
def test_an_octave_higher_the_fingers_are_the_same(line: list[int]) -> None:
    assert finger([key + 12 for key in line]) == finger(line)


@given(st.lists(st.integers(55, 79), min_size=2, max_size=4))
@settings(deadline=None, max_examples=25)
def test_the_search_finds_the_least_effort_there_is(line: list[int]) -> None:
    named = _named(line)
    choices = product((1, 2, 3, 4, 5), repeat=len(line))
    judge = Judge(named, RIGHT)
    least = min(judge.points(dict(enumerate(choice))) for choice in choices)
    found = finger(line)
    assert judge.points(dict(enumerate(found))) == pytest.approx(least)


def _named(line: list[int]) -> Piece:
    sharps = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
    return piece("C", right=" ".join(f"{sharps[key % 12]}{key // 12 - 1}" for key in line))


def test_a_repeated_key_keeps_its_finger() -> None:
    assert len(set(finger([60, 60, 60, 60]))) == 1


@pytest.mark.parametrize("key", TWENTY_FOUR, ids=lambda key: key.short)
@pytest.mark.parametrize(("hand", "fingers"), [(RIGHT, (1, 2, 3, 4, 5)), (LEFT, (5, 4, 3, 2, 1))])
def test_a_pentascale_has_the_five_fingers_in_every_key(key: Key, hand: str, fingers: tuple[int, ...]) -> None:
    line = " ".join(key.degree(n, 4).name for n in (1, 2, 3, 4, 5))
    found = finger_piece(one_hand(key.short, hand, line), hand)
    assert tuple(found.values()) == fingers


def test_a_chromatic_neighbour_inside_the_position_takes_the_finger_of_its_letter() -> None:
    found = finger_piece(piece("C", right="C4 D4 E4 F4 F#4 G4"), RIGHT)
    assert list(found.values()) == [1, 2, 3, 4, 4, 5]


@pytest.mark.parametrize("hand", [RIGHT, LEFT])
def test_a_letter_struck_with_its_own_sharp_takes_two_fingers(hand: str) -> None:
    found = finger_piece(one_hand("C", hand, "C4 D4 F4+F#4 G4"), hand)
    assert len(set(list(found.values())[2:4])) == 2


def test_printed_fingers_place_the_position() -> None:
    assert list(finger_piece(piece("C", right="C4/2 D4 E4"), RIGHT).values()) == [2, 3, 4]


def test_printed_fingers_are_kept_in_their_own_key_even_when_odd() -> None:
    odd = piece("C", right="C4/5 D4/1 E4/4 F4/2 G4/1 A4/3 B4/1 C5/2")
    assert list(finger_piece(odd, RIGHT).values()) == [5, 1, 4, 2, 1, 3, 1, 2]


def test_a_held_note_keeps_its_finger_and_the_others_play_around_it() -> None:
    tied = held(piece("C", right="C4+G4 B4 A4 B4 E5"), 0, 4)
    found = finger_piece(tied, RIGHT)
    assert found[0] == 1
    assert all(found[i] > 1 for i in (2, 3, 4))
    low_finger = [found[i] for i in (3, 2)]
    assert low_finger == sorted(low_finger)


@given(st.lists(st.lists(st.integers(55, 72), min_size=1, max_size=5, unique=True), min_size=1, max_size=6))
@settings(deadline=None, max_examples=60)
def test_chords_never_cross_fingers(chords: list[list[int]]) -> None:
    for hand, sign in ((RIGHT, 1), (LEFT, -1)):
        for chord, fingers in zip(chords, finger([tuple(c) for c in chords], hand), strict=True):
            assert isinstance(fingers, tuple)
            by_key = [f for _, f in sorted(zip(chord, fingers, strict=True))]
            assert by_key[::sign] == sorted(set(fingers))


def test_more_keys_than_fingers_leaves_the_inner_ones_without() -> None:
    (fingers,) = finger([(48, 51, 54, 57, 60, 63, 66)])
    assert fingers == (1, 2, 3, 0, 0, 4, 5)


def test_a_rest_lets_the_hand_go() -> None:
    joined = finger_piece(piece("C", right="C4 D4 E4 F4 C6 D6 E6"), RIGHT)
    rested = finger_piece(piece("C", right="C4 D4 E4 F4 . . . . C6 D6 E6"), RIGHT)
    assert list(rested.values())[-3:] == [1, 2, 3]
    assert len(joined) == len(rested) == 7


def test_a_tenth_is_dearer_for_a_small_hand() -> None:
    tenths = piece("C", right="C4+E5 D4+F5 C4+E5")
    fingers = finger_piece(tenths, RIGHT)
    assert set(fingers.values()) == {1, 5}
    dear = [Judge(tenths, RIGHT, size).points(fingers) for size in HAND_SIZES]
    assert dear[0] > dear[1] > dear[2]


def test_a_hand_without_notes_has_no_fingers() -> None:
    assert finger_piece(piece("C", right="C4 D4"), LEFT) == {}


@pytest.mark.parametrize("target", ["D", "Eb", "F#", "B"])
def test_a_tune_in_one_position_keeps_its_fingers_in_every_key(target: str) -> None:
    tune = piece("C", right="E4 E4 F4 G4 G4 F4 E4 D4 C4", left="C3 G3 C3 G3")
    moved = transposed(tune, interval_between(tune.key, Key.parse(target)))
    for hand in (RIGHT, LEFT):
        assert finger_piece(moved, hand) == finger_piece(tune, hand)


def test_two_voices_on_one_key_share_a_finger() -> None:
    shared = piece("C", right="C4+E4+E4 F4 G4 A4 B4 C5 D5", length=Fraction(1, 2))
    found = finger_piece(shared, RIGHT)
    assert found[1] == found[2]


def test_the_five_keys_under_a_hand_that_stays_on_five_letters() -> None:
    # From sol below do, as the lowest note is under the thumb; fa is sharp where it is played so.
    below = tune("F", "C4 D4 E4 F4 G4 F4")
    assert five_keys(below, RIGHT) == {60: 1, 62: 2, 64: 3, 65: 4, 67: 5}
    assert five_keys(tune("C", "C4 E4 F#4 G4"), RIGHT) == {60: 1, 62: 2, 64: 3, 66: 4, 67: 5}
    assert five_keys(tune("Eb", "Eb4 F4 G4"), RIGHT) == {63: 1, 65: 2, 67: 3, 68: 4, 70: 5}
    assert five_keys(tune("C", "C4 A4"), RIGHT) is None
    assert five_keys(below, LEFT) is None
