"""A melody for a phrase: the cheapest line through its harmony, with seeded chance among the good ones.

Notes are degrees counted from the tonic, 0; 7 is the octave above, -1 the seventh degree below. The line is found by
dynamic programming over pairs of notes, so that leaps can be resolved and passing notes can pass. What costs how much
is ours; the rules behind the costs are those of every counterpoint primer (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache
from random import Random

from trainer.scores.composing.progressions import Chord

# Cost of moving by so many degrees. A seventh or more than an octave is never taken.
_MOVE = {0: 8, 1: 0, 2: 3, 3: 7, 4: 9, 5: 14, 7: 16}
# Cost of a note foreign to the harmony by the strength of its place.
_FOREIGN = (1, 4, 18, 30)
_NEVER = 10_000
_CHANCE = 7


@dataclass(frozen=True)
class Slot:
    """A place for one note: where in the phrase, how long, over which chord.

    `strength` is 3 at the bar, 2 at a group of beats, 1 on another beat, 0 between beats.
    """

    bar: int
    onset: Fraction
    length: Fraction
    strength: int
    chord: Chord


@dataclass(frozen=True)
class Wish:
    """What the line must keep to.

    Parameters
    ----------
    low, high : int
        The lowest and highest degree.
    minor : bool
    first, last : tuple of int
        Degrees the first and the last note may have.
    by_step : bool
        The last note is reached by step.
    shape : tuple of int
        Degrees the line leans to at its start, at two places on the way, and at its end.
    fixed : dict of slot number to degree
    """

    low: int
    high: int
    minor: bool
    first: tuple[int, ...]
    last: tuple[int, ...]
    by_step: bool
    shape: tuple[int, int, int, int]
    fixed: dict[int, int]


def line(slots: Sequence[Slot], wish: Wish, rng: Random) -> list[int] | None:
    """Degrees for the slots, or None when nothing keeps to the wish."""
    degrees = range(wish.low, wish.high + 1)
    count = len(slots)
    single = [{d: _alone(slots, wish, at, d) + int(rng.random() * _CHANCE) for d in degrees} for at in range(count)]
    if count == 1:
        best = min(degrees, key=lambda d: single[0][d])
        return [best] if single[0][best] < _NEVER else None

    def steps(at: int) -> dict[tuple[int, int], int]:
        here, there = slots[at], slots[at + 1]
        ends = wish.by_step and at == count - 2
        return _steps(degrees, wish.minor, here.chord, there.chord, there.strength == 0, ends)

    costs = {(a, b): single[0][a] + single[1][b] + cost for (a, b), cost in steps(0).items()}
    came: list[dict[tuple[int, int], int]] = []
    for at in range(2, count):
        # From each degree: the pair it would make, how far it goes, what that costs.
        onward: dict[int, list[tuple[tuple[int, int], int, int]]] = {b: [] for b in degrees}
        for step, cost in steps(at - 1).items():
            b, c = step
            more = single[at][c] + cost
            if more < _NEVER:
                onward[b].append((step, c - b, more))
        foreign = {b: not slots[at - 1].chord.holds(b) for b in degrees}
        fresh: dict[tuple[int, int], int] = {}
        back: dict[tuple[int, int], int] = {}
        for (a, b), cost in costs.items():
            if cost >= _NEVER:
                continue
            turns = _turns(foreign[b], b - a)
            for step, goes, more in onward[b]:
                total = cost + more + turns[goes]
                if total < fresh.get(step, _NEVER):
                    fresh[step] = total
                    back[step] = a
        costs = fresh
        came.append(back)
    ends = [(cost, pair) for pair, cost in costs.items() if cost < _NEVER]
    if not ends:
        return None
    pair = min(ends)[1]
    found = [pair[1], pair[0]]
    for back in reversed(came):
        before = back[found[-1], found[-2]]
        found.append(before)
    return found[::-1]


def _alone(slots: Sequence[Slot], wish: Wish, at: int, degree: int) -> int:
    """What a note costs by itself: its place in the harmony and in the shape of the phrase."""
    slot = slots[at]
    if at in wish.fixed:
        return 0 if degree == wish.fixed[at] else _NEVER
    if (at == 0 and degree not in wish.first) or (at == len(slots) - 1 and degree not in wish.last):
        return _NEVER
    # A wide reach is asked for because the line should travel, so there the shape weighs double.
    weight = 2 if wish.high - wish.low > 6 else 1
    cost = weight * abs(degree - _leaning(wish.shape, at, len(slots)))
    if not slot.chord.holds(degree):
        if at in (0, len(slots) - 1):
            return _NEVER
        cost += _FOREIGN[slot.strength]
        if at + 1 < len(slots) and slot.length > slots[at + 1].length:
            cost += 10
    return cost


def _leaning(shape: tuple[int, int, int, int], at: int, count: int) -> int:
    """The degree the shape leans to at a place: between its four points, rounded down."""
    place = 3 * at
    part, rest = divmod(place, max(count - 1, 1))
    if part >= 3:
        return shape[3]
    return shape[part] + (shape[part + 1] - shape[part]) * rest // max(count - 1, 1)


# A phrase has few chords and many notes: most of its steps are between the same two chords again.
@lru_cache(maxsize=256)
def _steps(
    degrees: range, minor: bool, here: Chord, there: Chord, weak: bool, by_step: bool
) -> dict[tuple[int, int], int]:
    """What each step from a note over one chord to a note over the next costs.

    `weak` says that the second note lies within a beat, `by_step` that it must be reached by step.
    """
    return {(a, b): _step(minor, here, there, weak, by_step, a, b) for a in degrees for b in degrees}


def _step(minor: bool, here: Chord, there: Chord, weak: bool, by_step: bool, one: int, other: int) -> int:
    size = abs(other - one)
    cost = _MOVE.get(size, _NEVER)
    if by_step and size != 1:
        return _NEVER
    if size >= 2 and {one % 7, other % 7} == ({1, 5} if minor else {3, 6}):
        cost += 14
    if other % 7 in there.raises and size >= 2:
        cost += 4 if here == there and size == 2 else 14
    # A leading note, of the key or of the moment, wants to rise, at the latest when the chord changes.
    leading = one % 7 in here.raises or (one % 7 == 6 and here.root == 4)
    if leading and other != one + 1:
        cost += 3 if here == there and size <= 2 else 14
    if minor and size == 1 and {one % 7, other % 7} == {5, 6}:
        cost += _sixth_to_seventh(here, there, one)
    # Within a beat a repeated note stands still; over a barline it may hold a phrase together.
    if size == 0 and weak:
        cost += 4
    return cost


def _sixth_to_seventh(here: Chord, there: Chord, one: int) -> int:
    """What it costs in minor to go between the sixth and the raised seventh degree: dear when the sixth cannot rise."""
    sixth, seventh = (here, there) if one % 7 == 5 else (there, here)
    if 6 not in seventh.raises:
        return 0
    return 40 if sixth.holds(5) else 4


@cache
def _turns(foreign: bool, came: int) -> dict[int, int]:
    """What a note reached by so many degrees costs by how many it goes on, for every move there is."""
    return {goes: _turn(foreign, came, goes) for size in _MOVE for goes in (size, -size)}


def _turn(foreign: bool, came: int, goes: int) -> int:
    """What three notes in a row cost: passing notes that do not pass, leaps that are not taken back, idling.

    `foreign` says that the middle one does not belong to its chord.
    """
    cost = 0
    if foreign and not (abs(came) <= 1 and abs(goes) == 1):
        cost += 40
    if abs(came) >= 3:
        if goes == 0:
            cost += 4
        elif (goes > 0) == (came > 0):
            cost += 25
        elif abs(goes) > 2:
            cost += 12
    elif abs(came) == 2 and abs(goes) >= 2 and (goes > 0) == (came > 0):
        cost += 3 if abs(goes) == 2 else 16
    if came == 0 and goes == 0:
        cost += 12
    if came and goes == -came:
        cost += 3
    return cost


def repeat_at(
    slots: Sequence[Slot], motif: Sequence[int], first: int, again: int, wish: Wish, rng: Random
) -> dict[int, int] | None:
    """A motif from slot `first` heard again from slot `again`, on the same or another degree: slot to degree.

    The nearest place where its strong notes belong to the harmony as well as they did at first; None where there
    is none.
    """
    before = _misfit(slots, motif, first)
    best: tuple[int, int] | None = None
    for shift in (0, 1, -1, 2, -2, 3, -3, 4, -4):
        moved = [degree + shift for degree in motif]
        worse = _misfit(slots, moved, again) - before
        if min(moved) < wish.low or max(moved) > wish.high or worse > 6:
            continue
        # In place it is a repeat, a degree or two away a sequence: both are wanted, the sequence by a step most.
        cost = 2 * max(worse, 0) + 2 * abs(abs(shift) - 1) + int(rng.random() * 4)
        if best is None or cost < best[0]:
            best = cost, shift
    if best is None:
        return None
    return {again + number: degree + best[1] for number, degree in enumerate(motif)}


def _misfit(slots: Sequence[Slot], motif: Sequence[int], start: int) -> int:
    return sum(
        _FOREIGN[slot.strength]
        for slot, degree in zip(slots[start:], motif, strict=False)
        if not slot.chord.holds(degree)
    )
