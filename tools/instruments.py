"""Instruments on a JACK server as their cables bring them: keys others hear, and a sound module others play on.

Each is a program of its own, ``python -m tools.instruments KIND NAME``, as other people's are: the library can crash
whoever closes a client of its (`trainer.listening.jack`), and of these nothing is lost then.
"""

from __future__ import annotations

import os
import pathlib
import subprocess
import sys
import threading
from collections.abc import Callable

from trainer.listening.clock import DriverClock, now
from trainer.listening.wire import QUEUED, FetchedInput, closed

PATIENCE_S = 10.0
_ROOT = pathlib.Path(__file__).resolve().parents[1]


class _Program:
    """One instrument, there as soon as this is made, gone when it is closed."""

    def __init__(self, kind: str, name: str) -> None:
        self.name = name
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tools.instruments", kind, name], cwd=_ROOT, text=True, bufsize=1,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._told, self._says = self._process.stdin, self._process.stdout
        if self._says.readline() != "there\n":
            raise OSError(f"{name} cannot be plugged in.")

    def close(self) -> None:
        """Unplug; a second time does nothing."""
        if self._process.poll() is None:
            self._told.close()
            try:
                self._process.wait(PATIENCE_S)
            except subprocess.TimeoutExpired:  # its server hangs
                self._process.kill()
                self._process.wait()


class VirtualPiano(_Program):
    """A MIDI output others can open as an input, as a piano's cable would appear."""

    def __init__(self, name: str) -> None:
        super().__init__("keys", name)

    def send(self, *data: int) -> None:
        self._told.write(bytes(data).hex() + "\n")

    def press(self, pitch: int, velocity: int = 64, channel: int = 0) -> None:
        self.send(0x90 | channel, pitch, velocity)

    def release(self, pitch: int, channel: int = 0) -> None:
        self.send(0x80 | channel, pitch, 0)

    def close(self) -> None:
        super().close()
        self._says.close()


class SoundModule(_Program):
    """An input others can open as an output.

    Parameters
    ----------
    hear : callable
        Given every message and when it came in, on the clock of `trainer.listening.clock.now`, by a thread.
    """

    def __init__(self, name: str, hear: Callable[[float, tuple[int, ...]], None]) -> None:
        super().__init__("sound", name)
        self._hear = hear
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        for line in self._says:
            at, _, data = line.partition(" ")
            self._hear(float(at), tuple(bytes.fromhex(data)))

    def close(self) -> None:
        super().close()
        self._thread.join()
        self._says.close()


def _keys(name: str) -> None:
    import rtmidi

    client = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name)
    client.open_virtual_port("keys")
    print("there", flush=True)
    for line in sys.stdin:
        client.send_message(bytes.fromhex(line))
    closed(client)


def _sound(name: str) -> None:
    import rtmidi

    client = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name, QUEUED)
    client.ignore_types(sysex=False, timing=False, active_sense=False)
    client.open_virtual_port("sound")
    clock = DriverClock()
    print("there", flush=True)
    port = FetchedInput(client, lambda data, delta: print(clock.stamp(delta, now()), bytes(data).hex(), flush=True))
    sys.stdin.read()
    port.close()


if __name__ == "__main__":
    {"keys": _keys, "sound": _sound}[sys.argv[1]](sys.argv[2])
    sys.stdout.flush()
    os._exit(0)
