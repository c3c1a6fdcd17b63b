import pytest

from trainer.hands.position import (
    CAUTION,
    HAND_SIZES,
    five_finger,
    hand_span,
    reaches,
)
from trainer.music.keys import TWENTY_FOUR, Key
from trainer.music.piece import LEFT, RIGHT
from trainer.music.pitch import MusicError


@pytest.mark.parametrize("key", TWENTY_FOUR, ids=lambda key: key.short)
@pytest.mark.parametrize("hand", [RIGHT, LEFT])
def test_a_position_is_the_first_five_degrees_under_the_five_fingers(key: Key, hand: str) -> None:
    position = five_finger(key, hand)
    assert position.midi[4] - position.midi[0] == 7
    assert position.midi[2] - position.midi[0] == (3 if key.is_minor else 4)
    assert sorted(position.fingers) == [1, 2, 3, 4, 5]
    assert position.fingers[0] == (1 if hand == RIGHT else 5)
    assert len(position.depth) == len(position.clearance) == 5
    for colour, deep, room in zip(position.shape, position.depth, position.clearance, strict=True):
        assert deep >= 65 if colour == "b" else room is None or deep > 45


@pytest.mark.parametrize("hand", [RIGHT, LEFT])
def test_f_sharp_minor_is_tighter_than_d_minor(hand: str) -> None:
    tight, free = five_finger(Key.parse("f#"), hand), five_finger(Key.parse("d"), hand)
    assert tight.crowding > free.crowding == 0
    assert "finger 3 close between black keys" in tight.words


def test_a_hand_goes_in_when_its_thumb_takes_a_black_key() -> None:
    assert max(five_finger(Key.parse("C")).depth) < min(five_finger(Key.parse("F#")).depth)


def test_the_octave_can_be_chosen() -> None:
    assert five_finger(Key.parse("C"), RIGHT, 5).midi[0] == 72
    assert five_finger(Key.parse("C"), LEFT).midi[0] == 48


def test_reach_grows_with_the_hand() -> None:
    for key in range(60, 90):
        reached = [reaches(60, key, size) for size in HAND_SIZES]
        assert reached == sorted(reached)


def test_an_unknown_hand_size_is_refused_with_the_choice() -> None:
    with pytest.raises(MusicError, match="choose small, medium or large"):
        hand_span("huge")


def test_the_caution_puts_the_teacher_first() -> None:
    assert "teacher" in CAUTION
    assert "health" in CAUTION
