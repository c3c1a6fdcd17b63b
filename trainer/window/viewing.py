"""Files shown by the system's own program for them. Done aside (`Workroom.ask_aside`): the window waits for nothing."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from trainer.window.places import home
from trainer.window.strings import say

# What opens a file as if it had been chosen in the file manager, by platform; else the freedesktop.org way.
_OPENERS = {"darwin": "open"}
_FREEDESKTOP = "xdg-open"
# Who cannot open it says so by then; a viewer that goes on belongs to the player (ours).
_WAIT_S = 3.0


def show(path: str) -> str:
    """Open a file in the program the player has for its kind; what hinders it, in a sentence, or empty."""
    if not Path(path).is_file():
        return say("desk.sheet.gone", path=home(Path(path)))
    return "" if _opened(path) else say("desk.sheet.no-viewer", path=home(Path(path)))


def show_folder(path: str) -> bool:
    """Open a folder in the computer's own program for files; whether there was one."""
    return _opened(path)


def _opened(path: str) -> bool:
    try:
        if sys.platform == "win32":
            os.startfile(path)
            return True
        opener = _OPENERS.get(sys.platform, _FREEDESKTOP)
        # A session of its own: closing this program closes no viewer.
        started = subprocess.Popen(
            [opener, path], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            start_new_session=True,
        )  # fmt: skip
    except OSError:
        return False
    try:
        return started.wait(_WAIT_S) == 0
    except subprocess.TimeoutExpired:
        return True
