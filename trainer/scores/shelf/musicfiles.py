"""Files of music below a folder, told by their names, and moved from one to another."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

from trainer.music.pitch import MusicError
from trainer.scores.plain import free

# Endings worth looking into when a folder is searched; a file named outright is read whatever it is called.
ENDINGS = (".musicxml", ".xml", ".mxl", ".mid", ".midi", ".abc", ".krn")
_TAKES = "takes"  # a folder of recorded takes: played back, never put on the stand
TAKEN_OFF = "pieces taken off"  # a folder beside the player's own pieces
_DEEPEST = 6
_MOST_FILES = 50_000


def music_files(folder: Path, refused: Callable[[str, OSError], None] | None = None) -> Iterator[os.DirEntry[str]]:
    """Every music file below a folder, recorded takes left out. Links to folders are not followed.

    `refused` is called with every folder that is there and cannot be read, and why.
    """
    waiting = [(str(folder), 0)]
    count = 0
    while waiting:
        place, depth = waiting.pop()
        try:
            with os.scandir(place) as entries:
                listed = list(entries)
        except OSError as why:
            # A link to a drive that is not there is no folder that nobody has made yet, nor is one nobody may see.
            if refused is not None and (isinstance(why, PermissionError) or os.path.lexists(place)):
                refused(place, why)
            continue
        for entry in listed:
            name = entry.name
            if name.lower().endswith(ENDINGS):
                if name[0] != "." and (count := count + 1) <= _MOST_FILES:
                    yield entry
            elif depth < _DEEPEST and name[0] != "." and name != _TAKES and _is_folder(entry):
                waiting.append((entry.path, depth + 1))


def _is_folder(entry: os.DirEntry[str]) -> bool:
    try:
        return entry.is_dir(follow_symlinks=False)
    except OSError:  # of a drive that went meanwhile
        return False


def moved(place: Path, here: Path, there: Path, stays: str) -> Path:
    """Move a file to another folder, into the folder of the same name below it; returns its place.

    Raises
    ------
    MusicError
        When it cannot be moved, which it `stays` then, in words.
    """
    goal = free(there / place.relative_to(here).parent, place.name)
    try:
        goal.parent.mkdir(parents=True, exist_ok=True)
        # Also where the shelf is a link to another drive.
        shutil.move(place, goal)
    except OSError as why:
        if os.path.lexists(place):  # copied to another drive, and not to be deleted here
            with suppress(OSError):
                goal.unlink()
        said = (why.strerror or str(why)).lower()
        raise MusicError(f"'{place.name}' {stays} ({said}): see to the rights of {here} and {there}.") from why
    return goal
