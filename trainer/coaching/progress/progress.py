"""What the Keys screen and the pictures show: the twenty-four keys, and how everything grew."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from trainer.coaching.path.cells import cells, states
from trainer.coaching.path.path import level_reached
from trainer.coaching.progress.habits import RECENT_DAYS
from trainer.coaching.sight.sightwords import rungs
from trainer.journal import charts
from trainer.journal.charts import DAY, Colours, KeyLook
from trainer.journal.store import Journal
from trainer.journal.summary import by_key, causes_by_week, sights
from trainer.music.compass import LEVELS
from trainer.music.keys import TWENTY_FOUR

if TYPE_CHECKING:
    from matplotlib.figure import Figure

CIRCLE, SIGHT, COST, CAUSES = "circle", "sight", "cost", "causes"
PICTURES = (CIRCLE, SIGHT, COST, CAUSES)
# As on screen; see the vocabulary.
CAUSE_WORDS = {
    "octave": "other octave", "as-written": "played as written", "signature": "key signature forgotten",
    "accidental": "accidental carried over", "step": "a step off", "displaced": "hand displaced",
    "brushed": "neighbouring key brushed", "repeated": "struck again", "wrong": "another key",
    "extra": "not in the piece", "missed": "left out",
}  # fmt: skip


def key_looks(journal: Journal, player: str, now: datetime) -> dict[str, KeyLook]:
    """Each of the twenty-four keys: level that holds, state, day due, and the figures of the last ninety days."""
    known = cells(journal, player, now.date())
    reached = level_reached(states(list(known.values())))
    figures = by_key(journal, player, now.date() - timedelta(days=RECENT_DAYS))
    found = {}
    for key in TWENTY_FOUR:
        mine = [cell for cell in known.values() if cell.place.key == key.short]
        top = max(mine, key=lambda c: (LEVELS.index(c.place.level), c.place.hands == "both"), default=None)
        due = min((cell.due for cell in mine if cell.due), default=None)
        lately = figures.get(key.short)
        found[key.short] = KeyLook(
            key.short,
            reached[key.short],
            top.state if top else "new",
            due,
            lately.per_minute if lately else None,
            lately.accuracy if lately else None,
            lately.cost if lately else None,
        )
    return found


def picture(
    journal: Journal, player: str, what: str, now: datetime, *, since: date | None = None, colours: Colours = DAY
) -> Figure:
    """One of `PICTURES` as a figure, for `trainer.journal.charts.rendered`."""
    if what == CIRCLE:
        return charts.circle(key_looks(journal, player, now), now.date(), player, colours)
    if what == SIGHT:
        return charts.sight(sights(journal, player, since), rungs(), colours)
    if what == COST:
        return charts.cost(key_looks(journal, player, now), colours)
    weeks: Mapping[date, Mapping[str, int]] = causes_by_week(journal, player, since)
    return charts.causes(weeks, CAUSE_WORDS, colours)
