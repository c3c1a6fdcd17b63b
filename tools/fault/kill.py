"""Kill -9 at moments drawn by chance: while takes are played, in the window, and in everything that writes files.

After each kill the journal is opened again as the program would, and everything it promised is looked for.
"""

from __future__ import annotations

import contextlib
import json
import os
import random
import select
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from tools.fault import child, seeds
from tools.fault.table import Row, percentile
from trainer.app import main as command
from trainer.journal import files, rescue, schema
from trainer.journal.errors import JournalError
from trainer.journal.handover import hand_over, take_in
from trainer.journal.store import Journal
from trainer.journal.values import FINISHED, PLAYING
from trainer.listening.replay import read_take
from trainer.scores.reading import read

ROOT = Path(__file__).resolve().parents[2]
# What must be there is older than this.
PROMISED_S = 0.1
AT_ONCE = 2
PLAYED = ("play", "window", "busy")
# Of every forty moments.
SHARES = {"play": 10, "window": 6, "busy": 4, "export": 5, "merge": 5, "upgrade": 5, "restore": 3, "erase": 2}
WORDS = {
    "play": "killed while playing", "window": "killed in the window",
    "busy": "killed in a frame of 0.35 s", "export": "killed while exporting",
    "merge": "killed while merging", "upgrade": "killed while upgrading", "restore": "killed while restoring, rescuing",
    "erase": "killed while erasing",
}  # fmt: skip


def run(seed: int, count: int, quick: bool) -> list[Row]:
    """Kill at `count` moments."""
    dice = random.Random(seed)
    rows = {what: Row(words) for what, words in WORDS.items()}
    lags: dict[str, list[float]] = {what: [] for what in PLAYED}
    kinds = [what for what, part in SHARES.items() for _ in range(part)]
    chosen = list(SHARES)[:count] if quick else []
    chosen += [dice.choice(kinds) for _ in range(count - len(chosen))]
    moments = [(what, random.Random(f"{seed} {number}")) for number, what in enumerate(chosen)]
    with tempfile.TemporaryDirectory() as folder:
        start = _prepared(Path(folder))

        def one(moment: tuple[str, random.Random]) -> None:
            what, mine = moment
            with tempfile.TemporaryDirectory() as place:
                _kill_once(what, mine, start, Path(place), rows[what], lags.get(what, []))

        # What the commands print is put away once for all threads: they share one standard output.
        with open(os.devnull, "w") as hole, contextlib.redirect_stdout(hole), ThreadPoolExecutor(AT_ONCE) as pool:
            list(pool.map(one, moments))
    for what, found in lags.items():
        oldest, usual = max(found, default=0.0) * 1000, percentile(found, 50) * 1000
        rows[what].figures = f"oldest press lost {oldest:.0f} ms old, p50 {usual:.0f} ms"
    return [row for row in rows.values() if row.tried]


def _prepared(folder: Path) -> Path:
    """What the children start from: a journal of two players, another journal, a hand-over, exports."""
    with Journal(folder / "start.sqlite") as journal:
        seeds.takes(journal, 6, player=child.PLAYER)
        seeds.takes(journal, 3, player="Ben Frost")
    with Journal(folder / "other.sqlite") as journal:
        seeds.takes(journal, 20, player=child.PLAYER)
    with Journal(folder / "ben.sqlite") as journal:
        seeds.takes(journal, 5, player="Cleo Marsh")
        hand_over(journal, "Cleo Marsh", folder / "ben.handover")
    for tail in ("-backup",):
        for one in folder.glob(f"*{tail}.sqlite"):
            one.unlink()
    return folder


def _kill_once(what: str, dice: random.Random, start: Path, folder: Path, row: Row, lags: list[float]) -> None:
    for one in start.iterdir():
        if one.is_file():
            shutil.copyfile(one, folder / one.name)
    if what not in PLAYED:
        shutil.copyfile(folder / "start.sqlite", folder / files.NAME)
        files.back_up(folder / files.NAME)
    environment = {
        **os.environ, "KEYFARER_HOME": str(folder / "home"), "SDL_VIDEODRIVER": "dummy", "SDL_AUDIODRIVER": "dummy",
        "KEYFARER_MIDI": "none", "PYTHONPATH": str(ROOT),
    }  # fmt: skip
    words = [sys.executable, "-m", "tools.fault.child", what, str(folder)]
    program = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, cwd=folder, env=environment)
    assert program.stdout is not None
    said = b""
    until = time.monotonic() + 60
    # In the window the first press is waited for mostly: before it there is nothing to lose.
    wanted = 3 if what in ("window", "busy") and dice.random() < 0.8 else 1
    while said.count(b"\n") < wanted and time.monotonic() < until and program.poll() is None:
        if select.select([program.stdout], [], [], 0.5)[0]:
            said += os.read(program.stdout.fileno(), 65536)
    time.sleep(dice.uniform(0.0, 1.5))
    children = _children(program.pid)
    killed = time.monotonic()
    program.send_signal(signal.SIGKILL)
    program.wait()
    # Not to the end of the pipe: a second process left behind would hold it open.
    os.set_blocking(program.stdout.fileno(), False)
    while chunk := program.stdout.read(65536):
        said += chunk
    program.stdout.close()
    row.tried += 1
    try:
        _CHECKS[what](folder, said, killed, dice, lags)
        _gone(children)
    except (AssertionError, JournalError) as why:
        row.fail(f"{type(why).__name__}: {why}"[:300])


def _children(process: int) -> list[int]:
    with contextlib.suppress(OSError):
        return [int(n) for n in Path(f"/proc/{process}/task/{process}/children").read_text(encoding="utf-8").split()]
    return []


def _gone(processes: list[int]) -> None:
    """The second process of a killed program ends by itself."""
    until = time.monotonic() + 10
    left = processes
    while left and time.monotonic() < until:
        left = [n for n in left if _runs(n)]
        time.sleep(0.05)
    for number in left:
        os.kill(number, signal.SIGKILL)
    assert not left, "its second process went on running"


def _runs(process: int) -> bool:
    with contextlib.suppress(OSError):
        return Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rsplit(")", 1)[1].split()[0] != "Z"
    return False


def _sound(journal: Journal) -> None:
    """A journal that is whole, whose counts agree with its takes, and every take of which can be read."""
    assert journal.trouble == "", journal.trouble
    assert journal.ask("PRAGMA integrity_check") == [("ok",)], "damaged"
    rows = journal.takes(limit=10_000)
    counted = journal.ask("SELECT coalesce(sum(takes), 0) FROM daily")[0][0]
    assert counted == sum(row.state == FINISHED for row in rows), "the counts differ from the takes"
    for row in rows:
        kept = journal.take(row.id)
        assert (kept.settled is not None) == (row.state == FINISHED), "a finished take without its marks"
    halves = [one.name for one in journal.path.parent.iterdir() if ".part" in one.name and one.suffix == ".sqlite"]
    assert not halves, f"half a file has a whole one's name: {halves}"


def _played(folder: Path, said: bytes, killed: float, dice: random.Random, lags: list[float]) -> None:
    struck = [float(line.split()[1]) for line in said.decode().splitlines() if line[:1].isdigit() and " " in line]
    path = folder / files.NAME
    if not path.exists():
        assert not [at for at in struck if at < killed - PROMISED_S], "no journal"
        return
    with Journal(path, strict=True) as journal:
        _sound(journal)
        there = sum(len(journal.take(row.id).presses) for row in journal.takes(limit=1000))
        lost = struck[there:]
        lags.append(max((killed - at for at in lost), default=0.0))
        assert lags[-1] <= PROMISED_S, f"a press {lags[-1] * 1000:.0f} ms old was lost"
        unfinished = journal.unfinished()
        playing = [row for row in journal.takes(limit=1000) if row.state == PLAYING]
        assert [row.id for row in unfinished] == [row.id for row in playing], "a take cut off is not offered"
    for row in unfinished:
        way = dice.choice(("finish", "keep"))
        assert command(["journal", "--journal", str(path), way, str(row.id)]) == 0, f"cannot be {way}ed"
    with Journal(path, strict=True) as journal:
        _sound(journal)
        assert not journal.unfinished()


def _exported(folder: Path, said: bytes, killed: float, dice: random.Random, lags: list[float]) -> None:
    if (table := folder / "takes.csv").exists():
        lines = table.read_text(encoding="utf-8").splitlines()
        assert len(lines) == _presses(folder) + 1, "half a table"
    if (whole := folder / "takes.json").exists():
        assert len(json.loads(whole.read_text(encoding="utf-8"))["takes"]) == 9, "half an export"
    for take in folder.glob("midi/*.mid"):
        assert read_take(take), "half a take"
    for piece in folder.glob("midi/*.musicxml"):
        assert read(piece).notes, "half a piece"
    with Journal(folder / files.NAME, strict=True) as journal:
        _sound(journal)
        if (handed := folder / "ada.handover").exists():
            with Journal(folder / "teacher.sqlite", strict=True) as teacher:
                assert take_in(teacher, handed).fresh == 6, "half a hand-over"


def _presses(folder: Path) -> int:
    with Journal(folder / "start.sqlite", strict=True) as journal:
        return sum(len(journal.take(row.id).presses) for row in journal.takes(limit=100))


def _merged(folder: Path, said: bytes, killed: float, dice: random.Random, lags: list[float]) -> None:
    path = folder / files.NAME
    if not path.exists():
        return
    with Journal(path, strict=True) as journal:
        _sound(journal)
        assert len(journal.takes(limit=1000)) in (9, 29, 34), "half a merge"
        rescue.merge(journal.db, folder / "other.sqlite")
        take_in(journal, folder / "ben.handover")
        assert len(journal.takes(limit=1000)) == 34, "merging again does not mend it"
        _sound(journal)


def _upgraded(folder: Path, said: bytes, killed: float, dice: random.Random, lags: list[float]) -> None:
    """Opened here by the earlier version or, in a process of its own, by the later one."""
    path = folder / files.NAME
    if not path.exists():
        return
    found = _version(path)
    assert found in (schema.VERSION, schema.VERSION + 1), f"format {found}"
    for copy in folder.glob(f"journal-format{schema.VERSION}*.sqlite"):
        assert _version(copy) == schema.VERSION, "the copy kept is no copy"
    if found == schema.VERSION + 1:
        assert list(folder.glob(f"journal-format{schema.VERSION}*.sqlite")), "no copy was kept"
    program = (
        "import sys, pathlib; from tools.fault import child; from trainer.journal.store import Journal; child.later()\n"
        "journal = Journal(sys.argv[1], strict=True)\n"
        "assert journal.ask('PRAGMA integrity_check') == [('ok',)]\n"
        "assert len([journal.take(row.id) for row in journal.takes(limit=100)]) == 9\n"
        "assert all(len(room) > 8 for (room,) in journal.ask('SELECT room FROM take'))\n"
    )
    done = subprocess.run([sys.executable, "-c", program, str(path)], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr.strip().splitlines()[-1]


def _version(path: Path) -> int:
    import sqlite3

    with contextlib.closing(sqlite3.connect(path)) as db:
        return int(db.execute("PRAGMA user_version").fetchone()[0])


def _restored(folder: Path, said: bytes, killed: float, dice: random.Random, lags: list[float]) -> None:
    with Journal(folder / files.NAME) as journal:
        assert len(journal.takes(limit=100)) == 9, f"{len(journal.takes(limit=100))} takes of 9; {journal.trouble}"
    with Journal(folder / files.NAME, strict=True) as journal:
        _sound(journal)


def _erased(folder: Path, said: bytes, killed: float, dice: random.Random, lags: list[float]) -> None:
    """Erasing again finishes it: nothing of the player is in any file."""
    path = folder / files.NAME
    if path.exists():
        with Journal(path, strict=True) as journal:
            _sound(journal)
            known = journal.players()
        if "Ben Frost" in known:
            command(["journal", "--journal", str(path), "erase", "--player", "Ben Frost", "--yes"])
        for one in files.family(path):
            assert b"Ben Frost" not in one.read_bytes(), f"left in {one.name}"
    if files.family(path):
        command(["journal", "--journal", str(path), "erase", "--yes"])
    assert not files.family(path), f"left: {[one.name for one in files.family(path)]}"


_CHECKS: dict[str, Callable[[Path, bytes, float, random.Random, list[float]], None]] = {
    "play": _played, "window": _played, "busy": _played, "export": _exported, "merge": _merged, "upgrade": _upgraded,
    "restore": _restored, "erase": _erased,
}  # fmt: skip
