"""A take that begins anywhere and lies elsewhere: in another octave, in another key, on a piano that transposes.

The beam knows takes that lie elsewhere from the first bar on, the field those that begin anywhere in the key asked for;
both at once are looked for here, a few times while the take begins, and only while it goes badly enough for such a
story to be likelier. Later so is a player who has been lost: who begins in earnest after a warm-up, takes up another
key in the middle, or was thought to have come home and had not.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence

from trainer.following.beam import Beam
from trainer.following.field import Field, Heard
from trainer.following.ground import Ground
from trainer.following.model import DISPLACED_AS_WRITTEN, DISPLACEMENTS, MODEL
from trainer.following.rough import NOWHERE, Course, Reading
from trainer.following.story import HIT, NEITHER, NOTHING, UNKNOWN, Line, Step

AT = (12, 16, 24)  # presses after which it is looked for
WELL = 0.7  # share of them that are right at one interval where the beginning goes well (ours)
SURELY = 0.85  # and in a story found here: a scale or another tune fits somewhere, in some key (tuned)
BRIEFLY = 6  # presses read at every interval (speed)
LIKELY = 6  # intervals at which all of them are read (speed)
TOLD = 2  # and at which the likeliest beginning is told in full (speed)
OCTAVE = 12  # semitones, the furthest looked for
LATELY = 32  # presses by which a player who is lost is looked for
LOST = 0.5  # share of them that are right, each hand at one interval, where the player is no more lost (ours)
STEADY = 12  # presses from the place found on, at the least
AGAIN = 6  # or so many at an interval the take has lain at before

Pressed = tuple[int, int, float]  # press, pitch, seconds


def elsewhere(beam: Beam, field: Field, heard: Sequence[Pressed], tempo: float) -> list[Line]:
    """Stories of the first presses of a take that begin anywhere and lie elsewhere, told in full.

    None where the likeliest story so far is likelier than any of these could be.
    """
    ground = beam.ground
    best = beam.lines[0]
    chances = _chances(ground)
    known = field.everywhere + MODEL.goal_first + MODEL.displace_start
    if best.score > known + max(chances.values()) + len(heard) * MODEL.right or _right(best.step) >= WELL * len(heard):
        return []
    stories: list[Line] = []
    for shift, course in _read(ground, heard, chances):
        first = _first(course.moments, course.jumped)
        if first == NOWHERE:
            continue
        goal = course.moments[first]
        cost = MODEL.displace_start + chances[shift] + field.goal_of(goal, NOWHERE)
        for silent, alone in one_or_both(ground):
            line = _strayed(cost + alone, heard[:first], tempo, silent)
            stories += beam.retell([beam.leap(line, shift, goal)], list(heard[first:]), heard[first][0])
    return [story for story in stories if _right(story.step) >= SURELY * len(heard)]


def found_again(beam: Beam, field: Field, heard: Sequence[Heard], known: Collection[int]) -> list[Line]:
    """Stories in which a player who was lost is anywhere, at any interval, told in full from there on.

    Parameters
    ----------
    heard : sequence of Heard
        The last presses.
    known : collection of int
        Intervals the take has lain at before: one of them is come back to sooner than another begun.
    """
    ground = beam.ground
    chances = {shift: MODEL.displace + MODEL.displace_both + share for shift, share in _chances(ground).items()}
    chances |= dict.fromkeys(known, MODEL.replace)
    stories: list[Line] = []
    for shift, course in _read(ground, [(one.press, one.pitch, one.at) for one in heard], chances):
        first = _first(course.moments, course.jumped)
        if first == NOWHERE or len(heard) - first < (AGAIN if shift in known else STEADY):
            continue
        there, goal = heard[first], course.moments[first]
        leaver = there.leaver
        cost = there.jump + chances[shift] + field.goal_of(goal, leaver.place, there.mend)
        leapt = beam.leap(leaver.scored(leaver.score + cost), shift, goal)
        told = beam.retell([leapt], [(one.press, one.pitch, one.at) for one in heard[first:]], there.press)
        least = (WELL if shift in known else SURELY) * (len(heard) - first)
        stories += [story for story in told if _right(story.step, there.press) >= least]
    return stories


def is_lost(ground: Ground, best: Line, since: int) -> bool:
    """Whether of the presses from one on too few are right, each hand at one interval, for the story to be true.

    Those leapt to are none: a leap finds a like key somewhere.
    """
    right: tuple[Counter[int], Counter[int]] = Counter(), Counter()
    count, step = 0, best.step
    while step is not None and step.press >= since:
        count += 1
        if step.kind == HIT and not step.jumped:
            right[ground.hand[step.note]][step.shift] += 1
        step = step.before
    return sum(max(hand.values(), default=0) for hand in right) < LOST * count


def _read(ground: Ground, heard: Sequence[Pressed], chances: Mapping[int, float]) -> list[tuple[int, Course]]:
    """The likeliest intervals, with the rough course of some presses at each."""
    readings = [Reading(ground, shift) for shift in chances]
    for part in (heard[:BRIEFLY], heard[BRIEFLY:]):
        for reading in readings:
            reading.go_on(part)
        readings.sort(key=lambda one: -(one.best + chances[one.shift]))
        del readings[LIKELY:]
    return [(reading.shift, reading.course()) for reading in readings[:TOLD]]


def _right(step: Step | None, since: int = 0) -> int:
    """How many of the presses of a story, from one on, are right at one interval; those leapt to but for the first are
    not counted, for a leap finds a like key somewhere.
    """
    right: Counter[int] = Counter()
    leapt = 0
    while step is not None and step.press >= since:
        if step.kind == HIT:
            right[step.shift] += 1
            leapt += step.jumped
        step = step.before
    return max(right.values(), default=0) - max(leapt - 1, 0)


def _chances(ground: Ground) -> dict[int, float]:
    """The intervals a whole take may lie at, with the log share of each."""
    near = {shift: share for shift, share in DISPLACEMENTS.items() if abs(shift) <= OCTAVE}
    return {**near, ground.shift: DISPLACED_AS_WRITTEN} if ground.shift else near


def one_or_both(ground: Ground) -> list[tuple[int, float]]:
    """Which hand may be silent, with the log probability of that."""
    if not all(ground.asked):
        return [(ground.asked.index(False), 0.0)]
    alone = [(hand, MODEL.one_hand) for hand in (0, 1)] if len(set(ground.hand)) == 2 else []
    return [(NEITHER, 0.0), *alone]


def _first(moments: Sequence[int], jumped: Sequence[bool]) -> int:
    """The press with which a rough story begins for good: its last jump."""
    last = [at for at, leapt in enumerate(jumped) if leapt and moments[at] != NOWHERE]
    return last[-1] if last else NOWHERE


def _strayed(score: float, heard: Sequence[Pressed], tempo: float, silent: int) -> Line:
    """A story in which what was heard is nothing of the piece, before it begins."""
    step: Step | None = None
    for press, _, _ in heard:
        step = Step(step, press, -1, NOTHING, 0, NOWHERE, False)
        score += MODEL.extra
    return Line(score, NOWHERE, (0, 0), 0, 0, 0, UNKNOWN, tempo, step, silent=silent)
