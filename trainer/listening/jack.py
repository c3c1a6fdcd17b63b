"""JACK itself, asked beside python-rtmidi: whether its server answers and lives, its ports, and which are joined.

All is asked through one client, which stays open until the program ends, as every client does: closing one can crash
it. The library stops the thread that tells the client of changes wherever that is, and takes ports out of the list it
walks along, without a lock (jack2 1.9.22, `JackPosixThread::Kill`, `JackClient::PortUnRegister`); one close in a
thousand or two hits it at the wrong moment, on a crowded machine one in some hundreds.
"""

from __future__ import annotations

import ctypes
import errno
import os
import pathlib
import re
import threading
import time
from typing import Any

from trainer.listening.clock import now
from trainer.listening.quiet import hushed

CLIENT = "keyfarer"
JACK_HANGS = "The JACK server does not answer: start it anew."
# A server that runs answers within some hundredths of a second.
PATIENCE_S = 1.0
_NO_START_SERVER = 1  # JackNoStartServer
_IS_INPUT, _IS_OUTPUT = 1, 2  # JackPortIsInput, JackPortIsOutput
# How the keepers of an output that are started from now on are told that JACK servers were lost, and how many.
_LOST = "KEYFARER_JACK_LOST"
# A server's slowest round takes a fifth of a second: whether it goes round shows within the one, and one that has gone
# round no more for the other hangs or is dead.
ROUND_S = 0.25
STILL_S = 3.0
# A change of the graph is taken over at the beginning of a round, the next or one after it where that was missed.
_ROUNDS_OF_A_CHANGE = 3


def _library() -> ctypes.CDLL | None:
    """The very library python-rtmidi has loaded: its wheel brings its own, and two in one program block each other."""
    # Paths in whatever letters, and with spaces: the program may be installed anywhere.
    loaded = re.search(r"/.*libjack.*", os.fsdecode(pathlib.Path("/proc/self/maps").read_bytes()))
    if not loaded:
        return None
    jack = ctypes.CDLL(loaded[0])
    client, words, one, many = ctypes.c_void_p, ctypes.c_char_p, ctypes.c_void_p, ctypes.POINTER(ctypes.c_char_p)
    for name, result, arguments in (
        ("jack_client_open", client, None),
        ("jack_get_client_name", words, [client]),
        ("jack_get_uuid_for_client_name", one, [client, words]),
        ("jack_last_frame_time", ctypes.c_uint32, [client]),
        ("jack_get_ports", many, [client, words, words, ctypes.c_ulong]),
        ("jack_port_by_name", one, [client, words]),
        ("jack_port_get_all_connections", many, [client, one]),
        ("jack_connect", ctypes.c_int, [client, words, words]),
        ("jack_disconnect", ctypes.c_int, [client, words, words]),
        ("jack_client_close", ctypes.c_int, [client]),
        ("jack_free", None, [ctypes.c_void_p]),
    ):
        function = getattr(jack, name)
        function.restype, function.argtypes = result, arguments
    return jack


_asking: threading.Thread | None = None
_links: JackLinks | None = None
_guard = threading.Lock()


def answers() -> bool:
    """Whether JACK answers, yes or no, within `PATIENCE_S`; False at once while an earlier question hangs.

    python-rtmidi keeps hold of the interpreter while it waits, so that with a server that hangs every thread would
    stand still, for good or until JACK itself gives up. Here a thread asks that nobody need wait for.
    """
    global _asking
    with _guard:
        if _asking is None or not _asking.is_alive():
            _asking = threading.Thread(target=_ask, name="jack", daemon=True)
            with hushed():
                _asking.start()
                _asking.join(PATIENCE_S)
        return not hangs()


def links() -> JackLinks | None:
    """What is known of the server there is, when it answers, and with yes."""
    return _links if answers() else None


def hangs() -> bool:
    """Whether JACK was asked and has not answered yet, not even no."""
    return _asking is not None and _asking.is_alive()


def _ask() -> None:
    global _links
    server = os.environ.get("JACK_DEFAULT_SERVER", "")
    if _links is not None and _links.server == server and not _links.lost and _links.replies():
        return
    _links = None
    jack = _library()
    name = f"{our_name()}-links".encode()
    client: int | None = jack.jack_client_open(name, _NO_START_SERVER, None) if jack else None
    if jack and client:
        _links = JackLinks(jack, client, server)


def our_name() -> str:
    """What our clients are called: of those left on a server that was lost a thread goes on waiting by its name."""
    lost = os.environ.get(_LOST, "")
    return f"{CLIENT}.{lost}" if lost else CLIENT


def leave(client: Any) -> None:
    """Give nothing back of a client of python-rtmidi's: Python, too, would close it once nobody knows it any more."""
    ctypes.pythonapi.Py_IncRef(ctypes.py_object(client))


class JackLinks:
    """What one server tells: whether it is alive, its MIDI ports, and what is joined to what.

    A port re-made between two looks keeps its name, and of a server that is dead the library goes on telling the ports
    it had: neither shows in a list of names.

    Parameters
    ----------
    jack : ctypes.CDLL
        The library.
    client : int
        A client of ours, open.
    server : str
        What ``JACK_DEFAULT_SERVER`` said when it was opened.
    """

    def __init__(self, jack: ctypes.CDLL, client: int, server: str) -> None:
        self._jack, self._client = jack, client
        self.server = server
        # For good, also where the server goes round again: it has stood still for another program that crashed.
        self.lost = self._goes = False
        self._round, self._since = self._rounds(), now()
        while not self._goes and now() - self._since < ROUND_S:
            time.sleep(0.001)
            self._goes = self._rounds() != self._round

    def replies(self) -> bool:
        """Whether the server replies to a question; never returns while it hangs."""
        found = self._jack.jack_get_uuid_for_client_name(self._client, self._jack.jack_get_client_name(self._client))
        if found:
            self._jack.jack_free(found)
        return bool(found)

    def settle(self) -> None:
        """Wait until every client has been told of what changed last, before one of them is closed."""
        seen, changes, since = self._rounds(), 0, now()
        while changes < _ROUNDS_OF_A_CHANGE and now() - since < ROUND_S:
            time.sleep(0.001)
            if (current := self._rounds()) != seen:
                seen, changes = current, changes + 1
        # The thread of the server's that replies is the one that tells; the second reply comes after all it had to.
        for _ in range(2):
            self.replies()

    def close(self) -> None:
        """Close the one client: the last thing asked for, while the server is there."""
        self.settle()
        self._jack.jack_client_close(self._client)

    def alive(self) -> bool:
        """Whether the server goes round; True where it never did (one that sleeps while nobody plays)."""
        current, moment = self._rounds(), now()
        if current != self._round:
            self._goes, self._round, self._since = True, current, moment
        if not self.lost and self._goes and moment - self._since >= STILL_S:
            self.lost = True
            os.environ[_LOST] = str(int(os.environ.get(_LOST, "1")) + 1)
        return not self.lost

    def _rounds(self) -> int:
        """Something that moves with every round of the server."""
        found: int = self._jack.jack_last_frame_time(self._client)
        return found

    def outputs(self) -> list[str]:
        """The MIDI ports something comes out of: instruments, for us to hear."""
        return self._ports(_IS_OUTPUT)

    def inputs(self) -> list[str]:
        """The MIDI ports something goes into: instruments, for us to sound."""
        return self._ports(_IS_INPUT)

    def _ports(self, flags: int) -> list[str]:
        found = self._jack.jack_get_ports(self._client, None, b"8 bit raw midi", flags)
        return [os.fsdecode(name) for name in self._names(found)]

    def joined(self, one: str, other: str) -> bool:
        """Whether two ports are joined."""
        return os.fsencode(other) in self._others(os.fsencode(one))

    def join(self, source: str, target: str) -> bool:
        """Join two ports, so that what comes out of the one goes into the other; whether they are."""
        did: int = self._jack.jack_connect(self._client, os.fsencode(source), os.fsencode(target))
        return did in (0, errno.EEXIST)

    def part(self, source: str, target: str) -> None:
        """Part two ports, where they are joined still."""
        if self.joined(source, target):
            self._jack.jack_disconnect(self._client, os.fsencode(source), os.fsencode(target))

    def _others(self, name: bytes) -> list[bytes]:
        port = self._jack.jack_port_by_name(self._client, name)
        return self._names(self._jack.jack_port_get_all_connections(self._client, port)) if port else []

    def _names(self, found: Any) -> list[bytes]:
        names: list[bytes] = []
        if found:
            while (name := found[len(names)]) is not None:
                names.append(name)
            self._jack.jack_free(found)
        return names
