"""Journals of every format: an earlier one opens and moves up in one step with a copy kept, a newer one is refused."""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from pathlib import Path

from tools.fault import child, seeds
from tools.fault.table import Row
from trainer.app import main as command
from trainer.journal import files, rescue, schema
from trainer.journal.errors import JournalError
from trainer.journal.store import Journal

KEPT = Path(__file__).resolve().parents[2] / "tests" / "journal"
# A change of tables that fails half way, at the second take: no two may have one name.
BROKEN = "ALTER TABLE take ADD COLUMN half TEXT; UPDATE take SET uid = 'the same'"


def run(seed: int, count: int, quick: bool) -> list[Row]:
    """Every earlier format there has been, and one later than this program, with `count` takes where it is today's."""
    earlier, broken, newer, foreign = (
        Row("earlier format"),
        Row("upgrade that fails"),
        Row("newer format"),
        Row("no journal"),
    )
    for known in range(1, schema.VERSION + 1):
        _earlier(earlier, known, count)
    _broken(broken, count)
    _newer(newer, count)
    _foreign(foreign)
    earlier.figures = f"formats 1 to {schema.VERSION}, each opened by a program one format later"
    return [earlier, broken, newer, foreign]


@contextlib.contextmanager
def _later(step: str) -> Iterator[None]:
    """This process as a version with one more change of tables."""
    kept = schema.STEPS, schema.VERSION
    schema.STEPS = (*schema.STEPS, step)  # type: ignore[assignment]
    schema.VERSION = len(schema.STEPS)
    try:
        yield
    finally:
        schema.STEPS, schema.VERSION = kept


def _earlier(row: Row, known: int, count: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / files.NAME
        if known < schema.VERSION:
            # Only the program of its day writes it: one kept from then.
            shutil.copyfile(KEPT / f"format-{known}.sqlite", path)
            count = len(_rows(path)) - 2
        else:
            with Journal(path, strict=True) as journal:
                seeds.takes(journal, count)
                seeds.takes(journal, 1, finish=False)
        before = _rows(path)
        with _later(child.STEP):
            with Journal(path, strict=True) as journal:
                row.check(not journal.trouble, journal.trouble)
                row.check(journal.ask("PRAGMA user_version")[0][0] == schema.VERSION, "not upgraded")
                row.check(all(journal.take(one.id).presses for one in journal.takes(limit=1000)), "a take is not read")
                row.check(len(journal.unfinished()) == 1, "a take cut off is not offered any more")
                row.check(journal.ask("PRAGMA integrity_check") == [("ok",)], "damaged")
            with Journal(path, strict=True) as journal:
                row.check(len(journal.takes(limit=1000)) == count + 1, "takes are missing the second time")
        copies = list(path.parent.glob(f"journal-format{known}*.sqlite"))
        row.check(len(copies) == 1, f"{len(copies)} copies kept")
        row.check(bool(copies) and _rows(copies[0]) == before, "the copy differs")
        with _later(child.STEP), Journal(Path(folder) / "fresh.sqlite", strict=True) as journal:
            row.check(rescue.merge(journal.db, copies[0]) == count + 1, "the copy does not merge into the new format")


def _rows(path: Path) -> list[tuple[object, ...]]:
    with contextlib.closing(sqlite3.connect(path)) as db:
        version = db.execute("PRAGMA user_version").fetchone()
        return [version, *db.execute("SELECT uid, began, state FROM take ORDER BY id")]


def _broken(row: Row, count: int) -> None:
    """All of a step or nothing: one that fails leaves the journal as it was, and playing goes on."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / files.NAME
        with Journal(path, strict=True) as journal:
            seeds.takes(journal, count)
        before = _rows(path)
        with _later(BROKEN):
            try:
                Journal(path, strict=True).close()
                row.check(False, "the failing step was not noticed")
            except JournalError as why:
                row.check(str(why).endswith(".") and "\n" not in str(why), f"said: {why}")
            with Journal(path) as journal:
                row.check(journal.trouble.endswith("."), "nothing was said")
                seeds.takes(journal, 1)
        row.check(_rows(path) == before, "half an upgrade")
        with Journal(path, strict=True) as journal:
            row.check(len(journal.takes(limit=1000)) == count, "takes are missing")


def _newer(row: Row, count: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / files.NAME
        with _later(child.STEP), Journal(path, strict=True) as journal:
            seeds.takes(journal, count)
        before = path.read_bytes()
        for words in (["list"], ["summary"], ["restore"], ["export", "--csv"], ["merge", str(path)]):
            with contextlib.redirect_stderr(open(os.devnull, "w")):
                row.check(command(["journal", "--journal", str(path), *words]) == 2, f"{words[0]} does not refuse")
        with Journal(path) as journal:
            row.check("newer Keyfarer" in journal.trouble and journal.trouble.endswith("."), f"said: {journal.trouble}")
            seeds.takes(journal, 1)
            row.check(journal.aside is not None and journal.aside.exists(), "the take was not set aside")
        row.check(path.read_bytes() == before, "a newer journal was changed")


def _foreign(row: Row) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / files.NAME
        with contextlib.closing(sqlite3.connect(path)) as db:
            db.execute("CREATE TABLE holiday (day)")
        before = path.read_bytes()
        with Journal(path) as journal:
            row.check("another program" in journal.trouble, f"said: {journal.trouble}")
        row.check(path.read_bytes() == before, "another program's file was changed")
