"""The course of a whole take: where the player was, decided with everything known.

While the take is played only the likeliest stories are carried on, so a passage that also stands elsewhere in the
piece can draw the follower away, and the true story is dropped before it would have won. At the end the whole take is
read once more under a rough model that drops nothing (`rough`). Where it and the story told while playing lie apart,
both are told in full, and the likelier one is kept.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trainer.following.beam import Beam
from trainer.following.findings import whole_shift
from trainer.following.ground import Ground
from trainer.following.model import ANEW, MODEL
from trainer.following.retelling import steps_of
from trainer.following.rough import NO_KEY, NOWHERE, Course, Reading
from trainer.following.story import HIT, UNKNOWN, Line, Step
from trainer.following.tracker import Tracker
from trainer.listening.press import Press

MARGIN = 2.0  # how much likelier the course must be, told in full, before the story is told along it (tuned)
EARLIER = 2  # presses, and moments either way, by which a jump may lie before the course's own
JOINED = 8  # presses after the two have met again that both are told through
APART = 4  # moments that a story may differ from the course without being another story
LOST = 8  # moments from the course beyond which a story led along it is dropped
FEW = 4  # presses that must lie apart


def along(live: Tracker, presses: Sequence[Press], steps: list[Step]) -> list[Step]:
    """The story of a take, with the parts told again that the course of the whole take puts elsewhere.

    Where the two lie apart both are told in full, and the likelier telling is kept.
    """
    ground = live.ground
    shift = whole_shift(steps)
    displaced = {step.press for step in steps if step.kind == HIT and step.shift != shift}
    told = [_led(ground, step, presses[step.press].pitch - shift) for step in steps]
    jumps = _jumps(presses)
    found = course(ground, presses, shift, jumps, displaced)
    story = Course(tuple(told), tuple(step.jumped for step in steps))
    for first, end in _apart(told, found.moments):
        if 2 * len(displaced.intersection(range(first, end))) > end - first:
            continue  # it lies elsewhere, where nothing is looked for
        teller = Teller(live, presses, jumps, shift, first, min(end + JOINED, len(presses)))
        before = steps[first - 1].place if first else NOWHERE
        new, old = (teller.tell(one, before) for one in (found, story))
        if new.score <= old.score + MARGIN:
            continue
        led = found
        if echo := _echo(ground, found, told, range(first, end)):
            nearer = teller.tell(echo, before)
            if nearer.score > new.score - MARGIN:
                new, led = nearer, echo
        steps = steps[:first] + steps_of(new.step)[: end - first] + steps[end:]
        if end < len(steps):
            steps[end] = steps[end]._replace(jumped=led.jumped[end])
    return steps


def _led(ground: Ground, step: Step, pitch: int) -> int:
    """The moment a story has a press fit; where it jumps, the one jumped to, even with a slip or a stray key."""
    if step.note < 0:
        return min(step.place + 1, ground.size - 1) if step.jumped else NOWHERE
    return ground.moment[step.note] if step.jumped or pitch == ground.pitch[step.note] else NOWHERE


def _echo(ground: Ground, found: Course, told: Sequence[int], stretch: range) -> Course | None:
    """The course of a stretch moved to the like passage the story itself is in; None when there is none."""
    both = [(found.moments[index], told[index]) for index in stretch]
    away = Counter(there - here for here, there in both if NOWHERE not in (here, there))
    ((by, times),) = away.most_common(1)
    if times * 2 < away.total():
        return None
    moments = list(found.moments)
    for index in stretch:
        here = moments[index]
        fits = here != NOWHERE and 0 <= here + by < ground.size and ground.alike[here] is ground.alike[here + by]
        moments[index] = here + by if fits else NOWHERE
    return Course(tuple(moments), found.jumped)


def _jumps(presses: Sequence[Press]) -> list[float]:
    """For each press the log probability of a jump before it: likelier after a wait that is long for this take."""
    at = np.array([press.at for press in presses])
    waits = np.diff(at, prepend=at[:1])
    gaps = waits[waits > MODEL.near]
    usual = max(float(np.median(gaps)) if gaps.size else 0.5, 0.15)
    paused = np.clip((waits / usual - 1.5) / 2.0, 0.0, 1.0) * (waits > 0.4)
    return [float(x) for x in MODEL.jump + paused * (MODEL.jump_paused - MODEL.jump)]


def _apart(told: Sequence[int], found: Sequence[int]) -> list[tuple[int, int]]:
    """Stretches [first, end) of presses in which two sequences of moments lie apart, from one agreement to the next."""
    stretches = []
    agreed, far = 0, 0
    for index, (one, other) in enumerate(zip(told, found, strict=True)):
        if NOWHERE in (one, other):
            continue
        if abs(one - other) > APART:
            far += 1
            continue
        if far >= FEW:
            stretches.append((agreed, index))
        agreed, far = index + 1, 0
    if far >= FEW:
        stretches.append((agreed, len(told)))
    return stretches


@dataclass(frozen=True, slots=True)
class Teller:
    """Tells the presses [first, end) in full, led along a course."""

    live: Tracker
    presses: Sequence[Press]
    jumps: Sequence[float]
    shift: int
    first: int
    end: int

    def tell(self, led: Course, before: int) -> Line:
        """The likeliest story that jumps where the course does; `before` is the moment it comes from."""
        live, shift = self.live, self.shift
        ground, goal_of = live.ground, live.field.goal_of
        beam = Beam(ground, live.tempo, ANEW)
        beam.know(live.beam)
        if before != NOWHERE:
            base = ground.first[max(before - MODEL.behind, 0)]
            # Nothing up to here is owed: it counts as sounded.
            sounded = (1 << (ground.first[before + 1] - base)) - 1
            best = live.best
            line = Line(0.0, before, (shift, shift), base, sounded, 0, UNKNOWN, best.tempo, None, silent=best.silent)
            beam.begin_at(line)
        start = self.presses[0].at
        for index in range(self.first, self.end):
            press = self.presses[index]
            at = round(press.at - start, 6)
            leaps = self._leaps(led, index)
            best = beam.lines[0]
            beam.hear(index, press.pitch, at)
            for goal in leaps:
                cost = (self.jumps[index] if best.place >= 0 else 0.0) + goal_of(goal, best.place)
                leapt = beam.leap(best.scored(best.score + cost), shift, goal)
                for line in beam.retell([leapt], [(index, press.pitch, at)], index):
                    beam.admit(line)
            self._lead(beam, led, index)
        return beam.lines[0]

    def _leaps(self, led: Course, index: int) -> list[int]:
        """Moments that may be jumped to at a press: round about where and when the course jumps."""
        near = range(index, min(index + EARLIER + 1, len(led.moments)))
        goals = {
            led.moments[jump] - back
            for jump in near
            if led.jumped[jump] and led.moments[jump] != NOWHERE
            for back in range(-EARLIER, EARLIER + 1)
        }
        return [goal for goal in sorted(goals) if 0 <= goal < self.live.ground.size]

    def _lead(self, beam: Beam, led: Course, index: int) -> None:
        """Drop the stories that have gone elsewhere, unless all have or a jump is only just being made."""
        moment = led.moments[index]
        if moment == NOWHERE or any(led.jumped[max(index - 2, 0) : index + EARLIER + 1]):
            return
        near = [line for line in beam.lines if abs(line.place - moment) <= LOST]
        if near:
            beam.lines = near


def course(ground: Ground, presses: Sequence[Press], shift: int, jumps: Sequence[float], left_out: set[int]) -> Course:
    """The likeliest course of a take.

    Parameters
    ----------
    shift : int
        Semitones by which the whole take is displaced.
    jumps : sequence of float
        For each press the log probability of a jump before it.
    left_out : set of int
        Presses that say nothing of the place: a hand displaced for a while.
    """
    reading = Reading(ground, shift)
    for index, press in enumerate(presses):
        together = index > 0 and press.at - presses[index - 1].at < MODEL.near
        reading.hear(NO_KEY if index in left_out else press.pitch, jumps[index], together)
    return reading.course()
