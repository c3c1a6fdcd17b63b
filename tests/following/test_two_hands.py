"""Two hands that do not always go together, and what is put right on the way: takes made by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from trainer.following import marks as m
from trainer.following.follower import Follower
from trainer.following.marks import Mark, Settled
from trainer.following.timing import timing
from trainer.listening.press import Press
from trainer.music.keys import Key
from trainer.music.piece import BOTH, LEFT, RIGHT, Bar, KeyChange, Note, Piece
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import plan, transposed

TUNE = "G4 A4 B4 D5 C5 B4 A4 F#4 G4 B4 D5 E5 C5 A4 B4 G4 A4 C5 B4 D5 E5 C5 A4 F#4 G4".split()
CHORDS = ["G2 D3 B3", "C3 E3 A3", "D3 F#3 C4", "E3 G3 B3", "A2 E3 C4"]
BEAT_S = 0.7


def written() -> Piece:
    """A melody in quarters over a chord of three on every beat, G major."""
    notes = []
    for beat, name in enumerate(TUNE):
        notes.append(Note(f"r{beat}", SpelledPitch.parse(name), Fraction(beat), Fraction(1)))
        for voice, low in enumerate(CHORDS[beat % 5].split()):
            pitch = SpelledPitch.parse(low)
            notes.append(Note(f"l{beat}.{voice}", pitch, Fraction(beat), Fraction(1), hand=LEFT, staff=2))
    bars = tuple(Bar(i + 1, Fraction(4 * i), Fraction(4)) for i in range(7))
    return Piece("two hands", (), bars, (KeyChange(Fraction(0), Key.parse("G")),)).with_notes(notes)


WRITTEN = written()
EXPECTED = transposed(WRITTEN, plan(WRITTEN.key, "Bb").interval)


def numbers(beat: int, hand: str) -> list[int]:
    return [n for n in EXPECTED.moments[beat].notes if EXPECTED.notes[n].hand == hand]


def strike(at: float, notes: list[int], away: int = 0) -> list[Press]:
    """Notes together, a few milliseconds apart."""
    return [Press(at + 0.006 * i, EXPECTED.notes[n].midi + away) for i, n in enumerate(notes)]


def beats(low: int, high: int, start: float = 0.0) -> list[Press]:
    """Both hands in time from one beat up to another."""
    return [p for b in range(low, high) for p in strike(start + BEAT_S * (b - low), both(b))]


def both(beat: int) -> list[int]:
    return numbers(beat, RIGHT) + numbers(beat, LEFT)


def follow(presses: list[Press]) -> tuple[Follower, list[Mark], Settled]:
    follower = Follower(WRITTEN, EXPECTED)
    return follower, [follower.hear(press) for press in presses], follower.settle()


@pytest.mark.parametrize(("plays", "rests"), [(RIGHT, LEFT), (LEFT, RIGHT)])
def test_one_hand_goes_on_alone_for_a_while(plays: str, rests: str) -> None:
    alone = [p for b in range(8, 15) for p in strike(BEAT_S * b, numbers(b, plays))]
    presses = [*beats(0, 8), *alone, *beats(15, 25, BEAT_S * 15)]
    _, first, settled = follow(presses)
    left_out = {n for b in range(8, 15) for n in numbers(b, rests)}
    meant = [n for b in range(25) for n in both(b) if n not in left_out]
    assert [(mark.note, mark.cause) for mark in settled.marks] == [(n, m.RIGHT) for n in meant]
    assert set(settled.missed) == left_out
    assert not [move for move in settled.moves if move.kind != m.HESITATED]
    assert sum(mark.note == n for mark, n in zip(first, meant, strict=True)) >= len(meant) - 3


def test_a_hand_that_does_not_play_is_not_waited_for() -> None:
    presses = [p for b in range(25) for p in strike(BEAT_S * b, numbers(b, RIGHT))]
    follower, _, settled = follow(presses)
    assert follower.place == len(EXPECTED.moments)
    assert [finding.kind for finding in settled.findings] == [m.ONE_HAND]
    assert settled.missed == ()


@pytest.mark.parametrize(("beat", "plays"), [(8, RIGHT), (10, RIGHT), (12, RIGHT), (8, LEFT), (12, LEFT)])
def test_one_hand_that_begins_alone_in_the_middle_is_found_within_three_presses(beat: int, plays: str) -> None:
    meant = [n for b in range(beat, beat + 10) for n in numbers(b, plays)]
    presses = [p for b in range(beat, beat + 10) for p in strike(BEAT_S * b, numbers(b, plays))]
    _, first, settled = follow(presses)
    assert [mark.note for mark in first[3:]] == meant[3:]
    assert [mark.note for mark in settled.marks] == meant
    assert [finding.kind for finding in settled.findings] == [m.ONE_HAND]


def test_a_stray_key_does_not_make_the_other_hand_play() -> None:
    presses = [p for b in range(25) for p in strike(BEAT_S * b, numbers(b, RIGHT))]
    presses[12:12] = strike(BEAT_S * 11 + 0.3, numbers(11, LEFT)[:1])
    _, _, settled = follow(presses)
    assert [finding.kind for finding in settled.findings] == [m.ONE_HAND]
    assert settled.missed == ()


def test_after_a_note_left_out_the_next_chord_is_known_at_once() -> None:
    """It begins with a key of the chord before, which was not whole: that key is not struck again."""
    for beat in range(4, 20):
        shared = {EXPECTED.notes[n].midi for n in both(beat)} & {EXPECTED.notes[n].midi for n in both(beat + 1)}
        if not shared:
            continue
        start = next(n for n in both(beat + 1) if EXPECTED.notes[n].midi in shared)
        here = [n for n in both(beat) if EXPECTED.notes[n].midi not in shared]
        presses = [*beats(0, beat), *strike(BEAT_S * beat, [n for n in both(beat) if n != here[0]])]
        presses += strike(BEAT_S * (beat + 1), [start])
        _, first, _ = follow(presses)
        assert (first[-1].note, first[-1].cause) == (start, m.RIGHT), beat


def test_time_goes_on_from_what_was_put_right() -> None:
    """Every third beat its melody note is a semitone low and put right 0.6 s later; the next beat is due after that."""
    presses, meant, at = [], [], 0.0
    for beat in range(25):
        presses += strike(at, both(beat), 0)
        meant += both(beat)
        if beat % 3 == 2:
            melody = numbers(beat, RIGHT)[0]
            index = len(presses) - len(both(beat))
            presses[index] = Press(presses[index].at, presses[index].pitch - 1)
            at += 0.6
            presses += strike(at, [melody])
            meant.append(melody)
        at += BEAT_S
    follower, first, settled = follow(presses)
    assert [mark.note for mark in first] == meant
    assert [mark.note for mark in settled.marks] == meant
    assert follower._tracker.best.tempo == pytest.approx(BEAT_S, rel=0.05)


def test_the_other_hand_belongs_to_the_displaced_run_it_plays_with() -> None:
    """The right hand a third too high for six beats, the left with it in two of them only."""
    presses, wrong = beats(0, 8), set()
    for beat in range(8, 14):
        presses += strike(BEAT_S * beat, numbers(beat, RIGHT), 3)
        wrong.update(numbers(beat, RIGHT))
        if beat in (9, 11):
            presses += strike(BEAT_S * beat + 0.02, numbers(beat, LEFT)[:1], 3)
            wrong.update(numbers(beat, LEFT)[:1])
    presses += beats(14, 25, BEAT_S * 14)
    _, _, settled = follow(presses)
    told = {mark.note for mark in settled.marks if mark.cause == m.DISPLACED}
    assert wrong <= told


def test_one_letter_amiss_again_and_again_is_no_displaced_hand() -> None:
    """E flat forgotten each time it comes, four times in a row."""
    from tests.music.tunes import tune

    page = tune("C", "C4 E4 G4 F4 F4 F4 F4 E4 D4 C4 E4 F4 F4 F4 G4 C4")
    expected = transposed(page, plan(page.key, "Bb").interval)
    follower = Follower(page, expected)
    for index, note in enumerate(expected.notes):
        follower.hear(Press(0.6 * index, note.midi + (note.pitch.letter == "E")))
    slips = [mark.cause for mark in follower.settle().marks if mark.cause != m.RIGHT]
    assert slips == [m.SIGNATURE] * 7


def test_a_note_is_struck_again_only_when_its_own_key_had_sounded() -> None:
    """The right hand lies a third too high for four beats and finds home on the note it struck last."""
    presses = beats(0, 8)
    for beat in range(8, 12):
        presses += strike(BEAT_S * beat, numbers(beat, RIGHT), 4)
        presses += strike(BEAT_S * beat + 0.006, numbers(beat, LEFT))
    index = len(presses)
    presses += strike(BEAT_S * 11 + 0.5, numbers(11, RIGHT))
    presses += beats(12, 25, BEAT_S * 12 + 0.5)
    _, first, settled = follow(presses)
    assert (settled.marks[index].note, settled.marks[index].cause) == (numbers(11, RIGHT)[0], m.RIGHT)
    assert m.REPEATED not in {mark.cause for mark in (*first, *settled.marks)}


def test_a_slip_noticed_late_is_gone_back_to() -> None:
    """The slip, one more beat, then back to the beat of the slip and on: two moments, no pause to speak of."""
    for beat in range(6, 20):
        presses = [*beats(0, beat + 2), *beats(beat, 25, BEAT_S * (beat + 2) + 0.3)]
        slip = 4 * beat
        presses[slip] = Press(presses[slip].at, presses[slip].pitch + 2)
        meant = [n for b in [*range(beat + 2), *range(beat, 25)] for n in both(b)]
        _, first, settled = follow(presses)
        assert [mark.note for mark in settled.marks] == meant
        known = 4 * (beat + 3)  # the chord alone stands elsewhere too
        assert [mark.note for mark in first[known:]] == meant[known:]


def test_a_rolled_chord_is_no_hesitation() -> None:
    """A chord spread over two seconds, the next one in time after its last note; a wait after that is one."""

    def waits(after: float) -> int:
        presses = beats(0, 8)
        rolled = [Press(BEAT_S * 8 + 0.45 * i, EXPECTED.notes[n].midi) for i, n in enumerate(sorted(both(8)))]
        presses += [*rolled, *beats(9, 25, rolled[-1].at + after)]
        follower = Follower(WRITTEN, EXPECTED)
        marks = [follower.hear(press) for press in presses]
        return len(timing(EXPECTED, presses, marks).hesitations)

    assert waits(BEAT_S) == 0
    assert waits(3 * BEAT_S) == 1


@pytest.mark.parametrize(("hand", "away"), [(RIGHT, 1), (RIGHT, 2), (LEFT, -3)])
def test_what_a_displaced_hand_puts_right_is_right_and_does_not_end_its_run(hand: str, away: int) -> None:
    """Now and then it finds the key itself; that was told as a key of no note, and the run fell to pieces."""
    struck: list[tuple[Press, int]] = []
    for beat in range(25):
        for plays in (RIGHT, LEFT):
            note = numbers(beat, plays)[0]
            astray = away if plays == hand and 6 <= beat < 18 else 0
            struck += [(press, note) for press in strike(BEAT_S * beat, [note], astray)]
            if astray and beat in (9, 12, 15):
                struck += [(press, note) for press in strike(BEAT_S * beat + 0.35, [note])]
    struck.sort(key=lambda one: one[0].at)
    _, _, settled = follow([press for press, _ in struck])
    assert [mark.note for mark in settled.marks] == [note for _, note in struck]
    cause = m.AS_WRITTEN if away == -3 else m.DISPLACED
    keys = [press.pitch == EXPECTED.notes[note].midi for press, note in struck]
    assert [mark.cause for mark in settled.marks] == [m.RIGHT if right else cause for right in keys]


def test_a_key_far_from_its_note_in_a_chord_and_then_put_right_alone_is_a_slip_for_it() -> None:
    for beat in range(4, 20):
        chord = both(beat)
        presses = [*beats(0, beat), *strike(BEAT_S * beat, chord), *beats(beat + 1, 25, BEAT_S * (beat + 1))]
        slip = 4 * beat + 1
        presses[slip] = Press(presses[slip].at, presses[slip].pitch - 6)
        presses.insert(4 * beat + 4, Press(BEAT_S * beat + 0.25, EXPECTED.notes[chord[1]].midi))
        _, _, settled = follow(presses)
        assert [mark.note for mark in settled.marks[4 * beat : 4 * beat + 5]] == [*chord, chord[1]]


def test_keys_struck_by_themselves_that_hold_up_the_next_note_were_looking_for_it() -> None:
    """Two keys nothing near would have answered, then the note of the tune, and its bass after that."""
    for beat in range(6, 20):
        tune, bass = numbers(beat, RIGHT)[0], numbers(beat, LEFT)[0]
        near = {EXPECTED.notes[n].midi for b in range(beat - 5, beat + 5) for n in both(b)}
        keys = [away for away in range(11, 0, -1) if EXPECTED.notes[tune].midi + away not in near][:2]
        presses = beats(0, beat)
        for late, away in zip((1.5, 2.8), keys, strict=True):
            presses += strike(BEAT_S * (beat - 1 + late), [tune], away)
        presses += strike(BEAT_S * (beat + 3.0), [tune]) + strike(BEAT_S * (beat + 4.2), [bass])
        presses += beats(beat + 1, 25, BEAT_S * (beat + 5.5))
        _, _, settled = follow(presses)
        *looking, found, under = [mark.note for mark in settled.marks[4 * beat : 4 * beat + 4]]
        assert {tune, bass} >= set(looking)
        assert (found, under) == (tune, bass)


def chords_of_three(repeated: bool = False) -> Piece:
    """Four chords for the right hand, one a quarter; `repeated`, the same four twice, as a repeat is unfolded."""
    notes = []
    for beat in range(8 if repeated else 4):
        for voice, name in enumerate(CHORDS[beat % 4].split()):
            notes.append(Note(f"c{beat % 4}.{voice}", SpelledPitch.parse(name), Fraction(beat), Fraction(1)))
    bars = tuple(Bar(1, Fraction(4 * i), Fraction(4)) for i in range(2 if repeated else 1))
    return Piece("chords", (), bars, (KeyChange(Fraction(0), Key.parse("G")),)).with_notes(notes)


def left_out_of(piece: Piece, struck: list[tuple[int, int]], hands: str = BOTH) -> tuple[int, ...]:
    """Notes missed when of each of these moments so many notes, the lowest first, are struck."""
    follower = Follower(piece, piece, hands=hands)
    for number, (moment, count) in enumerate(struck):
        for at, note in enumerate(piece.moments[moment].notes[:count]):
            follower.hear(Press(BEAT_S * number + 0.006 * at, piece.notes[note].midi))
    return follower.settle().missed


def test_where_a_take_breaks_off_the_rest_of_a_chord_is_not_left_out() -> None:
    assert follow(beats(0, 14) + strike(14 * BEAT_S, both(14)[:1]))[2].missed == ()
    assert follow(beats(0, 14) + strike(14 * BEAT_S, both(14)[-1:]))[2].missed == ()
    before = numbers(5, LEFT)[1]
    played = [p for b in range(14) for p in strike(b * BEAT_S, [n for n in both(b) if n != before])]
    assert follow(played + strike(14 * BEAT_S, both(14)[:2]))[2].missed == (before,)


def test_at_the_end_of_the_piece_the_rest_of_a_chord_is_left_out() -> None:
    last = len(TUNE) - 1
    settled = follow(beats(0, last) + strike(last * BEAT_S, both(last)[:2]))[2]
    assert settled.missed == tuple(both(last)[2:])


def test_the_end_is_that_of_the_hand_that_plays_and_of_the_page() -> None:
    three = chords_of_three()
    assert left_out_of(three, [(0, 3), (1, 3), (2, 2)]) == ()
    assert left_out_of(three, [(0, 3), (1, 3), (2, 3), (3, 2)]) == (11,)
    low = Note("low", SpelledPitch.parse("G2"), Fraction(4), Fraction(1), hand=LEFT, staff=2)
    longer = three.with_notes([*three.notes, low])
    assert left_out_of(longer, [(0, 3), (1, 3), (2, 3), (3, 2)], RIGHT) == (11,)
    assert left_out_of(longer, [(0, 3), (1, 3), (2, 3), (3, 2)]) == ()
    # Who does not take the repeat has come to the end of the page all the same.
    assert left_out_of(chords_of_three(repeated=True), [(0, 3), (1, 3), (2, 3), (3, 2)]) == (11,)
