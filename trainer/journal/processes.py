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
    """When a process was started; 0 when the system does not say (field 22 of ``stat``, man 5 proc)."""
    try:
        fields = Path(f"/proc/{process}/stat").read_text(encoding="utf-8", errors="replace").rpartition(")")[2].split()
        return int(fields[19]) & ((1 << _STARTED_BITS) - 1)
    except (OSError, ValueError, IndexError):
        return 0


def is_alive(known_by: int) -> bool:
    """Whether the program known by this number, or any of this process number, runs; True when nobody can say."""
    if known_by <= 0:
        return False
    process, started = known_by & ((1 << _NUMBER_BITS) - 1), known_by >> _NUMBER_BITS
    return _runs(process) and (not started or _started(process) in (0, started))


def _runs(process: int) -> bool:
    """Whether a process of this number runs; True when the system does not say."""
    if sys.platform == "win32":
        # os.kill with signal 0 would end the process on Windows, so ask for a handle instead.
        import ctypes

        handle = ctypes.windll.kernel32.OpenProcess(0x1000, False, process)
        if not handle:
            return False
        code = ctypes.c_ulong()
        ctypes.windll.kernel32.GetExitCodeProcess(handle, ctypes.byref(code))
        ctypes.windll.kernel32.CloseHandle(handle)
        return code.value == 259  # STILL_ACTIVE
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True
