"""Slips that are one thing are told once, with where they began and ended."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest

from tests.counting import growth
from tests.following.taking import shelf, taken
from trainer.commands.sliplines import lines
from trainer.following import marks as m
from trainer.following.stretches import Stretch, doubled, gone_past, stretches
from trainer.listening.press import Press
from trainer.music.piece import BOTH, LEFT, RIGHT, Note, Piece
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import plan
from trainer.session import Session


def told(session: Session) -> list[tuple[str, str, str]]:
    found = lines(session.written, session.expected, session.presses, session.finish())
    return [(line.place, line.code, line.words) for line in found]


def one_by_one(*hands: str) -> Piece:
    """A piece of single notes, one a quarter, in these hands."""
    notes = [
        Note(f"n{at}", SpelledPitch.parse("C4"), Fraction(at), Fraction(1), hand=hand) for at, hand in enumerate(hands)
    ]
    return replace(shelf("ode-to-joy"), notes=()).with_notes(notes)


def told_of(*struck: str) -> list[tuple[str, int, tuple[int, ...]]]:
    """Hand, semitones off and presses of each stretch, of keys such as ``r3``: hand and semitones from its note."""
    piece = one_by_one(*(RIGHT if one[0] == "r" else LEFT for one in struck))
    offsets = [int(one[1:]) for one in struck]
    marks = [m.Mark(at, at, m.DISPLACED if off else m.RIGHT, offset=off) for at, off in enumerate(offsets)]
    return [(one.hand, one.offset, one.presses) for one in stretches(piece, m.Settled(tuple(marks), (), ()))]


def test_bars_played_as_written_are_told_once() -> None:
    session = taken("ode-to-joy", "A", lambda bar, _: [-2 if bar >= 8 else 0])
    (one,) = stretches(session.written, session.finish())
    count = sum(mark.cause == m.AS_WRITTEN for mark in session.finish().marks)
    assert (one.cause, one.offset, one.hand, len(one.presses)) == (m.AS_WRITTEN, -2, "both", count)
    assert told(session) == [("bars 9 to 16", "as-written", f"{count} notes played as written, in G major")]


def test_a_piece_that_slides_into_another_key_is_told_from_where_it_did() -> None:
    session = taken("ode-to-joy", "A", lambda bar, _: [3 if bar >= 10 else 0])
    count = sum(mark.cause == m.DISPLACED for mark in session.finish().marks)
    words = f"{count} notes a minor third too high, in C major"
    assert told(session) == [("bars 11 to 16", "displaced", words)]


def test_one_odd_note_within_is_told_besides_and_ends_nothing() -> None:
    notes = shelf("ode-to-joy").notes
    odd = [index for index, note in enumerate(notes) if note.hand == "right"][50]
    session = taken("ode-to-joy", "A", lambda bar, index: [-1 if index == odd else 3 if bar >= 10 else 0])
    first, second = told(session)
    assert first[:2] == ("bars 11 to 16", "displaced")
    assert second[0].endswith("right hand")


def test_one_hand_that_lay_off_its_keys_is_named() -> None:
    piece = shelf("ode-to-joy")
    session = taken("ode-to-joy", "A", lambda _, index: [-12 if piece.notes[index].hand == "left" else 0])
    ((place, cause, words),) = told(session)
    count = sum(note.hand == "left" for note in piece.notes)
    assert (place, cause) == ("bars 1 to 16, left hand", "displaced")
    assert words == f"the hand lay an octave too low for {count} notes"


@pytest.mark.parametrize(
    ("struck", "hand", "presses"),
    [
        # Four notes are few; five are a stretch, and what is as asked for on both sides ends it.
        ("r0 r3 r3 r3 r3 r0 r0", "", ()),
        ("r0 r3 r3 r3 r3 r3 r0 r0", RIGHT, (1, 2, 3, 4, 5)),
        # One odd note within ends nothing; two do.
        ("r3 r3 r3 r0 r3 r3", RIGHT, (0, 1, 2, 4, 5)),
        ("r3 r3 r3 r0 r2 r3 r3", "", ()),
        ("r3 r0 r3 r3 r0 r3 r0 r3", RIGHT, (0, 2, 3, 5, 7)),
        # What the other hand struck meanwhile belongs to it where it lay as far off, all of it.
        ("r3 l3 r3 r3 r3 l3 r3", BOTH, (0, 1, 2, 3, 4, 5, 6)),
        ("r3 l3 r3 r3 r3 l0 r3", RIGHT, (0, 2, 3, 4, 6)),
        ("r3 l3 r3 r3 r3 l2 r3", RIGHT, (0, 2, 3, 4, 6)),
        # So does the press next to it on either side, and no further one; elsewhere it takes nothing away.
        ("l0 l3 r3 r3 r3 r3 r3 l3 l0", BOTH, (1, 2, 3, 4, 5, 6, 7)),
        ("l3 l0 r3 r3 r3 r3 r3 l0 l3", RIGHT, (2, 3, 4, 5, 6)),
        ("l0 r3 r3 l3 r3 r3 r3 l2", BOTH, (1, 2, 3, 4, 5, 6)),
        ("r3 l3 r3 l3 r3 l3 r3 l3 r3 l3", BOTH, tuple(range(10))),
    ],
)
def test_what_belongs_to_a_stretch(struck: str, hand: str, presses: tuple[int, ...]) -> None:
    assert told_of(*struck.split()) == ([(hand, 3, presses)] if hand else [])


def test_two_stretches_that_overlap_are_one_only_where_they_lay_alike() -> None:
    assert told_of(*"r3 r3 r3 r3 r3 l2 l2 l2 l2 l2".split()) == [
        (RIGHT, 3, (0, 1, 2, 3, 4)),
        (LEFT, 2, (5, 6, 7, 8, 9)),
    ]
    assert told_of(*"l2 l2 l2 l2 l2 r0 r3 r3 r3 r3 r3".split()) == [
        (LEFT, 2, (0, 1, 2, 3, 4)),
        (RIGHT, 3, (6, 7, 8, 9, 10)),
    ]
    # The left hand takes over where the right comes home.
    assert told_of(*"r3 r3 r3 r3 r3 l3 l3 l3 l3 l3".split()) == [(BOTH, 3, tuple(range(10)))]
    assert told_of(*"r3 r3 r3 r3 r3 r0 r0 r3 r3 r3 r3 r3".split()) == [
        (RIGHT, 3, (0, 1, 2, 3, 4)),
        (RIGHT, 3, (7, 8, 9, 10, 11)),
    ]


def test_slips_of_another_cause_are_no_stretch_and_the_commonest_cause_names_it() -> None:
    def causes(*of: str) -> list[str]:
        marks = tuple(m.Mark(at, at, cause, offset=-1) for at, cause in enumerate(of))
        return [one.cause for one in stretches(one_by_one(*[RIGHT] * len(of)), m.Settled(marks, (), ()))]

    assert causes(*[m.SIGNATURE] * 6) == []
    assert causes(m.DISPLACED, m.AS_WRITTEN, m.AS_WRITTEN, m.AS_WRITTEN, m.DISPLACED) == [m.AS_WRITTEN]


def test_brushed_and_repeated_keys_neither_make_nor_end_a_stretch() -> None:
    piece = one_by_one(*[RIGHT] * 7)
    causes = [m.DISPLACED, m.DISPLACED, m.BRUSHED, m.REPEATED, m.DISPLACED, m.DISPLACED, m.DISPLACED]
    marks = [m.Mark(at, at, cause, offset=0 if cause == m.REPEATED else 3) for at, cause in enumerate(causes)]
    (one,) = stretches(piece, m.Settled(tuple(marks), (), ()))
    assert one.presses == one.notes == (0, 1, 4, 5, 6)


def test_a_take_in_another_octave_is_said_once_and_only_what_missed_there_is_a_stretch() -> None:
    lay = m.Finding(m.OTHER_OCTAVE, "An octave higher.", 12)
    offsets = [12, 12, 12, 15, 15, 15, 15, 15, 12]
    marks = [m.Mark(at, at, m.DISPLACED, offset=off) for at, off in enumerate(offsets)]
    (one,) = stretches(one_by_one(*[RIGHT] * 9), m.Settled(tuple(marks), (), (), (lay,)))
    assert (one.offset, one.presses) == (3, (3, 4, 5, 6, 7))


def test_notes_gone_past_belong_to_the_skip() -> None:
    session = taken("ode-to-joy", "D", bars=[*range(8), *range(12, 16)])
    settled = session.finish()
    ((_, notes),) = gone_past(session.written, settled)
    assert set(notes) == set(settled.missed)
    assert len(notes) > 20
    words = f"skipped from bar 8, beat 3 to bar 13, beat 1, {len(notes)} notes left out"
    assert told(session) == [("bar 13", "skipped", words)]


def test_only_what_stands_between_both_places_of_a_skip_was_gone_past() -> None:
    skip, back = m.Move(m.SKIPPED, 2.0, 2, 6), m.Move(m.WENT_BACK, 4.0, 6, 0)
    settled = m.Settled((), (1, 2, 3, 5, 6, 7), (skip, back))
    assert gone_past(one_by_one(*[RIGHT] * 8), settled) == ((skip, (3, 5)),)


@pytest.mark.parametrize(
    ("pitch", "at", "cause", "is_doubled"),
    [
        (72, 1.0, m.RIGHT, True),
        (48, 0.96, m.RIGHT, True),
        (84, 1.0, m.RIGHT, False),
        (71, 1.0, m.RIGHT, False),
        (72, 1.07, m.RIGHT, False),
        (72, 0.93, m.RIGHT, False),
        (72, 1.0, m.STEP, False),
    ],
)
def test_what_doubles_a_key_lies_an_octave_off_and_is_struck_with_it(
    pitch: int, at: float, cause: str, is_doubled: bool
) -> None:
    presses = [Press(1.0, 60), Press(at, pitch)]
    settled = m.Settled((m.Mark(0, 0, cause), m.Mark(1, None, m.EXTRA)), (), ())
    assert doubled(presses, settled) == ({1: 0} if is_doubled else {})


def test_what_a_hand_left_out_of_a_bar_is_one_line() -> None:
    piece = shelf("greensleeves")

    def struck(bar: int, index: int) -> list[int]:
        note = piece.notes[index]
        return [] if note.hand == "left" and bar in (3, 5) and note.onset > piece.bars[bar].onset else [0]

    session = taken("greensleeves", "b", struck)
    assert told(session) == [
        ("bar 3, left hand", "missed", "5 notes left out: do, fa, la, fa, do"),
        ("bar 5, left hand", "missed", "5 notes left out: mi, la, do, la, mi"),
    ]


def test_a_melody_in_octaves_is_told_once() -> None:
    piece = shelf("aura-lee")
    session = taken("aura-lee", "Bb", lambda _, index: [0, 12] if piece.notes[index].hand == "right" else [0])
    twice = doubled(session.presses, session.finish())
    assert len(twice) > 40
    ((place, cause, words),) = told(session)
    assert (place, cause, words) == ("bars 1 to 16", "extra", f"{len(twice)} notes doubled at the octave")


@pytest.mark.parametrize("count", [3, 12])
def test_many_keys_of_no_note_in_a_row_are_one_line(count: int) -> None:
    piece: Piece = shelf("ode-to-joy")
    session = Session(piece, plan(piece.key, "A"))
    middle = len(piece.notes) // 2
    late = 0.0
    for index, note in enumerate(session.expected.notes):
        if index == middle:
            for number in range(count):
                session.hear(Press(float(note.onset) * 0.6 + 0.1 * number, 22 + number % 2))
            late = 0.1 * count + 0.5
        session.hear(Press(float(note.onset) * 0.6 + late, note.midi))
    extra = [line for line in lines(piece, session.expected, session.presses, session.finish()) if line.code == m.EXTRA]
    assert len(extra) == (1 if count == 12 else count)
    assert (extra[0].words == "12 keys that are not written here") == (count == 12)


def test_octaves_struck_with_strange_keys_are_told_where_their_notes_are() -> None:
    """No key next to a doubled one answers a note."""
    session = taken("air-of-three-notes", "D", lambda bar, _: [0, 3, 12, 15] if 1 <= bar <= 6 else [0])
    twice = doubled(session.presses, session.finish())
    assert len(twice) >= 5
    (line,) = [one for one in told(session) if one[2] == f"{len(twice)} notes doubled at the octave"]
    assert line[:2] == ("bars 2 to 7", "extra")


def test_a_long_take_that_lies_elsewhere_again_and_again_is_looked_through_once() -> None:
    """Ten of every twelve presses displaced: four times as many take about four times as much, not sixteen times."""

    def telling(count: int) -> Callable[[], object]:
        notes = [
            Note(f"n{at}", SpelledPitch.parse("C4"), Fraction(at // 2), Fraction(1), hand=RIGHT if at % 2 else LEFT)
            for at in range(count)
        ]
        piece = replace(shelf("ode-to-joy"), notes=()).with_notes(notes)
        found = tuple(
            m.Mark(at, at, m.DISPLACED, offset=2 + at // 12 % 2) if at % 12 < 10 else m.Mark(at, at, m.RIGHT)
            for at in range(count)
        )
        settled = m.Settled(found, (), ())
        assert len(stretches(piece, settled)) == count // 12
        return lambda: stretches(piece, settled)

    assert growth(telling, 1200) < 5


def test_few_keys_doubled_at_the_octave_are_told_as_that_and_not_as_keys_that_are_not_written() -> None:
    """The last note of the left hand, with its octave below."""
    piece = shelf("aura-lee")
    last = max(at for at, note in enumerate(piece.notes) if note.hand == "left")
    session = taken(piece, "Bb", lambda _, at: [0, -12] if at == last else [0])
    (extra,) = (mark for mark in session.finish().marks if mark.cause == m.EXTRA)
    assert session.words(extra) == "bar 16, left hand: do, B flat: doubled at the octave"
    assert told(session) == [("bar 16, left hand", "extra", "do, B flat: doubled at the octave")]


def a_step_high(session: Session, notes: range, note: int) -> list[int]:
    """A key of the scale too high for some notes: a tone or a semitone."""
    if note not in notes:
        return [0]
    expected = session.expected
    meant = expected.notes[note].pitch
    above = SpelledPitch.from_steps(meant.steps + 1, 0)
    return [SpelledPitch(above.letter, expected.key.alteration_of(above.letter), above.octave).midi - meant.midi]


def test_a_hand_one_key_of_the_scale_off_is_told_once_now_a_tone_now_a_semitone() -> None:
    plain = taken("mary-had-a-little-lamb", "F")
    session = taken("mary-had-a-little-lamb", "F", lambda _, note: a_step_high(plain, range(7, 15), note))
    (one,) = stretches(session.written, session.finish())
    assert (one.cause, one.offset, len(one.presses)) == (m.STEP, 1, 8)
    assert told(session) == [("bars 3 to 5", "step", "the hand lay a step too high for 8 notes")]
    alone = take_of_steps("r1 r2 r2 r1 r2 r0 r0 r0")
    assert [(one.cause, one.presses) for one in alone] == [(m.STEP, (0, 1, 2, 3, 4))]


def take_of_steps(struck: str) -> tuple[Stretch, ...]:
    """The stretches of keys such as ``r1``, each a step off or right."""
    offsets = [int(one[1:]) for one in struck.split()]
    marks = [m.Mark(at, at, m.STEP if off else m.RIGHT, offset=off) for at, off in enumerate(offsets)]
    hands = (RIGHT if one[0] == "r" else LEFT for one in struck.split())
    return stretches(one_by_one(*hands), m.Settled(tuple(marks), (), ()))


@pytest.mark.parametrize(
    "struck", ["r1 r2 r0 r2 r1 r2", "r1 r2 r-1 r2 r1 r2", "r2 r2 r2 r2 r2", "r1 r2 r1 r2", "r1 r3 r2 r3 r1 r3"]
)
def test_steps_among_right_notes_both_ways_of_one_note_or_few_are_no_stretch(struck: str) -> None:
    assert take_of_steps(struck) == ()


@pytest.mark.parametrize(("struck", "offset"), [("r1 r1 r2 r1 r1 r2", 1), ("r-2 r-1 r-1 r-2 r-2 r-1", -1)])
def test_a_hand_one_key_of_the_scale_off_is_told_once_where_semitones_follow_each_other(
    struck: str, offset: int
) -> None:
    (one,) = take_of_steps(struck)
    assert (one.cause, one.offset, one.hand, one.presses) == (m.STEP, offset, RIGHT, tuple(range(6)))


def test_one_slip_of_the_other_hand_is_not_told_as_a_step_of_both() -> None:
    (one,) = take_of_steps("r1 r2 l1 r2 r1 r2")
    assert (one.hand, one.presses) == (RIGHT, (0, 1, 3, 4, 5))
