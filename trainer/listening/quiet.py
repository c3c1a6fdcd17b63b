"""Libraries from outside, used without what they say on the console and load for nothing."""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from collections.abc import Iterator

# Two threads at once would each put back what the other had put there.
_HUSH = threading.RLock()
_SETUPTOOLS = "pkg_resources"


@contextlib.contextmanager
def hushed() -> Iterator[None]:
    """Keep C libraries from writing on stderr: what they complain of is told in our own words."""
    with _HUSH:
        try:
            kept = os.dup(2)
            hole = os.open(os.devnull, os.O_WRONLY)
        except OSError:
            yield
            return
        os.dup2(hole, 2)
        try:
            yield
        finally:
            os.dup2(kept, 2)
            os.close(kept)
            os.close(hole)


def hide_greeting() -> None:
    """Wherever pygame is imported from now on, it does not greet on the console."""
    os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")


def load_pygame() -> None:
    """Import pygame for the first time, without its greeting and without setuptools.

    It asks setuptools for files of its own, which takes a fifth of a second and 10 MB, and finds them without.
    """
    hide_greeting()
    if "pygame" in sys.modules or _SETUPTOOLS in sys.modules:
        return
    sys.modules[_SETUPTOOLS] = None  # type: ignore[assignment]
    try:
        import pygame  # noqa: F401
    finally:
        del sys.modules[_SETUPTOOLS]
