"""A take that begins anywhere and lies elsewhere: in another octave, in another key, on a piano that transposes.

The beam knows takes that lie elsewhere from the first bar on, the field those that begin anywhere in the key asked for;
both at once are looked for here, a few times while the take begins, and only while it goes badly enough for such a
story to be likelier.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from trainer.following.beam import Beam
from trainer.following.field import Field
from trainer.following.ground import Ground
from trainer.following.model import DISPLACED_AS_WRITTEN, DISPLACEMENTS, MODEL
from trainer.following.rough import NOWHERE, Reading
from trainer.following.story import HIT, NEITHER, NOTHING, UNKNOWN, Line, Step

AT = (12, 16, 24)  # presses after which it is looked for
WELL = 0.7  # share of them that are right at one interval where the beginning goes well (ours)
SURELY = 0.85  # and in a story found here: a scale or another tune fits somewhere, in some key (tuned)
BRIEFLY = 6  # presses read at every interval (speed)
LIKELY = 6  # intervals at which all of them are read (speed)
TOLD = 2  # and at which the likeliest beginning is told in full (speed)
OCTAVE = 12  # semitones, the furthest looked for

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
    readings = [Reading(ground, shift) for shift in chances]
    for part in (heard[:BRIEFLY], heard[BRIEFLY:]):
        for reading in readings:
            reading.go_on(part)
        readings.sort(key=lambda one: -(one.best + chances[one.shift]))
        del readings[LIKELY:]
    stories: list[Line] = []
    for reading in readings[:TOLD]:
        shift, course = reading.shift, reading.course()
        first = _first(course.moments, course.jumped)
        if first == NOWHERE:
            continue
        goal = course.moments[first]
        cost = MODEL.displace_start + chances[shift] + field.goal_of(goal, NOWHERE)
        for silent, alone in _hands(ground):
            line = _strayed(cost + alone, heard[:first], tempo, silent)
            stories += beam.retell([beam.leap(line, shift, goal)], list(heard[first:]), heard[first][0])
    return [story for story in stories if _right(story.step) >= SURELY * len(heard)]


def _right(step: Step | None) -> int:
    """How many of the presses of a story are right at one interval."""
    right: Counter[int] = Counter()
    while step is not None:
        if step.kind == HIT:
            right[step.shift] += 1
        step = step.before
    return max(right.values(), default=0)


def _chances(ground: Ground) -> dict[int, float]:
    """The intervals a whole take may lie at, with the log share of each."""
    near = {shift: share for shift, share in DISPLACEMENTS.items() if abs(shift) <= OCTAVE}
    return {**near, ground.shift: DISPLACED_AS_WRITTEN} if ground.shift else near


def _hands(ground: Ground) -> list[tuple[int, float]]:
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
