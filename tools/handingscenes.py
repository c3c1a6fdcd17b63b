"""What a teacher sees: the studio; files that have come, one whose player is asked for, none."""

from __future__ import annotations

import random
import tempfile
from datetime import date, datetime, timedelta
from pathlib import Path

from tools import studio
from trainer import folders
from trainer.coaching.work.assignments import Assignment, add
from trainer.following.marks import SIGNATURE
from trainer.journal.handover import hand_over
from trainer.journal.store import Journal
from trainer.music.transpose import plan
from trainer.scores.reading import read
from trainer.scores.shelf.library import find
from trainer.window.house.house import House
from trainer.window.studio.handingpage import HandingPage


def _own(house: House) -> None:
    """A journal for this scene alone: nobody of another is among its students."""
    house.journal_at = str(Path(tempfile.mkdtemp(dir=folders.data())) / "journal.sqlite")
    house.open_journal()


def _played(journal: Journal, player: str, takes: int) -> None:
    piece = read(find("aura-lee"))
    for ago in range(takes):
        studio.play(journal, player, piece, plan(piece.key, "Eb"), random.Random(ago), 0.1, SIGNATURE,
                    datetime.now().astimezone() - timedelta(days=ago))  # fmt: skip


def empty(house: House) -> None:
    """A first time: nothing played, set or come."""
    _own(house)
    house.go("handing")
    # What other scenes handed over lies in the same folder.
    page(house).rows = []


def come(house: House) -> None:
    """A teacher's: two students' takes, one of them by a name that is not known, and one file that is broken."""
    _own(house)
    assert house.journal is not None
    for player in (house.player, "Ada Winter"):
        _played(house.journal, player, 3)
    by = date.today() + timedelta(days=7)
    add(house.journal_file.parent, Assignment("aura-lee", "Aura Lee", ("Eb",), (house.player,), by=by))
    folders.sheets().mkdir(parents=True, exist_ok=True)
    for player, takes in (("Ben Holm", 4), ("Ada", 2)):
        home = house.journal_file.parent / f"home of {player}"
        with Journal(home / "journal.sqlite", strict=True) as journal:
            _played(journal, player, takes)
            hand_over(journal, player, folders.sheets() / f"{player} {date.today()}.handover")
    (folders.sheets() / "half.handover").write_bytes(b"keyfarer hand-over 1\n")
    house.go("handing")
    page(house).take_all()


def asking(house: House) -> None:
    """The question who somebody is."""
    come(house)
    page(house).ask(next(row for row in page(house).rows if row.come.ask))


def taken(house: House) -> None:
    """Takes that were taken in, chosen."""
    come(house)
    page(house).chosen = next(at for at, row in enumerate(page(house).rows) if row.taken is not None)


def changing(house: House) -> None:
    """The question whose they are after all."""
    taken(house)
    page(house).change()


def alone(house: House) -> None:
    """A studio of one."""
    _own(house)
    house.go("studio")


def everybody(house: House) -> None:
    """Eleven students: diligent, late, away, yet to begin."""
    _own(house)
    assert house.journal is not None
    names = studio.names(11)
    late = date.today() - timedelta(days=1)
    for at, name in enumerate(names[:10]):
        piece = read(find("aura-lee"))
        for ago in range(9 if at == 4 else at % 3, 12, 1 + at % 4):
            studio.play(house.journal, name, piece, plan(piece.key, "Eb"), random.Random(at), 0.06, SIGNATURE,
                        datetime.now().astimezone() - timedelta(days=ago))  # fmt: skip
    for at, name in enumerate(names):
        for title in ("Aura Lee", "Lightly Row (Hänschen klein)")[: 1 + at % 2]:
            stem = "aura-lee" if title == "Aura Lee" else "lightly-row"
            by = late if at % 3 == 1 else date.today() + timedelta(days=3)
            add(house.journal_file.parent, Assignment(stem, title, ("Eb",), (name,), help="do", by=by))
    house.go("studio")


def page(house: House) -> HandingPage:
    """The screen in front."""
    assert isinstance(house.screen, HandingPage)
    return house.screen
