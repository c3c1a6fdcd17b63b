"""The tracker: beam and field together, press by press."""

from __future__ import annotations

from collections import deque
from math import log, log1p

from trainer.following.beam import Beam
from trainer.following.field import NEVER, NO_MEND, Field, Heard, Mend, Rival
from trainer.following.ground import Ground
from trainer.following.model import LIVE, MODEL, Search
from trainer.following.openings import AT, LATELY, Pressed, elsewhere, found_again, is_lost, one_or_both
from trainer.following.story import AGAIN, HIT, NEITHER, NOTHING, SLIP, UNKNOWN, Line, Step

TELLERS = 4  # stories that may be told
MENDING = 4  # presses after a slip in which the player goes back to put it right
LEAVERS = 4  # stories a jump may leave
TOLD = 64  # distant stories remembered as they were last told
LOOK, SELDOM = 8, 32  # presses after which a player who is lost is looked for again, at first and at the most (speed)


class Steady:
    """Whether the likeliest story has been displaced for so long, both hands alike, that the whole take may be."""

    def __init__(self) -> None:
        self._lately = self._lasted = self._believed = 0

    def believe(self, best: Line) -> None:
        """Where a story lies, both hands alike, has been proved otherwise."""
        if best.shifts[0] == best.shifts[1]:
            self._lately = self._believed = best.shifts[0]
            self._lasted = MODEL.field_steady

    def shift(self, press: int, best: Line) -> int:
        """The displacement believed, once enough notes were hit at it: a jump would not end it."""
        right, left = best.shifts
        if best.silent != NEITHER:
            right = left = best.shifts[1 - best.silent]
        if right != left:  # one hand astray says nothing of the whole
            return self._believed
        if right != self._lately:
            self._lately, self._lasted = right, 0
        elif best.step is not None:
            # Who is lost hits now and then as well.
            self._lasted = self._lasted + 1 if best.step.kind == HIT else max(self._lasted - 1, 0)
        if self._lasted >= (3 if press <= MODEL.early else MODEL.field_steady):
            self._believed = right
        return self._believed


class Mending:
    """How this player puts slips right: the one note, or all of its moment struck anew."""

    def __init__(self, ground: Ground) -> None:
        self._ground = ground
        self.share = MODEL.anew
        self._counted = -1

    def mend(self, step: Step | None) -> Mend:
        """How much likelier the player now goes back a little: after a slip, or for some after any stray key."""
        here = min(max(log(self.share / MODEL.anew), 0.0), MODEL.anew_most)
        for _ in range(MENDING):
            if step is None:
                break
            if step.kind == SLIP:
                return Mend(MODEL.goal_mends, here)
            if step.kind == NOTHING and here:
                return Mend(min(MODEL.goal_mends, here), here)
            step = step.before
        return NO_MEND

    def learn(self, before: Line, now: Line) -> None:
        """Count a slip just put right, as the likeliest story before and with the last press tells it."""
        step = now.step
        for _ in range(MENDING):
            if step is None or step.press <= self._counted:
                return
            if step.jumped:
                origin = step.before
                if origin is not None and 0 <= origin.place == step.place:
                    self._count(step, anew=True)
                return
            if step is now.step and step.before is before.step and step.kind == HIT and step.place == before.place:
                bit = step.note - before.base
                chord = len(self._ground.own[step.place]) > 1
                if chord and bit >= 0 and before.tried >> bit & 1 and not before.sounded >> bit & 1:
                    self._count(step, anew=False)
                    return
            step = step.before

    def _count(self, step: Step, *, anew: bool) -> None:
        self._counted = step.press
        self.share += MODEL.anew_learnt * (anew - self.share)


class Tracker:
    """Carries the stories of a take from press to press and learns how the player plays."""

    def __init__(self, ground: Ground, tempo: float, search: Search = LIVE) -> None:
        self.ground = ground
        self.tempo = tempo
        self.search = search
        self.beam = Beam(ground, tempo, search)
        self.field = Field(ground, search)
        self.field.begun = False
        self._begun = 0
        self._away: Field | None = None  # the same for a whole take displaced
        self._steady = Steady()
        self._mending = Mending(ground)
        self._left = 0
        self._calm = 0  # presses since the likeliest story last jumped
        self._told: dict[tuple[int, int, int], tuple[int, list[Line]]] = {}
        self._opening: list[Pressed] = []  # the first presses of the take, where it is told from the start
        self._lately: deque[Heard] = deque(maxlen=LATELY)
        self._lain = {0}  # intervals the take has lain at
        self._look = AT[-1]  # the press at which a player who is lost is looked for
        self._wait = LOOK

    @property
    def best(self) -> Line:
        """The likeliest story."""
        return self.beam.lines[0]

    def know(self, known: Tracker) -> None:
        """Take over what another tracker has learnt of the player."""
        self.beam.know(known.beam)
        self._mending.share = known._mending.share
        self._calm = known._calm

    def begin_at(self, line: Line) -> None:
        """Begin in the middle of a take, from one story."""
        self.beam.begin_at(line)
        self.field.begun = True
        self._steady.believe(line)

    def hear(self, press: int, pitch: int, at: float) -> Line:
        """Take one press; gives the likeliest story with it."""
        before = self.best
        leaver, jump = self._leave(at)
        heard = Heard(press, pitch, at, before, leaver, jump, self._mending.mend(leaver.step))
        away = self._displaced(press, before)
        home = heard if away is None else heard._replace(jump=jump + MODEL.replace)
        self.beam.hear(press, pitch, at)
        floor = self.best.score - self.search.promote
        rivals = [
            (field, field.hear(one, floor)) for field, one in ((away, heard), (self.field, home)) if field is not None
        ]
        self._left = self.search.again
        for field, found in rivals:
            self._admit(field, found)
        if press == len(self._opening) < AT[-1]:
            self._opening.append((press, pitch, at))
            if press + 1 in AT:
                self._found(elsewhere(self.beam, self.field, self._opening, self.tempo))
        self._lately.append(heard)
        if press >= self._look:
            self._find(press)
        now = self.best
        self._learn(before, now)
        self._mending.learn(before, now)
        if now.step is not None:
            self._calm = 0 if now.step.jumped else self._calm + 1
            self._begin(now.step)
            self.beam.learn_slips(now.step.kind == SLIP)
            self.beam.learn_again(now.step.kind == AGAIN)
        return now

    def _begin(self, step: Step) -> None:
        """Whether the piece has been begun in earnest; a warm-up hits some keys of it, too."""
        if not self.field.begun:
            self._begun = max(self._begun + (1 if step.kind == HIT else -1), 0)
            self.field.begun = self._begun >= MODEL.begun
            if self._away is not None:
                self._away.begun = self.field.begun

    def _find(self, press: int) -> None:
        """Look anywhere, at any interval, for a player who has been lost; the more seldom the longer in vain."""
        if len(self._lately) < AT[-1] or not is_lost(self.ground, self.best, self._lately[0].press):
            self._look, self._wait = press + LOOK // 2, LOOK
            return
        self._found(found_again(self.beam, self.field, list(self._lately), self._lain))
        self._look, self._wait = press + self._wait, min(self._wait * 3 // 2, SELDOM)

    def _found(self, stories: list[Line]) -> None:
        """Let in stories found anywhere, at any interval."""
        for story in stories:
            self.beam.admit(story)
        if self.best in stories:
            self._steady.believe(self.best)

    def told(self, at: float) -> Line:
        """The story to believe now: what a story will owe in time counts already.

        A story that stays in a moment whose time is up puts off paying for the notes left out of it.
        """
        best = self.best
        owed = self._owed(best, at)
        if not owed:
            return best
        likeliest = best.score - owed
        for line in self.beam.lines[1:TELLERS]:
            if line.score <= likeliest:
                break
            value = line.score - self._owed(line, at)
            if value > likeliest:
                likeliest, best = value, line
        return best

    def _owed(self, line: Line, at: float) -> float:
        """What counts already of the notes a story has left out of its moment: all of it when the next one is due.

        After a grace note on the key of the note it leads to, nothing: that one is still to come.
        """
        ground = self.ground
        owed = self.beam.unanswered(line)
        if not owed or line.begun == UNKNOWN or line.place + 1 >= ground.size:
            return 0.0
        if line.step is not None and line.step.kind == HIT and line.step.note in ground.leads_to_its_key:
            return 0.0
        due = max((ground.onset[line.place + 1] - ground.onset[line.place]) * line.tempo, 0.1)
        return MODEL.owed_now * owed * min((at - line.begun) / due, 1.0)

    def _displaced(self, press: int, best: Line) -> Field | None:
        """Where else in the piece a take would be that is displaced as a whole; None while none is believed to be."""
        shift = self._steady.shift(press, best)
        if not shift:
            self._away = None
        elif self._away is None or self._away.shift != shift:
            self._away = Field(self.ground, self.search, shift)
            self._away.begun = self.field.begun
            self._lain.add(shift)
        return self._away

    @property
    def away(self) -> int:
        """Semitones by which the take is believed to be displaced as a whole now; 0 for none."""
        return self._away.shift if self._away is not None else 0

    def _leave(self, at: float) -> tuple[Line, float]:
        """The story a jump before this press is likeliest to leave, with the log probability of that jump.

        That need not be the likeliest story: one that has just begun a chord owes the rest of it.
        """
        lines = self.beam.lines[:LEAVERS]
        jumps = [self._jump(line, at) for line in lines]
        likeliest = max(range(len(lines)), key=lambda i: lines[i].score + jumps[i])
        return lines[likeliest], jumps[likeliest]

    def _jump(self, best: Line, at: float) -> float:
        """Log probability of a jump before this press, from the pause before it."""
        if best.place < 0 or not self.field.recent:
            return 0.0
        waited = at - self.field.recent[-1].at
        ground = self.ground
        following = min(self.beam.due(best), ground.size - 1)
        due = max((ground.onset[following] - ground.onset[best.place]) * best.tempo, 0.15)
        paused = min(max((waited / due - 1.3) / 2.0, 0.0), 1.0) if waited > 0.4 else 0.0
        broken_off = MODEL.broken_off * self.beam.unanswered(best)
        if waited < MODEL.near:
            return MODEL.jump_at_once - broken_off
        jump = MODEL.jump - MODEL.calm * log1p(self._calm / MODEL.calm_presses)
        return jump + paused * (MODEL.jump_paused - jump) - broken_off

    def _admit(self, field: Field, rivals: list[Rival]) -> None:
        """Tell likely distant stories in full, and let them into the beam."""
        lines = self.beam.lines
        for rival in rivals[: self.search.retold]:
            if rival.score < lines[0].score - self.search.promote:
                break
            told = self._retell(field, rival)
            if not told:
                continue
            # A story that in full has come to another place says nothing of a jump to this one.
            full = max((line.score for line in told if line.place == rival.moment), default=NEVER)
            again = field.correct(rival, full)
            stories = told if again is None or full > NEVER else []
            if again is None:
                again = field.anew(rival, lines[0].score - MODEL.field_anew)
            if again is not None:
                stories = [*stories, *self._retell(field, again)]
            if full > lines[-1].score - self.search.admit:
                for nearer in field.nearer(rival):
                    stories = [*stories, *self._retell(field, nearer)]
            for story in stories:
                if story.score > lines[-1].score - self.search.admit:
                    self.beam.admit(story)

    def _retell(self, field: Field, rival: Rival) -> list[Line]:
        """A distant story in full; nothing when its jump is no longer remembered, or too much has been told already.

        What was told of it at an earlier press is not told again.
        """
        which = rival.since, rival.goal, field.shift
        told = self._told.get(which)
        heard = field.presses_since(rival.since if told is None else told[0] + 1)
        if not heard:
            return [] if told is None or told[0] < field.recent[-1].press else told[1]
        self._left -= len(heard)
        if self._left < 0:
            return []
        if told is None:
            start = heard[0]
            leaver = start.leaver
            leapt = leaver.scored(leaver.score + start.jump + field.goal_of(rival.goal, leaver.place, start.mend))
            lines = [
                self.beam.leap(leapt.scored(leapt.score + alone), field.shift, rival.goal, silent)
                for silent, alone in self._hands(leaver)
            ]
        else:
            lines = told[1]
        lines = self.beam.retell(lines, [(h.press, h.pitch, h.at) for h in heard], rival.since)
        if len(self._told) >= TOLD:
            self._told = dict(list(self._told.items())[TOLD // 2 :])
        self._told[which] = heard[-1].press, lines
        return lines

    def _hands(self, leaver: Line) -> list[tuple[int, float]]:
        """Which hand may be silent after a jump, with the log probability: a take may begin with one hand, anywhere."""
        if leaver.place >= 0 or leaver.silent != NEITHER:
            return [(leaver.silent, 0.0)]
        return one_or_both(self.ground)

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
