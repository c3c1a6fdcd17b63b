"""Takes that begin in the middle and lie elsewhere as a whole: an octave off, on a piano that transposes."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import pytest

from tests.following.taking import shelf
from tests.music.tunes import tune
from trainer.following import marks as m
from trainer.following import openings
from trainer.following.follower import Follower
from trainer.listening.press import Press
from trainer.music.piece import LEFT, RIGHT, Note, Piece
from trainer.music.transpose import plan, transposed

MINUET = shelf("petzold-minuet-in-g")


def begun(piece: Piece, bar: int, shift: int, hands: Collection[str] = (RIGHT, LEFT), slips: int = 0) -> Follower:
    """A take from a bar on, `shift` semitones off; every so many presses one more is a third too high."""
    follower = Follower(piece, transposed(piece, plan(piece.key, "A").interval))
    start = piece.bars[bar].onset
    notes = [note for note in follower.ground.expected.notes if note.onset >= start and note.hand in hands]
    for index, note in enumerate(notes):
        astray = 4 if slips and index % slips == slips - 1 else 0
        follower.hear(Press(float(note.onset - start) * 0.6 + 0.002 * (index % 3), note.midi + shift + astray))
    return follower


def told(follower: Follower, marks: Sequence[m.Mark], notes: Sequence[Note]) -> float:
    """Share of presses that are tied to the note they were meant for."""
    asked = follower.ground.expected.notes
    right = sum(mark.note is not None and asked[mark.note] == note for mark, note in zip(marks, notes, strict=True))
    return right / len(notes)


@pytest.mark.parametrize("shift", [-12, 12, 2, -3, 5])
@pytest.mark.parametrize("bar", [8, 19])
def test_a_take_from_the_middle_that_lies_elsewhere_is_followed(shift: int, bar: int) -> None:
    follower = begun(MINUET, bar, shift)
    asked = follower.ground.expected.notes
    notes = [note for note in asked if note.onset >= MINUET.bars[bar].onset]
    assert told(follower, follower.settle().marks, notes) > 0.98
    assert told(follower, follower.first[12:], notes[12:]) > 0.97
    assert follower.settle().shift == shift


@pytest.mark.parametrize("hand", [RIGHT, LEFT])
def test_so_is_one_hand_of_it(hand: str) -> None:
    follower = begun(MINUET, 8, -12, (hand,))
    assert follower.settle().shift == -12


def test_it_is_known_after_the_first_notes() -> None:
    follower = Follower(MINUET, transposed(MINUET, plan(MINUET.key, "A").interval))
    start = MINUET.bars[8].onset
    notes = [note for note in follower.ground.expected.notes if note.onset >= start][:12]
    for note in notes:
        follower.hear(Press(float(note.onset - start) * 0.6, note.midi + 3))
    assert [one.kind for one in follower.found] == [m.PIANO_TRANSPOSES, m.OTHER_KEY]


@pytest.mark.parametrize("slips", [0, 5])
def test_who_begins_well_is_not_looked_for_elsewhere(slips: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """It costs many presses' time."""

    def never(*_: object) -> None:
        raise AssertionError

    monkeypatch.setattr(openings, "Reading", never)
    begun(MINUET, 0, 0, slips=slips)
    begun(MINUET, 0, -12, slips=slips)


LINE = "C4 E4 D4 G4 F4 A4 G4 C5 B4 G4 A4 F4 E4 D4 F4 E4 "
OTHER_LINE = "D4 F#4 A4 G4 B4 A4 C5 F4 E4 G4 E4 C4 D4 B3 C4 C4 "


@pytest.mark.parametrize("between", [LINE, OTHER_LINE])
def test_a_take_that_begins_within_music_that_comes_again_is_told_the_first_time(between: str) -> None:
    """Told the last time, what was played to its end would be followed by a return to the start."""
    piece = tune("C", LINE + between + LINE)
    follower = Follower(piece, transposed(piece, plan(piece.key, "Eb").interval))
    for note in range(4, 16):
        follower.hear(Press(0.5 * note, follower.ground.pitch[note]))
    assert [mark.note for mark in follower.first[4:]] == list(range(8, 16))
    assert [mark.note for mark in follower.settle().marks] == list(range(4, 16))
