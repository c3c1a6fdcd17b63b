"""Takes for the journal's tests: played by rule, with the marks they deserve."""

from __future__ import annotations

import contextlib
import re
import sqlite3
from collections.abc import Iterator, Mapping
from typing import Any

from tests.music.tunes import tune
from trainer.following.marks import RIGHT, SIGNATURE, Mark, Settled
from trainer.journal.store import Journal
from trainer.journal.take import Take
from trainer.listening.press import Pedal, Press, Release
from trainer.music.piece import Piece
from trainer.music.transpose import plan, transposed
from trainer.session import Summary

SCALE = tune("C", "C4 D4 E4 F4 G4 F4 E4 D4 C4 D4 E4 F4 G4 E4 C4 C4")


def play(
    journal: Journal,
    to: str = "Eb",
    *,
    piece: Piece = SCALE,
    slips: Mapping[int, str] | None = None,
    beat: float = 0.5,
    late: Mapping[int, float] | None = None,
    finish: bool = True,
    **about: Any,
) -> Take:
    """Play a piece evenly.

    `slips` are causes by note (a semitone too high, a forgotten sign left off), `late` factors on the way to a note.
    """
    wish = plan(piece.key, to)
    take = journal.begin(piece, wish, **about)
    expected = transposed(piece, wish.interval)
    marks = []
    at = 1.0
    for index, note in enumerate(expected.notes):
        cause = (slips or {}).get(index, RIGHT)
        at += beat * (late or {}).get(index, 1.0)
        offset = 0 if cause == RIGHT else 1
        if cause == SIGNATURE and note.pitch.alteration:
            offset = -note.pitch.alteration
        marks.append(Mark(index, index, cause, 1.0 if cause == RIGHT else 0.75, (), offset))
        if cause == SIGNATURE:
            marks[-1] = Mark(index, index, cause, 0.75, (("step", 0.25),), offset)
        take.press(Press(at, note.midi + offset, 60 + index), marks[-1])
        take.other(Release(at + 0.4 * beat, note.midi + offset))
    take.other(Pedal(at + 1, "sustain", 127))
    if finish:
        right = sum(mark.cause == RIGHT for mark in marks)
        seconds = at - (1.0 + beat * (late or {}).get(0, 1.0))
        figures = Summary(right, len(marks), len(marks), right / len(marks), 60 / beat, seconds)
        take.finish(Settled(tuple(marks), (), ()), figures)
    return take


def seized(*_: object) -> None:
    """In place of what writes to the journal while another program is at it."""
    why = sqlite3.OperationalError("database is locked")
    why.sqlite_errorcode = sqlite3.SQLITE_BUSY
    raise why


@contextlib.contextmanager
def patience(journal: Journal) -> Iterator[list[float]]:
    """The seconds for which each step of a journal meanwhile is ready to wait for another program at the file."""
    waits: list[float] = []

    def asked(statement: str) -> None:
        if found := re.fullmatch(r"PRAGMA busy_timeout = (\d+)", statement):
            waits.append(int(found[1]) / 1000)

    journal.db.set_trace_callback(asked)
    try:
        yield waits
    finally:
        journal.db.set_trace_callback(None)
