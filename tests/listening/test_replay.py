"""Takes written, read and played as if live."""

from __future__ import annotations

import pathlib
import time

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.listening.press import Event, Pedal, Press, Release
from trainer.listening.replay import Replay, read_take, write_take
from trainer.music.pitch import MusicError

EVENTS: list[Event] = [
    Press(0.0, 60, 64),
    Pedal(0.1234567, "sustain", 127),
    Press(0.5, 64, 1),
    Release(0.500001, 60),
    Press(0.7654321, 67, 127),
    Release(1.25, 64),
    Pedal(1.3, "soft", 3),
    Release(600.123456, 67),
]


def test_a_take_written_and_read_again_is_the_same(tmp_path: pathlib.Path) -> None:
    write_take(EVENTS, tmp_path / "take.mid", "Übung – take 1")
    again = read_take(tmp_path / "take.mid")
    assert [type(event) for event in again] == [type(event) for event in EVENTS]
    for one, other in zip(again, EVENTS, strict=True):
        assert abs(one.at - other.at) <= 0.0000251
        assert getattr(one, "pitch", None) == getattr(other, "pitch", None)
        assert getattr(one, "velocity", None) == getattr(other, "velocity", None)
        assert getattr(one, "value", None) == getattr(other, "value", None)


@settings(max_examples=30)
@given(st.lists(st.tuples(st.floats(0, 300), st.integers(0, 127), st.integers(1, 127)), max_size=40))
def test_any_presses_come_back(tmp_path_factory: pytest.TempPathFactory, notes: list[tuple[float, int, int]]) -> None:
    place = tmp_path_factory.mktemp("takes") / "take.mid"
    presses = sorted((Press(*note) for note in notes), key=lambda press: press.at)
    write_take(presses, place)
    again = [event for event in read_take(place) if isinstance(event, Press)]
    assert [(press.pitch, press.velocity) for press in again] == [(press.pitch, press.velocity) for press in presses]
    assert all(abs(one.at - other.at) < 0.0001 for one, other in zip(again, presses, strict=True))


def test_tracks_are_merged_and_tempo_changes_honoured(tmp_path: pathlib.Path) -> None:
    file = mido.MidiFile(type=1, ticks_per_beat=100)
    conductor, upper, lower = mido.MidiTrack(), mido.MidiTrack(), mido.MidiTrack()
    conductor.append(mido.MetaMessage("set_tempo", tempo=1_000_000, time=0))
    conductor.append(mido.MetaMessage("set_tempo", tempo=500_000, time=200))
    upper.append(mido.Message("note_on", note=72, velocity=64, time=100))
    upper.append(mido.Message("note_on", note=72, velocity=0, time=100))
    upper.append(mido.Message("note_on", note=74, velocity=64, time=100))
    lower.append(mido.Message("note_on", note=48, velocity=50, channel=5, time=100))
    lower.append(mido.Message("note_on", note=50, velocity=50, channel=5, time=200))
    file.tracks += [conductor, upper, lower]
    file.save(tmp_path / "t.mid")
    presses = [event for event in read_take(tmp_path / "t.mid") if isinstance(event, Press)]
    assert [(press.at, press.pitch) for press in presses] == [(1.0, 72), (1.0, 48), (2.5, 74), (2.5, 50)]


@pytest.mark.parametrize(
    # 25 frames of 40 ticks: a tick is a millisecond, whatever the tempo; 29 stands for 29.97 frames (RP-001).
    ("frames", "ticks", "seconds"),
    [(25, 40, 0.5), (30, 40, 500 / 1200), (29, 40, 500 / (29.97 * 40))],
)
def test_smpte_division_is_seconds(tmp_path: pathlib.Path, frames: int, ticks: int, seconds: float) -> None:
    track = bytes([0x83, 0x74, 0x90, 60, 64, 0x00, 0xFF, 0x2F, 0x00])
    head = (
        b"MThd"
        + (6).to_bytes(4, "big")
        + (0).to_bytes(2, "big")
        + (1).to_bytes(2, "big")
        + bytes([256 - frames, ticks])
    )
    (tmp_path / "s.mid").write_bytes(head + b"MTrk" + len(track).to_bytes(4, "big") + track)
    (struck,) = read_take(tmp_path / "s.mid")
    assert struck.at == pytest.approx(seconds, rel=1e-6)
    assert struck == Press(struck.at, 60, 64)


# A signature of nine sharps: mido's own error for it is of no common kind.
BAD_KEY = b"MThd\0\0\0\6\0\0\0\1\1\xe0MTrk\0\0\0\6\0\xff\x59\2\x09\0"


@pytest.mark.parametrize(
    "content", [b"", b"MThd", b"MThd\0\0\0\6\0\1\0\2\1\xe0MTrk\0\0\1\0\0\x90", BAD_KEY, b"%PDF-1.4", b"PK"]
)
def test_what_is_no_take_is_refused_in_one_sentence(tmp_path: pathlib.Path, content: bytes) -> None:
    (tmp_path / "x.mid").write_bytes(content)
    with pytest.raises(MusicError, match=r"x\.mid is .*\.$"):
        read_take(tmp_path / "x.mid")
    with pytest.raises(MusicError, match="There is no file"):
        read_take(tmp_path / "y.mid")


def test_several_takes_in_one_file_are_no_take(tmp_path: pathlib.Path) -> None:
    write_take(EVENTS, tmp_path / "take.mid")
    data = (tmp_path / "take.mid").read_bytes()
    (tmp_path / "takes.mid").write_bytes(data[:8] + b"\0\2" + data[10:])
    with pytest.raises(MusicError, match=r"format 2, several takes in one: export one take as format 0 or 1\.$"):
        read_take(tmp_path / "takes.mid")


def test_a_take_in_a_riff_wrapper_is_read(tmp_path: pathlib.Path) -> None:
    write_take(EVENTS, tmp_path / "take.mid")
    bare = (tmp_path / "take.mid").read_bytes()
    sizes = [(len(bare) + 12).to_bytes(4, "little"), len(bare).to_bytes(4, "little")]
    (tmp_path / "take.rmi").write_bytes(b"RIFF" + sizes[0] + b"RMIDdata" + sizes[1] + bare)
    assert read_take(tmp_path / "take.rmi") == read_take(tmp_path / "take.mid")


def test_a_replay_hands_out_what_is_due_at_its_speed() -> None:
    replay = Replay(EVENTS, speed=2.0)
    assert replay.due(100.0) == EVENTS[:1]
    assert replay.due(100.25) == EVENTS[1:3]
    assert replay.due(100.26) == EVENTS[3:4]
    assert not replay.finished
    assert replay.due(500.0) == EVENTS[4:]
    assert replay.finished


def test_a_replay_runs_by_itself_and_stops() -> None:
    heard: list[Event] = []
    ended: list[bool] = []
    replay = Replay(EVENTS[:-1], speed=20.0)
    replay.start(heard.append, lambda: ended.append(True))
    until = time.monotonic() + 60
    while not ended and time.monotonic() < until:
        time.sleep(0.005)
    assert heard == EVENTS[:-1]
    slow = Replay(EVENTS, speed=0.001)
    slow.start(heard.append, lambda: ended.append(True))
    slow.stop()
    assert len(ended) == 1


@pytest.mark.parametrize("speed", [0.0, -1.0, float("nan")])
def test_a_speed_must_be_above_nothing(speed: float) -> None:
    with pytest.raises(MusicError, match="above 0"):
        Replay(EVENTS, speed=speed)
