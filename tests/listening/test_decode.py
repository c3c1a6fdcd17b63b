"""Bytes into messages, messages into events."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.listening.decode import Bytes, Keyboard
from trainer.listening.press import Pedal, Press, Release


def test_layered_sounds_on_two_channels_count_once() -> None:
    keyboard = Keyboard()
    assert keyboard.hear((0x90, 60, 80), 1.000) == [Press(1.0, 60, 80)]
    assert keyboard.hear((0x91, 60, 80), 1.004) == []
    assert keyboard.hear((0x80, 60, 0), 1.5) == []
    assert keyboard.hear((0x91, 60, 0), 1.501) == [Release(1.501, 60)]


def test_a_chord_layered_over_a_slow_cable_counts_once() -> None:
    """All its keys on the one channel, then all on the other: a message takes a MIDI cable a millisecond."""
    keyboard = Keyboard()
    chord = (48, 52, 55, 60, 64, 67, 72, 76, 79, 84)
    told = [(status, pitch) for status in (0x90, 0x91) for pitch in chord]
    heard = [keyboard.hear((status, pitch, 80), 1.0 + 0.001 * at) for at, (status, pitch) in enumerate(told)]
    assert [len(events) for events in heard] == [1] * 10 + [0] * 10


def test_a_piano_heard_by_cable_and_by_radio_counts_once() -> None:
    keyboard = Keyboard()
    told = [(at, 0x90, 80 * on, "cable") for at, on in ((1.0, 1), (1.05, 0), (1.09, 1), (1.2, 0))]
    told += [(at + 0.03, status, velocity, "radio") for at, status, velocity, _ in told]
    heard = [keyboard.hear((status, 60, velocity), at, port) for at, status, velocity, port in sorted(told)]
    assert [event for events in heard for event in events if isinstance(event, Press)] == [
        Press(1.0, 60, 80), Press(1.09, 60, 80)
    ]  # fmt: skip
    assert keyboard.down == ()


def test_a_quick_repetition_is_two_presses() -> None:
    keyboard = Keyboard()
    assert keyboard.hear((0x90, 60, 80), 1.0)
    assert keyboard.hear((0x90, 60, 0), 1.002) == [Release(1.002, 60)]
    assert keyboard.hear((0x90, 60, 70), 1.004) == [Press(1.004, 60, 70)]
    assert keyboard.hear((0x90, 60, 70), 1.06) == [Press(1.06, 60, 70)]


@pytest.mark.parametrize("controller", [120, 123, 124, 125, 126, 127])
def test_silencing_a_channel_releases_its_keys_only(controller: int) -> None:
    keyboard = Keyboard()
    keyboard.hear((0x90, 60, 80), 1.0)
    keyboard.hear((0x91, 64, 80), 1.0)
    assert keyboard.hear((0xB0, controller, 0), 2.0) == [Release(2.0, 60)]
    assert keyboard.down == (64,)


@pytest.mark.parametrize("controller", [119, 121, 122])
def test_other_controllers_silence_nothing(controller: int) -> None:
    keyboard = Keyboard()
    keyboard.hear((0x90, 60, 80), 1.0)
    assert keyboard.hear((0xB0, controller, 0), 2.0) == []
    assert keyboard.down == (60,)


def test_a_lost_port_lets_go_of_what_it_held() -> None:
    keyboard = Keyboard()
    keyboard.hear((0x90, 60, 80), 1.0, "a")
    keyboard.hear((0x90, 64, 80), 1.1, "b")
    assert keyboard.let_go(3.0, "a") == [Release(3.0, 60)]
    assert keyboard.down == (64,)


def test_pedals_are_told_and_other_controllers_are_not() -> None:
    keyboard = Keyboard()
    assert keyboard.hear((0xB2, 67, 127), 1.0) == [Pedal(1.0, "soft", 127)]
    assert keyboard.hear((0xB2, 7, 100), 1.0) == []
    assert keyboard.hear((0xE0, 0, 64), 1.0) == []


def test_a_port_lost_with_the_pedal_down_puts_it_up_after_the_keys() -> None:
    """Else all that is struck when the piano is back would sound on and on."""
    keyboard = Keyboard()
    keyboard.hear((0xB0, 64, 90), 1.0, "a")
    keyboard.hear((0x90, 60, 80), 1.1, "a")
    keyboard.hear((0xB0, 66, 127), 1.2, "b")
    assert keyboard.let_go(3.0, "a") == [Release(3.0, 60), Pedal(3.0, "sustain", 0)]
    assert keyboard.let_go(4.0, "a") == []
    assert keyboard.let_go(4.0, "b") == [Pedal(4.0, "sostenuto", 0)]


def test_a_pedal_sent_on_two_channels_is_one_pedal() -> None:
    keyboard = Keyboard()
    assert keyboard.hear((0xB0, 67, 127), 1.0) == [Pedal(1.0, "soft", 127)]
    assert keyboard.hear((0xB1, 67, 127), 1.0) == []
    assert keyboard.hear((0xB0, 67, 0), 2.0) == []
    assert keyboard.hear((0xB1, 67, 0), 2.0) == [Pedal(2.0, "soft", 0)]
    # Half-way and told anew, as one piano tells it, each is an event.
    told = [keyboard.hear((0xB0, 64, value), 3.0) for value in (30, 30, 0, 0)]
    assert told == [[Pedal(3.0, "sustain", value)] for value in (30, 30, 0, 0)]


def test_reset_all_controllers_puts_the_pedals_of_its_channel_up() -> None:
    keyboard = Keyboard()
    keyboard.hear((0xB0, 64, 127), 1.0)
    keyboard.hear((0xB1, 66, 127), 1.0)
    assert keyboard.hear((0xB0, 121, 0), 2.0) == [Pedal(2.0, "sustain", 0)]
    assert keyboard.hear((0xB0, 121, 0), 2.0) == []


@given(st.lists(st.integers(0, 255), max_size=60))
def test_any_bytes_give_only_well_formed_messages(data: list[int]) -> None:
    for message in Bytes().feed(data):
        assert 0x80 <= message[0] < 0xF0
        assert all(0 <= byte < 0x80 for byte in message[1:])
        Keyboard().hear(message, 0.0)


@given(st.lists(st.tuples(st.integers(0, 127), st.integers(1, 127)), min_size=1, max_size=20), st.integers(1, 7))
def test_a_stream_cut_anywhere_reads_the_same(notes: list[tuple[int, int]], size: int) -> None:
    data = [0x90, *[byte for note in notes for byte in note]]
    stream = Bytes()
    pieces = [data[at : at + size] for at in range(0, len(data), size)]
    assert [message for piece in pieces for message in stream.feed(piece)] == [(0x90, *note) for note in notes]
