"""The ways to a MIDI port: python-rtmidi over the system's own driver, else pygame's PortMidi through mido, else none.

One probing client lives as long as the program: a client per look ends in ALSA's "cannot allocate memory".
"""

from __future__ import annotations

import contextlib
import os
import pathlib
import threading
import time
from collections.abc import Callable, Sequence
from typing import Any, Protocol

from trainer.listening.jack import CLIENT, JackLinks, answers, hangs, hushed, is_there, leave

# Names a user may put into KEYFARER_MIDI to choose the driver, in the order they are tried.
DRIVERS = ("coremidi", "windows", "alsa", "jack", "pygame")
_DRIVER_WORDS = {
    "coremidi": "Core MIDI", "windows": "Windows MIDI", "alsa": "ALSA", "jack": "JACK", "pygame": "PortMidi",
}  # fmt: skip
_POLL_S = 0.001
# How the keepers of an output that are started from now on are told that JACK servers were lost, and how many.
_LOST = "KEYFARER_JACK_LOST"
# Messages a driver may keep until they are fetched: ten seconds at ten times the speed of a MIDI cable; USB is faster.
QUEUED = 100_000

# What a port hands over: bytes, and seconds since its last message where the driver says so.
Hear = Callable[[Sequence[int], float | None], None]


JACK_HANGS = "The JACK server does not answer: start it anew."


class PortRefused(OSError):
    """A port is not there or does not open; the text is one sentence."""


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


def _close(client: Any) -> None:
    with contextlib.suppress(Exception):
        client.close_port()
    client.delete()


class _RtmidiPort:
    def __init__(self, port: Any, close: Callable[[Any], None] = _close) -> None:
        self._port, self._close = port, close
        self._open = True

    def send(self, data: Sequence[int]) -> None:
        self._port.send_message(list(data))

    def close(self) -> None:
        # A client deleted twice crashes the library.
        if self._open:
            self._open = False
            self._close(self._port)


class FetchedInput(_RtmidiPort):
    """An input of python-rtmidi's, open, whose messages the driver queues by itself and a thread of ours fetches.

    Called back, the driver's thread would wait for the interpreter. JACK loses what arrives in a round it is late for,
    and on every driver closing the port waits for that thread and holds the interpreter meanwhile: a message that came
    in at that moment would stop the program for good.
    """

    def __init__(self, port: Any, hear: Hear, close: Callable[[Any], None] = _close) -> None:
        super().__init__(port, close)
        self._hear = hear
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._run, name="midi in", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        fetch = self._port.get_message
        while not self._closing.is_set():
            while heard := fetch():
                self._hear(heard[0], heard[1])
            time.sleep(_POLL_S)

    def close(self) -> None:
        self._closing.set()
        if self._thread is not threading.current_thread():
            self._thread.join()
        super().close()


class Probe:
    """A client of python-rtmidi's that only looks which ports there are."""

    def __init__(self, client: Any, close: Callable[[Any], None] = _close) -> None:
        self._client, self._close = client, close
        self._names: list[str] = []

    def names(self) -> list[str]:
        """The ports there are; those of the look before where one goes while they are listed, which is an error."""
        with contextlib.suppress(OSError, ValueError, RuntimeError):
            self._names = list(self._client.get_ports())
        return self._names[:]

    def close(self) -> None:
        self._close(self._client)


class RtmidiBackend:
    """python-rtmidi over one of its drivers; raises OSError when the driver cannot be had.

    What was opened on a JACK server that hangs or is dead is left as it is: closing it would stop the program for good,
    or crash it. Of what is left a thread goes on waiting for its round by its name, so that whatever is opened
    afterwards, by a keeper of the output too, has another one.
    """

    def __init__(self, driver: str) -> None:
        import rtmidi

        apis = {"coremidi": rtmidi.API_MACOSX_CORE, "windows": rtmidi.API_WINDOWS_MM,
                "alsa": rtmidi.API_LINUX_ALSA, "jack": rtmidi.API_UNIX_JACK}  # fmt: skip
        if apis[driver] not in rtmidi.get_compiled_api():
            raise PortRefused(f"python-rtmidi has no {_DRIVER_WORDS[driver]} here.")
        if driver == "alsa" and not pathlib.Path("/dev/snd/seq").exists():
            raise PortRefused("ALSA has no sequencer here.")
        if driver == "jack" and not answers():
            raise PortRefused(JACK_HANGS)
        lost = os.environ.get(_LOST, "") if driver == "jack" else ""
        self._name = f"{CLIENT}.{lost}" if lost else CLIENT
        self._alive = True
        self._rtmidi, self._api = rtmidi, apis[driver]
        self.words = _DRIVER_WORDS[driver]
        with hushed():
            self._probe_in = Probe(rtmidi.MidiIn(self._api, self._name), self._close)
            self._probe_out = Probe(rtmidi.MidiOut(self._api, self._name), self._close)
        self._links = JackLinks(self._name) if driver == "jack" else None

    def inputs(self) -> list[str]:
        return self._probe_in.names()

    def outputs(self) -> list[str]:
        return self._probe_out.names()

    def open_input(self, name: str, hear: Hear) -> OpenPort:
        port = self._opened(self._rtmidi.MidiIn, name, "in", QUEUED)
        # Clock and active sensing are asked for, too: a message the driver drops takes its share of time along.
        port.ignore_types(sysex=False, timing=False, active_sense=False)
        return FetchedInput(port, hear, self._close)

    def open_output(self, name: str) -> OpenOutput:
        return _RtmidiPort(self._opened(self._rtmidi.MidiOut, name, "out"), self._close)

    def linked(self, name: str) -> bool:
        return self._links is None or self._links.joined(name)

    def alive(self) -> bool:
        if self._alive and self._links is not None and not self._links.alive():
            self._alive = False
            os.environ[_LOST] = str(int(os.environ.get(_LOST, "1")) + 1)
        return self._alive

    def close(self) -> None:
        for probe in (self._probe_in, self._probe_out):
            probe.close()
        if self._links and self._answers():
            self._links.close()

    def _answers(self) -> bool:
        return self.alive() and (self._links is None or is_there())

    def _close(self, client: Any) -> None:
        if self._answers():
            _close(client)
        else:
            leave(client)

    def _opened(self, kind: Any, name: str, label: str, *more: int) -> Any:
        if self._links and not answers():
            raise PortRefused(JACK_HANGS)
        port = None
        try:
            with hushed():
                port = kind(self._api, self._name, *more)
                port.open_port(port.get_ports().index(name), label)
        except (OSError, ValueError, RuntimeError) as refusal:
            if port is not None:
                port.delete()
            raise PortRefused(f"{name} does not open; another program may be using it.") from refusal
        return port


class _PygameInput:
    def __init__(self, port: Any, hear: Hear) -> None:
        self._port, self._hear = port, hear
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._run, name="midi in", daemon=True)
        self._thread.start()

    @property
    def alive(self) -> bool:
        return self._thread.is_alive()

    def _run(self) -> None:
        # PortMidi's errors have no class of their own; the thread's end tells that the port is lost.
        with contextlib.suppress(Exception):
            while not self._closing.is_set():
                for message in self._port.iter_pending():
                    self._hear(message.bytes(), None)
                time.sleep(_POLL_S)

    def close(self) -> None:
        self._closing.set()
        self._thread.join()
        with contextlib.suppress(Exception):
            self._port.close()


class _PygameOutput:
    def __init__(self, port: Any) -> None:
        self._port = port

    def send(self, data: Sequence[int]) -> None:
        import mido

        try:
            self._port.send(mido.Message.from_bytes(data))
        except Exception as refusal:
            raise PortRefused("The MIDI output is gone.") from refusal

    def close(self) -> None:
        with contextlib.suppress(Exception):
            self._port.close()


class PygameBackend:
    """pygame's PortMidi through mido, for systems python-rtmidi has no wheel for."""

    words = _DRIVER_WORDS["pygame"]

    def __init__(self) -> None:
        os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
        import mido

        self._mido = mido.Backend("mido.backends.pygame", load=True)
        self._open = 0
        self._heard: dict[str, _PygameInput] = {}
        self.inputs()

    def inputs(self) -> list[str]:
        self._look_again()
        with hushed():
            return list(dict.fromkeys(self._mido.get_input_names()))

    def outputs(self) -> list[str]:
        # The keeper of an output asks for these alone.
        self._look_again()
        with hushed():
            return list(dict.fromkeys(self._mido.get_output_names()))

    def open_input(self, name: str, hear: Hear) -> OpenPort:
        port = _PygameInput(self._opened(self._mido.open_input, name), hear)
        self._count(port)
        self._heard[name] = port
        return port

    def open_output(self, name: str) -> OpenOutput:
        port = _PygameOutput(self._opened(self._mido.open_output, name))
        self._count(port)
        return port

    def linked(self, name: str) -> bool:
        return name not in self._heard or self._heard[name].alive

    def alive(self) -> bool:
        return True

    def close(self) -> None:
        import pygame.midi

        pygame.midi.quit()

    def _look_again(self) -> None:
        """PortMidi lists its ports once; it can be made to look again only while none is open."""
        if not self._open:
            self.close()

    def _opened(self, opener: Callable[[str], Any], name: str) -> Any:
        try:
            with hushed():
                port = opener(name)
        except Exception as refusal:  # PortMidi's errors have no class of their own.
            raise PortRefused(f"{name} does not open; another program may be using it.") from refusal
        return port

    def _count(self, port: Any) -> None:
        close = port.close
        self._open += 1

        def closing() -> None:
            self._open -= 1
            close()

        port.close = closing


class NoBackend:
    """No MIDI on this machine."""

    words = ""

    def inputs(self) -> list[str]:
        return []

    def outputs(self) -> list[str]:
        return []

    def open_input(self, name: str, hear: Hear) -> OpenPort:
        raise PortRefused(f"{name} does not open: there is no MIDI on this machine.")

    def open_output(self, name: str) -> OpenOutput:
        raise PortRefused(f"{name} does not open: there is no MIDI on this machine.")

    def linked(self, name: str) -> bool:
        return True

    def alive(self) -> bool:
        return True

    def close(self) -> None:
        """Nothing to close."""


def trouble() -> str:
    """What keeps a driver from being used and the player can mend, in one sentence; empty when there is nothing."""
    chosen = os.environ.get("KEYFARER_MIDI", "")
    if chosen and chosen not in DRIVERS:
        return f"KEYFARER_MIDI={chosen} names no driver: there are {', '.join(DRIVERS)}."
    return JACK_HANGS if hangs() else ""


def open_backend(drivers: Sequence[str] = ()) -> Backend:
    """The first driver that can be had.

    Parameters
    ----------
    drivers : sequence of str
        Of `DRIVERS`, in the order to try; when empty, what ``KEYFARER_MIDI`` names, else all.
    """
    chosen = os.environ.get("KEYFARER_MIDI", "")
    for driver in drivers or ([chosen] if chosen in DRIVERS else DRIVERS):
        # ImportError: no python-rtmidi, or a wheel whose system library is missing. RuntimeError: pygame.error.
        with contextlib.suppress(ImportError, OSError, RuntimeError):
            return PygameBackend() if driver == "pygame" else RtmidiBackend(driver)
    return NoBackend()
