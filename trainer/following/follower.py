"""Where the player is in the piece, press by press, and what each press was.

The model, stated once
----------------------
A take is an outcome of a hidden Markov process. The hidden state is the *moment* the player has reached, the
*displacement* in semitones of each hand, and which notes near the moment have sounded. Before each press the player
stays within the moment, goes on to a later one, or, rarely, jumps anywhere (a jump is likelier after a pause, and
likelier to places near by and to the start of a beat, a bar or the piece). The press is then the right key, a key
struck again, a key of an ornament, a slip, or nothing of the piece; its time is compared with the wait that the
tempo makes due. The likeliest story is kept by beam search (`beam`), with one distant story for every moment of the
piece for jumps (`field`); at the end of a take the likeliest story is read backwards (Viterbi) for the final verdict.

Sources: hidden Markov score following with errors, repeats and skips: E. Nakamura, T. Nakamura, Y. Saito, N. Ono,
S. Sagayama, "Outer-product hidden Markov model and polyphonic MIDI score following", Journal of New Music Research
43 (2014); note-wise alignment with performance errors: E. Nakamura, K. Yoshii, H. Katayose, "Performance error
detection and post-processing for fast and accurate symbolic music alignment", ISMIR 2017 (both from memory).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from trainer.following.beam import AGAIN, BRUSH, HIT, NOTHING, ORNAMENT, SLIP, Beam, Line, Step
from trainer.following.diagnosis import Habits, fits, weigh
from trainer.following.field import Field, Heard, Rival
from trainer.following.ground import Ground
from trainer.following.marks import (
    EXTRA,
    REPEATED,
    RIGHT,
    SKIPPED,
    WENT_BACK,
    Mark,
    Move,
    Settled,
)
from trainer.following.model import MODEL
from trainer.following.settling import settled
from trainer.listening.press import Press
from trainer.music.piece import BOTH, Piece


class Follower:
    """Follows one take.

    Parameters
    ----------
    written : Piece
        The piece as on the page.
    expected : Piece
        The same notes, in the same order, in the key to be played.
    hands : str
        ``both``, ``right`` or ``left``: the notes expected. Others are recognised when played, never missed.
    habits : mapping of cause to count, optional
        Slips this player is known to make, from earlier takes.

    Attributes
    ----------
    place : int
        The moment to be played next (the count of moments when the piece is done).
    moves_so_far : list of Move
    """

    def __init__(
        self, written: Piece, expected: Piece, *, hands: str = BOTH, habits: Mapping[str, float] | None = None
    ) -> None:
        self.ground = Ground(written, expected, hands)
        self.presses: list[Press] = []
        self.first: list[Mark] = []
        self.moves_so_far: list[Move] = []
        self.place = 0
        self._known = dict(habits or {})
        self._habits = Habits(self._known)
        self._beam = Beam(self.ground, 60.0 / expected.tempo)
        self._field = Field(self.ground)
        self._settled: tuple[int, Settled] | None = None

    def hear(self, press: Press) -> Mark:
        """Take one press, in time order, and say at once what it was."""
        ground = self.ground
        index = len(self.presses)
        self.presses.append(press)
        if not ground.size:
            mark = Mark(index, None, EXTRA)
            self.first.append(mark)
            return mark
        at = round(press.at - self.presses[0].at, 6)
        beam = self._beam
        best = beam.lines[0]
        rivals = self._field.hear(Heard(index, press.pitch, at, best, self._jump(best, at)))
        beam.hear(index, press.pitch, at)
        self._admit(rivals)
        now = beam.lines[0]
        self._learn(best, now)
        beam.learn_slips(now.step is not None and now.step.kind == SLIP)
        mark = self._mark(now, index, press)
        self._notice(now, index, at)
        self.first.append(mark)
        self.place = self._next(now)
        return mark

    def settle(self) -> Settled:
        """The final verdicts, everything known; may be called again after more presses."""
        if self._settled is None or self._settled[0] != len(self.presses):
            step = self._beam.lines[0].step
            self._settled = len(self.presses), settled(self.ground, self.presses, step, self._known)
        return self._settled[1]

    def _jump(self, best: Line, at: float) -> float:
        """Log probability of a jump before this press, from the pause before it."""
        if best.place < 0 or not self._field.recent:
            return 0.0
        waited = at - self._field.recent[-1].at
        ground = self.ground
        following = min(best.place + 1, ground.size - 1)
        due = max((ground.onset[following] - ground.onset[best.place]) * best.tempo, 0.15)
        paused = min(max((waited / due - 1.3) / 2.0, 0.0), 1.0) if waited > 0.4 else 0.0
        return MODEL.jump + paused * (MODEL.jump_paused - MODEL.jump)

    def _admit(self, rivals: list[Rival]) -> None:
        """Tell likely distant stories in full, and let them into the beam."""
        lines = self._beam.lines
        for rival in rivals[: MODEL.retold]:
            if rival.score < lines[0].score - MODEL.promote:
                break
            if any(line.place == rival.moment and line.score > rival.score for line in lines):
                continue
            told = self._retell(rival)
            again = None if told is None else self._field.correct(rival, told.score)
            if again is not None:
                told = self._retell(again)
            if told is not None and told.score > lines[-1].score - MODEL.admit:
                self._beam.admit(told)

    def _retell(self, rival: Rival) -> Line | None:
        """A distant story in full; None when its jump is no longer remembered."""
        heard = self._field.presses_since(rival.since)
        if not heard:
            return None
        start = heard[0]
        goals = self._field.goals(np.array([rival.goal]), start.best.place)
        leapt = start.best.scored(start.best.score + start.jump + float(goals[0]))
        return self._beam.retell(leapt, self._field.shift, rival.goal, [(h.press, h.pitch, h.at) for h in heard])

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
                self._beam.learn_misses(hand, hits, misses)

    def _mark(self, line: Line, index: int, press: Press) -> Mark:
        step = line.step
        assert step is not None
        if step.kind == NOTHING:
            return Mark(index, None, EXTRA)
        if step.kind == ORNAMENT:
            return Mark(index, None, RIGHT)
        note = step.note
        away = press.pitch - self.ground.pitch[note]
        if away == 0:
            return Mark(index, note, REPEATED if step.kind == AGAIN else RIGHT)
        run = _run(step)
        found = fits(self.ground, note, press.pitch, run=run, brushed=step.kind == BRUSH)
        likely = weigh(found, self._habits)
        self._habits.learn(dict(likely))
        return Mark(index, note, likely[0][0], likely[0][1], tuple(likely[1:]), away)

    def _notice(self, line: Line, index: int, at: float) -> None:
        """Write down a jump of the likeliest story as a live move, once."""
        step = line.step
        back = 0
        while step is not None and back < 4:
            if step.jumped and step.before is not None:
                origin = _last_note(step.before)
                moved = self.moves_so_far[-1].at if self.moves_so_far else -1.0
                when = self.presses[step.press].at
                if back >= 2 and origin >= 0 and when > moved:
                    kind = WENT_BACK if step.note <= origin else SKIPPED
                    pause = when - self.presses[max(step.press - 1, 0)].at
                    self.moves_so_far.append(Move(kind, when, origin, step.note, pause))
                return
            step = step.before
            back += 1

    def _next(self, line: Line) -> int:
        """The moment to be played next: the present one until its needed notes have sounded or been tried."""
        ground = self.ground
        if line.place < 0:
            return 0
        done = line.sounded | line.tried
        for note in range(ground.first[line.place], ground.first[line.place + 1]):
            if ground.needed[note] and not done >> (note - line.base) & 1:
                return line.place
        return line.place + 1


def _run(step: Step) -> int:
    """Presses in a row, this one last, that hit at this one's displacement; 0 when it is not displaced."""
    if step.kind != HIT or not step.shift:
        return 0
    count = 0
    at: Step | None = step
    while at is not None and at.kind == HIT and at.shift == step.shift and count < 4:
        count += 1
        at = at.before
    return count


def _last_note(step: Step | None) -> int:
    while step is not None and step.note < 0:
        step = step.before
    return -1 if step is None else step.note
