"""A take while it is played: everything heard is written as it happens."""

from __future__ import annotations

import base64
import sqlite3
import time
import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol

from trainer.following.marks import Mark, Settled
from trainer.following.timing import Timing
from trainer.journal import packing, unlearned
from trainer.journal.columns import columns_of
from trainer.journal.counting import facts
from trainer.journal.filing import complete, count, keep_unmarked, result_values
from trainer.journal.tally import PieceLabels, canonical
from trainer.journal.values import FINISHED, KEPT, PLAYING, Summary
from trainer.listening.press import Event, Press
from trainer.music.compass import level
from trainer.music.piece import BOTH, Piece
from trainer.music.transpose import Transposition

Operation = Callable[[sqlite3.Connection], None]
PLATES = 32
EPOCH_ORDINAL = 719_163  # datetime.date(1970, 1, 1).toordinal()
_TAKE_COLUMNS = (
    "player", "piece", "uid", "began", "zone", "day", "written", "target", "interval", "said", "key", "level",
    "hands", "mode", "tempo", "help", "glimpsed", "kind", "state", "process", "notes",
    "verse", "title",
)  # fmt: skip


@dataclass(frozen=True)
class Plate:
    """A piece as the journal files it."""

    key: str
    levels: dict[str, str]
    body: bytes
    labels: PieceLabels


def plate(piece: Piece) -> Plate:
    """Everything the journal needs of a piece, worked out once."""
    levels = {hands: level(piece.only_hand(hands)) for hands in (*piece.hands, BOTH)}
    return Plate(packing.piece_key(piece), levels, packing.pack_piece(piece), PieceLabels(piece))


class Plates:
    """The plates of the pieces played lately."""

    def __init__(self) -> None:
        self._known: dict[int, tuple[Piece, Plate]] = {}

    def of(self, piece: Piece) -> Plate:
        """The plate of a piece, made at its first take."""
        # By identity, the piece kept beside so that the number cannot be another's: equality would compare all notes.
        if id(piece) not in self._known:
            if len(self._known) >= PLATES:
                self._known.clear()
            self._known[id(piece)] = piece, plate(piece)
        return self._known[id(piece)][1]


@dataclass(slots=True)
class About:
    """What is known of a take before it begins."""

    player: str
    plate: Plate
    plan: Transposition
    hands: str
    mode: str
    tempo: float | None
    help: str
    kind: str
    verse: int | None = None


class Keeper(Protocol):
    """What a take asks of its journal."""

    def later(self, take: Take, *operations: Operation) -> None: ...
    def done(self, take: Take) -> None: ...
    def gone(self, take: Take) -> None: ...


class Take:
    """One take being written. Made by `Journal.begin`; fits the session's ``record``.

    Nothing is written before the first event, so a take that never began leaves no trace. No method waits for the
    disk but `finish`, and that for a few milliseconds.
    """

    def __init__(self, keeper: Keeper, about: About, process: int, began: datetime | None = None) -> None:
        self.about = about
        self.uid = uuid.uuid4().hex
        self.id: int | None = None
        self.state = PLAYING
        self.glimpsed = False
        # Whether the path is to learn from it once it is finished.
        self.is_to_learn = False
        self._keeper = keeper
        self._process = process
        self._began = began
        self._is_live = began is None
        self._events: list[tuple[int, int, int, int]] = []
        self._presses: list[Press] = []
        self._first: list[Mark] = []

    @property
    def verse(self) -> int | None:
        """The verse that lay on the page last."""
        return self.about.verse

    @property
    def is_playing(self) -> bool:
        """Whether more may be heard of it, as it is played."""
        return self._is_live and self.state == PLAYING

    def press(self, press: Press, mark: Mark) -> None:
        """Write a press and its first verdict."""
        self._presses.append(press)
        self._first.append(mark)
        self._write(press, (mark.note, mark.cause, mark.probability, mark.offset))

    def other(self, event: Event) -> None:
        """Write a release or a pedal."""
        self._write(event, (None, None, None, None))

    def glimpse(self) -> None:
        """The transposed page was looked at."""
        if not self.glimpsed:
            self.glimpsed = True
            self._keeper.later(self, lambda db: _set(db, self, "glimpsed", 1))

    def set_help(self, help_shown: str) -> None:
        """The help changed while playing; the most that was shown in the take is what counts."""
        order = ("none", "do", "bars", "all")
        if order.index(help_shown) > order.index(self.about.help):
            self.about.help = help_shown
            self._keeper.later(self, lambda db: _set(db, self, "help", help_shown))

    def set_verse(self, verse: int | None) -> None:
        """Which verse of a song lies on the page, by its row from 1; None for no words. The last one is kept."""
        if verse != self.about.verse and self.is_playing:
            self.about.verse = verse
            self._keeper.later(self, lambda db: _set(db, self, "verse", verse))

    def _write(self, event: Event, verdict: tuple[int | None, str | None, float | None, int | None]) -> None:
        if self._began is None:
            self._began = datetime.now().astimezone()
        row = packing.event_row(event)
        n = len(self._events)
        self._events.append(row)
        if self._is_live:
            self._keeper.later(self, lambda db: _insert_event(db, self, n, row, verdict))

    def finish(self, settled: Settled, summary: Summary, timing: Timing | None = None) -> None:
        """Write the final verdicts and the figures; the take is complete."""
        if not self._presses:
            return
        about = self.about
        found = facts(about.plate.labels, about.plan.written, about.plan.target, columns_of(self._presses, settled))
        results = result_values(settled, summary, timing, found)
        events, verdicts = packing.pack_events(self._events), packing.pack_verdicts(self._first, settled)
        self.state = FINISHED

        def write(db: sqlite3.Connection) -> None:
            ensure(db, self)
            complete(db, self.id, results, events, verdicts)
            count(db, self.id, found.counts)
            if self.is_to_learn:
                unlearned.note(db, self.uid)

        self._keeper.later(self, write)
        self._keeper.done(self)

    def keep(self) -> None:
        """Stop without marks: what was played stays as it is."""
        if not self._presses or self.state != PLAYING:
            return
        self.state = KEPT
        events = packing.pack_events(self._events)

        def write(db: sqlite3.Connection) -> None:
            ensure(db, self)
            keep_unmarked(db, self.id, events)

        self._keeper.later(self, write)
        self._keeper.done(self)

    def discard(self) -> None:
        """It was no take: what was written of it goes again."""
        if not self.is_playing:
            return
        self._is_live = False
        self._keeper.later(self, lambda db: _remove(db, self))
        self._keeper.gone(self)

    def row_values(self) -> tuple[Any, ...]:
        """The values of `_TAKE_COLUMNS` after player and piece."""
        # Without an event of its own it begins with one that is still on its way.
        about, began = self.about, self._began or datetime.now().astimezone()
        offset = began.utcoffset()
        assert offset is not None
        written, target, piece = about.plan.written, about.plan.target, about.plate.labels.piece
        return (
            self.uid, began.timestamp(), int(offset.total_seconds() // 60),
            began.toordinal() - EPOCH_ORDINAL, written.short, target.short, about.plan.interval.short,
            about.plan.note, canonical(target), about.plate.levels.get(about.hands, about.plate.levels[BOTH]),
            about.hands, about.mode, about.tempo, about.help, int(self.glimpsed), about.kind,
            PLAYING, self._process, len(piece.notes), about.verse, piece.title,
        )  # fmt: skip

    def event_rows(self) -> Sequence[tuple[int, int, int, int]]:
        return self._events


def ensure(db: sqlite3.Connection, take: Take) -> None:
    """See that the take has its row in this database, with its number."""
    if take.id is None:
        player, piece = player_number(db, take.about.player), _piece_number(db, take.about.plate)
        take.id = _insert_take(db, (player, piece, *take.row_values()))


def _insert_take(db: sqlite3.Connection, values: Sequence[Any]) -> int:
    # What an older program noted of a take on its way lacks the newest columns.
    names = _TAKE_COLUMNS[: len(values)]
    places = ", ".join("?" * len(names))
    number = db.execute(f"INSERT INTO take ({', '.join(names)}) VALUES ({places})", tuple(values)).lastrowid
    assert number is not None
    return number


def header(take: Take) -> dict[str, Any]:
    """Everything `ensure` writes of a take, as plain values."""
    key, title, written, level, notes, body = _piece_values(take.about.plate)
    piece = [key, title, written, level, notes, base64.b64encode(body).decode()]
    return {"player": take.about.player, "piece": piece, "take": take.row_values()}


def insert_header(db: sqlite3.Connection, told: dict[str, Any]) -> int:
    """Write what `header` gave; returns the take's number."""
    *others, body = told["piece"]
    found = db.execute("SELECT id FROM piece WHERE key = ?", (others[0],)).fetchone()
    piece = found[0] if found else _insert_piece(db, (*others, base64.b64decode(body)))
    return _insert_take(db, (player_number(db, told["player"]), piece, *told["take"]))


def player_number(db: sqlite3.Connection, name: str) -> int:
    """The number of a player, made known when new."""
    row = db.execute("SELECT id FROM player WHERE name = ?", (name,)).fetchone()
    if row is None:
        row = (db.execute("INSERT INTO player (name, begun) VALUES (?, ?)", (name, time.time())).lastrowid,)
    return int(row[0])


def _piece_number(db: sqlite3.Connection, kept: Plate) -> int:
    row = db.execute("SELECT id, body FROM piece WHERE key = ?", (kept.key,)).fetchone()
    if row is None:
        return _insert_piece(db, _piece_values(kept))
    if not packing.is_whole(row[1]) or _sung_in(row[1]) < len(kept.labels.piece.sung):
        # Damaged on the disk, or filed by journals that left singers out, the first all of them; here they are again.
        db.execute("UPDATE piece SET body = ? WHERE id = ?", (kept.body, row[0]))
    return int(row[0])


def _piece_values(kept: Plate) -> tuple[str, str, str, str, int, bytes]:
    piece = kept.labels.piece
    return kept.key, piece.title, piece.key.short, kept.levels[BOTH], len(piece.notes), kept.body


def _insert_piece(db: sqlite3.Connection, values: Sequence[Any]) -> int:
    sql = "INSERT INTO piece (key, title, written, level, notes, body) VALUES (?, ?, ?, ?, ?, ?)"
    number = db.execute(sql, tuple(values)).lastrowid
    assert number is not None
    return number


def _sung_in(body: bytes) -> int:
    """How many notes are sung in a packed piece."""
    return len((packing.opened(body).get("sung") or {"id": ()})["id"])


def _set(db: sqlite3.Connection, take: Take, column: str, value: object) -> None:
    if take.event_rows():
        ensure(db, take)
        db.execute(f"UPDATE take SET {column} = ? WHERE id = ?", (value, take.id))


def _remove(db: sqlite3.Connection, take: Take) -> None:
    db.execute("DELETE FROM live WHERE take = ?", (take.id,))
    db.execute("DELETE FROM take WHERE id = ?", (take.id,))
    take.id = None


def _insert_event(
    db: sqlite3.Connection,
    take: Take,
    n: int,
    row: tuple[int, int, int, int],
    verdict: tuple[int | None, str | None, float | None, int | None],
) -> None:
    ensure(db, take)
    db.execute("INSERT OR REPLACE INTO live VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", (take.id, n, *row, *verdict))
