"""Erasing, and meaning it: rows are overwritten, free pages dropped, the log emptied, older copies removed."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Sequence
from pathlib import Path

from trainer.journal import files, unlearned, whose
from trainer.journal.coming import is_in_use
from trainer.journal.errors import JournalError
from trainer.journal.filing import uncount
from trainer.journal.recounting import count_all
from trainer.journal.rescue import GARBLED
from trainer.journal.store import Journal

_PATIENCE_S = 8.0  # seconds that erasing waits for another program
_AGAIN_S = 0.05


def erase_everything(path: Path) -> list[Path]:
    """Remove the journal and every copy of it; returns the files removed.

    Raises
    ------
    JournalError
        When it is no journal, another program has it open, or a file cannot be removed.
    """
    if path.exists() and not files.looks_ours(path):
        raise JournalError(f"{path} is not a Keyfarer journal, and was left as it is: name another file.")
    if files.in_use(path):
        raise JournalError(f"{path} is open in another copy of Keyfarer: close that first; nothing was erased.")
    # The journal itself last: cut off in the middle, it is still there to be erased.
    gone = files.family(path)[::-1]
    try:
        for one in gone:
            # Emptied first, so that a copy of the file's name elsewhere (a hard link) is empty too.
            with open(one, "r+b") as handle:
                handle.truncate(0)
            one.unlink()
    except OSError as why:
        raise JournalError(
            f"{why.filename} cannot be removed ({why.strerror}): close other copies of Keyfarer."
        ) from why
    return gone


def erase_takes(journal: Journal, numbers: Sequence[int]) -> None:
    """Erase takes, what they added to the figures, and what the cells remember of them.

    Raises
    ------
    JournalError
        When there is no such take.
    """
    rows = [journal.row(number) for number in numbers]
    _drop_copies(journal)
    with journal.changing() as db:
        damaged = False
        for row in rows:
            try:
                uncount(db, journal.take(row.id))
            except GARBLED:
                # What a damaged take added to the counts cannot be told any more.
                damaged = True
            db.execute(
                "UPDATE cell SET recent = '[]', since = 0 WHERE player = (SELECT player FROM take WHERE id = ?) "
                "AND level = ? AND key = ? AND hands = ?",
                (row.id, row.level, row.key, row.hands),
            )
            _drop(db, "id = ?", row.id)
        if damaged:
            count_all(db)
    _scrub(journal)


def erase_player(journal: Journal, name: str) -> int:
    """Erase a player and everything of theirs; returns how many takes that were.

    Raises
    ------
    JournalError
        When the journal knows no such player.
    """
    found = journal.ask("SELECT id FROM player WHERE name = ?", (name,))
    if not found:
        known = ", ".join(journal.players()) or "nobody yet"
        raise JournalError(f"The journal has no player '{name}': it has {known}.")
    number = found[0][0]
    takes = int(journal.ask("SELECT count(*) FROM take WHERE player = ?", (number,))[0][0])
    _drop_copies(journal)
    with journal.changing() as db:
        _drop(db, "player = ?", number)
        for table in ("tally", "daily", "cell", "sight"):
            db.execute(f"DELETE FROM {table} WHERE player = ?", (number,))
        db.execute("DELETE FROM player WHERE id = ?", (number,))
        # The number may be given to somebody else, who must not be taken for this one.
        whose.forget(db, number)
    _scrub(journal)
    return takes


def _drop(db: sqlite3.Connection, which: str, value: int) -> None:
    """Delete takes and everything that hangs on them; pieces nobody has played any more go too."""
    unlearned.forget(db, which, value)
    for table in ("live", "playing", "sight"):
        db.execute(f"DELETE FROM {table} WHERE take IN (SELECT id FROM take WHERE {which})", (value,))
    db.execute(f"DELETE FROM take WHERE {which}", (value,))
    db.execute("DELETE FROM piece WHERE id NOT IN (SELECT piece FROM take)")
    whose.reopen(db)


def _scrub(journal: Journal) -> None:
    """Leave nothing of deleted rows in the file and its log; then make a new backup."""
    until = time.monotonic() + _PATIENCE_S
    try:
        # Another copy, or this one's own thread, may be at its backup just now, which takes longer than a take can
        # wait; SQLite then refuses at once where waiting might be for ever.
        while (why := _overwritten(journal, until - time.monotonic())) is not None:
            if time.monotonic() >= until or files.trouble_of(why) != files.LOCKED:
                raise JournalError(
                    f"The rows are deleted but not overwritten yet ({why}): close other copies, erase again."
                ) from why
            time.sleep(_AGAIN_S)
    finally:
        journal.db.execute(f"PRAGMA busy_timeout = {round(files.BUSY_S * 1000)}")
    files.back_up(journal.path)


def _overwritten(journal: Journal, wait_s: float) -> BaseException | None:
    """Overwrite what was deleted; what kept it from being done, or None."""
    try:
        journal.db.execute(f"PRAGMA busy_timeout = {max(round(wait_s * 1000), 0)}")
        journal.db.execute("VACUUM")
        ((busy, *_),) = journal.db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
    except sqlite3.Error as why:
        return why
    locked = sqlite3.OperationalError("database is locked")
    locked.sqlite_errorcode = sqlite3.SQLITE_BUSY
    return locked if busy else None


def _drop_copies(journal: Journal) -> None:
    """Remove every other copy first: cut off in the middle, nothing is left in a file nobody looks into.

    What a running program notes while somebody plays stays: it is emptied with every press that is marked.
    """
    path = journal.path
    for one in files.family(path):
        if one.name not in (path.name, f"{path.name}-wal", f"{path.name}-shm") and not is_in_use(one, path):
            try:
                one.unlink(missing_ok=True)
            except OSError as why:
                raise JournalError(
                    f"{one} cannot be removed ({why.strerror}): close other copies of Keyfarer; nothing was erased."
                ) from why
