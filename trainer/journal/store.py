"""The journal: one SQLite file that holds every take of every player, written as it happens.

A take never waits for the disk: what is heard goes into a queue, and one thread of the journal writes it within
`BATCH_S` and a few milliseconds. If the file cannot be written (disk full, read-only folder, damage), playing goes on
with a journal in memory, what is known is said in `Journal.trouble`, and finished takes are set aside in a small
journal of their own that the next start takes in (`trainer.journal.aside`).
"""

from __future__ import annotations

import atexit
import contextlib
import os
import sqlite3
import threading
import time
from collections import deque
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from trainer import folders
from trainer.following.marks import Settled
from trainer.following.timing import Timing
from trainer.journal import aside, files, packing, processes, rescue, schema, unlearned
from trainer.journal.coming import Coming, Dealt, adopt
from trainer.journal.errors import JournalError
from trainer.journal.filing import file_anew, keep_unmarked
from trainer.journal.reading import Reading
from trainer.journal.recounting import count_anew
from trainer.journal.take import About, Operation, Plates, Take
from trainer.journal.values import FINISHED, NOBODY_NAMED, PIECE, PLAYING, Summary, TakeRow
from trainer.listening.press import Event
from trainer.music.piece import BOTH, Piece
from trainer.music.transpose import Transposition

BATCH_S = 0.02
RETRY_S = 0.5
TEND_S = 2.0
BACKUP_AGE_S = 86_400.0
ALL_HELP = "all"


class Journal(Reading):
    """The record of all takes.

    Parameters
    ----------
    path : str or Path, optional
        The file; by default `trainer.journal.files.where`.
    strict : bool
        Raise `JournalError` when the file cannot be used, instead of going on in memory: for commands that read or
        change the journal, as against playing.

    Attributes
    ----------
    trouble : str
        Empty when all is well; otherwise what to tell the player.
    reason : str
        Of a journal in memory: what keeps takes out of the file, in one sentence.
    aside : Path or None
        Where all takes are that could not be written to the file; None when there is no such place.
    """

    def __init__(self, path: str | Path | None = None, *, strict: bool = False) -> None:
        self.path = folders.typed(path) if path is not None else files.where()
        self.trouble = ""
        self._unkept = ""  # said as long as the journal is open
        self.reason = ""
        self.aside: Path | None = None
        self._last_aside: Path | None = None
        self.in_memory = False
        self._lock = threading.RLock()
        self._in_step = False
        self._waiting: deque[tuple[Take, Operation]] = deque()
        self._playing: list[Take] = []
        self._on_stand: Take | None = None
        self._coming = Coming(self.path)
        self._made: list[str] = []
        self._plates = Plates()
        self._wake = threading.Event()
        self._writer: threading.Thread | None = None
        self._closed = False
        self.wait_s = files.BUSY_S  # for another program at the file, before a take waits in memory
        self._tend_due, self._tended, self._held_since = False, 0.0, 0.0
        self.db = self._open(strict)
        atexit.register(self.close)

    def __enter__(self) -> Journal:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # Opening

    def _open(self, strict: bool) -> sqlite3.Connection:
        try:
            db = files.open_file(self.path)
            adopt(db, self.path)
            count_anew(db)
            return db
        except JournalError as why:
            if strict:
                raise
            self.reason = str(why)
            self.trouble = f"{why} Until then takes are kept aside."
        except (*files.DATABASE_ERRORS, OSError) as why:
            kind = files.trouble_of(why)
            if kind == files.DAMAGED and not files.looks_ours(self.path):
                said = f"{self.path} is not a Keyfarer journal, and was left as it is: name another file."
                if strict:
                    raise JournalError(said) from why
                self.reason, self.trouble = said, f"{said} Until then takes are kept aside."
                return self._memory(None)
            if kind == files.DAMAGED:
                try:
                    self.trouble = rescue.rescue(self.path)
                    return files.open_file(self.path)
                except (*files.DATABASE_ERRORS, OSError, JournalError) as again:
                    kind = files.trouble_of(again)
            said = files.said_of(kind, self.path, why)
            if strict:
                raise JournalError(said) from why
            self.reason, self.trouble = said, f"{said} Takes are kept aside."
        return self._memory(rescue.read_only(self.path))

    def _memory(self, source: sqlite3.Connection | None) -> sqlite3.Connection:
        db = files.connect(None)
        schema.upgrade(db)
        self.in_memory = True
        if source is not None:
            # What can still be read is shown; only the packed takes stay behind.
            rescue.copy_tables(source, db)
        return db

    # Takes

    def begin(
        self,
        piece: Piece,
        plan: Transposition,
        *,
        player: str = NOBODY_NAMED,
        hands: str = BOTH,
        mode: str = "senza misura",
        tempo: float | None = None,
        help: str = ALL_HELP,
        kind: str = PIECE,
        began: datetime | None = None,
    ) -> Take:
        """A take about to be played, to be handed to the session as its record.

        Parameters
        ----------
        tempo : float, optional
            Asked tempo in felt beats a minute, where there is one.
        help : str
            How many syllables are shown: ``all``, ``bars``, ``do`` or ``none``.
        kind : str
            ``piece``, ``loop`` (some bars of one) and ``pattern`` (a warm-up), which move no cell, or ``sight``.
        began : datetime, optional
            With its zone, for a take that was recorded before: it is written whole when it is finished.
        """
        if hands == BOTH and len(piece.hands) == 1:
            hands = piece.hands[0]
        about = About(player, self._plates.of(piece), plan, hands, mode, tempo, help, kind)
        self._on_stand = Take(self, about, processes.of(os.getpid()), began)
        return self._on_stand

    def later(self, take: Take, *operations: Operation) -> None:
        """Queue what a take wants written; returns at once."""
        if take.is_playing and take not in self._playing:
            self._playing.append(take)
        self._waiting.extend((take, operation) for operation in operations)
        self._wake_writer()

    def coming(self, event: Event, struck: Event) -> None:
        """An event has been heard and will be dealt with soon (`trainer.journal.coming`); for the thread that heard it.

        Parameters
        ----------
        event : Event
            The very object that `dealt_with` is told of.
        struck : Event
            What it will be in the take begun last, should the program end before.
        """
        take = self._on_stand
        if take is not None and take.is_playing and not self.in_memory and not self._closed:
            self._coming.tell(event, struck, take)

    def dealt_with(self, event: Event) -> None:
        """An event told to `coming` is in its take now, or is no part of it."""
        dealt = self._coming.dealt_with(event)
        if dealt is not None:
            self._waiting.append(dealt)
            self._wake_writer()

    def _wake_writer(self) -> None:
        if self._writer is None and not self._closed:
            self._writer = threading.Thread(target=self._write_on, name="journal", daemon=True)
            self._writer.start()
        self._wake.set()

    def done(self, take: Take) -> None:
        """A take is complete: see that it is in the file, or aside."""
        if take in self._playing:
            self._playing.remove(take)
        self._made.append(take.uid)
        self.flush()
        self._tend_due = True
        self._wake.set()

    def gone(self, take: Take) -> None:
        """A take was discarded."""
        if take in self._playing:
            self._playing.remove(take)

    def flush(self, wait_s: float | None = None) -> bool:
        """Write everything that waits. False when another program holds the file; it is tried again by itself."""
        with self._lock:
            batch: list[tuple[Take, Operation]] = []
            while self._waiting:
                batch.append(self._waiting.popleft())
            return self._write(batch, wait_s) if batch else True

    def _write(self, batch: list[tuple[Take, Operation]], wait_s: float | None = None) -> bool:
        began = time.monotonic()
        numbers = {id(take): (take, take.id) for take, _ in batch}
        try:
            with self._step(self.wait_s if wait_s is None else wait_s) as db:
                for _, operation in batch:
                    operation(db)
        except Exception as why:
            for take, number in numbers.values():
                take.id = number
            if not isinstance(why, (*files.DATABASE_ERRORS, OSError)):
                return self._write_apart(batch, why)
            self._waiting.extendleft(reversed(batch))
            kind = files.trouble_of(why)
            if kind == files.LOCKED:
                self._held_since = self._held_since or began
                if time.monotonic() - self._held_since >= files.BUSY_S:
                    self.trouble = f"{files.said_of(kind, self.path, why)} This take waits in memory."
                return False
            if self.in_memory:
                raise
            self._fall_back(kind, why)
            return self.flush()
        self._held_since = 0.0
        if numbers_dealt := [operation.number for _, operation in batch if isinstance(operation, Dealt)]:
            self._coming.written(numbers_dealt)
        if not self.in_memory:
            self.trouble = self._unkept
        elif self._closed or any(take.state != PLAYING for take, _ in batch):
            self._set_aside()
        return True

    def _write_apart(self, batch: list[tuple[Take, Operation]], why: Exception) -> bool:
        """What one take holds cannot be written: that costs neither the others nor the thread that writes."""
        takes = {id(take) for take, _ in batch}
        done = [self._write([one for one in batch if id(one[0]) == which]) for which in takes if len(takes) > 1]
        self._unkept = self.trouble = f"A take cannot be kept ({why}); the others are."
        return all(done)

    def _fall_back(self, kind: str, why: BaseException) -> None:
        """Go on in memory, with everything that can still be read of the file."""
        self.reason = files.said_of(kind, self.path, why)
        self.trouble = f"{self.reason} Playing goes on; takes are kept aside."
        old = self.db
        self.db = self._memory(old)
        with contextlib.suppress(*files.DATABASE_ERRORS):
            old.close()
        for take in self._playing:
            known = self.db.execute("SELECT id FROM take WHERE uid = ?", (take.uid,)).fetchone()
            take.id = known[0] if known else None

    def _set_aside(self) -> None:
        """Copy the takes made since the trouble began to a file where there is room."""
        try:
            place = aside.set_aside(self.db, self._made, self._last_aside, self.path)
        except JournalError as why:
            # What was set aside before lacks the newest.
            self.trouble, self.aside = str(why), None
            return
        self.trouble = (
            f"{self.reason} Takes made since are in {place}; the next start that can write the journal puts them back."
        )
        self.aside = self._last_aside = place

    def _write_on(self) -> None:
        while not self._closed:
            self._wake.wait(RETRY_S if self._waiting or self._tend_due else None)
            self._wake.clear()
            with contextlib.suppress(*files.DATABASE_ERRORS):
                self.flush()
            if self._tend_due and not self._waiting and time.monotonic() - self._tended > TEND_S:
                self._tended = time.monotonic()
                self._tend_due = False
                self._tend()
            time.sleep(BATCH_S)

    def _tend(self) -> None:
        """Between takes: sync the file to the disk, and let the backup be no older than a day."""
        if self.in_memory:
            return
        files.sync(self.path)
        try:
            files.back_up(self.path, unless_younger_s=BACKUP_AGE_S)
        except JournalError as why:
            self.trouble = str(why)

    # Takes cut off

    def unfinished(self) -> list[TakeRow]:
        """Takes that were cut off: by a crash, or a program closed while playing. Not those being played now."""
        mine, me = {take.id for take in self._playing}, processes.of(os.getpid())
        rows = self.rows("t.state = ? ORDER BY t.id", (PLAYING,))
        with self._lock:
            owners = dict(self.db.execute("SELECT id, process FROM take WHERE state = ?", (PLAYING,)))
        return [r for r in rows if r.id not in mine and (owners[r.id] == me or not processes.is_alive(owners[r.id]))]

    def settle(self, number: int, settled: Settled, summary: Summary, timing: Timing | None = None) -> None:
        """Finish a take that was cut off, for the path to learn from (`unlearned`), or mark a finished one anew.

        The caller has let a session hear ``journal.take(number).events`` and gives what it said.
        """
        with self.changing() as db:
            kept = self.take(number)  # in the same step: another copy of the program may be settling it just now
            file_anew(db, kept, settled, summary, timing)
            if kept.row.state != FINISHED:
                unlearned.note_row(db, number)

    def keep(self, number: int) -> None:
        """Keep a take that was cut off as it is, unmarked."""
        with self.changing() as db:
            kept = self.take(number)
            if kept.row.state == FINISHED:
                raise JournalError(f"Take {number} is finished already.")
            keep_unmarked(db, number, packing.pack_events([packing.event_row(event) for event in kept.events]))

    # The connection

    @contextlib.contextmanager
    def changing(self, wait_s: float = files.BUSY_S) -> Iterator[sqlite3.Connection]:
        """One transaction: everything in it or nothing; within another, a part of that one.

        `JournalError`: the file cannot be written, as while another program is at it for longer than `wait_s`.
        """
        try:
            with self._step(wait_s) as db:
                yield db
        except files.DATABASE_ERRORS as why:
            raise JournalError(files.said_of(files.trouble_of(why), self.path, why)) from why

    @contextlib.contextmanager
    def _step(self, wait_s: float) -> Iterator[sqlite3.Connection]:
        with self._lock:
            db = self.db
            if self._in_step:
                yield db
                return
            db.execute(f"PRAGMA busy_timeout = {round(1000 * wait_s)}")
            db.execute("BEGIN IMMEDIATE")
            self._in_step = True
            try:
                yield db
                db.execute("COMMIT")
            except BaseException:
                # A full disk ends the transaction by itself.
                if db.in_transaction:
                    db.execute("ROLLBACK")
                raise
            finally:
                self._in_step = False

    def close(self) -> None:
        """Write what waits, keep a backup, close the file. A second time does nothing."""
        if self._closed:
            return
        # A take still being played stays unfinished, to be offered next time.
        self._made += [take.uid for take in self._playing]
        self._closed = True
        atexit.unregister(self.close)
        self._wake.set()
        if self._writer is not None:
            self._writer.join(timeout=5)
        until = time.monotonic() + 5 * RETRY_S
        while not self.flush() and time.monotonic() < until:
            time.sleep(RETRY_S / 5)
        if self._waiting:
            self._fall_back(files.LOCKED, TimeoutError("locked"))
            self.flush()
        if self.in_memory and self._playing:
            self._set_aside()
        self._coming.close()
        if self._tend_due:
            self._tend()
        with contextlib.suppress(*files.DATABASE_ERRORS):
            self.db.close()
