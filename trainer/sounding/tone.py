"""The built-in tone through pygame's mixer.

Keys pressed now are played as whole sounds, at the mixer's next buffer. Schedules are mixed here, half a second
ahead, and handed to the mixer as segments of whole buffers, which it joins without a gap: a click or a chord stands
where it belongs to the sample, however busy the program is.
"""

from __future__ import annotations

import threading
import time
from bisect import bisect_left
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from trainer.listening.clock import now
from trainer.listening.quiet import hushed, load_pygame
from trainer.sounding.samples import HIGHEST, LOWEST, RATE, SECONDS, sample, tone
from trainer.sounding.voice import PERCUSSION, Sounded

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from pygame.mixer import Channel, Sound

# 5.3 ms: a press waits for at most one buffer and is heard when the next has gone out.
BUFFER = 256
SEGMENT = 96 * BUFFER
RELEASE_S = 0.12
# A device that has taken no segment for so long has gone.
STALLED_S = 4 * SEGMENT / RATE
# A note played before its full sound is made gets a short one, made in a few milliseconds.
_SHORT_S = 0.4
_STREAMS, _CHANNELS = 16, 64
# Of full scale, and in so many samples (43 ms) it is softer or as loud as before again (ours).
_LOUDEST, _BLOCK = 0.98, SEGMENT // 12
_POLL_S = 0.05
_FADE_STEP_S = 0.006
# From being told of a schedule to its first sample: time to mix the first segment.
_AHEAD_S, _HURRY_S = 0.03, 0.006
NO_DEVICE = "No sound device answers, so nothing is heard from this computer; everything else goes on."
STALLED = "The sound device has stopped; everything else goes on, and sound returns when it is chosen again in Setup."


class NoDevice(OSError):
    """There is no sound device; the text is one quiet line."""


def gain(velocity: int) -> float:
    """How loud a velocity is, 0-0.36: eight notes of middling velocity together stay within full scale."""
    return float(0.36 * (max(1, min(127, velocity)) / 127) ** 1.5)


class ToneVoice:
    """The built-in tone.

    Raises
    ------
    NoDevice
        When no sound device opens.
    """

    words = "built-in tone"
    lag_s = 2 * BUFFER / RATE

    def __init__(self) -> None:
        load_pygame()
        import pygame

        self._mixer = pygame.mixer
        wanted = (RATE, -16, 1)
        try:
            with hushed():
                if self._mixer.get_init() not in (None, wanted):
                    self._mixer.quit()
                self._mixer.init(*wanted, BUFFER, allowedchanges=0)
        except pygame.error as refusal:
            raise NoDevice(NO_DEVICE) from refusal
        self._mixer.set_num_channels(_CHANNELS)
        self._sounds: dict[int, Sound] = {}
        self._live: dict[int, tuple[Channel, Sound]] = {}
        self._streams: list[Stream] = []
        self._lines: list[str] = []
        self._lock = threading.Lock()
        self._closing = threading.Event()
        self._maker = threading.Thread(target=self._make_all, name="tone", daemon=True)
        self._maker.start()

    def note_on(self, pitch: int, velocity: int) -> None:
        if not LOWEST <= pitch <= HIGHEST or self._closing.is_set():
            return
        with self._lock:
            sound = self._sounds.get(pitch) or self._sound(tone(pitch, _SHORT_S))
            before = self._live.pop(pitch, None)
            if before is not None and before[0].get_sound() is before[1]:
                before[0].fadeout(10)
            channel = self._free_channel()
            channel.set_volume(gain(velocity))
            channel.play(sound)
            self._live[pitch] = (channel, sound)

    def note_off(self, pitch: int) -> None:
        with self._lock:
            playing = self._live.pop(pitch, None)
            # The channel may have been given to another note since.
            if playing is not None and not self._closing.is_set() and playing[0].get_sound() is playing[1]:
                playing[0].fadeout(int(RELEASE_S * 1000))

    def prepare(self, notes: Sequence[Sounded]) -> None:
        """Have every sound of a schedule ready."""
        for pitch, percussion in {(note.pitch, note.channel == PERCUSSION) for note in notes}:
            if percussion:
                sample(pitch, percussion)
            elif LOWEST <= pitch <= HIGHEST:
                self._make(pitch)

    def play(self, notes: Sequence[Sounded], start: float) -> None:
        if self._closing.is_set() or not notes:
            return
        with self._lock:
            self._streams = [stream for stream in self._streams if stream.alive]
            if len(self._streams) == _STREAMS:
                self._streams.pop(0).stop()
            taken = {stream.number for stream in self._streams}
            number = next(at for at in range(_STREAMS) if at not in taken)
            self._streams.append(Stream(self._mixer, number, notes, start, self._lines))

    def cancel(self) -> None:
        with self._lock:
            streams, self._streams = self._streams, []
        for stream in streams:
            stream.stop()

    def panic(self) -> None:
        self.cancel()
        with self._lock:
            self._live.clear()
            if not self._closing.is_set():
                self._mixer.stop()

    def lines(self) -> list[str]:
        said = self._lines[:]
        del self._lines[: len(said)]
        return said

    def close(self) -> None:
        if self._closing.is_set():
            return
        self.panic()
        self._closing.set()
        self._maker.join()
        with self._lock:
            self._sounds.clear()
            self._mixer.quit()

    def _free_channel(self) -> Channel:
        """A channel above those of the streams; the mixer's own search would take theirs."""
        for number in range(_STREAMS, _CHANNELS):
            channel = self._mixer.Channel(number)
            if not channel.get_busy():
                return channel
        oldest = next(iter(self._live), None)
        return self._mixer.Channel(_STREAMS) if oldest is None else self._live.pop(oldest)[0]

    def _make_all(self) -> None:
        """Make or load every note, from the middle of the piano outwards."""
        for pitch in sorted(range(LOWEST, HIGHEST + 1), key=lambda key: abs(key - 62)):
            if self._closing.is_set():
                return
            self._make(pitch)

    def _make(self, pitch: int) -> None:
        if pitch not in self._sounds:
            wave = sample(pitch)
            with self._lock:
                if not self._closing.is_set():
                    self._sounds[pitch] = self._sound(wave)

    def _sound(self, wave: NDArray[np.float32]) -> Sound:
        return self._mixer.Sound(buffer=_pcm(wave).tobytes())


def _pcm(wave: NDArray[np.float32]) -> NDArray[np.int16]:
    import numpy as np

    return (np.clip(wave, -1.0, 1.0) * np.float32(32767)).astype(np.int16)


def mix(notes: Sequence[Sounded], first: int, count: int) -> NDArray[np.float32]:
    """Samples `first` to `first + count` of a schedule that begins at sample 0.

    Parameters
    ----------
    notes : sequence of Sounded
        In order of `at`.
    """
    import numpy as np

    mixed = np.zeros(count, dtype=np.float32)
    fall = int(RELEASE_S * RATE)
    low = bisect_left(notes, first / RATE - SECONDS, key=lambda note: note.at)
    high = bisect_left(notes, (first + count) / RATE, key=lambda note: note.at)
    for note in notes[low:high]:
        percussion = note.channel == PERCUSSION
        if not percussion and not LOWEST <= note.pitch <= HIGHEST:
            continue
        wave = sample(note.pitch, percussion)
        start = round(note.at * RATE)
        held = len(wave) if percussion else min(len(wave), round(note.length * RATE) + fall)
        begin, end = max(start, first), min(start + held, first + count)
        if begin >= end:
            continue
        part = wave[begin - start : end - start] * np.float32(gain(note.velocity))
        if not percussion:
            left = np.arange(held - (begin - start), held - (end - start), -1, dtype=np.float32)
            part = part * np.minimum(left / fall, 1.0)
        mixed[begin - first : end - first] += part
    return mixed


def level(notes: Sequence[Sounded], first: int, count: int) -> NDArray[np.float32]:
    """As `mix`, made softer for a moment where that is louder than can be sounded: cut off, a loud chord would crackle.

    Parameters
    ----------
    first, count : int
        Whole blocks of `_BLOCK` samples.
    """
    import numpy as np

    # One block more on either side: between two blocks the louder one says how loud it may be.
    mixed = mix(notes, first - _BLOCK, count + 2 * _BLOCK)
    may = _LOUDEST / np.maximum(np.abs(mixed.reshape(-1, _BLOCK)).max(axis=1), _LOUDEST)
    mixed = mixed[_BLOCK:-_BLOCK]
    if may.min() == 1.0:
        return mixed
    edges = np.minimum(may[:-1], may[1:])
    mixed *= np.interp(np.arange(count) / _BLOCK, np.arange(len(edges)), edges).astype(np.float32)
    return mixed


class Stream:
    """One schedule on one channel of the mixer, fed segment by segment from a thread of its own."""

    def __init__(self, mixer: Any, number: int, notes: Sequence[Sounded], start: float, lines: list[str]) -> None:
        self.number = number
        self._mixer, self._lines = mixer, lines
        self._channel = mixer.Channel(number)
        moment = now()
        due = start + min(note.at for note in notes) - moment
        self._began = moment + min(_AHEAD_S, max(_HURRY_S, due / 2))
        shift = start - self._began
        self._notes = sorted(
            Sounded(note.at + shift, note.length, note.pitch, note.velocity, note.channel) for note in notes
        )
        end = max(note.end for note in self._notes) + RELEASE_S
        self._segments = max(1, -int(-end * RATE // SEGMENT))
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._run, name="tone stream", daemon=True)
        self._thread.start()

    @property
    def alive(self) -> bool:
        return self._thread.is_alive()

    def stop(self) -> None:
        self._stopped.set()
        self._thread.join()

    def _segment(self, number: int) -> Any:
        return self._mixer.Sound(buffer=_pcm(level(self._notes, number * SEGMENT, SEGMENT)).tobytes())

    def _run(self) -> None:
        first = self._segment(0)
        self._stopped.wait(max(0.0, self._began - now()))
        if not self._stopped.is_set():
            self._channel.play(first)
            self._channel.set_volume(1.0)
            self._feed()
        self._fade()

    def _fade(self) -> None:
        """Softly to silence. A stopped channel goes on with what is queued, so it is stopped until it is empty."""
        for left in (0.5, 0.2, 0.05, 0.0):
            self._channel.set_volume(left)
            time.sleep(_FADE_STEP_S)
        while self._channel.get_busy():
            self._channel.stop()

    def _feed(self) -> None:
        following, fed = 1, now()
        while not self._stopped.is_set():
            if self._channel.get_queue() is None:
                if following >= self._segments:
                    if not self._channel.get_busy():
                        return
                else:
                    following = self._on_time(following)
                    self._channel.queue(self._segment(following))
                    following, fed = following + 1, now()
            elif now() - fed > STALLED_S:
                self._lines.append(STALLED)
                return
            self._stopped.wait(_POLL_S)

    def _on_time(self, following: int) -> int:
        """After the program slept through a segment, wait for the next one that can still begin in time."""
        if self._channel.get_busy():
            return following
        due = max(following, int((now() - self._began) * RATE / SEGMENT) + 1)
        self._stopped.wait(max(0.0, self._began + due * SEGMENT / RATE - now()))
        return due
