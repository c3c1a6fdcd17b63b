"""Message forms and files against published MIDI standards and an independent reader.

Sources: *MIDI 1.0 Detailed Specification* 4.2 (MIDI Manufacturers Association, 1996), "Data Format" and tables I-V;
*Standard MIDI Files 1.0*, RP-001 (1988); mido 1.3 as an independent encoder, music21 as an independent file reader.
"""

from __future__ import annotations

import pathlib

import mido
import pytest

from trainer.listening.decode import DATA_BYTES, Bytes, Keyboard
from trainer.listening.press import Event, Pedal, Press, Release
from trainer.listening.replay import write_take
from trainer.music.pitch import SpelledPitch


def heard(data: list[int]) -> list[Event]:
    keyboard = Keyboard()
    return [event for message in Bytes().feed(data) for event in keyboard.hear(message, 0.0)]


def test_note_numbers() -> None:
    # MIDI 1.0: middle C is note 60; a piano's 88 keys are 21 to 108; A above middle C is 69.
    assert SpelledPitch.parse("C4").midi == 60
    assert SpelledPitch.parse("A0").midi == 21
    assert SpelledPitch.parse("C8").midi == 108
    assert SpelledPitch.parse("A4").midi == 69


def test_running_status() -> None:
    # "Running status": a status byte may be left out while it stays the same; velocity 0 is a note-off.
    assert heard([0x90, 60, 64, 64, 65, 60, 0, 64, 0]) == [
        Press(0, 60, 64), Press(0, 64, 65), Release(0, 60), Release(0, 64),
    ]  # fmt: skip


def test_real_time_bytes_stand_anywhere_and_leave_running_status() -> None:
    assert heard([0x90, 0xF8, 60, 0xFE, 64, 0xFA, 62, 0xFF, 65]) == [Press(0, 60, 64), Press(0, 62, 65)]


@pytest.mark.parametrize("common", [[0xF0, 1, 2, 3, 0xF7], [0xF1, 5], [0xF2, 1, 2], [0xF3, 4], [0xF6]])
def test_system_common_ends_running_status(common: list[int]) -> None:
    assert heard([0x90, 60, 64, *common, 62, 65]) == [Press(0, 60, 64)]


def test_pedals_by_controller_number() -> None:
    # Table III: 64 damper pedal (sustain), 66 sostenuto, 67 soft pedal.
    assert heard([0xB0, 64, 127, 66, 64, 67, 0]) == [
        Pedal(0, "sustain", 127), Pedal(0, "sostenuto", 64), Pedal(0, "soft", 0),
    ]  # fmt: skip


@pytest.mark.parametrize("channel", range(16))
def test_every_channel_message_of_an_independent_encoder_is_cut_right(channel: int) -> None:
    kinds = ("note_off", "note_on", "polytouch", "control_change", "program_change", "aftertouch", "pitchwheel")
    messages = [mido.Message(kind, channel=channel).bytes() for kind in kinds]
    assert [list(m) for m in Bytes().feed(byte for message in messages for byte in message)] == messages
    assert {message[0] & 0xF0: len(message) - 1 for message in messages} == DATA_BYTES


def test_a_written_take_is_read_the_same_by_music21(tmp_path: pathlib.Path) -> None:
    from music21 import midi

    events: list[Event] = [Press(0.0, 60, 64), Release(0.4999, 60), Press(0.5, 67, 90), Release(1.0, 67)]
    write_take(events, tmp_path / "take.mid")
    file = midi.MidiFile()
    file.open(tmp_path / "take.mid")
    file.read()
    file.close()
    ticks, found = 0, []
    for event in file.tracks[0].events:
        if event.isDeltaTime():
            ticks += event.time
        elif event.isNoteOn():
            # No tempo but 120 quarters a minute is in the file.
            found.append((ticks / file.ticksPerQuarterNote / 2, event.pitch, event.velocity))
    assert found == [(0.0, 60, 64), (0.5, 67, 90)]
