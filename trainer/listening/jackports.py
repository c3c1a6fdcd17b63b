"""MIDI ports over JACK: python-rtmidi's clients, opened once and kept, and joined to instruments and parted from them.

A client that is parted waits for the next instrument, and none is closed before the program ends: why, says
`trainer.listening.jack`.
"""

from __future__ import annotations

import atexit
import itertools
import os
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from trainer.listening.jack import JACK_HANGS, JackLinks, answers, hangs, leave, links, our_name
from trainer.listening.quiet import hushed
from trainer.listening.wire import QUEUED, FetchedInput, Hear, PortRefused, RtmidiPort, closed, no_port

_numbers = itertools.count(1)


@dataclass(frozen=True)
class _Kept:
    """A client of python-rtmidi's and the whole name of its one port."""

    client: Any
    port: str


class JackBackend:
    """The ports of one JACK server; raises `PortRefused` when there is none, or one that hangs.

    What was opened on a server that hangs or is dead is left as it is: to touch it would stop the program for good.
    """

    words = "JACK"

    def __init__(self) -> None:
        import rtmidi

        if rtmidi.API_UNIX_JACK not in rtmidi.get_compiled_api():
            raise PortRefused("python-rtmidi has no JACK here.")
        self._rtmidi = rtmidi
        self._links = _links()
        self._clients: list[Any] = []
        self._idle_ins: list[_Kept] = []
        self._idle_outs: list[_Kept] = []
        # A client whose port was refused tries again at the next look: one made for each would use up the server.
        self._bare: dict[str, Any] = {}
        # Whose port is joined to which of ours, and what is to be parted once the server answers.
        self._joined: dict[str, str] = {}
        self._heard: dict[str, FetchedInput] = {}
        self._done: list[Callable[[], None]] = []

    def is_there(self) -> bool:
        """Whether the server answers, and still is the one this is for."""
        return self.alive() and links() is self._links

    def inputs(self) -> list[str]:
        return self._links.outputs()

    def outputs(self) -> list[str]:
        return self._links.inputs()

    def open_input(self, name: str, hear: Hear) -> FetchedInput:
        self._answered()
        kept = self._idle_ins.pop() if self._idle_ins else self._opened(self._in, "in", self._links.inputs)
        while kept.client.get_message():
            continue  # of the instrument it was joined to before
        if not self._links.join(name, kept.port):
            self._idle_ins.append(kept)
            raise no_port(name)
        self._joined[name] = kept.port
        heard = FetchedInput(kept.client, hear, lambda _: self._put_back(kept, self._idle_ins, name, kept.port))
        self._heard[kept.port] = heard
        return heard

    def open_output(self, name: str) -> RtmidiPort:
        self._answered()
        kept = self._idle_outs.pop() if self._idle_outs else self._opened(self._out, "out", self._links.outputs)
        if not self._links.join(kept.port, name):
            self._idle_outs.append(kept)
            raise no_port(name)
        self._joined[name] = kept.port
        return RtmidiPort(kept.client, lambda _: self._put_back(kept, self._idle_outs, kept.port, name))

    def linked(self, name: str) -> bool:
        return self._links.joined(name, self._joined.get(name, ""))

    def alive(self) -> bool:
        return self._links.alive()

    def close(self) -> None:
        """Nothing is closed before the program ends."""

    def end(self) -> None:
        """The program ends: close what is open, lest the server wait for each client for seconds, and others for it."""
        for heard in self._heard.values():
            # Its thread would go on fetching from a client that is no more.
            heard.close()
        for client in self._clients:
            if self.is_there():
                self._links.settle()
                closed(client)
        if self.is_there():
            self._links.close()

    def _answered(self) -> None:
        if not answers():
            raise PortRefused(JACK_HANGS)
        self._part()

    def _in(self) -> Any:
        client = self._rtmidi.MidiIn(self._rtmidi.API_UNIX_JACK, our_name(), QUEUED)
        # Clock and active sensing are asked for, too: a message the driver drops takes its share of time along.
        client.ignore_types(sysex=False, timing=False, active_sense=False)
        return client

    def _out(self) -> Any:
        return self._rtmidi.MidiOut(self._rtmidi.API_UNIX_JACK, our_name())

    def _opened(self, new: Callable[[], Any], label: str, there: Callable[[], list[str]]) -> _Kept:
        # By its label alone the port is known: the server may give the client another name than it was asked for.
        name = f"{label} {os.getpid()}.{next(_numbers)}"
        client = self._bare.pop(label, None)
        try:
            with hushed():
                if client is None:
                    client = new()
                    leave(client)
                    self._clients.append(client)
                client.open_virtual_port(name)
        except (OSError, ValueError, RuntimeError) as refusal:
            if client is not None:
                self._bare[label] = client
            raise PortRefused("The JACK server takes no more ports.") from refusal
        for port in there():
            if port.endswith(f":{name}"):
                return _Kept(client, port)
        raise PortRefused("The JACK server takes no more ports.")

    def _put_back(self, kept: _Kept, idle: list[_Kept], source: str, target: str) -> None:
        def part() -> None:
            self._links.part(source, target)
            idle.append(kept)

        self._done.append(part)
        if self.is_there():
            self._part()

    def _part(self) -> None:
        while self._done:
            self._done.pop()()


def _links() -> JackLinks:
    found = links()
    if found is None:
        raise PortRefused(JACK_HANGS if hangs() else "There is no JACK server.")
    return found


_current: JackBackend | None = None


def over_jack() -> JackBackend:
    """The one way over JACK: the same as before as long as its server is there; raises `PortRefused`."""
    global _current
    if _current is None or not _current.is_there():
        _current = None
        _current = JackBackend()
        atexit.register(_current.end)
    return _current
