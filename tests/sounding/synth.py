"""A sound module on the JACK server: an input others can open as an output, keeping all it receives."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

from trainer.listening.backends import QUEUED, FetchedInput
from trainer.listening.clock import DriverClock, now

WAIT_S = 60.0


class Synth:
    """Messages with their times as they come in."""

    def __init__(self, name: str) -> None:
        import rtmidi

        self.name = name
        self.got: list[tuple[float, tuple[int, ...]]] = []
        self._clock = DriverClock()
        port = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name, QUEUED)
        port.ignore_types(sysex=False, timing=False, active_sense=False)
        port.open_virtual_port("sound")
        self._in = FetchedInput(port, self._hear)

    def _hear(self, data: Sequence[int], delta: float | None) -> None:
        self.got.append((self._clock.stamp(delta, now()), tuple(data)))

    def wait(self, enough: Callable[[], bool]) -> None:
        """Until enough has come in."""
        until = time.monotonic() + WAIT_S
        while not enough():
            assert time.monotonic() < until, f"only this came in: {self.got[-6:]}"
            time.sleep(0.005)

    @property
    def sounding(self) -> set[int]:
        """Pitches begun and not let go."""
        found: set[int] = set()
        for _, message in self.got:
            if message[0] & 0xF0 == 0x90 and message[2]:
                found.add(message[1])
            elif message[0] & 0xF0 in (0x80, 0x90):
                found.discard(message[1])
        return found

    def struck(self) -> list[tuple[float, int]]:
        """Times and pitches of the note-ons."""
        return [(at, message[1]) for at, message in self.got if message[0] & 0xF0 == 0x90 and message[2]]

    def close(self) -> None:
        self._in.close()
