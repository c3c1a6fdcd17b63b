"""Weeks of simulated practice through the whole house: today's list, session, marks, journal, coach.

    python tools/practice.py --days 60 --out journal.sqlite [--minutes 20] [--player Mira] [--seed 1]

A learner (see `tools.learner`) plays what the Desk asks for each day and gets better at each key by playing in it. The
journal that comes out is what the Keys screen and the pictures can be looked at with; nothing in it is anybody's.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tools.learner import BEGINNER, Profile, simulate
from trainer.coaching.path.cells import learn
from trainer.coaching.sight.fresh import piece_of
from trainer.coaching.sight.sighttest import TWO_MINUTES, SightTest, compose
from trainer.coaching.today.repertoire import Offer, offers
from trainer.coaching.today.schedule import SIGHT, WARM_UP, Suggestion, today
from trainer.journal.store import Journal
from trainer.journal.tally import canonical
from trainer.journal.values import PATTERN, PIECE
from trainer.journal.values import SIGHT as SIGHT_TAKE
from trainer.music.keys import Key
from trainer.music.piece import Piece
from trainer.music.transpose import plan, transposed
from trainer.scores.shelf import library
from trainer.session import PRIMA_VISTA, SENZA_MISURA, Session

TAKES_EACH = 2
# How much is learned: slips and the cost of time halve with so many takes in a key.
HALF_AFTER = 10.0


class Learner:
    """One who practises: how often each key was played, and so how well it goes."""

    def __init__(self, seed: int, at_first: Profile = BEGINNER, at_last: float = 0.1) -> None:
        self.played: Counter[str] = Counter()
        self._at_first = at_first
        self._at_last = at_last
        self._rng = random.Random(seed)

    def profile(self, key: Key, home: bool) -> Profile:
        """How they play in a key now; in the written key as after long practice."""
        left = 0.5 ** ((60 if home else self.played[canonical(key)]) / HALF_AFTER)
        worn = self._at_last + (1 - self._at_last) * left
        who = self._at_first
        rates = {name: getattr(who, name) * worn for name in ("slips", "missed", "extra", "repeated", "brushed")}
        moves = {name: getattr(who, name) * worn for name in ("back", "skip", "hesitates", "displaced")}
        return replace(
            who, **rates, **moves, speed=who.speed * (1.6 - 0.6 * worn), jitter=who.jitter * (0.5 + worn / 2)
        )

    def play(self, journal: Journal, player: str, piece: Piece, key: Key, began: datetime, **about: Any) -> int:
        """One take, marked and learned from; returns its number."""
        wish = plan(piece.key, key.short)
        hands = about.get("hands", "both")
        profile = replace(self.profile(key, key == piece.key), hands=hands)
        take = simulate(piece, transposed(piece, wish.interval), profile, self._rng.randrange(1 << 30))
        mode = PRIMA_VISTA if about.get("kind") == SIGHT_TAKE else SENZA_MISURA
        record = journal.begin(piece, wish, player=player, mode=mode, began=began, **about)
        session = Session(piece, wish, hands=hands, record=record)
        for press in take.presses:
            session.hear(press)
        session.finish()
        self.played[canonical(key)] += 1
        assert record.id is not None
        learn(journal, record.id, began)
        return record.id


def practise(
    journal: Journal, player: str, days: Sequence[datetime], minutes: float, seed: int, shelf: Sequence[Offer]
) -> Learner:
    """Every day's list played through."""
    learner = Learner(seed)
    for day in days:
        at = day
        for suggestion in today(journal, player, minutes, day, shelf=shelf):
            at = _played(learner, journal, player, suggestion, at)
    return learner


def _played(learner: Learner, journal: Journal, player: str, asked: Suggestion, at: datetime) -> datetime:
    if asked.kind == SIGHT:
        test = SightTest(journal, player, TWO_MINUTES, at)
        while (one := test.next()) is not None:
            item = one.item
            number = learner.play(
                journal, player, compose(one), item.target, at, hands=item.hands, kind=SIGHT_TAKE, help="none"
            )
            test.played(one, number)
            at += timedelta(minutes=1)
        return at
    piece = piece_of(asked, journal)
    if asked.kind == WARM_UP:
        learner.play(journal, player, piece, asked.key, at, kind=PATTERN)
        return at + timedelta(minutes=1)
    about = {"hands": asked.hands, "help": asked.help, "kind": PIECE}
    for _ in range(TAKES_EACH):
        learner.play(journal, player, piece, asked.key, at, **about)
        at += timedelta(minutes=1)
    return at


def main() -> int:
    parser = argparse.ArgumentParser(prog="practice.py", description="Weeks of simulated practice in one journal.")
    parser.add_argument("--days", type=int, default=60)
    parser.add_argument("--minutes", type=float, default=20.0)
    parser.add_argument("--player", default="Mira")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path, required=True, metavar="FILE")
    args = parser.parse_args()
    shelf = library.Shelf()
    shelf.refresh()
    evening = datetime.now().astimezone().replace(hour=18, minute=0, second=0, microsecond=0)
    days = [evening - timedelta(days=n) for n in range(args.days, 0, -1)]
    with Journal(args.out) as journal:
        learner = practise(journal, args.player, days, args.minutes, args.seed, offers(shelf.entries))
    print(f"{sum(learner.played.values())} takes of {args.player} on {len(days)} days, in {args.out}.")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
