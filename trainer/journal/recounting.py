"""Counts made by an earlier rule, made anew once.

Takes that lay altogether in another octave or key used to be counted note by note. A journal that holds such takes is
counted anew when it is opened first; which rule its counts follow is written in it.
"""

from __future__ import annotations

import contextlib
import sqlite3

from trainer.journal import files, packing, rescue
from trainer.journal.filing import Sums
from trainer.journal.tally import PieceLabels
from trainer.journal.values import FINISHED

_RULE = "elsewhere not counted"


def count_anew(db: sqlite3.Connection) -> None:
    """Make every count anew where an earlier rule made some of them; a second time does nothing.

    What the file does not allow now (another program writes it, the disk is full, a page is damaged) is left for
    another time.
    """
    with contextlib.suppress(*files.DATABASE_ERRORS):
        if not db.execute("SELECT 1 FROM fact WHERE name = ?", (_RULE,)).fetchone():
            _in_one_step(db)


def _in_one_step(db: sqlite3.Connection) -> None:
    db.execute("BEGIN IMMEDIATE")
    try:
        if _holds_any(db):
            count_all(db)
        db.execute("INSERT OR REPLACE INTO fact VALUES (?, 'yes')", (_RULE,))
        db.execute("COMMIT")
    except BaseException:
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise


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


def count_all(db: sqlite3.Connection) -> None:
    """Make every count anew from the takes, inside the caller's transaction."""
    db.execute("DELETE FROM tally")
    db.execute("DELETE FROM daily")
    sums, labels = Sums(), dict[int, PieceLabels]()
    cursor = db.execute("SELECT * FROM take JOIN playing ON take = id WHERE state = ?", (FINISHED,))
    names = [column[0] for column in cursor.description]
    for row in cursor:
        values = dict(zip(names, row, strict=True))
        piece = values["piece"]
        try:
            if piece not in labels:
                body = db.execute("SELECT body FROM piece WHERE id = ?", (piece,)).fetchone()
                labels[piece] = PieceLabels(packing.unpack_piece(body[0]))
            sums.merged(values, labels[piece], packing.unpack_columns(values["events"], values["verdicts"]))
        except rescue.GARBLED:  # such a take adds nothing
            continue
    sums.write(db)
