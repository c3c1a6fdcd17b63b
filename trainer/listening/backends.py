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
from typing import Any

from trainer.listening.jack import CLIENT, JACK_HANGS, hangs
from trainer.listening.jackports import over_jack
from trainer.listening.quiet import hushed, load_pygame
from trainer.listening.wire import (
    POLL_S,
    QUEUED,
    Backend,
    FetchedInput,
    Hear,
    OpenOutput,
    OpenPort,
    PortRefused,
    RtmidiPort,
    closed,
    no_port,
)

# Names a user may put into KEYFARER_MIDI to choose the driver, in the order they are tried.
DRIVERS = ("coremidi", "windows", "alsa", "jack", "pygame")
_DRIVER_WORDS = {
    "coremidi": "Core MIDI", "windows": "Windows MIDI", "alsa": "ALSA", "pygame": "PortMidi",
}  # fmt: skip


class Probe:
    """A client of python-rtmidi's that only looks which ports there are."""

    def __init__(self, client: Any) -> None:
        self._client = client
        self._names: list[str] = []

    def names(self) -> list[str]:
        """The ports there are; those of the look before where one goes while they are listed, which is an error."""
        with contextlib.suppress(OSError, ValueError, RuntimeError):
            self._names = list(self._client.get_ports())
        return self._names[:]

    def close(self) -> None:
        closed(self._client)


class RtmidiBackend:
    """python-rtmidi over one of its drivers other than JACK; raises OSError when the driver cannot be had."""

    def __init__(self, driver: str) -> None:
        import rtmidi

        apis = {"coremidi": rtmidi.API_MACOSX_CORE, "windows": rtmidi.API_WINDOWS_MM, "alsa": rtmidi.API_LINUX_ALSA}
        if apis[driver] not in rtmidi.get_compiled_api():
            raise PortRefused(f"python-rtmidi has no {_DRIVER_WORDS[driver]} here.")
        if driver == "alsa" and not pathlib.Path("/dev/snd/seq").exists():
            raise PortRefused("ALSA has no sequencer here.")
        self._rtmidi, self._api = rtmidi, apis[driver]
        self.words = _DRIVER_WORDS[driver]
        with hushed():
            self._probe_in = Probe(rtmidi.MidiIn(self._api, CLIENT))
            self._probe_out = Probe(rtmidi.MidiOut(self._api, CLIENT))

    def inputs(self) -> list[str]:
        return self._probe_in.names()

    def outputs(self) -> list[str]:
        return self._probe_out.names()

    def open_input(self, name: str, hear: Hear) -> OpenPort:
        port = self._opened(self._rtmidi.MidiIn, name, "in", QUEUED)
        # Clock and active sensing are asked for, too: a message the driver drops takes its share of time along.
        port.ignore_types(sysex=False, timing=False, active_sense=False)
        return FetchedInput(port, hear)

    def open_output(self, name: str) -> OpenOutput:
        return RtmidiPort(self._opened(self._rtmidi.MidiOut, name, "out"))

    def linked(self, name: str) -> bool:
        return True

    def alive(self) -> bool:
        return True

    def close(self) -> None:
        for probe in (self._probe_in, self._probe_out):
            probe.close()

    def _opened(self, kind: Any, name: str, label: str, *more: int) -> Any:
        port = None
        try:
            with hushed():
                port = kind(self._api, CLIENT, *more)
                port.open_port(port.get_ports().index(name), label)
        except (OSError, ValueError, RuntimeError) as refusal:
            if port is not None:
                port.delete()
            raise no_port(name) from refusal
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
                time.sleep(POLL_S)

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
        load_pygame()
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
            raise no_port(name) from refusal
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


_OTHERS: dict[str, Callable[[], Backend]] = {"pygame": PygameBackend, "jack": over_jack}


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
            return _OTHERS[driver]() if driver in _OTHERS else RtmidiBackend(driver)
    return NoBackend()
