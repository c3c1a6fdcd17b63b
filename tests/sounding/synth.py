"""A sound module on the JACK server: an input others can open as an output, keeping all it receives."""

from __future__ import annotations

import time
from collections.abc import Callable

from tools.instruments import SoundModule

WAIT_S = 60.0


class Synth:
    """Messages with their times as they come in."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.got: list[tuple[float, tuple[int, ...]]] = []
        self._in = SoundModule(name, lambda at, message: self.got.append((at, message)))

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
