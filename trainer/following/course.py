"""The course of a whole take: where the player was, decided with everything known.

While the take is played only the likeliest stories are carried on, so a passage that also stands elsewhere in the
piece can draw the follower away, and the true story is dropped before it would have won. At the end the whole take is
read once more under a rough model that drops nothing: the hidden state is the moment alone; a press either fits the
moment or costs a fixed misfit; the player stays, goes on, or jumps. The likeliest sequence of moments (Viterbi) costs
a few array operations a press, because a press touches only the moments that hold its pitch; all others sink by one
constant. Where it is clearly likelier than the story told while playing, that part of the take is told again along it.

Source of the algorithm: A. Viterbi, "Error bounds for convolutional codes", IEEE Trans. Inf. Theory 13 (1967).
"""

from __future__ import annotations

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

MARGIN = 6.0  # how much likelier the course must be before the story is told again along it (tuned)
APART = 4  # moments that a story may differ from the course without being another story
LOST = 8  # moments that a story told again may stray from the course before it is set back
USUAL = (-9.0, 4.0)  # beats back and ahead: a story whose jumps all lie within this is not doubted
FEW = 4  # presses that must lie apart
NOWHERE = -1
_AGAIN = -3.0  # the same key twice in one moment
_STAY = -0.4  # another key of one moment
# Moments back to where the player may have come from, and what that costs: going on, over one, over two, hands apart.
_WAYS = ((1, 0.0), (2, -1.5), (3, -3.0), (-1, -2.5), (-2, -4.0))
_HAND = -0.7  # going on in one hand alone
# Staying costs what the press says; then the ways above, then each hand's own last moment.
_COSTS = np.array([0.0, *(cost for _, cost in _WAYS), _HAND, _HAND])[:, None]


def along(live: Tracker, presses: Sequence[Press], steps: list[Step]) -> list[Step]:
    """The story of a take, with the parts told again that the course of the whole take puts elsewhere."""
    ground = live.ground
    if not _jumped_far(ground, steps):
        return steps
    shift = whole_shift(ground, presses, steps)
    displaced = {step.press for step in steps if step.kind == HIT and step.shift != shift}
    told = [
        ground.moment[step.note]
        if step.note >= 0 and presses[step.press].pitch - ground.pitch[step.note] == shift
        else NOWHERE
        for step in steps
    ]
    jumps = _jumps(presses)
    found = course(ground, presses, shift, jumps, displaced)
    pitches = [press.pitch for press in presses]
    for first, end in _apart(told, found.moments):
        part = slice(max(first - 1, 0), end + 1)
        story = likelihood(ground, told[part], jumps[part], pitches[part])
        if likelihood(ground, found.moments[part], jumps[part], pitches[part]) < story + MARGIN:
            continue
        steps = steps[:first] + _tell(live, presses, steps, found, shift, first, end) + steps[end:]
        if end < len(steps):
            steps[end] = steps[end]._replace(jumped=found.jumped[end])
    return steps


def _jumped_far(ground: Ground, steps: Sequence[Step]) -> bool:
    place = -1
    for step in steps:
        if step.jumped and place >= 0 and not USUAL[0] <= ground.beats[step.place] - ground.beats[place] <= USUAL[1]:
            return True
        place = step.place
    return False


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


def _tell(
    live: Tracker, presses: Sequence[Press], steps: Sequence[Step], found: Course, shift: int, first: int, end: int
) -> list[Step]:
    """Steps for the presses [first, end), led along the course."""
    ground = live.ground
    beam = Beam(ground, live.tempo, ANEW)
    if first:
        place = steps[first - 1].place
        base = ground.first[max(place - MODEL.behind, 0)]
        # Nothing up to here is owed: it counts as sounded.
        sounded = (1 << (ground.first[place + 1] - base)) - 1
        best = live.best
        line = Line(0.0, place, (shift, shift), base, sounded, 0, UNKNOWN, best.tempo, None, silent=best.silent)
        beam.begin_at(line, live.beam)
    start = presses[0].at
    for index in range(first, end):
        at = round(presses[index].at - start, 6)
        moment = found.moments[index]
        best = beam.lines[0]
        strayed = moment != NOWHERE and best.place >= 0 and abs(best.place - moment) > LOST
        if (found.jumped[index] and index) or strayed:
            line = beam.retell(beam.leap(best, shift, moment), [(index, presses[index].pitch, at)], index)
            beam.begin_at(line, live.beam)
            beam.last = at
        else:
            beam.hear(index, presses[index].pitch, at)
    return steps_of(beam.lines[0].step)


@dataclass(frozen=True, slots=True)
class Course:
    """For each press the moment it fits (`NOWHERE` when none), whether it was jumped to, and how likely it all is."""

    moments: tuple[int, ...]
    jumped: tuple[bool, ...]
    score: float


class _Reading:
    """One pass over a take."""

    def __init__(self, ground: Ground) -> None:
        self.ground = ground
        self.score: Floats = np.full(ground.size, NEVER)
        self.last: Ints = np.full(ground.size, NOWHERE, dtype=np.intp)
        self.pitch: Ints = np.full(ground.size, NOWHERE, dtype=np.intp)
        self.goals = Field(ground).goals
        self.sunk = 0.0
        self.origins: dict[int, Ints] = {}
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
        origins = self._origins(pitch, found)
        reached = score[origins] + _COSTS
        reached[0] += np.where(self.pitch[found] == pitch, _AGAIN, _STAY if together else _STAY - 1.0)
        way = reached.argmax(axis=0)
        columns = np.arange(found.size)
        come = reached[way, columns]
        origin = origins[way, columns]
        come = come + before
        best = int(score.argmax())
        if score[best] <= NEVER / 2:
            leap = self.goals(pitch, NOWHERE)
        else:
            leap = score[best] + before + jump + self.goals(pitch, best)
        leapt = leap > come
        total = np.where(leapt, leap, come)
        origin = np.where(leapt, best, origin)
        self.back.append((found, origin, self.last[origin], leapt))
        score[found] = total - self.sunk
        self.last[found] = now
        self.pitch[found] = pitch

    def _origins(self, pitch: int, found: Ints) -> Ints:
        """For each way to come, and each moment that holds the pitch, the moment come from; shape (ways, moments)."""
        known = self.origins.get(pitch)
        if known is None:
            ground = self.ground
            near = [np.clip(found - back, 0, ground.size - 1) for back, _ in _WAYS]
            known = np.stack([found, *near, ground.previous[0][found], ground.previous[1][found]])
            self.origins[pitch] = known
        return known

    def course(self) -> Course:
        """Read the likeliest sequence of moments backwards."""
        moments = [NOWHERE] * len(self.back)
        jumped = [False] * len(self.back)
        if not self.back:
            return Course((), (), 0.0)
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
        return Course(tuple(moments), tuple(jumped), float(self.score.max()) + self.sunk)


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


def likelihood(ground: Ground, told: Sequence[int], jumps: Sequence[float], pitches: Sequence[int]) -> float:
    """What a story scores under the same rough model; `told` gives the moment of each press, or `NOWHERE`."""
    goal = Field(ground).goal_of
    score = 0.0
    place, before = NOWHERE, NOWHERE
    for moment, jump, pitch in zip(told, jumps, pitches, strict=True):
        if moment == NOWHERE:
            score += MODEL.field_misfit
            continue
        if place == NOWHERE:
            score += goal(moment, NOWHERE)
        else:
            leap = jump + goal(moment, place)
            local = _AGAIN if moment == place and pitch == before else _STAY if moment == place else NEVER
            local = max(local, *(cost for back, cost in _WAYS if moment - back == place), NEVER)
            if place in (int(ground.previous[0][moment]), int(ground.previous[1][moment])):
                local = max(local, _HAND)
            score += max(leap, local)
        place, before = moment, pitch
    return score
