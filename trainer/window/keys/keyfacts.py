"""What the journal says for the Keys screen: the state of every level in every key, and growth over weeks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from trainer.following.marks import RIGHT
from trainer.journal.reading import TITLE
from trainer.journal.take import EPOCH_ORDINAL
from trainer.music.compass import LEVELS
from trainer.music.solfege import LA_BASED
from trainer.window.keys.circle import FREE, HOLDING, NEW, OPENING
from trainer.window.keys.growth import Point

if TYPE_CHECKING:
    from trainer.journal.charts import KeyLook
    from trainer.journal.store import Journal

STATES = (NEW, OPENING, HOLDING, FREE)
# Causes drawn over the weeks.
CAUSES_SHOWN = 4
# So many things that are hard are told.
_HARD = 4
# What is counted by piece, and the causes, are those of the last year.
_LATELY = timedelta(weeks=52)
# Readings at sight are pooled over so many weeks, so that their band means something.
_POOLED = timedelta(weeks=4)


@dataclass
class Found:
    """What the journal says, read when the screen comes to the front."""

    looks: dict[str, KeyLook] = field(default_factory=dict)
    levels: dict[str, tuple[str, ...]] = field(default_factory=dict)
    sight: list[Point] = field(default_factory=list)
    cost: list[Point] = field(default_factory=list)
    played: Counter[tuple[str, str]] = field(default_factory=Counter)
    history: dict[str, list[Point]] = field(default_factory=dict)
    # Which hand, mode or signs are harder, the costliest habits, and what changed in the last weeks, in words.
    habits: tuple[str, ...] = ()
    trends: tuple[str, ...] = ()
    # The most frequent causes, slips in a hundred presses week by week.
    causes: tuple[tuple[str, list[Point]], ...] = ()

    def state(self, key: str, level: int) -> str:
        return self.levels[key][level] if key in self.levels else NEW


def read(journal: Journal, player: str, now: datetime, minor: str = LA_BASED) -> Found:
    """Everything the screen shows but the history of single keys; raises `JournalError`.

    Parameters
    ----------
    minor : str
        Syllables in minor: ``la`` or ``do`` based.
    """
    from trainer.coaching.path.cells import cells
    from trainer.coaching.progress import habits
    from trainer.coaching.progress.progress import key_looks
    from trainer.coaching.progress.sides import SIDES_DAYS, sides
    from trainer.journal.summary import by_week, causes_by_week, sights

    journal.flush()
    since = now.date() - _LATELY
    looks = key_looks(journal, player, now)
    states: dict[str, dict[str, str]] = {}
    for place, cell in cells(journal, player).items():
        known = states.setdefault(place.key, {})
        known[place.level] = max(known.get(place.level, NEW), cell.state, key=STATES.index)
    levels = {key: tuple(known.get(level, NEW) for level in LEVELS) for key, known in states.items()}
    cost = [Point(day, week.cost[0], week.cost[1:]) for day, week in by_week(journal, player).items() if week.cost]
    sight = pooled([(one.day, one.per_minute) for one in sights(journal, player)])
    rows = journal.ask(
        f"SELECT {TITLE}, t.key, count(*) FROM take t JOIN piece m ON m.id = t.piece WHERE t.player = "
        "(SELECT id FROM player WHERE name = ?) AND t.day >= ? GROUP BY 1, t.key",
        (player, since.toordinal() - EPOCH_ORDINAL),
    )
    played = Counter({(title, key): n for title, key, n in rows})
    weaker = sides(journal, player, now.date() - timedelta(days=SIDES_DAYS))
    costly = habits.habits(journal, player, now.date(), minor=minor)
    hard = [*(one.sentence for one in weaker), *(one.sentence for one in costly)]
    dear = tuple(map(_sentence, hard[:_HARD]))
    moved = tuple(trend.words for trend in habits.trends(journal, player, now.date()) if trend.is_told)
    causes = _causes(causes_by_week(journal, player, since))
    return Found(looks, levels, sight, cost, played, habits=dear, trends=moved, causes=causes)


def _causes(weeks: Mapping[date, Mapping[str, int]]) -> tuple[tuple[str, list[Point]], ...]:
    """The most frequent causes, each with its slips in a hundred presses and notes left out, week by week."""
    totals: Counter[str] = Counter()
    for counts in weeks.values():
        totals.update({cause: n for cause, n in counts.items() if cause != RIGHT})
    return tuple(
        (cause, [Point(day, 100 * counts.get(cause, 0) / sum(counts.values())) for day, counts in weeks.items()])
        for cause, _ in totals.most_common(CAUSES_SHOWN)
    )


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."


def pooled(readings: list[tuple[date, float]]) -> list[Point]:
    """For each day read at sight, the mean of the four weeks up to it with its band of 95 %."""
    from trainer.journal.bands import mean_band

    found = []
    for day in sorted({day for day, _ in readings}):
        values = [value for then, value in readings if day - _POOLED < then <= day]
        band = mean_band(len(values), sum(values), sum(value * value for value in values))
        found.append(Point(day, sum(values) / len(values), band[1:] if band else None))
    return found
