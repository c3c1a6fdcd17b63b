"""What a cable can bring: random bytes, floods, more fingers than a hand has, ports that vanish, two pianos at once.

Random streams go through the decoder with what they mean known beforehand; the rest goes through real ports of a JACK
server of its own.
"""

from __future__ import annotations

import contextlib
import os
import random
import shutil
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

from tools.fault import seeds
from tools.fault.table import Row, percentile
from trainer.following.marks import RIGHT
from trainer.listening.clock import now
from trainer.listening.decode import DATA_BYTES, Bytes, Keyboard
from trainer.listening.ports import Ports, find_port, is_piano, shown_name, stable_name
from trainer.listening.press import Event, Press, Release
from trainer.music.transpose import plan
from trainer.session import Session

# The wire's speed: 31 250 bits a second, ten bits a byte (MIDI 1.0, hardware section), three bytes a message.
WIRE_MESSAGES_A_SECOND = 31_250 / 10 / 3
# Share of notes marked right at once when a piece begins anew after a storm: its first notes alone cannot tell.
AFTERWARDS = 0.9
NAMES = (
    "Digital Piano", "Klavier Ä Ö Ü ß", "電子ピアノ", "🎹", "a" * 60, "Piano 28:0", "Piano 1 2 3", "%s %n %x",
    "../../etc",
    "keyfarer", "Midi Through", "<b>Piano</b>", "-m3", "Piano\tTab", "'; DROP TABLE take; --", "(no name)", "1", ".",
)  # fmt: skip


def run(seed: int, count: int, quick: bool) -> list[Row]:
    """`count` messages through the decoder; floods of a minute each, or of a second."""
    dice = random.Random(seed)
    rows = [_known(dice, count), _noise(dice, count), _follower(dice, 3 if quick else 40), _names()]
    if not (shutil.which("jackd") and shutil.which("jack_lsp")):
        rows.append(Row("real ports", figures="jackd is not installed"))
        return rows
    with _server():
        seconds = 1.0 if quick else 60.0
        for times in (1, 10):
            rows.append(_flood(times, seconds))
        rows += [_fingers(), _vanishing(5 if quick else 100), _two(), _odd_ports()]
    return rows


# Without a port


def _message(dice: random.Random) -> tuple[int, ...]:
    status = dice.choice((0x80, 0x90, 0x90, 0x90, 0xA0, 0xB0, 0xC0, 0xD0, 0xE0)) | dice.randrange(16)
    return (status, *(dice.randrange(128) for _ in range(DATA_BYTES[status & 0xF0])))


def _wire(messages: list[tuple[int, ...]], dice: random.Random) -> list[int]:
    """The bytes of messages as a piano may send them: running status, clock in between, broken system messages."""
    sent: list[int] = []
    status = 0
    for message in messages:
        if dice.random() < 0.03:
            data = [dice.randrange(128) for _ in range(dice.choice((0, 1, 5, 60)))]
            sent += [dice.choice((0xF0, 0xF1, 0xF2, 0xF3, 0xF4, 0xF5, 0xF6)), *data]
            # Some are never ended.
            sent += [0xF7] if dice.random() < 0.6 else []
            status = 0
        if message[0] != status or dice.random() < 0.2:
            sent.append(message[0])
        status = message[0]
        for byte in message[1:]:
            sent += [dice.randrange(0xF8, 0x100)] * (dice.random() < 0.05)
            sent.append(byte)
    return sent


def _known(dice: random.Random, count: int) -> Row:
    """Streams whose messages are known: every one comes out, and nothing else."""
    row = Row("messages in torn streams")
    decoder = Bytes()
    done = 0
    while done < count:
        meant = [_message(dice) for _ in range(min(2000, count - done))]
        # A running status of the block before no longer holds for what is meant by this one.
        wire = [0xF6, *_wire(meant, dice)]
        heard: list[tuple[int, ...]] = []
        at = 0
        while at < len(wire):
            size = dice.choice((1, 2, 3, 7, 400))
            heard += decoder.feed(wire[at : at + size])
            at += size
        row.tried += len(meant)
        if heard != meant:
            row.fail(f"{len(meant)} sent, {len(heard)} heard")
        done += len(meant)
    return row


def _noise(dice: random.Random, count: int) -> Row:
    """Bytes by chance: no crash, sensible events only, nothing down that was not pressed, all up when silenced."""
    row = Row("random bytes")
    decoder, keyboard = Bytes(), Keyboard()
    down: set[int] = set()
    at = 0.0
    for _ in range(max(1, count // 1000)):
        for message in decoder.feed(dice.randbytes(3000)):
            at += dice.choice((0.0, 0.0003, 0.02))
            for event in keyboard.hear(message, at, dice.randrange(3)):
                _follow(row, event, down)
        row.tried += 1000
        row.check(down == set(keyboard.down), "keys down differ")
    for port in range(3):
        for event in keyboard.let_go(at, port):
            _follow(row, event, down)
    row.check(not down and not keyboard.down, "keys stay down for ever")
    return row


def _follow(row: Row, event: Event, down: set[int]) -> None:
    if isinstance(event, Press):
        if not (0 <= event.pitch <= 127 and 1 <= event.velocity <= 127):
            row.fail(f"{event}")
        down.add(event.pitch)
    elif isinstance(event, Release):
        if event.pitch not in down:
            row.fail("a key came up that was not down")
        down.discard(event.pitch)


def _follower(dice: random.Random, times: int) -> Row:
    """A take, a storm of presses by chance in the middle of it, and the take again from the start: marked right."""
    row = Row("follower after a storm of presses")
    shares = []
    for number in range(times):
        piece = seeds.shelf()[number % len(seeds.shelf())]
        session = Session(piece, plan(piece.key, "+2"))
        notes = session.expected.notes
        at = 0.0
        for note in notes[: len(notes) // 2]:
            session.hear(Press(at := at + 0.4, note.midi))
        for _ in range(dice.choice((10, 100, 1000))):
            session.hear(Press(at := at + dice.uniform(0.0, 0.02), dice.randrange(128), dice.randrange(1, 128)))
        at += 3.0
        begun = len(session.marks)
        for note in notes:
            session.hear(Press(at := at + 0.4, note.midi))
        first = session.marks[begun:]
        row.tried += len(first)
        shares.append(sum(mark.cause == RIGHT for mark in first) / len(first))
    mean = sum(shares) / len(shares)
    if mean < AFTERWARDS:
        row.fail(f"only {mean:.0%} of the notes after it were marked right")
    row.figures = (
        f"{mean:.1%} of the notes after it marked right as they came; in the worst of {times} takes {min(shares):.0%}"
    )
    return row


def _names() -> Row:
    """What may be asked of any name gives an answer."""
    row = Row("odd names")
    for name in (*NAMES, "", " ", ":", "::", "a:b:c", "\n", "\x00", "\ud800", "9" * 5000):
        row.check(isinstance(stable_name(name), str) and isinstance(shown_name(name), str), name)
        row.check(find_port(name, [*NAMES, name]) is not None, f"{name!r} is not found again")
        row.check(isinstance(is_piano(name), bool), name)
    return row


# Real ports


@contextlib.contextmanager
def _server() -> Iterator[None]:
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


class _Witness:
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


def _heard(ports: Ports, presses: int, patience: float = 5.0) -> list[Event]:
    """What comes in until so many presses are there."""
    found: list[Event] = []
    until = now() + patience
    while sum(isinstance(event, Press) for event in found) < presses and now() < until:
        found += ports.pending()
        time.sleep(0.002)
    time.sleep(0.05)
    return found + ports.pending()


@contextlib.contextmanager
def _pianos(*names: str) -> Iterator[tuple[Ports, list[Piano]]]:
    pianos = [Piano(name) for name in names]
    ports = Ports()
    try:
        _until(lambda: len(ports.hearing) >= len(names), ports)
        yield ports, pianos
    finally:
        for piano in pianos:
            piano.unplug()
        ports.close()


def _until(there: Callable[[], bool], ports: Ports, patience: float = 10.0) -> None:
    until = now() + patience
    while not there() and now() < until:
        ports.watch(at_once=True)
        time.sleep(0.01)


def _flood(times: int, seconds: float) -> Row:
    """Presses and releases as fast as the wire carries them, or faster; then a piece, marked right."""
    row = Row(f"flood at {'' if times == 1 else f'{times} times '}the wire's speed, {seconds:.0f} s")
    with _pianos("Flood Piano") as (ports, (piano,)):
        heard: list[Event] = []
        stop = threading.Event()

        def listen() -> None:
            while not stop.is_set():
                heard.extend(ports.pending())
                time.sleep(0.005)

        listener = threading.Thread(target=listen)
        listener.start()
        witness = _Witness("Flood Piano")
        sent, began, every = 0, now(), 1 / (WIRE_MESSAGES_A_SECOND * times)
        delays: list[float] = []
        while now() - began < seconds:
            due = int((now() - began) / every)
            while sent < due:
                key = 21 + (sent // 2) % 88
                piano.send(0x90 if sent % 2 == 0 else 0x80, key, 64)
                sent += 1
            time.sleep(0.001)
        time.sleep(1.0)
        stop.set()
        listener.join()
        presses = [event for event in heard if isinstance(event, Press)]
        expected = (sent + 1) // 2
        row.tried = expected
        # What JACK itself lost, a plain client of it did not hear either.
        driver = expected - witness.presses()
        lost = max(0, expected - len(presses) - max(driver, 0)) or min(0, expected - len(presses))
        for _ in range(abs(lost)):
            row.fail(f"{abs(lost)} presses {'lost' if lost > 0 else 'too many'}")
        delays = [b.at - a.at for a, b in pairwise(presses)]
        row.check(all(delay >= 0 for delay in delays), "times run backwards")
        piano.send(0xB0, 123, 0)
        _heard(ports, 0, 0.1)
        row.check(not ports.down, "keys stay down")
        _piece(row, ports, piano)
        row.figures = (
            f"{sent / seconds:,.0f} messages a second; longest gap between presses {max(delays) * 1000:.1f} ms"
        )
    return row


def _piece(row: Row, ports: Ports, piano: Piano) -> None:
    """A piece over the port, every press of it heard and marked right."""
    piece = seeds.shelf()[0]
    session = Session(piece, plan(piece.key, "+2"))
    for note in session.expected.notes:
        piano.send(0x90, note.midi, 70)
        piano.send(0x80, note.midi, 0)
        for event in _heard(ports, 1, 2.0):
            session.hear(event)
    right = sum(mark.cause == RIGHT for mark in session.finish().marks)
    row.check(right == len(session.expected.notes), f"{right} of {len(session.expected.notes)} right afterwards")


def _fingers() -> Row:
    """Ten keys and forty at once, struck together and never let go; unplugging lets them go."""
    row = Row("10 and 40 fingers, stuck notes")
    for fingers in (10, 40):
        piano, ports = Piano("Many Fingers"), Ports()
        _until(lambda ports=ports: len(ports.hearing) == 1, ports)  # type: ignore[misc]
        keys = [30 + key for key in range(fingers)]
        for key in keys:
            piano.send(0x90, key, 64)
        heard = _heard(ports, fingers)
        row.check([event.pitch for event in heard if isinstance(event, Press)] == keys, "not every finger was heard")
        row.check(ports.down == tuple(keys), "not every key is down")
        piano.unplug()
        _until(lambda ports=ports: not ports.hearing, ports)  # type: ignore[misc]
        released = [event.pitch for event in ports.pending() if isinstance(event, Release)]
        row.check(sorted(released) == keys, "stuck after unplugging")
        ports.close()
    return row


def _vanishing(times: int) -> Row:
    """A port that goes and comes back; what it held is let go, what it plays is heard, no handle is left."""
    row = Row(f"a port vanishing {times} times")
    ports = Ports()
    handles: list[int] = []
    for number in range(times):
        piano = Piano("Loose Cable")
        _until(lambda: len(ports.hearing) == 1, ports)
        key = 21 + number % 88
        piano.send(0x90, key, 64)
        heard = _heard(ports, 1, 3.0)
        row.check([e.pitch for e in heard if isinstance(e, Press)] == [key], f"time {number}: the press was lost")
        piano.unplug()
        _until(lambda: not ports.hearing, ports)
        row.check(not ports.down, "a key stays down")
        handles.append(len(list(Path("/proc/self/fd").iterdir())) + threading.active_count())
    ports.close()
    early = max(handles[: max(1, len(handles) // 5)])
    row.check(handles[-1] <= early, f"{early} handles and threads have become {handles[-1]}")
    row.figures = f"{handles[0]} handles and threads at first, {handles[-1]} at last"
    return row


def _two() -> Row:
    """Two pianos of one name, played at once: every press once, those struck together on both as one."""
    row = Row("two pianos at once")
    with _pianos("Piano", "Piano") as (ports, (one, other)):
        row.check(len(ports.hearing) == 2, f"{len(ports.hearing)} heard")
        gaps = []
        for number in range(200):
            first, second = 40 + number % 20, 70 + number % 20
            one.send(0x90, first, 64)
            other.send(0x90, second, 64)
            heard = [event for event in _heard_fast(ports, 2) if isinstance(event, Press)]
            row.check(sorted(event.pitch for event in heard) == [first, second], "a press was lost or doubled")
            gaps += [heard[-1].at - heard[0].at] if len(heard) == 2 else []
            one.send(0x80, first, 0)
            other.send(0x80, second, 0)
        time.sleep(0.05)
        ports.pending()
        row.check(not ports.down, "keys stay down")
        usual, most = percentile(gaps, 50) * 1000, percentile(gaps, 99) * 1000
        row.figures = f"struck together they are {usual:.2f} ms apart, p99 {most:.2f}"
    return row


def _heard_fast(ports: Ports, presses: int) -> list[Event]:
    found: list[Event] = []
    until = now() + 3.0
    while sum(isinstance(event, Press) for event in found) < presses and now() < until:
        found += ports.pending()
        time.sleep(0.0005)
    return found


def _odd_ports() -> Row:
    """Real ports of odd names: heard, unless the driver itself refuses the name or it is one of our own."""
    row = Row("real ports of odd names")
    refused = 0
    for name in NAMES:
        try:
            piano = Piano(name)
        except Exception:  # the driver's own refusal has no class of its own
            refused += 1
            continue
        ports = Ports()
        wanted = is_piano(name)
        _until(lambda ports=ports: bool(ports.hearing), ports, 3.0 if wanted else 0.2)  # type: ignore[misc]
        row.check(bool(ports.hearing) == wanted, f"{name!r}: heard {ports.hearing}")
        if ports.hearing:
            piano.send(0x90, 60, 64)
            row.check(any(isinstance(event, Press) for event in _heard(ports, 1, 3.0)), f"{name!r}: not heard")
        ports.close()
        piano.unplug()
    row.figures = f"{refused} names the driver refused"
    return row
