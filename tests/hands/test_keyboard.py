from hypothesis import given
from hypothesis import strategies as st

from trainer.hands.keyboard import (
    BLACK_WIDTH,
    KEYBOARDS,
    OCTAVE,
    WHITE_WIDTH,
    centre,
    is_black,
    key_rect,
    room_between,
)

PIANO = st.integers(21, 108)


@given(PIANO)
def test_keys_follow_one_another_from_left_to_right(midi: int) -> None:
    assert centre(midi) < centre(midi + 1)
    assert centre(midi + 12) - centre(midi) == OCTAVE or abs(centre(midi + 12) - centre(midi) - OCTAVE) < 1e-9


@given(PIANO)
def test_white_keys_touch_and_black_keys_lie_over_the_gap(midi: int) -> None:
    left, width, black = key_rect(midi)
    if black:
        below, above = key_rect(midi - 1), key_rect(midi + 1)
        gap = above[0]
        assert abs(below[0] + below[1] - gap) < 1e-9
        assert left < gap < left + width
    elif not is_black(midi + 1):
        assert abs(left + width - key_rect(midi + 1)[0]) < 1e-9


def test_the_eighty_eight_keys_are_52_white_and_36_black() -> None:
    piano = KEYBOARDS[88]
    assert sum(not is_black(midi) for midi in range(piano.lowest, piano.highest + 1)) == 52
    assert piano.highest - piano.lowest + 1 == 88
    assert abs(piano.width_mm - 52 * WHITE_WIDTH) < 1e-6


def test_every_keyboard_has_its_number_of_keys_between_white_ends() -> None:
    for keys, board in KEYBOARDS.items():
        assert board.highest - board.lowest + 1 == keys == board.keys
        assert not is_black(board.lowest)
        assert not is_black(board.highest)
        assert board.rect(board.lowest)[0] == 0
        last = board.rect(board.highest)
        assert abs(last[0] + last[1] - board.width_mm) < 1e-6


def test_fingers_find_the_least_room_between_three_black_keys() -> None:
    rooms = {midi: room_between(midi) for midi in range(60, 72) if not is_black(midi)}
    tightest = sorted(rooms, key=lambda midi: rooms[midi])[:2]
    assert sorted(tightest) == [67, 69]
    assert rooms[69] < BLACK_WIDTH
