"""The tables of the journal, and how an older journal becomes a newer one.

The version stands in SQLite's ``user_version``. A change to the tables is a new entry in `STEPS`: never edit an old
one, because journals of that version lie on players' disks.
"""

from __future__ import annotations

import contextlib
import sqlite3

from trainer.journal.errors import JournalError

# Marks the file as ours (SQLite's ``application_id``): "KFJ1" in ASCII.
APPLICATION = 0x4B464A31

_FIRST = """
CREATE TABLE player (
    id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, begun REAL NOT NULL, held TEXT NOT NULL DEFAULT '');
CREATE TABLE piece (
    id INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE, title TEXT NOT NULL, written TEXT NOT NULL,
    level TEXT NOT NULL, notes INTEGER NOT NULL, body BLOB NOT NULL);
CREATE TABLE take (
    id INTEGER PRIMARY KEY, uid TEXT NOT NULL UNIQUE, player INTEGER NOT NULL, piece INTEGER NOT NULL,
    began REAL NOT NULL, zone INTEGER NOT NULL, day INTEGER NOT NULL,
    written TEXT NOT NULL, target TEXT NOT NULL, interval TEXT NOT NULL, said TEXT NOT NULL, key TEXT NOT NULL,
    level TEXT NOT NULL, hands TEXT NOT NULL, mode TEXT NOT NULL, tempo REAL, help TEXT NOT NULL,
    glimpsed INTEGER NOT NULL DEFAULT 0, kind TEXT NOT NULL, state TEXT NOT NULL, process INTEGER NOT NULL,
    right INTEGER, played INTEGER, notes INTEGER, missed INTEGER, accuracy REAL, pulse REAL, seconds REAL,
    quarters REAL, pace REAL, cost REAL, steadiness REAL, hesitations INTEGER);
CREATE INDEX take_by_day ON take (player, day);
CREATE INDEX take_by_piece ON take (player, piece, hands, key, began);
CREATE INDEX take_waiting ON take (player, piece, hands)
    WHERE cost IS NULL AND interval <> '+P1' AND state = 'finished' AND mode <> 'a tempo';
CREATE INDEX take_by_state ON take (state) WHERE state = 'playing';
CREATE TABLE live (
    take INTEGER NOT NULL, n INTEGER NOT NULL, at INTEGER NOT NULL, kind INTEGER NOT NULL, pitch INTEGER NOT NULL,
    value INTEGER NOT NULL, note INTEGER, cause TEXT, probability REAL, "offset" INTEGER,
    PRIMARY KEY (take, n)) WITHOUT ROWID;
CREATE TABLE playing (take INTEGER PRIMARY KEY, events BLOB NOT NULL, verdicts BLOB);
CREATE TABLE tally (
    player INTEGER NOT NULL, facet TEXT NOT NULL, week INTEGER NOT NULL, key TEXT NOT NULL, value TEXT NOT NULL,
    n INTEGER NOT NULL, right INTEGER NOT NULL, timed INTEGER NOT NULL, late REAL NOT NULL,
    PRIMARY KEY (player, facet, week, key, value)) WITHOUT ROWID;
CREATE TABLE daily (
    player INTEGER NOT NULL, day INTEGER NOT NULL, key TEXT NOT NULL, takes INTEGER NOT NULL, seconds REAL NOT NULL,
    right INTEGER NOT NULL, played INTEGER NOT NULL, missed INTEGER NOT NULL, quarters REAL NOT NULL,
    costs INTEGER NOT NULL, cost_log REAL NOT NULL, cost_square REAL NOT NULL,
    PRIMARY KEY (player, day, key)) WITHOUT ROWID;
CREATE TABLE cell (
    player INTEGER NOT NULL, level TEXT NOT NULL, key TEXT NOT NULL, hands TEXT NOT NULL, state TEXT NOT NULL,
    since INTEGER NOT NULL, help TEXT NOT NULL, card TEXT NOT NULL, due INTEGER NOT NULL, recent TEXT NOT NULL,
    PRIMARY KEY (player, level, key, hands)) WITHOUT ROWID;
CREATE TABLE sight (
    take INTEGER PRIMARY KEY, player INTEGER NOT NULL, day INTEGER NOT NULL, baseline INTEGER NOT NULL,
    difficulty REAL NOT NULL, right INTEGER NOT NULL, n INTEGER NOT NULL, per_minute REAL NOT NULL, cost REAL,
    rating REAL NOT NULL,
    spread REAL NOT NULL);
CREATE INDEX sight_by_day ON sight (player, day);
CREATE TABLE fact (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
"""

# Which of a song's verses lay on the page, by its row from 1; NULL where none did, and in takes of before.
_VERSE = "ALTER TABLE take ADD COLUMN verse INTEGER"

# Under which title it was played, for the same music may have several; NULL in takes of before: as its piece is filed.
_TITLE = "ALTER TABLE take ADD COLUMN title TEXT"

# How far it went in its piece, see `trainer.following.reach`: 0 where a hand asked for was silent; NULL in takes of
# before. And of each day the seconds of takes that lay elsewhere, in which no note could be right.
_SHARE = "ALTER TABLE take ADD COLUMN share REAL; ALTER TABLE daily ADD COLUMN aside REAL NOT NULL DEFAULT 0"

# Step n takes a journal from version n to n + 1.
STEPS = (_FIRST, _VERSE, _TITLE, _SHARE)
VERSION = len(STEPS)


def version(db: sqlite3.Connection) -> int:
    """The journal's version; 0 for a file with nothing in it.

    Raises
    ------
    JournalError
        When the file is a database of something else, or a journal newer than this program.
    """
    found = int(db.execute("PRAGMA user_version").fetchone()[0])
    mark = int(db.execute("PRAGMA application_id").fetchone()[0])
    tables = db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if tables and mark != APPLICATION:
        raise JournalError("That file is a database of another program, not a journal: name another file.")
    if found > VERSION:
        raise JournalError(
            f"This journal was written by a newer Keyfarer (format {found}, this one knows {VERSION}): "
            f"update Keyfarer, or name another file with --journal."
        )
    return found


def is_plain(db: sqlite3.Connection) -> bool:
    """Whether a journal has the tables of its version and nothing else: no view, trigger or column of another hand."""
    return _tables(db) == _usual(version(db))


def is_whole(db: sqlite3.Connection) -> bool:
    """Whether every table of its version is there as it was made; a flipped bit can rename a column."""
    return set(_usual(version(db))) <= set(_tables(db))


def _usual(known: int) -> list[tuple[str, ...]]:
    with contextlib.closing(sqlite3.connect(":memory:", isolation_level=None)) as usual:
        for step in STEPS[:known]:
            usual.executescript(step)
        return _tables(usual)


def _tables(db: sqlite3.Connection) -> list[tuple[str, ...]]:
    # SQLite keeps tables of its own for indices and statistics.
    sql = "SELECT type, name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite@_%' ESCAPE '@' ORDER BY name"
    return db.execute(sql).fetchall()


def upgrade(db: sqlite3.Connection) -> None:
    """Bring the tables to `VERSION` in one transaction: all of it or nothing."""
    # A second program may have upgraded it between our look and our lock, so the version is read inside.
    db.execute("BEGIN IMMEDIATE")
    try:
        for at in range(version(db), VERSION):
            for statement in STEPS[at].split(";"):
                if statement.strip():
                    db.execute(statement)
        db.execute(f"PRAGMA application_id = {APPLICATION}")
        db.execute(f"PRAGMA user_version = {VERSION}")
    except BaseException:
        db.execute("ROLLBACK")
        raise
    db.execute("COMMIT")
