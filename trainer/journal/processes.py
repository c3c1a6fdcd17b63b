"""Whether the program that was writing a take still runs.

A program is known by its process number and, where the system tells it, by when it was started: after a power cut
some other program soon has the number.
"""

from __future__ import annotations

import os
import sys
from functools import cache
from pathlib import Path

# Below: the process number; above: when it was started, in 31 bits of the system's own ticks, 0 where it is not told.
_NUMBER_BITS = 32
_STARTED_BITS = 31


@cache
def of(process: int) -> int:
    """What a program that runs, of this process number, is known by."""
    return process | (_started(process) << _NUMBER_BITS)


def _started(process: int) -> int:
    """When a process was started, in ticks of the system's own; 0 when the system does not say.

    Linux tells it in field 22 of ``stat`` (man 5 proc), which no change of the clock moves; elsewhere it is asked of
    psutil, in milliseconds.
    """
    try:
        if sys.platform == "linux":
            stat = Path(f"/proc/{process}/stat").read_text(encoding="utf-8", errors="replace")
            ticks = int(stat.rpartition(")")[2].split()[19])
        else:
            ticks = _told_by_psutil(process)
    except (OSError, ValueError, IndexError):
        return 0
    return ticks & ((1 << _STARTED_BITS) - 1)


def _told_by_psutil(process: int) -> int:
    import psutil

    try:
        seconds: float = psutil.Process(process).create_time()
    except psutil.Error:
        return 0
    return round(seconds * 1000)


def is_alive(known_by: int) -> bool:
    """Whether the program known by this number, or any of this process number, runs; True when nobody can say."""
    if known_by <= 0:
        return False
    process, started = known_by & ((1 << _NUMBER_BITS) - 1), known_by >> _NUMBER_BITS
    return _runs(process) and (not started or _started(process) in (0, started))


def _runs(process: int) -> bool:
    """Whether a process of this number runs; True when the system does not say."""
    if sys.platform == "win32":
        # os.kill with signal 0 would end the process on Windows.
        import psutil

        return bool(psutil.pid_exists(process))
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True
