"""Prima vista: the rating, and the item that tells most.

A Rasch model with notes as its answers: a note of an item of difficulty ``b`` comes out right with probability
``1 / (1 + exp(-(ability - b)))``. Difficulties are laid down in a table (level, hands, signature, distance between
the keys, tempo), so that everybody is measured by one ruler; ability is estimated with its uncertainty.

Slips come in clusters, so notes are not so many independent answers: the information of an item is divided by
`CLUSTER`. A player's ability drifts between tests: its variance grows by `DRIFT` squared a day.

Source of the model: G. Rasch, *Probabilistic Models for Some Intelligence and Attainment Tests* (1960); estimation by
the mode of the posterior and its curvature is the textbook way (F. Baker, S.-H. Kim, *Item Response Theory*, 2nd ed.
2004, ch. 3; both from memory). The table of difficulties and both constants are ours.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from random import Random

from trainer.journal.bands import CLUSTER, SURE
from trainer.music.compass import HEXACHORD, OPEN, PENTACHORD, TRICHORD
from trainer.music.keys import Key

# Logits, added up.
LEVEL = {TRICHORD: -1.2, PENTACHORD: 0.0, HEXACHORD: 0.8, OPEN: 1.6}
HANDS = {"right": 0.0, "left": 0.2, "both": 0.9}
EACH_ACCIDENTAL = 0.12
EACH_FIFTH = 0.15
EACH_DOUBLING = 1.0
PLAIN_TEMPO = 60.0
TEMPI = (44, 50, 56, 63, 72, 80, 92, 104)

DRIFT = 0.05
PRIOR_MEAN, PRIOR_SPREAD = 1.0, 2.0
# An item is only offered when at least this part of its notes should come out right.
KINDEST = 0.6
# Items within this part of the most telling one are drawn among by chance, so that keys vary.
NEARLY = 0.05


@dataclass(frozen=True, slots=True)
class Item:
    """One thing to be read at sight: level, hands, the key on the page, the key to play, quarters a minute, bars."""

    level: str
    hands: str
    written: Key
    target: Key
    tempo: float
    bars: int = 8

    @property
    def difficulty(self) -> float:
        """In logits; 0 is a pentachord piece for the right hand in C, as written, at 60."""
        return (
            LEVEL[self.level]
            + HANDS[self.hands]
            + EACH_ACCIDENTAL * min(abs(self.target.signature), 7)
            + EACH_FIFTH * self.written.fifths_away(self.target)
            + EACH_DOUBLING * math.log2(self.tempo / PLAIN_TEMPO)
        )


@dataclass(frozen=True, slots=True)
class Rating:
    """Ability in logits and its standard deviation."""

    ability: float = PRIOR_MEAN
    spread: float = PRIOR_SPREAD

    @property
    def low(self) -> float:
        return self.ability - SURE * self.spread

    @property
    def high(self) -> float:
        return self.ability + SURE * self.spread

    @property
    def points(self) -> int:
        """On the scale shown: 500 for ability 0, 100 a logit."""
        return round(500 + 100 * self.ability)

    @property
    def give(self) -> int:
        """Half the width of the 95 % band, in points."""
        return round(100 * SURE * self.spread)

    def later(self, days: float) -> Rating:
        """The rating after some days without a test: the same, but less sure, never less than at the start."""
        return Rating(self.ability, min(math.hypot(self.spread, DRIFT * math.sqrt(max(days, 0.0))), PRIOR_SPREAD))


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of an item: its difficulty, notes right, notes that counted."""

    difficulty: float
    right: int
    notes: int


def chance(ability: float, difficulty: float) -> float:
    """Probability that a note comes out right."""
    return 1.0 / (1.0 + math.exp(-(ability - difficulty)))


def estimate(answers: Iterable[Answer], prior: Rating | None = None) -> Rating:
    """Ability from answers: the mode of the posterior, found by Newton's steps, and its curvature.

    >>> rating = estimate([Answer(0.0, 45, 60)])
    >>> round(rating.ability, 2), rating.spread < 0.6
    (1.09, True)
    """
    start = prior or Rating()
    listed = [answer for answer in answers if answer.notes > 0]
    ability = start.ability
    precision = 1.0 / start.spread**2
    known = 0.0
    for _ in range(60):
        slope = (start.ability - ability) * precision
        known = 0.0
        for answer in listed:
            p = chance(ability, answer.difficulty)
            slope += (answer.right - answer.notes * p) / CLUSTER
            known += information(p, answer.notes)
        step = slope / (known + precision)
        # The posterior is concave; a bounded step keeps Newton's method from overshooting on its flat ends.
        ability += max(-1.0, min(1.0, step))
        if abs(step) < 1e-10:
            break
    return Rating(ability, 1.0 / math.sqrt(known + precision))


def information(p: float, notes: float) -> float:
    """Fisher information of notes that come out right with probability `p`."""
    return notes * p * (1.0 - p) / CLUSTER


def choose(items: Sequence[Item], rating: Rating, rng: Random) -> Item:
    """The item that tells most about the player, among those kind enough; the easiest when none is.

    Parameters
    ----------
    items : sequence of Item
        At least one.
    """
    weighed = [(item, chance(rating.ability, item.difficulty)) for item in items]
    kind = [(item, p) for item, p in weighed if p >= KINDEST]
    if not kind:
        return max(weighed, key=lambda pair: pair[1])[0]
    # A minute of a faster item holds more notes, so what counts is information in the same time.
    worth = [information(p, item.tempo) for item, p in kind]
    best = max(worth)
    near = [item for (item, _), value in zip(kind, worth, strict=True) if value >= (1.0 - NEARLY) * best]
    return near[int(rng.random() * len(near))]
