"""What is said of a whole take: how far it lay, which hand played, and when there is too little to say so."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.following.taking import shelf, taken
from tests.music.tunes import tune
from trainer.following import marks as m
from trainer.listening.press import Press
from trainer.music.piece import LEFT, RIGHT, Note
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import plan
from trainer.session import Session

MINUET = shelf("petzold-minuet-in-g")


def said(to: str, away: int) -> list[str]:
    session = taken(MINUET, to, lambda bar, n: [away], bars=range(8))
    return [one.words for one in session.finish().findings]


@pytest.mark.parametrize(
    ("away", "words"),
    [(12, "All of it was played an octave higher than asked for."),
     (-12, "All of it was played an octave lower than asked for."),
     (-24, "All of it was played 2 octaves lower than asked for.")],
)  # fmt: skip
def test_another_octave_is_told_with_its_way(away: int, words: str) -> None:
    assert said("A", away) == [words]


@pytest.mark.parametrize(
    ("away", "size", "key"),
    [(1, "a semitone above", "B flat major"), (-1, "a semitone below", "A flat major"),
     (3, "3 semitones above", "C major"), (-4, "4 semitones below", "F major")],
)  # fmt: skip
def test_another_key_is_told_with_its_name_and_how_far_it_lies(away: int, size: str, key: str) -> None:
    piano, other = said("A", away)
    assert piano.startswith(f"Every key has sounded {size} the one expected")
    assert f"seems to be on ({away:+d})" in piano
    assert other == f"All of it was played in {key}, {size} A major."


@pytest.mark.parametrize(
    ("to", "away", "way"),
    [("A", -4, "as far down as it should have gone up"), ("E", 6, "as far up as it should have gone down")],
)
def test_who_went_the_other_way_from_the_page_is_told_so(to: str, away: int, way: str) -> None:
    assert said(to, away)[0].endswith(f" From the page it went {way}.")
    wavering = taken(MINUET, to, lambda bar, n: [0 if n in (2, 4) else away], bars=range(8))
    (other,) = wavering.finish().findings
    assert other.kind == m.OTHER_KEY
    assert other.words.endswith(f" From the page it went {way}.")
    assert not [words for words in said(to, away + 1) if "From the page" in words]


def test_who_began_as_asked_for_has_no_piano_that_transposes() -> None:
    session = taken(MINUET, "A", lambda bar, n: [0 if n == 3 else 3], bars=range(8))
    assert [one.kind for one in session.finish().findings] == [m.OTHER_KEY]


@pytest.mark.parametrize(("notes", "told"), [(7, False), (9, True)])
def test_a_few_notes_do_not_tell_of_a_whole_take(notes: int, told: bool) -> None:
    piece = tune("C", "C4 E4 G4 E4 F4 A4 G4 D4 B4 C5 G4 E4 D4 C4 E4 C4")
    session = Session(piece, plan(piece.key, "D"))
    for at, note in enumerate(session.expected.notes[:notes]):
        session.hear(Press(at * 0.5, note.midi + 12))
    assert bool(session.finish().findings) == told


def hands(stray: int) -> list[str]:
    """What is said of a take of the right hand in which every so many notes of the left sound too; 0 for none."""
    left = [n for n, note in enumerate(MINUET.notes) if note.hand == LEFT]
    kept = set(left[::stray]) if stray else set()
    session = taken(MINUET, "A", lambda bar, n: [] if n in left and n not in kept else [0])
    return [one.words for one in session.finish().findings]


def test_one_hand_alone_is_told_though_a_key_or_two_of_the_other_sounded() -> None:
    assert hands(0) == ["Only the right hand played."]
    assert hands(12) == ["Only the right hand played."]
    assert hands(4) == []


def test_the_left_hand_alone_is_told_as_that() -> None:
    session = taken(MINUET, "A", lambda bar, n: [0] if MINUET.notes[n].hand == LEFT else [])
    assert [one.words for one in session.finish().findings] == ["Only the left hand played."]


def test_a_hand_that_had_hardly_a_note_to_play_is_not_missed() -> None:
    """Of two bars in which the other hand has fewer than eight."""
    session = taken(MINUET, "A", lambda bar, n: [] if MINUET.notes[n].hand == LEFT else [0], bars=range(3))
    assert len(session.presses) >= 8
    assert session.finish().findings == ()


def test_a_hand_with_few_notes_that_plays_every_other_of_them_plays() -> None:
    """Sixty notes over twelve of the left hand, of which six are played: few of all, but half of its own."""
    melody = tune("C", "C5 E5 G5 E5 F5 A5 G5 D5 B4 C5 G5 E5 " * 5)
    bass = [Note(f"b{at}", SpelledPitch.parse("C3"), Fraction(5 * at), Fraction(5), hand=LEFT) for at in range(12)]
    piece = melody.with_notes([*melody.notes, *bass])
    left = [n for n, note in enumerate(piece.notes) if note.hand == LEFT]
    session = taken(piece, "D", lambda bar, n: [] if n in left[::2] else [0])
    assert session.finish().findings == ()
    alone = taken(piece, "D", lambda bar, n: [] if n in left else [0])
    assert [one.words for one in alone.finish().findings] == ["Only the right hand played."]


def test_a_key_brushed_that_is_no_note_does_not_bring_in_the_other_hand() -> None:
    """What is no note of the piece says nothing of which hand played."""

    def right_alone(bar: int, n: int) -> list[int]:
        if MINUET.notes[n].hand == LEFT:
            return []
        return [0, 25] if n == 8 else [0]

    session = taken(MINUET, "A", right_alone, bars=range(8))
    done = session.finish()
    assert any(mark.note is None for mark in done.marks)
    assert [one.words for one in done.findings] == ["Only the right hand played."]


@pytest.mark.parametrize(("asked", "played"), [(LEFT, RIGHT), (RIGHT, LEFT)])
def test_who_plays_the_hand_that_was_not_asked_for_is_told_so(asked: str, played: str) -> None:
    both = taken(MINUET, "A", lambda bar, n: [0] if MINUET.notes[n].hand == played else [], bars=range(8))
    session = Session(MINUET, both.plan, hands=asked)
    for press in both.presses:
        session.hear(press)
    words = f"Only the {played} hand played, where the {asked} was asked for."
    assert [one.words for one in session.finish().findings] == [words]
