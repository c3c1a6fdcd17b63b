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


def forget(db: sqlite3.Connection, which: str, value: int) -> None:
    """As `strike`, of all takes a condition of the table of takes chooses."""
    db.execute(f"DELETE FROM fact WHERE name IN (SELECT ? || uid FROM take WHERE {which})", (_NAME, value))


def noted(journal: Reading) -> list[int]:
    """The takes the path has still to learn from, by their numbers, as they were played."""
    waiting = "SELECT substr(name, ?) FROM fact WHERE substr(name, 1, ?) = ?"
    sql = f"SELECT id FROM take WHERE uid IN ({waiting}) ORDER BY began, id"
    return [number for (number,) in journal.ask(sql, (len(_NAME) + 1, len(_NAME), _NAME))]
