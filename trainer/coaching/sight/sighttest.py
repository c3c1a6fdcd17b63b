"""The prima vista test: a short look, one take, no help, a fresh piece each time; what it says when it is over.

It begins with a baseline in the written key, so that the cost of transposing is measured against a matched piece: same
level, hands, length and tempo, another seed. Thirty seconds to look, silence on the keys, is common practice in
sight-reading examinations.

A reading is played in time, so transposing costs notes and not seconds: its cost is the time a right note took in the
target key over the time it took in the baseline. Minutes are those of the music at its tempo, or of the playing where
it took longer: whoever stops after three notes is not quick.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from random import Random

from trainer.coaching.path.cells import Cell, cells
from trainer.coaching.path.path import FREE, HOLDING, OPENING
from trainer.coaching.sight.fresh import composed, next_seed
from trainer.coaching.sight.sight import PRIOR_SPREAD, TEMPI, Answer, Item, Rating, choose, estimate
from trainer.coaching.sight.sightwords import reach
from trainer.coaching.today.schedule import page_key
from trainer.journal.store import Journal
from trainer.journal.take import EPOCH_ORDINAL
from trainer.journal.tally import canonical
from trainer.journal.values import FINISHED
from trainer.music.compass import TRICHORD
from trainer.music.keys import Key
from trainer.music.piece import RIGHT, Piece

LOOK_S = 30.0
# A reading is counted in by a bar of four.
COUNT_IN = 4
# So many keys of the readings before are passed over while there are others: one key alone would become a piece of
# practice, and the others would never be read (ours).
KEYS_BETWEEN = 4
# Whose reading is not known yet is asked for no more than a walking pace (ours).
UNKNOWN_TEMPO = 63


@dataclass(frozen=True, slots=True)
class Form:
    """How long a test is: seconds in all, bars of each piece, most items (the baseline is the first)."""

    name: str
    seconds: float
    bars: int
    items: int


FIVE_MINUTES = Form("five minutes", 300.0, 8, 4)
TWO_MINUTES = Form("two minutes", 120.0, 4, 2)


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading of a test, to be composed and played: what it is, its seed, seconds to look, and whether it is the
    baseline in the written key."""

    item: Item
    seed: int
    baseline: bool
    look_s: float = LOOK_S

    @property
    def seconds(self) -> float:
        """Look, count-in and music, in 4/4."""
        return self.look_s + (COUNT_IN + 4 * self.item.bars) * 60.0 / self.item.tempo

    @property
    def music_minutes(self) -> float:
        """Of the music alone."""
        return 4 * self.item.bars / self.item.tempo


@dataclass(frozen=True, slots=True)
class Result:
    """What a test says.

    Parameters
    ----------
    per_minute : float or None
        Notes right a minute, transposing readings together.
    accuracy : float or None
        Of the same.
    cost : float or None
        Time a right note took in the target keys over the time it took in the baseline, for equal music.
    rating, before : Rating
    """

    per_minute: float | None
    accuracy: float | None
    cost: float | None
    rating: Rating
    before: Rating

    @property
    def words(self) -> str:
        """The result in a few sentences."""
        if self.per_minute is None or self.accuracy is None:
            return "Nothing was played in another key, so there is no result."
        said = f"{self.per_minute:.0f} notes right a minute, {self.accuracy:.0%} right."
        if self.cost is not None:
            said += f" A right note took {self.cost:.1f} times as long as in the written key."
        return f"{said} {reach(self.rating)}"


class SightTest:
    """One test, reading by reading: `next`, play it, `played` (or `silent`), until `next` is None.

    Parameters
    ----------
    form : Form
    """

    def __init__(self, journal: Journal, player: str, form: Form = FIVE_MINUTES, now: datetime | None = None) -> None:
        self._journal = journal
        self._player = player
        self._form = form
        self._now = now or datetime.now().astimezone()
        # Of every draw.
        self._seed = next_seed(journal)
        self._rng = Random(self._seed)
        self.before = rating_of(journal, player, self._now)
        self.rating = self.before
        self._keys = _keys(list(cells(journal, player).values()))
        self._lately = _lately(journal, player)
        self._done: list[tuple[Reading, int | None]] = []
        self._spent = 0.0
        self._baseline_rate = 0.0
        self._base: Item | None = None

    def next(self) -> Reading | None:
        """What to read now; None when the test is over."""
        if len(self._done) >= self._form.items:
            return None
        if self._base is None:
            chosen = choose(self._rested(self._items()), self.rating, self._rng)
            self._base = chosen
            reading = self._reading(replace(chosen, target=chosen.written), baseline=True)
        else:
            reading = self._reading(self._telling(self._base), baseline=False)
        if self._spent + reading.seconds > self._form.seconds:
            return None
        return reading

    def _telling(self, base: Item) -> Item:
        """Matched to the baseline in everything but the target key, which is the one that tells most."""
        done = {reading.item.target for reading, _ in self._done}
        targets = (item.target for item in self._items() if item.level == base.level)
        # In the mode of the page, which transposing keeps, and not as the page stands.
        matched = [
            replace(base, target=key) for key in targets if key.mode == base.written.mode and key != base.written
        ]
        fresh = [item for item in matched if item.target not in done]
        return choose(self._rested(fresh or matched), self.rating, self._rng)

    def _rested(self, items: list[Item]) -> list[Item]:
        """Those in keys that were not read lately; where all were, those read longest ago."""
        for many in range(len(self._lately), 0, -1):
            if found := [item for item in items if canonical(item.target) not in self._lately[:many]]:
                return found
        return items

    def _items(self) -> list[Item]:
        room = self._form.seconds / self._form.items
        unknown = self.before.spread >= PRIOR_SPREAD
        found = []
        for level, hands, key in self._keys:
            for tempo in TEMPI:
                if unknown and tempo > UNKNOWN_TEMPO:
                    continue
                if LOOK_S + (COUNT_IN + 4 * self._form.bars) * 60.0 / tempo <= room:
                    found.append(Item(level, hands, page_key(key), key, float(tempo), self._form.bars))
        return found

    def _reading(self, item: Item, *, baseline: bool) -> Reading:
        return Reading(item, self._seed + len(self._done) + 1, baseline)

    def silent(self, reading: Reading) -> None:
        """Nothing was played of a reading: it says nothing of the player, and the test goes on."""
        self._done.append((reading, None))
        self._spent += reading.seconds

    def played(self, reading: Reading, number: int) -> None:
        """A reading was played: take `number` of the journal. Transposing ones move the rating."""
        row = self._journal.row(number)
        self._done.append((reading, number))
        self._spent += reading.seconds
        if row.state != FINISHED or row.right is None or row.played is None or row.missed is None:
            return
        answer = Answer(reading.item.difficulty, row.right, row.played + row.missed)
        if not reading.baseline:
            self.rating = estimate([answer], self.rating)
        minutes = max((row.seconds or 0.0) / 60.0, reading.music_minutes)
        rate, cost = answer.right / minutes, None
        if reading.baseline:
            self._baseline_rate = rate
        elif rate and self._baseline_rate:
            cost = self._baseline_rate / rate
        with self._journal.changing() as db:
            db.execute(
                "INSERT OR REPLACE INTO sight SELECT id, player, day, ?, ?, ?, ?, ?, ?, ?, ? FROM take WHERE id = ?",
                (
                    int(reading.baseline), answer.difficulty, answer.right, answer.notes,
                    rate, cost, self.rating.ability, self.rating.spread, number,
                ),
            )  # fmt: skip

    def result(self) -> Result:
        """What the readings so far say."""
        found = [
            (reading, row[0])
            for reading, number in self._done
            if number is not None and not reading.baseline
            and (row := self._journal.ask("SELECT right, n, per_minute, cost FROM sight WHERE take = ?", (number,)))
        ]  # fmt: skip
        right, notes = sum(r[0] for _, r in found), sum(r[1] for _, r in found)
        minutes = sum(r[0] / r[2] if r[2] else reading.music_minutes for reading, r in found)
        costs = sorted(r[3] for _, r in found if r[3] is not None)
        return Result(
            right / minutes if minutes else None,
            right / notes if notes else None,
            costs[len(costs) // 2] if costs else None,
            self.rating,
            self.before,
        )


def compose(reading: Reading) -> Piece:
    """The fresh piece of a reading, in its written key, at its tempo."""
    item = reading.item
    return composed(item.level, item.written, item.hands, item.bars, reading.seed, item.tempo)


def _keys(known: Sequence[Cell]) -> list[tuple[str, str, Key]]:
    """(level, hands, key) the player may be asked: what is opened or further; C at the easiest level to begin with."""
    places = sorted(cell.place for cell in known if cell.state in (OPENING, HOLDING, FREE))
    if not places:
        return [(TRICHORD, RIGHT, Key.parse(key)) for key in ("C", "F", "G")]
    return [(place.level, place.hands, Key.parse(place.key)) for place in places]


def _lately(journal: Journal, player: str) -> list[str]:
    """The keys of the player's last readings, the newest first, those in the written key left out."""
    rows = journal.ask(
        "SELECT t.key FROM sight s JOIN take t ON t.id = s.take WHERE s.baseline = 0 AND s.player = "
        "(SELECT id FROM player WHERE name = ?) ORDER BY s.day DESC, s.take DESC LIMIT ?",
        (player, KEYS_BETWEEN),
    )
    return [key for (key,) in rows]


def rating_of(journal: Journal, player: str, now: datetime) -> Rating:
    """The player's rating as it stands: the last one, less sure for every day since."""
    rows = journal.ask(
        "SELECT rating, spread, day FROM sight WHERE baseline = 0 AND player = (SELECT id FROM player WHERE name = ?) "
        "ORDER BY day DESC, take DESC LIMIT 1",
        (player,),
    )
    if not rows:
        return Rating()
    ability, spread, day = rows[0]
    return Rating(ability, spread).later(now.date().toordinal() - EPOCH_ORDINAL - day)
