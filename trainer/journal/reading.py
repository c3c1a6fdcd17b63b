"""What can be asked of a journal."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from trainer.following.marks import Mark, Settled
from trainer.journal import files, packing
from trainer.journal.errors import JournalError
from trainer.journal.values import KeptTake, TakeRow, local
from trainer.listening.press import Event
from trainer.music.keys import Key
from trainer.music.pitch import Interval, MusicError
from trainer.music.transpose import Transposition

# The title a take was played under, in questions to takes `t` with their pieces `m`.
TITLE = "coalesce(t.title, m.title)"
_COLUMNS = (
    f"t.id, p.name, {TITLE}, m.key, t.began, t.zone, t.written, t.target, t.key, t.interval, t.level, t.hands, t.mode, "
    "t.tempo, t.help, t.glimpsed, t.kind, t.state, t.right, t.played, t.notes, t.missed, t.accuracy, t.pulse, "
    "t.seconds, t.pace, t.cost, t.steadiness, t.hesitations, t.verse, t.share"
)
# A take that lay elsewhere as a whole has hardly a note right: only such poor ones are looked at for it.
_POOR = 0.5
_FROM = "take t JOIN player p ON p.id = t.player JOIN piece m ON m.id = t.piece"


def _row(values: tuple[Any, ...]) -> TakeRow:
    try:
        began = local(values[4], values[5])
    except (OverflowError, ValueError, TypeError, OSError):
        began = local(0, 0)  # a damaged time hides no take
    plain: list[Any] = [*values[:4], began, *values[6:]]
    plain[14] = bool(plain[14])
    return TakeRow(*plain)


class Reading:
    """Questions; `Journal` adds the writing."""

    db: sqlite3.Connection
    _lock: threading.RLock

    def ask(self, sql: str, values: Iterable[Any] = ()) -> list[tuple[Any, ...]]:
        """Rows of one question.

        Raises
        ------
        JournalError
            When the file cannot be read.
        """
        try:
            with self._lock:
                return self.db.execute(sql, tuple(values)).fetchall()
        except files.DATABASE_ERRORS as why:
            raise JournalError(
                f"The journal cannot be read ({why}): 'keyfarer journal restore' puts the backup back."
            ) from why

    def players(self) -> list[str]:
        """Names, in the order they came."""
        return [str(name) for (name,) in self.ask("SELECT name FROM player ORDER BY id")]

    def rows(self, where: str, values: Iterable[Any] = ()) -> list[TakeRow]:
        """Lines of takes (``t``, its player ``p``, its piece ``m``); `where` may end in ORDER BY and LIMIT."""
        sql = f"SELECT {_COLUMNS} FROM {_FROM} WHERE {where}"
        return [_row(values) for values in self.ask(sql, values)]

    def takes(self, player: str | None = None, limit: int = 20) -> list[TakeRow]:
        """The latest takes, newest first, of one player or of all."""
        if player is None:
            return self.rows("1 ORDER BY t.id DESC LIMIT ?", (limit,))
        # Chosen by the index of days first: joining before choosing would walk through every take of the player.
        latest = "SELECT id FROM take WHERE player = (SELECT id FROM player WHERE name = ?) ORDER BY day DESC, id DESC"
        return self.rows(f"t.id IN ({latest} LIMIT ?) ORDER BY t.day DESC, t.id DESC", (player, limit))

    def row(self, number: int) -> TakeRow:
        """One take's line."""
        # SQLite knows no larger number.
        found = self.rows("t.id = ?", (number,)) if abs(number) < 2**63 else []
        if not found:
            raise JournalError(f"There is no take {number}: 'keyfarer journal list' shows the numbers.")
        return found[0]

    def shift(self, number: int) -> int:
        """The semitones by which all of a take lay beside what was asked for; 0 where its verdicts are damaged.

        Raises
        ------
        JournalError
            When the file cannot be read.
        """
        kept = self.ask("SELECT verdicts FROM playing WHERE take = ? AND verdicts IS NOT NULL", (number,))
        try:
            return sum(packing.unpack_verdicts(verdicts)[1].shift for (verdicts,) in kept)
        except (JournalError, MusicError, ValueError, KeyError, IndexError, TypeError, OverflowError, AttributeError):
            return 0

    def elsewhere(self, rows: Iterable[TakeRow]) -> dict[int, int]:
        """Takes that lay in another octave or key as a whole, whose figures say nothing: by how many semitones, each.

        Raises
        ------
        JournalError
            When the file cannot be read.
        """
        poor = [row.id for row in rows if row.accuracy is not None and row.accuracy < _POOR]
        return {number: shift for number in poor if (shift := self.shift(number))}

    def take(self, number: int) -> KeptTake:
        """Everything the journal holds of a take.

        Raises
        ------
        JournalError
            When there is no such take, or its row is damaged.
        """
        row = self.row(number)
        try:
            return self._whole(row)
        except (MusicError, ValueError, KeyError, IndexError, TypeError, OverflowError) as why:
            raise JournalError(packing.DAMAGED) from why

    def _whole(self, row: TakeRow) -> KeptTake:
        number = row.id
        (body, said) = self.ask(
            "SELECT m.body, t.said FROM take t JOIN piece m ON m.id = t.piece WHERE t.id = ?", (number,)
        )[0]
        # The same music is filed once, whatever it is called.
        piece = replace(packing.unpack_piece(body), title=row.title)
        plan = Transposition(Key.parse(row.written), Key.parse(row.target), Interval.parse(row.interval), said)
        packed = self.ask("SELECT events, verdicts FROM playing WHERE take = ?", (number,))
        first: tuple[Mark, ...] = ()
        settled: Settled | None = None
        if packed:
            events = packing.unpack_events(packed[0][0])
            if packed[0][1] is not None:
                first, settled = packing.unpack_verdicts(packed[0][1])
        else:
            events, first = self._live(number)
        return KeptTake(row, piece, plan, events, first, settled)

    def _live(self, number: int) -> tuple[tuple[Event, ...], tuple[Mark, ...]]:
        events: list[Event] = []
        marks: list[Mark] = []
        sql = 'SELECT at, kind, pitch, value, note, cause, probability, "offset" FROM live WHERE take = ? ORDER BY n'
        for at, kind, pitch, value, note, cause, probability, offset in self.ask(sql, (number,)):
            events.append(packing.event_of(at, kind, pitch, value))
            if cause is not None:
                marks.append(Mark(len(marks), note, cause, probability, (), offset))
        return tuple(events), tuple(marks)
