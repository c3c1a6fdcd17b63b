"""A run that is stopped, by ctrl-c or from outside, leaves no process and no folder behind."""

from __future__ import annotations

import contextlib
import os
import signal
from pathlib import Path
from types import FrameType


def leave_nothing() -> None:
    """From now on ctrl-c, the end of a terminal and SIGTERM end all that this process started, then raise
    `KeyboardInterrupt`: what waits for it goes on and removes its folders.
    """
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        # What whoever started it has it ignore (nohup, a job in the background) stays ignored.
        if signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, _stop)


def _stop(number: int, frame: FrameType | None) -> None:
    for begun in descendants(os.getpid()):
        with contextlib.suppress(ProcessLookupError):
            os.kill(begun, signal.SIGKILL)
    raise KeyboardInterrupt


def descendants(process: int) -> list[int]:
    """Numbers of the processes one has started, and of those they have started, as Linux tells them."""
    children: dict[int, list[int]] = {}
    for place in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            # The name in brackets may hold spaces; the parent is the second word after it.
            parent = int(place.read_text(encoding="utf-8", errors="replace").rpartition(")")[2].split()[1])
            children.setdefault(parent, []).append(int(place.parent.name))
    found: list[int] = []
    waiting = [process]
    while waiting:
        mine = children.get(waiting.pop(), [])
        found += mine
        waiting += mine
    return found
