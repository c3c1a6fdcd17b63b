"""An invented player with weeks of practice behind her: what the Keys and Singer screens are drawn and tested with.

The takes are written as a session would have marked them, not simulated press by press (`tools.practice` does that, and
takes minutes), so that a picture or a test has its journal within two seconds.
"""

from __future__ import annotations

import random
import tempfile
from collections.abc import Sequence
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path

from tools.studio import play
from trainer.coaching.path.cells import learn
from trainer.coaching.sight.sighttest import TWO_MINUTES, SightTest, compose
from trainer.coaching.singers import setlist
from trainer.following.marks import SIGNATURE
from trainer.journal import files
from trainer.journal.store import Journal
from trainer.journal.values import SIGHT
from trainer.music.piece import Piece
from trainer.music.solfege import HELPS
from trainer.music.transpose import plan
from trainer.scores.reading import read
from trainer.scores.shelf.library import find
from trainer.session import PRIMA_VISTA

PLAYER = "Mira Holm"
WEEKS = 12
# What is practised, the week it begins, and the keys in the order they are opened, one more every other time.
COURSE = (
    ("three-bells", 0, ("C", "G", "D", "A", "E", "Bb", "Eb", "Ab", "Db", "B", "F#")),
    ("grey-rain", 2, ("a", "e", "g", "c", "b", "f")),
    ("go-tell-aunt-rhody", 3, ("F", "G", "D", "Bb", "A", "Eb", "E")),
    ("luo-shui-tian", 6, ("d", "e", "g", "c")),
    ("au-clair-de-la-lune", 7, ("G", "D", "C")),
)
SONGS = (("aura-lee", "A", 9), ("greensleeves", "e", 5), ("lightly-row", "G", 1))
# Slips fall by a third with every time a key is played.
_WORSE, _BETTER = 0.16, 0.72


class _Practice:
    """Takes of one player, each with what the coach learns from it."""

    def __init__(self, journal: Journal, seed: int) -> None:
        self.journal = journal
        self._draw = random.Random(seed)
        self._times: dict[tuple[str, str], int] = {}
        self._pieces: dict[str, Piece] = {}

    def take(self, name: str, key: str, at: datetime, home: bool = False) -> None:
        piece = self._pieces.setdefault(name, read(find(name)))
        times = 8 if home else self._times.get((name, key), 0)
        self._times[name, key] = times + 1
        slips = _WORSE * _BETTER**times * self._draw.uniform(0.6, 1.2) + 0.005
        self._played(piece, key if not home else "+0", slips, at, help=HELPS[min(times // 3, 2)])

    def _played(self, piece: Piece, key: str, slips: float, at: datetime, **about: object) -> int:
        play(self.journal, PLAYER, piece, plan(piece.key, key), self._draw, slips, SIGNATURE, at, **about)
        number = self.journal.takes(PLAYER, 1)[0].id
        learn(self.journal, number, at)
        return number

    def at_sight(self, at: datetime, week: int) -> None:
        """A short test at sight, better from week to week."""
        test = SightTest(self.journal, PLAYER, TWO_MINUTES, at)
        while (one := test.next()) is not None:
            slips = 0.30 * 0.87**week * self._draw.uniform(0.8, 1.25)
            number = self._played(compose(one), one.item.target.short, slips, at, kind=SIGHT, mode=PRIMA_VISTA)
            test.played(one, number)


def practise(journal: Journal, end: datetime, weeks: int = WEEKS, seed: int = 4) -> None:
    """Weeks of practice up to yesterday, three days in each."""
    practice = _Practice(journal, seed)
    for week in range(weeks):
        for day in range(0, 6, 2):
            at = end - timedelta(days=7 * (weeks - week) - day)
            for name, begins, keys in COURSE:
                if begins <= week:
                    _one_day(practice, name, keys[: 1 + (3 * (week - begins) + day // 2) // 2], at)
            if day == 4:
                practice.at_sight(at, week)
    for name, key, takes in SONGS:
        for number in range(takes):
            practice.take(name, key, end - timedelta(days=takes - number))


def _one_day(practice: _Practice, name: str, keys: Sequence[str], at: datetime) -> None:
    """The piece as written, then in the two keys opened last and in one from before."""
    practice.take(name, "", at, home=True)
    older = keys[at.toordinal() % len(keys)]
    for key in dict.fromkeys((*keys[-2:], older)):
        practice.take(name, key, at)


def prepare(end: datetime | None = None) -> None:
    """Fill the journal where it usually lies with the invented player and her concert; once."""
    moment = end or datetime.now().astimezone().replace(hour=18, minute=0, second=0, microsecond=0)
    place = files.where()
    if not place.exists():
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(_filled(moment))
    else:
        with Journal(place) as journal:
            if PLAYER in journal.players():
                return
            practise(journal, moment)
    setlist.save(place.parent, setlist.demo(moment.date() - timedelta(days=23)))


@cache
def _filled(end: datetime) -> bytes:
    """Her journal as one file: a run of the tests opens it in many homes."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / files.NAME
        with Journal(place) as journal:
            practise(journal, end)
        return place.read_bytes()
