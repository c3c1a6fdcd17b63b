"""Takes the path has still to learn from: noted in the very step that writes a take, struck in the one that learns.

So a take is lost to the path neither by the program's end between the two nor while the path cannot be read.
"""

from __future__ import annotations

import sqlite3

from trainer.journal.reading import Reading

# A fact of the journal for each such take, named so and by its uid.
_NAME = "unlearned "


def note(db: sqlite3.Connection, uid: str) -> None:
    """The path is to learn from this take."""
    db.execute("INSERT OR REPLACE INTO fact VALUES (?, 'yes')", (_NAME + uid,))


def note_row(db: sqlite3.Connection, number: int) -> None:
    """As `note`, of a take in the journal."""
    db.execute("INSERT OR REPLACE INTO fact SELECT ? || uid, 'yes' FROM take WHERE id = ?", (_NAME, number))


def strike(db: sqlite3.Connection, number: int) -> bool:
    """The path has learned from it, or never will; whether it was noted until now."""
    sql = "DELETE FROM fact WHERE name = (SELECT ? || uid FROM take WHERE id = ?)"
    return db.execute(sql, (_NAME, number)).rowcount > 0


def noted(journal: Reading) -> list[int]:
    """The takes the path has still to learn from, by their numbers, as they were played."""
    rows = journal.ask("SELECT id FROM take WHERE ? || uid IN (SELECT name FROM fact) ORDER BY began, id", (_NAME,))
    return [number for (number,) in rows]
