"""Own pieces named by where they lay before the data folder came here: from another computer, or another place."""

from __future__ import annotations

import os
import unicodedata
from pathlib import Path, PurePosixPath, PureWindowsPath


def moved_to(name: str, own: Path) -> Path | None:
    """Where in the folder `own` a piece lies that is named by its whole path in such a folder elsewhere, if it does.

    Set lists and work name own pieces so: ``C:\\Users\\Ada\\keyfarer\\pieces\\a.mid`` is ``pieces/a.mid`` here.
    """
    elsewhere = PureWindowsPath(name)  # which parts names at both kinds of stroke
    if not (elsewhere.is_absolute() or PurePosixPath(name).is_absolute()) or ".." in elsewhere.parts:
        return None
    parts = elsewhere.parts
    for at, part in enumerate(parts[:-1]):
        if part.strip("/\\") == own.name:
            # Letters with accents are written in two ways, by one system or another.
            ways = (unicodedata.normalize(form, "/".join(parts[at + 1 :])) for form in ("NFC", "NFD"))
            here = next((own / way for way in ways if os.path.isfile(own / way)), None)
            if here is not None:
                return here
    return None
