"""Where the player is in the piece, press by press, and what each press was.

The model, stated once
----------------------
A take is an outcome of a hidden Markov process. The hidden state is the *moment* the player has reached, the
*displacement* in semitones of each hand, and which notes near the moment have sounded. Before each press the player
stays within the moment, goes on to a later one, or, rarely, jumps anywhere (a jump is likelier after a pause, and
likelier to places near by, whole beats away, and to the start of a beat, a bar or the piece). The press is then the
right key, a key struck again, a key of an ornament, a slip, or nothing of the piece; its time is compared with the
wait that the tempo makes due. The likeliest story is kept by beam search (`beam`), with one distant story for every
moment of the piece for jumps (`field`); at the end of a take the likeliest story is read backwards (Viterbi) for the
final verdict.

Sources: hidden Markov score following with errors, repeats and skips: E. Nakamura, T. Nakamura, Y. Saito, N. Ono,
S. Sagayama, "Outer-product hidden Markov model and polyphonic MIDI score following", Journal of New Music Research
43 (2014); note-wise alignment with performance errors: E. Nakamura, K. Yoshii, H. Katayose, "Performance error
detection and post-processing for fast and accurate symbolic music alignment", ISMIR 2017 (both from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

from trainer.following.course import along
from trainer.following.diagnosis import Habits, displaced, fits, weigh
from trainer.following.findings import findings
from trainer.following.ground import Ground
from trainer.following.marks import (
    EXTRA,
    REPEATED,
    RIGHT,
    SKIPPED,
    WENT_BACK,
    Finding,
    Mark,
    Move,
    Settled,
)
from trainer.following.retelling import EVERY, retold, steps_of
from trainer.following.settling import settled, where_it_lay
from trainer.following.story import AGAIN, BRUSH, HIT, NEITHER, NOTHING, ORNAMENT, Line, Step
from trainer.following.tracker import Tracker
from trainer.hands.keyboard import ANY, Compass
from trainer.listening.press import Press
from trainer.music.piece import BOTH, Piece

LATELY = 24  # presses back to which a key struck again is looked for
# After so many presses it is asked whether all of them lie in another key or octave.
WHOLE_AT = (8, 12, 16, 24, 32, 48, 64, 96)


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
    compass : (float, float)
        The lowest and the highest key of the player's keyboard: notes beyond are neither waited for nor missed.
    begins : int
        The moment at which the player is likeliest to begin.

    Attributes
    ----------
    place : int
        The moment to be played next (the count of moments when the piece is done).
    moves_so_far : list of Move
    found : tuple of Finding
        What seems true of the whole take in the middle of it; the final verdicts may say otherwise.
    """

    def __init__(
        self,
        written: Piece,
        expected: Piece,
        *,
        hands: str = BOTH,
        compass: Compass = ANY,
        begins: int = 0,
    ) -> None:
        self.ground = Ground(written, expected, hands, compass, begins)
        self.presses: list[Press] = []
        self.first: list[Mark] = []
        self.moves_so_far: list[Move] = []
        self.place = self._with_key(begins)
        self.found: tuple[Finding, ...] = ()
        self._lay = self._home = where_it_lay(self.ground, ())
        self._habits = Habits()
        self._tracker = Tracker(self.ground, 60.0 / expected.tempo)
        self._kept: list[list[Line]] = []
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
        self._tracker.hear(index, press.pitch, at)
        now = self._tracker.told(at)
        if index % EVERY == EVERY - 1:
            self._kept.append(list(self._tracker.beam.lines))
        if len(self.presses) in WHOLE_AT:
            self.found = findings(ground, self.presses, steps_of(now.step))
            self._lay = where_it_lay(ground, self.found)
        mark = self._mark(now, index, press)
        self._notice(now)
        self.first.append(mark)
        self.place = self._next(now)
        return mark

    def settle(self) -> Settled:
        """The final verdicts, everything known; may be called again after more presses."""
        if self._settled is None or self._settled[0] != len(self.presses):
            if not self.ground.size:
                return Settled(tuple(self.first), (), ())
            steps = along(self._tracker, self.presses, retold(self._tracker, self._kept, self.presses))
            self._settled = len(self.presses), settled(self.ground, self.presses, steps)
        return self._settled[1]

    def heard(self, found: Sequence[Finding]) -> Piece:
        """What a take of which so much is true was meant to be: in another key the piece in that key."""
        return where_it_lay(self.ground, found).texts.expected

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
            again = step.kind == AGAIN and _sounded_before(step, self.ground.pitch[note], self.presses)
            return Mark(index, note, REPEATED if again else RIGHT)
        # Who is told that all of it lies elsewhere may come home, and is told from there again.
        lay = self._lay if self._lay.shift == self._tracker.away else self._home
        if lay.shift and away == lay.shift:
            return Mark(index, note, lay.cause, offset=away)
        run = 0 if lay.shift else _run(step, self.ground)
        key = lay.texts.pitch[note] + away - lay.shift
        found = fits(lay.texts, note, key, run=run, brushed=step.kind == BRUSH)
        likely = weigh(found, self._habits)
        self._habits.learn(dict(likely))
        return Mark(index, note, likely[0][0], likely[0][1], tuple(likely[1:]), away)

    def _notice(self, line: Line) -> None:
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
        """The moment to be played next: the present one until its needed notes have sounded or been tried.

        A hand that does not play is not waited for, nor are notes the player has no key for.
        """
        ground = self.ground
        if line.place < 0:
            return self._with_key(ground.begins)
        done = line.sounded | line.tried
        for note in ground.own[line.place]:
            hand = ground.hand[note]
            waits = hand != line.silent and not line.idle >> hand & 1
            if waits and ground.needed[note] and not done >> (note - line.base) & 1:
                return line.place
        if line.silent != NEITHER:
            return ground.following[1 - line.silent][line.place]
        return self._with_key(line.place + 1)

    def _with_key(self, place: int) -> int:
        """A moment, or the next one in which the player has a key to play."""
        while place < self.ground.size and not self.ground.has_key[place]:
            place += 1
        return place


def _run(step: Step, ground: Ground) -> int:
    """Presses in a row, this one last, that hit at this one's displacement; 0 when it is not displaced."""
    if step.kind != HIT or not step.shift:
        return 0
    notes: list[int] = []
    at: Step | None = step
    while at is not None and at.kind == HIT and at.shift == step.shift and len(notes) < 4:
        notes.append(at.note)
        at = at.before
    return len(notes) if displaced(ground, notes, step.shift) else 1


def _sounded_before(step: Step, pitch: int, presses: Sequence[Press]) -> bool:
    """Whether the right key of a step's note has sounded in one of the last presses already."""
    before = step.before
    for _ in range(LATELY):
        if before is None:
            return False
        if before.note == step.note and presses[before.press].pitch == pitch:
            return True
        before = before.before
    return True


def _last_note(step: Step | None) -> int:
    while step is not None and step.note < 0:
        step = step.before
    return -1 if step is None else step.note
