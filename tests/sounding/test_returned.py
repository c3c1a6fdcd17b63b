"""What an output is sent and an input hears again."""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest

from tests.music.tunes import tune
from tools.instruments import SoundModule, VirtualPiano
from trainer.listening.clock import now
from trainer.listening.ports import Ports
from trainer.listening.press import Press
from trainer.sounding.model import model
from trainer.sounding.opening import open_sound
from trainer.sounding.returned import BACK_S, Returned


def until(done: Callable[[], bool], meanwhile: Callable[[], object] = lambda: None) -> None:
    end = time.monotonic() + 60
    while not done():
        assert time.monotonic() < end
        meanwhile()
        time.sleep(0.02)


def test_a_note_comes_back_once_soon_and_as_it_was_sent() -> None:
    sent = Returned()
    sent.sent([(5.0, (0x90, 60, 68)), (6.0, (0x90, 60, 68))])
    assert not sent.is_one((0x90, 60, 68), 4.9)
    assert not sent.is_one((0x90, 60, 67), 5.01)
    assert not sent.is_one((0x90, 62, 68), 5.01)
    assert sent.is_one((0x90, 60, 68), 5.01)
    # The same key is the player's a moment later.
    assert not sent.is_one((0x90, 60, 68), 5.02)
    assert not sent.is_one((0x90, 60, 68), 6.01 + BACK_S)


def test_what_was_cancelled_does_not_come_back() -> None:
    sent, moment = Returned(), now()
    sent.sent([(moment, (0x90, 60, 68)), (moment + 9.0, (0x90, 62, 68))])
    sent.cancel()
    assert sent.is_one((0x90, 60, 68), moment + 0.01)
    assert not sent.is_one((0x90, 62, 68), moment + 9.01)


def test_a_key_struck_again_at_once_comes_back_as_often_as_it_was_sent() -> None:
    """A trill: what was sent a moment ago is still on its way when the key is sent again."""
    sent, moment = Returned(), now()
    sent.sent([(moment, (0x90, 60, 68))])
    sent.sent([(moment + 0.02, (0x90, 60, 68))])
    assert sent.is_one((0x90, 60, 68), moment + 0.03)
    assert sent.is_one((0x90, 60, 68), moment + 0.05)
    assert not sent.is_one((0x90, 60, 68), moment + 0.05)


def test_what_never_came_back_is_not_kept() -> None:
    sent, moment = Returned(), now()
    sent.sent([(moment - 9.0, (0x90, 60, 68))])
    sent.sent([(moment, (0x90, 60, 68))])
    assert not sent.is_one((0x90, 60, 68), moment - 8.99)
    assert sent.is_one((0x90, 60, 68), moment + 0.01)


@pytest.mark.system
def test_the_model_over_a_bus_that_is_also_heard_is_nobody_playing(jack: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A synthesizer is reached over a virtual bus, which brings every note back; a piano beside it is heard."""
    monkeypatch.setenv("KEYFARER_MIDI", "jack")
    monkeypatch.setenv("SDL_AUDIODRIVER", "dummy")
    back, piano = VirtualPiano("Bus"), VirtualPiano("Upright")
    over: set[int] = set()

    def bring_back(_: float, message: tuple[int, ...]) -> None:
        over.add(message[1])
        back.send(*message)

    bus = SoundModule("Bus", bring_back)
    ports = Ports()
    sound = open_sound("Bus", ports)
    try:
        until(lambda: len(ports.hearing) == 2, lambda: ports.watch(at_once=True))
        # A key struck at once, until the bus is open; then the model.
        until(lambda: 50 in over, lambda: sound.voice.note_on(50, 70))
        sound.player.play(model(tune("C", "C4 D4 E4 F4"), tempo=240.0))
        until(lambda: not sound.player.playing)
        assert {60, 62, 64, 65} <= over
        until(lambda: ports.last is not None, lambda: piano.press(72, 80))
        assert {event.pitch for event in ports.pending() if isinstance(event, Press)} == {72}
    finally:
        sound.close()
        ports.close()
        for one in (bus, back, piano):
            one.close()
