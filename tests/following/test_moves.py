"""Moves and what only looks like one."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import pytest

from tests.following.taking import taken
from tests.music.tunes import tune
from trainer.following.follower import Follower
from trainer.following.ground import Ground
from trainer.following.marks import BRUSHED, HESITATED, REPEATED, RIGHT, SKIPPED, WENT_BACK, Mark, Settled
from trainer.following.settling import settled
from trainer.following.story import AGAIN, HIT, Step
from trainer.listening.press import Press
from trainer.music.keys import Key
from trainer.music.piece import LEFT, Bar, KeyChange, Note, Piece
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import plan, transposed
from trainer.scores.reading import read
from trainer.scores.shelf.library import find

# A strain that stands three times, far apart, and something else between.
STRAIN = "C4 E4 D4 G4 F4 A4 G4 C5"
BETWEEN = "G3 B3 A3 D4 C4 F4 E4 B4"
WRITTEN = tune("C", f"{STRAIN} {BETWEEN} {STRAIN} B3 D5 G4 E5 A3 F4 D4 C5 {STRAIN} F5 D5 B3 G3")
EXPECTED = transposed(WRITTEN, plan(WRITTEN.key, "Eb").interval)
PITCHES = [note.midi for note in EXPECTED.notes]


def take(order: list[int], waits: dict[int, float] | None = None) -> list[Press]:
    """The notes of an order 0.6 s apart, longer before some presses."""
    at, presses = 0.0, []
    for index, note in enumerate(order):
        at += (waits or {}).get(index, 0.6)
        presses.append(Press(at, PITCHES[note]))
    return presses


def follow(presses: list[Press]) -> tuple[list[Mark], Settled]:
    follower = Follower(WRITTEN, EXPECTED)
    first = [follower.hear(press) for press in presses]
    return first, follower.settle()


def test_of_three_like_passages_the_near_one_is_gone_back_to() -> None:
    order = [*range(22), *range(17, 36)]
    first, settled = follow(take(order, {22: 2.5}))
    assert [mark.note for mark in settled.marks] == order
    assert [mark.note for mark in first[25:]] == order[25:]
    assert [(move.kind, move.origin, move.goal) for move in settled.moves if move.kind == WENT_BACK] == [
        (WENT_BACK, 21, 17)
    ]


def test_nobody_jumps_within_one_gesture() -> None:
    """Three stray keys with a right one, though they stand in a row elsewhere, move nobody there."""
    presses = take(list(range(12)))
    strays = [Press(presses[9].at + 0.02 * (n + 1), PITCHES[note]) for n, note in enumerate((24, 25, 26))]
    presses[10:10] = strays
    first, settled = follow(presses)
    assert [mark.note for mark in first if not 10 <= mark.press < 13] == list(range(12))
    assert not settled.moves


def test_two_presses_at_the_end_that_fit_elsewhere_are_no_move() -> None:
    """Two keys that stand next to each other at the beginning only: too little to say the player went there."""
    _, settled = follow(take([*range(8, 36), 1, 2]))
    assert not [move for move in settled.moves if move.kind == WENT_BACK]
    _, settled = follow(take([*range(8, 36), 0, 1, 2, 3, 4]))
    assert [move.goal for move in settled.moves if move.kind == WENT_BACK]


@pytest.mark.parametrize(("struck", "goals"), [([3], []), ([3, 4], [9])])
def test_one_chord_that_stands_elsewhere_is_no_move(struck: list[int], goals: list[int]) -> None:
    """The last chord missed so that it is another: only when that is played on from was it gone back to."""
    roots = "C3 A3 F3 D3 B3 G3 E3 C4 A4 F4 D4 G4".split()
    chords = [
        Note(f"n{at}.{up}", replace(root, octave=root.octave + up), Fraction(at), Fraction(1))
        for at, root in enumerate(map(SpelledPitch.parse, roots))
        for up in (0, 1, 2)
    ]
    written = replace(tune("C", " ".join(roots)), notes=tuple(chords))
    expected = transposed(written, plan(written.key, "Eb").interval)
    order = [*range(len(roots) - 1), *struck]
    follower = Follower(written, expected)
    for at, moment in enumerate(order):
        for spread, note in enumerate(expected.moments[moment].notes):
            follower.hear(Press(0.6 * at + 0.01 * spread, expected.notes[note].midi))
    assert [move.goal for move in follower.settle().moves if move.kind == WENT_BACK] == goals


@pytest.mark.parametrize("caught", [0, 6])
def test_a_neighbouring_key_caught_with_a_right_one_is_tied_to_it(caught: int) -> None:
    """By the vocabulary's definition: next to a right key, struck within 60 ms of it, before or after."""
    for late in (0.03, -0.03):
        presses = take(list(range(12)))
        presses.append(Press(presses[caught].at + late, PITCHES[caught] - 1))
        presses.sort(key=lambda press: press.at)
        _, settled = follow(presses)
        told = [(mark.note, mark.cause) for mark in settled.marks]
        brushed = told.index((caught, BRUSHED))
        assert brushed == (caught + 1 if late > 0 else caught)
        assert told[:brushed] + told[brushed + 1 :] == [(note, RIGHT) for note in range(12)]


def test_a_neighbouring_key_that_follows_by_itself_is_not_caught() -> None:
    presses = take(list(range(12)))
    presses.insert(7, Press(presses[6].at + 0.2, PITCHES[6] - 1))
    _, settled = follow(presses)
    assert BRUSHED not in [mark.cause for mark in settled.marks]


@pytest.mark.parametrize("slips", [{}, {1: 1}, {1: 1, 7: 2}, {8: 2}])
def test_a_tune_begun_anew_on_the_note_it_might_go_on_with(slips: dict[int, int]) -> None:
    written = tune("C", "C4 C4 C4 E4 F4 G4 F4 E4 F4 G4 F4 E4 E4 C4 C4 C4 C4 E4 E4 F4 G4 F4 C4 C4 C4 E4 E4 F4 D4 C4")
    expected = transposed(written, plan(written.key, "Eb").interval)
    follower = Follower(written, expected)
    order = [0, 1, 2, 3, *range(10)]
    for at, note in enumerate(order):
        follower.hear(Press(0.4 * at, expected.notes[note].midi + slips.get(at, 0), 64))
    settled = follower.settle()
    assert [mark.note for mark in settled.marks] == order
    assert [(move.kind, move.goal) for move in settled.moves] == [(WENT_BACK, 0)]


@pytest.mark.parametrize("seed", [2, 3, 7])
def test_after_a_thousand_keys_by_chance_the_piece_is_followed_as_before(seed: int) -> None:
    written = read(find("three-bells"))
    expected = transposed(written, plan(written.key, "+2").interval)
    dice, follower, at = random.Random(seed), Follower(written, expected), 0.0
    for note in expected.notes[: len(expected.notes) // 2]:
        follower.hear(Press(at := at + 0.4, note.midi))
    for _ in range(1000):
        follower.hear(Press(at := at + dice.uniform(0.0, 0.02), dice.randrange(128)))
    at += 3.0
    marks = [follower.hear(Press(at := at + 0.4, note.midi)) for note in expected.notes]
    assert sum(mark.cause == RIGHT for mark in marks) >= 0.9 * len(marks)


@pytest.mark.parametrize("slipped", [0, -3, 2])
def test_from_a_displaced_passage_the_player_goes_elsewhere_in_place(slipped: int) -> None:
    """Sixteen notes a third too high, long enough to be thought the whole take's, then two bars back."""
    presses = take([*range(4, 24), *range(16, 36)], {20: 2.5})
    presses[4:20] = [Press(press.at, press.pitch + 3) for press in presses[4:20]]
    presses[20] = Press(presses[20].at, presses[20].pitch + slipped)
    first, settled = follow(presses)
    assert [mark.note for mark in first[24:]] == list(range(20, 36))
    assert [mark.note for mark in settled.marks[20:]] == list(range(16, 36))
    assert [(move.kind, move.goal) for move in settled.moves if move.kind == WENT_BACK] == [(WENT_BACK, 16)]


def test_a_whole_take_displaced_stays_so_after_going_back() -> None:
    presses = [Press(press.at, press.pitch - 5) for press in take([*range(24), *range(8, 30)], {24: 2.5})]
    first, settled = follow(presses)
    assert [mark.note for mark in first[28:]] == list(range(12, 30))
    assert [mark.note for mark in settled.marks] == [*range(24), *range(8, 30)]


@pytest.mark.parametrize(("wait", "kinds"), [(1.8, []), (0.6, [SKIPPED])])
def test_notes_left_out_in_time_are_no_skip(wait: float, kinds: list[str]) -> None:
    """Who drops out for two notes and comes in again in time has left them out; who goes on at once has skipped."""
    _, settled = follow(take([*range(12), *range(14, 36)], {12: wait}))
    assert [move.kind for move in settled.moves if move.kind != HESITATED] == kinds
    assert settled.missed == (12, 13)


def told_along(order: list[int], jumps: set[int]) -> Settled:
    """The settled take of a story that is told: which note each press was meant for, and the presses that jumped."""
    ground, presses = Ground(WRITTEN, EXPECTED, "both"), take(order)
    steps: list[Step] = []
    for index, note in enumerate(order):
        before = steps[-1] if steps else None
        place = note if index in jumps else max(note, before.place if before else 0)
        steps.append(Step(before, index, note, HIT, 0, place, index in jumps))
    return settled(ground, presses, steps)


def test_a_late_note_is_no_move() -> None:
    """A note of five moments ago tied to its place while the player is at another: nothing was skipped after it."""
    order = [*range(11), 5, *range(11, 20)]
    told = told_along(order, set())
    assert [mark.note for mark in told.marks] == order
    assert not [move for move in told.moves if move.kind != HESITATED]


@pytest.mark.parametrize(
    ("order", "jumps", "moves"),
    [
        # Two presses that fit elsewhere, and on as before: nobody went anywhere.
        ([*range(14), 28, 29, *range(14, 30)], {14, 16}, []),
        # From there to a third place: the player came from where the two presses were struck.
        ([*range(14), 28, 29, *range(4, 30)], {14, 16}, [(WENT_BACK, 13, 4)]),
        ([*range(14), 28, 29, 30, *range(4, 30)], {14, 17}, [(SKIPPED, 13, 28), (WENT_BACK, 30, 4)]),
    ],
)
def test_a_place_not_played_on_from_is_none_the_player_went_to(
    order: list[int], jumps: set[int], moves: list[tuple[str, int, int]]
) -> None:
    told = told_along(order, jumps).moves
    assert [(move.kind, move.origin, move.goal) for move in told if move.kind != HESITATED] == moves


@pytest.mark.parametrize("quarters", [1, Fraction(1, 4)])
def test_less_than_a_beat_left_out_after_a_wait_is_no_skip(quarters: Fraction) -> None:
    """Two quarters left out are a skip, two sixteenths a few notes missed."""
    written = WRITTEN.with_notes(
        replace(n, onset=n.onset * quarters, length=n.length * quarters) for n in WRITTEN.notes
    )
    expected = transposed(written, plan(written.key, "Eb").interval)
    follower = Follower(written, expected)
    for press in take([*range(12), *range(14, 36)], {12: 3.5}):
        follower.hear(press)
    told = follower.settle()
    assert [move.kind for move in told.moves if move.kind != HESITATED] == ([SKIPPED] if quarters == 1 else [])
    assert told.missed == (12, 13)


@pytest.mark.parametrize(("back", "kinds"), [(3, []), (4, [WENT_BACK])])
def test_less_than_a_beat_gone_back_puts_right_and_is_no_move(back: int, kinds: list[str]) -> None:
    """Counted from where the player was about to go on, in sixteenths."""
    written = WRITTEN.with_notes(replace(n, onset=n.onset / 4, length=n.length / 4) for n in WRITTEN.notes)
    follower = Follower(written, transposed(written, plan(written.key, "Eb").interval))
    for press in take([*range(14), *range(14 - back, 36)], {14: 2.5}):
        follower.hear(press)
    told = follower.settle()
    assert [mark.note for mark in told.marks] == [*range(14), *range(14 - back, 36)]
    assert [move.kind for move in told.moves if move.kind != HESITATED] == kinds


def rolling(beats: int) -> Piece:
    """Eight bars of 4/4 in pairs alike: in the right hand so many beats of a tune, eighths in the left."""
    notes = []
    for bar in range(8):
        for beat, name in enumerate(("E5 G5", "F5 A5")[bar % 2].split()[:beats]):
            onset = Fraction(4 * bar + beat)
            notes.append(Note(f"r{bar}.{beat}", SpelledPitch.parse(name), onset, Fraction(1)))
        for step, name in enumerate(("C3 G3 E3 G3 C4 G3 E3 G3", "D3 A3 F3 A3 D4 A3 F3 A3")[bar % 2].split()):
            onset = Fraction(4 * bar) + Fraction(step, 2)
            pitch = SpelledPitch.parse(name)
            notes.append(Note(f"l{bar}.{step}", pitch, onset, Fraction(1, 2), hand=LEFT, staff=2))
    bars = tuple(Bar(i + 1, Fraction(4 * i), Fraction(4)) for i in range(8))
    return Piece("rolling", (), bars, (KeyChange(Fraction(0), Key.parse("C")),)).with_notes(notes)


@pytest.mark.parametrize("beats", [1, 2])
@pytest.mark.parametrize("bar", [3, 5])
def test_a_hand_that_drops_out_for_a_bar_has_skipped_nothing(beats: int, bar: int) -> None:
    """Nobody waits for it: what comes in time after it is where it stands, not in the like bar before."""
    written = rolling(beats)
    expected = transposed(written, plan(written.key, "Eb").interval)
    follower = Follower(written, expected)
    silent = [n for n, note in enumerate(expected.notes) if note.hand == LEFT and 4 * bar <= note.onset < 4 * bar + 4]
    played = [n for n in range(len(expected.notes)) if n not in silent]
    first = [follower.hear(Press(0.5 * float(expected.notes[n].onset), expected.notes[n].midi)) for n in played]
    told = follower.settle()
    assert [mark.note for mark in first] == played
    assert [mark.note for mark in told.marks] == played
    assert [move for move in told.moves if move.kind != HESITATED] == []
    assert told.missed == tuple(silent)


@pytest.mark.parametrize("notes", [8, 14])
def test_a_take_begun_where_the_page_lies_is_told_there_and_not_at_the_like_passage_before(notes: int) -> None:
    for begins in (16, 32):
        order = list(range(begins, min(begins + notes, len(PITCHES))))
        follower = Follower(WRITTEN, EXPECTED, begins=begins)
        assert follower.place == begins
        for at, press in enumerate(take(order)):
            assert follower.hear(press).note == order[at]
            assert follower.place == order[at] + 1
        settled = follower.settle()
        assert [mark.note for mark in settled.marks] == order
        assert (settled.moves, settled.missed) == ((), ())


def test_who_does_not_begin_where_the_page_lies_is_found_all_the_same() -> None:
    for order in (list(range(16)), list(range(24, 36))):
        follower = Follower(WRITTEN, EXPECTED, begins=16)
        for press in take(order):
            follower.hear(press)
        assert follower.place == order[-1] + 1
        settled = follower.settle()
        assert [mark.note for mark in settled.marks] == order
        assert settled.moves == ()


def test_a_slip_at_the_place_where_the_page_lies_is_a_slip_there() -> None:
    follower = Follower(WRITTEN, EXPECTED, begins=32)
    presses = take(list(range(32, 36)))
    presses[0] = replace(presses[0], pitch=presses[0].pitch + 2)
    told = [follower.hear(press).note for press in presses]
    assert told[1:] == [33, 34, 35]
    assert [mark.note for mark in follower.settle().marks] == [32, 33, 34, 35]


def test_a_take_with_a_late_note_before_a_jump_ends_with_its_marks() -> None:
    """A left hand alone that goes wrong and gives up, octaves brushed meanwhile."""
    piece = read(find("swallowtail-jig"))
    expected = transposed(piece, plan(piece.key, "+4").interval)
    follower = Follower(piece, expected, hands=LEFT, compass=(36, 96))
    struck = (
        (0.0, 61), (0.9, 63), (1.8, 63), (2.7, 63), (3.6, 63), (5.4, 59), (5.4, 63), (5.415, 78), (6.3, 56),
        (6.3, 63), (6.305, 59), (6.31, 75), (7.2, 56), (7.2, 63), (7.205, 59), (7.215, 71), (9.0, 61),
    )  # fmt: skip
    for at, pitch in struck:
        follower.hear(Press(at, pitch))
    assert len(follower.settle().marks) == len(struck)


def test_a_wait_is_told_by_how_much_longer_it_was_than_the_music_asked_for() -> None:
    """Three seconds of standing still before bar 5, on top of the crotchet that was due."""
    settled = taken("ode-to-joy", "A", when=lambda at, _: 0.6 * at + 3.0 * (at >= 16)).finish()
    (move,) = [move for move in settled.moves if move.kind == HESITATED]
    assert move.seconds == pytest.approx(3.0, abs=0.05)


@pytest.mark.parametrize(("then", "waits"), [(0.6, 0), (3.0, 1)])
def test_a_key_struck_again_after_a_stop_is_told_once(then: float, waits: int) -> None:
    """Somebody stops, strikes the same once more and goes on in time; a wait after that is one all the same."""
    order = [*range(12), 11, *range(12, 24)]
    presses = take(order, {12: 1.5, 13: then})
    step: Step | None = None
    steps = []
    for press, note in enumerate(order):
        step = Step(step, press, note, AGAIN if press == 12 else HIT, 0, note, False)
        steps.append(step)
    told = settled(Ground(WRITTEN, EXPECTED, "both"), presses, steps)
    assert [mark.press for mark in told.marks if mark.cause == REPEATED] == [12]
    assert [(move.kind, move.goal) for move in told.moves] == [(HESITATED, 12)] * waits
