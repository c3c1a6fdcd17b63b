"""From what the session says to what the pencil draws, system by system."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from pygame import Rect

from trainer.following import marks
from trainer.following.diagnosis import spelled_for
from trainer.following.marks import Mark, Move, Settled
from trainer.following.outside import keys_after, keys_before
from trainer.listening.press import Press
from trainer.music.piece import BOTH, Piece
from trainer.music.pitch import Interval
from trainer.window.page import pencil
from trainer.window.page.music import Score
from trainer.window.page.pencil import Room, Spot, Stroke
from trainer.window.strings import letter_name


@dataclass
class _Run:
    """A run of displaced notes that one bracket holds."""

    system: int
    first: int
    last: int
    offset: int
    at: int


def of_notes(piece: Piece, presses: Sequence[Press], settled: Settled) -> list[tuple[Mark, Press]]:
    """The marks of a settled take that stand on the page, with their presses.

    What is true of all of it stands once over the page; keys before the beginning and other music after the end have no
    place on it.
    """
    before, after = keys_before(settled), keys_after(piece, presses, settled)
    return [
        (settled.as_told(mark), presses[at])
        for at, mark in enumerate(settled.marks)
        if at not in before and at not in after and not settled.is_of_all(mark)
    ]


class Marking:
    """The pencil marks of one take on one engraving.

    Parameters
    ----------
    score : Score
    expected : Piece
        As it should sound, the same notes in the same order.
    tone : str
        The pencil's colour, ``#rrggbb``.
    letters : str
        ``english`` or ``german``.
    taken : callable
        For a system's index the rectangles of its syllables; asked for systems that are marked.
    hands : str
        The hands that play.
    """

    def __init__(
        self,
        score: Score,
        expected: Piece,
        tone: str,
        letters: str,
        taken: Callable[[int], Iterable[Rect]],
        hands: str = BOTH,
    ) -> None:
        self._score = score
        self._piece = score.piece
        self._expected = expected
        self._tone = tone
        self._letters = letters
        self._taken = taken
        self._hands = hands
        self._rooms: dict[int, Room] = {}
        self.strokes: list[list[Stroke]] = [[] for _ in score.systems]
        self.right: list[set[int]] = [set() for _ in score.systems]
        # The run each staff is in, by the staff's number: one hand's does not end the other's.
        self._runs: dict[int, _Run] = {}
        self._last: int | None = None

    def add(self, mark: Mark, press: Press) -> None:
        """Draw one mark."""
        if mark.note is not None:
            self._last = mark.note
            if mark.cause != marks.DISPLACED and mark.note in self._score.system_of:
                self._runs.pop(self._staff(mark.note), None)
        if mark.cause == marks.RIGHT:
            if mark.note is not None and mark.note in self._score.system_of:
                self.right[self._score.system_of[mark.note]].add(mark.note)
            return
        note = mark.note if mark.note is not None else self._near(press)
        if note is None or note not in self._score.system_of:
            return
        at = self._score.system_of[note]
        spot = self._score.systems[at].spot(note)
        if mark.cause == marks.DISPLACED:
            self._displaced(at, note, mark.offset)
            return
        self.strokes[at].append(self._stroke(mark, press, note, spot, self._room(at)))

    def _room(self, at: int) -> Room:
        """What is taken in a system, worked out for its first mark."""
        if at not in self._rooms:
            self._rooms[at] = Room(self._score.systems[at].mask, self._taken(at))
        return self._rooms[at]

    def _stroke(self, mark: Mark, press: Press, note: int, spot: Spot, room: Room) -> Stroke:
        tone = self._tone
        expected = self._expected.notes[note].pitch
        cause = mark.cause
        if cause == marks.AS_WRITTEN:
            return pencil.ring(spot, tone, room, letter_name(self._piece.notes[note].pitch, self._letters))
        if cause in (marks.SIGNATURE, marks.ACCIDENTAL):
            return pencil.accidental(spot, tone, room, expected.alteration)
        if cause == marks.STEP:
            return pencil.arrow(spot, tone, room, up=mark.offset < 0)
        if cause == marks.OCTAVE:
            return pencil.eight(spot, tone, room, up=mark.offset < 0)
        if cause == marks.BRUSHED:
            return pencil.tick(spot, tone, room)
        offset = press.pitch - expected.midi
        key = self._expected.key_at(self._expected.notes[note].onset)
        sounded = spelled_for(expected, offset, marks.WRONG, key)
        return pencil.head(spot, tone, room, cause, sounded.steps - expected.steps)

    def _near(self, press: Press) -> int | None:
        """The note beside which a press that belongs to none is drawn: nearest in pitch where the player was.

        A hand that plays alone struck it: it is drawn on that hand's staff, where it rests beside its last note.
        """
        moments = self._piece.moments
        if not moments:
            return None
        here = self._piece.moment_of[self._last] if self._last is not None else 0
        for moment in (*reversed(moments[: here + 1]), *moments[here + 1 :]):
            notes = [i for i in moment.notes if self._hands in (BOTH, self._piece.notes[i].hand)]
            if notes:
                return min(notes, key=lambda i: abs(self._expected.notes[i].midi - press.pitch))
        return None

    def _staff(self, note: int) -> int:
        """The number of a note's staff, from the top."""
        system = self._score.systems[self._score.system_of[note]]
        return system.staves.index(system.staff_of(note))

    def _displaced(self, system: int, note: int, offset: int) -> None:
        staff, room = self._staff(note), self._room(system)
        run = self._runs.get(staff)
        if run is not None and (run.system, run.offset) == (system, offset):
            room.free(self.strokes[system][run.at].rect)
            run.last = note
        else:
            run = self._runs[staff] = _Run(system, note, note, offset, len(self.strokes[system]))
            self.strokes[system].append(Stroke(Rect(0, 0, 0, 0), ""))
        spots = self._score.systems[system]
        drawn = pencil.bracket(spots.spot(run.first), spots.spot(run.last), self._tone, room, interval_label(offset))
        self.strokes[system][run.at] = drawn

    def move(self, move: Move) -> None:
        """Draw a comma, or an arrow from place to place; across systems the arrow leaves and comes."""
        places = self._score.system_of
        if move.goal not in places or move.origin not in places:
            return
        at = places[move.goal]
        system = self._score.systems[at]
        goal = system.spot(move.goal)
        if move.kind == marks.HESITATED:
            self.strokes[at].append(pencil.comma(goal, self._tone, self._room(at), move.seconds))
            return
        origin = system.spot(move.origin) if places[move.origin] == at else None
        if origin is None:
            edge = system.size[0] - system.space if move.kind == marks.WENT_BACK else system.space
            origin = Spot(edge, goal.y, goal.space, goal.top, goal.bottom)
        self.strokes[at].append(pencil.journey(origin, goal, self._tone, self._room(at), system.staves[-1].bottom))

    def missed(self, note: int) -> None:
        """Draw a caret under a note nobody played."""
        if note in self._score.system_of:
            at = self._score.system_of[note]
            self.strokes[at].append(pencil.caret(self._score.systems[at].spot(note), self._tone, self._room(at)))


def interval_label(semitones: int) -> str:
    """A displacement in the short form of intervals, with the way it went: ``M2 ↑``.

    >>> interval_label(2), interval_label(-3)
    ('M2 ↑', 'm3 ↓')
    """
    steps = (0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6)
    octaves, within = divmod(abs(semitones), 12)
    plain = Interval(steps[within] + 7 * octaves, abs(semitones)).short.lstrip("+")
    return f"{plain} {'↑' if semitones > 0 else '↓'}"
