"""The piano's own voice over MIDI out. No program change is ever sent: the piano keeps the sound its player chose."""

from __future__ import annotations

import contextlib
import os
import pathlib
import subprocess
import sys
import threading
from collections.abc import Sequence
from queue import SimpleQueue
from typing import IO, Any

from trainer.listening.clock import now
from trainer.listening.ports import shown_name
from trainer.sounding.outlet import AGAIN
from trainer.sounding.returned import Message, Returned
from trainer.sounding.voice import PERCUSSION, Sounded

READY_S = 3.0
CLOSE_S = 3.0
# Where the package lies, so that the keeper finds it from any folder.
_HOUSE = str(pathlib.Path(__file__).resolve().parents[2])
_RELEASE_VELOCITY = 64
# A keeper that dies is started again this many times in a program's life.
_RESTARTS = 3
# What a keeper that died has not taken in by then is not worth sounding any more.
_STALE_S = 1.0
# Of voices that are closed and whose keepers still let go.
_leaving: set[threading.Thread] = set()


class PianoVoice:
    """A MIDI output, kept by a small program of its own (`trainer.sounding.outlet`).

    A thread hands over what it is told: nobody waits for a keeper that is held up, by its driver or a busy machine.

    Parameters
    ----------
    name : str
        The output's name or a part of it.
    percussion : bool
        Send the click too, on the percussion channel; many pianos have no percussion there.
    """

    lag_s = 0.001

    def __init__(self, name: str, percussion: bool = False) -> None:
        self.words = shown_name(name)
        self._name, self._percussion = name, percussion
        self.returned = Returned()
        self._lines: list[str] = []
        # When, and what; None is the end.
        self._untold: SimpleQueue[tuple[float, str] | None] = SimpleQueue()
        self._ready = threading.Event()
        self._closed = False
        self.there = False
        """Whether the port is open."""
        self._opened = self._lost = False
        self._restarts = 0
        self._process: subprocess.Popen[str] | None = None
        self._teller = threading.Thread(target=self._hand_over, name="to midi out", daemon=True)
        self._teller.start()

    def note_on(self, pitch: int, velocity: int) -> None:
        struck = _note_on(0, pitch, velocity)
        self.returned.sent([(now(), struck)])
        self._tell(f"now {bytes(struck).hex()}")

    def note_off(self, pitch: int) -> None:
        self._tell(f"now {_note_off(0, pitch)}")

    def prepare(self, notes: Sequence[Sounded]) -> None:
        """Wait until the port is open or refused, at most three seconds."""
        self._ready.wait(READY_S)

    def play(self, notes: Sequence[Sounded], start: float) -> None:
        lines, struck = [], []
        for note in notes:
            if note.channel != PERCUSSION or self._percussion:
                on, off = start + note.at, start + note.end
                struck.append((on, _note_on(note.channel, note.pitch, note.velocity)))
                lines.append(f"at {off:.6f} {_note_off(note.channel, note.pitch)}")
                lines.append(f"at {on:.6f} {bytes(struck[-1][1]).hex()}")
        self.returned.sent(struck)
        self._tell("\n".join(lines))

    def cancel(self) -> None:
        self.returned.cancel()
        self._tell("cancel")

    def panic(self) -> None:
        self.returned.cancel()
        self._tell("quiet")

    def lines(self) -> list[str]:
        said = self._lines[:]
        del self._lines[: len(said)]
        return said

    def close(self) -> None:
        """Let go of everything and end the keeper; returns at once, whatever holds the keeper up.

        When the whole program ends, its pipe does, and with it the keeper.
        """
        if self._closed:
            return
        self._closed = True
        _leaving.add(self._teller)
        self._untold.put(None)
        threading.Thread(target=self._see_out, name="midi out ends", daemon=True).start()

    def _see_out(self) -> None:
        self._teller.join(CLOSE_S)
        if self._teller.is_alive() and self._process is not None:
            # Its pipe is full, or its driver hangs: it can neither hear of the end nor let go.
            self._process.kill()
            self._teller.join()
        _leaving.discard(self._teller)

    @property
    def _keeper(self) -> subprocess.Popen[str]:
        assert self._process is not None
        return self._process

    @property
    def _stdin(self) -> IO[str]:
        assert self._keeper.stdin is not None
        return self._keeper.stdin

    def _start(self, again: bool = False) -> None:
        # A session of its own: a terminal that closes or a Ctrl-C must not end it before it has let go.
        apart: dict[str, Any] = {"start_new_session": True}
        if sys.platform == "win32":
            apart = {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP | subprocess.CREATE_NO_WINDOW}
        found = os.pathsep.join(filter(None, (_HOUSE, os.environ.get("PYTHONPATH"))))
        # Names of ports go both ways, in any language, whatever the system's code page.
        self._process = subprocess.Popen(
            [sys.executable, "-m", "trainer.sounding.outlet", self._name, *([AGAIN] if again else [])],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, bufsize=1, encoding="utf-8",
            env=os.environ | {"PYTHONPATH": found, "PYTHONIOENCODING": "utf-8"}, **apart,
        )  # fmt: skip
        threading.Thread(target=self._listen, args=(self._process,), name="midi out", daemon=True).start()

    def _tell(self, line: str) -> None:
        if not self._closed:
            self._untold.put((now(), line))

    def _hand_over(self) -> None:
        """Hand on what is told, for the voice's life; a keeper that died is replaced."""
        # On some systems a port belongs to one program at a time.
        for former in _leaving - {self._teller}:
            former.join(2 * CLOSE_S)
        if self._closed:
            return
        self._start()
        fresh = float("-inf")
        while told := self._untold.get():
            moment, line = told
            if moment < fresh or self._handed(line) or self._closed or self._restarts == _RESTARTS:
                continue
            self._restarts += 1
            self._start(again=True)
            fresh = now() - _STALE_S
            if moment >= fresh:
                self._handed(line)
        with contextlib.suppress(OSError, ValueError):
            self._stdin.close()
        self._keeper.wait()

    def _handed(self, line: str) -> bool:
        # The clock is told as it is when the keeper hears it: a long piece takes a while to be put into lines.
        clock = f"clock {now():.6f}\n" if line.startswith("at ") else ""
        try:
            self._stdin.write(f"{clock}{line}\n")
        except (OSError, ValueError):
            # What is left in the broken pipe would complain when it is collected.
            with contextlib.suppress(OSError, ValueError):
                self._stdin.close()
            return False
        return True

    def _listen(self, keeper: subprocess.Popen[str]) -> None:
        assert keeper.stdout is not None
        for news in keeper.stdout:
            word, _, rest = news.strip().partition(" ")
            self._tell_player(word, rest)
            self._ready.set()
        if keeper is self._process:
            self.there = False
            self._ready.set()
            # Its pipe is broken for certain once it is gone. Unless this is the end, another one takes its place and
            # lets go of what it may have left sounding.
            keeper.wait()
            self._tell("")

    def _tell_player(self, word: str, rest: str) -> None:
        """News of the port, as a quiet line; a keeper that took the place of another knows nothing of what was."""
        self.there = word in ("open", "back")
        if self.there:
            if self._lost:
                self._lines.append(f"{self.words} sounds again.")
            self._lost, self._opened = False, True
        elif not self._opened:
            self._lines.append(rest)
        elif not self._lost:
            self._lines.append(f"{self.words} takes no sound any more; plug it in again.")
            self._lost = True


def _note_on(channel: int, pitch: int, velocity: int) -> Message:
    return 0x90 | channel, pitch, max(1, min(127, velocity))


def _note_off(channel: int, pitch: int) -> str:
    return bytes((0x80 | channel, pitch, _RELEASE_VELOCITY)).hex()
