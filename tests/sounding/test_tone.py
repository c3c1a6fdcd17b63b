"""The built-in tone and the click, rendered through SDL's disk driver and measured."""

from __future__ import annotations

import pathlib
import threading
import time
from collections.abc import Iterator

import numpy as np
import pytest

from tests.sounding.rendered import onsets, samples, wait_for
from trainer.listening.clock import now
from trainer.sounding.samples import RATE, SECONDS, sample
from trainer.sounding.tone import BUFFER, SEGMENT, STALLED, NoDevice, Stream, ToneVoice, gain, level, mix
from trainer.sounding.voice import HIGH_BLOCK, LOW_BLOCK, PERCUSSION, Sounded


@pytest.fixture
def voice(disk: pathlib.Path) -> Iterator[ToneVoice]:
    made = ToneVoice()
    yield made
    made.close()


CLICKS = [
    Sounded(number * 0.125, 0.03, LOW_BLOCK if number % 4 else HIGH_BLOCK, 100, PERCUSSION) for number in range(9)
]


def test_clicks_stand_where_they_belong_to_the_sample_while_the_program_is_busy(
    voice: ToneVoice, disk: pathlib.Path
) -> None:
    voice.prepare(CLICKS)
    voice.play(CLICKS, now() + 0.1)
    until = time.monotonic() + 1.2
    total = 0
    while time.monotonic() < until:
        # One long call that keeps every other thread of the program waiting, as engraving does.
        total += sum(range(500_000)) > 0
    wait_for(disk, 3.0)
    voice.close()
    steps = np.diff(onsets(samples(disk), gap_s=0.05))
    assert len(steps) == len(CLICKS) - 1
    assert np.abs(steps - 0.125).max() <= 1.5 / RATE


def test_a_press_is_in_the_next_buffer_the_mixer_fills(voice: ToneVoice, disk: pathlib.Path) -> None:
    """Where the mixer stands once the press has been told, however long that took, and not at a later segment."""
    voice.prepare([Sounded(0, 1, 60)])
    wait_for(disk, 0.1)
    # The driver's file grows by whole pages of 4096 bytes, two a sample; one buffer may just be being filled.
    unwritten = 4096 // 2 + 2 * BUFFER
    for _ in range(4):
        voice.note_on(60, 100)
        stands = disk.stat().st_size // 2
        wait_for(disk, stands / RATE + 0.25)
        voice.note_off(60)
        told = disk.stat().st_size // 2
        wait_for(disk, told / RATE + 0.5)
        assert np.abs(samples(disk)[stands : stands + unwritten]).max() > 1e-4
        assert np.abs(samples(disk)[-unwritten:]).max() < 1e-4
    assert BUFFER / RATE < 0.006


def test_a_note_falls_silent_when_it_is_let_go(voice: ToneVoice, disk: pathlib.Path) -> None:
    voice.prepare([Sounded(0, 1, 64)])
    voice.note_on(64, 100)
    wait_for(disk, 0.5)
    voice.note_off(64)
    at = disk.stat().st_size / 2 / RATE
    wait_for(disk, at + 0.6)
    voice.close()
    wave = samples(disk)
    assert np.abs(wave[int((at - 0.1) * RATE) : int(at * RATE)]).max() > 0.02
    assert np.abs(wave[int((at + 0.35) * RATE) :]).max() == 0.0


def test_cancel_stops_schedules_and_leaves_live_notes(voice: ToneVoice, disk: pathlib.Path) -> None:
    many = [Sounded(0.1 * number, 0.1, 70, 100) for number in range(100)]
    voice.prepare([*many, Sounded(0, 1, 48)])
    voice.play(many, now())
    voice.note_on(48, 100)
    wait_for(disk, 0.5)
    voice.cancel()
    at = disk.stat().st_size / 2 / RATE
    wait_for(disk, at + 0.5)
    voice.close()
    tail = samples(disk)[int((at + 0.1) * RATE) : int((at + 0.4) * RATE)]
    spectrum = np.abs(np.fft.rfft(tail * np.hanning(len(tail))))
    low, high = (int(hertz * len(tail) / RATE) for hertz in (130.8, 466.2))
    assert spectrum[low - 2 : low + 3].max() > 10 * spectrum[high - 1 : high + 2].max()
    assert np.abs(tail).max() > 0.01


def test_mixing_by_segments_is_mixing_at_once(home: pathlib.Path) -> None:
    notes = sorted(
        [Sounded(0.1 * n, 0.35, 60 + n % 7, 60 + n) for n in range(30)]
        + [Sounded(0.5 * n, 0.03, 76, 99, 9) for n in range(7)]
    )
    whole = mix(notes, 0, 8 * SEGMENT)
    parts = np.concatenate([mix(notes, number * SEGMENT, SEGMENT) for number in range(8)])
    assert np.array_equal(whole, parts)


def test_eight_notes_at_once_are_not_clipped(home: pathlib.Path) -> None:
    chord = [Sounded(0.0, 1.0, pitch, 72) for pitch in (36, 43, 48, 52, 55, 60, 64, 67)]
    assert np.abs(mix(chord, 0, RATE)).max() < 1.0
    assert gain(127) > 2 * gain(64) > 0


def test_ten_notes_as_loud_as_can_be_do_not_crackle_and_the_music_after_them_is_as_loud_as_ever(
    home: pathlib.Path,
) -> None:
    chord = [Sounded(0.3, 0.5, pitch, 127) for pitch in (36, 43, 48, 52, 55, 60, 64, 67, 72, 76)]
    after = [Sounded(0.05, 0.2, 60, 70), Sounded(1.0, 0.5, 60, 70)]
    notes = sorted([*chord, *after])
    wave = np.concatenate([level(notes, number * SEGMENT, SEGMENT) for number in range(3)])
    plain = mix(notes, 0, 3 * SEGMENT)
    assert np.abs(plain).max() > 2.0
    assert np.abs(wave).max() < 1.0
    # Softer, and of the same shape: nowhere does the loudness jump.
    heard = np.abs(plain) > 0.05
    softer = np.interp(np.arange(len(plain)), np.flatnonzero(heard), wave[heard] / plain[heard])
    assert np.abs(np.diff(softer)).max() < 0.001
    for quiet in (slice(0, int(0.2 * RATE)), slice(RATE, 3 * SEGMENT)):
        assert np.array_equal(wave[quiet], plain[quiet])
    assert np.array_equal(wave, level(notes, 0, 3 * SEGMENT))


def test_the_tone_is_made_once_and_kept(first_home: pathlib.Path) -> None:
    sample.cache_clear()
    made = sample(57)
    kept = list((first_home / "cache").iterdir())
    assert len(kept) == 1
    sample.cache_clear()
    assert np.abs(sample(57) - made).max() < 2 / 32767
    kept[0].write_bytes(b"damaged")
    sample.cache_clear()
    assert len(sample(57)) == int(SECONDS * RATE)


def test_without_a_device_there_is_one_quiet_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SDL_AUDIODRIVER", "none-such")
    with pytest.raises(NoDevice, match=r"^No sound device answers.*\.$"):
        ToneVoice()


def test_closing_ends_every_thread(disk: pathlib.Path) -> None:
    voice = ToneVoice()
    voice.play(CLICKS, now())
    voice.close()
    voice.close()
    voice.note_on(60, 60)
    voice.play(CLICKS, now())
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("tone")]


class Stuck:
    """A mixer whose device takes nothing any more."""

    def Channel(self, number: int) -> Stuck:
        return self

    def Sound(self, buffer: bytes) -> bytes:
        return buffer

    def play(self, sound: bytes) -> None:
        self.busy = True

    def set_volume(self, volume: float) -> None:
        """Taken as it is."""

    def get_queue(self) -> bytes:
        return b"the segment it was given first"

    def get_busy(self) -> bool:
        return self.busy

    def stop(self) -> None:
        self.busy = False


def test_a_device_that_vanishes_is_one_quiet_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("trainer.sounding.tone.STALLED_S", 0.1)
    lines: list[str] = []
    stream = Stream(Stuck(), 0, [Sounded(0.0, 0.03, LOW_BLOCK, 90, PERCUSSION)], now(), lines)
    until = time.monotonic() + 60
    while stream.alive and time.monotonic() < until:
        time.sleep(0.01)
    assert lines == [STALLED]
