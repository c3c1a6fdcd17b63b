"""A take while it is played: everything heard is written as it happens."""

from __future__ import annotations

import sqlite3
import time
import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol

from trainer.following.marks import Mark, Settled
from trainer.following.timing import Timing
from trainer.journal import packing
from trainer.journal.tally import PieceLabels, TakeFacts, canonical, facts
from trainer.journal.values import FINISHED, KEPT, PLAYING, Summary
from trainer.listening.press import Event, Press
from trainer.music.compass import level
from trainer.music.piece import BOTH, Piece
from trainer.music.transpose import Transposition

Operation = Callable[[sqlite3.Connection], None]
EPOCH_ORDINAL = 719_163  # datetime.date(1970, 1, 1).toordinal()
_TAKE_COLUMNS = (
    "player", "piece", "uid", "began", "zone", "day", "written", "target", "interval", "said", "key", "level",
    "hands", "mode", "tempo", "help", "glimpsed", "kind", "state", "process", "notes",
)  # fmt: skip
_RESULT_COLUMNS = (
    "right", "played", "notes", "missed", "accuracy", "pulse", "seconds", "quarters", "pace", "cost", "steadiness",
    "hesitations",
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


class Keeper(Protocol):
    """What a take asks of its journal."""

    def later(self, take: Take, *operations: Operation) -> None: ...
    def done(self, take: Take) -> None: ...


class Take:
    """One take being written. Made by `Journal.begin`; fits the session's ``record``.

    Nothing is written before the first event, so a take that never began leaves no trace. No method waits for the
    disk but `finish`, and that for a few milliseconds.
    """

    def __init__(self, keeper: Keeper, about: About, process: int) -> None:
        self.about = about
        self.uid = uuid.uuid4().hex
        self.id: int | None = None
        self.state = PLAYING
        self.glimpsed = False
        self._keeper = keeper
        self._process = process
        self._began: datetime | None = None
        self._events: list[tuple[int, int, int, int]] = []
        self._presses: list[Press] = []
        self._first: list[Mark] = []

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

    def _write(self, event: Event, verdict: tuple[int | None, str | None, float | None, int | None]) -> None:
        if self._began is None:
            self._began = datetime.now().astimezone()
        row = packing.event_row(event)
        n = len(self._events)
        self._events.append(row)
        self._keeper.later(self, lambda db: _insert_event(db, self, n, row, verdict))

    def finish(self, settled: Settled, summary: Summary, timing: Timing | None = None) -> None:
        """Write the final verdicts and the figures; the take is complete."""
        if not self._presses:
            return
        about = self.about
        found = facts(about.plate.labels, about.plan.written, about.plan.target, self._presses, settled, about.hands)
        results = result_values(settled, summary, timing, found)
        events, verdicts = packing.pack_events(self._events), packing.pack_verdicts(self._first, settled)
        self.state = FINISHED

        def write(db: sqlite3.Connection) -> None:
            ensure(db, self)
            complete(db, self.id, results, events, verdicts)
            count(db, self.id, found.counts)

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

    def row_values(self) -> tuple[Any, ...]:
        """The values of `_TAKE_COLUMNS` after player and piece."""
        about, began = self.about, self._began
        assert began is not None
        offset = began.utcoffset()
        assert offset is not None
        written, target = about.plan.written, about.plan.target
        return (
            self.uid, began.timestamp(), int(offset.total_seconds() // 60),
            began.toordinal() - EPOCH_ORDINAL, written.short, target.short, about.plan.interval.short,
            about.plan.note, canonical(target), about.plate.levels.get(about.hands, about.plate.levels[BOTH]),
            about.hands, about.mode, about.tempo, about.help, int(self.glimpsed), about.kind, PLAYING, self._process, len(about.plate.labels.piece.notes),
        )  # fmt: skip

    def event_rows(self) -> Sequence[tuple[int, int, int, int]]:
        return self._events

    def first_marks(self) -> Sequence[Mark]:
        return self._first


def ensure(db: sqlite3.Connection, take: Take) -> None:
    """See that the take has its row in this database, with its number."""
    if take.id is not None:
        return
    places = ", ".join("?" * len(_TAKE_COLUMNS))
    sql = f"INSERT INTO take ({', '.join(_TAKE_COLUMNS)}) VALUES ({places})"
    player, piece = player_number(db, take.about.player), _piece_number(db, take.about.plate)
    take.id = db.execute(sql, (player, piece, *take.row_values())).lastrowid


def player_number(db: sqlite3.Connection, name: str) -> int:
    """The number of a player, made known when new."""
    row = db.execute("SELECT id FROM player WHERE name = ?", (name,)).fetchone()
    if row is None:
        row = (db.execute("INSERT INTO player (name, begun) VALUES (?, ?)", (name, time.time())).lastrowid,)
    return int(row[0])


def _piece_number(db: sqlite3.Connection, kept: Plate) -> int:
    row = db.execute("SELECT id FROM piece WHERE key = ?", (kept.key,)).fetchone()
    if row is None:
        piece = kept.labels.piece
        values = (kept.key, piece.title, piece.key.short, kept.levels[BOTH], len(piece.notes), kept.body)
        sql = "INSERT INTO piece (key, title, written, level, notes, body) VALUES (?, ?, ?, ?, ?, ?)"
        row = (db.execute(sql, values).lastrowid,)
    return int(row[0])


def _set(db: sqlite3.Connection, take: Take, column: str, value: object) -> None:
    if take.event_rows():
        ensure(db, take)
        db.execute(f"UPDATE take SET {column} = ? WHERE id = ?", (value, take.id))


def _insert_event(
    db: sqlite3.Connection,
    take: Take,
    n: int,
    row: tuple[int, int, int, int],
    verdict: tuple[int | None, str | None, float | None, int | None],
) -> None:
    ensure(db, take)
    db.execute("INSERT OR REPLACE INTO live VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", (take.id, n, *row, *verdict))


def result_values(settled: Settled, summary: Summary, timing: Timing | None, found: TakeFacts) -> tuple[Any, ...]:
    """The values of `_RESULT_COLUMNS`; the cost of transposing is weighed when they are written."""
    return (
        summary.right, summary.played, summary.written, len(settled.missed), summary.accuracy, summary.pulse_bpm,
        summary.seconds, found.quarters, found.pace, None, timing.steadiness if timing else None,
        len(timing.hesitations) if timing else None,
    )  # fmt: skip


def complete(
    db: sqlite3.Connection, take: int | None, results: tuple[Any, ...], events: bytes, verdicts: bytes
) -> None:
    """A take gets its results and its packed rows; its live rows go. The cost of transposing follows from the past."""
    values = ", ".join(f"{column} = ?" for column in _RESULT_COLUMNS)
    db.execute(f"UPDATE take SET {values}, state = ? WHERE id = ?", (*results, FINISHED, take))
    db.execute("INSERT OR REPLACE INTO playing VALUES (?, ?, ?)", (take, events, verdicts))
    db.execute("DELETE FROM live WHERE take = ?", (take,))
    weigh(db, take)


def keep_unmarked(db: sqlite3.Connection, take: int | None, events: bytes) -> None:
    """A take cut off stays as it is, without marks."""
    db.execute("UPDATE take SET state = ? WHERE id = ?", (KEPT, take))
    db.execute("INSERT OR REPLACE INTO playing VALUES (?, ?, NULL)", (take, events))
    db.execute("DELETE FROM live WHERE take = ?", (take,))


# A take counts for the cost of transposing when at least half of what is written was played right, and when the
# player, not the click, set the pace.
_COUNTS = "state = 'finished' AND mode <> 'a tempo' AND pace > 0 AND right * 2 >= notes"
BASELINE_TAKES = 5


def weigh(db: sqlite3.Connection, take: int | None) -> None:
    """Work out the cost of transposing: of this take, or, for a take in the written key, of those that waited for one.

    Cost is the median pace of the player's last takes of the same piece and hands in the written key, over the pace
    in the target key.
    """
    row = db.execute(
        f"SELECT player, piece, hands, interval, pace FROM take WHERE id = ? AND {_COUNTS}", (take,)
    ).fetchone()
    if row is None:
        return
    player, piece, hands, interval, pace = row
    same = (player, piece, hands)
    base = db.execute(
        f"SELECT pace FROM take WHERE player = ? AND piece = ? AND hands = ? AND interval = '+P1' AND {_COUNTS} "
        f"ORDER BY began DESC LIMIT {BASELINE_TAKES}",
        same,
    ).fetchall()
    if not base:
        return
    paces = sorted(pace for (pace,) in base)
    middle = (paces[(len(paces) - 1) // 2] + paces[len(paces) // 2]) / 2
    if interval == "+P1":
        db.execute(
            "UPDATE take SET cost = ? / pace WHERE player = ? AND piece = ? AND hands = ? AND cost IS NULL "
            f"AND interval <> '+P1' AND {_COUNTS}",
            (middle, *same),
        )
    else:
        db.execute("UPDATE take SET cost = ? WHERE id = ?", (middle / pace, take))


def count(db: sqlite3.Connection, take: int | None, counts: dict[tuple[str, str], Any], sign: int = 1) -> None:
    """Add a finished take to the tables the figures are read from (`sign` -1: take it out again)."""
    player, day, key, seconds, right, played, missed = db.execute(
        "SELECT player, day, key, seconds, right, played, missed FROM take WHERE id = ?", (take,)
    ).fetchone()
    week = (day + 3) // 7  # 1 January 1970 was a Thursday; weeks begin on Monday
    db.executemany(
        "INSERT INTO tally VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET n = n + excluded.n, "
        "right = right + excluded.right, timed = timed + excluded.timed, late = late + excluded.late",
        [
            (player, facet, week, key, value, sign * c.n, sign * c.right, sign * c.timed, sign * c.late)
            for (facet, value), c in counts.items()
        ],
    )
    db.execute(
        "INSERT INTO daily VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET takes = takes + excluded.takes, "
        "seconds = seconds + excluded.seconds, right = right + excluded.right, played = played + excluded.played, "
        "missed = missed + excluded.missed",
        (player, day, key, sign, sign * seconds, sign * right, sign * played, sign * missed),
    )
