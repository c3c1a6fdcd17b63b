"""The field: where else in the piece the last presses would fit, so that a jump is found wherever it goes.

For every moment the likeliest story that left the main one by a jump at some earlier press and has played on from
there, told roughly: it knows no notes sounded and no tempo. A press touches only the moments that hold its pitch; all
others sink by one constant, which is kept as a single number. What looks likely here is told again in full by the
beam before it is believed.
"""

from __future__ import annotations

from collections import deque
from math import log
from typing import NamedTuple

import numpy as np

from trainer.following.ground import Floats, Ground, Ints
from trainer.following.model import LIVE, MODEL, Search
from trainer.following.story import HIT, Line

NEVER = -1e9
# Cost of each way of `Ground.ways`, for a press together with the one before and for one apart from it (tuned).
_APART = np.array([[-1.2], [0.0], [-1.5], [-3.0], [-0.7], [-0.7]])
_TOGETHER = np.array([[0.0], [-2.5], [-4.0], [-5.5], [-3.2], [-3.2]])

_NEAR = 8.5  # beats within which the goal of a jump is near


class Heard(NamedTuple):
    """One recent press: index, pitch, time, the likeliest story before it, log probability of a jump."""

    press: int
    pitch: int
    at: float
    best: Line
    jump: float


class Rival(NamedTuple):
    """A distant story: rough score, the moment it has reached, the press and the moment of its jump.

    `fresh` is the score of having jumped to that moment only now.
    """

    score: float
    moment: int
    since: int
    goal: int
    fresh: float


class Entry(NamedTuple):
    """A jump whose goal is not yet known: its score so far, its first press, the place it left."""

    score: float
    since: int
    place: int


class Anchor(NamedTuple):
    """Where the player was before the main story last went far away.

    Until that has proved itself the player may well be near there still: beats from the start of the piece, time,
    press of the last far jump, and how many beats further on the player may have come since.
    """

    beats: float
    at: float
    press: int
    ahead: float = 0.0


class Field:
    """Stories that jumped, one for each moment."""

    def __init__(self, ground: Ground, search: Search = LIVE) -> None:
        self.ground = ground
        self.search = search
        self.score: Floats = np.full(ground.size, NEVER)
        self.since: Ints = np.zeros(ground.size, dtype=np.intp)
        self.goal: Ints = np.zeros(ground.size, dtype=np.intp)
        self.sunk = 0.0
        self.recent: deque[Heard] = deque(maxlen=MODEL.field_memory)
        self.entry = Entry(NEVER, 0, -1)
        self.shift = self.lately = self.lasted = 0
        self.usual = -0.8  # what a press lately cost the main story
        self.everywhere = -log(max(ground.size, 1))
        self.last = -1
        self.anchor: Anchor | None = None

    def hear(self, heard: Heard) -> list[Rival]:
        """Take one press and give the likeliest distant stories that end with it, best first."""
        ground = self.ground
        waited = 1.0
        if self.recent:
            waited = heard.at - self.recent[-1].at
            cost = heard.best.score - self.recent[-1].best.score
            self.usual += 0.1 * (min(max(cost, -3.0), 0.0) - self.usual)
        self.recent.append(heard)
        before = self.sunk
        self.sunk += MODEL.field_misfit
        self._moor(heard)
        self._enter(heard)
        self._steady(heard.press, heard.best)
        pitch = heard.pitch - self.shift
        found = ground.moments_of.get(pitch)
        if found is None:
            return []
        origin, come = self._come(pitch, waited)
        come += before
        over = float(come.max()) - (heard.best.score - MODEL.field_below)
        if over > 0.0:  # all distant stories are thought too likely; what lies between them is kept
            come -= over
            self.sunk -= over
        enter = self.goals(pitch, self.entry.place)
        enter += self.entry.score
        since = self.since.take(origin)
        leap = enter > come
        leap |= since <= heard.press - MODEL.field_memory
        enter += self.usual
        come += self.usual
        total = np.where(leap, enter, come)
        since = np.where(leap, self.entry.since, since)
        goal = np.where(leap, found, self.goal.take(origin))
        self.score[found] = total - self.sunk
        self.since[found] = since
        self.goal[found] = goal
        order = total.argsort()[: -self.search.retold - 1 : -1]
        return [Rival(float(total[i]), int(found[i]), int(since[i]), int(goal[i]), float(enter[i])) for i in order]

    def correct(self, rival: Rival, score: float) -> Rival | None:
        """Put right a distant story that, told in full, scores less than was thought.

        Gives the story that jumps only now instead, when that is likelier.
        """
        moment = rival.moment
        if score >= rival.fresh or self.entry.since == rival.since:
            self.score[moment] = min(rival.score, score) - self.sunk
            return None
        self.score[moment] = rival.fresh - self.sunk
        self.since[moment] = self.entry.since
        self.goal[moment] = moment
        return rival._replace(score=rival.fresh, since=self.entry.since, goal=moment)

    def _steady(self, press: int, best: Line) -> None:
        """Believe in a displacement of the whole take, which a jump would not end, once enough notes were hit at it."""
        shift = common(best)
        if shift != self.lately:
            self.lately, self.lasted = shift, 0
        elif best.step is not None and best.step.kind == HIT:
            self.lasted += 1
        if self.lasted >= (3 if press <= MODEL.early else MODEL.field_steady):
            self.shift = shift

    def _moor(self, heard: Heard) -> None:
        """Remember the place from which the main story goes far away, until it has stayed there for a while."""
        place, last = heard.best.place, self.last
        self.last = place
        beats = self.ground.beats
        anchor = self.anchor
        if last >= 0 and abs(beats[place] - beats[last]) > _NEAR:
            anchor = Anchor(float(beats[last]), heard.at, heard.press) if anchor is None else anchor
            anchor = anchor._replace(press=heard.press)
        elif anchor is not None and heard.press - anchor.press >= MODEL.anchored:
            anchor = None
        if anchor is not None:
            anchor = anchor._replace(ahead=min((heard.at - anchor.at) / heard.best.tempo, 1.5 * _NEAR))
        self.anchor = anchor

    def _enter(self, heard: Heard) -> None:
        """Either the jump comes now, or it came before and the presses since have been slips."""
        now = heard.best.score + heard.jump
        kept = self.entry.score + MODEL.field_slip
        if kept > now and self.entry.since >= heard.press - MODEL.field_slips:
            self.entry = Entry(kept, self.entry.since, self.entry.place)
        else:
            self.entry = Entry(now, heard.press, heard.best.place)

    def _come(self, pitch: int, waited: float) -> tuple[Ints, Floats]:
        """For each moment of a pitch, where its likeliest story stood before this press, and that story's score."""
        ways = self.ground.ways[pitch]
        scores = self.score.take(ways)
        scores += _TOGETHER if waited < MODEL.near else _APART
        best = scores.argmax(axis=0)
        return ways[best, self.ground.columns[pitch]], scores.max(axis=0)

    def goals(self, pitch: int, place: int) -> Floats:
        """Log probability of each moment of a pitch as the goal of a jump from a place: near and strong places first.

        From nowhere (place -1) a take begins at the start of the piece unless there is reason to think otherwise.
        """
        ground = self.ground
        strength = ground.strength_of[pitch]
        starts = ground.moments_of[pitch][0] == 0
        goals: Floats
        if place < 0:
            goals = strength + (self.everywhere + MODEL.goal_first)
            if starts:
                goals[0] = 0.0
            return goals
        away = ground.beats_of[pitch] - ground.beats[place]
        goals = np.where(away <= 0.0, MODEL.goal_back, MODEL.goal_ahead)
        np.abs(away, out=away)
        away -= _NEAR
        np.maximum(away, 0.0, out=away)
        away *= MODEL.goal_fades
        goals -= away
        np.maximum(goals, self.everywhere + MODEL.goal_far, out=goals)
        if self.anchor is not None:
            away = ground.beats_of[pitch] - self.anchor.beats
            near = (away >= -_NEAR) & (away <= _NEAR + self.anchor.ahead)
            np.maximum(goals, MODEL.goal_anchor, out=goals, where=near)
        goals += strength
        if starts:
            goals[0] = max(goals[0], MODEL.goal_start)
        return goals

    def goal_of(self, moment: int, place: int) -> float:
        """The same for one moment."""
        ground = self.ground
        pitch = ground.pitch[ground.first[moment]]
        return float(self.goals(pitch, place)[ground.moments_of[pitch].searchsorted(moment)])

    def presses_since(self, press: int) -> list[Heard]:
        """The recent presses from one on; empty when it is no longer remembered."""
        first = self.recent[0].press
        return [] if press < first else list(self.recent)[press - first :]


def common(line: Line) -> int:
    """The displacement both hands share, 0 when they differ."""
    return line.shifts[0] if line.shifts[0] == line.shifts[1] else 0
