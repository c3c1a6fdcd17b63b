"""Own pieces named by where they lay before the data folder came here: from another computer, or another place."""

from __future__ import annotations

from pathlib import Path, PurePosixPath, PureWindowsPath

from trainer.scores.shelf.library import own_folder


def at_home(name: str) -> str:
    """The place here of an own piece named by its whole path elsewhere; any other name as it is.

    Plain files name own pieces so. What lay in a folder of pieces there lies at the same place in the one here.
    """
    elsewhere = PureWindowsPath(name)  # which parts names at both kinds of stroke
    if not (elsewhere.is_absolute() or PurePosixPath(name).is_absolute()) or ".." in elsewhere.parts:
        return name
    try:
        if Path(name).is_file():
            return name
        home = own_folder()
        for at, part in enumerate(elsewhere.parts[:-1]):
            here = home.joinpath(*elsewhere.parts[at + 1 :])
            if part == home.name and here.is_file():
                return str(here)
    except (OSError, ValueError):  # a name no file system takes
        pass
    return name
