"""The course of a whole take: where the player was, decided with everything known.

While the take is played only the likeliest stories are carried on, so a passage that also stands elsewhere in the
piece can draw the follower away, and the true story is dropped before it would have won. At the end the whole take is
read once more under a rough model that drops nothing: the hidden state is the moment alone; a press either fits the
moment or costs a fixed misfit; the player stays, goes on, or jumps. The likeliest sequence of moments (Viterbi) costs
a few array operations a press, because a press touches only the moments that hold its pitch; all others sink by one
constant. Where it and the story told while playing lie apart, both are told in full, and the likelier one is kept.

Source of the algorithm: A. Viterbi, "Error bounds for convolutional codes", IEEE Trans. Inf. Theory 13 (1967).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trainer.following.beam import Beam
from trainer.following.field import NEVER, Field
from trainer.following.findings import whole_shift
from trainer.following.ground import Floats, Ground, Ints
from trainer.following.model import ANEW, MODEL
from trainer.following.retelling import steps_of
from trainer.following.story import HIT, UNKNOWN, Line, Step
from trainer.following.tracker import Tracker
from trainer.listening.press import Press

MARGIN = 2.0  # how much likelier the course must be, told in full, before the story is told along it (tuned)
EARLIER = 2  # presses, and moments either way, by which a jump may lie before the course's own
JOINED = 8  # presses after the two have met again that both are told through
APART = 4  # moments that a story may differ from the course without being another story
LOST = 8  # moments from the course beyond which a story led along it is dropped
FEW = 4  # presses that must lie apart
NOWHERE = -1
_AGAIN = -3.0  # the same key twice in one moment
_STAY = -0.4  # another key of one moment
# Moments back to where the player may have come from, and what that costs: going on, over one, over two, hands apart.
_WAYS = ((1, 0.0), (2, -1.5), (3, -3.0), (-1, -2.5), (-2, -4.0))
_HAND = -0.7  # going on in one hand alone
# Staying costs what the press says; then the ways above, then each hand's own last moment.
_COSTS = np.array([0.0, *(cost for _, cost in _WAYS), _HAND, _HAND])


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
class Course:
    """For each press the moment it fits (`NOWHERE` when none), and whether it was jumped to."""

    moments: tuple[int, ...]
    jumped: tuple[bool, ...]


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


class _Reading:
    """One pass over a take."""

    def __init__(self, ground: Ground) -> None:
        self.ground = ground
        self.score: Floats = np.full(ground.size, NEVER)
        self.last: Ints = np.full(ground.size, NOWHERE, dtype=np.intp)
        self.pitch: Ints = np.full(ground.size, NOWHERE, dtype=np.intp)
        self.goals = Field(ground).goals
        self.sunk = 0.0
        self.best = 0  # the likeliest moment
        self.origins: dict[int, tuple[Ints, Ints]] = {}
        # For each press: the moments it fits, and for each of them the moment and the press come from, and by a jump?
        self.back: list[tuple[Ints, Ints, Ints, NDArray[np.bool_]] | None] = []

    def hear(self, pitch: int, jump: float, together: bool) -> None:
        """Take one press at its pitch less the take's displacement; `jump` is the log probability of a jump here."""
        ground = self.ground
        found = ground.moments_of.get(pitch)
        before = self.sunk
        self.sunk += MODEL.field_misfit
        if found is None:
            self.back.append(None)
            return
        now = len(self.back)
        score = self.score
        origins, rows = self._origins(pitch, found)
        reached = score.take(origins)
        reached += _COSTS
        reached[:, 0] += np.where(self.pitch.take(found) == pitch, _AGAIN, _STAY if together else _STAY - 1.0)
        way = reached.argmax(axis=1)
        way += rows
        come = reached.take(way)
        come += before
        origin = origins.take(way)
        best = self.best
        if score[best] <= NEVER / 2:
            leap = self.goals(pitch, NOWHERE)
        else:
            leap = self.goals(pitch, best)
            leap += score[best] + before + jump
        leapt = leap > come
        total = np.maximum(leap, come)
        origin[leapt] = best
        was = score[best]
        self.back.append((found, origin, self.last.take(origin), leapt))
        score[found] = total - self.sunk
        self.last[found] = now
        self.pitch[found] = pitch
        if score[best] < was:
            self.best = int(score.argmax())
        elif total.max() - self.sunk > score[best]:
            self.best = int(found[total.argmax()])

    def _origins(self, pitch: int, found: Ints) -> tuple[Ints, Ints]:
        """For each moment that holds the pitch (rows) and each way to come the moment come from, and each row's start.

        Rows are counted through.
        """
        known = self.origins.get(pitch)
        if known is None:
            ground = self.ground
            near = [np.clip(found - back, 0, ground.size - 1) for back, _ in _WAYS]
            ways = np.stack([found, *near, ground.previous[0][found], ground.previous[1][found]], axis=1)
            known = self.origins[pitch] = ways, np.arange(0, ways.size, ways.shape[1])
        return known

    def course(self) -> Course:
        """Read the likeliest sequence of moments backwards."""
        moments = [NOWHERE] * len(self.back)
        jumped = [False] * len(self.back)
        if not self.back:
            return Course((), ())
        moment = int(self.score.argmax())
        press = int(self.last[moment])
        while press >= 0:
            link = self.back[press]
            assert link is not None
            found, origin, since, leapt = link
            at = int(found.searchsorted(moment))
            moments[press] = moment
            jumped[press] = bool(leapt[at])
            moment, press = int(origin[at]), int(since[at])
        return Course(tuple(moments), tuple(jumped))


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
    reading = _Reading(ground)
    for index, press in enumerate(presses):
        together = index > 0 and press.at - presses[index - 1].at < MODEL.near
        reading.hear(NOWHERE if index in left_out else press.pitch - shift, jumps[index], together)
    return reading.course()
