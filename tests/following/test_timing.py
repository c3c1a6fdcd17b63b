"""Pulse, waiting, hands and chords together, the click."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction

import pytest

from tests.music.tunes import tune
from trainer.following.marks import REPEATED, RIGHT, STEP, Mark
from trainer.following.timing import Click, Timing, timing
from trainer.following.words import say_together
from trainer.listening.press import Press
from trainer.music.piece import Bar, Note, Piece
from trainer.music.pitch import SpelledPitch

TUNE = "C4 D4 E4 F4 G4 F4 E4 D4 C4 E4 G4 E4"


def measured(piece: Piece, times: list[float], click: Click | None = None) -> Timing:
    presses = [Press(at, note.midi) for at, note in zip(times, piece.notes, strict=True)]
    marks = [Mark(i, i, RIGHT) for i in range(len(presses))]
    return timing(piece, presses, marks, click)


def test_even_playing_has_its_pulse_and_no_hesitation() -> None:
    told = measured(tune("C", TUNE), [0.5 * i for i in range(12)])
    assert told.pulse_bpm == pytest.approx(120.0)
    assert told.steadiness == pytest.approx(1.0)
    assert told.hesitations == ()
    assert [bar for bar, _ in told.bars] == [0, 1, 2]


def test_a_long_wait_is_told_and_does_not_slow_the_pulse() -> None:
    told = measured(tune("C", TUNE), [0.5 * i + (2.0 if i >= 6 else 0.0) for i in range(12)])
    assert [(wait.origin, wait.note) for wait in told.hesitations] == [(5, 6)]
    assert told.hesitations[0].seconds == pytest.approx(2.5)
    assert told.hesitations[0].due == pytest.approx(0.5)
    assert told.pulse_bpm == pytest.approx(120.0)


def test_a_rest_and_a_long_note_are_no_hesitation() -> None:
    piece = tune("C", TUNE)
    later = [replace(n, onset=n.onset + (4 if i >= 6 else 0)) for i, n in enumerate(piece.notes)]
    told = measured(piece.with_notes(later), [0.5 * i + (2.0 if i >= 6 else 0.0) for i in range(12)])
    assert told.hesitations == ()


def test_a_fermata_is_held_as_long_as_one_likes() -> None:
    piece = tune("C", TUNE)
    signed = piece.with_notes(replace(n, signs=("fermata",)) if i == 5 else n for i, n in enumerate(piece.notes))
    told = measured(signed, [0.5 * i + (2.0 if i >= 6 else 0.0) for i in range(12)])
    assert told.hesitations == ()
    assert told.pulse_bpm == pytest.approx(120.0)


def test_hands_apart_and_a_rolled_chord() -> None:
    bass = Note("b", SpelledPitch.parse("C3"), Fraction(0), Fraction(4), hand="left", staff=2)
    chord = [Note(f"c{i}", SpelledPitch.parse(p), Fraction(4), Fraction(4)) for i, p in enumerate(("C4", "E4", "G4"))]
    melody = Note("m", SpelledPitch.parse("E5"), Fraction(0), Fraction(4))
    piece = tune("C", "C4").with_notes([bass, melody, *chord])
    told = measured(piece, [0.0, 0.12, 2.0, 2.07, 2.15])
    assert [apart.seconds for apart in told.hands_apart] == [pytest.approx(0.12)]
    assert told.hands_met == 1
    assert say_together(told) == "Hands apart at 1 of 1 place, the left first; 1 chord rolled."
    assert [(apart.note, apart.seconds) for apart in told.rolled] == [(2, pytest.approx(0.15))]


def test_a_written_arpeggio_is_rolled_rightly_and_a_grace_note_goes_before() -> None:
    chord = [
        Note(f"c{i}", SpelledPitch.parse(p), Fraction(4), Fraction(4), ornament="arpeggio")
        for i, p in enumerate(("C4", "E4", "G4"))
    ]
    grace = Note("g", SpelledPitch.parse("D5"), Fraction(0), Fraction(0), grace=True, optional=True)
    bass = Note("b", SpelledPitch.parse("C3"), Fraction(0), Fraction(4), hand="left", staff=2)
    piece = tune("C", "C4").with_notes(
        [grace, Note("m", SpelledPitch.parse("E5"), Fraction(0), Fraction(4)), bass, *chord]
    )
    order = [piece.notes.index(n) for n in sorted(piece.notes, key=lambda n: (n.onset, not n.grace, n.midi))]
    ats = [0.0, 0.15, 0.16, 2.0, 2.07, 2.15]
    presses = [Press(at, piece.notes[note].midi) for at, note in zip(ats, order, strict=True)]
    told = timing(piece, presses, [Mark(index, note, RIGHT) for index, note in enumerate(order)])
    assert told.hands_met == 1
    assert told.hands_apart == told.rolled == ()
    assert say_together(told) == ""


def test_early_and_late_against_the_click() -> None:
    told = measured(tune("C", "C4 D4 E4 F4"), [1.0, 1.6, 1.9, 2.5], Click(start=1.0, tempo=120.0))
    assert (told.early, told.late) == (1, 1)
    assert told.against_click_s == pytest.approx(0.0)


@pytest.mark.parametrize("begins", [-0.18, 0.0])
def test_small_notes_before_the_beat_or_on_it_are_neither_early_nor_late(begins: float) -> None:
    """Every second note with two small notes: the large ones in time after them, or the small ones on the beat."""
    piece = tune("C", TUNE)
    small = [
        Note(f"g{at}{i}", SpelledPitch.parse(pitch), Fraction(at), Fraction(0), grace=True, optional=True)
        for at in range(0, 12, 2)
        for i, pitch in enumerate(("A4", "B4"))
    ]
    piece = piece.with_notes([*piece.notes, *small])
    times, before = [], 0
    for note in piece.notes:
        leant = float(note.onset) % 2 == 0
        before = before + 1 if note.grace else 0
        times.append(float(note.onset) + (begins + (0.09 * (before - 1) if note.grace else 0.18) if leant else 0.0))
    told = measured(piece, times, Click(start=0.0, tempo=60.0))
    assert told.against_click_s == pytest.approx(0.0)
    assert (told.early, told.late) == (0, 0)
    if begins:
        assert told.steadiness == pytest.approx(1.0)


def test_many_small_notes_before_the_beat_are_no_hesitation() -> None:
    piece = tune("C", TUNE)
    run = [
        Note(f"g{i}", SpelledPitch.parse("A4"), Fraction(4), Fraction(0), grace=True, optional=True) for i in range(16)
    ]
    piece = piece.with_notes([*piece.notes, *run])
    times = (
        [0.5 * at for at in range(4)] + [2.0 + 0.12 * at for at in range(17)] + [4.0 + 0.5 * at for at in range(1, 8)]
    )
    assert measured(piece, times).hesitations == ()


@pytest.mark.parametrize(("resumed", "lying"), [(8, None), (13, pytest.approx(0.02))])
def test_who_is_in_another_bar_than_the_click_is_neither_early_nor_late(resumed: int, lying: float | None) -> None:
    """With the click, a little late, then three bars behind it: those notes are in no mean and no count."""
    piece = tune("C", TUNE + " " + TUNE)
    times = [0.5 * at + (0.02 if at < resumed else 6.0) for at in range(len(piece.notes))]
    told = measured(piece, times, Click(start=0.0, tempo=120.0))
    assert told.elsewhere == len(piece.notes) - resumed
    assert told.against_click_s == lying
    assert (told.early, told.late) == (0, 0)


@pytest.mark.parametrize("away", [0.2, -0.2])
def test_who_falls_back_or_hurries_little_by_little_is_late_or_early_however_far(away: float) -> None:
    """Two fifths slower or faster than the click for six bars: more than a bar away in the end."""
    piece = tune("C", TUNE + " " + TUNE)
    times = [20.0 + (0.5 + away) * at for at in range(len(piece.notes))]
    told = measured(piece, times, Click(start=20.0, tempo=120.0))
    assert told.elsewhere == 0
    assert told.against_click_s == pytest.approx(away * 11.5)
    assert (told.early, told.late) == ((0, 23) if away > 0 else (23, 0))


def test_presses_that_go_on_from_others_with_the_click_may_lie_far_from_it() -> None:
    piece = tune("C", TUNE)
    told = [
        timing(
            piece,
            [Press(10.0 + 0.6 * at, note.midi) for at, note in enumerate(piece.notes)],
            [Mark(at, at, RIGHT) for at in range(12)],
            Click(start=0.0, tempo=120.0),
            goes_on,
        )
        for goes_on in (False, True)
    ]
    assert [one.elsewhere for one in told] == [12, 0]
    assert [one.against_click_s for one in told] == [None, pytest.approx(10.55)]


def test_who_leaps_while_falling_back_is_elsewhere_until_the_click_is_met_again() -> None:
    piece = tune("C", TUNE + " " + TUNE)
    times = [0.5 * at + (0.1 * at if at < 8 else 4.0 if at < 16 else 0.0) for at in range(len(piece.notes))]
    told = measured(piece, times, Click(start=0.0, tempo=120.0))
    assert told.elsewhere == 8


def test_too_little_to_tell() -> None:
    told = measured(tune("C", "C4"), [0.0])
    assert (told.pulse_bpm, told.steadiness, told.against_click_s) == (None, None, None)
    assert told.bars == told.hesitations == told.hands_apart == told.rolled == ()
    assert (told.hands_met, told.early, told.late, told.elsewhere) == (0, 0, 0, 0)


def test_a_wait_right_after_the_first_note_is_told_from_that_note() -> None:
    told = measured(tune("C", TUNE), [0.5 * i + (2.0 if i else 0.0) for i in range(12)])
    assert [(wait.origin, wait.note) for wait in told.hesitations] == [(0, 1)]


def test_a_slip_for_a_note_of_a_chord_spreads_neither_chord_nor_hands() -> None:
    chord = [Note(f"c{i}", SpelledPitch.parse(p), Fraction(0), Fraction(4)) for i, p in enumerate(("C4", "E4", "G4"))]
    bass = Note("b", SpelledPitch.parse("C3"), Fraction(0), Fraction(4), hand="left", staff=2)
    piece = tune("C", "C4").with_notes([*chord, bass, Note("m", SpelledPitch.parse("E5"), Fraction(4), Fraction(4))])
    names = [note.id for note in piece.notes]
    played = [("c0", "C4", RIGHT), ("c1", "E4", RIGHT), ("c2", "A4", STEP), ("b", "D3", STEP), ("b", "C3", RIGHT)]
    times = [100.0, 100.01, 100.3, 100.0, 100.02]
    order = sorted(range(5), key=times.__getitem__)
    presses = [Press(times[at], SpelledPitch.parse(played[at][1]).midi) for at in order]
    marks = [Mark(place, names.index(played[at][0]), played[at][2]) for place, at in enumerate(order)]
    presses.append(Press(102.0, SpelledPitch.parse("E5").midi))
    marks.append(Mark(5, names.index("m"), RIGHT))
    told = timing(piece, presses, marks)
    assert told.hands_met == 1
    assert told.hands_apart == told.rolled == ()


@pytest.mark.parametrize("began", [0.0, 100.0])
def test_a_chord_struck_at_once_is_not_rolled(began: float) -> None:
    chord = [Note(f"c{i}", SpelledPitch.parse(p), Fraction(4), Fraction(4)) for i, p in enumerate(("C4", "E4", "G4"))]
    piece = tune("C", "C4").with_notes([Note("m", SpelledPitch.parse("E5"), Fraction(0), Fraction(4)), *chord])
    assert measured(piece, [began, began + 2.0, began + 2.04, began + 2.08]).rolled == ()
    rolled = measured(piece, [began, began + 2.0, began + 2.05, began + 2.1]).rolled
    assert [(chord.note, chord.seconds) for chord in rolled] == [(1, pytest.approx(0.1))]


def test_two_moments_struck_at_one_time_have_no_tempo_between_them() -> None:
    times = [0.5 * i for i in range(12)]
    times[6] = times[5]
    told = measured(tune("C", TUNE), times)
    assert told.steadiness == pytest.approx(1.0)
    assert told.pulse_bpm == pytest.approx(120.0)


def test_the_pulse_at_a_gap_is_that_of_the_gaps_about_it_on_either_side() -> None:
    """Half as fast from the middle on is another tempo, no row of waits: told of the bars, and steady in itself."""
    piece = tune("C", " ".join([TUNE] * 4))
    times = [0.5 * at if at < 24 else 12.0 + 0.95 * (at - 24) for at in range(48)]
    told = measured(piece, times)
    assert told.hesitations == ()
    assert [round(bpm) for _, bpm in told.bars] == [120] * 6 + [63] * 6
    assert told.steadiness == pytest.approx(1.0)


def test_a_leap_of_more_than_six_moments_begins_another_passage() -> None:
    """Its gap has no tempo: nobody waited there."""
    piece = tune("C", " ".join([TUNE] * 2))
    for missing, waits in ((5, 1), (6, 0)):
        order = [0, 1, 2, 3, *range(4 + missing, 24)]
        presses = [Press(0.5 * n + (9.0 if n > 3 else 0.0), piece.notes[n].midi) for n in order]
        told = timing(piece, presses, [Mark(at, note, RIGHT) for at, note in enumerate(order)])
        assert len(told.hesitations) == waits


def test_a_bar_played_again_is_no_wait_before_what_comes_after_it() -> None:
    """The last two notes of a bar played three times over, then on."""
    piece = tune("C", TUNE)
    order = [0, 1, 2, 3, 2, 3, 2, 3, *range(4, 12)]
    presses = [Press(0.5 * at, piece.notes[note].midi) for at, note in enumerate(order)]
    told = timing(piece, presses, [Mark(at, note, RIGHT) for at, note in enumerate(order)])
    assert told.hesitations == ()
    assert told.pulse_bpm == pytest.approx(120.0)
    late = [*presses[:8], *(Press(press.at + 2.0, press.pitch) for press in presses[8:])]
    told = timing(piece, late, [Mark(at, note, RIGHT) for at, note in enumerate(order)])
    assert [wait.seconds for wait in told.hesitations] == [pytest.approx(2.5)]


@pytest.mark.parametrize("left_s", [-0.02, 0.02])
def test_both_hands_wait_and_the_upper_note_says_so_whichever_came_first(left_s: float) -> None:
    piece = tune("C", TUNE)
    bass = [
        Note(f"b{n}", SpelledPitch.parse("C3"), Fraction(4 * n), Fraction(4), hand="left", staff=2) for n in (0, 1, 2)
    ]
    piece = piece.with_notes([*piece.notes, *bass])
    struck = sorted(
        (float(note.onset) * 0.5 + (2.0 if note.onset >= 4 else 0.0) + (left_s if note.hand == "left" else 0.0), index)
        for index, note in enumerate(piece.notes)
    )
    presses = [Press(at + 1.0, piece.notes[index].midi) for at, index in struck]
    (wait,) = timing(piece, presses, [Mark(at, index, RIGHT) for at, (_, index) in enumerate(struck)]).hesitations
    assert piece.notes[wait.note].hand == "right"
    assert piece.notes[wait.note].onset == 4


def test_a_short_wait_in_quick_notes_is_none() -> None:
    """Thrice as long as due, but a quarter of a second longer only."""
    told = measured(tune("C", TUNE), [0.125 * i + (0.25 if i >= 6 else 0.0) for i in range(12)])
    assert told.hesitations == ()


def test_steadiness_is_one_less_the_usual_distance_from_the_pulse() -> None:
    uneven = [0.0, *itertools.accumulate(itertools.islice(itertools.cycle((0.45, 0.5, 0.55)), 11))]
    assert measured(tune("C", TUNE), uneven).steadiness == pytest.approx(0.9)


def test_bars_are_told_in_felt_beats() -> None:
    """Dotted quarters in six-eight, two a bar, at sixty a minute."""
    piece = tune("C", "C4 E4 G4 E4")
    dotted = [replace(note, onset=note.onset * 3 / 2, length=Fraction(3, 2)) for note in piece.notes]
    bars = tuple(Bar(at + 1, Fraction(3 * at), Fraction(3), (6, 8)) for at in range(2))
    told = measured(replace(piece.with_notes(dotted), bars=bars), [1.0 * at for at in range(4)])
    assert [round(bpm) for _, bpm in told.bars] == [60, 60]
    assert told.pulse_bpm == pytest.approx(60.0)


def test_a_hand_a_whole_beat_late_is_apart_from_the_other_and_one_that_is_put_right_is_not() -> None:
    """The left hand comes when the right one is at its next note already; elsewhere a wrong key of it is put right."""
    piece = tune("C", TUNE)
    bass = [
        Note(f"b{n}", SpelledPitch.parse("C3"), Fraction(2 * n), Fraction(2), hand="left", staff=2) for n in range(6)
    ]
    piece = piece.with_notes([*piece.notes, *bass])
    struck = sorted((0.6 * float(n.onset) + 0.601 * (n.hand == "left"), at) for at, n in enumerate(piece.notes))
    presses = [Press(at, piece.notes[index].midi) for at, index in struck]
    told = timing(piece, presses, [Mark(at, index, RIGHT) for at, (_, index) in enumerate(struck)])
    assert [apart.seconds for apart in told.hands_apart] == [pytest.approx(-0.601)] * 6
    assert say_together(told) == "Hands apart at 6 of 6 places, the right first."
    assert told.pulse_bpm == pytest.approx(100.0)
    wrong = [(0.6 * float(n.onset), at) for at, n in enumerate(piece.notes) if n.hand == "left"]
    order = sorted([(at, index, RIGHT) for at, index in struck] + [(at, index, STEP) for at, index in wrong])
    presses = [Press(at, piece.notes[index].midi) for at, index, _ in order]
    told = timing(piece, presses, [Mark(at, index, cause) for at, (_, index, cause) in enumerate(order)])
    assert told.hands_apart == ()


def test_a_trill_that_begins_with_the_upper_note_puts_no_hands_apart() -> None:
    bass = Note("b", SpelledPitch.parse("C3"), Fraction(0), Fraction(4), hand="left", staff=2)
    trill = Note("t", SpelledPitch.parse("D5"), Fraction(0), Fraction(4), ornament="trill")
    piece = tune("C", "C4 E4 G4 C5 E5").with_notes(
        [bass, trill, Note("m", SpelledPitch.parse("C5"), Fraction(4), Fraction(4))]
    )
    presses = [Press(at, SpelledPitch.parse(name).midi) for at, name in ((0.0, "C3"), (0.0, "E5"), (0.09, "D5"))]
    marks = [Mark(0, 0, RIGHT), Mark(1, None, RIGHT), Mark(2, 1, RIGHT), Mark(3, 2, RIGHT)]
    told = timing(piece, [*presses, Press(2.0, 72)], marks)
    assert (told.hands_met, told.hands_apart) == (0, ())


@pytest.mark.parametrize(("first", "found", "then", "waits"), [
    (STEP, 0.7, 0.6, 0), (STEP, 4.0, 0.6, 1), (STEP, 0.7, 4.0, 1), (RIGHT, 4.0, 0.6, 0), (RIGHT, 4.0, 3.0, 1)
])  # fmt: skip
def test_who_puts_a_slip_right_or_strikes_a_key_again_and_goes_on_in_time_does_not_wait_as_well(
    first: str, found: float, then: float, waits: int
) -> None:
    """The fifth note: struck wrongly and then rightly, or twice; seconds to the second time, and on to the sixth."""
    piece = tune("C", TUNE)
    struck = [(0.6 * at + (found + then - 0.6) * (at > 4), at, RIGHT) for at in range(12)]
    struck[4] = (2.4, 4, first)
    struck.insert(5, (2.4 + found, 4, RIGHT if first == STEP else REPEATED))
    presses = [Press(at, piece.notes[note].midi) for at, note, _ in struck]
    told = timing(piece, presses, [Mark(at, note, cause) for at, (_, note, cause) in enumerate(struck)])
    assert len(told.hesitations) == waits
    assert told.pulse_bpm == pytest.approx(100.0)
