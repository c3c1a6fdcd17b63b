"""Real ports over a JACK server: a key pressed travels through python-rtmidi to an event."""

from __future__ import annotations

import os
import pathlib
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from trainer.listening.backends import NoBackend, open_backend
from trainer.listening.clock import now
from trainer.listening.jack import JACK_HANGS, links
from trainer.listening.jackports import JackBackend
from trainer.listening.ports import Ports, find_port, is_piano, output_for
from trainer.listening.press import Event, Pedal, Press, Release
from trainer.listening.wire import Backend, PortRefused

pytestmark = pytest.mark.system
ROOT = pathlib.Path(__file__).resolve().parents[2]
WAIT_S = 60.0


def over_jack() -> Backend:
    """The way over JACK, as soon as its server, on a crowded machine, answers in time."""
    until = time.monotonic() + WAIT_S
    while (backend := open_backend(["jack"])).words != "JACK":
        assert time.monotonic() < until
    return backend


@pytest.fixture
def ports(jack: str) -> Iterator[Ports]:
    made = Ports(backend=over_jack())
    yield made
    made.close()


def heard(ports: Ports, count: int) -> list[Event]:
    """The next `count` events, or as many as come in time."""
    found: list[Event] = []
    until = time.monotonic() + WAIT_S
    while len(found) < count and time.monotonic() < until:
        found += ports.pending()
        time.sleep(0.002)
    return found


def struck(ports: Ports, keys: Any, pitch: int) -> Event:
    """What one key press becomes; struck again after a while, for a server on a crowded machine may lose one."""
    for _ in range(10):
        keys.press(pitch)
        until = time.monotonic() + 1.0
        while time.monotonic() < until:
            if found := ports.pending():
                return found[0]
            time.sleep(0.002)
    raise AssertionError(f"key {pitch} was never heard")


def look(ports: Ports, *hearing: str) -> list[str]:
    """Look until these inputs are open and no others, and what was said; a server on a crowded machine may be slow."""
    lines: list[str] = []
    until = time.monotonic() + WAIT_S
    while True:
        lines += [line for line in ports.watch(at_once=True) if line != JACK_HANGS]
        if sorted(ports.hearing) == sorted(hearing):
            return lines
        assert time.monotonic() < until, f"these are open: {ports.hearing}"
        time.sleep(0.05)


def join(ports: Ports, *pianos: Any) -> list[str]:
    """Look for ports and wait until keys of these pianos are heard: JACK joins ports a cycle or more after it says so.

    Gives the lines of the look; what is heard meanwhile is thrown away.
    """
    lines = look(ports, *(f"{keys.name}:keys" for keys in pianos))
    for keys in pianos:
        until = time.monotonic() + WAIT_S
        while ports.last is None or ports.last[0] != f"{keys.name}:keys":
            assert time.monotonic() < until
            keys.press(21, 1)
            keys.release(21)
            time.sleep(0.01)
        # What was pressed may still be on its way: the end of one more is waited for, and of another where it was lost.
        pitch, over = 21, False
        while not over:
            assert time.monotonic() < until
            pitch += 1
            keys.press(pitch, 1)
            keys.release(pitch)
            again = time.monotonic() + 1.0
            while not over and time.monotonic() < again:
                over = any(isinstance(event, Release) and event.pitch == pitch for event in ports.pending())
                time.sleep(0.002)
    ports.last = None
    return lines


def test_a_port_closes_while_keys_come_in(jack: str, piano: Callable[[str], Any]) -> None:
    """Closing holds the interpreter and waits for the driver, which must not be waiting for the interpreter."""
    keys = piano("Busy Piano")
    over = threading.Event()

    def hammer() -> None:
        while not over.wait(0.0002):
            keys.press(60)

    hammering = threading.Thread(target=hammer)
    hammering.start()
    try:
        for _ in range(12):
            ports = Ports(["Busy"], backend=over_jack())
            join(ports, keys)
            ports.close()
    finally:
        over.set()
        hammering.join()


def test_instrument_after_instrument_is_heard_through_the_same_clients(
    jack: str, piano: Callable[[str], Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A client closed can end the program (jack2 1.9.22): those there are are joined to whatever is plugged in."""
    keys = piano("Test Piano")
    made: list[str] = []
    opened = JackBackend._opened

    def noted(*given: Any) -> Any:
        made.append(given[2])
        return opened(*given)

    monkeypatch.setattr(JackBackend, "_opened", noted)
    for pitch in range(60, 64):
        ports = Ports(backend=over_jack())
        join(ports, keys)
        assert getattr(struck(ports, keys, pitch), "pitch", 0) == pitch
        ports.close()
    # None, where a test before this one has left one idle.
    assert len(made) <= 1


def test_a_server_that_takes_no_more_ports_is_asked_again_by_the_same_client(
    jack: str, piano: Callable[[str], Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    class Full:
        """A client of a server that has no port left."""

        def open_virtual_port(self, name: str) -> None:
            raise RuntimeError("JACK error creating virtual port")

    piano("Test Piano")
    backend, made = over_jack(), []
    assert isinstance(backend, JackBackend)

    def new() -> Full:
        made.append(Full())
        return made[-1]

    for name, value in (("_in", new), ("_idle_ins", []), ("_clients", []), ("_bare", {})):
        monkeypatch.setattr(backend, name, value)
    for _ in range(3):
        with pytest.raises(PortRefused, match=r"takes no more ports\."):
            backend.open_input("Test Piano:keys", lambda data, delta: None)
    assert len(made) == 1


def test_a_program_that_ends_leaves_no_port_behind(jack: str, piano: Callable[[str], Any]) -> None:
    """For each client that ends without a word the server waits five seconds, and whoever comes next waits, too."""
    piano("Test Piano")
    program = (
        "import os\n"
        "from trainer.listening.ports import Ports\n"
        "ports = Ports()\n"
        "while not ports.hearing:\n    ports.watch(at_once=True)\n"
        "print(os.getpid(), ports.driver)\n"
    )
    environment = {**os.environ, "KEYFARER_MIDI": "jack"}
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, env=environment, capture_output=True, text=True, timeout=WAIT_S,
        check=True,
    )  # fmt: skip
    process, driver = done.stdout.split()
    there = subprocess.run(["jack_lsp"], capture_output=True, text=True, timeout=WAIT_S, check=True).stdout
    assert (driver, process in there, done.stderr) == ("JACK", False, "")


def test_a_server_that_goes_round_no_more_is_not_waited_for_for_ever(
    jack: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    over_jack()
    here = links()
    assert here is not None
    monkeypatch.setattr(here, "_rounds", lambda: 7)
    here.settle()


def test_a_key_pressed_becomes_a_press_with_a_time_on_our_clock(ports: Ports, piano: Callable[[str], Any]) -> None:
    keys = piano("Test Piano")
    assert join(ports, keys) == ["Test Piano:keys is connected."]
    before = now()
    keys.press(60, 71)
    keys.send(0xFE)
    keys.send(0xF8)
    keys.send(0xB3, 64, 127)
    keys.send(0x95, 60, 0)
    keys.release(60)
    press, pedal, release = heard(ports, 3)
    assert isinstance(press, Press)
    assert (press.pitch, press.velocity) == (60, 71)
    assert isinstance(pedal, Pedal)
    assert (pedal.pedal, pedal.value) == ("sustain", 127)
    assert isinstance(release, Release)
    assert before <= press.at <= pedal.at <= release.at <= now()
    assert ports.last == ("Test Piano:keys", press)


def test_a_piano_that_vanishes_and_comes_back_goes_on(ports: Ports, piano: Callable[[str], Any]) -> None:
    keys = piano("Test Piano")
    join(ports, keys)
    assert isinstance(struck(ports, keys, 64), Press)
    keys.close()
    assert look(ports) == ["Test Piano:keys is gone; plug it in again and play on."]
    assert [(type(event), getattr(event, "pitch", None)) for event in heard(ports, 1)] == [(Release, 64)]
    assert ports.down == ()
    keys = piano("Test Piano")
    assert join(ports, keys) == ["Test Piano:keys is back."]
    again = struck(ports, keys, 64)
    assert isinstance(again, Press)
    assert again.pitch == 64


def test_a_piano_re_made_between_two_looks_is_joined_again(ports: Ports, piano: Callable[[str], Any]) -> None:
    keys = piano("Test Piano")
    join(ports, keys)
    struck(ports, keys, 64)
    keys.close()
    keys = piano("Test Piano")
    lines: list[str] = []
    until = time.monotonic() + WAIT_S
    while not lines:
        assert time.monotonic() < until
        lines = [line for line in ports.watch(at_once=True) if line != JACK_HANGS]
    assert lines == ["Test Piano:keys is back."]
    assert [(type(event), getattr(event, "pitch", None)) for event in heard(ports, 1)] == [(Release, 64)]
    join(ports, keys)
    again = struck(ports, keys, 65)
    assert isinstance(again, Press)
    assert again.pitch == 65


def test_two_pianos_at_once_and_one_key_on_both_counts_once(ports: Ports, piano: Callable[[str], Any]) -> None:
    upper, lower = piano("Upper"), piano("Lower")
    assert len(join(ports, upper, lower)) == 2
    upper.press(60)
    lower.press(48)
    upper.press(72)
    lower.press(72)
    upper.press(50)
    pitches = [event.pitch for event in heard(ports, 4) if isinstance(event, Press)]
    assert sorted(pitches) == [48, 50, 60, 72]


def test_a_piano_is_chosen_by_a_part_of_its_name(ports: Ports, piano: Callable[[str], Any]) -> None:
    piano("Upper")
    piano("Lower")
    look(ports, "Upper:keys", "Lower:keys")
    ports.listen(["LOW"])
    look(ports, "Lower:keys")


def test_the_wake_callback_is_called_and_looks_are_now_and_then(
    ports: Ports, piano: Callable[[str], Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("trainer.listening.ports.LOOK_S", 1000.0)
    woken: list[float] = []
    ports.wake = lambda: woken.append(now())
    ports.watch(at_once=True)
    keys = piano("Test Piano")
    assert ports.watch() == []
    join(ports, keys)
    assert woken


def test_events_are_told_before_they_can_be_fetched(jack: str, piano: Callable[[str], Any]) -> None:
    told: list[Event] = []
    ports = Ports(backend=over_jack(), told=lambda event: told.append(event))
    keys = piano("told")
    join(ports, keys)
    event = struck(ports, keys, 60)
    assert any(one is event for one in told)
    ports.close()


def test_an_output_that_is_not_there_is_refused_in_one_sentence(ports: Ports) -> None:
    with pytest.raises(PortRefused, match=r"There is no MIDI output named like 'organ'; .*\.$"):
        ports.open_output("organ")


def test_without_midi_there_are_no_names_and_watching_is_quiet() -> None:
    ports = Ports(backend=NoBackend())
    assert (ports.names(), ports.outputs(), ports.watch(at_once=True), ports.driver) == ([], [], [], "")
    ports.close()


def test_without_a_sequencer_and_a_server_another_way_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "keyfarer-nobody")
    backend = open_backend(["jack", "pygame"])
    try:
        assert backend.words in ("PortMidi", "")
        assert isinstance(backend.inputs(), list)
    finally:
        backend.close()


def test_names_are_matched_across_a_driver_s_numbers() -> None:
    names = ["Midi Through:Midi Through Port-0 14:0", "Piano:Piano MIDI 1 28:0", "Organ 3"]
    assert find_port("Piano:Piano MIDI 1 20:0", names) == "Piano:Piano MIDI 1 28:0"
    assert find_port("Organ 0", names) == "Organ 3"
    assert find_port("piano", names) == "Piano:Piano MIDI 1 28:0"
    assert find_port("harp", names) is None
    assert [is_piano(name) for name in [*names, "keyfarer:out"]] == [False, True, True, False]
    assert output_for(["Piano:Piano MIDI 1 28:0"], names) == "Piano:Piano MIDI 1 28:0"
    assert output_for(["Organ 1"], names[:2]) is None
