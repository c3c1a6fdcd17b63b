"""A process that reads files as the program would and watches itself: time, memory, what it opens and what it runs.

``python -m tools.fault.reader FOLDER`` takes one line ``KIND<tab>NAME`` at a time and answers with one line of JSON.
"""

from __future__ import annotations

import contextlib
import importlib
import json
import os
import resource
import shutil
import sys
import time
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tools.fault import seeds
from trainer.journal.errors import JournalError
from trainer.music.pitch import MusicError
from trainer.refusal import CannotDo

MEMORY_LIMIT = 3 * 2**30
_RUNS = {
    "pickle.find_class", "subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "os.spawn", "os.fork",
    "socket.connect", "socket.bind", "socket.getaddrinfo", "socket.sendto", "urllib.Request", "webbrowser.open",
}  # fmt: skip
_CHANGES = {
    "os.remove",
    "os.rename",
    "os.rmdir",
    "os.mkdir",
    "os.link",
    "os.symlink",
    "os.truncate",
    "os.chmod",
    "shutil.move",
}
_HOMES = tuple(str(Path(place).resolve()) for place in (sys.prefix, sys.base_prefix, Path(__file__).parents[2]))


class Watch:
    """What the interpreter did that no reading of a file may do: run code, reach the network, write elsewhere."""

    def __init__(self, inside: Path) -> None:
        self._inside = str(inside.resolve())
        self.seen: list[str] = []
        self.on = False
        sys.addaudithook(self._hear)

    def _hear(self, event: str, given: tuple[Any, ...]) -> None:
        if not self.on:
            return
        if event in _RUNS:
            self.seen.append(event)
        elif event == "open":
            path, mode, flags = given
            writes = (
                any(c in mode for c in "wax+") if mode else int(flags or 0) & (os.O_WRONLY | os.O_RDWR | os.O_CREAT)
            )
            if writes:
                self._place(event, path)
        elif event in _CHANGES:
            for path in given[:2] if event in ("os.rename", "os.link", "shutil.move") else given[:1]:
                self._place(event, os.path.dirname(os.path.abspath(os.fsdecode(path))))
        elif event == "sqlite3.connect":
            self._place(event, str(given[0]).removeprefix("file://").split("?")[0])
        elif event == "exec" and not str(getattr(given[0], "co_filename", "")).startswith((*_HOMES, "<frozen")):
            self.seen.append(f"exec {getattr(given[0], 'co_filename', given[0])}")

    def _place(self, event: str, path: object) -> None:
        if isinstance(path, int) or str(path) in (":memory:", "", os.devnull):
            return
        if not os.path.realpath(os.fsdecode(path)).startswith(self._inside):  # type: ignore[arg-type]
            self.seen.append(f"{event} {path!r}")


def music(place: Path) -> float:
    """Read a piece, then play its first notes in another key, as a player would; gives when reading was over."""
    from trainer.listening.press import Press
    from trainer.music.compass import level
    from trainer.music.transpose import plan
    from trainer.scores.reading import read
    from trainer.scores.shelf.library import describe
    from trainer.session import Session

    piece = read(place)
    over = time.process_time()
    assert piece.notes, "a piece without notes"
    assert piece.bars, "a piece without bars"
    assert all(0 <= note.midi <= 127 and note.onset >= 0 and note.length >= 0 for note in piece.notes), (
        "impossible notes"
    )
    assert 1 <= piece.tempo <= 1000, f"a tempo of {piece.tempo}"
    assert level(piece)
    assert not describe(str(place)).fault, "read, but not on the shelf"
    session = Session(piece, plan(piece.key, "+2"))
    for note in session.expected.notes[:8]:
        assert session.hear(Press(float(note.onset), min(127, note.midi))) is not None
    session.finish()
    return over


def take(place: Path) -> None:
    from trainer.listening.press import Press
    from trainer.listening.replay import read_take

    events = read_take(place)
    assert all(event.at >= 0 for event in events), "before the beginning"
    assert all(0 <= event.pitch <= 127 for event in events if isinstance(event, Press)), "impossible keys"


def toml(place: Path) -> None:
    """The same text as set list, assignments, corrections and path: one of the four may take it."""
    from trainer.coaching.own import corrections
    from trainer.coaching.path import path
    from trainer.coaching.singers import setlist
    from trainer.coaching.work import assignments

    folder = place.parent / "toml"
    folder.mkdir(exist_ok=True)
    refusal: MusicError | None = None
    for room in (assignments, setlist, corrections, path):
        goal = folder / room.FILE
        goal.unlink(missing_ok=True)
        os.symlink(place, goal)
        try:
            room.load(folder, seeds.shelf()[0]) if room is corrections else room.load(folder)
        except MusicError as why:
            _sentence(str(why))
            refusal = why
        goal.unlink()
    if refusal is not None:
        raise refusal


def settings(place: Path) -> None:
    from trainer import folders
    from trainer.window import settings as kept

    goal = folders.settings() / "settings.json"
    goal.unlink(missing_ok=True)
    os.symlink(place, goal)
    kept.load()
    goal.unlink()


class Journals:
    """A journal that hand-overs and other journals are read into; made anew now and then."""

    def __init__(self, folder: Path) -> None:
        from trainer.journal.store import Journal

        self._path = folder / "journal.sqlite"
        self._journal = Journal(self._path, strict=True)
        seeds.takes(self._journal, 1, player="Teacher")
        self._used = 0

    def hand_over(self, place: Path) -> None:
        from trainer.journal.handover import take_in

        self._check(lambda: take_in(self._journal, place, name=f"Student {self._used}"))

    def merge(self, place: Path) -> None:
        from trainer.journal import rescue

        self._check(lambda: rescue.merge(self._journal.db, place))

    def _check(self, act: Callable[[], object]) -> None:
        """Whatever was read, the journal stays whole and every take in it can be read."""
        self._used += 1
        refused = True
        try:
            act()
            refused = False
        finally:
            journal = self._journal
            assert not journal.db.in_transaction, "left in the middle"
            assert journal.ask("PRAGMA quick_check(1)") == [("ok",)]
            rows = journal.takes(limit=1000)
            assert any(row.player == "Teacher" for row in rows), "a take was lost"
            if not refused:
                for row in rows:
                    with contextlib.suppress(JournalError, MusicError):
                        journal.take(row.id)
            if len(rows) > 1:
                journal.db.execute("DELETE FROM take WHERE player <> 1")
                journal.db.execute("DELETE FROM player WHERE id <> 1")


def _sentence(text: str) -> None:
    """What is said to a player: one line, ended, of a length that can be read."""
    assert "\n" not in text, f"more than a line: {text[:80]!r}"
    assert text.endswith((".", "!", "?")), f"no sentence: {text[-60:]!r}"
    assert 10 < len(text) <= 500, f"{len(text)} characters: {text[:80]!r}"
    assert "Traceback" not in text


def pace() -> float:
    """Seconds of processor time for a piece of work that is always the same: other programs slow a machine's cores."""

    def work() -> float:
        began = time.process_time()
        sum(at * at for at in range(20_000))
        return time.process_time() - began

    return min(work() for _ in range(2))


def _peak() -> float:
    """The most memory since it was last asked to forget, in megabytes."""
    for line in Path("/proc/self/status").read_text(encoding="utf-8").splitlines():
        if line.startswith("VmHWM"):
            return int(line.split()[1]) / 1000
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000


def _forget_peak() -> None:
    with contextlib.suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5")


class Room:
    """Where files are read, one after the other, and watched.

    Parameters
    ----------
    folder : Path
        The data folder's parent; nothing may be written elsewhere.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        journals = Journals(folder / "home")
        self._ways: dict[str, Callable[[Path], float | None]] = {
            seeds.TAKE: take, seeds.TOML: toml, seeds.SETTINGS: settings, seeds.HAND_OVER: journals.hand_over,
            seeds.JOURNAL: journals.merge,
        }  # fmt: skip
        self._watch = Watch(folder)
        # What was read before is kept there: without it everything is read, and imported, anew.
        shutil.rmtree(folder / "home" / "cache", ignore_errors=True)
        # Asked for only where work names a piece that is not there.
        importlib.import_module("trainer.scores.shelf.books")
        for kind in seeds.KINDS:
            # What is imported late is imported now, so that only reading is measured and watched.
            place = folder / "warm"
            place.write_bytes(seeds.of_kind(kind)[0])
            with contextlib.suppress(MusicError):
                self._ways.get(kind, music)(place)
        self._fastest = min(pace() for _ in range(40))

    def read(self, kind: str, place: Path) -> dict[str, Any]:
        """Read one file; gives seconds, peak of memory in MB, what was said, and what was bad about it."""
        self._fastest = min(self._fastest, pace())
        _forget_peak()
        self._watch.seen.clear()
        began = time.process_time()
        said, bad = "", ""
        over: float | None = None
        self._watch.on = True
        try:
            over = self._ways.get(kind, music)(place)
        except (MusicError, CannotDo, JournalError) as refusal:
            said = str(refusal)
        except AssertionError as why:
            bad = f"wrong: {why}"
        except BaseException as why:  # what a player would see as a traceback
            frame = traceback.extract_tb(why.__traceback__)[-1]
            ours = [f for f in traceback.extract_tb(why.__traceback__) if "/trainer/" in f.filename][-1:]
            at = "".join(f" from {Path(f.filename).name}:{f.lineno}" for f in ours)
            bad = f"{type(why).__name__}: {str(why)[:100]!r} in {Path(frame.filename).name}:{frame.lineno}{at}"
        self._watch.on = False
        seconds = (over or time.process_time()) - began
        if said:
            try:
                _sentence(said)
            except AssertionError as why:
                bad = f"badly said: {why}"
        if self._watch.seen:
            bad = f"did what it must not: {self._watch.seen[:3]}"
        return {"seconds": seconds * self._fastest / pace(), "peak": _peak(), "said": said[:300], "bad": bad}


def limited() -> None:
    """Bound this process's memory, and let it leave no core behind."""
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_LIMIT, MEMORY_LIMIT))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def main() -> int:
    folder = Path(sys.argv[1])
    limited()
    room = Room(folder)
    print("ready", flush=True)
    for line in sys.stdin:
        kind, name = line.rstrip("\n").split("\t")
        print(json.dumps(room.read(kind, folder / name)), flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
