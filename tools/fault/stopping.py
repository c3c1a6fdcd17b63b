"""A run that is stopped, by ctrl-c or from outside, leaves no process, no folder and no mounted disk behind."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from types import FrameType

_LOOKS, _PATIENCE_S = 5, 10.0


@contextlib.contextmanager
def leaving_nothing() -> Iterator[None]:
    """Whatever is made meanwhile lies in one folder; ctrl-c, the end of a terminal and SIGTERM end all that was started
    and the run at once, with 130: its threads would go on to the end of their work.
    """
    with tempfile.TemporaryDirectory() as folder:
        tempfile.tempdir = os.environ["TMPDIR"] = folder
        # What is tried as somebody else has to get through.
        os.chmod(folder, 0o711)

        def stop(number: int, frame: FrameType | None) -> None:
            print("Stopped: nothing of it runs on, and its folders are removed.", file=sys.stderr, flush=True)
            # No thread begins anything more that needs a folder.
            tempfile.tempdir = os.path.join(folder, "over")
            _end_all()
            _unmount(folder)
            shutil.rmtree(folder, ignore_errors=True)
            os._exit(130)

        for one in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            # What whoever started it has it ignore (nohup, a job in the background) stays ignored.
            if signal.getsignal(one) is not signal.SIG_IGN:
                signal.signal(one, stop)
        yield


def _end_all() -> None:
    """End all that was started, and what threads still start because of that, until nothing comes any more."""
    quiet, until = 0, time.monotonic() + _PATIENCE_S
    while quiet < _LOOKS and time.monotonic() < until:
        begun = descendants(os.getpid())
        for one in begun:
            with contextlib.suppress(ProcessLookupError):
                os.kill(one, signal.SIGKILL)
        quiet = 0 if begun else quiet + 1
        time.sleep(0.05)


def _unmount(folder: str) -> None:
    places = (line.split()[1] for line in Path("/proc/mounts").read_text(encoding="utf-8").splitlines())
    for place in places:
        if place.startswith(folder):
            subprocess.run(["umount", "-l", place], capture_output=True)


def descendants(process: int) -> list[int]:
    """Numbers of the processes one has started and of those they have started, as Linux tells them, that still run."""
    children: dict[int, list[int]] = {}
    for place in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            # The name in brackets may hold spaces; state and parent come after it.
            state, parent = place.read_text(encoding="utf-8", errors="replace").rpartition(")")[2].split()[:2]
            if state != "Z":
                children.setdefault(int(parent), []).append(int(place.parent.name))
    found: list[int] = []
    waiting = [process]
    while waiting:
        mine = children.get(waiting.pop(), [])
        found += mine
        waiting += mine
    return found
