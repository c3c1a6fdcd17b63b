"""No room, no right to write, another copy at work, damage: what is said, what goes on, what is kept.

A disk of one megabyte is a tmpfs where that may be mounted; otherwise a limit on the size of files stands for it.
"""

from __future__ import annotations

import contextlib
import os
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from tools.fault import mutate, seeds
from tools.fault.table import Row
from trainer.app import main as command
from trainer.journal import files, rescue
from trainer.journal.comingback import take_back
from trainer.journal.errors import JournalError
from trainer.journal.store import Journal
from trainer.journal.values import FINISHED
from trainer.listening.press import Press
from trainer.music.transpose import plan
from trainer.session import Session

ROOT = Path(__file__).resolve().parents[2]
PLAYER = "Ada Winter"
NOBODY = 65534


def run(seed: int, count: int, quick: bool) -> list[Row]:
    """Every trouble once or a few times, and `count` wounds to a journal."""
    rows = [_full(2 if quick else 10), _read_only(), _locked(), _half_written(), *_wounds(seed, count), _restored()]
    return [row for row in rows if row.tried]


@contextlib.contextmanager
def _small_disk(folder: Path, kilobytes: int) -> Iterator[Path | None]:
    """A disk of that size; None where none can be mounted."""
    place = folder / "small"
    place.mkdir()
    words = ["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k,mode=700", "tmpfs", str(place)]
    if not shutil.which("mount") or subprocess.run(words, capture_output=True).returncode:
        yield None
        return
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], capture_output=True)


def _full(times: int) -> Row:
    """Takes until nothing more fits; then room is made, and what was set aside is taken in."""
    row = Row("disk full")
    for number in range(times):
        with tempfile.TemporaryDirectory() as folder, _small_disk(Path(folder), 400 + 60 * number) as disk:
            if disk is None:
                row.figures = "no small disk can be mounted here: needs root"
                return row
            path = disk / files.NAME
            played = 0
            journal = Journal(path)
            while played < 400 and (not journal.trouble or played % 5):
                seeds.takes(journal, 1, player=PLAYER)
                played += 1
            _sentence(row, journal.trouble, "full")
            row.check(len(journal.takes(limit=1000)) == played, "a take is not shown")
            row.check(journal.aside is not None and journal.aside.exists(), "nothing was set aside")
            aside = journal.aside
            journal.close()
            for spare in disk.glob("journal-backup*"):
                spare.unlink()
            subprocess.run(["mount", "-o", "remount,size=20m", str(disk)], capture_output=True)
            with Journal(path) as again:
                row.check(again.trouble == "", f"afterwards: {again.trouble}")
                take_back(again)
                row.check(aside is None or not aside.exists(), "the file of takes set aside is still there")
                found = len(again.takes(limit=1000))
                row.check(found == played, f"{found} of {played} takes are there")
                row.check(again.ask("PRAGMA integrity_check") == [("ok",)], "damaged")
    row.figures = "all takes there afterwards"
    return row


def _sentence(row: Row, said: str, word: str) -> None:
    """What the player reads: it names the trouble, in lines without a traceback."""
    row.check(word in said and said.endswith(".") and "\n" not in said, f"said: {said!r}")


def _read_only() -> Row:
    """A folder that may be read only, by somebody who is not its owner."""
    row = Row("folder read-only")
    program = (
        f"import os, sys; sys.path.insert(0, {str(ROOT)!r})\n"
        "from tools.fault import seeds; from trainer.journal.store import Journal; from pathlib import Path\n"
        "seeds.shelf()\n"
        f"if os.geteuid() == 0: os.setgid({NOBODY}); os.setuid({NOBODY})\n"
        "journal = Journal(sys.argv[1])\n"
        "seeds.takes(journal, 3)\n"
        "print(journal.trouble); print(len(journal.takes(limit=99)), journal.aside)\n"
        "journal.close()\n"
    )
    with tempfile.TemporaryDirectory() as folder, tempfile.TemporaryDirectory() as home:
        path = Path(folder) / files.NAME
        with Journal(path) as journal:
            seeds.takes(journal, 2)
        for one in files.family(path):
            one.chmod(0o644)
        Path(folder).chmod(0o555)
        Path(home).chmod(0o777)
        environment = {**os.environ, "HOME": home, "TMPDIR": home, "KEYFARER_HOME": home}
        done = subprocess.run(
            [sys.executable, "-c", program, str(path)], capture_output=True, text=True, env=environment
        )
        said, _, rest = done.stdout.partition("\n")
        row.check(done.returncode == 0, done.stderr.strip()[-200:])
        _sentence(row, said, "cannot be written")
        row.check(rest.split(" ")[0] == "5", f"takes shown: {rest[:40]}")
        aside = list(Path(home).rglob("*aside*.sqlite"))
        row.check(len(aside) == 1, "nothing was set aside")
        Path(folder).chmod(0o755)
        with Journal(path) as journal:
            row.check(bool(aside) and rescue.merge(journal.db, aside[0]) == 3, "what was set aside is not taken in")
            row.check(len(journal.takes(limit=99)) == 5 and not journal.trouble, "takes are missing")
    return row


def _locked() -> Row:
    """A second copy holds the journal: in the middle of a take, and for good."""
    row = Row("locked by a second copy")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / files.NAME
        with Journal(path) as journal:
            seeds.takes(journal, 1, player=PLAYER)
            with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as other:
                other.execute("BEGIN IMMEDIATE")
                seeds.takes(journal, 1, player=PLAYER)
                _sentence(row, journal.trouble, "another copy")
                other.execute("ROLLBACK")
            row.check(journal.flush() and not journal.trouble, f"still: {journal.trouble}")
            row.check(len(journal.takes()) == 2, "a take was lost")
        with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as other:
            other.execute("BEGIN EXCLUSIVE")
            journal = Journal(path)
            seeds.takes(journal, 2, player="Ben Frost")
            row.check(journal.trouble != "", "nothing was said")
            aside_then = journal
            aside_then.close()
            other.execute("ROLLBACK")
        with Journal(path) as again:
            if aside_then.aside:
                rescue.merge(again.db, aside_then.aside)
            row.check(len(again.takes()) == 4, f"{len(again.takes())} of 4 takes")
        with Journal(path) as one, Journal(path) as other_copy:
            for _ in range(5):
                seeds.takes(one, 1, player=PLAYER)
                seeds.takes(other_copy, 1, player=PLAYER)
            row.check(len(one.takes(limit=99)) == 14, "two copies at once lose takes")
            row.check(not one.trouble and not other_copy.trouble, one.trouble or other_copy.trouble)
    return row


def _half_written() -> Row:
    """Writing over a good file where there is no room: the good one stays."""
    row = Row("no room for an export, a hand-over, a picture")
    with tempfile.TemporaryDirectory() as folder, _small_disk(Path(folder), 64) as disk:
        if disk is None:
            row.figures = "no small disk can be mounted here: needs root"
            return row
        path = Path(folder) / files.NAME
        with Journal(path) as journal:
            seeds.takes(journal, 60, player=PLAYER)
        words = ["journal", "--journal", str(path), "--player", PLAYER]
        for name, rest in {
            "a.csv": ["export", "--csv", "--out"], "a.json": ["export", "--json", "--out"],
            "a.handover": ["hand-over", "--all", "--out"], "a.png": ["picture", "circle", "--out"],
            "a.html": ["report", "--since", "2020-01-01", "--out"],
        }.items():  # fmt: skip
            good = disk / name
            good.write_bytes(b"good")
            (disk / "ballast").write_bytes(b"\0" * 57_000)
            said = _refusal([*words, *rest, str(good)])
            row.check(good.read_bytes() == b"good", f"{name}: a good file was lost")
            row.check(said.endswith(".\n") and said.count("\n") == 1, f"{name}: {said!r}")
            left = [one.name for one in disk.iterdir() if one.name not in ("ballast", name)]
            row.check(not left, f"{name}: left {left}")
            good.unlink()
    return row


def _refusal(words: list[str]) -> str:
    done = subprocess.run([sys.executable, "-m", "trainer", *words], capture_output=True, text=True, cwd=ROOT)
    return done.stderr if done.returncode == 2 else f"exit {done.returncode}: {(done.stdout + done.stderr)[-300:]}"


def _wounds(seed: int, count: int) -> list[Row]:
    """A journal cut off, or with bits the other way round; opened, played on, the damaged file kept."""
    rows = [
        Row("journal cut off"),
        Row("journal with flipped bits"),
        Row("journal with a page of noise"),
        Row("log damaged"),
    ]
    saved: dict[str, list[float]] = {row.what: [] for row in rows}
    dice = random.Random(seed)
    with tempfile.TemporaryDirectory() as folder:
        whole = Path(folder) / "whole" / files.NAME
        live = _with_log(whole.parent)
        takes = 12
        for number in range(count):
            row = rows[number % len(rows)]
            place = Path(folder) / str(number)
            shutil.copytree(whole.parent, place)
            path = place / files.NAME
            _wound(path, row.what, dice)
            found = _borne(row, path)
            if found is not None:
                saved[row.what].append(found / takes)
            shutil.rmtree(place)
        live.close()
    for row in rows:
        shares = saved[row.what]
        if shares:
            row.figures = f"{sum(shares) / len(shares):.0%} of the takes in view on average, backup a third old"
    return rows


def _with_log(folder: Path) -> sqlite3.Connection:
    """A journal of twelve takes: four in the backup, eight in the file, twelve with its log, which a reader keeps."""
    path = folder / files.NAME
    with Journal(path) as journal:
        seeds.takes(journal, 4, player=PLAYER)
        journal.flush()
        files.back_up(path)
        seeds.takes(journal, 4, player=PLAYER)
    live = files.connect(path)
    live.execute("BEGIN")
    live.execute("SELECT count(*) FROM take").fetchone()
    with Journal(path) as journal:
        seeds.takes(journal, 4, player=PLAYER)
    return live


def _wound(path: Path, what: str, dice: random.Random) -> None:
    goal = Path(f"{path}-wal") if what == "log damaged" else path
    data = goal.read_bytes()
    if what == "journal cut off":
        data = mutate.cut(data, random.Random(dice.random()))[: max(1, len(data) - 1)] or b"\0"
    elif what == "journal with a page of noise":
        at = dice.randrange(len(data) // 4096) * 4096
        data = data[:at] + dice.randbytes(4096) + data[at + 4096 :]
    else:
        for _ in range(dice.choice((1, 3, 20, 100))):
            data = mutate.flipped(data, dice)
    goal.write_bytes(data)


def _borne(row: Row, path: Path) -> int | None:
    """Open it, play on, close it, look again; gives how many of the old takes can be read."""
    row.tried += 1
    before = path.read_bytes()
    try:
        with Journal(path) as journal:
            said = journal.trouble
            _play_on(journal)
            old = sum(_readable(journal, take.id) for take in journal.takes(PLAYER, limit=100))
        if said:
            assert said.endswith("."), f"said: {said!r}"
            assert "\n" not in said, f"said: {said!r}"
            kept = [one for one in path.parent.glob("journal-damaged*.sqlite") if one.stat().st_size >= len(before)]
            assert kept, "the damaged file was not kept"
        with Journal(path) as journal:
            assert not journal.trouble, f"again: {journal.trouble}"
            rows = journal.takes("Ben Frost")
            assert [one.state for one in rows] == [FINISHED], "the take played afterwards is not there"
            assert _readable(journal, rows[0].id), "the take played afterwards cannot be read"
        return old
    except (AssertionError, JournalError) as why:
        row.fail(f"{type(why).__name__}: {why}"[:200])
    except Exception as why:  # a traceback for the player
        import traceback

        at = [f for f in traceback.extract_tb(why.__traceback__) if "/trainer/" in f.filename][-1]
        row.fail(f"{type(why).__name__}: {why} in {Path(at.filename).name}:{at.lineno}"[:200])
    return None


def _play_on(journal: Journal) -> None:
    piece = seeds.shelf()[0]
    wish = plan(piece.key, "+2")
    session = Session(piece, wish, record=journal.begin(piece, wish, player="Ben Frost"))
    for note in session.expected.notes:
        session.hear(Press(float(note.onset), note.midi))
    session.finish()


def _readable(journal: Journal, number: int) -> bool:
    try:
        return bool(journal.take(number).presses)
    except (JournalError, ValueError, KeyError, TypeError, IndexError):
        return False


def _restored() -> Row:
    """The backup put back by one command; what stood there is kept and can be merged."""
    row = Row("backup restored by a command")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / files.NAME
        with Journal(path) as journal:
            seeds.takes(journal, 3, player=PLAYER)
        files.back_up(path)
        with Journal(path) as journal:
            seeds.takes(journal, 2, player=PLAYER)
        with contextlib.redirect_stdout(open(os.devnull, "w")):
            row.check(command(["journal", "--journal", str(path), "restore", "--yes"]) == 0, "refused")
            with Journal(path) as journal:
                row.check(len(journal.takes()) == 3, "not the backup's takes")
            (kept,) = path.parent.glob("journal-replaced*.sqlite")
            row.check(command(["journal", "--journal", str(path), "merge", str(kept)]) == 0, "refused")
        with Journal(path) as journal:
            row.check(len(journal.takes()) == 5, "newer takes are lost")
    return row
