"""A teacher's words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.music.tunes import tune
from trainer.following import marks as m
from trainer.following.marks import Mark, Move
from trainer.following.words import habits, letter_name, say, say_missed, say_move, say_place
from trainer.music.names import GERMAN
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import plan, transposed

WRITTEN = tune("F", "F4 A4 Bb4 C5 B4 D5 E5 F5")
EXPECTED = transposed(WRITTEN, plan(WRITTEN.key, "C").interval)  # C E F G F# A B C

SAID = [
    (Mark(0, 6, m.SIGNATURE, offset=-1), "bar 2: ti is B natural here; the B flat belongs to the written key"),
    (Mark(0, 1, m.AS_WRITTEN, offset=5), "bar 1: mi played as written: A for E"),
    (Mark(0, 4, m.ACCIDENTAL, offset=-1),
     "bar 2: fi is F sharp here: the accidental moves along; you played F natural"),
    (Mark(0, 1, m.STEP, offset=1), "bar 1: mi, E: a step too high, F"),
    (Mark(0, 3, m.OCTAVE, offset=-12), "bar 1: sol, G: the right note an octave too low"),
    (Mark(0, 3, m.DISPLACED, offset=2), "bar 1: sol, G: the hand lay a whole tone too high"),
    (Mark(0, 3, m.BRUSHED, offset=2), "bar 1: the neighbouring key A brushed beside sol, G"),
    (Mark(0, 3, m.REPEATED), "bar 1: sol, G: struck again"),
    (Mark(0, 3, m.WRONG, offset=5), "bar 1: sol is G here; you played C"),
    (Mark(0, None, m.EXTRA), "a key that is not written here"),
    (Mark(0, 3, m.RIGHT), ""),
]  # fmt: skip


@pytest.mark.parametrize(("mark", "words"), SAID)
def test_every_cause_has_words(mark: Mark, words: str) -> None:
    assert say(mark, WRITTEN, EXPECTED) == words


def test_both_ways_to_sing_minor() -> None:
    written = tune("a", "A4 C5 E5")
    expected = transposed(written, plan(written.key, "d").interval)
    mark = Mark(0, 1, m.STEP, offset=-1)
    assert say(mark, written, expected) == "bar 1: do, F: a step too low, E"
    assert say(mark, written, expected, minor="do") == "bar 1: me, F: a step too low, E"


def test_german_letters() -> None:
    names = [letter_name(SpelledPitch.parse(p), GERMAN) for p in "B4 Bb4 F#4 Eb4 Ab4 Cb4 Fx4".split()]
    assert names == ["H", "B", "Fis", "Es", "As", "Ces", "Fisis"]


def test_moves_and_missed_notes_by_bar_and_beat() -> None:
    assert say_move(Move(m.WENT_BACK, 1.0, 6, 2), WRITTEN) == "went back from bar 2, beat 3 to bar 1, beat 3"
    assert say_move(Move(m.SKIPPED, 1.0, 1, 5), WRITTEN) == "skipped from bar 1, beat 2 to bar 2, beat 2"
    assert say_move(Move(m.HESITATED, 1.0, 1, 2, 2.5), WRITTEN) == "waited 2.5 s before bar 1, beat 3"
    assert say_missed(2, WRITTEN, EXPECTED) == "bar 1: fa, F, left out"
    assert say_place(WRITTEN, 7) == "bar 2"


def test_a_bar_played_again_is_told_by_its_time_round() -> None:
    bars = tuple(replace(bar, number=1) for bar in WRITTEN.bars)
    written, expected = replace(WRITTEN, bars=bars), replace(EXPECTED, bars=bars)
    assert say(Mark(0, 1, m.STEP, offset=1), written, expected) == "bar 1: mi, E: a step too high, F"
    assert say(Mark(0, 7, m.STEP, offset=2), written, expected) == "bar 1 (second time): do, C: a step too high, D"
    move = say_move(Move(m.WENT_BACK, 1.0, 6, 2), written)
    assert move == "went back from bar 1 (second time), beat 3 to bar 1, beat 3"


def test_the_same_slip_is_told_once_with_its_count() -> None:
    same = [Mark(i, 6, m.SIGNATURE, offset=-1) for i in range(3)]
    once = [Mark(9, 1, m.STEP, offset=1)]
    assert habits([*same, *once], WRITTEN, EXPECTED) == [
        "ti is B natural here; the B flat belongs to the written key: 3 times, bar 2"
    ]


def test_a_key_that_answers_nothing_is_named() -> None:
    extra = Mark(0, None, m.EXTRA)
    assert say(extra, WRITTEN, EXPECTED, pressed=61) == "no C sharp is written here"


@pytest.mark.parametrize(("key", "away", "named"), [("Eb", -4, "D flat"), ("Eb", 1, "G flat"), ("A", 4, "D sharp")])
def test_a_black_key_is_named_as_the_key_would_write_it(key: str, away: int, named: str) -> None:
    """The melody of the parallel minor in E flat major has a D flat in it, no C sharp."""
    written = tune("C", "C4 D4 C4")
    expected = transposed(written, plan(written.key, key).interval)
    assert say(Mark(0, 1, m.WRONG, offset=away), written, expected).endswith(f"you played {named}")


def test_a_natural_beside_its_flat_is_told_apart_whatever_the_cause() -> None:
    written = tune("G", "G4 B4 D5")
    expected = transposed(written, plan(written.key, "Eb").interval)
    wrong, brushed = Mark(0, 0, m.WRONG, offset=13), Mark(0, 2, m.BRUSHED, offset=1)
    assert say(wrong, written, expected) == "bar 1: do is E flat here; you played E natural"
    assert say(brushed, written, expected) == "bar 1: the neighbouring key B natural brushed beside sol, B flat"


@pytest.mark.parametrize("cause", [m.DISPLACED, m.AS_WRITTEN, m.SIGNATURE, m.STEP])
def test_a_key_that_was_right_where_the_whole_take_lay_is_no_slip_of_its_own(cause: str) -> None:
    """A semitone above throughout, here and there a note alone is told as a sign forgotten or a step off."""
    lay = m.Finding(m.OTHER_KEY, "All of it was played in E major, a semitone above E flat major.", 1)
    settled = m.Settled((), (), (), (lay,))
    assert settled.is_of_all(Mark(0, 3, cause, offset=1))
    assert not settled.is_of_all(Mark(0, 3, cause, offset=2))
    assert not m.Settled((), (), ()).is_of_all(Mark(0, 3, m.RIGHT))
