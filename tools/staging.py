"""A screen set up without a display: a home of its own, a piece on the Stand, a take played on it.

What the pictures of every screen and the tests of the window begin with.
"""

# ruff: noqa: E402 (the project's folder and the drivers must be known before its rooms are imported)
from __future__ import annotations

import contextlib
import os
import pathlib
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from typing import Any
from unittest.mock import patch

ROOT = pathlib.Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))
os.environ["SDL_VIDEODRIVER"] = os.environ["SDL_AUDIODRIVER"] = "dummy"

from tools.lending import lend
from trainer import folders
from trainer.listening.clock import now
from trainer.listening.press import Press, Release
from trainer.listening.replay import read_take
from trainer.music.transpose import plan
from trainer.scores.reading import read
from trainer.scores.shelf.library import bundled_folder, find
from trainer.window.desk.desk import Desk
from trainer.window.house.house import House
from trainer.window.stand.stand import Stand
from trainer.window.wish import Wish, written_tempo


@contextlib.contextmanager
def home() -> Iterator[None]:
    """A data folder of its own for as long as pictures are drawn; the cache of engravings is kept where it is."""
    with tempfile.TemporaryDirectory() as folder:
        lend(folders.cache(), pathlib.Path(folder))
        before = os.environ.get("KEYFARER_HOME")
        os.environ["KEYFARER_HOME"] = folder
        try:
            # What lies among somebody's downloads comes into no picture.
            with patch.multiple(
                folders, downloads=lambda: pathlib.Path(folder, "downloads"),
                desktop=lambda: pathlib.Path(folder, "desktop"),
            ):  # fmt: skip
                yield
        finally:
            if before is None:
                del os.environ["KEYFARER_HOME"]
            else:
                os.environ["KEYFARER_HOME"] = before


def first_desk(house: House) -> None:
    """The Desk of somebody who has not played yet."""
    house.open_journal()
    house.show(house.screen_of(Desk))


def stand_of(house: House, name: str, to: str, **wish: Any) -> Stand:
    """The Stand with a piece on it."""
    piece = read(find(name))
    stand = house.screen_of(Stand)
    stand.play(replace(Wish(piece, plan(piece.key, to), tempo=written_tempo(piece)), **wish))
    house.draw()
    return stand


def play(house: House, share: float = 1.0) -> None:
    """Play the bundled take on the stand, as far as `share` of it."""
    events = read_take(bundled_folder() / "takes" / "petzold-minuet-in-e-flat.mid")
    for event in events[: round(len(events) * share)]:
        house.hear(event, now())


def slips(house: House, stand: Stand) -> None:
    """Play a piece with one slip of every kind a teacher marks."""
    assert stand.practice is not None
    wish = stand.practice.wish
    for index, note in enumerate(wish.expected.notes[:44]):
        at = float(note.onset) * 0.75 + (1.6 if index >= 24 else 0.0)
        pitch = note.midi
        if index == 3:
            pitch = wish.piece.notes[index].midi
        elif index in (8, 32):
            pitch += {-1: 1, 0: 0, 1: -1}[note.pitch.alteration] or 1
        elif index == 12:
            pitch += 12
        elif index == 16:
            pitch -= 2
        elif index == 28:
            pitch += 6
        elif index == 20:
            continue
        house.hear(Press(at, pitch, 64), now())
        if index == 24:
            house.hear(Press(at + 0.3, pitch, 64), now())
        if index < 42:
            house.hear(Release(at + 0.4, pitch), now())
    stand.practice.measure()
