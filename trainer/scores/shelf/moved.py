"""Own pieces named by where they lay before the data folder came here: from another computer, or another place."""

from __future__ import annotations

import unicodedata
from pathlib import Path, PurePosixPath, PureWindowsPath

from trainer.scores.shelf.musicfiles import music_files


def moved_to(name: str, own: Path) -> Path | None:
    """Where in the folder `own` a piece lies that is named by its whole path in such a folder elsewhere, if it does.

    Set lists and work name own pieces so: ``C:\\Users\\Ada\\keyfarer\\pieces\\a.mid`` is ``pieces/a.mid`` here.
    """
    elsewhere = PureWindowsPath(name)  # which parts names at both kinds of stroke
    if not (elsewhere.is_absolute() or PurePosixPath(name).is_absolute()) or ".." in elsewhere.parts:
        return None
    parts = elsewhere.parts
    wanted = {_plain("/".join(parts[at + 1 :])) for at, part in enumerate(parts[:-1]) if part.strip("/\\") == own.name}
    for entry in music_files(own) if wanted else ():
        if _plain(Path(entry.path).relative_to(own).as_posix()) in wanted:
            return Path(entry.path)
    return None


def _plain(name: str) -> str:
    """Letters with accents are written in two ways, by one system or another."""
    return unicodedata.normalize("NFC", name)
