"""The way back into the journal of takes set aside while it could not be written."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from trainer.journal import aside, files, rescue
from trainer.journal.errors import JournalError
from trainer.journal.store import Journal
from trainer.journal.values import FINISHED

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
    waiting = [] if journal.in_memory else sorted(aside.set_aside_of(journal.path), key=lambda one: one.name)
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
