"""Servers the tests need (JACK, X): they end with the program that started them, however that ends.

Of JACK's servers eight can run at once for all programs of a machine, and one killed outright keeps its place: a few
test runs that were killed, and no other could begin.
"""

from __future__ import annotations

import ctypes
import os
import signal
import subprocess
import sys
from collections.abc import Sequence
from typing import Any

_END_WITH_PARENT = 1  # PR_SET_PDEATHSIG, from <sys/prctl.h>


def jack_words(name: str, *how: str) -> list[str]:
    """What starts a JACK server without a sound card; by itself it waits for clients that are late."""
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
