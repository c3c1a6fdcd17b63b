"""What a way to a MIDI port offers, and the ports of python-rtmidi, whichever driver it goes over."""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable, Sequence
from typing import Any, Protocol

POLL_S = 0.001
# Messages a driver may keep until they are fetched: ten seconds at ten times the speed of a MIDI cable; USB is faster.
QUEUED = 100_000

# What a port hands over: bytes, and seconds since its last message where the driver says so.
Hear = Callable[[Sequence[int], float | None], None]


class PortRefused(OSError):
    """A port is not there or does not open; the text is one sentence."""


def no_port(name: str) -> PortRefused:
    """That a port which is there does not open."""
    return PortRefused(f"{name} does not open; another program may be using it.")


class OpenPort(Protocol):
    """A port that is open."""

    def close(self) -> None: ...


class OpenOutput(OpenPort, Protocol):
    """An output that is open."""

    def send(self, data: Sequence[int]) -> None:
        """Send one whole message now; raises OSError when the port is gone."""


class Backend(Protocol):
    """A driver: what it is called, which ports there are, and how to open one by its exact name."""

    words: str

    def inputs(self) -> list[str]: ...
    def outputs(self) -> list[str]: ...
    def open_input(self, name: str, hear: Hear) -> OpenPort: ...
    def open_output(self, name: str) -> OpenOutput: ...
    def linked(self, name: str) -> bool:
        """Whether an input opened by this name is still joined to it, where the driver can say; True otherwise."""

    def alive(self) -> bool:
        """Whether the driver still works, where it can say; when not, all its ports are lost. True otherwise."""

    def close(self) -> None: ...


def closed(client: Any) -> None:
    """Close a client of python-rtmidi's and whatever it has open."""
    with contextlib.suppress(Exception):
        client.close_port()
    client.delete()


class RtmidiPort:
    """A port of python-rtmidi's, open, and what is to be done with its client in the end."""

    def __init__(self, client: Any, close: Callable[[Any], None] = closed) -> None:
        self._client, self._close = client, close
        self._open = True

    def send(self, data: Sequence[int]) -> None:
        self._client.send_message(list(data))

    def close(self) -> None:
        # A client deleted twice crashes the library.
        if self._open:
            self._open = False
            self._close(self._client)


class FetchedInput(RtmidiPort):
    """An input of python-rtmidi's, open, whose messages the driver queues by itself and a thread of ours fetches.

    Called back, the driver's thread would wait for the interpreter. JACK loses what arrives in a round it is late for,
    and on every driver closing the port waits for that thread and holds the interpreter meanwhile: a message that came
    in at that moment would stop the program for good.
    """

    def __init__(self, client: Any, hear: Hear, close: Callable[[Any], None] = closed) -> None:
        super().__init__(client, close)
        self._hear = hear
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._run, name="midi in", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        fetch = self._client.get_message
        while not self._closing.is_set():
            while heard := fetch():
                self._hear(heard[0], heard[1])
            time.sleep(POLL_S)

    def close(self) -> None:
        self._closing.set()
        if self._thread is not threading.current_thread():
            self._thread.join()
        super().close()
