"""Nothing goes out, nobody else reads it, and what is erased is gone.

Every command and the window run with the internet's sockets denied by the kernel (`tools.fault.offline`); a program
that asks for one is ended there and then, which is seen. What was erased is looked for byte by byte.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shutil
import signal
import sqlite3
import stat
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from tools.benches.window import screen
from tools.fault import offline, seeds
from tools.fault.table import Row
from tools.fault.wires import server
from tools.instruments import VirtualPiano
from trainer.app import COMMANDS
from trainer.app import main as command
from trainer.journal import files, schema
from trainer.journal.handover import hand_over
from trainer.journal.store import Journal
from trainer.listening.press import Press
from trainer.music.transpose import plan
from trainer.scores.shelf.library import bundled_folder
from trainer.session import Session

ROOT = Path(__file__).resolve().parents[2]
PLAYER, OTHER = "Ada Winter", "Ben Frost"
PIECE = "petzold-minuet-in-g"
# Every command, the journal's own among them; {} is a folder with a journal, {take} a recorded take.
DOES = (
    "mark PIECE {take} --to Eb --json", "look PIECE --json", "fingers PIECE --to F# --json",
    "suit PIECE --tessitura D4-D5 --json", "sheet PIECE --to Eb --answers --blank --syllables --out {}/work.pdf",
    "fresh --level pentachord --key G --seed 7 --out {}/fresh.musicxml", "ports",
    "shelf bring {}/fresh.musicxml", "shelf --json", "shelf take-off fresh", "shelf put-back fresh",
    "journal list", "journal show 1", "journal summary --json", "journal export --csv --out {}/takes.csv",
    "journal export --midi {}/midi", "journal picture circle --out {}/keys.svg",
    "journal hand-over --player 'Ada Winter' --out {}/ada.handover",
    "journal report --player 'Ada Winter' --out {}/r.pdf",
    "journal merge {}/other.sqlite", "journal restore --yes", "journal where", "journal erase --take 1 --yes",
    "journal erase --yes",
)  # fmt: skip
_RUN_ALL = """
import shlex, sys
from trainer.app import main
for line in sys.stdin.read().splitlines():
    print(line, file=sys.stderr, flush=True)
    if main(shlex.split(line)):
        sys.exit(f"failed: {line}")
"""
WAIT_S = 60.0


def run(seed: int, count: int, quick: bool) -> list[Row]:
    """All of it, the same whatever the seed."""
    return [_commands(), _window(), _modes(), _erased(count), _told()]


def _offline(folder: Path, *words: str) -> list[str]:
    """The words that run a program of ours without the internet, its data in `folder`."""
    return [sys.executable, "-m", "tools.fault.offline", "env", f"KEYFARER_HOME={folder}", sys.executable, *words]


def _denied(row: Row) -> bool:
    """Whether the kernel denies, shown by a program that asks: else nothing below would mean anything."""
    if not offline.can():
        row.figures = "only on Linux"
        return False
    ask = "import socket; socket.socket(socket.{})"
    for family, ended in (("AF_INET", True), ("AF_INET6", True), ("AF_UNIX", False)):
        words = [sys.executable, "-m", "tools.fault.offline", sys.executable, "-c", ask.format(family)]
        code = subprocess.run(words, cwd=ROOT, stderr=subprocess.DEVNULL).returncode
        row.check((code == -signal.SIGSYS) == ended, f"a program asking for {family} ends with {code}")
    return True


def _commands() -> Row:
    """Every command does its work."""
    row = Row("commands without the internet")
    if not _denied(row):
        return row
    named = {words.split()[0] for words in DOES}
    row.check(named == set(COMMANDS) - {"open"}, f"not tried: {set(COMMANDS) - named - {'open'}}")
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        with Journal(folder / files.NAME) as journal:
            seeds.takes(journal, 3, player=PLAYER)
        with Journal(folder / "other.sqlite") as journal:
            seeds.takes(journal, 2, player=OTHER)
        take = next((bundled_folder() / "takes").glob("*.mid"))
        lines = "\n".join(does.format(folder, take=take).replace("PIECE", PIECE) for does in DOES)
        done = subprocess.run(_offline(folder, "-c", _RUN_ALL), cwd=ROOT, input=lines, capture_output=True, text=True)
        row.tried += len(DOES)
        if done.returncode:
            row.fail(f"ended with {done.returncode}: {' / '.join(done.stderr.splitlines()[-3:])[:300]}")
        row.check(not files.family(folder / files.NAME), "the journal was not erased at the end")
    return row


def _window() -> Row:
    """The window on an X display, a piano on JACK: presses are heard and kept."""
    row = Row("window, X and JACK without the internet")
    if not (offline.can() and shutil.which("Xvfb") and shutil.which("jackd")):
        row.figures = "Xvfb and jackd are not installed"
        return row
    with tempfile.TemporaryDirectory() as place, screen() as display, server(Path(place) / "jack.log"):
        folder = Path(place) / "home"
        words = ["-m", "trainer", "open", PIECE, "--to", "Eb", "--size", "960x600"]
        environment = {**os.environ, "DISPLAY": display, "SDL_VIDEODRIVER": "x11", "SDL_AUDIODRIVER": "dummy"}
        piano = VirtualPiano("Quiet Piano")
        program = subprocess.Popen(_offline(folder, *words), cwd=ROOT, env=environment)
        end = time.monotonic() + WAIT_S
        while not _heard(folder) and program.poll() is None and time.monotonic() < end:
            piano.send(0x90, 63, 64)
            time.sleep(0.2)
            piano.send(0x80, 63, 0)
            time.sleep(0.3)
        row.check(program.poll() is None, f"the window ended with {program.returncode}")
        row.check(_heard(folder), "no press was kept")
        program.terminate()
        row.check(program.wait(WAIT_S) == 0, f"the window ended with {program.returncode}")
        piano.close()
    return row


def _heard(folder: Path) -> bool:
    path = folder / files.NAME
    if not path.exists():
        return False
    with Journal(path) as journal:
        return any(journal.take(row.id).presses for row in journal.takes())


def _modes() -> Row:
    """Whatever file of a journal is made, in whatever way, its owner alone may read it."""
    row = Row("files of a journal, readable by others")
    if os.name != "posix":
        row.figures = "only where files have modes"
        return row
    with tempfile.TemporaryDirectory() as place:
        before = os.umask(0)
        try:
            path = Path(place) / "new" / files.NAME
            with Journal(path) as journal:
                seeds.takes(journal, 2)
                seeds.takes(journal, 1, finish=False)
                files.back_up(path)
                _private(row, path)
                row.check(not stat.S_IMODE(path.parent.stat().st_mode) & 0o077, "its folder is open to others")
                row.check(Path(f"{path}-wal").exists(), "no log was looked at")
            files.restore(path)
            path.write_bytes(path.read_bytes()[:8192] + b"\xff" * 20_000)
            path.chmod(0o644)
            Journal(path).close()
            row.check(any("-damaged" in one.name for one in files.family(path)), "no damaged journal was kept")
            _private(row, path)
            with contextlib.closing(sqlite3.connect(path)) as db:
                db.execute(f"PRAGMA user_version = {schema.VERSION + 1}")
            with Journal(path) as journal:
                seeds.takes(journal, 1)
            row.check(any("-aside" in one.name for one in files.family(path)), "no take was set aside")
            _private(row, path)
        finally:
            os.umask(before)
    return row


def _private(row: Row, path: Path) -> None:
    for one in files.family(path):
        mode = stat.S_IMODE(one.stat().st_mode)
        row.check(not mode & 0o077, f"{one.name} has mode {mode:o}")


def _erased(count: int) -> Row:
    """A player, then a take: no byte of name, piece or take is left in any file, log and backup included."""
    row = Row("erased, looked for in every byte")
    with tempfile.TemporaryDirectory() as place:
        folder, path = Path(place), Path(place) / files.NAME
        for number in range(max(1, count)):
            name = f"Wilhelmine Unmistakable {number}"
            with Journal(path) as journal:
                seeds.takes(journal, 2, player=PLAYER)
                _unlike(journal, name)
                uids = _uids(journal, name)
                hand_over(journal, name, folder / "elsewhere.handover")
                files.back_up(path)
                # Another connection stays open, as a second copy of the program would keep it, and its log with it.
                with contextlib.closing(sqlite3.connect(path)) as second:
                    second.execute("SELECT count(*) FROM take").fetchone()
                    row.check(_anywhere(path, [name, *uids]), "it was not there before")
                    _quietly("erase", "--player", name, "--yes", path=path)
                    row.check(not _anywhere(path, [name, *uids, "A piece of hers"]), f"{name} is still there")
            with Journal(path) as journal:
                _unlike(journal, PLAYER)
                (uid,) = _uids(journal, PLAYER, "LIMIT 1")
                last = journal.takes(limit=1)[0].id
            _quietly("erase", "--take", str(last), "--yes", path=path)
            row.check(not _anywhere(path, [uid, "A piece of hers"]), "the take is still there")
        _quietly("erase", "--yes", path=path)
        row.check(not files.family(path), "files are left")
    return row


def _unlike(journal: Journal, player: str) -> None:
    """A take of a piece nobody else plays."""
    piece = replace(seeds.shelf()[2], title="A piece of hers")
    wish = plan(piece.key, "+2")
    session = Session(piece, wish, record=journal.begin(piece, wish, player=player))
    for at, note in enumerate(session.expected.notes[:12]):
        session.hear(Press(float(at), note.midi))
    session.finish()


def _uids(journal: Journal, player: str, more: str = "") -> list[str]:
    sql = f"SELECT t.uid FROM take t JOIN player p ON p.id = t.player WHERE p.name = ? ORDER BY t.id DESC {more}"
    return [uid for (uid,) in journal.ask(sql, (player,))]


def _anywhere(path: Path, words: list[str]) -> bool:
    held = b"".join(one.read_bytes() for one in files.family(path))
    return any(word.encode() in held for word in words)


def _quietly(*words: str, path: Path) -> str:
    """A command of the journal; what it said on both ways."""
    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
        code = command(["journal", "--journal", str(path), *words])
    assert code == 0, said.getvalue()
    return said.getvalue()


def _told() -> Row:
    """Every export names how many takes of whom it holds, and what of them."""
    row = Row("exports that say what they hold")
    with tempfile.TemporaryDirectory() as place:
        folder, path = Path(place), Path(place) / files.NAME
        with Journal(path) as journal:
            seeds.takes(journal, 3, player=PLAYER)
            seeds.takes(journal, 1, player=OTHER)
        for words in (["--csv", "--out", str(folder / "a")], ["--json", "--out", str(folder / "b")],
                      ["--midi", str(folder / "c")]):  # fmt: skip
            said = _quietly("export", *words, path=path)
            row.check(re.search(rf"4 takes of {PLAYER}, {OTHER}, every key press", said), said)
        said = _quietly("--player", OTHER, "hand-over", "--out", str(folder / "d.handover"), path=path)
        row.check(OTHER in said and re.search(r"\b1 take\b", said) and PLAYER not in said, said)
    return row
