"""What lies around a slip says why it happened: a sign forgotten again and again, a stretch as written."""

from __future__ import annotations

import pytest

from tests.following.taking import as_it_stands, shelf, taken
from trainer.following import marks as m
from trainer.following.ground import Ground
from trainer.following.leanings import leanings
from trainer.music.piece import BOTH
from trainer.session import Session

WALTZ = shelf("paper-waltz")  # C minor; in C sharp minor every natural is also the key on the page


def letter(index: int) -> str:
    return WALTZ.notes[index].pitch.letter


def causes(session: Session, name: str) -> list[str]:
    """The causes of what was struck for the notes of one letter, slips only."""
    marks = session.so_far().marks
    of_it = (mark for mark in marks if mark.note is not None and letter(mark.note) == name)
    return [mark.cause for mark in of_it if mark.cause != m.RIGHT]


def test_one_sign_forgotten_again_and_again_is_no_reading_as_written() -> None:
    take = taken(WALTZ, "C#", lambda bar, n: [-1] if letter(n) == "D" else [0])
    found = causes(take, "D")
    assert len(found) > 5
    assert set(found) == {m.SIGNATURE}


def test_bars_as_written_stay_as_written_in_every_letter() -> None:
    def left_behind(bar: int, n: int) -> list[int]:
        return [-1] if 5 <= bar < 11 else [0]

    take = taken(WALTZ, "C#", left_behind)
    assert set(causes(take, "D")) == {m.AS_WRITTEN}
    assert set(causes(take, "G")) == {m.AS_WRITTEN}


@pytest.mark.parametrize("bars", [{5}, {5, 20}])
def test_a_sign_forgotten_once_or_twice_may_be_chance(bars: set[int]) -> None:
    once: set[int] = set()

    def struck(bar: int, n: int) -> list[int]:
        if bar in bars and letter(n) == "D" and bar not in once:
            once.add(bar)
            return [-1]
        return [0]

    take = taken(WALTZ, "C#", struck)
    assert leanings(Ground(WALTZ, take.expected, BOTH), take.so_far().marks) == {}


def test_all_right_leans_nowhere() -> None:
    take = taken(WALTZ, "C#", as_it_stands)
    assert leanings(Ground(WALTZ, take.expected, BOTH), take.so_far().marks) == {}
