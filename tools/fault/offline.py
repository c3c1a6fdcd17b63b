"""Run a program without the internet: ``python -m tools.fault.offline PROGRAM WORDS…``.

The kernel ends the program, or the part of it that tries, the moment it asks for a socket of the internet's two
families, whether Python asks or any library in C. What it starts is held to the same. Sockets within the machine, by
which JACK and X are spoken to, stay. Linux on x86-64 and 64-bit ARM; nothing can undo it once it is done.

Sources: linux/seccomp.h, linux/filter.h, linux/audit.h and the tables of system calls of both machines.
"""

from __future__ import annotations

import ctypes
import os
import platform
import socket
import struct
import sys

# Machine -> how the kernel names it to a filter, number of the system call `socket`.
MACHINES = {"x86_64": (0xC000003E, 41), "aarch64": (0xC00000B7, 198)}
_LOAD, _JUMP_IF_EQUAL, _RETURN = 0x20, 0x15, 0x06
_NUMBER, _MACHINE, _FAMILY = 0, 4, 16  # places in struct seccomp_data
_KILL, _ALLOW = 0x80000000, 0x7FFF0000
_NO_NEW_PRIVILEGES, _SET_SECCOMP, _FILTER = 38, 22, 2


class _Program(ctypes.Structure):
    _fields_ = (("length", ctypes.c_ushort), ("steps", ctypes.c_void_p))


def can() -> bool:
    """Whether this machine's kernel can be asked."""
    return sys.platform == "linux" and platform.machine() in MACHINES


def deny() -> None:
    """From now on this process and what it starts end when they ask for a socket of the internet.

    Raises
    ------
    OSError
        When the kernel refuses.
    """
    machine, number = MACHINES[platform.machine()]
    steps = (
        (_LOAD, 0, 0, _MACHINE), (_JUMP_IF_EQUAL, 0, 5, machine), (_LOAD, 0, 0, _NUMBER),
        (_JUMP_IF_EQUAL, 0, 3, number), (_LOAD, 0, 0, _FAMILY), (_JUMP_IF_EQUAL, 2, 0, socket.AF_INET),
        (_JUMP_IF_EQUAL, 1, 0, socket.AF_INET6), (_RETURN, 0, 0, _ALLOW), (_RETURN, 0, 0, _KILL),
    )  # fmt: skip
    packed = ctypes.create_string_buffer(b"".join(struct.pack("HBBI", *step) for step in steps))
    filtering = _Program(len(steps), ctypes.cast(packed, ctypes.c_void_p).value)
    kernel = ctypes.CDLL(None, use_errno=True)
    if kernel.prctl(_NO_NEW_PRIVILEGES, 1, 0, 0, 0) or kernel.prctl(
        _SET_SECCOMP, _FILTER, ctypes.byref(filtering), 0, 0
    ):
        raise OSError(ctypes.get_errno(), "the kernel takes no filter")


if __name__ == "__main__":
    deny()
    os.execvp(sys.argv[1], sys.argv[1:])
