"""Journals kept as the program of their day wrote them; ``python -m tests.journal.frozen`` makes today's.

For each format there has been, ``format-N.sqlite`` holds takes of two invented players, finished, cut off and kept, and
``format-N.json`` what ``keyfarer journal export --json`` said of it then. They are never made again.
"""

from __future__ import annotations

import sqlite3
import sys
from contextlib import closing, redirect_stderr
from io import StringIO
from pathlib import Path

from tools.fault import seeds
from trainer.app import main as command
from trainer.journal import schema
from trainer.journal.store import Journal
from trainer.listening.press import Pedal, Press, Release
from trainer.music.transpose import plan
from trainer.session import Session

HERE = Path(__file__).parent
PLAYERS = ("Ada Winter", "Ben Frost")


def exported(path: Path) -> str:
    """Everything the journal says, as its own command exports it."""
    goal = path.with_suffix(".json")
    with redirect_stderr(StringIO()):
        assert command(["journal", "--journal", str(path), "export", "--json", "--out", str(goal)]) == 0
    return goal.read_text(encoding="utf-8")


def _slips(journal: Journal) -> None:
    """A take with a wrong key, a forgotten signature's worth of them, a skip, a pedal, help and a glimpse."""
    piece = seeds.shelf()[4]
    wish = plan(piece.key, "-m3")
    record = journal.begin(piece, wish, player=PLAYERS[0], mode="a tempo", tempo=72.0, help="do")
    session = Session(piece, wish, record=record)
    record.set_verse(2)
    at = 0.0
    for number, note in enumerate(session.expected.notes):
        at += 0.4 + 0.05 * (number % 3)
        if number in (5, 6):
            continue
        session.hear(Press(at, note.midi + (number % 7 == 3), 50 + number % 40))
        session.hear(Release(at + 0.3, note.midi + (number % 7 == 3)))
        if number == 4:
            session.hear(Pedal(at + 0.1, "sustain", 127))
            record.glimpse()
    session.finish()


def main() -> int:
    goal = HERE / f"format-{schema.VERSION}.sqlite"
    if goal.exists():
        print(f"{goal.name} is there and stays as it is.", file=sys.stderr)
        return 1
    with Journal(goal, strict=True) as journal:
        seeds.takes(journal, 3, player=PLAYERS[0])
        _slips(journal)
        seeds.takes(journal, 1, player=PLAYERS[1])
        seeds.takes(journal, 1, player=PLAYERS[1], finish=False)
        journal.flush()
        journal.keep(journal.takes(limit=1)[0].id)
        seeds.takes(journal, 1, player=PLAYERS[0], finish=False)
    with closing(sqlite3.connect(goal)) as db:
        db.execute("PRAGMA journal_mode = DELETE")
        db.execute("VACUUM")
    for left in HERE.glob(f"{goal.stem}-*"):
        left.unlink()
    exported(goal)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
