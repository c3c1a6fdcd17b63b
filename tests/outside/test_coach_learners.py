"""Simulated learners with known ability: who improves is moved on at the right time, and ratings hold what they say."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from random import Random
from statistics import median

from trainer.coaching.path.cells import Cell, after_take
from trainer.coaching.path.path import FREE, HOLDING, NEW, OPENING, Place, Played, load
from trainer.coaching.sight.sight import TEMPI, Answer, Item, Rating, chance, choose, estimate
from trainer.journal.bands import CLUSTER
from trainer.music.compass import LEVELS
from trainer.music.keys import TWENTY_FOUR, Key

ROUTE = load()
NOTES = 80
DAYS = 90
START = datetime(2026, 1, 1, 17, tzinfo=UTC)


def clustered(rng: Random, p: float, notes: int) -> int:
    """Notes right out of so many, slips in clusters: a beta-binomial whose variance is `CLUSTER` times larger."""
    together = (CLUSTER - 1) / (notes - 1)
    scale = 1 / together - 1
    share = rng.betavariate(max(p * scale, 1e-6), max((1 - p) * scale, 1e-6))
    return sum(rng.random() < share for _ in range(notes))


def promoted(seed: int, skill: list[float], takes_a_day: int = 1) -> dict[str, int]:
    """The day each state was first reached by a learner of this true accuracy on each day."""
    rng = Random(seed)
    cell = Cell(Place("pentachord", "E", "right"))
    first: dict[str, int] = {}
    for day, p in enumerate(skill):
        for _ in range(takes_a_day):
            cost = 1 + 4 * (1 - p) * rng.uniform(0.5, 1.1)
            take = Played(day, clustered(rng, p, NOTES) / NOTES, 1.0, cost, "none", False)
            learned = after_take(cell, take, ROUTE, START + timedelta(days=day))
            assert learned is not None
            cell = learned.after
            first.setdefault(cell.state, day)
    return first


def test_who_improves_is_moved_on_at_the_right_time() -> None:
    """True accuracy rises from 0.6 to 0.985 in ninety days; where it crosses the path's numbers is known."""
    skill = [0.985 - 0.385 * math.exp(-day / 14) for day in range(DAYS)]
    crosses = {state: next(d for d, p in enumerate(skill) if p >= at) for state, at in ((HOLDING, 0.9), (FREE, 0.95))}
    found = [promoted(seed, skill) for seed in range(60)]
    assert all(set(one) == {OPENING, HOLDING, FREE} for one in found)
    for state, earliest, latest in ((HOLDING, -10, 14), (FREE, -14, 30)):
        days = [one[state] - crosses[state] for one in found]
        assert 0 <= median(days) <= 12, (state, median(days))
        inside = sum(earliest <= day <= latest for day in days) / len(days)
        assert inside >= 0.9, (state, sorted(days))


def test_who_does_not_improve_is_not_moved_on() -> None:
    found = [promoted(seed, [0.78] * DAYS) for seed in range(60)]
    assert sum(HOLDING in one for one in found) / len(found) <= 0.05
    middling = [promoted(seed, [0.9] * DAYS) for seed in range(60)]
    assert sum(FREE in one for one in middling) / len(middling) <= 0.05
    assert all(NEW not in one for one in found)


def test_who_falls_back_is_taken_back() -> None:
    skill = [0.99] * 20 + [0.6] * 20
    rng = Random(3)
    cell, states = Cell(Place("pentachord", "E", "right")), []
    for day, p in enumerate(skill):
        take = Played(day, clustered(rng, p, NOTES) / NOTES, 1.0, 1.0, "none", False)
        learned = after_take(cell, take, ROUTE, START + timedelta(days=day))
        assert learned is not None
        cell = learned.after
        states.append(cell.state)
    assert states[19] == FREE
    assert states[-1] == OPENING


ITEMS = [
    Item(level, hands, Key.parse("a") if key.is_minor else Key.parse("C"), key, float(tempo))
    for level in LEVELS
    for hands in ("right", "both")
    for key in TWENTY_FOUR[::3]
    for tempo in TEMPI[::3]
]


def test_a_hundred_learners_are_rated_within_their_stated_uncertainty() -> None:
    """Known ability, nine readings each, the item chosen by the program: the 95 % band holds it for ninety in a hundred
    at least, and the band is worth having: it is far narrower than before the first reading."""
    inside, widths = 0, []
    for seed in range(100):
        rng = Random(1000 + seed)
        ability = rng.gauss(1.5, 1.2)
        rating = Rating()
        for _ in range(9):
            item = choose(ITEMS, rating, rng)
            answer = Answer(item.difficulty, clustered(rng, chance(ability, item.difficulty), 60), 60)
            rating = estimate([answer], rating)
        inside += rating.low <= ability <= rating.high
        widths.append(rating.spread)
    assert inside >= 90, inside
    assert median(widths) < 0.35 * Rating().spread


def test_the_chosen_items_are_neither_too_hard_nor_a_waste() -> None:
    rng = Random(5)
    for ability in (-1.0, 0.5, 2.0, 3.5):
        shares = [chance(ability, choose(ITEMS, Rating(ability, 0.3), rng).difficulty) for _ in range(50)]
        assert all(0.6 <= share <= 0.9 for share in shares), (ability, min(shares), max(shares))
    hopeless = choose(ITEMS, Rating(-6.0, 0.3), rng)
    assert hopeless.difficulty == min(item.difficulty for item in ITEMS)
