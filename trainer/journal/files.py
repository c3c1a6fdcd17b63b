"""The journal's files: where they lie, opening them, keeping a good copy, and what is done about a bad one.

Beside ``journal.sqlite`` there may lie ``journal-backup.sqlite`` (a day old at most), ``journal-format1-….sqlite``
(the copy kept before an upgrade), ``journal-damaged-….sqlite`` (a damaged journal, as it was found),
``journal-aside-….sqlite`` (takes that could not be written in their place); and, while somebody plays,
``journal-coming-….sqlite`` (lines about what is heard and not marked yet; no database).
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import shutil
import sqlite3
import sys
import threading
import time
from pathlib import Path

from trainer import folders
from trainer.journal import schema
from trainer.journal.errors import JournalError

NAME = "journal.sqlite"
BUSY_S = 1.0
# Where a frame waits for the take: it is tried again.
BRIEF_S = 0.05
CHECKED_ALWAYS_BYTES = 32 * 2**20
LONGEST_LOG_BYTES = 16 * 2**20

# What SQLite puts behind a name; what `beside` puts between stem and ending; what a file is called until it is whole.
_TAILS = ("-wal", "-shm", "-journal")
_COPIES = r"backup|(?:damaged|aside|replaced|format\d+)-\d{8}-\d{6}(?:-\d+)?|coming-\d+-[0-9a-f]{8}"
_HALF = r"\.part(?:-\d+-\d+)?"

LOCKED, FULL, READ_ONLY, DAMAGED, FAILED = "locked", "full", "read-only", "damaged", "failed"
# SQLite's primary result codes (sqlite.org/rescode.html).
_CODES = {5: LOCKED, 6: LOCKED, 8: READ_ONLY, 10: FAILED, 11: DAMAGED, 13: FULL, 14: READ_ONLY, 26: DAMAGED}


def where() -> Path:
    """The journal's usual place."""
    return folders.data() / NAME


def beside(path: Path, what: str, stamped: bool = True) -> Path:
    """A file next to the journal: ``journal-damaged-20261125-140300.sqlite``; never one that is there already."""
    stem = f"{path.stem}-{what}" + (time.strftime("-%Y%m%d-%H%M%S") if stamped else "")
    found, again = path.with_name(f"{stem}{path.suffix}"), 2
    while stamped and os.path.exists(found):  # in a folder that may not be looked into there is none
        found, again = path.with_name(f"{stem}-{again}{path.suffix}"), again + 1
    return found


def backup_of(path: Path) -> Path:
    return beside(path, "backup", stamped=False)


def real(path: Path) -> Path:
    """The journal itself, where what lies here is a link to it: beside it SQLite keeps its log."""
    return Path(os.path.realpath(path)) if path.is_symlink() else path


# What a database that cannot be used may raise; a damaged one can spoil even the text of SQLite's own message.
DATABASE_ERRORS = (sqlite3.Error, UnicodeDecodeError)


def trouble_of(why: BaseException) -> str:
    """Which kind of trouble a database or file error is."""
    if isinstance(why, sqlite3.Error):
        code = getattr(why, "sqlite_errorcode", None)
        if code is not None:
            return _CODES.get(code & 0xFF, FAILED)
        return DAMAGED if type(why) is sqlite3.DatabaseError else FAILED
    if isinstance(why, UnicodeDecodeError):
        return DAMAGED
    return READ_ONLY if isinstance(why, OSError) else FAILED


def said_of(kind: str, path: Path, why: BaseException) -> str:
    """What a kind of trouble with a journal is and what to do about it, in a sentence."""
    return {
        LOCKED: f"The journal {path} is being written by another copy of Keyfarer.",
        FULL: "The disk is full, so the journal cannot be written: make room.",
        READ_ONLY: f"The journal {path} cannot be written: see to the folder's permissions.",
        DAMAGED: f"The journal {path} is damaged: 'keyfarer journal restore' puts the backup back.",
    }.get(kind, f"The journal {path} cannot be used ({why}).")


def connect(path: Path | None) -> sqlite3.Connection:
    """A connection as the journal wants it; in memory when `path` is None. The file is made, readable by its owner."""
    if path is None:
        db = sqlite3.connect(":memory:", check_same_thread=False, isolation_level=None)
    else:
        _make(path)
        db = sqlite3.connect(path, timeout=BUSY_S, check_same_thread=False, isolation_level=None)
    # A flipped bit in a title must not stop the rest from being read.
    db.text_factory = lambda raw: raw.decode(errors="replace")
    return db


def _make(path: Path) -> None:
    """Make the file when there is none, for its owner alone.

    One that is there is never opened: on POSIX closing it again would take away every lock that other connections of
    this program hold on it (sqlite.org/howtocorrupt.html, 2.2), and another program could then throw away the log
    that is being written.
    """
    try:
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
        return
    except FileExistsError:
        pass
    if not os.access(path, os.R_OK | os.W_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))


def keep_private(path: Path) -> None:
    """See that its owner alone reads a journal and its log, however they were copied here."""
    for part in (Path(f"{path}{tail}") for tail in ("", *_TAILS)):
        # A file of somebody else's, or a log that is not there.
        with contextlib.suppress(PermissionError, FileNotFoundError):
            if os.name == "posix" and part.stat().st_mode & 0o077:
                part.chmod(0o600)


def make_folder(path: Path) -> None:
    if not path.parent.is_dir():
        path.parent.mkdir(parents=True, mode=0o700, exist_ok=True)


def prepare(db: sqlite3.Connection, path: Path, *, check: bool) -> None:
    """Make an opened file ready: integrity, write-ahead log, tables of this version.

    Raises
    ------
    JournalError
        Newer than this program, or another program's.
    sqlite3.Error
        Damaged, locked, full.
    """
    found = schema.version(db)
    # Only now is it known to be ours.
    keep_private(path)
    # Three packed takes of usual length fill such a page; in one of 4096 bytes nearly half would stay empty. Only a
    # file with nothing in it yet heeds this.
    db.execute("PRAGMA page_size = 8192")
    if check:
        verdict = db.execute("PRAGMA quick_check(1)").fetchone()[0]
        if verdict != "ok":
            raise sqlite3.DatabaseError(f"quick_check: {verdict}")
        if not schema.is_whole(db):
            raise sqlite3.DatabaseError("its tables are not as they were made")
    if found < schema.VERSION and found > 0:
        copy_to(db, beside(path, f"format{found}"))
    db.execute("PRAGMA journal_mode = WAL")
    # In WAL this survives the program's end at any moment; the file is synced to the disk after every take.
    db.execute("PRAGMA synchronous = NORMAL")
    # No checkpoint while someone plays: the journal does it between takes.
    db.execute("PRAGMA wal_autocheckpoint = 0")
    db.execute("PRAGMA secure_delete = ON")
    if found < schema.VERSION:
        schema.upgrade(db)


def wants_check(path: Path) -> bool:
    """Whether the whole file is read through before use: a small one always, a large one when a crash left its log.

    A large journal is read through once a day besides, when it is backed up.
    """
    log = Path(f"{real(path)}-wal")
    return path.stat().st_size <= CHECKED_ALWAYS_BYTES or (log.exists() and log.stat().st_size > 0)


def _part(goal: Path) -> Path:
    """A name to write under until all is written; one for each writer."""
    return goal.with_name(f"{goal.name}.part-{os.getpid()}-{threading.get_ident()}")


def copy_to(db: sqlite3.Connection, goal: Path) -> None:
    """A whole copy of an open journal: written aside, synced, renamed, so no half copy ever replaces a good one."""
    aside = _part(goal)
    try:
        with contextlib.closing(connect(aside)) as copy:
            db.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
        with open(aside, "rb+") as handle:
            os.fsync(handle.fileno())
        os.replace(aside, goal)
        sync_folder(goal.parent)
    finally:
        aside.unlink(missing_ok=True)


def sync_folder(folder: Path) -> None:
    """Make a rename last; Windows has no such call and needs none."""
    if sys.platform != "win32":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


# One backup at a time, so that a slower, older copy never replaces a newer one.
_BACKING_UP = threading.Lock()


def sync(path: Path) -> None:
    """See that what was written is on the disk, as far as the file allows it now."""
    with contextlib.suppress(*DATABASE_ERRORS, OSError), contextlib.closing(connect(path)) as db:
        # A log that has grown long is emptied, which makes writers wait; a short one is copied beside them.
        log = Path(f"{real(path)}-wal")
        how = "TRUNCATE" if log.exists() and log.stat().st_size > LONGEST_LOG_BYTES else "PASSIVE"
        db.execute(f"PRAGMA wal_checkpoint({how})")


def back_up(path: Path, *, unless_younger_s: float = 0.0) -> Path:
    """Read the journal through and, if it is sound, let a copy of it replace the backup.

    Parameters
    ----------
    unless_younger_s : float
        Leave a backup of at most this age as it is.

    Raises
    ------
    JournalError
        When the journal is damaged: the older backup stays.
    """
    goal = backup_of(path)
    try:
        with _BACKING_UP, contextlib.closing(connect(path)) as db:
            # One that a wrong clock dated years ahead is not young until then.
            if goal.exists() and abs(time.time() - goal.stat().st_mtime) < unless_younger_s:
                return goal
            if db.execute("PRAGMA quick_check(1)").fetchone()[0] != "ok":
                raise sqlite3.DatabaseError("quick_check")
            copy_to(db, goal)
    except (*DATABASE_ERRORS, OSError) as why:
        raise JournalError(f"The journal could not be copied ({why}): the older backup stays.") from why
    return goal


def keep_as(path: Path, what: str) -> Path:
    """Give a journal and its log a second name under which they stay whatever comes; returns that name."""
    goal = beside(path, what)
    for tail in ("", "-wal"):
        part = Path(f"{real(path)}{tail}")
        if part.exists():
            try:
                os.link(part, f"{goal}{tail}")
            except OSError:  # a disk without hard links
                _make(Path(f"{goal}{tail}"))
                shutil.copyfile(part, f"{goal}{tail}")
    return goal


def put_in_place(part: Path, path: Path) -> None:
    """Let a whole journal take another's place in one step: a program killed here leaves the one or the other."""
    goal = real(path)
    for tail in ("-wal", "-shm"):
        Path(f"{goal}{tail}").unlink(missing_ok=True)
    os.replace(part, goal)
    sync_folder(goal.parent)


def in_use(path: Path) -> bool:
    """Whether a program has the journal open: what it writes would go to a file that is no longer there."""
    if not path.is_file():
        return False
    try:
        uri = f"{path.absolute().as_uri()}?mode=rw"
        with contextlib.closing(sqlite3.connect(uri, uri=True, timeout=BUSY_S)) as db:
            db.execute("PRAGMA locking_mode = EXCLUSIVE")
            db.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except DATABASE_ERRORS as why:
        return trouble_of(why) == LOCKED
    return False


def takes_in(path: Path) -> int | None:
    """How many takes a journal holds, looked up without changing it; None for a file that cannot tell."""
    try:
        with contextlib.closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as db:
            return int(db.execute("SELECT count(*) FROM take").fetchone()[0])
    except DATABASE_ERRORS:
        return None


def restore(path: Path) -> Path | None:
    """Put the backup in the journal's place; what stood there is kept under the name returned (None: nothing did).

    Raises
    ------
    JournalError
        When there is no backup, or it is damaged itself; when another program has the journal open.
    """
    backup = backup_of(path)
    if not backup.exists():
        raise JournalError(f"There is no backup at {backup} yet, and nothing was changed: one is made after a take.")
    if in_use(path):
        raise JournalError(f"{path} is open in another copy of Keyfarer: close that first; nothing was changed.")
    try:
        with contextlib.closing(sqlite3.connect(backup)) as db:
            schema.version(db)
            if db.execute("PRAGMA quick_check(1)").fetchone()[0] != "ok":
                raise sqlite3.DatabaseError("quick_check")
            part = _part(real(path))
            copy_to(db, part)
        kept = keep_as(path, "replaced") if path.exists() else None
        put_in_place(part, path)
    except (*DATABASE_ERRORS, OSError) as why:
        if trouble_of(why) == DAMAGED:
            raise JournalError(f"The backup {backup} is damaged too: nothing was changed.") from why
        raise JournalError(f"The backup could not be put in place ({why}): make room, or see to the folder.") from why
    return kept


def family(path: Path) -> list[Path]:
    """Every file that belongs to a journal: itself, its log, its copies; nothing of the player's named like them."""
    own = [Path(f"{path}{tail}") for tail in ("", *_TAILS)]
    return [one for one in own if one.exists()] + [one for one in _named_by_us(path) if one not in own]


def _named_by_us(path: Path) -> list[Path]:
    """The files beside a journal whose names this program makes: see the top of this file."""
    tail = f"(?:{'|'.join(_TAILS)})?"
    ours = re.compile(
        rf"{re.escape(path.stem)}(?:-(?:{_COPIES}))?{re.escape(path.suffix)}{tail}(?:{_HALF}{tail})?", re.DOTALL
    )
    if not path.parent.is_dir():
        return []
    return sorted(one for one in path.parent.iterdir() if ours.fullmatch(one.name))


def _sweep(path: Path) -> None:
    """Remove half copies that a program left when it was ended in the middle of one, a day ago or longer."""
    for part in _named_by_us(path):
        with contextlib.suppress(OSError):
            if ".part" in part.name.removeprefix(path.stem) and abs(time.time() - part.stat().st_mtime) > 86_400.0:
                part.unlink()


def looks_ours(path: Path) -> bool:
    """Whether a file may be a journal, however damaged, and not something else of the player's."""
    if path.name == NAME or backup_of(path).exists():
        return True
    with path.open("rb") as file:
        head = file.read(1 << 16)
    return b"CREATE TABLE tally" in head


def open_file(path: Path) -> sqlite3.Connection:
    """Open, check and upgrade; see `prepare` for what may be raised."""
    make_folder(path)
    _sweep(path)
    fresh = not path.exists()
    if not fresh and path.stat().st_size == 0 and backup_of(path).exists():
        raise sqlite3.DatabaseError("the journal is empty but has a backup")
    check = not fresh and wants_check(path)
    db = connect(path)
    try:
        prepare(db, path, check=check)
    except BaseException:
        db.close()
        raise
    return db
