"""Whether the program that was writing a take still runs."""

from __future__ import annotations

import os
import sys


def is_alive(process: int) -> bool:
    """Whether a process of this number runs; True when the system does not say."""
    if process <= 0:
        return False
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
