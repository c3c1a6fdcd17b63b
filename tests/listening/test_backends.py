"""The way through PortMidi, its library stood in for: the machine of the tests has no sequencer it could open."""

from __future__ import annotations

import signal
import subprocess
import sys
import threading
import time
import types
from collections.abc import Iterator
from typing import Any

import mido
import pytest

from tools.servers import ended, jack_started
from trainer.listening import jack as jack_itself
from trainer.listening import ports as ports_itself
from trainer.listening.backends import DRIVERS, NoBackend, Probe, PygameBackend, open_backend
from trainer.listening.jack import JACK_HANGS
from trainer.listening.ports import Ports
from trainer.listening.press import Pedal, Press, Release
from trainer.listening.wire import Backend, Hear, OpenPort, PortRefused
from trainer.sounding.outlet import Outlet


class Library:
    """What mido's pygame back end offers, with one piano that can be pulled out."""

    def __init__(self) -> None:
        self.waiting: list[mido.Message] = []
        self.there = True
        self.sent: list[mido.Message] = []

    def get_input_names(self) -> list[str]:
        return ["Piano", "Piano"] if self.there else []

    get_output_names = get_input_names

    def open_input(self, name: str) -> Library:
        return self

    open_output = open_input

    def iter_pending(self) -> Iterator[mido.Message]:
        if not self.there:
            raise RuntimeError("PortMidi: host error")
        while self.waiting:
            yield self.waiting.pop(0)

    def send(self, message: mido.Message) -> None:
        if not self.there:
            raise RuntimeError("PortMidi: host error")
        self.sent.append(message)

    def close(self) -> None:
        """Nothing to close."""


@pytest.fixture
def library(monkeypatch: pytest.MonkeyPatch) -> Library:
    made = Library()
    monkeypatch.setattr(mido, "Backend", lambda *_, **__: made)
    return made


def wait(ports: Ports, count: int) -> list[Any]:
    found: list[Any] = []
    until = time.monotonic() + 60
    while len(found) < count and time.monotonic() < until:
        found += ports.pending()
        time.sleep(0.002)
    return found


def test_a_piano_is_heard_lost_and_found_again(library: Library) -> None:
    ports = Ports(backend=PygameBackend())
    assert ports.watch(at_once=True) == ["Piano is connected."]
    library.waiting = [mido.Message("note_on", note=60, velocity=5)]
    assert [(type(event), event.pitch) for event in wait(ports, 1)] == [(Press, 60)]
    library.there = False
    lines: list[str] = []
    until = time.monotonic() + 60
    while not lines and time.monotonic() < until:
        lines = ports.watch(at_once=True)
    assert lines == ["Piano is gone; plug it in again and play on."]
    assert [(type(event), event.pitch) for event in wait(ports, 1)] == [(Release, 60)]
    library.there = True
    assert ports.watch(at_once=True) == ["Piano is back."]
    ports.close()


def test_an_output_that_goes_is_an_error_in_words(library: Library) -> None:
    backend = PygameBackend()
    port = backend.open_output("Piano")
    port.send([0x90, 60, 64])
    assert library.sent == [mido.Message("note_on", note=60, velocity=64)]
    library.there = False
    with pytest.raises(PortRefused, match="gone"):
        port.send([0x90, 60, 0])
    port.close()
    backend.close()


def test_an_output_that_went_sounds_again_when_it_is_back(library: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    # As PortMidi does: what it knows is of its first look, until it is ended and looks again.
    known: list[tuple[int, list[str]]] = []
    plugged = 0

    def names() -> list[str]:
        if not known:
            known.append((plugged, ["Piano"] if library.there else []))
        return known[0][1]

    def opened(_: str) -> Library:
        if known[0][0] != plugged:
            raise RuntimeError("PortMidi: invalid device")
        return library

    for name, stand_in in (("get_input_names", names), ("get_output_names", names), ("open_output", opened)):
        monkeypatch.setattr(library, name, stand_in)
    monkeypatch.setattr("pygame.midi.quit", known.clear)
    monkeypatch.setattr("trainer.sounding.outlet.SETTLE_S", 0.0)
    library.there = False
    keeper = Outlet("Piano", Ports(backend=PygameBackend()))
    for library.there in (True, False, True):
        plugged += 1
        keeper._look()
        keeper.obey("now 903c40")
    assert [message.note for message in library.sent if message.type == "note_on"] == [60, 60]


class Wires(NoBackend):
    """Pianos named as ALSA names them; one may be in another program's hands."""

    def __init__(self, *names: str) -> None:
        self.names, self.taken = list(names), ""
        self.heard: dict[str, Hear] = {}

    def inputs(self) -> list[str]:
        return self.names

    def open_input(self, name: str, hear: Hear) -> OpenPort:
        if name == self.taken:
            raise PortRefused(f"{name} does not open; another program may be using it.")
        self.heard[name] = hear
        return self


def test_two_pianos_of_one_name_are_both_heard_and_one_may_go() -> None:
    wires = Wires("Stage:Stage MIDI 1 28:0", "Stage:Stage MIDI 1 32:0")
    ports = Ports(backend=wires)
    assert len(ports.watch(at_once=True)) == 2
    for at, hear in enumerate(wires.heard.values()):
        hear([0x90, 60 + at, 64], None)
    assert [event.pitch for event in ports.pending() if isinstance(event, Press)] == [60, 61]
    assert ports.hearing == ("Stage:Stage MIDI 1 28:0", "Stage:Stage MIDI 1 32:0")
    wires.names = wires.names[1:]
    assert ports.watch(at_once=True) == ["Stage MIDI 1 is gone; plug it in again and play on."]
    assert ports.hearing == ("Stage:Stage MIDI 1 32:0",)
    assert [(type(event), event.pitch) for event in ports.pending() if not isinstance(event, Pedal)] == [(Release, 60)]


def test_a_piano_that_does_not_open_is_told_once_each_time_it_is_plugged_in() -> None:
    wires = Wires("Stage")
    wires.taken = "Stage"
    ports = Ports(backend=wires)
    lines = [ports.watch(at_once=True) for _ in range(2)]
    wires.names = []
    lines.append(ports.watch(at_once=True))
    wires.names = ["Stage"]
    lines.append(ports.watch(at_once=True))
    refused = ["Stage does not open; another program may be using it."]
    assert lines == [refused, [], [], refused]


def test_a_port_that_goes_while_the_ports_are_listed_is_seen_to_have_gone_at_the_next_look() -> None:
    """python-rtmidi counts the ports and then asks for each by its number."""

    class Client:
        ports: list[str] | None = None

        def get_ports(self) -> list[str]:
            if self.ports is None:
                raise ValueError("MidiInJack::getPortName: the 'portNumber' argument (1) is invalid.")
            return self.ports

    client = Client()
    probe = Probe(client)
    assert probe.names() == []
    client.ports = ["Stage", "Grand"]
    assert probe.names() == ["Stage", "Grand"]
    client.ports = None
    assert probe.names() == ["Stage", "Grand"]
    client.ports = ["Stage"]
    assert probe.names() == ["Stage"]


def test_the_driver_can_be_chosen(monkeypatch: pytest.MonkeyPatch, library: Library) -> None:
    monkeypatch.setenv("KEYFARER_MIDI", "pygame")
    assert open_backend().words == "PortMidi"
    assert "pygame" in DRIVERS


def test_the_library_of_jack_is_found_in_a_folder_of_any_name(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever letters and spaces the home of the program has, and whatever the locale says of them."""
    path = "/home/Zoë Öhm/keyfarer/.venv/lib/libjack-5305d520.so.0.1.0"
    maps = (
        f"7f00-7f01 r-xp 00000000 08:01 1234      /usr/lib/libc.so.6\n7f02-7f03 r-xp 00000000 08:01 1235      {path}\n"
    )
    loaded: list[str] = []

    class Loaded:
        def __getattr__(self, name: str) -> types.SimpleNamespace:
            return types.SimpleNamespace()

    monkeypatch.setattr("pathlib.Path.read_bytes", lambda _: maps.encode())
    monkeypatch.setattr("ctypes.CDLL", lambda name: loaded.append(name) or Loaded())  # type: ignore[func-returns-value]
    assert jack_itself._library() is not None
    assert loaded == [path]


def test_a_question_to_jack_that_hangs_is_waited_for_once(monkeypatch: pytest.MonkeyPatch) -> None:
    hanging = threading.Event()
    monkeypatch.setattr(jack_itself, "_asking", None)
    monkeypatch.setattr(jack_itself, "_ask", hanging.wait)
    monkeypatch.setattr(jack_itself, "PATIENCE_S", 0.2)
    assert not jack_itself.answers()
    # It hangs still, and nobody waits for it again: that would take ten minutes.
    monkeypatch.setattr(jack_itself, "PATIENCE_S", 600.0)
    told: list[bool] = []
    again = threading.Thread(target=lambda: told.append(jack_itself.answers()), daemon=True)
    again.start()
    again.join(60.0)
    assert told == [False]
    hanging.set()
    assert jack_itself._asking is not None
    jack_itself._asking.join()
    assert jack_itself.answers()


def test_a_jack_server_that_hangs_is_named_to_the_player_once_until_a_piano_is_heard(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    hanging = threading.Event()
    asking = threading.Thread(target=hanging.wait, daemon=True)
    asking.start()
    monkeypatch.setattr(jack_itself, "_asking", asking)
    wires = Wires()
    ports = Ports(backend=wires)
    assert ports.watch(at_once=True) == [JACK_HANGS]
    assert ports.watch(at_once=True) == []
    assert ports.trouble == JACK_HANGS
    wires.names = ["Stage"]
    assert ports.watch(at_once=True) == ["Stage is connected."]
    assert ports.trouble == ""
    wires.names = []
    assert ports.watch(at_once=True)[1:] == [JACK_HANGS]
    hanging.set()
    asking.join()
    assert (ports.watch(at_once=True), ports.trouble) == ([], "")


class Rounds:
    """JACK's library, as far as one client asks it; its server can stand still for a while and reply all the same."""

    def __init__(self) -> None:
        self.stands = False
        self.clients = self._round = 0

    def jack_client_open(self, *_: object) -> int:
        self.clients += 1
        return self.clients

    def jack_last_frame_time(self, _: int) -> int:
        self._round += not self.stands
        return self._round

    def jack_get_client_name(self, _: int) -> bytes:
        return b"keyfarer-links"

    def jack_get_uuid_for_client_name(self, *_: object) -> int:
        return 1

    def jack_free(self, _: int) -> None:
        """Nothing to free."""


@pytest.fixture
def rounds(monkeypatch: pytest.MonkeyPatch) -> Rounds:
    library = Rounds()
    monkeypatch.setattr(jack_itself, "_library", lambda: library)
    monkeypatch.setattr(jack_itself, "_links", None)
    monkeypatch.setattr(jack_itself, "_asking", None)
    monkeypatch.setenv("KEYFARER_JACK_LOST", "1")
    return library


def test_a_jack_server_that_stood_still_and_goes_on_is_lost_once(
    rounds: Rounds, monkeypatch: pytest.MonkeyPatch
) -> None:
    lost = jack_itself.links()
    assert lost is not None
    rounds.stands = True
    with monkeypatch.context() as patience:
        patience.setattr(jack_itself, "STILL_S", 0.0)
        assert not lost.alive()
    rounds.stands = False
    found = jack_itself.links()
    assert found is not None
    assert found.alive()
    assert jack_itself.links() is found
    assert rounds.clients == 2


class Stalling(Wires):
    """Wires that stand still at times, as a server does for a while when another program on it crashes."""

    words = "JACK"
    is_alive = True

    def alive(self) -> bool:
        return self.is_alive


def test_a_piano_that_went_while_its_driver_stood_still_is_told_once_the_driver_works_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(ports_itself, "RETRY_S", -1.0)
    wires = Stalling("Stage", "Attic")
    there: list[Backend] = [wires]
    monkeypatch.setattr(ports_itself, "open_backend", lambda: there[-1])
    ports = Ports()
    assert ports.watch(at_once=True) == ["Stage is connected.", "Attic is connected."]
    wires.is_alive = False
    there.append(NoBackend())
    assert ports.watch(at_once=True) == ["JACK has ended: start it again and play on."]
    assert ports.watch(at_once=True) == []
    there.append(Stalling("Attic"))
    assert ports.watch(at_once=True) == ["Attic is back.", "Stage is gone; plug it in again and play on."]
    assert ports.watch(at_once=True) == []


@pytest.mark.system
def test_a_jack_server_that_hangs_is_refused_and_holds_nobody_up(jack: str, monkeypatch: pytest.MonkeyPatch) -> None:
    name = f"{jack}-hanging"
    monkeypatch.setenv("JACK_DEFAULT_SERVER", name)
    program = (
        "from trainer.listening.jackports import JackBackend\nfrom trainer.listening.wire import PortRefused\n"
        "try:\n    JackBackend()\n    print('there')\n"
        "except PortRefused as why:\n    print(why)\n"
    )

    def said() -> str:
        # Held up, it would be so for as long as the server hangs.
        done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, timeout=60, check=False)
        return done.stdout.strip()

    server = jack_started(name)
    try:
        assert said() == "there"
        server.send_signal(signal.SIGSTOP)
        assert said() == "The JACK server does not answer: start it anew."
    finally:
        ended(server)
