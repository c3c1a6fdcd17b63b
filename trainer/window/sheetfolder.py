"""Into which folder the Desk prints: among the documents, unless another is chosen in Setup."""

from __future__ import annotations

import os
from pathlib import Path

from trainer import folders
from trainer.music.pitch import MusicError
from trainer.window.places import home
from trainer.window.strings import say


def folder_of(chosen: str) -> Path:
    """The folder of a setting; empty where none was chosen.

    Raises
    ------
    MusicError
        When the chosen one is gone or cannot be written into: a stick that was pulled out is not made anew elsewhere.
    """
    if not chosen:
        return folders.sheets()
    place = Path(chosen)
    if not _takes_files(place):
        raise MusicError(say("sheet.folder.gone", path=home(place)))
    return place


def named(text: str) -> str:
    """A folder as somebody typed it or dropped it on the window, as the setting keeps it.

    Raises
    ------
    MusicError
        When there is none, or nothing can be written into it.
    """
    place = folders.typed(text.strip())
    if not place.is_absolute():
        # Whoever types a name alone means one of their own folders.
        place = folders.typed("~") / place
    if not _takes_files(place):
        raise MusicError(say("sheet.folder.none", path=home(place)))
    return str(place)


def offered(chosen: str) -> list[str]:
    """The settings to choose from: the usual place, those of the desktop and of downloads where there are such, and
    what was chosen.
    """
    others = [str(place) for place in (folders.desktop(), folders.downloads()) if place.is_dir()]
    return list(dict.fromkeys(["", *others, *([chosen] if chosen else [])]))


def shown(chosen: str) -> str:
    """How a setting is shown."""
    return home(Path(chosen) if chosen else folders.sheets())


def _takes_files(place: Path) -> bool:
    try:
        return place.is_dir() and os.access(place, os.W_OK | os.X_OK)
    except (OSError, ValueError):
        return False
