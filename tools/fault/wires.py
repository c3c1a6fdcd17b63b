"""A JACK server without a sound card, and instruments on it as cables would bring them."""

from __future__ import annotations

import contextlib
import os
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from tools.instruments import VirtualPiano
from tools.servers import ended, jack_name, jack_started
from trainer.listening.clock import now
from trainer.listening.ports import Ports
from trainer.listening.press import Event, Press


@contextlib.contextmanager
def server(log: Path, *, waits: bool = True) -> Iterator[None]:
    """A JACK server of our own, what it says written to `log`.

    Parameters
    ----------
    waits : bool
        It waits for clients that are late (``-S``), real-time threads where they are allowed. Else neither: a client
        late for a round of 1.3 ms finds that round's messages gone, and the server says so.
    """
    name = jack_name()
    mine = {"JACK_DEFAULT_SERVER": name, "KEYFARER_MIDI": "jack"}
    kept = {variable: os.environ.get(variable) for variable in mine}
    os.environ.update(mine)
    how = [*_real_time(), "-S"] if waits else ["-r"]
    with log.open("wb") as said:
        running = jack_started(name, *how, output=said)
    try:
        yield
    finally:
        ended(running)
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
def pianos(*names: str) -> Iterator[tuple[Ports, list[VirtualPiano]]]:
    plugged = [VirtualPiano(name) for name in names]
    ports = Ports()
    try:
        until(lambda: len(ports.hearing) >= len(names), ports)
        yield ports, plugged
    finally:
        for piano in plugged:
            piano.close()
        ports.close()


def until(there: Callable[[], bool], ports: Ports, patience: float = 10.0) -> None:
    end = now() + patience
    while not there() and now() < end:
        ports.watch(at_once=True)
        time.sleep(0.01)
