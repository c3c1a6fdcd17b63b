"""Saving what can be saved: a damaged journal, another journal merged in."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterable, Iterator
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from trainer.journal import files, packing, schema
from trainer.journal.errors import JournalError
from trainer.journal.filing import Sums
from trainer.journal.tally import PieceLabels
from trainer.journal.values import EPOCH, FINISHED, PLAYING, local
from trainer.music.counted import many
from trainer.music.pitch import MusicError

# What rows that passed SQLite's check but were changed all the same may lead to.
GARBLED = (JournalError, MusicError, ValueError, KeyError, IndexError, TypeError, OverflowError, AttributeError)
# Everything but the packed takes; small enough to be held in memory.
_LIGHT = ("player", "piece", "take", "live", "tally", "daily", "cell", "sight", "fact")


def read_only(path: Path) -> sqlite3.Connection | None:
    """A journal that cannot be written, opened to be read if that is possible at all."""
    # In a folder that may not be looked into nothing can be told of it.
    if not os.path.isfile(path):
        return None
    for how in ("mode=ro", "mode=ro&immutable=1"):
        with contextlib.suppress(*files.DATABASE_ERRORS, JournalError):
            db = sqlite3.connect(f"{path.resolve().as_uri()}?{how}", uri=True, timeout=files.BUSY_S)
            try:
                if schema.version(db) == schema.VERSION:
                    return db
            except (*files.DATABASE_ERRORS, JournalError):
                db.close()
                raise
            db.close()
    return None


def readable_rows(db: sqlite3.Connection, table: str) -> Iterable[tuple[Any, ...]]:
    """Rows of a table as far as they can be read: from the front to the damage, then from the back to it."""
    found: dict[tuple[Any, ...], None] = {}
    first = db.execute(f"SELECT name FROM pragma_table_info('{table}') WHERE pk > 0 ORDER BY pk").fetchall()
    order = ", ".join(f'"{name}"' for (name,) in first)
    down = ", ".join(f'"{name}" DESC' for (name,) in first)
    for direction in (order, down):
        try:
            for row in db.execute(f"SELECT * FROM {table} ORDER BY {direction}"):
                found[row] = None
            break
        except files.DATABASE_ERRORS:
            continue
    return found


def copy_tables(source: sqlite3.Connection, goal: sqlite3.Connection) -> None:
    """Copy rows as they are into an empty journal of the same version; what cannot be read is left out."""
    goal.execute("BEGIN")
    for table in _LIGHT:
        with contextlib.suppress(*files.DATABASE_ERRORS):
            for row in readable_rows(source, table):
                with contextlib.suppress(*files.DATABASE_ERRORS):
                    goal.execute(f"INSERT OR IGNORE INTO {table} VALUES ({', '.join('?' * len(row))})", row)
    goal.execute("COMMIT")


def rescue(path: Path) -> str:
    """Keep a damaged journal under another name and make a sound one of what it still says and of the backup.

    Returns
    -------
    str
        A sentence for the player.
    """
    kept = files.keep_as(path, "damaged")
    files.keep_private(kept)
    backup = files.backup_of(path)
    saved = 0
    goal = files.real(path)
    part = goal.with_name(f"{goal.name}.part")
    part.unlink(missing_ok=True)
    with contextlib.closing(files.connect(part)) as db:
        schema.upgrade(db)
        for source in (kept, backup):
            with contextlib.suppress(*files.DATABASE_ERRORS, *GARBLED), opened(source, salvage=source == kept) as found:
                saved += merge_open(db, found, None)
        # What the backup remembers is sound.
        for source in (backup, kept):
            with contextlib.suppress(*files.DATABASE_ERRORS, *GARBLED), opened(source, salvage=source == kept) as found:
                _remember(db, found)
    files.put_in_place(part, path)
    sources = "it and from the backup" if backup.exists() else "it"
    were = f"{many(saved, 'take')} {'was' if saved == 1 else 'were'}"
    return f"The journal was damaged; {were} saved from {sources}, and the damaged file is kept as {kept}."


def _remember(db: sqlite3.Connection, source: sqlite3.Connection) -> None:
    """Take over what a journal remembers beside its takes: by which marks players are known, which files were read, how
    many pieces were composed. Numbers of takes say nothing here, and what was still to be learned from may be by now.
    """
    players = {str(was): str(number) for was, number in _matched(db, source, "player", "name").items()} | {"0": "0"}
    for name, value in readable_rows(source, "fact"):
        what, _, number = str(name).rpartition(" ")
        if what.startswith("player ") and number in players:
            name = f"{what} {players[number]}"
        elif what == "read" and value in players:
            value = players[value]
        elif name != "drawn" or not str(value).isdecimal():
            continue
        db.execute("INSERT OR IGNORE INTO fact VALUES (?, ?)", (name, value))
        if name == "drawn":
            db.execute("UPDATE fact SET value = ?1 WHERE name = 'drawn' AND CAST(value AS INTEGER) < ?1", (int(value),))


def merge(db: sqlite3.Connection, other: Path) -> int:
    """Take in from another journal everything this one does not have; returns the number of takes taken in.

    Errors are those of `opened`.
    """
    with opened(other) as source:
        return merge_open(db, source, None)


@contextlib.contextmanager
def opened(other: Path, *, salvage: bool = False) -> Iterator[sqlite3.Connection]:
    """A copy of another journal, brought to this version.

    Parameters
    ----------
    salvage : bool
        The other file is known to be damaged: read what can be read.

    Raises
    ------
    JournalError
        When the other file is no journal or is newer than this program, or what is done with it fails.
    """
    if not other.is_file():
        raise JournalError(f"There is no file {other}: name a journal.")
    try:
        with tempfile.TemporaryDirectory() as folder:
            # Work on a copy, so that the other file is not upgraded, nor its log touched.
            copy = Path(folder) / "other.sqlite"
            _copied(other, copy, salvage)
            with contextlib.closing(files.connect(copy)) as source:
                if salvage:
                    # Lets SQLite read on although the file is shorter than its head says.
                    source.execute("PRAGMA writable_schema = ON")
                elif not schema.is_plain(source):
                    raise JournalError(f"{other} holds something a journal does not: it was not read.")
                if schema.version(source) == 0:
                    raise JournalError(f"{other} is not a journal: name a file that Keyfarer made.")
                schema.upgrade(source)
                yield source
    except (*files.DATABASE_ERRORS, OSError) as why:
        raise JournalError(f"{other} is not a journal that can be read ({why}).") from why


def _copied(other: Path, copy: Path, salvage: bool) -> None:
    """Copy a journal that may be in use right now; a damaged one as it is, byte for byte."""
    if salvage:
        for tail in ("", "-wal"):
            if Path(f"{other}{tail}").exists():
                shutil.copyfile(f"{other}{tail}", f"{copy}{tail}")
        return
    # Without a log nobody is writing, and SQLite need not put files of its own beside somebody else's journal.
    how = "mode=ro" if Path(f"{files.real(other)}-wal").exists() else "mode=ro&immutable=1"
    source = sqlite3.connect(f"{other.resolve().as_uri()}?{how}", uri=True, timeout=files.BUSY_S)
    with contextlib.closing(source), contextlib.closing(files.connect(copy)) as goal:
        source.backup(goal)


def merge_open(db: sqlite3.Connection, source: sqlite3.Connection, only: set[str] | None) -> int:
    """`merge_rows` in one transaction."""
    db.execute("BEGIN IMMEDIATE")
    try:
        taken = merge_rows(db, source, only)
        db.execute("COMMIT")
    except BaseException:
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise
    return taken


def merge_rows(
    db: sqlite3.Connection, source: sqlite3.Connection, only: set[str] | None = None, *, strict: bool = False
) -> int:
    """Take in from an open journal of this version what `db` lacks, inside the caller's transaction.

    Parameters
    ----------
    only : set of str, optional
        Only takes of these uids, and no cells of the path.
    strict : bool
        Raise when a take is damaged, instead of leaving that take out; the caller then rolls back.

    Returns
    -------
    int
        Takes taken in.
    """
    players = _matched(db, source, "player", "name")
    pieces = _matched(db, source, "piece", "key")
    taken = _Merging(db, source, players, pieces, strict).takes(only)
    if only is None:
        _merge_cells(db, source, players)
    return taken


def _columns(db: sqlite3.Connection, table: str) -> list[str]:
    return [name for (name,) in db.execute(f"SELECT name FROM pragma_table_info('{table}') ORDER BY cid")]


def _insert(db: sqlite3.Connection, table: str, values: dict[str, Any]) -> int:
    return int(db.execute(_inserting(table, tuple(values)), tuple(values.values())).lastrowid or 0)


@cache
def _inserting(table: str, columns: tuple[str, ...]) -> str:
    names = ", ".join(f'"{name}"' for name in columns)
    return f"INSERT OR REPLACE INTO {table} ({names}) VALUES ({', '.join('?' * len(columns))})"


def _matched(db: sqlite3.Connection, source: sqlite3.Connection, table: str, identity: str) -> dict[int, int]:
    """Number in `source` -> number in `db`, rows added where the identity is not there yet."""
    names = _columns(source, table)
    found: dict[int, int] = {}
    for row in readable_rows(source, table):
        values = dict(zip(names, row, strict=True))
        number = values.pop("id")
        here = db.execute(f"SELECT id FROM {table} WHERE {identity} = ?", (values[identity],)).fetchone()
        found[number] = int(here[0]) if here else _insert(db, table, values)
    return found


class _Merging:
    """The takes of one journal on their way into another, inside one transaction."""

    def __init__(
        self,
        db: sqlite3.Connection,
        source: sqlite3.Connection,
        players: dict[int, int],
        pieces: dict[int, int],
        strict: bool,
    ) -> None:
        self.db, self.source, self.players, self.pieces, self.strict = db, source, players, pieces, strict
        self.labels: dict[int, PieceLabels] = {}
        self.sums = Sums()

    def takes(self, only: set[str] | None) -> int:
        """Numbers fitted and counts added; returns how many were taken in."""
        names = _columns(self.source, "take")
        taken = 0
        for row in sorted(readable_rows(self.source, "take"), key=lambda row: str(row[0]).zfill(12)):
            values = dict(zip(names, row, strict=True))
            if only is None or values["uid"] in only:
                taken += self._take(values) if self.strict else self._take_or_not(values)
        self.sums.write(self.db)
        return taken

    def _take_or_not(self, values: dict[str, Any]) -> bool:
        """Take in one take, or leave it out when its rows are damaged."""
        self.db.execute("SAVEPOINT take")
        taken = False
        try:
            taken = self._take(values)
        except (*GARBLED, *files.DATABASE_ERRORS) as why:
            if files.trouble_of(why) == files.FULL:
                raise
            self.db.execute("ROLLBACK TO take")
        self.db.execute("RELEASE take")
        return taken

    def _take(self, values: dict[str, Any]) -> bool:
        """Take in one take; False when it is there already."""
        db, number = self.db, values.pop("id")
        here = db.execute("SELECT id, state FROM take WHERE uid = ?", (values["uid"],)).fetchone()
        if here and not self._goes_on(number, values["state"], *here):
            return False
        _dated(local(values["began"], values["zone"]).date(), values["day"])
        source = self.source
        packed = source.execute("SELECT events, verdicts FROM playing WHERE take = ?", (number,)).fetchone()
        live = source.execute("SELECT * FROM live WHERE take = ? ORDER BY n", (number,)).fetchall()
        sight = source.execute("SELECT * FROM sight WHERE take = ?", (number,)).fetchone()
        values |= {"player": self.players[values["player"]], "piece": self.pieces[values["piece"]]}
        finished = values["state"] == FINISHED
        if finished and (packed is None or packed[1] is None):
            raise JournalError("A finished take lacks its marks.")
        if here:
            values["id"] = here[0]
            db.execute("DELETE FROM live WHERE take = ?", (here[0],))
        new = _insert(db, "take", values)
        if packed:
            db.execute("INSERT OR REPLACE INTO playing VALUES (?, ?, ?)", (new, *packed))
        if live:
            places = ", ".join("?" * len(live[0]))
            db.executemany(f"INSERT OR REPLACE INTO live VALUES ({places})", [(new, *row[1:]) for row in live])
        if sight:
            places = ", ".join("?" * len(sight))
            mine = new, values["player"], values["day"], *sight[3:]
            db.execute(f"INSERT OR REPLACE INTO sight VALUES ({places})", mine)
        if finished:
            self.sums.merged(values, self._labels(values["piece"]), packing.unpack_columns(*packed))
        return True

    def _goes_on(self, number: int, state: str, here: int, state_here: str) -> bool:
        """Whether the other journal knows more of a take that is here: its end or, of one cut off, more presses."""
        if not state == state_here == PLAYING:
            return state == FINISHED != state_here
        ask = "SELECT count(*) FROM live WHERE take = ?"
        other, mine = self.source.execute(ask, (number,)).fetchone(), self.db.execute(ask, (here,)).fetchone()
        return bool(other[0] > mine[0])

    def _labels(self, piece: int) -> PieceLabels:
        if piece not in self.labels:
            body = self.db.execute("SELECT body FROM piece WHERE id = ?", (piece,)).fetchone()[0]
            self.labels[piece] = PieceLabels(packing.unpack_piece(body))
        return self.labels[piece]


def _dated(day: date, number: int) -> None:
    """Let pass what says its day rightly, by the calendar and by the days since 1970."""
    if abs((day - EPOCH).days - number) > 1:
        raise JournalError("A take's day and its time lie apart.")


def _merge_cells(db: sqlite3.Connection, source: sqlite3.Connection, players: dict[int, int]) -> None:
    """Cells of the path: the one played last wins."""
    names = _columns(source, "cell")
    for row in readable_rows(source, "cell"):
        values = dict(zip(names, row, strict=True))
        if values["player"] not in players:
            continue
        values["player"] = players[values["player"]]
        here = db.execute(
            "SELECT recent, due FROM cell WHERE player = ? AND level = ? AND key = ? AND hands = ?",
            (values["player"], values["level"], values["key"], values["hands"]),
        ).fetchone()
        if here is None or _played_last(*here) < _played_last(values["recent"], values["due"]):
            _insert(db, "cell", values)


def _played_last(recent: str, due: int) -> tuple[int, int]:
    """The day a cell was played last, then when it is due: one that went badly is due sooner than one that went well
    long before. What a wrong clock dated later than tomorrow counts as of yesterday.
    """
    today, day = (date.today() - EPOCH).days, -1
    with contextlib.suppress(*GARBLED):
        day = int(json.loads(recent)[-1][0])
    return (day, due) if day <= today + 1 else (today - 1, -1)
