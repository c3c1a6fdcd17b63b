"""A take in figures: what counts of it, and what does not."""

from __future__ import annotations

from tests.scores.making import note, piece
from trainer.listening.press import Press
from trainer.music.piece import LEFT, RIGHT
from trainer.music.transpose import plan
from trainer.session import Session

SONG = piece(
    note("a", "C4", 0, 1),
    note("b", "D4", 1, 1, optional=True),
    note("c", "E4", 1, 1),
    note("d", "F4", 2, 1),
    note("e", "C3", 0, 4, LEFT),
)


def test_what_may_be_left_out_is_not_written_and_not_missed() -> None:
    session = Session(SONG, plan(SONG.key, "+0"))
    for at, pitch in enumerate((60, 48, 64, 65)):
        session.hear(Press(at / 2, pitch))
    assert session.finish().missed == ()
    assert session.summary is not None
    assert (session.summary.right, session.summary.played, session.summary.written) == (4, 4, 4)
    assert (session.summary.accuracy, session.summary.seconds) == (1.0, 1.5)


def test_only_the_hands_asked_for_are_written_and_a_slip_and_a_gap_count_alike() -> None:
    session = Session(SONG, plan(SONG.key, "+0"), hands="right")
    session.hear(Press(0.0, 60))
    session.hear(Press(1.0, 65))
    settled = session.finish()
    assert session.summary is not None
    assert (session.summary.written, len(settled.missed)) == (3, 1)
    assert session.summary.accuracy == 2 / 3


HIGH = piece(
    note("a", "C6", 0, 1), note("b", "D6", 1, 1), note("c", "E6", 2, 1), note("d", "B5", 3, 1), note("e", "D6", 4, 1),
    note("f", "C4", 0, 4, LEFT), note("g", "C3", 4, 4, LEFT),
)  # fmt: skip


def test_a_note_the_keyboard_has_no_key_for_is_neither_written_nor_missed() -> None:
    session = Session(HIGH, plan(HIGH.key, "+0"), compass=(36, 84))
    for at, pitch in ((0.0, 84), (0.0, 60), (1.5, 83), (2.0, 48)):
        session.hear(Press(at, pitch))
    settled = session.finish()
    assert (settled.missed, settled.moves) == ((), ())
    assert session.summary is not None
    assert (session.summary.right, session.summary.written, session.summary.accuracy) == (4, 4, 1.0)


def test_who_has_the_key_all_the_same_and_plays_it_is_right() -> None:
    session = Session(HIGH, plan(HIGH.key, "+0"), compass=(36, 84), hands=RIGHT)
    marks = [session.hear(Press(at / 2, pitch)) for at, pitch in enumerate((84, 86, 88, 83, 86))]
    assert [mark.cause for mark in marks if mark is not None] == ["right"] * 5


def test_a_moment_without_a_key_is_not_waited_for() -> None:
    session = Session(HIGH, plan(HIGH.key, "+0"), compass=(36, 84), hands=RIGHT)
    session.hear(Press(0.0, 84))
    # D and E lie beyond: B is next.
    assert session.place == 3
    session.hear(Press(1.5, 83))
    # What begins and what ends beyond the keys holds up neither the start nor the end.
    low = piece(note("a", "C7", 0, 1), note("b", "C5", 1, 1), note("c", "C7", 2, 1))
    alone = Session(low, plan(low.key, "+0"), compass=(36, 84))
    assert alone.place == 1
    alone.hear(Press(0.0, 72))
    assert alone.place == 3
    assert alone.finish().missed == ()
