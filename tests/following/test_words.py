"""A teacher's words."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.music.tunes import tune
from trainer.following import marks as m
from trainer.following.marks import Mark, Move
from trainer.following.stretches import Stretch
from trainer.following.timing import Apart, Timing
from trainer.following.words import (
    distance,
    leading,
    letter_name,
    say,
    say_bars,
    say_beat,
    say_left_out,
    say_missed,
    say_move,
    say_place,
    say_stretch,
    say_together,
)
from trainer.music.names import GERMAN
from trainer.music.piece import BOTH, LEFT, RIGHT, Bar, Note, Piece
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import plan, transposed
from trainer.scores.reading import from_bytes

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


def test_the_first_note_of_an_upbeat_has_no_beat_to_be_told() -> None:
    bars = (Bar(0, Fraction(0), Fraction(2)), Bar(1, Fraction(2), Fraction(4)), Bar(2, Fraction(6), Fraction(4)))
    upbeat = replace(WRITTEN, bars=bars)
    assert say_move(Move(m.WENT_BACK, 1.0, 3, 0), upbeat) == "went back from bar 1, beat 2 to the upbeat"
    assert say_move(Move(m.WENT_BACK, 1.0, 3, 1), upbeat) == "went back from bar 1, beat 2 to the upbeat, beat 4"
    assert say_move(Move(m.SKIPPED, 1.0, 0, 6), upbeat) == "skipped from the upbeat to bar 2, beat 1"
    assert say_move(Move(m.WENT_BACK, 1.0, 0, 0), upbeat) == "began again with the upbeat"


def test_after_a_repeat_that_divides_a_bar_beats_are_counted_on() -> None:
    halves = from_bytes(b"X:1\nM:4/4\nL:1/4\nK:C\nC|DEFG|ABc:|:d|efga|A3:|]\n", "halves.abc")
    said = [say_beat(halves, at) for at, note in enumerate(halves.notes) if note.pitch.name in ("C4", "D5")]
    upbeat = ["the upbeat", "the upbeat, beat 4"]
    assert said == [*upbeat, "bar 2 (second time), beat 4", "bar 2 (third time), beat 4"]
    apart = replace(halves, bars=tuple(replace(bar, number=at) for at, bar in enumerate(halves.bars)))
    again = next(at for at, note in enumerate(apart.notes) if note.pitch.name == "D5")
    assert say_beat(apart, again) == "bar 6, beat 1", "short bars with numbers of their own are bars of their own"


def test_a_bar_played_again_is_told_by_its_time_round() -> None:
    bars = tuple(replace(bar, number=1) for bar in WRITTEN.bars)
    written, expected = replace(WRITTEN, bars=bars), replace(EXPECTED, bars=bars)
    assert say(Mark(0, 1, m.STEP, offset=1), written, expected) == "bar 1: mi, E: a step too high, F"
    assert say(Mark(0, 7, m.STEP, offset=2), written, expected) == "bar 1 (second time): do, C: a step too high, D"
    move = say_move(Move(m.WENT_BACK, 1.0, 6, 2), written)
    assert move == "went back from bar 1 (second time), beat 3 to bar 1, beat 3"


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


def with_a_bass() -> Piece:
    """Two bars of melody, one of them on the half beats, over one bass note a bar."""
    low = [Note(f"b{at}", SpelledPitch.parse("C3"), Fraction(4 * at), Fraction(4), hand=LEFT) for at in (0, 1)]
    between = Note("e", SpelledPitch.parse("A4"), Fraction(3, 2), Fraction(1, 2))
    return tune("C", "C4 D4 E4 F4 G4 F4 E4 D4").with_notes([*tune("C", "C4 D4 E4 F4 G4 F4 E4 D4").notes, between, *low])


def at(piece: Piece, id: str) -> int:
    return next(index for index, note in enumerate(piece.notes) if note.id == id)


def test_where_two_hands_play_a_note_left_out_is_told_with_its_hand() -> None:
    piece = with_a_bass()
    assert say_missed(at(piece, "b1"), piece, piece) == "bar 2, left hand: do, C, left out"


def test_notes_left_out_are_all_of_their_hand_in_the_bar_or_named() -> None:
    piece = with_a_bass()
    four = [at(piece, f"n{number}") for number in range(4, 8)]
    assert say_left_out(four, piece) == "all 4 notes left out"
    assert say_left_out(four[1:], piece) == "3 notes left out: fa, mi, re"
    grace = replace(piece.notes[at(piece, "n4")], optional=True)
    piece = piece.with_notes([grace if note.id == "n4" else note for note in piece.notes])
    assert say_left_out(four[1:], piece) == "all 3 notes left out", "what nobody need play is not waited for"


def test_a_place_between_two_beats_is_told_by_its_half() -> None:
    piece = with_a_bass()
    assert say_beat(piece, at(piece, "e")) == "bar 1, beat 2½"
    assert say_beat(piece, at(piece, "n5")) == "bar 2, beat 2"


def test_bars_are_told_from_the_first_to_the_last_and_by_their_times() -> None:
    assert say_bars(WRITTEN, [1, 2]) == "bar 1"
    assert say_bars(WRITTEN, [7, 1]) == "bars 1 to 2"
    again = replace(WRITTEN, bars=tuple(replace(bar, number=1) for bar in WRITTEN.bars))
    assert say_bars(again, [1, 7]) == "bar 1 to bar 1 (second time)"


def test_how_far_a_hand_lay() -> None:
    assert [distance(size) for size in (-1, 12, 14, -24)] == ["a semitone", "an octave", "14 semitones", "2 octaves"]


@pytest.mark.parametrize(
    ("stretch", "words"),
    [(Stretch(m.DISPLACED, -12, BOTH, (0, 1, 2), (0, 1, 2)), "3 notes an octave too low"),
     (Stretch(m.DISPLACED, 2, BOTH, (0, 1, 2), (0, 1, 2)), "3 notes a whole tone too high, in D major"),
     (Stretch(m.DISPLACED, 2, RIGHT, (0, 1, 2), (0, 1, 2)), "the hand lay a whole tone too high for 3 notes"),
     (Stretch(m.AS_WRITTEN, 5, BOTH, (0, 1, 2), (0, 1, 2)), "3 notes played as written, in F major")],
)  # fmt: skip
def test_a_stretch_that_lay_elsewhere(stretch: Stretch, words: str) -> None:
    assert say_stretch(stretch, WRITTEN, EXPECTED) == words


@pytest.mark.parametrize(
    ("seconds", "first", "words"),
    [((0.1, 0.1, -0.1), LEFT, "Hands apart at 3 of 9 places, the left first."),
     ((-0.1, 0.1, -0.1), RIGHT, "Hands apart at 3 of 9 places, the right first."),
     ((0.1, -0.1), "", "Hands apart at 2 of 9 places, now the one first, now the other.")],
)  # fmt: skip
def test_which_hand_came_first_is_told_where_it_mostly_did(seconds: tuple[float, ...], first: str, words: str) -> None:
    timing = Timing(hands_apart=tuple(Apart(note, late) for note, late in enumerate(seconds)), hands_met=9)
    assert leading(timing) == first
    assert say_together(timing) == words


def test_rolled_chords_are_counted_in_words() -> None:
    assert say_together(Timing(rolled=(Apart(0, 0.2),))) == "1 chord rolled."
    assert say_together(Timing(rolled=(Apart(0, 0.2), Apart(4, 0.2)))) == "2 chords rolled."


def test_a_natural_is_not_said_to_belong_to_a_written_key_that_has_it_by_itself() -> None:
    written = tune("G", "B4 G4 C5")
    expected = transposed(written, plan(written.key, "F").interval)
    mark = Mark(0, 2, m.SIGNATURE, offset=1)
    assert say(mark, written, expected) == "bar 1: fa is B flat here; you played B natural"
