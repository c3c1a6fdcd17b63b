"""A JACK server without a sound card, and instruments on it as cables would bring them."""

from __future__ import annotations

import contextlib
import os
import subprocess
import time
from collections.abc import Callable, Iterator
from typing import Any

from trainer.listening.clock import now
from trainer.listening.ports import Ports
from trainer.listening.press import Event, Press


@contextlib.contextmanager
def server() -> Iterator[None]:
    """A JACK server of our own, without a sound card; one that is named in the environment and answers is used."""
    kept = {
        name: os.environ.get(name) for name in ("JACK_DEFAULT_SERVER", "JACK_NO_AUDIO_RESERVATION", "KEYFARER_MIDI")
    }
    os.environ["KEYFARER_MIDI"] = "jack"
    server = None
    if not (kept["JACK_DEFAULT_SERVER"] and _answers()):
        name = f"keyfarer-faults-{os.getpid()}"
        os.environ.update(JACK_DEFAULT_SERVER=name, JACK_NO_AUDIO_RESERVATION="1")
        # Real-time threads where they are allowed: else a busy machine's JACK loses rounds by itself.
        words = ["jackd", "-n", name, *_real_time(), "-d", "dummy", "-r", "48000", "-p", "64"]
        server = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        until = time.monotonic() + 20
        while not _answers() and time.monotonic() < until:
            time.sleep(0.1)
    try:
        yield
    finally:
        if server is not None:
            server.terminate()
            server.wait()
        for variable, value in kept.items():
            if value is None:
                os.environ.pop(variable, None)
            else:
                os.environ[variable] = value


def _real_time() -> list[str]:
    kept = os.sched_getscheduler(0), os.sched_getparam(0)
    try:
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(1))
    except OSError:
        return ["-r"]
    os.sched_setscheduler(0, *kept)
    return ["-R", "-P", "60"]


def _answers() -> bool:
    return subprocess.run(["jack_lsp"], capture_output=True, timeout=10, check=False).returncode == 0


class Piano:
    """An instrument on the server, as a cable would bring it."""

    def __init__(self, name: str) -> None:
        import rtmidi

        self._out: Any = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name)
        self._out.open_virtual_port("keys")

    def send(self, *data: int) -> None:
        self._out.send_message(list(data))

    def unplug(self) -> None:
        self._out.close_port()
        self._out.delete()


class Witness:
    """A client that only counts what the driver hands out, and asks the interpreter for nothing meanwhile."""

    def __init__(self, name: str) -> None:
        import rtmidi

        self._port: Any = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, "witness", 2**20)
        self._port.open_port(next(at for at, other in enumerate(self._port.get_ports()) if other.startswith(name)))

    def presses(self) -> int:
        """Presses handed out so far; the witness goes."""
        found = 0
        while heard := self._port.get_message():
            found += heard[0][0] & 0xF0 == 0x90 and heard[0][2] > 0
        self._port.close_port()
        self._port.delete()
        return found


def arriving(ports: Ports, presses: int, patience: float = 5.0, after: float = 0.05) -> list[Event]:
    """What comes in until so many presses are there, and for some seconds after."""
    found: list[Event] = []
    end = now() + patience
    while sum(isinstance(event, Press) for event in found) < presses and now() < end:
        found += ports.pending()
        time.sleep(0.0005)
    time.sleep(after)
    return found + ports.pending()


@contextlib.contextmanager
def pianos(*names: str) -> Iterator[tuple[Ports, list[Piano]]]:
    plugged = [Piano(name) for name in names]
    ports = Ports()
    try:
        until(lambda: len(ports.hearing) >= len(names), ports)
        yield ports, plugged
    finally:
        for piano in plugged:
            piano.unplug()
        ports.close()


def until(there: Callable[[], bool], ports: Ports, patience: float = 10.0) -> None:
    end = now() + patience
    while not there() and now() < end:
        ports.watch(at_once=True)
        time.sleep(0.01)
