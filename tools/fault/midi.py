"""What a cable can bring: random bytes, floods, more fingers than a hand has, ports that vanish, two pianos at once.

Random streams go through the decoder with what they mean known beforehand (`tools.fault.streams`); the rest goes
through real ports of a JACK server of its own (`tools.fault.wires`).
"""

from __future__ import annotations

import random
import shutil
import tempfile
import threading
import time
from itertools import pairwise
from pathlib import Path

from tools.fault import seeds, streams
from tools.fault.table import Row, percentile
from tools.fault.wires import arriving, pianos, server, until
from tools.instruments import VirtualPiano
from trainer.following.marks import RIGHT
from trainer.listening.clock import now
from trainer.listening.ports import Ports, is_piano
from trainer.listening.press import Event, Press, Release
from trainer.music.transpose import plan
from trainer.session import Session

# The wire's speed: 31 250 bits a second, ten bits a byte (MIDI 1.0, hardware section), three bytes a message.
WIRE_MESSAGES_A_SECOND = 31_250 / 10 / 3


def run(seed: int, count: int, quick: bool) -> list[Row]:
    """`count` messages through the decoder; floods of a minute each, or of a second."""
    dice = random.Random(seed)
    rows = [
        streams.known(dice, count), streams.noise(dice, count), streams.follower(dice, 3 if quick else 40),
        streams.names(),
    ]  # fmt: skip
    if not (shutil.which("jackd") and shutil.which("jack_lsp")):
        rows.append(Row("real ports", figures="jackd is not installed"))
        return rows
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "jack.log"
        with server(log):
            seconds = 1.0 if quick else 60.0
            for times in (1, 10):
                rows.append(_flood(times, seconds))
            rows += [_fingers(), _vanishing(5 if quick else 100), _two(200), _odd_ports()]
        with server(log, waits=False):
            rows.append(_two(200 if quick else 2000, log))
    return rows


def _flood(times: int, seconds: float) -> Row:
    """Presses and releases as fast as the wire carries them, or faster; then a piece, marked right."""
    row = Row(f"flood at {'' if times == 1 else f'{times} times '}the wire's speed, {seconds:.0f} s")
    with pianos("Flood Piano") as (ports, (piano,)):
        heard: list[Event] = []
        stop = threading.Event()

        def listen() -> None:
            while not stop.is_set():
                heard.extend(ports.pending())
                time.sleep(0.005)

        listener = threading.Thread(target=listen)
        listener.start()
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
        lost = expected - len(presses)
        for _ in range(abs(lost)):
            row.fail(f"{abs(lost)} presses {'lost' if lost > 0 else 'too many'}")
        delays = [b.at - a.at for a, b in pairwise(presses)]
        row.check(all(delay >= 0 for delay in delays), "times run backwards")
        piano.send(0xB0, 123, 0)
        arriving(ports, 0, 0.1)
        row.check(not ports.down, "keys stay down")
        _piece(row, ports, piano)
        row.figures = (
            f"{sent / seconds:,.0f} messages a second; longest gap between presses {max(delays) * 1000:.1f} ms"
        )
    return row


def _piece(row: Row, ports: Ports, piano: VirtualPiano) -> None:
    """A piece over the port, every press of it heard and marked right."""
    piece = seeds.shelf()[0]
    session = Session(piece, plan(piece.key, "+2"))
    for note in session.expected.notes:
        piano.send(0x90, note.midi, 70)
        piano.send(0x80, note.midi, 0)
        for event in arriving(ports, 1, 2.0):
            session.hear(event)
    right = sum(mark.cause == RIGHT for mark in session.finish().marks)
    row.check(right == len(session.expected.notes), f"{right} of {len(session.expected.notes)} right afterwards")


def _fingers() -> Row:
    """Ten keys and forty at once, struck together and never let go; unplugging lets them go."""
    row = Row("10 and 40 fingers, stuck notes")
    for fingers in (10, 40):
        piano, ports = VirtualPiano("Many Fingers"), Ports()
        until(lambda ports=ports: len(ports.hearing) == 1, ports)  # type: ignore[misc]
        keys = [30 + key for key in range(fingers)]
        for key in keys:
            piano.send(0x90, key, 64)
        heard = arriving(ports, fingers)
        row.check([event.pitch for event in heard if isinstance(event, Press)] == keys, "not every finger was heard")
        row.check(ports.down == tuple(keys), "not every key is down")
        piano.close()
        until(lambda ports=ports: not ports.hearing, ports)  # type: ignore[misc]
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
        piano = VirtualPiano("Loose Cable")
        until(lambda: len(ports.hearing) == 1, ports)
        key = 21 + number % 88
        piano.send(0x90, key, 64)
        heard = arriving(ports, 1, 3.0)
        row.check([e.pitch for e in heard if isinstance(e, Press)] == [key], f"time {number}: the press was lost")
        piano.close()
        until(lambda: not ports.hearing, ports)
        row.check(not ports.down, "a key stays down")
        handles.append(len(list(Path("/proc/self/fd").iterdir())) + threading.active_count())
    ports.close()
    early = max(handles[: max(1, len(handles) // 5)])
    row.check(handles[-1] <= early, f"{early} handles and threads have become {handles[-1]}")
    row.figures = f"{handles[0]} handles and threads at first, {handles[-1]} at last"
    return row


def _two(times: int, log: Path | None = None) -> Row:
    """Two pianos of one name, played at once: every press once, those struck together on both as one.

    With a `log`, the server waits for nobody: presses it lost itself, saying so, are counted apart.
    """
    row = Row("two pianos at once" if log is None else "the same, JACK waits for nobody")
    gaps, gone, late = [], 0, 0
    with pianos("Piano", "Piano") as (ports, (one, other)):
        row.check(len(ports.hearing) == 2, f"{len(ports.hearing)} heard")
        for number in range(times):
            before = _late_rounds(log)
            first, second = 40 + number % 20, 70 + number % 20
            one.send(0x90, first, 64)
            other.send(0x90, second, 64)
            heard = [event for event in arriving(ports, 2, 1.0, 0.0) if isinstance(event, Press)]
            row.tried += 2
            late += (was_late := _late_rounds(log) > before)
            lost = {first, second} - {event.pitch for event in heard}
            if was_late:
                gone += len(lost)
            elif lost or len(heard) != 2:
                row.fail("a press was lost or doubled")
            gaps += [heard[-1].at - heard[0].at] if len(heard) == 2 else []
            one.send(0x80, first, 0)
            other.send(0x80, second, 0)
        time.sleep(0.05)
        ports.pending()
        row.check(not ports.down or log is not None, "keys stay down")
    usual, most = percentile(gaps, 50) * 1000, percentile(gaps, 99) * 1000
    row.figures = f"struck together they are {usual:.2f} ms apart, p99 {most:.2f}" + (
        f"; JACK reports rounds it lost in {late} of {times} strokes, and {gone} presses are missing from these"
        if log is not None else ""
    )  # fmt: skip
    return row


def _late_rounds(log: Path | None) -> int:
    """How often the server has said that a client was late for a round."""
    return log.read_bytes().count(b"XRun") if log is not None else 0


def _odd_ports() -> Row:
    """Real ports of odd names: heard, unless the driver itself refuses the name or it is one of our own."""
    row = Row("real ports of odd names")
    refused = 0
    for name in streams.NAMES:
        try:
            piano = VirtualPiano(name)
        except Exception:  # the driver's own refusal has no class of its own
            refused += 1
            continue
        ports = Ports()
        wanted = is_piano(name)
        until(lambda ports=ports: bool(ports.hearing), ports, 3.0 if wanted else 0.2)  # type: ignore[misc]
        row.check(bool(ports.hearing) == wanted, f"{name!r}: heard {ports.hearing}")
        if ports.hearing:
            piano.send(0x90, 60, 64)
            row.check(any(isinstance(event, Press) for event in arriving(ports, 1, 3.0)), f"{name!r}: not heard")
        ports.close()
        piano.close()
    row.figures = f"{refused} names the driver refused"
    return row
