"""JACK itself, asked beside python-rtmidi: whether its server answers and lives, and which ports are joined to ours."""

from __future__ import annotations

import contextlib
import ctypes
import os
import pathlib
import re
import threading
import time
from collections.abc import Iterator
from typing import Any

from trainer.listening.clock import now

CLIENT = "keyfarer"
# A server that runs answers within some hundredths of a second.
PATIENCE_S = 1.0
_NO_START_SERVER = 1  # JackNoStartServer
# A server's slowest round takes a fifth of a second: whether it goes round shows within the one, and one that has gone
# round no more for the other hangs or is dead.
ROUND_S = 0.25
STILL_S = 3.0

# Two threads at once would each put back what the other had put there.
_HUSH = threading.RLock()


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


def _library() -> ctypes.CDLL | None:
    """The very library python-rtmidi has loaded: its wheel brings its own, and two in one program block each other."""
    # Paths in whatever letters, and with spaces: the program may be installed anywhere.
    loaded = re.search(r"/.*libjack.*", os.fsdecode(pathlib.Path("/proc/self/maps").read_bytes()))
    if not loaded:
        return None
    jack = ctypes.CDLL(loaded[0])
    jack.jack_client_open.restype = ctypes.c_void_p
    jack.jack_client_close.argtypes = [ctypes.c_void_p]
    return jack


def _opened(jack: ctypes.CDLL, name: str) -> int | None:
    client: int | None = jack.jack_client_open(f"{CLIENT}-{name}".encode(), _NO_START_SERVER, None)
    return client


_asking: threading.Thread | None = None
_found = False


def answers() -> bool:
    """Whether JACK answers, yes or no, within `PATIENCE_S`; False at once while an earlier question hangs.

    python-rtmidi keeps hold of the interpreter while it waits, so that with a server that hangs every thread would
    stand still, for good or until JACK itself gives up. Here a thread asks that nobody need wait for.
    """
    global _asking
    if _asking is None or not _asking.is_alive():
        _asking = threading.Thread(target=_ask, name="jack", daemon=True)
        with hushed():
            _asking.start()
            _asking.join(PATIENCE_S)
    return not hangs()


def is_there() -> bool:
    """Whether JACK answers, and with yes."""
    return answers() and _found


def hangs() -> bool:
    """Whether JACK was asked and has not answered yet, not even no."""
    return _asking is not None and _asking.is_alive()


def _ask() -> None:
    global _found
    jack = _library()
    client = _opened(jack, "asks") if jack is not None else None
    _found = bool(client)
    if jack is not None and client:
        jack.jack_client_close(client)


def leave(client: Any) -> None:
    """Give nothing back of a client of python-rtmidi's: Python, too, would close it once nobody knows it any more."""
    ctypes.pythonapi.Py_IncRef(ctypes.py_object(client))


class JackLinks:
    """Asks JACK whether it is alive, and whether a port is still joined to one of ours.

    A port re-made between two looks keeps its name, and of a server that is dead the library goes on telling the ports
    it had: neither shows in a list of names.

    Parameters
    ----------
    ours : str
        What the names of our clients begin with.
    """

    def __init__(self, ours: str) -> None:
        self._ours = ours.encode()
        self._client: int | None = None
        self._goes = False
        self._round, self._since = 0, now()
        jack = _library()
        if jack is None:
            return
        self._jack = jack
        self._jack.jack_port_by_name.restype = ctypes.c_void_p
        self._jack.jack_port_by_name.argtypes = [ctypes.c_void_p, ctypes.c_char_p]
        self._jack.jack_port_get_all_connections.restype = ctypes.POINTER(ctypes.c_char_p)
        self._jack.jack_port_get_all_connections.argtypes = [ctypes.c_void_p, ctypes.c_void_p]
        self._jack.jack_free.argtypes = [ctypes.c_void_p]
        self._jack.jack_last_frame_time.restype = ctypes.c_uint32
        self._jack.jack_last_frame_time.argtypes = [ctypes.c_void_p]
        with hushed():
            self._client = _opened(jack, "links")
        self._round, self._since = self._rounds(), now()
        while self._client and not self._goes and now() - self._since < ROUND_S:
            time.sleep(0.001)
            self._goes = self._rounds() != self._round

    def alive(self) -> bool:
        """Whether the server goes round; True where it never did (one that sleeps while nobody plays)."""
        current, moment = self._rounds(), now()
        if current != self._round:
            self._goes, self._round, self._since = True, current, moment
        return not self._goes or moment - self._since < STILL_S

    def _rounds(self) -> int:
        """Something that moves with every round of the server."""
        found: int = self._jack.jack_last_frame_time(self._client) if self._client else 0
        return found

    def joined(self, name: str) -> bool:
        if not self._client:
            return True
        port = self._jack.jack_port_by_name(self._client, name.encode())
        if not port:
            return False
        found = self._jack.jack_port_get_all_connections(self._client, port)
        if not found:
            return False
        others: list[bytes] = []
        while (other := found[len(others)]) is not None:
            others.append(other)
        self._jack.jack_free(found)
        return any(other.startswith(self._ours) for other in others)

    def close(self) -> None:
        """Close the link; only while the server is there."""
        if self._client:
            self._jack.jack_client_close(self._client)
            self._client = None
