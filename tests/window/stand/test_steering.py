"""Again, next and stop from the keys themselves, never mistaken for playing."""

from __future__ import annotations

from tests.music.tunes import tune
from trainer.listening.press import Pedal, Press, Release
from trainer.window.stand.steering import AGAIN, NEXT, STOP, Steering


def steering(notes: str = "G4 A4 B4") -> Steering:
    return Steering(21, 108, tune("G", notes))


def test_the_outermost_keys_steer() -> None:
    keys = steering()
    assert keys.hear(Press(0.0, 21)) == (AGAIN, False)
    assert keys.hear(Release(0.1, 21)) == ("", False)
    assert keys.hear(Press(1.0, 108)) == (NEXT, False)


def test_the_soft_pedal_stops_once_a_stroke() -> None:
    keys = steering()
    assert keys.hear(Pedal(0.0, "soft", 100)) == (STOP, False)
    assert keys.hear(Pedal(0.1, "soft", 120)) == ("", True)
    assert keys.hear(Pedal(0.2, "soft", 0)) == ("", True)
    assert keys.hear(Pedal(0.3, "soft", 90)) == (STOP, False)
    assert keys.hear(Pedal(1.0, "sustain", 127)) == ("", True)


def test_a_soft_pedal_that_goes_down_slowly_and_trembles_stops_once() -> None:
    keys = steering()
    way = [20, 40, 63, 64, 63, 65, 60, 66, 90, 70, 63, 40, 10]
    assert [keys.hear(Pedal(0.02 * at, "soft", value))[0] for at, value in enumerate(way)].count(STOP) == 1
    assert keys.hear(Pedal(1.0, "soft", 64)) == (STOP, False)


def test_while_other_keys_are_down_nothing_steers() -> None:
    keys = steering()
    assert keys.hear(Press(0.0, 67)) == ("", True)
    assert keys.hear(Press(2.0, 21)) == ("", True)
    assert keys.hear(Pedal(2.1, "soft", 127)) == ("", True)


def test_a_key_whose_release_was_lost_does_not_end_the_steering() -> None:
    keys = steering()
    keys.hear(Press(0.0, 67))
    assert keys.hear(Press(30.0, 21)) == (AGAIN, False)
    assert keys.hear(Release(30.1, 21)) == ("", False)
    keys.hear(Press(31.0, 69))
    keys.hear(Release(31.1, 69))
    assert keys.hear(Pedal(32.0, "soft", 127)) == (STOP, False)


def test_in_the_middle_of_playing_nothing_steers() -> None:
    keys = steering()
    keys.hear(Press(0.0, 67))
    keys.hear(Release(0.1, 67))
    assert keys.hear(Press(0.2, 108)) == ("", True)


def test_a_piece_that_comes_near_a_key_keeps_it() -> None:
    assert set(steering("G4 C8").keys) == {21}
    assert set(steering("C1 G4").keys) == {108}
    assert steering("A0 C8").keys == {}
    low = steering("A0 C8")
    assert low.hear(Press(0.0, 21)) == ("", True)
