# LEAD -> FOLLOWING BUILDER (15:33): integrate this file in settle() (see end of /tmp/critic/README.md), then delete this line.
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

from trainer.following.field import NEVER, Field
from trainer.following.ground import Floats, Ground, Ints
from trainer.following.model import MODEL
from trainer.listening.press import Press

MARGIN = 8.0  # how much likelier the course must be before the story is told again along it (tuned)
APART = 4  # moments that a story may differ from the course without being another story
LOST = 8  # moments that a story told again may stray from the course before it is set back
NOWHERE = -1
_AGAIN = -3.0  # the same key twice in one moment
_STAY = -0.4  # another key of one moment
# Moments back to where the player may have come from, and what that costs: going on, over one, over two, hands apart.
_WAYS = ((1, 0.0), (2, -1.5), (3, -3.0), (-1, -2.5), (-2, -4.0))
_HAND = -0.7  # going on in one hand alone


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
        # For each press: the moments it fits, and for each of them the moment and the press come from, and by a jump?
        self.back: list[tuple[Ints, Ints, Ints, Floats] | None] = []

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
        come = score[found] + np.where(self.pitch[found] == pitch, _AGAIN, _STAY if together else _STAY - 1.0)
        origin = found
        for back, cost in _WAYS:
            other = np.clip(found - back, 0, ground.size - 1)
            better = score[other] + cost > come
            come = np.where(better, score[other] + cost, come)
            origin = np.where(better, other, origin)
        for hand in (0, 1):
            other = ground.previous[hand][found]
            better = score[other] + _HAND > come
            come = np.where(better, score[other] + _HAND, come)
            origin = np.where(better, other, origin)
        come = come + before
        best = int(score.argmax())
        if score[best] <= NEVER / 2:
            leap = self.goals(found, NOWHERE)
        else:
            leap = score[best] + before + jump + self.goals(found, best)
        leapt = leap > come
        total = np.where(leapt, leap, come)
        origin = np.where(leapt, best, origin)
        self.back.append((found, origin, self.last[origin], leapt))
        score[found] = total - self.sunk
        self.last[found] = now
        self.pitch[found] = pitch

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
    goals = Field(ground).goals
    score = 0.0
    place, before = NOWHERE, NOWHERE
    for moment, jump, pitch in zip(told, jumps, pitches, strict=True):
        if moment == NOWHERE:
            score += MODEL.field_misfit
            continue
        here = np.array([moment])
        if place == NOWHERE:
            score += float(goals(here, NOWHERE)[0])
        else:
            leap = jump + float(goals(here, place)[0])
            local = _AGAIN if moment == place and pitch == before else _STAY if moment == place else NEVER
            local = max(local, *(cost for back, cost in _WAYS if moment - back == place), NEVER)
            if place in (int(ground.previous[0][moment]), int(ground.previous[1][moment])):
                local = max(local, _HAND)
            score += max(leap, local)
        place, before = moment, pitch
    return score
