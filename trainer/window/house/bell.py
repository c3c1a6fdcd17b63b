"""What the loop sleeps on: until another thread rings, something comes from the screen, or time is up.

pygame's own waiting looks a thousand times a second, which costs 3 % of a core. Under X11 the window's connection is
a file the system can wait for together with the bell, at no cost; elsewhere the loop looks as often as a frame needs.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import select
import sys
from queue import Empty, SimpleQueue

import pygame

# Without a connection to wait for: how often is looked, soon after an event and when nothing has come for a while.
_LOOK_S = 0.006
_SLEEPY_LOOK_S = 0.016
_AWAKE_S = 5.0
# With one: what input methods keep for themselves is looked for all the same.
_REST_S = 0.1


class _Hand:
    """The end of a pipe that is written to, given back once nobody holds it: a thread may ring while the bell is put
    away, and the number of what is closed may be another file's by then."""

    def __init__(self, number: int) -> None:
        self.number = number

    def __del__(self) -> None:
        os.close(self.number)


class Bell:
    """Rung from any thread; waited for by the loop."""

    def __init__(self) -> None:
        # A signal handler may ring in the middle of what is done here: an event's own lock would then block for good.
        self._rung: SimpleQueue[None] = SimpleQueue()
        self._screen: int | None = None
        self._ear = -1
        self._hand: _Hand | None = None

    def open(self) -> None:
        """The window is there: wait for what comes from its screen too, where that can be done."""
        self._screen = _connection()
        if sys.platform != "win32" and self._screen is not None and self._hand is None:
            self._ear, hand = os.pipe()
            os.set_blocking(self._ear, False)
            os.set_blocking(hand, False)
            self._hand = _Hand(hand)

    def ring(self) -> None:
        """End a wait, or the next one; may be called from any thread and from a signal handler."""
        self._rung.put(None)
        hand = self._hand
        if hand is not None:
            with contextlib.suppress(BlockingIOError, BrokenPipeError):
                os.write(hand.number, b".")

    def wait(self, seconds: float, quiet: float) -> None:
        """Sleep for at most so many seconds; `quiet` is how long nothing has come."""
        if self._screen is None:
            with contextlib.suppress(Empty):
                self._rung.get(timeout=max(0.0, min(seconds, _LOOK_S if quiet < _AWAKE_S else _SLEEPY_LOOK_S)))
        elif not pygame.event.peek():
            # What came while a frame was sent lies with the library already: the connection would not tell.
            select.select([self._screen, self._ear], [], [], max(0.0, min(seconds, _REST_S)))
        self._hush()

    def _hush(self) -> None:
        with contextlib.suppress(Empty):
            while True:
                self._rung.get_nowait()
        if self._ear >= 0:
            with contextlib.suppress(BlockingIOError):
                os.read(self._ear, 4096)

    def close(self) -> None:
        """Give back what was opened."""
        ear = self._ear
        self._screen, self._ear, self._hand = None, -1, None
        if ear >= 0:
            os.close(ear)


def _connection() -> int | None:
    """The file the window's X11 connection reads from; None with any other driver."""
    if pygame.display.get_driver() != "x11":
        return None
    try:
        number = ctypes.CDLL("libX11.so.6").XConnectionNumber
        display = pygame.display.get_wm_info()["display"]
    except (OSError, AttributeError, KeyError):
        return None
    number.argtypes = [ctypes.c_void_p]
    pointer = ctypes.pythonapi.PyCapsule_GetPointer
    pointer.restype = ctypes.c_void_p
    pointer.argtypes = [ctypes.py_object, ctypes.c_char_p]
    found: int = number(pointer(display, b"display"))
    return found if found >= 0 else None
