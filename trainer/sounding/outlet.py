"""The keeper of a MIDI output: a small program of its own, run as ``python -m trainer.sounding.outlet NAME``,
with ``--again`` when it takes the place of one that died.

It alone holds the port. It is told on standard input what to send and when, keeps the time away from the drawing of
the window, and when its input ends, because the program that started it closed it, crashed or was killed, it lets
go of every note it has sounded. So no note is left hanging on the piano.

A line in: ``now HEX`` sends at once; ``at SECONDS HEX`` sends when the clock of the one who started it says so;
``clock SECONDS`` tells that clock; ``cancel`` drops what is still to come and lets go of what it began; ``quiet``
lets go of everything; ``end`` is a good end. A line out is quiet news of the port: ``open``, ``gone``, ``back`` or
``refused SENTENCE``.
"""

from __future__ import annotations

import contextlib
import faulthandler
import heapq
import os
import signal
import sys
import threading
import time
from collections.abc import Sequence

from trainer.listening.clock import now
from trainer.listening.ports import LOOK_S, Ports, find_port
from trainer.listening.wire import OpenOutput, PortRefused

NOTE_OFF, NOTE_ON, CONTROL = 0x80, 0x90, 0xB0
SUSTAIN, ALL_NOTES_OFF = 64, 123
# JACK joins two ports a few cycles after it says so, later on a busy machine, and now and then not at all; what is sent
# before is lost.
JOIN_S = 1.0
SETTLE_S = 0.06
# A driver that hangs holds the interpreter while it is sent to: after so long nothing else helps, and another keeper is
# started in this one's place.
HELD_S = 10.0
# After a sleep of the computer, or of the driver, what was due so long ago is not struck any more: all at once it would
# be one chord.
MISSED_S = 0.25
AGAIN = "--again"


class Outlet:
    """What is still to be sent and what is sounding, on one output."""

    def __init__(self, name: str, ports: Ports, after_another: bool = False) -> None:
        self._name, self._ports = name, ports
        # Keys told to sound at once. What a keeper that died before this one may have left sounding is let go once the
        # port is open.
        self._live = {(0, pitch) for pitch in range(21, 109)} if after_another else set()
        # How many strokes of schedules each key has begun and not ended.
        self._strokes: dict[tuple[int, int], int] = {}
        self._port: OpenOutput | None = None
        self._exact = ""
        self._due: list[tuple[float, int, bytes]] = []
        self._count = 0
        self._channels: set[int] = set()
        self._apart = 0.0
        self._changed = threading.Condition()
        self._ended = False
        self._over = threading.Event()
        self._said = ""

    def obey(self, line: str) -> None:
        """Take one line in."""
        word, _, rest = line.strip().partition(" ")
        with self._changed:
            if word == "clock":
                self._apart = now() - float(rest)
            elif word == "now":
                self._send(bytes.fromhex(rest), scheduled=False)
            elif word == "at":
                due, _, data = rest.partition(" ")
                self._count += 1
                heapq.heappush(self._due, (float(due) + self._apart, self._count, bytes.fromhex(data)))
            elif word == "cancel":
                self._due.clear()
                self._let_go(only_scheduled=True)
            elif word == "quiet":
                self._due.clear()
                self._let_go()
            elif word == "end":
                self._ended = True
            self._changed.notify()

    def end(self) -> None:
        """Nobody tells any more: stop."""
        with self._changed:
            self._ended = True
            self._changed.notify()

    def run(self) -> None:
        """Send what is due, until the end; then let go of everything."""
        watcher = threading.Thread(target=self._watch, name="port", daemon=True)
        watcher.start()
        with self._changed:
            while not self._ended:
                while self._due and self._due[0][0] <= now():
                    due, _, data = heapq.heappop(self._due)
                    if now() - due < MISSED_S or data[0] & 0xF0 != NOTE_ON:
                        self._send(data, scheduled=True)
                self._changed.wait(max(0.0, self._due[0][0] - now()) if self._due else None)
        self._over.set()
        watcher.join()
        with self._changed:
            self._let_go()
            for channel in self._channels:
                self._write((CONTROL | channel, SUSTAIN, 0))
                self._write((CONTROL | channel, ALL_NOTES_OFF, 0))
            if self._port:
                time.sleep(SETTLE_S)
                self._port.close()

    def _watch(self) -> None:
        """Look after the port once a second, apart from the keeping of time."""
        parent = os.getppid()
        while not self._over.is_set():
            if os.getppid() != parent:
                # Killed, and somebody else still holds the other end of the input open.
                self.end()
            self._look()
            self._over.wait(LOOK_S)

    def _look(self) -> None:
        """Open the port, or find out that it went and came back."""
        alive = self._ports.alive()
        names = self._ports.outputs() if alive else []
        if self._port and (self._exact not in names or not self._ports.linked(self._exact)):
            with self._changed:
                port, self._port = self._port, None
            if port:
                port.close()
            if self._exact not in names:
                self._say("gone")
        if self._port:
            return
        if not names:
            self._ports.renew(idle=True)
            names = self._ports.outputs()
        exact = find_port(self._name, names)
        if exact is None:
            if not self._exact:
                self._say("refused " + self._refusal())
            return
        try:
            port = self._ports.open_output(exact)
        except PortRefused as refusal:
            self._say(f"refused {refusal}")
            return
        if not self._joined(exact):
            # The next look opens it anew.
            port.close()
            return
        time.sleep(SETTLE_S)
        with self._changed:
            self._port = port
            # A port that comes back may still sound what it was told before it went.
            self._let_go()
        self._say("back" if self._exact else "open")
        self._exact = self._name = exact

    def _joined(self, name: str) -> bool:
        """Whether the port just opened is joined to the instrument, which is waited for."""
        until = now() + JOIN_S
        while not self._ports.linked(name):
            if now() > until or self._over.is_set():
                return False
            time.sleep(0.01)
        return True

    def _refusal(self) -> str:
        try:
            self._ports.open_output(self._name).close()
        except PortRefused as refusal:
            return str(refusal)
        return ""

    def _send(self, data: bytes, scheduled: bool) -> None:
        kind, key = data[0] & 0xF0, (data[0] & 0x0F, data[1])
        if kind == NOTE_ON and data[2] > 0:
            if self._sounds(key):
                # Struck again while it sounds; instruments make of two strokes without an end what they like.
                self._write((NOTE_OFF | key[0], key[1], 64))
            self._strike(key, scheduled)
        elif kind in (NOTE_OFF, NOTE_ON):
            self._end(key, scheduled)
            if self._sounds(key):
                return
        self._write(data)

    def _sounds(self, key: tuple[int, int]) -> bool:
        return key in self._live or key in self._strokes

    def _strike(self, key: tuple[int, int], scheduled: bool) -> None:
        self._channels.add(key[0])
        if scheduled:
            self._strokes[key] = self._strokes.get(key, 0) + 1
        else:
            self._live.add(key)

    def _end(self, key: tuple[int, int], scheduled: bool) -> None:
        """One stroke is over: of two schedules the end of the earlier one does not cut the later one short."""
        if not scheduled:
            self._live.discard(key)
        elif self._strokes.get(key, 0) > 1:
            self._strokes[key] -= 1
        else:
            self._strokes.pop(key, None)

    def _let_go(self, only_scheduled: bool = False) -> None:
        let_go = {*self._strokes} - self._live if only_scheduled else {*self._strokes, *self._live}
        self._strokes.clear()
        self._live -= let_go
        for channel, pitch in sorted(let_go):
            self._write((NOTE_OFF | channel, pitch, 64))

    def _write(self, data: Sequence[int]) -> None:
        if self._port is None:
            return
        try:
            self._port.send(data)
        except OSError:
            self._say("gone")
            # Some drivers look for ports again only once none is open.
            self._port.close()
            self._port = None

    def _say(self, news: str) -> None:
        if news != self._said:
            self._said = news
            # Nobody reading is told by the end of the input as well.
            with contextlib.suppress(OSError):
                print(news, flush=True)


def main() -> None:
    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        if hasattr(signal, name):
            # Only the end of the input ends it: a signal meant for the program must not leave notes behind.
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    # Keeping time comes before everything else, where the system lets it.
    if sys.platform != "win32":
        with contextlib.suppress(OSError):
            os.nice(-10)
    ports = Ports()
    outlet = Outlet(sys.argv[1], ports, after_another=AGAIN in sys.argv[2:])

    def read() -> None:
        for line in sys.stdin:
            outlet.obey(line)
        outlet.end()

    def go_on() -> None:
        while True:
            faulthandler.dump_traceback_later(HELD_S, exit=True)
            time.sleep(LOOK_S)

    for task in (read, go_on):
        threading.Thread(target=task, daemon=True).start()
    outlet.run()
    ports.close()


if __name__ == "__main__":
    main()
