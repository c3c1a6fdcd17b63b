"""Which note of the key was taken for which other one, again and again."""

from __future__ import annotations

from collections import Counter
from typing import NamedTuple

from trainer.following import marks
from trainer.following.words import played_for
from trainer.window.copy.finished import Finished
from trainer.window.strings import letter_name


class Taken(NamedTuple):
    """A note of the key by its name, what was played for it, and whether that is the third of the other mode."""

    right: str
    played: str
    mode: bool


def added(take: Finished) -> set[int]:
    """Notes that were given a sign neither signature has: none was forgotten."""
    found = set()
    for mark in take.settled.marks:
        if mark.cause == marks.SIGNATURE and mark.note is not None:
            played, onset = played_for(mark, take.expected), take.piece.notes[mark.note].onset
            keys = take.piece.key_at(onset), take.expected.key_at(onset)
            if played.alteration and played.alteration not in {key.alteration_of(played.letter) for key in keys}:
                found.add(mark.note)
    return found


def wrong_alike(take: Finished, rest: list[tuple[int, str]], letters: str) -> Counter[Taken]:
    """How often each note was taken for which other one."""
    expected, target = take.expected, take.plan.target
    left = {note for note, cause in rest if cause == marks.WRONG}
    third, other = target.degree(3), 1 if target.is_minor else -1
    found: Counter[Taken] = Counter()
    for mark in take.settled.marks:
        if mark.note in left and mark.cause in (marks.WRONG, marks.SIGNATURE):
            pitch, played = expected.notes[mark.note].pitch, played_for(mark, expected)
            mode = mark.offset == other and (pitch.letter, pitch.alteration) == (third.letter, third.alteration)
            found[Taken(letter_name(pitch, letters), letter_name(played, letters), mode)] += 1
    return found
