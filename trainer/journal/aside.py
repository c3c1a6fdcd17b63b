"""Takes set aside while the journal could not be written, and their way back into it at the next start.

They lie in a small journal of their own, ``journal-aside-….sqlite``: beside the journal, else in the home folder, else
where the system keeps what is passing. Which journal they belong to is written in it.
"""

from __future__ import annotations

import contextlib
import os
import re
import sqlite3
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.journal import files, rescue, schema
from trainer.journal.errors import JournalError
from trainer.journal.values import FINISHED

if TYPE_CHECKING:
    from trainer.journal.store import Journal

_OWNER = "set aside of"
_WHY = {files.FULL: "the disk is full: make room", files.LOCKED: "another copy of Keyfarer is writing it"}


@dataclass(frozen=True)
class Back:
    """What was taken back.

    Parameters
    ----------
    takes : dict of Path to int
        Each file that is gone because the journal holds all of it, and how many takes were new to the journal.
    words : str
        For the player; empty when nothing was new.
    """

    takes: dict[Path, int]
    words: str


def take_back(journal: Journal, told: Callable[[int], object] = lambda number: None) -> Back:
    """Take in what was set aside for this journal, and remove the files when every take of them is in it.

    What cannot be taken in stays where it is, is said, and is tried again at the next start.

    Parameters
    ----------
    told : callable
        Is given the number of each finished take the journal did not have so, in the order they were played, and does
        what it does in the very step that takes them in: both last, or neither.
    """
    found: dict[Path, int] = {}
    said = []
    waiting = [] if journal.in_memory else sorted(_set_aside_of(journal.path), key=lambda one: one.name)
    for one in waiting:
        try:
            found[one] = _taken_back(journal, one, told)
        except (*files.DATABASE_ERRORS, OSError, JournalError) as why:
            reason = _WHY.get(files.trouble_of(why.__cause__ or why), "it cannot be read whole")
            said.append(f"Takes set aside in {one} could not all be put into the journal ({reason}); they stay there.")
    fresh = sum(found.values())
    if fresh:
        were = "take that was" if fresh == 1 else "takes that were"
        said.insert(0, f"{fresh} {were} set aside {'is' if fresh == 1 else 'are'} in the journal now.")
    return Back(found, " ".join(said))


def _uids(journal: Journal) -> Iterator[str]:
    return (uid for (uid,) in journal.ask("SELECT uid FROM take"))


def _finished(db: sqlite3.Connection) -> list[int]:
    return [n for (n,) in db.execute("SELECT id FROM take WHERE state = ? ORDER BY began", (FINISHED,))]


def _folders(path: Path) -> list[Path]:
    folders = path.parent, Path.home(), Path(tempfile.gettempdir())
    return [one for one in dict.fromkeys(folders) if one.is_dir()]


def _set_aside_of(path: Path) -> Iterator[Path]:
    """Files in which takes of this journal were set aside."""
    named = re.compile(rf"{re.escape(path.stem)}-aside-\d{{8}}-\d{{6}}(?:-\d+)?{re.escape(path.suffix)}")
    for folder in _folders(path):
        with contextlib.suppress(OSError):
            yield from sorted(one for one in folder.iterdir() if named.fullmatch(one.name) and _is_of(one, path))


def _is_of(one: Path, path: Path) -> bool:
    """Whether a file belongs to this journal: as it says itself, else because it lies beside it."""
    if os.name == "posix" and one.stat().st_uid != os.getuid():
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


def _taken_back(journal: Journal, one: Path, told: Callable[[int], object]) -> int:
    """Put the takes of one file into the journal and see that they last; then the file goes. The number of new ones."""
    with contextlib.closing(sqlite3.connect(f"{one.resolve().as_uri()}?mode=ro", uri=True)) as db:
        uids = [uid for (uid,) in db.execute("SELECT uid FROM take")]
    with journal._lock:
        with rescue.opened(one) as source, journal.changing() as db:
            known = set(_finished(db))
            fresh = rescue.merge_rows(db, source)
            for number in _finished(db) if fresh else ():
                if number not in known:
                    told(number)
        if not set(_uids(journal)).issuperset(uids):
            raise JournalError("Not every take of it could be read.")
        # Synced to the disk: until then the file is the only copy a power cut leaves.
        journal.ask("PRAGMA wal_checkpoint(FULL)")
    one.unlink()
    return fresh


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
