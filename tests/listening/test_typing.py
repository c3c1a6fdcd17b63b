"""The computer keyboard as a piano."""

from __future__ import annotations

from trainer.hands.keyboard import is_black
from trainer.listening.press import Press, Release
from trainer.listening.typing import KEYS, VELOCITY, TypedPiano

BY_LABEL = {key.label: key for key in KEYS}


def test_both_rows_are_chromatic_with_black_keys_above() -> None:
    lower = sorted(key.semitone for key in KEYS if key.row >= 2)
    upper = sorted(key.semitone for key in KEYS if key.row < 2)
    assert lower == list(range(17))
    assert upper == list(range(12, 32))
    assert all(is_black(key.semitone) == (key.row in (0, 2)) for key in KEYS)
    assert len({key.scancode for key in KEYS}) == len(KEYS)


def test_a_black_key_lies_between_its_neighbours() -> None:
    for rows in ((0, 1), (2, 3)):
        places = {key.semitone: key.x for key in KEYS if key.row in rows}
        for key in KEYS:
            if key.row in rows and is_black(key.semitone) and key.semitone + 1 in places:
                assert places[key.semitone - 1] < key.x < places[key.semitone + 1]


def test_strokes_become_presses_and_repeats_do_not() -> None:
    piano = TypedPiano()
    z, q = BY_LABEL["Z"].scancode, BY_LABEL["Q"].scancode
    assert piano.down(q, 1.0) == Press(1.0, 60, VELOCITY)
    assert piano.down(q, 1.1) is None
    assert piano.shift(1) == 1
    assert piano.up(q, 1.2) == Release(1.2, 60)
    assert piano.up(q, 1.3) is None
    assert piano.down(z, 2.0) == Press(2.0, 60, VELOCITY)
    assert piano.let_go(3.0) == [Release(3.0, 60)]
    assert piano.down(999, 4.0) is None


def test_a_key_that_lies_on_both_rows_is_one_key_of_the_piano() -> None:
    piano = TypedPiano()
    comma, q = BY_LABEL[","].scancode, BY_LABEL["Q"].scancode
    assert piano.down(comma, 1.0) == Press(1.0, 60, VELOCITY)
    assert piano.down(q, 1.1) is None
    assert piano.up(q, 1.2) is None
    assert piano.up(comma, 1.3) == Release(1.3, 60)
    assert piano.down(q, 1.4) == Press(1.4, 60, VELOCITY)


def test_the_keyboard_stays_on_the_piano() -> None:
    piano = TypedPiano()
    for shift, lowest, highest in ((9, 72, 103), (-9, 24, 55)):
        assert abs(piano.shift(shift)) == 2
        pitches = [pitch for key in KEYS if (pitch := piano.pitch(key.scancode)) is not None]
        assert len(pitches) == len(KEYS)
        assert (min(pitches), max(pitches)) == (lowest, highest)
    assert piano.pitch(999) is None
