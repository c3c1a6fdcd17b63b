"""Repeats that are not taken: what is printed once and unfolded twice, of which a take may hold one time round alone.

Who leaves out a repeat leaves out no note of the page, and has played the first time, whichever it sounded like.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cached_property
from itertools import groupby, pairwise

from trainer.following.marks import SKIPPED, Move
from trainer.following.story import HIT, SLIP, Step
from trainer.music.piece import Piece


class Repeats:
    """The repeats of a piece, as they stand on the page."""

    def __init__(self, piece: Piece) -> None:
        self.piece = piece
        self._any = max(piece.times_round, default=1) > 1

    def first_times(self, steps: list[Step]) -> list[Step]:
        """Steps in which bars that were played only as a later time round are those of the time before."""
        while self._any:
            played = {step.note for step in steps if step.note >= 0}
            alone = (one for one in self._again if played & one.keys() and played.isdisjoint(one.values()))
            before = next(alone, None)
            if before is None:
                break
            steps = self._moved(steps, before)
        return steps

    def is_none_taken(self, move: Move) -> bool:
        """Whether a skip only leaves out a repeat: on the page its goal comes right after where it began."""
        came, went = (self.piece.moment_of[note] for note in (move.origin, move.goal))
        return move.kind == SKIPPED and self.is_left_out(came, went)

    def is_left_out(self, came: int, went: int) -> bool:
        """Whether what lies between two moments is only a repeat: on the page the one comes right after the other."""
        if not self._any or went - came <= 1:
            return False
        return self._follows(came, went)

    def let_off(self, steps: Sequence[Step]) -> set[int]:
        """Notes gone past that are not left out: by not taking a repeat, or played as often as they stand there.

        The latter are those of a repeat that was taken, but with its first ending once more.
        """
        found = set[int]()
        if not self._any:
            return found
        notes = self.piece.notes
        due = Counter(note.id for note in notes)
        due.subtract(notes[note].id for note in self._tried(steps))
        for came, went in pairwise(self.piece.moment_of[step.note] for step in steps if step.note >= 0):
            for moment in range(came + 1, went):
                asked = self.piece.moments[moment].notes
                found.update(note for note in asked if due[notes[note].id] <= 0)
            way = self._way(came, went) if went - came > 1 else None
            for moment in range(came + 1, went) if way is not None else ():
                if way is not None and self.piece.printed[moment] in way:
                    # Printed once, it is left out once.
                    way.discard(self.piece.printed[moment])
                else:
                    found.update(self.piece.moments[moment].notes)
        return found

    def _tried(self, steps: Sequence[Step]) -> Iterator[int]:
        """Notes played, and those only slipped for: a slip put right in the same time round is one with what did."""
        hits, slips = set[tuple[int, int]](), set[tuple[int, int]]()
        times, came = 0, 0
        for step in steps:
            if step.note < 0:
                continue
            here = self.piece.moment_of[step.note]
            if here < came and self._follows(came, here):
                times += 1
            came = here
            if step.kind == HIT:
                hits.add((times, step.note))
                yield step.note
            elif step.kind == SLIP:
                slips.add((times, step.note))
        yield from (note for _, note in slips - hits)

    def _follows(self, came: int, went: int) -> bool:
        printed = self.piece.printed
        return printed[went] in self.piece.printed_next.get(printed[came], ())

    def _moved(self, steps: Sequence[Step], before: dict[int, int]) -> list[Step]:
        moment = self.piece.moment_of
        places = {moment[note]: moment[earlier] for note, earlier in before.items()}
        told: list[Step] = []
        for step in steps:
            note, place = before.get(step.note, step.note), places.get(step.place, step.place)
            # What tells the tempo looks back from step to step.
            told.append(step._replace(before=told[-1] if told else None, note=note, place=place))
        return told

    @cached_property
    def _again(self) -> list[dict[int, int]]:
        """Of each part that is played again: its notes, and for each the same one the time before."""
        piece, latest = self.piece, dict[str, int]()
        before: dict[int, int] = {}
        for index, note in enumerate(piece.notes):
            if note.id in latest:
                before[index] = latest[note.id]
            latest[note.id] = index
        times = [piece.times_round[piece.bar_index(note.onset)] for note in piece.notes]
        parts = [list(group) for _, group in groupby(range(len(times)), key=times.__getitem__)]
        return [
            {note: before[note] for note in part}
            for part in parts
            if times[part[0]] > 1 and all(note in before for note in part)
        ]

    def _way(self, came: int, went: int) -> set[int] | None:
        """The places on the page between two moments, the shortest way; None where all that is unfolded lies there."""
        origin, goal = self.piece.printed[came], self.piece.printed[went]
        left: dict[int, int] = {}
        reached = [origin]
        for _ in range(went - came - 1):
            further = []
            for here in reached:
                for there in self.piece.printed_next.get(here, ()):
                    if there not in left:
                        left[there] = here
                        further.append(there)
            reached = further
            if goal in left:
                break
        else:
            return None
        way, here = set[int](), left[goal]
        while here != origin:
            way.add(here)
            here = left[here]
        return way
