"""A take read roughly: for each press the moment it fits best, by a model that drops nothing.

The hidden state is the moment alone; a press either fits the moment or costs a fixed misfit; the player stays, goes on,
or jumps. The likeliest sequence of moments (Viterbi) costs a few array operations a press, because a press touches only
the moments that hold its pitch; all others sink by one constant.

Source of the algorithm: A. Viterbi, "Error bounds for convolutional codes", IEEE Trans. Inf. Theory 13 (1967).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from trainer.following.field import NEVER, Field
from trainer.following.ground import Floats, Ground, Ints, row_by_row
from trainer.following.model import MODEL

NOWHERE = -1
NO_KEY = -1000  # the pitch of a press that says nothing of the place
_AGAIN = -3.0  # the same key twice in one moment
_STAY = -0.4  # another key of one moment
# Moments back to where the player may have come from, and what that costs: going on, over one, over two, hands apart.
_WAYS = ((1, 0.0), (2, -1.5), (3, -3.0), (-1, -2.5), (-2, -4.0))
_BACK = tuple(back for back, _ in _WAYS)
_HAND = -0.7  # going on in one hand alone
# Staying costs what the press says; then the ways above, then each hand's own last moment.
_COSTS = (0.0, *(cost for _, cost in _WAYS), _HAND, _HAND)


@dataclass(frozen=True, slots=True)
class Course:
    """For each press the moment it fits (`NOWHERE` when none), and whether it was jumped to."""

    moments: tuple[int, ...]
    jumped: tuple[bool, ...]


class Reading:
    """One pass over a take, or a part of it, that lies `shift` semitones from what is asked for."""

    def __init__(self, ground: Ground, shift: int = 0) -> None:
        self.ground = ground
        self.shift = shift
        self.at = -inf
        self.score: Floats = np.full(ground.size, NEVER)
        self.last: Ints = np.full(ground.size, NOWHERE, dtype=np.intp)
        self.pitch: Ints = np.full(ground.size, NOWHERE, dtype=np.intp)
        self.goals = Field(ground).goals
        self._costs = row_by_row(_COSTS, ground.widest)
        self.sunk = 0.0
        self.likeliest = 0  # of all moments
        # For each press: the moments it fits, and for each of them the moment and the press come from, and by a jump?
        self.back: list[tuple[Ints, Ints, Ints, NDArray[np.bool_]] | None] = []

    @property
    def best(self) -> float:
        """Log probability of the likeliest sequence of moments, up to what all have in common."""
        return float(self.score[self.likeliest]) + self.sunk

    def go_on(self, heard: Iterable[tuple[int, int, float]]) -> None:
        """Take some presses (index, pitch, seconds), jumps being hardly likely before any."""
        for _, pitch, at in heard:
            self.hear(pitch, MODEL.jump, at - self.at < MODEL.near)
            self.at = at

    def hear(self, pitch: int, jump: float, together: bool) -> None:
        """Take one press; `jump` is the log probability of a jump here."""
        ground = self.ground
        pitch -= self.shift
        found = ground.moments_of.get(pitch)
        before = self.sunk
        self.sunk += MODEL.field_misfit
        if found is None:
            self.back.append(None)
            return
        now = len(self.back)
        score = self.score
        origins, rows = ground.reached_from(pitch, _BACK)
        reached = score.take(origins)
        reached += self._costs[: len(found)]
        reached[:, 0] += np.where(self.pitch.take(found) == pitch, _AGAIN, _STAY if together else _STAY - 1.0)
        way = reached.argmax(axis=1)
        way += rows
        come = reached.take(way)
        come += before
        origin = origins.take(way)
        best = self.likeliest
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
            self.likeliest = int(score.argmax())
        elif total.max() - self.sunk > score[best]:
            self.likeliest = int(found[total.argmax()])

    def course(self) -> Course:
        """Read the likeliest sequence of moments backwards."""
        moments = [NOWHERE] * len(self.back)
        jumped = [False] * len(self.back)
        if not self.back:
            return Course((), ())
        moment = self.likeliest
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
