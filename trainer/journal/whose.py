"""Whose takes that came are: a mark for each journal they come from, and putting right what was answered wrongly."""

from __future__ import annotations

import json
import sqlite3

from trainer.journal.recounting import count_all

# A fact for every file that was read or made here, by its seal.
READ = "read "
# One for every player who came with a file, by their number; the value is its mark.
_CAME = "player came "
# What the coach knows of a place on the path.
_CELL = "level, key, hands, state, card, due, recent"


def forget(db: sqlite3.Connection, number: int) -> None:
    """Take away what is remembered of a player's hand-overs; the number may be given to somebody else."""
    names = f"player mark {number}", f"handed over {number}", f"{_CAME}{number}"
    db.execute("DELETE FROM fact WHERE name IN (?, ?, ?)", names)
    db.execute("DELETE FROM fact WHERE name LIKE ?", (f"player mark % {number}",))
    db.execute("DELETE FROM fact WHERE name LIKE ? AND value = ?", (f"{READ}%", str(number)))


def reopen(db: sqlite3.Connection) -> None:
    """Takes were erased: the numbers after the last one left are given anew, and nothing of these was handed over."""
    last = db.execute("SELECT coalesce(max(id), 0) FROM take").fetchone()[0]
    for name, value in db.execute("SELECT name, value FROM fact WHERE name LIKE 'handed over %'").fetchall():
        told = json.loads(value)
        if told["upto"] > last:
            told["upto"] = last
            db.execute("UPDATE fact SET value = ? WHERE name = ?", (json.dumps(told), name))


def enter(db: sqlite3.Connection, number: int, mark: str) -> None:
    """A player who is new here came with a file of that mark."""
    facts = [(f"player mark {number}", mark), (f"{_CAME}{number}", mark)]
    db.executemany("INSERT OR REPLACE INTO fact VALUES (?, ?)", facts)


def part(db: sqlite3.Connection, mark: str) -> int | None:
    """Take a mark away from whoever bears it; returns the player's number where they came with a file of that mark.

    Such a player is known by it alone, and all their takes are those of that journal.
    """
    found = db.execute("SELECT name FROM fact WHERE value = ? AND name LIKE ?", (mark, f"{_CAME}%")).fetchone()
    db.execute("DELETE FROM fact WHERE value = ? AND name LIKE 'player mark %'", (mark,))
    return None if found is None else int(str(found[0]).removeprefix(_CAME))


def move(db: sqlite3.Connection, inside: sqlite3.Connection, number: int, former: int | None) -> int:
    """Give a player the takes of a hand-over that are counted as others', and all of the `former` player.

    Who has no take left then goes. Figures are made anew; what the coach had learned from the file of those who had the
    takes is forgotten.

    Parameters
    ----------
    inside : Connection
        The hand-over.

    Returns
    -------
    int
        Takes that changed hands.
    """
    moving: dict[int, int] = {}
    others = "SELECT id, player FROM take WHERE uid = ? AND player <> ?"
    for (uid,) in inside.execute("SELECT uid FROM take"):
        moving |= dict(db.execute(others, (uid, number)).fetchall())
    if former is not None and former != number:
        moving |= dict(db.execute("SELECT id, player FROM take WHERE player = ?", (former,)).fetchall())
    if not moving:
        return 0
    for table, column in (("take", "id"), ("sight", "take")):
        db.executemany(f"UPDATE {table} SET player = ? WHERE {column} = ?", [(number, take) for take in moving])
    cells = inside.execute(f"SELECT {_CELL} FROM cell").fetchall()
    had = set(moving.values())
    for player in had:
        learned = [(player, *cell) for cell in cells]
        db.executemany(f"DELETE FROM cell WHERE (player, {_CELL}) = (?, ?, ?, ?, ?, ?, ?, ?)", learned)
        if db.execute("SELECT 1 FROM take WHERE player = ?", (player,)).fetchone() is None:
            db.execute("DELETE FROM cell WHERE player = ?", (player,))
            db.execute("DELETE FROM player WHERE id = ?", (player,))
            forget(db, player)
    count_all(db, [number, *had])
    return len(moving)
