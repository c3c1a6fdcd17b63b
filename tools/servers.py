"""Servers the tests need (JACK, X): they end with the program that started them, however that ends.

Of JACK's servers eight can run at once for all programs of a machine, and one killed outright keeps its place until
another of its name begins. So ours take few names again and again, and where none runs those killed are forgotten.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import pathlib
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from typing import Any

_END_WITH_PARENT = 1  # PR_SET_PDEATHSIG, from <sys/prctl.h>
# Of this many names the first that is free; where JACK 2 lists the places of all servers, and how long one may take.
_NAMES = 64
_PLACES = pathlib.Path("/dev/shm/jack-shm-registry")
JACK_WAIT_S = 60.0

_held: list[int] = []


class NoServer(Exception):
    """A JACK server that does not begin."""


def jack_name() -> str:
    """A name for a JACK server no other program here has: this one's until it and its servers have ended."""
    for number in range(1, _NAMES + 1):
        if (held := _lock(number, wait=False)) is not None:
            _held.append(held)
            return f"keyfarer-{number}"
    raise NoServer("Too many programs of ours run at once.")


def _lock(number: int, *, wait: bool = True) -> int | None:
    """A file nobody removes, held by one program at a time and free again however that ends; none where it is held."""
    import fcntl

    path = pathlib.Path(tempfile.gettempdir(), f"keyfarer-jack-{os.getuid()}-{number}")
    file = os.open(path, os.O_CREAT | os.O_RDWR, 0o600)
    try:
        fcntl.flock(file, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except BlockingIOError:
        os.close(file)
        return None
    return file


def jack_answers(name: str) -> bool:
    """Whether the server of that name takes clients."""
    there = {**os.environ, "JACK_DEFAULT_SERVER": name}
    try:
        return subprocess.run(["jack_lsp"], capture_output=True, timeout=10, check=False, env=there).returncode == 0
    except subprocess.TimeoutExpired:  # a busy machine: it is asked again
        return False


def jack_started(name: str, *how: str, output: Any = subprocess.DEVNULL) -> subprocess.Popen[bytes]:
    """Start a JACK server without a sound card, from the main thread, and wait until it takes clients.

    Parameters
    ----------
    name : str
        What clients name in ``JACK_DEFAULT_SERVER``.
    how : str
        Options of jackd; none, and it has no real-time threads and waits for clients that are late.
    output : file, optional
        Where what it says goes; nowhere when left out.

    Raises
    ------
    NoServer
        It ended by itself, or took no clients for a minute.
    """
    # One of ours at a time, lest one throw away what the other is about to hold.
    alone = _lock(0)
    assert alone is not None
    try:
        _give_back()
        server = started(_jack_words(name, *how), output, pass_fds=_held)
        until = time.monotonic() + JACK_WAIT_S
        while server.poll() is None:
            if jack_answers(name):
                return server
            if time.monotonic() > until:
                ended(server)
                raise NoServer("jackd takes no clients here.")
            time.sleep(0.05)
        raise NoServer("jackd does not begin here.")
    finally:
        os.close(alone)


def _give_back() -> None:
    """Forget the servers that were killed, where none runs any more."""
    for maps in pathlib.Path("/proc").glob("[0-9]*/maps"):
        with contextlib.suppress(OSError):
            # Whoever runs a server or plays on one has the list in its memory.
            if str(_PLACES) in maps.read_text(encoding="utf-8", errors="replace"):
                return
    with contextlib.suppress(OSError):
        _PLACES.unlink()


def _jack_words(name: str, *how: str) -> list[str]:
    return ["jackd", "-n", name, *(how or ("-r", "-S")), "-d", "dummy", "-r", "48000", "-p", "64"]


def started(words: Sequence[str], output: Any = subprocess.DEVNULL, **more: Any) -> subprocess.Popen[bytes]:
    """Start a server from the main thread.

    Parameters
    ----------
    words : sequence of str
        Program and arguments.
    output : file, optional
        Where what it says goes; nowhere when left out.
    """
    if sys.platform == "linux":
        # Looked up before the fork: afterwards another thread may hold what that needs.
        prctl = ctypes.CDLL(None).prctl
        more["preexec_fn"] = lambda: prctl(_END_WITH_PARENT, signal.SIGTERM)
    environment = {**os.environ, "JACK_NO_AUDIO_RESERVATION": "1"}
    return subprocess.Popen(words, stdout=output, stderr=output, env=environment, **more)


def ended(server: subprocess.Popen[bytes], patience: float = 20.0) -> None:
    """End a server, also one that hangs."""
    if hasattr(signal, "SIGCONT"):
        server.send_signal(signal.SIGCONT)
    server.terminate()
    try:
        server.wait(patience)
    except subprocess.TimeoutExpired:
        server.kill()
        server.wait()
