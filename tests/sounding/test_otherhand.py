"""The other hand in time or waiting."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.music.tunes import tune
from tests.sounding.recorded import Recorded
from trainer.listening.clock import now
from trainer.music.piece import BOTH, LEFT, RIGHT, Note, Piece, sorted_notes
from trainer.music.pitch import SpelledPitch
from trainer.sounding.otherhand import Waiting, in_time
from trainer.sounding.voice import Schedule


def duet() -> Piece:
    """Right hand on quarters 1, 2 and 4 (a rest on 0 and 3); left hand in eighths from 0 to 5."""
    right = [Note(f"r{n}", SpelledPitch.parse("C5"), Fraction(n), Fraction(1)) for n in (1, 2, 4)]
    left = [
        Note(f"l{n}", SpelledPitch.from_steps(21 + n, 40 + n), Fraction(n, 2), Fraction(1, 2), LEFT) for n in range(10)
    ]
    return replace(tune("C", "C4 C4 C4 C4 C4"), notes=sorted_notes([*right, *left]), tempo=60.0)


def test_in_time_is_the_other_hand_alone() -> None:
    assert [note.pitch for note in in_time(duet(), RIGHT).notes] == list(range(40, 50))
    assert [note.pitch for note in in_time(duet(), LEFT).notes] == [72, 72, 72]
    assert in_time(duet(), BOTH).notes == ()
    assert in_time(tune("C", "C4"), RIGHT).notes == ()


def test_in_time_a_hand_that_has_the_first_bar_alone_is_heard() -> None:
    piece = duet()
    first = replace(piece, notes=tuple(note for note in piece.notes if note.hand == RIGHT or note.onset < 4))
    assert [note.pitch for note in in_time(first, RIGHT).notes] == list(range(40, 48))


def test_in_time_is_silent_in_bars_where_the_other_hand_rests() -> None:
    piece = duet()
    resting = replace(piece, notes=tuple(note for note in piece.notes if note.hand == RIGHT or note.onset >= 4))
    assert in_time(resting, RIGHT, (0, 0)) == Schedule(())
    assert [note.at for note in in_time(resting, RIGHT, (1, 1)).notes] == [0.0, 0.5]


def test_waiting_plays_up_to_the_next_note_of_the_practised_hand() -> None:
    voice = Recorded()
    waiting = Waiting(duet(), RIGHT, voice)
    waiting.before()
    for onset in (1, 1, 2, 4):
        waiting.reached(Fraction(onset))
    assert [[note.pitch for note in notes] for notes, _ in voice.played] == [
        [40, 41],
        [42, 43],
        [44, 45, 46, 47],
        [48, 49],
    ]
    notes, start = voice.played[2]
    # The note written at the reached onset sounds at once, the others at the tempo after it.
    assert start + notes[0].at == pytest.approx(now(), abs=0.5)
    assert [note.at - notes[0].at for note in notes] == pytest.approx([0.0, 0.5, 1.0, 1.5])
    waiting.stop()
    assert voice.calls == ["cancel"]


def test_going_back_plays_again() -> None:
    voice = Recorded()
    waiting = Waiting(duet(), RIGHT, voice)
    for onset in (1, 2, 1):
        waiting.reached(Fraction(onset))
    assert [notes[0].pitch for notes, _ in voice.played] == [42, 44, 42]


def test_in_a_loop_it_waits_and_is_silent_beyond_it() -> None:
    voice = Recorded()
    piece = replace(duet(), notes=tuple(note for note in duet().notes if note.hand == LEFT or note.onset < 4))
    waiting = Waiting(piece, RIGHT, voice, bars=(0, 0))
    for onset in (1, 2):
        waiting.reached(Fraction(onset))
    # The bar after it is in none, though the hand practised has no note there that would end it.
    assert [[note.pitch for note in notes] for notes, _ in voice.played] == [[42, 43], [44, 45, 46, 47]]
    voice.played.clear()
    second = Waiting(duet(), RIGHT, voice, bars=(1, 1))
    second.reached(Fraction(4))
    ((notes, start),) = voice.played
    assert [note.pitch for note in notes] == [48, 49]
    assert start + notes[0].at == pytest.approx(now(), abs=0.5)


def test_in_a_loop_of_several_bars_it_waits_from_the_first_of_them() -> None:
    voice = Recorded()
    Waiting(duet(), RIGHT, voice, bars=(0, 1)).reached(Fraction(1))
    ((notes, start),) = voice.played
    assert [note.pitch for note in notes] == [42, 43]
    assert start + notes[0].at == pytest.approx(now(), abs=0.5)


def test_a_grace_note_of_the_practised_hand_lets_the_other_hand_play_on() -> None:
    """It is played with the note it leans on, which is the one to wait for."""
    voice, piece = Recorded(), duet()
    grace = Note("g", SpelledPitch.parse("D5"), Fraction(3), Fraction(0), grace=True)
    waiting = Waiting(replace(piece, notes=sorted_notes([*piece.notes, grace])), RIGHT, voice)
    waiting.reached(Fraction(2))
    ((notes, _),) = voice.played
    assert [note.pitch for note in notes] == [44, 45, 46, 47]
