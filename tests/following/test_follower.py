"""The follower on small takes made by hand."""

from __future__ import annotations

import pytest

from tests.music.tunes import tune
from trainer.following.follower import Follower
from trainer.following.marks import DISPLACED, EXTRA, RIGHT, WENT_BACK, Mark
from trainer.listening.press import Press
from trainer.music.piece import Piece
from trainer.music.transpose import plan, transposed

TUNE = "F4 G4 A4 Bb4 C5 Bb4 A4 G4 F4 A4 C5 A4 F4 C4 F4 F4 A4 A4 G4 G4 F4 E4 F4"


@pytest.fixture(name="pair")
def _pair() -> tuple[Piece, Piece]:
    written = tune("F", TUNE)
    return written, transposed(written, plan(written.key, "D").interval)


def played(pitches: list[int], pause_before: int = -1) -> list[Press]:
    """Even presses, 0.6 s apart, two seconds more before one of them."""
    late = [2.0 if 0 <= pause_before <= i else 0.0 for i in range(len(pitches))]
    return [Press(0.6 * i + late[i], p) for i, p in enumerate(pitches)]


def follow(pair: tuple[Piece, Piece], presses: list[Press]) -> tuple[Follower, list[Mark]]:
    follower = Follower(*pair)
    return follower, [follower.hear(press) for press in presses]


def test_clean_playing_is_all_right(pair: tuple[Piece, Piece]) -> None:
    expected = [note.midi for note in pair[1].notes]
    follower, first = follow(pair, played(expected))
    for marks in (first, follower.settle().marks):
        assert [(mark.note, mark.cause) for mark in marks] == [(i, RIGHT) for i in range(len(expected))]
    assert follower.place == len(expected)
    assert follower.settle().missed == ()
    assert follower.settle().moves == ()


def test_three_presses_a_tone_high_are_a_displaced_run(pair: tuple[Piece, Piece]) -> None:
    expected = [note.midi for note in pair[1].notes]
    for i in (2, 3, 4):
        expected[i] += 2
    follower, _ = follow(pair, played(expected))
    marks = follower.settle().marks
    assert [mark.cause for mark in marks[1:6]] == [RIGHT, DISPLACED, DISPLACED, DISPLACED, RIGHT]
    assert [mark.note for mark in marks] == list(range(len(expected)))
    assert {mark.offset for mark in marks[2:5]} == {2}


def test_going_back_is_followed_and_told(pair: tuple[Piece, Piece]) -> None:
    expected = [note.midi for note in pair[1].notes]
    presses = played(expected[:13] + expected[9:], pause_before=13)
    follower, first = follow(pair, presses)
    told = [*range(13), *range(9, len(expected))]
    settled = follower.settle()
    assert [mark.note for mark in settled.marks] == told
    assert [mark.note for mark in first[17:]] == told[17:]
    assert [(move.kind, move.origin, move.goal) for move in settled.moves] == [(WENT_BACK, 12, 9)]


def test_a_left_out_note_is_missed(pair: tuple[Piece, Piece]) -> None:
    expected = [note.midi for note in pair[1].notes]
    presses = played(expected)
    del presses[7]
    follower, _ = follow(pair, presses)
    assert follower.settle().missed == (7,)


def test_bars_of_rest_alone_can_be_played_over() -> None:
    """A loop over bars in which no hand has a note."""
    rest = tune("F", "")
    follower, first = follow((rest, rest), played([60, 62, 64, 65]))
    assert follower.settle().marks == tuple(first)
    assert {mark.cause for mark in first} == {EXTRA}
