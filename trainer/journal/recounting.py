"""Counts and paces made by an earlier rule, made anew once.

Takes that lay altogether in another octave or key used to be counted note by note, and their time as time for right
notes; of a hand alone the other hand's notes used to shorten the way from note to note. A journal that holds such takes
is put right when it is opened first; which rules it follows is written in it.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Sequence

from trainer.journal import files, packing, rescue
from trainer.journal.counting import pace
from trainer.journal.filing import Sums
from trainer.journal.tally import PieceLabels
from trainer.journal.values import FINISHED
from trainer.music.piece import BOTH

_COUNTS, _PACES, _ASIDE = "elsewhere not counted", "pace of the hand alone", "time elsewhere apart"


def count_anew(db: sqlite3.Connection) -> None:
    """Make everything anew where an earlier rule made some of it; a second time does nothing.

    What the file does not allow now (another program writes it, the disk is full, a page is damaged) is left for
    another time.
    """
    with contextlib.suppress(*files.DATABASE_ERRORS):
        follows = {name for (name,) in db.execute("SELECT name FROM fact")}
        if not {_COUNTS, _PACES, _ASIDE} <= follows:
            _in_one_step(db, follows)


def _in_one_step(db: sqlite3.Connection, follows: set[str]) -> None:
    db.execute("BEGIN IMMEDIATE")
    try:
        if _PACES not in follows:
            _pace_anew(db)
        if not {_COUNTS, _ASIDE} <= follows and _holds_any(db):
            count_all(db)
        db.executemany("INSERT OR REPLACE INTO fact VALUES (?, 'yes')", [(_COUNTS,), (_PACES,), (_ASIDE,)])
        db.execute("COMMIT")
    except BaseException:
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise


def _pace_anew(db: sqlite3.Connection) -> None:
    """Quarters and pace of every take of a hand alone; what transposing cost stays, for both paces were short alike."""
    labels = _Labels(db)
    rows = db.execute(
        "SELECT id, piece, quarters, player, day, key FROM take WHERE state = ? AND hands <> ?", (FINISHED, BOTH)
    )
    for number, piece, before, *when in rows.fetchall():
        packed = db.execute("SELECT events, verdicts FROM playing WHERE take = ?", (number,)).fetchone()
        try:
            quarters, found = pace(labels.of(piece), packing.unpack_columns(*packed))
            more = quarters - before
        except rescue.GARBLED:  # such a take stays as it is
            continue
        if more:
            db.execute("UPDATE take SET quarters = ?, pace = ? WHERE id = ?", (quarters, found, number))
            of_day = "UPDATE daily SET quarters = quarters + ? WHERE player = ? AND day = ? AND key = ?"
            db.execute(of_day, (more, *when))


class _Labels:
    """The labels of the pieces of a journal, each made once."""

    def __init__(self, db: sqlite3.Connection) -> None:
        self._db = db
        self._made: dict[int, PieceLabels] = {}

    def of(self, piece: int) -> PieceLabels:
        if piece not in self._made:
            body = self._db.execute("SELECT body FROM piece WHERE id = ?", (piece,)).fetchone()
            self._made[piece] = PieceLabels(packing.unpack_piece(body[0]))
        return self._made[piece]


def _holds_any(db: sqlite3.Connection) -> bool:
    """Whether any take lay elsewhere; of those at least three notes in four are not right."""
    rows = db.execute(
        "SELECT verdicts FROM playing JOIN take ON take = id WHERE state = ? AND right * 2 <= played", (FINISHED,)
    )
    return any(_lay_elsewhere(verdicts) for (verdicts,) in rows)


def _lay_elsewhere(verdicts: bytes) -> bool:
    try:
        return packing.unpack_verdicts(verdicts)[1].shift != 0
    except rescue.GARBLED:
        return False


def count_all(db: sqlite3.Connection, players: Sequence[int] = ()) -> None:
    """Make every count, or those of some players, anew from the takes, inside the caller's transaction."""
    which = f"player IN ({', '.join('?' * len(players))})" if players else "1"
    for table in ("tally", "daily"):
        db.execute(f"DELETE FROM {table} WHERE {which}", players)
    sums, labels = Sums(), _Labels(db)
    sql = f"SELECT * FROM take JOIN playing ON take = id WHERE state = ? AND {which}"
    cursor = db.execute(sql, (FINISHED, *players))
    names = [column[0] for column in cursor.description]
    for row in cursor:
        values = dict(zip(names, row, strict=True))
        try:
            take = packing.unpack_columns(values["events"], values["verdicts"])
            sums.merged(values, labels.of(values["piece"]), take)
        except rescue.GARBLED:  # such a take adds nothing
            continue
    sums.write(db)
