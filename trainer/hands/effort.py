"""Effort as tables: the points of `trainer.hands.rules`, weighed, for every choice of fingers at once.

All tables are for a right hand; indices are fingers less one.
"""

from __future__ import annotations

from functools import cache, lru_cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from trainer.hands import rules

Table = NDArray[np.float64]

# What a point of each rule weighs; one is as published [P]. From [J]: three-four-five is gone, the little finger is
# not weak, and the large-span rule costs every pair one point a semitone. The other weights were searched for between a
# quarter and one until the scales and broken chords of the handbooks came out.
WEIGHTS = {
    rules.STRETCH: 0.25, rules.SMALL_SPAN: 0.85, rules.LARGE_SPAN: 0.4, rules.CHANGE_COUNT: 0.75,
    rules.CHANGE_SIZE: 0.55, rules.WEAK: 0.8, rules.THREE_FOUR_FIVE: 0.0, rules.THREE_TO_FOUR: 0.3,
    rules.FOUR_ON_BLACK: 0.45, rules.THUMB_ON_BLACK: 0.85, rules.FIVE_ON_BLACK: 1.0, rules.THUMB_PASSING: 0.7,
}  # fmt: skip
# Ours. The handbooks keep the thumb off black keys in runs, and let it stand there in chords and broken chords: points
# for each neighbour no more than so many semitones away, and for a pass of the thumb.
THUMB_ON_BLACK_IN_A_RUN = 2.0
THUMB_PASSED_TO_BLACK = 4.0
A_RUN = 3
# Ours. The published spans take a turn for a squeeze, dearer by the semitone. In a broken chord the arm carries the
# hand over, so that a turn costs the same from a third to a fourth, for 2 and 3 and nearly for 4; less where the finger
# stands on black and the thumb goes through below it to a white key; much more, of a leap instead too, for a thumb on
# black, which no turn needs where the chord has a white key.
TURNED_IN_A_CHORD = 5.0
TURNED_BELOW_BLACK = 3.5
TURNED_TO_BLACK = 8.0
FOUR_TURNED = 0.2
_THIRD_TO_FOURTH = range(3, 6)
# Ours. The little finger is too short for a black key with white ones about (two notes before or after): in a broken
# chord, where the published rule sees the neighbours only, and at the ends of a line, where nothing forces it there.
FIVE_ON_BLACK_AMONG_WHITE = 2.5
# Ours, for what the published model leaves out: one finger sliding to another key; the hand leaving the keys; a chord
# following a chord, and in one the fourth finger, less where it has four keys or more, or the thumb on black; spans
# beyond practice, for two notes, for three without the thumb, and held together; a finger exchanged on a held key.
SAME_FINGER = 12.0
LEAP = 12.0
A_SEMITONE = 0.2
CHORD_MOVE = 0.5
FOUR_IN_A_CHORD = 1.0
FOUR_IN_A_FULL_CHORD = 0.45
THUMB_ON_BLACK_IN_A_CHORD = 0.5
BEYOND_PRACTICE = 1.0
BEYOND_PRACTICE_OF_THREE = 2.0
BEYOND_HAND = 6.0
EXCHANGE = 40.0


def weighed(points: dict[str, int]) -> float:
    """Points by rule as one number."""
    return sum(WEIGHTS[rule] * count for rule, count in points.items())


@cache
def states(count: int) -> NDArray[np.intp]:
    """All ways to lay `count` keys under fingers in order, shape (ways, count)."""
    return np.array(list(combinations(range(5), count)), dtype=np.intp).reshape(-1, count)


@lru_cache(maxsize=4096)
def one(black: bool, before: bool | None, after: bool | None, short: int) -> Table:
    """Effort of a key by its finger, shape (5,).

    Colours of the keys before and after, None where there is none; how often the little finger is too short for it.
    """
    table = np.zeros(5)
    for finger in rules.FINGERS:
        points = rules.note_points(finger, black, before, after)
        if finger == 5:
            points.pop(rules.WEAK, None)
        table[finger - 1] = weighed(points)
    table[4] += FIVE_ON_BLACK_AMONG_WHITE * short
    return table


@lru_cache(maxsize=4096)
def two(semitones: int, first_black: bool, second_black: bool, chord: bool, scale: float) -> Table:
    """Effort of going from one key to the next, shape (5, 5); `chord` when whole chords move."""
    table = np.zeros((5, 5))
    away = LEAP + A_SEMITONE * abs(semitones)
    for first in rules.FINGERS:
        for second in rules.FINGERS:
            if first == second:
                stay = 0.0 if semitones == 0 else (CHORD_MOVE if chord else SAME_FINGER) + A_SEMITONE * abs(semitones)
                table[first - 1, second - 1] = stay
                continue
            effort = _joined(first, second, semitones, first_black, second_black, scale)
            thumb_black = (first == rules.THUMB and first_black) or (second == rules.THUMB and second_black)
            if thumb_black:
                effort += _thumb_in_a_run(first, second, semitones)
            to_black = 0.0
            if not chord and abs(semitones) in _THIRD_TO_FOURTH and rules.passes_thumb(first, second, semitones):
                to_black = TURNED_TO_BLACK * thumb_black
                if 5 not in (first, second):
                    effort = _turned(4 in (first, second), not thumb_black and (first_black or second_black))
            table[first - 1, second - 1] = min(effort, away) + to_black
    return table


def _thumb_in_a_run(first: int, second: int, semitones: int) -> float:
    """What a thumb on a black key costs on one side; in a broken chord, where no thumb passes, nothing."""
    if rules.passes_thumb(first, second, semitones):
        return THUMB_PASSED_TO_BLACK
    return THUMB_ON_BLACK_IN_A_RUN if abs(semitones) <= A_RUN else 0.0


def _turned(fourth: bool, below_black: bool) -> float:
    """What a turn costs in a broken chord."""
    return (TURNED_BELOW_BLACK if below_black else TURNED_IN_A_CHORD) + FOUR_TURNED * fourth


def _joined(first: int, second: int, semitones: int, first_black: bool, second_black: bool, scale: float) -> float:
    points = rules.pair_points(first, second, semitones, first_black, second_black, scale)
    if rules.THUMB not in (first, second) and rules.LARGE_SPAN in points:
        points[rules.LARGE_SPAN] //= 2
    return weighed(points) + BEYOND_PRACTICE * rules.beyond_practice(first, second, semitones, scale)


@lru_cache(maxsize=4096)
def three(first_up: int, both_up: int, scale: float) -> Table:
    """Effort of three successive keys, shape (5, 5, 5): changes of position."""
    table = np.zeros((5, 5, 5))
    for first in rules.FINGERS:
        for middle in rules.FINGERS:
            for last in rules.FINGERS:
                points = rules.triple_points((first, middle, last), first_up, both_up, scale)
                table[first - 1, middle - 1, last - 1] = weighed(points)
                if rules.THUMB not in (first, middle, last):
                    beyond = rules.beyond_practice(first, last, both_up, scale) if first != last else 0
                    table[first - 1, middle - 1, last - 1] += BEYOND_PRACTICE_OF_THREE * beyond
    return table


@lru_cache(maxsize=4096)
def together(keys: tuple[int, ...], black: tuple[bool, ...], scale: float) -> Table:
    """Effort of holding several keys at once, one number for each row of `states` [K].

    Neighbouring fingers and the outer two are looked at with the spans of [P].
    """
    ways = states(len(keys))
    table = np.zeros(len(ways))
    last = len(keys) - 1
    pairs = [(i, i + 1) for i in range(last)] + ([(0, last)] if last > 1 else [])
    for row, way in enumerate(ways):
        for i, j in pairs:
            first, second = int(way[i]) + 1, int(way[j]) + 1
            table[row] += _joined(first, second, keys[j] - keys[i], False, False, scale)
            table[row] += BEYOND_HAND * rules.beyond_practice(first, second, keys[j] - keys[i], scale)
        for finger, is_black in zip(way, black, strict=True):
            if finger == 3:
                table[row] += FOUR_IN_A_FULL_CHORD if last > 2 else FOUR_IN_A_CHORD
            if finger == 0 and is_black and not all(black):
                table[row] += THUMB_ON_BLACK_IN_A_CHORD
    return table
