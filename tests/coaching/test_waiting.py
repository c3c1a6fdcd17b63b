"""What holds a player up: said of a key on today's list, and to the teacher with the keys and what may help."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from tests.journal.played import SCALE, play
from trainer.coaching import waiting
from trainer.coaching.cells import Cell
from trainer.coaching.path import FREE, HOLDING, OPENING, Place, Played, load
from trainer.coaching.repertoire import STUCK_TAKES
from trainer.coaching.waiting import fell_back, for_the_lesson, held_up, is_stuck, slower, state_of
from trainer.journal.store import Journal
from trainer.music.names import GERMAN

RULES = load(None).rules


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with Journal(tmp_path / "journal.sqlite") as made:
        play(made, "D", piece=SCALE, player="Ada")
        yield made


def cell(key: str, state: str = OPENING, since: int = 3, recent: int = 3) -> Cell:
    taken = Played(0, 0.8, 1.0, None, "all", False)
    return Cell(Place("pentachord", key, "right"), state, since, recent=(taken,) * recent)


def stuck(key: str) -> Cell:
    return cell(key, since=STUCK_TAKES, recent=5)


def fallen(key: str) -> Cell:
    return cell(key, since=1, recent=4)


def test_only_a_key_that_is_being_opened_is_stuck_or_has_fallen_back() -> None:
    assert is_stuck(stuck("D"))
    assert not is_stuck(cell("D", since=STUCK_TAKES - 1))
    assert not is_stuck(cell("D", HOLDING, STUCK_TAKES))
    assert fell_back(fallen("D"))
    assert not fell_back(cell("D", since=3, recent=3))
    assert not fell_back(cell("D", FREE, since=1, recent=4))
    assert [state_of(one) for one in (fallen("D"), cell("D"), cell("D", HOLDING))] == [
        "opening again",
        OPENING,
        HOLDING,
    ]


def test_what_is_asked_of_a_stuck_key_has_the_figures_of_the_path() -> None:
    assert slower(RULES) == "slower, for 3 takes running at 90%"


@pytest.mark.parametrize("why", [stuck, fallen])
def test_no_new_key_is_explained_where_it_is_not_the_usual_course(why: Callable[[str], Cell]) -> None:
    assert held_up([cell("D"), cell("E"), why("A")], RULES) == "no new key while 3 are opening"
    assert held_up([cell("D"), cell("E"), cell("A")], RULES) == "", "three at once are the usual course"
    assert held_up([cell("D"), why("A"), cell("E", HOLDING)], RULES) == "", "a new one comes"


def test_the_teacher_is_told_the_keys_in_their_own_letters(journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    known = {one.place: one for one in (cell("D"), fallen("Bb"), stuck("A"), cell("E", HOLDING))}
    monkeypatch.setattr(waiting, "cells", lambda *_: known)
    assert for_the_lesson(journal, "Ada", GERMAN) == [
        "No new key while 3 are opening: A-Dur (pentachord), B-Dur (pentachord). "
        "Slower, one hand, or an easier tune there first."
    ]
    monkeypatch.setattr(waiting, "cells", lambda *_: {})
    assert for_the_lesson(journal, "Ada") == []


def test_one_key_alone_is_said_of_one() -> None:
    assert held_up([stuck("A")], replace(RULES, most_opening=1)) == "no new key while 1 is opening"
