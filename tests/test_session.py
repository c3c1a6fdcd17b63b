"""A take in figures: what counts of it, and what does not."""

from __future__ import annotations

from tests.scores.making import note, piece
from trainer.listening.press import Press
from trainer.music.piece import LEFT
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
