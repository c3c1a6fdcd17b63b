"""What lies around a slip says why it happened: a sign forgotten again and again, a stretch as written."""

from __future__ import annotations

from itertools import pairwise, product
from math import prod

import pytest

from tests.following.taking import as_it_stands, shelf, taken
from trainer.following import leanings as itself
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


def forgotten(times: int) -> Session:
    """A take in which the sign of D is forgotten so often, from the fifth bar on."""
    left: set[int] = set()

    def struck(bar: int, n: int) -> list[int]:
        if bar >= 5 and letter(n) == "D" and len(left) < times:
            left.add(n)
            return [-1]
        return [0]

    return taken(WALTZ, "C#", struck)


def test_a_sign_forgotten_three_times_leans() -> None:
    take = forgotten(3)
    found = leanings(Ground(WALTZ, take.expected, BOTH), take.so_far().marks)
    assert [m.SIGNATURE in causes for causes in found.values()] == [True] * 3


def test_who_puts_a_slip_right_at_once_forgets_no_less_for_it() -> None:
    """By then the player knows: those right ones say nothing of what is forgotten when the note comes up."""
    take = forgotten(6)
    ground, alone = Ground(WALTZ, take.expected, BOTH), take.so_far().marks
    again: list[m.Mark] = []
    for mark in alone:
        again += [mark, m.Mark(1000 + mark.press, mark.note, m.RIGHT)] if mark.others else [mark]
    assert len(again) == len(alone) + 6
    assert leanings(ground, again) == leanings(ground, alone)


@pytest.mark.parametrize("usual", [0.05, 0.3, 0.95])
def test_how_much_a_slip_leans_is_what_all_courses_of_the_habit_say_together(usual: float) -> None:
    """Every course, note by note in the habit or not, weighed and summed; the slip itself says nothing of itself."""
    likely = [0.0, 0.9, 0.7, 0.0, 0.8, 0.4, 0.0]
    stays = {(True, True): 1 - itself.ENDS, (True, False): itself.ENDS,
             (False, True): itself.BEGINS, (False, False): 1 - itself.BEGINS}  # fmt: skip
    begun = itself.BEGINS / (itself.BEGINS + itself.ENDS)

    def lasting(at: int) -> float:
        weights = {True: 0.0, False: 0.0}
        for course in product((True, False), repeat=len(likely)):
            fits = prod(
                max(itself.LASTS * share / usual, 1 - itself.LASTS)
                for other, share in enumerate(likely)
                if course[other] and other != at
            )
            begins = begun if course[0] else 1 - begun
            weights[course[at]] += begins * fits * prod(stays[pair] for pair in pairwise(course))
        return weights[True] / (weights[True] + weights[False])

    group = [m.Mark(press, 0, m.SIGNATURE, 0.9, offset=-1) for press in range(len(likely))]
    found = dict(itself._lasting(group, likely, usual))
    # A slip that is more usual with this player than in a habit does not lean away from it.
    asked = {at: 1 + lasting(at) * max(itself.LASTS / usual - 1, 0.0) for at, share in enumerate(likely) if share}
    assert found == pytest.approx(asked)


def test_all_right_leans_nowhere() -> None:
    take = taken(WALTZ, "C#", as_it_stands)
    assert leanings(Ground(WALTZ, take.expected, BOTH), take.so_far().marks) == {}
