"""Events on their way: noted the moment they are heard, before the window has had time to mark them.

What is heard goes to the session in the thread that draws, and its mark with it to the journal's own thread. On a busy
machine both may come late, and a program killed meanwhile would lose what was played. So the thread that hears an
event adds a line about it to a file beside the journal, ``journal-coming-….sqlite``, and another line says when it is
in the journal. The lines survive the program's end at any moment; what they alone hold is taken into its take,
unmarked, when the journal is opened next. The file is empty most of the time and goes when the journal is closed.

Lines: ``take UID JSON`` when the journal has no row of that take yet, ``came NUMBER UID START AT KIND PITCH VALUE``
(microseconds of the house's clock; START is when the take began on it, ``-`` while that is not known),
``start UID START`` once it is, ``done NUMBER``.
"""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
import threading
import uuid
from collections import deque
from dataclasses import dataclass
from glob import escape
from pathlib import Path

from trainer.journal import files, packing
from trainer.journal.processes import is_alive, of
from trainer.journal.take import Take, header, insert_header
from trainer.journal.values import PLAYING
from trainer.listening.press import Event, Press

_NAME = "coming"
_DAMAGE = (ValueError, KeyError, TypeError, IndexError, RecursionError)


@dataclass(frozen=True)
class Dealt:
    """Stands in the journal's queue behind what an event wrote: once this is written, the event is in the file."""

    number: int

    def __call__(self, db: sqlite3.Connection) -> None:
        """Nothing to write."""


class Coming:
    """The events told and not yet in the journal; every method may be called from any thread.

    Parameters
    ----------
    path : Path
        The journal's.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._lock = threading.Lock()
        self._waiting: deque[tuple[Event, tuple[int, int, int, int], Take, int]] = deque()
        self._undone: set[int] = set()
        self._headed: set[str] = set()
        self._start: tuple[str, int] = ("", 0)
        self._count = 0
        self._file: int | None = None
        self._named: Path | None = None

    def tell(self, event: Event, struck: Event, take: Take) -> None:
        """An event came, to be kept as `struck`, while `take` was on the stand."""
        row = packing.event_row(struck)
        with self._lock:
            number = self._count = self._count + 1
            self._waiting.append((event, row, take, number))
            self._undone.add(number)
            lines = ""
            if take.id is None and take.uid not in self._headed:
                self._headed.add(take.uid)
                lines = f"take {take.uid} {json.dumps(header(take))}\n"
            start = self._start[1] if self._start[0] == take.uid else "-"
            self._note(f"{lines}came {number} {take.uid} {start} {' '.join(map(str, row))}\n")

    def dealt_with(self, event: Event) -> tuple[Take, Dealt] | None:
        """The event is in its take's queue, or is no part of it; what is to be queued behind it."""
        with self._lock:
            for one in self._waiting:
                if one[0] is event:
                    break
            else:
                return None
            self._waiting.remove(one)
            _, row, take, number = one
            kept = take.event_rows()[-1:]
            if kept and kept[0][1:] == row[1:] and self._start[0] != take.uid:
                self._start = take.uid, row[0] - kept[0][0]
                # What was told before is placed by it, even when its first press has long been done.
                self._note(f"start {take.uid} {self._start[1]}\n")
        return take, Dealt(number)

    def written(self, numbers: list[int]) -> None:
        """The journal has written what these events led to."""
        with self._lock:
            self._undone.difference_update(numbers)
            if not self._undone and self._emptied():
                self._headed.clear()
            else:
                self._note("".join(f"done {number}\n" for number in numbers))

    def close(self) -> None:
        """The journal is closed: what it has, it has written."""
        with self._lock:
            if self._file is not None and self._named is not None:
                os.close(self._file)
                self._file = None
                with contextlib.suppress(OSError):
                    self._named.unlink()

    def _emptied(self) -> bool:
        """Empty the file; False where there is none, or where that cannot be done (a network drive that went)."""
        if self._file is None:
            return False
        try:
            os.ftruncate(self._file, 0)
        except OSError:
            return False
        return True

    def _note(self, lines: str) -> None:
        # Where nothing can be written, the journal says so by itself.
        with contextlib.suppress(OSError):
            if self._file is None:
                self._named = files.beside(
                    self._path, f"{_NAME}-{of(os.getpid())}-{uuid.uuid4().hex[:8]}", stamped=False
                )
                flags = os.O_CREAT | os.O_WRONLY | os.O_APPEND | getattr(os, "O_BINARY", 0)
                self._file = os.open(self._named, flags, 0o600)
            os.write(self._file, lines.encode())


def is_in_use(one: Path, path: Path) -> bool:
    """Whether a file beside the journal `path` is one of these, and its program still runs."""
    process = one.name.removeprefix(f"{path.stem}-{_NAME}-").partition("-")[0]
    return process.isdigit() and is_alive(int(process))


def adopt(db: sqlite3.Connection, path: Path) -> None:
    """Take in what programs that were killed had heard and not yet written."""
    for one in path.parent.glob(f"{escape(path.stem)}-{_NAME}-*{escape(path.suffix)}"):
        if is_in_use(one, path):
            continue
        # Left for another time: what belongs to somebody else, or a journal another program writes now.
        with contextlib.suppress(OSError, *files.DATABASE_ERRORS):
            # A line that was cut off in the middle counts for nothing.
            _adopt(db, one.read_bytes().split(b"\n")[:-1])
            one.unlink()


def _adopt(db: sqlite3.Connection, lines: list[bytes]) -> None:
    db.execute("BEGIN IMMEDIATE")
    try:
        _take_in(db, lines)
        db.execute("COMMIT")
    except _DAMAGE:
        db.execute("ROLLBACK")
    except BaseException:
        db.execute("ROLLBACK")
        raise


def _take_in(db: sqlite3.Connection, lines: list[bytes]) -> None:
    headers: dict[str, str] = {}
    starts: dict[str, int] = {}
    came: dict[str, tuple[str, str, tuple[int, ...]]] = {}
    for line in lines:
        # A full disk may have cut off a line in the middle of the file: that costs this line alone.
        with contextlib.suppress(*_DAMAGE):
            what, rest = line.decode().split(" ", 1)
            if what == "take":
                uid, told = rest.split(" ", 1)
                headers[uid] = told
            elif what == "came":
                number, uid, start, at, kind, pitch, value = rest.split(" ")
                came[number] = uid, start, (int(at), int(kind), int(pitch), int(value))
            elif what == "start":
                uid, start = rest.split(" ")
                starts[uid] = int(start)
            elif what == "done":
                came.pop(rest, None)
    for uid in dict.fromkeys(uid for uid, _, _ in came.values()):
        mine = [(starts.get(uid) if start == "-" else int(start), row) for of, start, row in came.values() if of == uid]
        _into_take(db, uid, headers.get(uid), mine)


def _into_take(
    db: sqlite3.Connection, uid: str, told: str | None, came: list[tuple[int | None, tuple[int, ...]]]
) -> None:
    found = db.execute("SELECT id FROM take WHERE uid = ? AND state = ?", (uid, PLAYING)).fetchone()
    presses = [row[0] for _, row in came if isinstance(packing.event_of(*row), Press)]
    if found is None and told is not None and presses:
        if db.execute("SELECT 1 FROM take WHERE uid = ?", (uid,)).fetchone():
            return
        found = (insert_header(db, json.loads(told)),)
    if found is None:
        return
    number = found[0]
    known = set(db.execute("SELECT at, kind, pitch, value FROM live WHERE take = ?", (number,)))
    place = db.execute("SELECT coalesce(max(n), -1) FROM live WHERE take = ?", (number,)).fetchone()[0]
    # Before its first event was dealt with, a take begins with its first press.
    first = min(presses, default=came[0][1][0])
    for start, row in came:
        at = row[0] - (first if start is None else start)
        if at >= 0 and (at, *row[1:]) not in known:
            place += 1
            db.execute(
                "INSERT INTO live (take, n, at, kind, pitch, value) VALUES (?, ?, ?, ?, ?, ?)",
                (number, place, at, *row[1:]),
            )
