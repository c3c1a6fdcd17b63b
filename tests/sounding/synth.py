"""A sound module on the JACK server: an input others can open as an output, keeping all it receives."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from trainer.listening.clock import DriverClock, now

WAIT_S = 60.0


class Synth:
    """Messages with their times as they come in."""

    def __init__(self, name: str) -> None:
        import rtmidi

        self.name = name
        self.got: list[tuple[float, tuple[int, ...]]] = []
        self._clock = DriverClock()
        self._plugged = True
        self._in = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name)
        self._in.ignore_types(sysex=False, timing=False, active_sense=False)
        self._in.set_callback(self._hear)
        self._in.open_virtual_port("sound")

    def _hear(self, heard: tuple[list[int], float], _: Any) -> None:
        self.got.append((self._clock.stamp(heard[1], now()), tuple(heard[0])))

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
        if self._plugged:
            self._plugged = False
            self._in.close_port()
            self._in.delete()
