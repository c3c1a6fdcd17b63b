"""Handing over: the takes since last time in one file, read once by the teacher's copy however often it is given.

The file: the line ``keyfarer hand-over 1``; a line with the SHA-256 of everything after it; a line of JSON (who, how
many takes); then a small journal packed with zlib that holds that player alone. Nothing of other players goes along.

A player is known to a teacher's journal by a name and a random mark made in the player's own journal, so that two
students of one name are never mixed up.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import sqlite3
import uuid
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trainer.journal import files, rescue, schema, whose
from trainer.journal.errors import JournalError
from trainer.journal.store import Journal
from trainer.journal.values import FINISHED, KEPT
from trainer.music.keys import Key
from trainer.music.pitch import MusicError
from trainer.scores.plain import write_whole

MAGIC = b"keyfarer hand-over 1\n"
SUFFIX = ".handover"
# No year of practice comes near this; more is a trap.
LARGEST = 64_000_000
_HEAD_LARGEST = 4096
# Takes that are not over, or lack their piece or their presses.
_LOOSE = (
    "SELECT count(*) FROM take WHERE state NOT IN (?, ?) OR piece NOT IN (SELECT id FROM piece) "
    "OR id NOT IN (SELECT take FROM playing)"
)
# What reading rows that are not as this program writes them may raise.
_DAMAGE = (*rescue.GARBLED, *files.DATABASE_ERRORS, RecursionError)


@dataclass(frozen=True)
class HandedOver:
    """A hand-over that was made: where it lies and how many takes it holds."""

    path: Path
    takes: int


@dataclass(frozen=True)
class TakenIn:
    """A hand-over that was read: whose, takes that were new, takes that were here already, and how many were counted as
    somebody else's until now.
    """

    player: str
    fresh: int
    known: int
    moved: int = 0


@dataclass(frozen=True)
class Head:
    """What a hand-over says of itself: the player's name where it was made, how many takes, its seal.

    `known_as` is the player's name in the journal it was looked at with, empty while that does not know them.
    """

    player: str
    takes: int
    seal: str
    known_as: str = ""


def hand_over(journal: Journal, player: str, path: Path, *, everything: bool = False) -> HandedOver:
    """Write a player's takes since the last hand-over (or all of them) to a file.

    Raises
    ------
    JournalError
        When there is no such player, nothing new, or the file cannot be written.
    """
    number = _number(journal, player)
    upto, waiting = (0, frozenset[int]()) if everything else _last(journal, number)
    rows = journal.ask("SELECT id, state FROM take WHERE player = ? ORDER BY id", (number,))
    over = (FINISHED, KEPT)
    takes = [take for take, state in rows if state in over and (take > upto or take in waiting)]
    if not takes:
        raise JournalError(f"There is nothing new of {player} to hand over: --all hands everything over again.")
    data = _packed(journal, number, takes)
    head = json.dumps({"player": player, "mark": _mark(journal, number), "takes": len(takes)}, ensure_ascii=False)
    whole = sealed(head.encode() + b"\n" + data)
    try:
        write_whole(path, whole)
    except MusicError as why:
        raise JournalError(str(why)) from why
    # What was made here is nothing that has come.
    note_read(journal, whole.split(b"\n", 2)[1].decode(), number)
    still = [take for take, state in rows if state not in over]
    _set_fact(journal, f"handed over {number}", json.dumps({"upto": rows[-1][0], "waiting": still}))
    return HandedOver(path, len(takes))


def sealed(content: bytes) -> bytes:
    """The file around a head and its journal."""
    return MAGIC + hashlib.sha256(content).hexdigest().encode() + b"\n" + content


def is_hand_over(path: Path) -> bool:
    """Whether a file says it is a hand-over; it may still be damaged."""
    try:
        if not path.is_file():
            return False
        with open(path, "rb") as file:
            return file.read(len(MAGIC)) == MAGIC
    except (OSError, ValueError):
        return False


def waiting(journal: Journal, player: str) -> tuple[int, int]:
    """How many takes of a player a hand-over would hold: those since last time, and all; none of an unknown player."""
    found = journal.ask("SELECT id FROM player WHERE name = ?", (player,))
    if not found:
        return 0, 0
    upto, still = _last(journal, found[0][0])
    sql = "SELECT id FROM take WHERE player = ? AND state IN (?, ?)"
    takes = [take for (take,) in journal.ask(sql, (found[0][0], FINISHED, KEPT))]
    return sum(take > upto or take in still for take in takes), len(takes)


def head_of(journal: Journal, path: Path) -> Head:
    """What a hand-over says of itself, its takes not looked at yet; errors as of `take_in`."""
    seal, head = _head(path)
    return Head(str(head["player"]), int(head["takes"]), seal, _known_as(journal, head["mark"]) or "")


def note_read(journal: Journal, seal: str, player: int = 0) -> None:
    """Remember a file by its seal, so that it is no news any more; of a player's takes with their number."""
    _set_fact(journal, f"{whose.READ}{seal}", str(player))


def is_read(journal: Journal, seal: str) -> bool:
    """Whether a file of this seal was taken in, or made, here."""
    return _fact(journal, f"{whose.READ}{seal}") is not None


def take_in(journal: Journal, path: Path, name: str | None = None, same_as: str | None = None) -> TakenIn:
    """Read a hand-over into a journal: all of it or nothing, and each take only once.

    What was taken in as somebody's before goes over to whoever is named now (`whose.move`).

    Parameters
    ----------
    name : str, optional
        What the player is to be called in this journal, where nobody bears that name.
    same_as : str, optional
        Who in this journal that is: somebody who plays here too, or at home on two computers. From then on every
        hand-over of that journal is theirs.

    Raises
    ------
    JournalError
        When the file is damaged or foreign, when another player already has the name, or nobody has that of `same_as`.
    """
    seal, head, data = _read(path)
    before = _known_as(journal, head["mark"])
    # An answer that differs puts right what was answered first.
    known = before if (same_as or name) in (None, before) else None
    if known is None and same_as is not None:
        number = _number(journal, same_as)
    called = known or same_as or name or str(head["player"])
    is_new = known is None and same_as is None
    if is_new and called in journal.players():
        raise JournalError(
            f"This journal already has another {called}: give this one a name of its own with --as '{called} B.', or "
            f"say --same-as '{called}' if it is the same."
        )
    with contextlib.closing(files.connect(None)) as inside:
        _open(inside, data, head, path)
        inside.execute("UPDATE player SET name = ?", (called,))
        try:
            with journal.changing() as db:
                former = whose.part(db, head["mark"]) if known is None else None
                if is_new:
                    _enter(db, dict(zip(*_row_of(inside, "player"), strict=True)), head["mark"])
                elif known is None:
                    _join(db, number, head["mark"])
                fresh = rescue.merge_rows(db, inside, strict=True)
                number = _number(journal, called)
                moved = whose.move(db, inside, number, former)
                note_read(journal, seal, number)
        except _DAMAGE as why:
            if files.trouble_of(why.__cause__ or why) in (files.LOCKED, files.FULL, files.READ_ONLY):
                raise JournalError(f"{path.name} was not read: the journal cannot be written ({why}).") from why
            raise _foreign(path) from why
    return TakenIn(called, fresh, int(head["takes"]) - fresh, moved)


def _row_of(db: sqlite3.Connection, table: str) -> tuple[list[str], tuple[Any, ...]]:
    cursor = db.execute(f"SELECT * FROM {table}")
    return [column[0] for column in cursor.description], cursor.fetchone()


def _enter(db: sqlite3.Connection, player: dict[str, Any], mark: str) -> None:
    """A new player with the mark."""
    values = {name: value for name, value in player.items() if name != "id"}
    sql = f"INSERT INTO player ({', '.join(values)}) VALUES ({', '.join('?' * len(values))})"
    number = db.execute(sql, tuple(values.values())).lastrowid
    assert number is not None
    whose.enter(db, number, mark)


def _join(db: sqlite3.Connection, number: int, mark: str) -> None:
    """One more mark for a player who is here: the second home of the same person."""
    db.execute("INSERT OR REPLACE INTO fact VALUES (?, ?)", (f"player mark {mark} {number}", mark))


def _number(journal: Journal, player: str) -> int:
    found = journal.ask("SELECT id FROM player WHERE name = ?", (player,))
    if not found:
        known = ", ".join(journal.players()) or "nobody yet"
        raise JournalError(f"The journal has no player '{player}': it has {known}.")
    return int(found[0][0])


def _fact(journal: Journal, name: str) -> str | None:
    found = journal.ask("SELECT value FROM fact WHERE name = ?", (name,))
    return str(found[0][0]) if found else None


def _set_fact(journal: Journal, name: str, value: str) -> None:
    with journal.changing() as db:
        db.execute("INSERT OR REPLACE INTO fact VALUES (?, ?)", (name, value))


def _mark(journal: Journal, number: int) -> str:
    """The random mark of a player, made the first time."""
    mark = _fact(journal, f"player mark {number}")
    if mark is None:
        mark = uuid.uuid4().hex
        _set_fact(journal, f"player mark {number}", mark)
    return mark


def _known_as(journal: Journal, mark: str) -> str | None:
    rows = journal.ask("SELECT name FROM fact WHERE value = ? AND name LIKE 'player mark %'", (mark,))
    for (fact,) in rows:
        found = journal.ask("SELECT name FROM player WHERE id = ?", (int(str(fact).rsplit(" ", 1)[1]),))
        if found:
            return str(found[0][0])
    return None


def _last(journal: Journal, number: int) -> tuple[int, frozenset[int]]:
    value = _fact(journal, f"handed over {number}")
    if value is None:
        return 0, frozenset()
    last = json.loads(value)
    return int(last["upto"]), frozenset(int(take) for take in last["waiting"])


def _packed(journal: Journal, player: int, takes: list[int]) -> bytes:
    """A journal in memory with one player's takes, as packed bytes."""
    with contextlib.closing(files.connect(None)) as goal:
        schema.upgrade(goal)
        goal.execute("BEGIN")
        _copy(journal, goal, "player", "id = ?", (player,))
        _copy(journal, goal, "cell", "player = ?", (player,))
        for take in takes:
            _copy(journal, goal, "take", "id = ?", (take,))
            _copy(journal, goal, "playing", "take = ?", (take,))
            _copy(journal, goal, "sight", "take = ?", (take,))
        for (piece,) in goal.execute("SELECT DISTINCT piece FROM take").fetchall():
            _copy(journal, goal, "piece", "id = ?", (piece,))
        goal.execute("COMMIT")
        return zlib.compress(goal.serialize(), 6)


def _copy(journal: Journal, goal: sqlite3.Connection, table: str, where: str, values: tuple[Any, ...]) -> None:
    for row in journal.ask(f"SELECT * FROM {table} WHERE {where}", values):
        goal.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * len(row))})", row)


def _damaged(path: Path) -> JournalError:
    return JournalError(f"{path.name} is damaged or is no hand-over: ask for it to be sent again.")


def _unread(path: Path, why: OSError) -> JournalError:
    return JournalError(f"{path} cannot be read ({why.strerror}): name a hand-over.")


def _head(path: Path) -> tuple[str, dict[str, Any]]:
    """The seal and the head."""
    try:
        if path.stat().st_size > LARGEST or not path.is_file():
            raise _damaged(path)
        with open(path, "rb") as file:
            if file.read(len(MAGIC)) != MAGIC:
                raise _damaged(path)
            seal, line = file.readline(_HEAD_LARGEST).strip(), file.readline(_HEAD_LARGEST)
    except OSError as why:
        raise _unread(path, why) from why
    try:
        head = json.loads(line)
        sound = (
            isinstance(head, dict)
            and isinstance(head["player"], str) and 0 < len(head["player"]) <= 200 and head["player"].isprintable()
            and isinstance(head["mark"], str) and 0 < len(head["mark"]) <= 64
            and isinstance(head["takes"], int)
        )  # fmt: skip
    except (ValueError, KeyError, RecursionError) as why:
        raise _damaged(path) from why
    if not sound or len(seal) != hashlib.sha256().digest_size * 2 or not seal.isalnum():
        raise _damaged(path)
    return seal.decode(), head


def _read(path: Path) -> tuple[str, dict[str, Any], bytes]:
    """The seal, the head and the journal inside, checked against each other."""
    seal, head = _head(path)
    try:
        content = path.read_bytes().split(b"\n", 2)[2]
    except OSError as why:
        raise _unread(path, why) from why
    if seal != hashlib.sha256(content).hexdigest():
        raise _damaged(path)
    packed = content.partition(b"\n")[2]
    try:
        opener = zlib.decompressobj()
        data = opener.decompress(packed, LARGEST)
        # SQLite takes a journal of no bytes for memory it has not got.
        if not data or opener.unconsumed_tail or not opener.eof:
            raise _damaged(path)
    except zlib.error as why:
        raise _damaged(path) from why
    return seal, head, data


def _foreign(path: Path) -> JournalError:
    return JournalError(f"{path.name} holds something a hand-over does not: it was not read.")


def _open(db: sqlite3.Connection, data: bytes, head: dict[str, Any], path: Path) -> None:
    """Open what is inside, in memory, and refuse the whole file when anything is not as this program writes it."""
    foreign = _foreign(path)
    try:
        db.deserialize(data)
        db.execute("PRAGMA trusted_schema = OFF")
        if schema.version(db) == 0 or db.execute("PRAGMA quick_check").fetchone()[0] != "ok":
            raise foreign
        if not schema.is_plain(db):
            raise foreign
        if [r[0] for r in db.execute("SELECT count(*) FROM player")] != [1]:
            raise foreign
        if db.execute("SELECT count(*) FROM take").fetchone()[0] != head["takes"]:
            raise foreign
        if db.execute(_LOOSE, (FINISHED, KEPT)).fetchone()[0]:
            raise foreign
        for (uid,) in db.execute("SELECT uid FROM take"):
            uuid.UUID(uid)
        for keys in db.execute("SELECT DISTINCT written, target FROM take"):
            for key in keys:
                Key.parse(key)
        schema.upgrade(db)
    except JournalError as why:
        raise (why if "newer" in str(why) else foreign) from why
    except _DAMAGE as why:
        raise foreign from why
