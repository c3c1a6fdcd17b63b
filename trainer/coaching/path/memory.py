"""When a cell is to be played again: one card of the ``fsrs`` package each.

The scheduler is the package's own, with its own parameters, nine in ten to be remembered, whole days, no chance in it.
The rule that makes a rating of a take is ours: see `rating_of`.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from functools import cache
from typing import TYPE_CHECKING

from trainer.coaching.path.path import Played
from trainer.music.solfege import HELPS

if TYPE_CHECKING:
    from fsrs import Scheduler

RETENTION = 0.9
AGAIN, HARD, GOOD, EASY = "again", "hard", "good", "easy"
RATINGS = (AGAIN, HARD, GOOD, EASY)
# Below / at least these accuracies, and beyond / within these costs of transposing.
AGAIN_BELOW = 0.75
HARD_BELOW = 0.90
HARD_COST = 1.5
EASY_FROM = 0.97
EASY_COST = 1.1


def rating_of(take: Played) -> str:
    """The rating of a take.

    *again* below 75 % right; *hard* below 90 %, or in more than 1.5 times the time of the written key; *easy* from
    97 % on, in at most 1.1 times the time, with do at most shown and no glimpse of the transposed page; else *good*.

    >>> rating_of(Played(0, 0.93, 1.0, 1.2, "all", False))
    'good'
    """
    if take.accuracy < AGAIN_BELOW:
        return AGAIN
    if take.accuracy < HARD_BELOW or (take.cost is not None and take.cost > HARD_COST):
        return HARD
    unaided = HELPS.index(take.help) >= HELPS.index("do") and not take.glimpsed
    if take.accuracy >= EASY_FROM and unaided and (take.cost is None or take.cost <= EASY_COST):
        return EASY
    return GOOD


@cache
def _scheduler() -> Scheduler:
    from fsrs import Scheduler

    # No steps of minutes: a key is played again on another day.
    return Scheduler(desired_retention=RETENTION, learning_steps=(), relearning_steps=(), enable_fuzzing=False)


def reviewed(card: str, rating: str, now: datetime) -> tuple[str, date]:
    """(card as JSON, day of the next review) after a review at `now`."""
    from fsrs import Card, Rating

    at = now.astimezone(UTC)
    before = Card.from_json(card) if card else Card(card_id=1, due=at)
    after, _ = _scheduler().review_card(before, Rating(RATINGS.index(rating) + 1), at)
    return after.to_json(), after.due.astimezone(now.tzinfo).date()


def recall(card: str, now: datetime) -> float:
    """How likely the cell would still be played well now, 0-1; 0 without a card."""
    from fsrs import Card

    return float(_scheduler().get_card_retrievability(Card.from_json(card), now.astimezone(UTC))) if card else 0.0
