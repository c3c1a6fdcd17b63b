"""What a press turns out to have been once the next ones are known: takes made by hand."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import pytest

from tests.following.taking import QUARTER_S, taken
from trainer.following import marks as m
from trainer.following.follower import Follower
from trainer.following.ground import Ground
from trainer.following.hindsight import in_hindsight
from trainer.following.marks import Settled
from trainer.following.story import AGAIN, HIT, NOTHING, SLIP, Step
from trainer.listening.press import Press
from trainer.music.keys import Key
from trainer.music.piece import BOTH, LEFT, Bar, KeyChange, Note, Piece
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import plan, transposed

BEAT_S = 0.7
TUNE = "E4 G4 C5 A4 G4 E4 D4 F4 E4 C4 D4 B3 C4 E4 G4 C5".split()
CHORDS = ["C3 G3", "E3 C4", "F3 A3", "B2 G3"]
TOP_TWICE = "G4 C5 C5 E4 F4 D4 B3 C4".split()


def piece(tune: list[str], chords: list[str]) -> Piece:
    """A tune in quarters, C major, over as many chords, in turn."""
    notes = []
    for beat, name in enumerate(tune):
        notes.append(Note(f"r{beat}", SpelledPitch.parse(name), Fraction(beat), Fraction(1)))
        for voice, low in enumerate(chords[beat % len(chords)].split() if chords else []):
            pitch = SpelledPitch.parse(low)
            notes.append(Note(f"l{beat}.{voice}", pitch, Fraction(beat), Fraction(1), hand=LEFT, staff=2))
    bars = tuple(Bar(i + 1, Fraction(4 * i), Fraction(4)) for i in range((len(tune) + 3) // 4))
    return Piece("hindsight", (), bars, (KeyChange(Fraction(0), Key.parse("C")),)).with_notes(notes)


class Player:
    """Strikes keys of a piece in another key, one gesture after another."""

    def __init__(self, written: Piece, to: str) -> None:
        self.written = written
        self.expected = transposed(written, plan(written.key, to).interval)
        self.presses: list[Press] = []
        self.at = 0.0

    def keys(self, beat: int) -> list[int]:
        return [self.expected.notes[n].midi for n in self.expected.moments[beat].notes]

    def strike(self, *pitches: int, wait: float = BEAT_S) -> int:
        """Keys together, a hundredth of a second apart; gives the number of the first of these presses."""
        self.presses += [Press(round(self.at + 0.01 * i, 3), pitch) for i, pitch in enumerate(pitches)]
        self.at += wait
        return len(self.presses) - len(pitches)

    def beats(self, low: int, high: int) -> None:
        for beat in range(low, high):
            self.strike(*self.keys(beat))

    def settled(self) -> Settled:
        follower = Follower(self.written, self.expected)
        for press in self.presses:
            follower.hear(press)
        return follower.settle()


@pytest.mark.parametrize("place", [0, 2])
def test_a_key_beside_a_right_one_is_brushed_though_it_comes_first_or_another_note_is_still_to_come(place: int) -> None:
    player = Player(piece(TUNE, CHORDS), "Eb")
    player.beats(0, 6)
    keys = player.keys(6)
    beside = keys[1] + 1
    assert beside not in keys
    order = [*keys]
    order.insert(place, beside)
    at = player.strike(*order) + place
    player.beats(7, 16)
    marks = player.settled().marks
    assert marks[at].cause == m.BRUSHED
    assert player.expected.notes[marks[at].note or 0].midi == keys[1]
    assert [mark.cause for i, mark in enumerate(marks) if i != at] == [m.RIGHT] * (len(marks) - 1)


def test_a_key_of_before_caught_with_its_neighbour_is_brushed_and_not_struck_again() -> None:
    player = Player(piece(TUNE, CHORDS), "F")
    player.beats(0, 6)
    low, middle, high = player.keys(6)
    beside = high - 2
    assert beside in player.keys(5)
    at = player.strike(low, beside, middle, high) + 1
    player.beats(7, 16)
    marks = player.settled().marks
    assert marks[at].cause == m.BRUSHED
    assert player.expected.notes[marks[at].note or 0].midi == high
    assert [mark.cause for i, mark in enumerate(marks) if i != at] == [m.RIGHT] * (len(marks) - 1)


def test_a_far_key_struck_while_a_note_is_looked_for_is_one_more_slip_for_it() -> None:
    player = Player(piece(TUNE, []), "Eb")
    player.beats(0, 5)
    (right,) = player.keys(5)
    at = player.strike(right + 1, wait=0.4)
    far = player.strike(right - 11, wait=0.4)
    player.strike(right)
    player.beats(6, 16)
    marks = player.settled().marks
    assert [marks[i].note for i in (at, far, far + 1)] == [5, 5, 5]
    assert marks[far].cause == m.WRONG
    assert all(mark.cause == m.RIGHT for i, mark in enumerate(marks) if i not in (at, far))


def test_a_key_struck_again_too_early_is_not_the_note_of_the_chord_that_follows() -> None:
    player = Player(piece(TOP_TWICE, CHORDS), "Eb")
    player.beats(0, 2)
    top = max(player.keys(2))
    assert top in player.keys(1)
    early = player.strike(top, wait=0.2)
    player.strike(*player.keys(2))
    player.beats(3, 8)
    marks = player.settled().marks
    assert marks[early].cause == m.REPEATED
    assert player.expected.moment_of[marks[early].note or 0] == 1
    assert all(mark.cause == m.RIGHT for i, mark in enumerate(marks) if i != early)


def test_one_key_struck_a_third_off_three_times_is_a_hand_displaced() -> None:
    tune = "C4 E4 G4 G4 G4 E4 D4 C4 D4 E4 F4 G4".split()
    player = Player(piece(tune, []), "Eb")
    player.beats(0, 2)
    for beat in (2, 3, 4):
        player.strike(player.keys(beat)[0] + 4)
    player.beats(5, 12)
    assert [mark.cause for mark in player.settled().marks[2:5]] == [m.DISPLACED] * 3


def test_letters_whose_signature_is_forgotten_one_after_another_are_no_hand_displaced() -> None:
    tune = "C4 D4 E4 F4 G4 F4 F4 C5 G4 F4 E4 C4 A4 F4 C5 C4".split()
    player = Player(piece(tune, []), "Eb")
    flats = [note.pitch.alteration < 0 for note in player.expected.notes]
    forgets = [flat and beat >= 3 for beat, flat in enumerate(flats)]
    for beat, forgot in enumerate(forgets):
        player.strike(player.keys(beat)[0] + forgot)
    causes = [mark.cause for mark in player.settled().marks]
    assert all(forgets[5:10])
    assert [cause == m.SIGNATURE for cause in causes] == forgets
    assert m.DISPLACED not in causes


def test_going_back_by_less_than_a_beat_is_putting_right_and_no_move() -> None:
    written = piece(TUNE, [])
    quick = written.with_notes(
        [Note(n.id, n.pitch, n.onset / 4, Fraction(1, 4), hand=n.hand, staff=n.staff) for n in written.notes]
    )
    player = Player(quick, "Eb")
    player.beats(0, 7)
    player.strike(player.keys(7)[0] + 2, wait=0.9)
    player.beats(6, 16)
    assert [move for move in player.settled().moves if move.kind != m.HESITATED] == []


def test_who_strikes_whole_chords_again_after_slips_is_not_sent_to_where_the_same_chord_stands() -> None:
    # Sixteen beats that come twice: each chord struck anew also stands sixteen beats on.
    player = Player(piece([*TUNE, *TUNE], CHORDS), "Eb")
    meant: list[int] = []

    def play(beat: int, *keys: int) -> None:
        meant.extend([beat] * len(keys))
        player.strike(*keys)

    for beat in range(32):
        top, *rest = sorted(player.keys(beat), reverse=True)
        if beat % 4 == 2:
            play(beat, top + 1, *rest)
        play(beat, top, *rest)
    follower = Follower(player.written, player.expected)
    first = [follower.hear(press) for press in player.presses]
    placed = [-1 if mark.note is None else player.expected.moment_of[mark.note] for mark in first]
    away = [i for i, (told, true) in enumerate(zip(placed, meant, strict=True)) if abs(told - true) > 2]
    assert len(away) <= 2
    assert [move for move in follower.settle().moves if move.kind != m.HESITATED] == []


def test_a_chord_struck_again_whole_after_a_slip_leaves_its_right_keys_right() -> None:
    """The top key of a beat was the one before it too; the first try of the chord has its slip in the same instant."""
    player = Player(piece("C4 E4 G4 G4 E4 D4 C4 D4".split(), ["C3", "E3", "F3", "B2"]), "Eb")
    player.beats(0, 3)
    low, top = sorted(player.keys(3))
    first = player.strike(low + 1, top)
    player.strike(low, top)
    player.beats(4, 8)
    marks = player.settled().marks
    assert marks[first + 1].cause == m.RIGHT
    assert player.expected.moment_of[marks[first + 1].note or 0] == 3


def test_a_bass_doubled_in_octaves_displaces_no_hand() -> None:
    """Every bass note has its lower octave struck with it, now just before it and now just after."""
    player = Player(piece(TUNE, ["C3", "C4", "G3", "E3"]), "Eb")
    doubled = []
    for beat in range(len(TUNE)):
        low, top = sorted(player.keys(beat))
        keys = (low, low - 12, top) if beat % 2 else (low - 12, low, top)
        doubled.append(player.strike(*keys) + keys.index(low - 12))
    settled = player.settled()
    assert {mark.cause for mark in settled.marks if mark.press not in doubled} == {m.RIGHT}
    assert {settled.marks[press].cause for press in doubled} <= {m.EXTRA, m.OCTAVE}


def test_a_long_note_struck_on_every_beat_is_struck_again_each_time() -> None:
    """A dotted half note of the left hand, on the beats two and three too: its letter is written there."""
    session = taken("petzold-minuet-in-g", "F")
    notes = session.expected.notes
    (long,) = [
        index for index, note in enumerate(notes)
        if note.hand == LEFT and note.length == 3 and session.written.bar_index(note.onset) == 2
    ]  # fmt: skip
    start = float(notes[long].onset) * QUARTER_S
    more = [Press(start + QUARTER_S * beat + 0.004, notes[long].midi) for beat in (1, 2)]
    follower = Follower(session.written, session.expected)
    presses = sorted([*session.presses, *more], key=lambda press: press.at)
    for press in presses:
        follower.hear(press)
    told = [mark.cause for mark, press in zip(follower.settle().marks, presses, strict=True) if press in more]
    assert told == [m.REPEATED] * 2


TWO_BARS = (Bar(1, Fraction(0), Fraction(4)), Bar(2, Fraction(4), Fraction(4)))
HELD = Piece("held", (), TWO_BARS, (KeyChange(Fraction(0), Key.parse("C")),)).with_notes(
    [
        Note("l0", SpelledPitch.parse("C3"), Fraction(0), Fraction(4), hand=LEFT, staff=2),
        Note("l1", SpelledPitch.parse("G3"), Fraction(0), Fraction(4), hand=LEFT, staff=2),
        *(Note(f"r{at}", SpelledPitch.parse(name), Fraction(at), Fraction(1))
          for at, name in enumerate("E4 F4 G4 A4 B4 C5".split())),
    ]
)  # fmt: skip
C3, G3 = 48, 55
BEGUN = [(C3, 0, HIT, 0), (G3, 1, HIT, 0), (64, 2, HIT, 0)]


def looked_back_on(*struck: tuple[int, int, str, int], at: Sequence[float] = ()) -> list[tuple[int, str]]:
    """Note and kind of each press in hindsight, of presses told as key, note, kind and moment.

    They come at the seconds of `at`, or half a second apart.
    """
    ground = Ground(HELD, HELD, BOTH)
    presses = [Press(at[index] if at else 0.5 * index, pitch) for index, (pitch, *_) in enumerate(struck)]
    steps: list[Step] = []
    for index, (_, note, kind, place) in enumerate(struck):
        steps.append(Step(steps[-1] if steps else None, index, note, kind, 0, place, False))
    return [(step.note, step.kind) for step in in_hindsight(ground, presses, steps)]


@pytest.mark.parametrize(
    ("then", "told"),
    [
        (
            [(C3, -1, NOTHING, 0), (65, 3, HIT, 1), (C3, -1, NOTHING, 1)],
            [(0, AGAIN), (3, HIT), (0, AGAIN)],
        ),
        # Told as struck again the first time, it is that note's the second time too.
        (
            [(C3, 0, AGAIN, 0), (65, 3, HIT, 1), (C3, -1, NOTHING, 1)],
            [(0, AGAIN), (3, HIT), (0, AGAIN)],
        ),
        # Once may be chance, of either note.
        ([(C3, -1, NOTHING, 0), (65, 3, HIT, 1)], [(-1, NOTHING), (3, HIT)]),
        ([(C3, -1, NOTHING, 0), (65, 3, HIT, 1), (G3, -1, NOTHING, 1)], [(-1, NOTHING), (3, HIT), (-1, NOTHING)]),
        # A key that was a slip for another note is not the long note's.
        ([(C3, 3, SLIP, 1), (C3, -1, NOTHING, 1), (65, 3, HIT, 1)], [(3, SLIP), (-1, NOTHING), (3, HIT)]),
        ([(50, 3, SLIP, 1), (50, -1, NOTHING, 1), (50, -1, NOTHING, 1)], [(3, SLIP), (-1, NOTHING), (-1, NOTHING)]),
        # In the last moment but one it should still be held, in the next bar no more.
        (
            [(68, 5, HIT, 3), (C3, -1, NOTHING, 3), (C3, -1, NOTHING, 3)],
            [(5, HIT), (0, AGAIN), (0, AGAIN)],
        ),
        ([(71, 6, HIT, 4), (C3, -1, NOTHING, 4), (C3, -1, NOTHING, 4)], [(6, HIT), (-1, NOTHING), (-1, NOTHING)]),
    ],
)
def test_the_key_of_a_long_note_struck_twice_and_more_while_it_is_held_is_its_own(
    then: list[tuple[int, int, str, int]], told: list[tuple[int, str]]
) -> None:
    assert looked_back_on(*BEGUN, *then)[3:] == told


@pytest.mark.parametrize(("between", "kind"), [(20, AGAIN), (22, NOTHING)])
def test_a_long_note_is_forgotten_after_many_presses(between: int, kind: str) -> None:
    """Twenty-four presses back and no further; the first strike is the last press but two of the beginning."""
    others = [(80, -1, NOTHING, 0)] * between
    told = looked_back_on(*BEGUN, *others, (C3, -1, NOTHING, 0), (C3, -1, NOTHING, 0))
    assert [one for one, _ in told[-2:]] == [0 if kind == AGAIN else -1] * 2
    assert {told[-2][1], told[-1][1]} == {kind}


def test_nothing_is_looked_for_before_the_beginning() -> None:
    assert looked_back_on((C3, -1, NOTHING, -1), (C3, -1, NOTHING, -1), *BEGUN)[:2] == [(-1, NOTHING)] * 2


# The chord of the beginning and two beats in time, a second each: the next is due at the third second.
IN_TIME = [(C3, 0, HIT, 0), (G3, 1, HIT, 0), (64, 2, HIT, 0), (65, 3, HIT, 1), (67, 4, HIT, 2)]
SECONDS = (0.0, 0.01, 0.02, 1.0, 2.0)


@pytest.mark.parametrize(
    ("key", "seconds", "told"),
    [
        (75, 2.2, (-1, NOTHING)),  # a tritone above the next note, right after the last one
        (75, 2.9, (5, SLIP)),  # when it was due
        (67, 2.2, (5, SLIP)),  # a step below: early, but that note was meant
    ],
)
def test_a_stray_key_long_before_the_next_note_was_due_is_not_meant_for_it(
    key: int, seconds: float, told: tuple[int, str]
) -> None:
    steps = looked_back_on(*IN_TIME, (key, 5, SLIP, 3), (69, 5, HIT, 3), at=(*SECONDS, seconds, 3.1))
    assert steps[5:] == [told, (5, HIT)]


def test_a_stray_key_before_a_note_that_never_comes_is_what_was_struck_for_it() -> None:
    steps = looked_back_on(*IN_TIME, (75, 5, SLIP, 3), (71, 6, HIT, 4), at=(*SECONDS, 2.2, 4.0))
    assert steps[5:] == [(5, SLIP), (6, HIT)]


@pytest.mark.parametrize(("after", "told"), [(0.08, (-1, NOTHING)), (0.4, (5, SLIP))])
def test_nobody_looks_for_a_note_sooner_than_a_slip_is_heard(after: float, told: tuple[int, str]) -> None:
    struck = (*IN_TIME, (67, 5, SLIP, 3), (75, 5, SLIP, 3), (71, 6, HIT, 4))
    assert looked_back_on(*struck, at=(*SECONDS, 3.0, 3.0 + after, 4.0))[6] == told


def test_a_key_struck_between_two_notes_in_time_is_not_one_that_holds_the_next_one_up() -> None:
    """The moment begins when it is due, with a slip, and only its right key is late."""
    struck = (*IN_TIME, (75, -1, NOTHING, 2), (70, 5, SLIP, 3), (69, 5, HIT, 3))
    assert looked_back_on(*struck, at=(*SECONDS, 2.6, 3.0, 3.9))[5] == (-1, NOTHING)
    late = (*IN_TIME, (75, -1, NOTHING, 2), (70, 5, SLIP, 3), (69, 5, HIT, 3))
    assert looked_back_on(*late, at=(*SECONDS, 2.9, 3.7, 4.2))[5] == (5, SLIP)


def test_a_note_struck_before_going_back_is_looked_for_anew() -> None:
    player = Player(piece(TUNE, []), "Eb")
    player.beats(0, 9)
    player.at += 2.0
    player.beats(4, 5)
    stray = player.strike(player.keys(5)[0] - 6, wait=0.5)
    player.beats(5, 16)
    marks = player.settled().marks
    assert (marks[stray].note, marks[stray].cause) == (5, m.WRONG)
    assert {mark.cause for mark in marks if mark.press != stray} == {m.RIGHT}


@pytest.mark.parametrize("beat", range(6, 14))
def test_a_slip_that_holds_a_chord_up_is_told_for_the_note_it_is_likeliest_for_not_the_first_found(beat: int) -> None:
    """After a long wait a key beside the chord's upper note, then the chord, its lower notes first."""
    player = Player(piece(TUNE, CHORDS), "Eb")
    player.beats(0, beat)
    player.at += 3.0
    keys = player.keys(beat)
    beside = next(key for key in (keys[-1] + 1, keys[-1] - 1) if key not in (*keys, *player.keys(beat - 1)))
    slip = player.strike(beside, wait=0.5)
    player.strike(*sorted(keys))
    player.beats(beat + 1, 16)
    told = player.settled().marks[slip].note
    assert told is not None
    assert player.expected.notes[told].midi == keys[-1]


def heard(written: Piece, presses: Sequence[Press]) -> list[str]:
    """The final causes of presses of a piece played as it is written."""
    follower = Follower(written, written)
    for press in presses:
        follower.hear(press)
    return [mark.cause for mark in follower.settle().marks]


def test_a_chord_that_was_right_and_is_struck_again_at_once_or_at_the_end_is_struck_again() -> None:
    written = piece(TUNE, CHORDS)
    plain = [Press(BEAT_S * float(note.onset), note.midi) for note in written.notes]
    twice = [Press(press.at + 0.25, press.pitch) for press in plain if press.at == BEAT_S * 6]
    causes = heard(written, sorted([*plain, *twice], key=lambda press: press.at))
    assert [at for at, cause in enumerate(causes) if cause == m.REPEATED] == [21, 22, 23]
    assert causes.count(m.RIGHT) == len(plain)
    last = [Press(press.at + 1.2, press.pitch) for press in plain if press.at == BEAT_S * 15]
    assert heard(written, [*plain, *last])[-6:] == [m.RIGHT] * 3 + [m.REPEATED] * 3


@pytest.mark.parametrize(("first", "kinds"), [((0, 1, 2), AGAIN), ((0, 2), HIT)])
def test_a_chord_struck_anew_to_put_in_what_was_left_out_is_right_both_times(
    first: tuple[int, ...], kinds: str
) -> None:
    written = piece(TUNE, CHORDS)
    notes = [*range(9), *(9 + note for note in first), 9, 10, 11, *range(12, 18)]
    anew = 9 + len(first)
    presses, steps = list[Press](), list[Step]()
    for at, note in enumerate(notes):
        onset = BEAT_S * float(written.notes[note].onset)
        presses.append(Press(onset + 0.2 * (anew <= at < anew + 3), written.notes[note].midi))
        steps.append(Step(steps[-1] if steps else None, at, note, HIT, 0, written.moment_of[note], at == anew))
    told = in_hindsight(Ground(written, written, BOTH), presses, steps)
    assert {step.kind for step in told[anew : anew + 3]} == {kinds}
    assert {step.kind for step in [*told[:anew], *told[anew + 3 :]]} == {HIT}
