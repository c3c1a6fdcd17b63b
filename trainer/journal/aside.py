"""Takes set aside while the journal could not be written.

They lie in a small journal of their own, ``journal-aside-….sqlite``: beside the journal, else in the home folder, else
where the system keeps what is passing. Which journal they belong to is written in it; at the next start they come back
(`trainer.journal.comingback`).
"""

from __future__ import annotations

import contextlib
import os
import re
import sqlite3
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

from trainer.folders import typed
from trainer.journal import files, rescue, schema
from trainer.journal.errors import JournalError

_OWNER = "set aside of"


def _folders(path: Path) -> list[Path]:
    # Of somebody the system does not know there is no home; a folder may lie where nobody may look.
    folders = path.parent, typed("~"), Path(tempfile.gettempdir())
    return [one for one in dict.fromkeys(folders) if os.path.isdir(one)]


def set_aside_of(path: Path) -> Iterator[Path]:
    """Files in which takes of this journal were set aside."""
    named = re.compile(rf"{re.escape(path.stem)}-aside-\d{{8}}-\d{{6}}(?:-\d+)?{re.escape(path.suffix)}")
    for folder in _folders(path):
        with contextlib.suppress(OSError):
            yield from sorted(one for one in folder.iterdir() if named.fullmatch(one.name) and _is_of(one, path))


def _is_of(one: Path, path: Path) -> bool:
    """Whether a file belongs to this journal: as it says itself, else because it lies beside it."""
    if sys.platform != "win32" and one.stat().st_uid != os.getuid():
        return False
    owner = None
    with (
        contextlib.suppress(*files.DATABASE_ERRORS),
        contextlib.closing(sqlite3.connect(f"{one.resolve().as_uri()}?mode=ro", uri=True)) as db,
    ):
        owner = db.execute("SELECT value FROM fact WHERE name = ?", (_OWNER,)).fetchone()
    if owner is not None and owner[0] == str(path.resolve()):
        return True
    # A journal that was moved took the file along.
    return one.parent == path.parent and (owner is None or not Path(owner[0]).exists())


def set_aside(db: sqlite3.Connection, uids: Sequence[str], known: Path | None, path: Path) -> Path:
    """Copy some takes from a journal in memory to a file where there is room; returns the file.

    Raises
    ------
    JournalError
        When there is no such place.
    """
    places = [known] if known else []
    places += [files.beside(folder / path.name, "aside") for folder in _folders(path)]
    for place in places:
        part = place.with_name(f"{place.name}.part")
        try:
            with contextlib.closing(files.connect(part)) as goal:
                schema.upgrade(goal)
                rescue.merge_open(goal, db, set(uids))
                goal.execute("INSERT OR REPLACE INTO fact VALUES (?, ?)", (_OWNER, str(path.resolve())))
            part.replace(place)
            return place
        except (*files.DATABASE_ERRORS, OSError):
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
    raise JournalError(
        "Nothing can be written anywhere on this computer: takes are only in memory, so do not quit yet."
    )
