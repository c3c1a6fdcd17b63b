"""The field: where else in the piece the last presses would fit, so that a jump is found wherever it goes.

For every moment the likeliest story that left the main one by a jump at some earlier press and has played on from
there, told roughly: it knows no notes sounded and no tempo. A press touches only the moments that hold its pitch; all
others sink by one constant, which is kept as a single number. What looks likely here is told again in full by the
beam before it is believed.
"""

from __future__ import annotations

from collections import deque
from functools import lru_cache
from math import inf, log
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from trainer.following.ground import GRID, Floats, Ground, Ints, row_by_row
from trainer.following.model import LIVE, MODEL, Search
from trainer.following.story import Line

Jumps = NDArray[np.int64]
NEVER = -1e9
# Cost of each way of `Ground.ways`, for a press together with the one before and for one apart from it (tuned).
_APART = (-1.2, 0.0, -1.5, -3.0, -0.7, -0.7)
_TOGETHER = (0.0, -2.5, -4.0, -5.5, -3.2, -3.2)

_NEAR = 8.5  # beats within which the goal of a jump is near
_MOMENTS = 16  # and moments, about as many
_MENDED = 2.1  # beats back within which a jump puts right a slip just made
ECHOES = 2  # like passages near by that are told beside a far one
_GOAL = 32  # bits of the goal in a jump told as one number: its press, its goal


class Mend(NamedTuple):
    """How much likelier a jump puts a slip right: one back a little and, on top, one to the very moment."""

    back: float
    here: float


NO_MEND = Mend(0.0, 0.0)


class Heard(NamedTuple):
    """One recent press: index, pitch, time, the likeliest story before it.

    `leaver` is the story a jump here is likeliest to leave, `jump` the log probability of that jump.
    """

    press: int
    pitch: int
    at: float
    best: Line
    leaver: Line
    jump: float
    mend: Mend = NO_MEND


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
    mend: Mend = NO_MEND


class Anchor(NamedTuple):
    """Where the player was before the main story last went far away.

    Until that has proved itself the player may well be near there still: beats from the start of the piece, time,
    press of the last far jump, and how many beats further on the player may have come since.
    """

    beats: float
    at: float
    press: int
    ahead: float = 0.0

    def near(self) -> tuple[float, float]:
        """Beats between which the player may be."""
        return self.beats - _NEAR, self.beats + _NEAR + self.ahead


class Near(NamedTuple):
    """How much likelier than a far place are the moments [low, high) near a place, as goals of a jump."""

    place: int
    mend: Mend
    low: int
    high: int
    goals: Floats


class Field:
    """Stories that jumped, one for each moment, the whole of each displaced by `shift` semitones."""

    def __init__(self, ground: Ground, search: Search = LIVE, shift: int = 0) -> None:
        self.ground = ground
        self.search = search
        self.shift = shift
        self.score: Floats = np.full(ground.size, NEVER)
        # The jump of each, press and goal in one number.
        self.jump: Jumps = np.zeros(ground.size, dtype=np.int64)
        self.sunk = 0.0
        self.recent: deque[Heard] = deque(maxlen=MODEL.field_memory)
        self.entry = Entry(NEVER, 0, -1)
        self.usual = -0.8  # what a press lately cost the main story
        self.everywhere = -log(max(ground.size, 1))
        self.far = self.everywhere + MODEL.goal_far
        self.likelier = _likelier(self.far)
        self._farther = _farther(ground.size)
        self._nearest: Near | None = None
        self._together, self._apart = (row_by_row(costs, ground.widest) for costs in (_TOGETHER, _APART))
        self.last = -1
        self.anchor: Anchor | None = None
        self.begun = True  # whether the piece has been begun in earnest, or only tried, or not at all

    def hear(self, heard: Heard, floor: float = NEVER) -> list[Rival]:
        """Take one press and give the likeliest distant stories that end with it, from a floor up, best first."""
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
        pitch = heard.pitch - self.shift
        found = ground.moments_of.get(pitch)
        if found is None:
            self._slip_in(heard, pitch)
            return []
        origin, total = self._come(pitch, waited)
        total += before
        over = float(total.max()) - (heard.best.score - MODEL.field_below)
        if over > 0.0:  # all distant stories are thought too likely; what lies between them is kept
            total -= over
            self.sunk -= over
        enter = self.goals(pitch, self.entry.place, self.entry.mend)
        enter += self.entry.score
        jump = self.jump.take(origin)
        leap = enter > total
        leap |= jump < _jumped(heard.press - MODEL.field_memory + 1)
        np.copyto(total, enter, where=leap)
        np.copyto(jump, found + _jumped(self.entry.since), where=leap)
        total += self.usual
        self.score[found] = total - self.sunk
        self.jump[found] = jump
        self._slip_in(heard, pitch)
        rivals: list[Rival] = []
        for _ in range(min(self.search.retold, total.size)):
            at = int(total.argmax())
            score = float(total[at])
            if score < floor:
                break
            since, goal = divmod(int(jump[at]), 1 << _GOAL)
            rivals.append(Rival(score, int(found[at]), since, goal, float(enter[at]) + self.usual))
            total[at] = -inf
        return rivals

    def _slip_in(self, heard: Heard, pitch: int) -> None:
        """Stories that jump now, to a moment near by, with a slip as their first press."""
        entry, ground = self.entry, self.ground
        if entry.since != heard.press or entry.place < 0 or heard.jump < MODEL.field_jump:
            return
        beats = ground.beats[entry.place]
        low, high = ground.beats.searchsorted((beats - _NEAR, beats + _NEAR))
        near = self._near(entry.place, entry.mend)
        total = near.goals[low - near.low : high - near.low] + ground.strength[low:high]
        total += ground.slip_at(pitch, low, high)
        total += entry.score + self.far + MODEL.field_slip_in - self.sunk
        (likelier,) = (total > self.score[low:high]).nonzero()
        moments = likelier + low
        self.score[moments] = total[likelier]
        self.jump[moments] = moments + _jumped(heard.press)

    def correct(self, rival: Rival, score: float) -> Rival | None:
        """Put right a distant story that, told in full, scores less than was thought.

        Gives the story that jumps only now instead, when that is likelier.
        """
        moment = rival.moment
        anew = self.anew(rival, score)
        if anew is None:
            self.score[moment] = min(rival.score, score) - self.sunk
            return None
        self.score[moment] = rival.fresh - self.sunk
        self.jump[moment] = _jumped(self.entry.since) + moment
        return anew

    def anew(self, rival: Rival, floor: float) -> Rival | None:
        """The story that jumps only now to where a distant one is, unless that is the same or likely below a floor."""
        if rival.fresh <= floor or (self.entry.since, rival.moment) == (rival.since, rival.goal):
            return None
        return rival._replace(score=rival.fresh, since=self.entry.since, goal=rival.moment)

    def nearer(self, rival: Rival) -> list[Rival]:
        """The story of a rival that went far, told of the like passages near the place it left.

        Of near places `score` remembers the latest jump there, so an earlier one is not found by itself.
        """
        at = rival.since - self.recent[0].press
        if not 0 <= at < len(self.recent) - 1 or self.recent[at].leaver.place < 0:
            return []
        ground = self.ground
        beats = float(ground.beats[self.recent[at].leaver.place])
        if abs(float(ground.beats[rival.goal]) - beats) <= _NEAR:
            return []
        first, last = min(rival.goal, rival.moment), max(rival.goal, rival.moment)
        gone = float(ground.beats[last] - ground.beats[rival.goal])
        low, high = ground.beats.searchsorted((beats - _NEAR + gone, beats + _NEAR + gone))
        return [
            rival._replace(moment=rival.moment + by, goal=rival.goal + by)
            for by in ground.echoes(first, last, int(low), int(high))[:ECHOES]
        ]

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
        now = heard.leaver.score + heard.jump
        kept = self.entry.score + MODEL.field_slip
        if kept > now and self.entry.since >= heard.press - MODEL.field_slips:
            self.entry = Entry(kept, self.entry.since, self.entry.place, self.entry.mend)
        else:
            self.entry = Entry(now, heard.press, heard.leaver.place, heard.mend)

    def _come(self, pitch: int, waited: float) -> tuple[Ints, Floats]:
        """For each moment of a pitch, where its likeliest story stood before this press, and that story's score."""
        ways = self.ground.ways[pitch]
        scores = self.score.take(ways)
        scores += (self._together if waited < MODEL.near else self._apart)[: len(ways)]
        best = scores.argmax(axis=1)
        best += self.ground.rows[pitch]
        return ways.take(best), scores.take(best)

    def goals(self, pitch: int, place: int, mend: Mend = NO_MEND) -> Floats:
        """Log probability of each moment of a pitch as the goal of a jump from a place: near and strong places first.

        From nowhere (place -1) a take begins at the start of the piece, or where the page lies, unless there is reason
        to think otherwise; so it mostly does after a warm-up and a first try.
        """
        ground = self.ground
        found, strength = ground.moments_of[pitch], ground.strength_of[pitch]
        goals: Floats = strength + self._farther_from(place).take(found)
        if place < 0:
            goals += self.everywhere + MODEL.goal_first
        else:
            goals += self.far
            near = self._near(place, mend)
            low, high = found.searchsorted((near.low, near.high))
            if low < high:
                goals[low:high] += near.goals[found[low:high] - near.low]
            if self.anchor is not None:
                low, high = ground.beats_of[pitch].searchsorted(self.anchor.near())
                np.maximum(goals[low:high], strength[low:high] + MODEL.goal_anchor, out=goals[low:high])
        if found[0] == 0:
            goals[0] = max(goals[0], MODEL.goal_start)
        if place < 0 or not self.begun:
            goals[found == ground.begins] = 0.0 if place < 0 else MODEL.goal_begins
        return goals

    def goal_of(self, moment: int, place: int, mend: Mend = NO_MEND) -> float:
        """The same for one moment, without arrays: told so several times a press."""
        ground = self.ground
        farther = float(self._farther_from(place)[moment])
        if place < 0:
            goal = self.everywhere + MODEL.goal_first + farther
        else:
            away = int(ground.grid[moment] - ground.grid[place])
            likelier = self.likelier[int(ground.phase[moment] == ground.phase[min(place + 1, ground.size - 1)])]
            middle = likelier.size // 2
            goal = self.far + farther + (float(likelier[middle + away]) if abs(away) <= middle else 0.0)
            if -_MENDED * GRID <= away <= 0:
                goal += mend.back if away else mend.back + mend.here
            if self.anchor is not None:
                low, high = self.anchor.near()
                goal = max(goal, MODEL.goal_anchor) if low <= ground.beats[moment] < high else goal
        goal += float(ground.strength[moment])
        if moment == ground.begins and (place < 0 or not self.begun):
            return 0.0 if place < 0 else MODEL.goal_begins
        return goal if moment else max(goal, MODEL.goal_start)

    def _farther_from(self, place: int) -> Floats:
        """What its distance costs each moment as the goal of a jump; from nowhere one sets out where the page lies."""
        size = self.ground.size
        here = place if place >= 0 else self.ground.begins
        return self._farther[size - 1 - here : 2 * size - 1 - here]

    def _near(self, place: int, mend: Mend) -> Near:
        """How much likelier than a far place each moment near a place is; of a chord for every key the same."""
        known = self._nearest
        if known is not None and known.place == place and known.mend == mend:
            return known
        ground = self.ground
        here, grid = int(ground.grid[place]), ground.grid
        width = self.likelier.shape[1]
        low, high = grid.searchsorted((here - width // 2, here + width // 2 + 1)).tolist()
        which = grid[low:high] - (here - width // 2)
        which += (ground.phase[low:high] == ground.phase[min(place + 1, ground.size - 1)]) * width
        goals: Floats = self.likelier.take(which)
        if mend.back:
            back, same, ahead = grid.searchsorted((here - int(_MENDED * GRID), here, here + 1)) - low
            goals[back:ahead] += mend.back
            goals[same:ahead] += mend.here
        self._nearest = Near(place, mend, low, high, goals)
        return self._nearest

    def presses_since(self, press: int) -> list[Heard]:
        """The recent presses from one on; empty when it is no longer remembered."""
        first = self.recent[0].press
        return [] if press < first else list(self.recent)[press - first :]


def _jumped(press: int) -> int:
    """A jump at a press, to which its goal is added, as one number."""
    return press << _GOAL


@lru_cache(maxsize=8)
def _likelier(far: float) -> Floats:
    """How much likelier than a far place, itself of log probability `far`, a near one is as the goal of a jump.

    By its distance in steps of the grid, the middle being the place left; the second row for whole beats from where the
    player was about to go on. At the ends all is equally far.
    """
    reach = _NEAR + max(MODEL.goal_back + MODEL.goal_phase - far, 0.0) / MODEL.goal_fades
    away = np.arange(-int(reach * GRID), int(reach * GRID) + 1) / GRID
    goals = np.where(away <= 0.0, MODEL.goal_back - far, MODEL.goal_ahead - far)
    goals -= np.maximum(np.abs(away) - _NEAR, 0.0) * MODEL.goal_fades
    return np.maximum([goals - MODEL.goal_phase, goals + MODEL.goal_phase], 0.0)


@lru_cache(maxsize=8)
def _farther(size: int) -> Floats:
    """What the distance of a goal costs, by how many moments it lies ahead; the middle is the place left."""
    away = np.abs(np.arange(1 - size, size)) / _MOMENTS
    return -MODEL.goal_farther * np.log(np.maximum(away, 1.0))
