"""The tracker: beam and field together, press by press."""

from __future__ import annotations

from trainer.following.beam import Beam
from trainer.following.field import NEVER, Field, Heard, Rival
from trainer.following.ground import Ground
from trainer.following.model import LIVE, MODEL, Search
from trainer.following.story import SLIP, Line

TOLD = 64  # distant stories remembered as they were last told


class Tracker:
    """Carries the stories of a take from press to press and learns how the player plays."""

    def __init__(self, ground: Ground, tempo: float, search: Search = LIVE) -> None:
        self.ground = ground
        self.tempo = tempo
        self.search = search
        self.beam = Beam(ground, tempo, search)
        self.field = Field(ground, search)
        self._left = 0
        self._told: dict[tuple[int, int, int], tuple[int, Line]] = {}

    @property
    def best(self) -> Line:
        """The likeliest story."""
        return self.beam.lines[0]

    def begin_at(self, line: Line, known: Beam) -> None:
        """Begin in the middle of a take: from one story, knowing the player as another beam does."""
        self.beam.begin_at(line, known)

    def hear(self, press: int, pitch: int, at: float) -> Line:
        """Take one press; gives the likeliest story with it."""
        before = self.best
        rivals = self.field.hear(Heard(press, pitch, at, before, self._jump(before, at)))
        self.beam.hear(press, pitch, at)
        self._admit(rivals)
        now = self.best
        self._learn(before, now)
        self.beam.learn_slips(now.step is not None and now.step.kind == SLIP)
        return now

    def _jump(self, best: Line, at: float) -> float:
        """Log probability of a jump before this press, from the pause before it."""
        if best.place < 0 or not self.field.recent:
            return 0.0
        waited = at - self.field.recent[-1].at
        ground = self.ground
        following = min(best.place + 1, ground.size - 1)
        due = max((ground.onset[following] - ground.onset[best.place]) * best.tempo, 0.15)
        paused = min(max((waited / due - 1.3) / 2.0, 0.0), 1.0) if waited > 0.4 else 0.0
        broken_off = MODEL.broken_off * self.beam.unanswered(best)
        if waited < MODEL.near:
            return MODEL.jump_at_once - broken_off
        return MODEL.jump + paused * (MODEL.jump_paused - MODEL.jump) - broken_off

    def _admit(self, rivals: list[Rival]) -> None:
        """Tell likely distant stories in full, and let them into the beam."""
        lines = self.beam.lines
        self._left = self.search.again
        for rival in rivals[: self.search.retold]:
            if rival.score < lines[0].score - self.search.promote:
                break
            if any(line.place == rival.moment and line.score > rival.score for line in lines):
                continue
            told = self._retell(rival)
            if told is None:
                continue
            # A story that in full has come to another place says nothing of a jump to this one.
            full = told.score if told.place == rival.moment else NEVER
            again = self.field.correct(rival, full)
            stories = [told] if again is None or full > NEVER else []
            if again is not None and (anew := self._retell(again)) is not None:
                stories.append(anew)
            for story in stories:
                if story.score > lines[-1].score - self.search.admit:
                    self.beam.admit(story)

    def _retell(self, rival: Rival) -> Line | None:
        """A distant story in full; None when its jump is no longer remembered, or too much has been told already.

        What was told of it at an earlier press is not told again.
        """
        field = self.field
        which = rival.since, rival.goal, field.shift
        told = self._told.get(which)
        heard = field.presses_since(rival.since if told is None else told[0] + 1)
        if not heard:
            return None if told is None or told[0] < field.recent[-1].press else told[1]
        self._left -= len(heard)
        if self._left < 0:
            return None
        if told is None:
            start = heard[0]
            leapt = start.best.scored(start.best.score + start.jump + field.goal_of(rival.goal, start.best.place))
            line = self.beam.leap(leapt, field.shift, rival.goal)
        else:
            line = told[1]
        line = self.beam.retell(line, [(h.press, h.pitch, h.at) for h in heard], rival.since)
        if len(self._told) >= TOLD:
            self._told = dict(list(self._told.items())[TOLD // 2 :])
        self._told[which] = heard[-1].press, line
        return line

    def _learn(self, before: Line, now: Line) -> None:
        """Count the notes answered and left out when the likeliest story goes on to a later moment."""
        ground = self.ground
        step = now.step
        if step is None or step.before is not before.step or not 0 <= before.place < now.place:
            return
        done = before.sounded | before.tried
        for hand in (0, 1):
            if hand == now.silent:
                continue
            hits = misses = 0
            low, high = ground.first[before.place], ground.first[now.place]
            for note in range(low, min(high, low + 24)):
                if ground.hand[note] == hand and ground.needed[note]:
                    if note - before.base < 64 and done >> (note - before.base) & 1:
                        hits += 1
                    else:
                        misses += 1
            if hits or misses:
                self.beam.learn_misses(hand, hits, misses)
