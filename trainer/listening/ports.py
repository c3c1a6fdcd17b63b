"""Real MIDI ports: named, opened, watched, lost and found again.

No driver tells when a port disappears, so the names are looked at once a second from the main thread. A port is
known by its name without the numbers a driver adds, never by its place in the list.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Callable, Iterable, Sequence
from queue import Empty, SimpleQueue

from trainer.listening.backends import open_backend, trouble
from trainer.listening.clock import DriverClock, now
from trainer.listening.decode import Bytes, Keyboard
from trainer.listening.jack import CLIENT
from trainer.listening.press import Event, Press
from trainer.listening.wire import Backend, OpenOutput, OpenPort, PortRefused

LOOK_S = 1.0
# With no ports at all, how often the other drivers are tried again (JACK may have been started since).
RETRY_S = 5.0
NO_PORTS = (
    "No MIDI port is there: connect the piano by USB or a MIDI interface and switch it on; "
    "until then the computer keyboard plays."
)
# Ports every system has that no piano is behind.
_NOT_A_PIANO = re.compile(r"midi through|through port|microsoft gs|announce|timer", re.IGNORECASE)


def stable_name(name: str) -> str:
    """A port's name without what the driver adds: ALSA's client and port, Windows' place in the list.

    >>> stable_name("Digital Piano:Digital Piano MIDI 1 28:0"), stable_name("CLP-Series 1")
    ('Digital Piano:Digital Piano MIDI 1', 'CLP-Series')
    """
    return re.sub(r" (\d+:\d+|\d+)$", "", name)


def shown_name(name: str) -> str:
    """A port's name as a player reads it.

    >>> shown_name("Digital Piano:Digital Piano MIDI 1 28:0")
    'Digital Piano MIDI 1'
    """
    device, colon, port = (re.sub(r" \d+:\d+$", "", name)).partition(":")
    return port if colon and port.startswith(device) else device + colon + port


def find_port(wanted: str, names: Iterable[str]) -> str | None:
    """The port meant: by its exact name, else its name without numbers, else a part of it in any case."""
    listed = list(names)
    if wanted in listed:
        return wanted
    same = [name for name in listed if stable_name(name) == stable_name(wanted)]
    part = [name for name in listed if wanted.casefold() in name.casefold()]
    return next(iter(same + part), None)


def is_piano(name: str) -> bool:
    """Whether a port can be a player's instrument: not the system's own pass-through, not ours."""
    return not name.startswith(CLIENT) and not _NOT_A_PIANO.search(name)


def output_for(inputs: Iterable[str], outputs: Sequence[str]) -> str | None:
    """The output that belongs to one of the inputs, by device name; None when none does.

    >>> output_for(["Digital Piano:Digital Piano MIDI 1 28:0"], ["Midi Through:0 14:0", "Digital Piano:MIDI 1 28:0"])
    'Digital Piano:MIDI 1 28:0'
    """
    for name in inputs:
        device = stable_name(name).split(":")[0]
        for other in outputs:
            if stable_name(other).split(":")[0] == device:
                return other
    return None


def _gone(name: str) -> str:
    return f"{shown_name(name)} is gone; plug it in again and play on."


class _Input:
    """One input that is open: its clock and its bytes."""

    def __init__(self, name: str, backend: Backend, hear: Callable[[_Input, tuple[int, ...], float], None]) -> None:
        self.name = name
        self._clock, self._bytes, self._hear = DriverClock(), Bytes(), hear
        self._port: OpenPort = backend.open_input(name, self._arrived)

    def _arrived(self, data: Sequence[int], delta: float | None) -> None:
        at = self._clock.stamp(delta, now())
        for message in self._bytes.feed(data):
            self._hear(self, message, at)

    def close(self) -> None:
        self._port.close()


class Ports:
    """The MIDI ports of this machine, for the program's life.

    Events of all open inputs come into `events`, their times on the clock of `trainer.listening.clock.now`.

    Parameters
    ----------
    wanted : sequence of str
        Names, or parts of names, of the inputs to hear; when empty every instrument that is there or comes.
    wake : callable, optional
        Called after every arrival, from the port's thread.
    backend : Backend, optional
        Found by itself when left out.
    told : callable, optional
        Given every event before it is in `events`, by the port's thread.
    """

    def __init__(
        self,
        wanted: Sequence[str] = (),
        wake: Callable[[], None] | None = None,
        backend: Backend | None = None,
        told: Callable[[Event], None] | None = None,
    ) -> None:
        self.events: SimpleQueue[Event] = SimpleQueue()
        self.wake = wake
        self._told = told
        self.last: tuple[str, Press] | None = None
        # Whether a message that comes in, and when, is one the program itself has sent and hears again.
        self.is_ours: Callable[[tuple[int, ...], float], bool] = lambda *_: False
        self._wanted = tuple(wanted)
        self._backend = open_backend() if backend is None else backend
        self._chosen = backend is not None
        self._keyboard = Keyboard()
        self._lock = threading.Lock()
        self._open: dict[str, _Input] = {}
        self._lost: set[str] = set()
        # Lost with the driver named: whether they are gone themselves shows once it works again.
        self._untold: dict[str, str] = {}
        self._refused: set[str] = set()
        self._said = ""
        self._looked = self._retried = float("-inf")

    @property
    def driver(self) -> str:
        """The driver's name in words; empty when there is no MIDI."""
        return self._backend.words

    @property
    def trouble(self) -> str:
        """Why no piano is heard, as far as the player can mend it, in one sentence; empty while one is heard."""
        return "" if self._open else trouble()

    @property
    def hearing(self) -> tuple[str, ...]:
        """The inputs that are open, by name."""
        return tuple(one.name for one in self._open.values())

    @property
    def down(self) -> tuple[int, ...]:
        """The keys that are down now, over all inputs."""
        with self._lock:
            return self._keyboard.down

    def names(self) -> list[str]:
        """The inputs there are, our own and the system's pass-through left out."""
        return [name for name in self._backend.inputs() if is_piano(name)]

    def outputs(self) -> list[str]:
        """The outputs there are, in the same way."""
        return [name for name in self._backend.outputs() if is_piano(name)]

    def open_output(self, wanted: str) -> OpenOutput:
        """Open an output by its name or a part of it; raises `PortRefused` in one sentence."""
        listed = self.outputs()
        name = find_port(wanted, listed)
        if name is None:
            there = f"there are: {', '.join(map(shown_name, listed))}" if listed else "there is none"
            raise PortRefused(f"There is no MIDI output named like '{wanted}'; {there}.")
        return self._backend.open_output(name)

    def linked(self, name: str) -> bool:
        """Whether the port of this name is still joined to one of ours, where the driver can say; True otherwise."""
        return self._backend.linked(name)

    def alive(self) -> bool:
        """Whether the driver still works, where it can say; when not, every port it had opened is lost."""
        return self._backend.alive()

    def renew(self, idle: bool) -> None:
        """Look for a driver anew where this one is dead; where nothing is open (`idle`), too, now and then."""
        moment = now()
        if self._chosen or (self._backend.alive() and not (idle and moment - self._retried > RETRY_S)):
            return
        self._retried = moment
        self._backend.close()
        self._backend = open_backend()

    def listen(self, wanted: Sequence[str]) -> list[str]:
        """Hear other inputs from now on: names or parts of names, none for every instrument; gives quiet lines."""
        self._wanted = tuple(wanted)
        self._refused.clear()
        for key, one in list(self._open.items()):
            if not self._is_wanted(one.name):
                self._drop(key)
        return self.watch(at_once=True)

    def pending(self) -> list[Event]:
        """The events that have come in since the last call."""
        found: list[Event] = []
        try:
            while True:
                found.append(self.events.get_nowait())
        except Empty:
            return found

    def watch(self, at_once: bool = False) -> list[str]:
        """Look which ports came and went; call it from the main loop as often as you like.

        Returns
        -------
        list of str
            Quiet lines for the player, mostly none. It looks once a second, or `at_once`.
        """
        moment = now()
        if not at_once and moment - self._looked < LOOK_S:
            return []
        self._looked = moment
        dead = [] if self._backend.alive() else list(self._open)
        for key in dead:
            self._drop(key)
            self._lost.add(key)
            self._untold[key] = self.driver
        driver = self.driver
        self.renew(idle=not self._open and not self.names())
        names = self.names()
        lines = self._lose(names) + self._find(names)
        if dead and not self._open and not trouble():
            lines.append(f"{driver} has ended: start it again and play on.")
        lines += self._tell_gone()
        before, self._said = self._said, self.trouble
        return [*lines, self._said] if self._said not in ("", before) else lines

    def close(self) -> None:
        """Close every port; afterwards the object is of no more use."""
        for key in list(self._open):
            self._drop(key)
        self._backend.close()

    def _is_wanted(self, name: str) -> bool:
        return not self._wanted or any(find_port(wish, [name]) for wish in self._wanted)

    def _lose(self, names: list[str]) -> list[str]:
        lines = []
        for key, one in list(self._open.items()):
            if one.name in names and self._backend.linked(one.name):
                continue
            self._drop(key)
            self._lost.add(key)
            if one.name not in names:
                lines.append(_gone(one.name))
        self._refused &= set(names)
        return lines

    def _tell_gone(self) -> list[str]:
        """What was lost with the driver and is not there now that the same one works again."""
        back = [key for key, driver in self._untold.items() if driver == self.driver]
        return [_gone(key) for key in back if self._untold.pop(key) and key in self._lost]

    def _find(self, names: list[str]) -> list[str]:
        lines = []
        for name in names:
            if any(one.name == name for one in self._open.values()) or not self._is_wanted(name):
                continue
            # Two pianos of one make share the name without numbers; each keeps a key of its own.
            key = stable_name(name) if stable_name(name) not in self._open else name
            try:
                self._open[key] = _Input(name, self._backend, self._hear)
            except PortRefused as refusal:
                if name not in self._refused:
                    lines.append(str(refusal))
                    self._refused.add(name)
                continue
            back = key in self._lost
            self._lost.discard(key)
            lines.append(f"{shown_name(name)} is {'back' if back else 'connected'}.")
        return lines

    def _drop(self, key: str) -> None:
        """Close an input and let go of every key it held."""
        one = self._open.pop(key)
        one.close()
        with self._lock:
            released = self._keyboard.let_go(now(), id(one))
        self._deliver(released)

    def _hear(self, source: _Input, message: tuple[int, ...], at: float) -> None:
        if self.is_ours(message, at):
            return
        with self._lock:
            found = self._keyboard.hear(message, at, id(source))
        for event in found:
            if isinstance(event, Press):
                self.last = (source.name, event)
        self._deliver(found)

    def _deliver(self, found: Sequence[Event]) -> None:
        for event in found:
            if self._told:
                self._told(event)
            self.events.put(event)
        if found and self.wake:
            self.wake()
