"""What is killed: a program doing one thing over and over, or playing, until it is stopped from outside.

``python -m tools.fault.child WHAT FOLDER`` prints ``ready`` when it has begun, and for what is played one line a press:
its number and the steady clock when it was struck.
"""

from __future__ import annotations

import os
import shutil
import sys
import time
from collections.abc import Callable
from pathlib import Path
from queue import SimpleQueue
from typing import Any

from tools.fault import seeds
from trainer.app import main as command
from trainer.journal import files, schema
from trainer.journal.store import Journal
from trainer.listening.press import Press
from trainer.music.transpose import plan
from trainer.session import Session

# A later format that does not exist yet: enough work that a kill can hit the middle of it.
STEP = """
ALTER TABLE take ADD COLUMN room TEXT NOT NULL DEFAULT 'home';
CREATE TABLE moved AS SELECT * FROM playing;
UPDATE take SET room = coalesce((SELECT hex(events) FROM playing WHERE playing.take = take.id), 'none');
CREATE INDEX take_by_room ON take (room);
DROP TABLE moved
"""
PLAYER = "Ada Winter"


def say(words: str) -> None:
    os.write(1, f"{words}\n".encode())


def play(folder: Path) -> None:
    """Live takes without a window, heard as it hears them: a press every few milliseconds, a take every few dozen."""
    journal = Journal(folder / files.NAME)
    say("ready")
    number = 0
    while True:
        piece = seeds.shelf()[number % 5]
        wish = plan(piece.key, "+3")
        session = Session(piece, wish, record=journal.begin(piece, wish, player=PLAYER))
        for note in session.expected.notes[:40]:
            press = Press(float(note.onset), note.midi)
            say(f"{number} {time.monotonic()}")
            # As a port's thread does: however late the thread that writes comes to it, the press is noted.
            journal.coming(press, press)
            session.hear(press)
            journal.dealt_with(press)
            number += 1
            time.sleep(0.004)
        session.finish()


class _Heard(SimpleQueue[Any]):
    """The way by which recorded presses reach the window; tells when each was struck."""

    number = 0

    def put(self, item: Any, *_: Any, **__: Any) -> None:
        super().put(item)
        if isinstance(item[0], Press):
            say(f"{_Heard.number} {time.monotonic()}")
            _Heard.number += 1


def window(folder: Path) -> None:
    """The real window, a recorded take playing itself four times as fast."""
    import trainer.window.house.house as house

    house.SimpleQueue = _Heard  # type: ignore[attr-defined]
    take = next((Path(__file__).parents[2] / "exercises" / "takes").glob("*.mid"))
    say("ready")
    words = ["open", "petzold-minuet-in-g", "--to", "Eb", "--replay", str(take), "--speed", "4", "--size", "960x600"]
    command([*words, "--journal", str(folder / files.NAME), "--player", PLAYER])


def busy(folder: Path) -> None:
    """The same on a machine that has no time: every frame takes a third of a second."""
    import trainer.window.house.house as house

    draw = house.House.draw

    def slowly(self: house.House) -> None:
        draw(self)
        time.sleep(0.35)

    house.House.draw = slowly  # type: ignore[method-assign]
    window(folder)


def export(folder: Path) -> None:
    """The journal for other programs, again and again over the last one."""
    words = ["journal", "--journal", str(folder / files.NAME), "export"]
    _quiet()
    say("ready")
    while True:
        command([*words, "--csv", "--out", str(folder / "takes.csv")])
        command([*words, "--json", "--out", str(folder / "takes.json")])
        command([*words, "--midi", str(folder / "midi")])
        command(["journal", "--journal", str(folder / files.NAME), "--player", PLAYER, "hand-over", "--all", "--out",
                 str(folder / "ada.handover")])  # fmt: skip


def merge(folder: Path) -> None:
    """Another journal and a hand-over taken in, into a fresh journal each time."""
    _quiet()
    say("ready")
    while True:
        _begin_anew(folder)
        words = ["journal", "--journal", str(folder / files.NAME), "merge"]
        command([*words, str(folder / "other.sqlite")])
        command([*words, str(folder / "ben.handover")])


def upgrade(folder: Path) -> None:
    """A journal of the format before, opened by a program that knows a newer one."""
    later()
    say("ready")
    while True:
        _begin_anew(folder)
        Journal(folder / files.NAME, strict=True).close()


def restore(folder: Path) -> None:
    """The backup put back, a damaged journal rescued, and a backup made, in turn."""
    _quiet()
    say("ready")
    path = folder / files.NAME
    while True:
        command(["journal", "--journal", str(path), "restore"])
        with open(path, "r+b") as file:
            file.seek(100)
            file.write(b"\xff" * 4000)
        Journal(path).close()
        files.back_up(path)
        for one in files.family(path):
            if "-damaged" in one.name or "-replaced" in one.name:
                one.unlink()


def erase(folder: Path) -> None:
    """One player erased, then everything."""
    _quiet()
    say("ready")
    path = folder / files.NAME
    while True:
        _begin_anew(folder)
        files.back_up(path)
        command(["journal", "--journal", str(path), "erase", "--player", "Ben Frost", "--yes"])
        command(["journal", "--journal", str(path), "erase", "--yes"])


def _begin_anew(folder: Path) -> None:
    """The journal as it was at the start, there as a whole or not at all."""
    for one in files.family(folder / files.NAME):
        one.unlink()
    shutil.copyfile(folder / "start.sqlite", folder / "copying")
    os.replace(folder / "copying", folder / files.NAME)


def later() -> None:
    """Make this process one of a later version."""
    schema.STEPS = (*schema.STEPS, STEP)  # type: ignore[assignment]
    schema.VERSION = len(schema.STEPS)


def _quiet() -> None:
    """What the commands print is of no interest here; only `say` is heard."""
    sys.stdout = open(os.devnull, "w")  # noqa: SIM115


WHAT: dict[str, Callable[[Path], None]] = {
    "play": play, "window": window, "busy": busy, "export": export, "merge": merge, "upgrade": upgrade,
    "restore": restore, "erase": erase,
}  # fmt: skip

if __name__ == "__main__":
    WHAT[sys.argv[1]](Path(sys.argv[2]))
