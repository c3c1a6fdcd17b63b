"""The field: where else in the piece the last presses would fit, so that a jump is found wherever it goes.

For every moment the likeliest story that left the main one by a jump at some earlier press, knows no notes sounded,
and has played on from there. A press touches only the moments that hold its pitch; all others sink by one constant,
which is kept as a single number.
"""

from __future__ import annotations

from math import log

import numpy as np

from trainer.following.beam import HIT, NOTHING, Line, Step
from trainer.following.ground import Floats, Ground, Ints
from trainer.following.model import MODEL

NEVER = -1e9
MISFIT = -4.5  # a press that does not fit a distant story (tuned)
LONGEST = 16  # presses a distant story is traced back


class Field:
    """Stories that jumped, one for each moment."""

    def __init__(self, ground: Ground) -> None:
        self.ground = ground
        self.score: Floats = np.full(ground.size, NEVER)
        self.since: Ints = np.zeros(ground.size, dtype=np.intp)
        self.sunk = 0.0
        self.pitches: list[int] = []
        self.times: list[float] = []
        self.trunk: list[Step | None] = []
        self.everywhere = -log(max(ground.size, 1))

    def hear(self, press: int, pitch: int, at: float, best: Line, jump: float) -> list[tuple[float, int]]:
        """Take one press and give (score, moment) of the likeliest stories that end with it, best first.

        Parameters
        ----------
        best : Line
            The likeliest story before this press.
        jump : float
            Log probability of a jump now.
        """
        ground = self.ground
        self.pitches.append(pitch)
        self.times.append(at)
        self.trunk.append(best.step)
        self.sunk += MISFIT
        shift = _common(best)
        found = ground.moments_of.get(pitch - shift)
        if found is None:
            return []
        score = self.score
        come = score[found]
        since = self.since[found]
        steps = ((np.maximum(found - 1, 0), 0.0), (np.maximum(found - 2, 0), -2.5), (ground.previous[0][found], -0.7),
                 (ground.previous[1][found], -0.7))  # fmt: skip
        for origin, cost in steps:
            other = score[origin] + cost
            better = other > come
            come = np.where(better, other, come)
            since = np.where(better, self.since[origin], since)
        come = come + self.sunk - MISFIT
        enter = best.score + jump + self._goals(found, best.place)
        leap = enter > come
        total = np.where(leap, enter, come) + MODEL.right - 0.3 * ground.weight[found]
        since = np.where(leap, press, since)
        score[found] = total - self.sunk
        self.since[found] = since
        order = np.argsort(total)[::-1][:4]
        return [(float(total[i]), int(found[i])) for i in order]

    def _goals(self, found: Ints, place: int) -> Floats:
        """Log probability of each moment as the goal of a jump from a place: near and strong places first."""
        ground = self.ground
        strength = 0.5 * ground.strength[found]
        if place < 0:
            return strength + self.everywhere - 1.0
        away = ground.quarters[found] - ground.quarters[place]
        back = np.where(away <= 0.0, -2.0 + away * 0.12, -3.5 - away * 0.12)
        far = self.everywhere - 2.0
        start = np.where(found == 0, -2.5, NEVER)
        goals: Floats = np.maximum(np.maximum(back, far) + strength - 1.0, start)
        return goals

    def line(self, press: int, moment: int, score: float, best: Line) -> Line:
        """The story that ends at a moment, traced back press by press to its jump."""
        ground = self.ground
        shift = _common(best)
        since = max(int(self.since[moment]), press - LONGEST)
        notes: list[int] = []
        at = moment
        for index in range(press, since - 1, -1):
            low = ground.first[max(at - 3, 0)]
            fits = [n for n in ground.near(self.pitches[index] - shift, low, ground.first[at + 1]) if n not in notes]
            if fits:
                notes.append(fits[-1])
                at = ground.moment[fits[-1]]
            else:
                notes.append(-1)
        notes.reverse()
        step = self.trunk[since]
        base = ground.first[max(moment - MODEL.behind, 0)]
        sounded = 0
        place = -1
        begun = self.times[press]
        for index, note in enumerate(notes):
            if note >= 0:
                if ground.moment[note] > place:
                    place = ground.moment[note]
                    begun = self.times[since + index]
                if note >= base:
                    sounded |= 1 << (note - base)
            kind = HIT if note >= 0 else NOTHING
            step = Step(step, since + index, note, kind, shift, place, index == 0)
        return Line(score, moment, (shift, shift), base, sounded, 0, begun, best.tempo, step)


def _common(line: Line) -> int:
    """The displacement both hands share, 0 when they differ."""
    return line.shifts[0] if line.shifts[0] == line.shifts[1] else 0
