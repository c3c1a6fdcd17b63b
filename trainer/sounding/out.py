"""The piano's own voice over MIDI out. No program change is ever sent: the piano keeps the sound its player chose."""

from __future__ import annotations

import atexit
import contextlib
import os
import pathlib
import subprocess
import sys
import threading
from collections.abc import Sequence
from typing import IO, Any

from trainer.listening.clock import now
from trainer.listening.ports import shown_name
from trainer.sounding.outlet import AGAIN
from trainer.sounding.voice import PERCUSSION, Sounded

READY_S = 3.0
# Where the package lies, so that the keeper finds it from any folder.
_HOUSE = str(pathlib.Path(__file__).resolve().parents[2])
_RELEASE_VELOCITY = 64
# A keeper that dies is started again this many times in a program's life.
_RESTARTS = 3


class PianoVoice:
    """A MIDI output, kept by a small program of its own (`trainer.sounding.outlet`).

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
        self._lines: list[str] = []
        self._lock = threading.Lock()
        self._ready = threading.Event()
        self._closed = False
        self.there = False
        """Whether the port is open."""
        self._restarts = 0
        self._keeper = self._start()
        atexit.register(self.close)

    def note_on(self, pitch: int, velocity: int) -> None:
        self._tell(f"now {_note_on(0, pitch, velocity)}")

    def note_off(self, pitch: int) -> None:
        self._tell(f"now {_note_off(0, pitch)}")

    def prepare(self, notes: Sequence[Sounded]) -> None:
        """Wait until the port is open or refused, at most three seconds."""
        self._ready.wait(READY_S)

    def play(self, notes: Sequence[Sounded], start: float) -> None:
        lines = [f"clock {now():.6f}"]
        for note in notes:
            if note.channel != PERCUSSION or self._percussion:
                on, off = start + note.at, start + note.end
                lines.append(f"at {off:.6f} {_note_off(note.channel, note.pitch)}")
                lines.append(f"at {on:.6f} {_note_on(note.channel, note.pitch, note.velocity)}")
        self._tell("\n".join(lines))

    def cancel(self) -> None:
        self._tell("cancel")

    def panic(self) -> None:
        self._tell("quiet")

    def lines(self) -> list[str]:
        said = self._lines[:]
        del self._lines[: len(said)]
        return said

    def close(self) -> None:
        """Let go of everything and end the keeper."""
        with self._lock:
            if self._closed:
                return
            self._closed = True
        atexit.unregister(self.close)
        with contextlib.suppress(OSError, ValueError):
            self._stdin.close()
        try:
            self._keeper.wait(timeout=3)
        except subprocess.TimeoutExpired:
            self._keeper.kill()
            self._keeper.wait()

    @property
    def _stdin(self) -> IO[str]:
        assert self._keeper.stdin is not None
        return self._keeper.stdin

    def _start(self, again: bool = False) -> subprocess.Popen[str]:
        # A session of its own: a terminal that closes or a Ctrl-C must not end it before it has let go.
        apart: dict[str, Any] = {"start_new_session": True}
        if sys.platform == "win32":
            apart = {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP | subprocess.CREATE_NO_WINDOW}
        found = os.pathsep.join(filter(None, (_HOUSE, os.environ.get("PYTHONPATH"))))
        # Names of ports go both ways, in any language, whatever the system's code page.
        keeper = subprocess.Popen(
            [sys.executable, "-m", "trainer.sounding.outlet", self._name, *([AGAIN] if again else [])],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, bufsize=1, encoding="utf-8",
            env=os.environ | {"PYTHONPATH": found, "PYTHONIOENCODING": "utf-8"}, **apart,
        )  # fmt: skip
        threading.Thread(target=self._listen, args=(keeper,), name="midi out", daemon=True).start()
        return keeper

    def _tell(self, line: str) -> None:
        with self._lock:
            if self._closed:
                return
            try:
                self._stdin.write(line + "\n")
                self._stdin.flush()
            except (OSError, ValueError):
                # What is left in the broken pipe would complain when it is collected.
                with contextlib.suppress(OSError, ValueError):
                    self._stdin.close()
                if self._restarts < _RESTARTS:
                    self._restarts += 1
                    self._keeper = self._start(again=True)
                    with contextlib.suppress(OSError, ValueError):
                        self._stdin.write(line + "\n")

    def _listen(self, keeper: subprocess.Popen[str]) -> None:
        assert keeper.stdout is not None
        for news in keeper.stdout:
            word, _, rest = news.strip().partition(" ")
            self.there = word in ("open", "back")
            if word == "refused":
                self._lines.append(rest)
            elif word == "gone":
                self._lines.append(f"{self.words} takes no sound any more; plug it in again.")
            elif word == "back":
                self._lines.append(f"{self.words} sounds again.")
            self._ready.set()
        self.there = False
        self._ready.set()


def _note_on(channel: int, pitch: int, velocity: int) -> str:
    return bytes((0x90 | channel, pitch, max(1, min(127, velocity)))).hex()


def _note_off(channel: int, pitch: int) -> str:
    return bytes((0x80 | channel, pitch, _RELEASE_VELOCITY)).hex()
