"""What holds a player up: said of a key on today's list, and to the teacher with the keys and what may help."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.journal.played import SCALE, play
from trainer.coaching.path.cells import Cell, cells, learn
from trainer.coaching.path.path import FREE, HOLDING, OPENING, Place, Played, load
from trainer.coaching.today import waiting
from trainer.coaching.today.repertoire import STUCK_TAKES, Offer
from trainer.coaching.today.schedule import WARM_UP, today
from trainer.coaching.today.waiting import (
    asked_of,
    fell_back,
    for_the_lesson,
    held_up,
    is_stuck,
    longest_stuck,
    slower,
    state_of,
)
from trainer.following.marks import STEP
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


def test_of_three_notes_played_by_a_hand_alone_nobody_is_told_to_take_one_hand(
    journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    held = [stuck("D"), stuck("A"), stuck("E")]
    known = {place: replace(one, place=place) for one in held for place in [replace(one.place, level="trichord")]}
    monkeypatch.setattr(waiting, "cells", lambda *_: known)
    (line,) = for_the_lesson(journal, "Ada")
    assert line.endswith("(trichord). Slower, two bars at a time, or an easier tune there first.")


def test_who_cannot_go_slower_still_is_told_to_take_two_bars_at_a_time(tmp_path: Path) -> None:
    """Slower than two fifths of its tempo a tune is none: asked for so again and again it does not come right."""
    shelf = [Offer("five", SCALE.title, SCALE.key, "pentachord", "right", 16.0, 80.0)]
    begin = datetime(2026, 11, 2, 17, tzinfo=UTC)

    def why(player: str, beat: float) -> str:
        for take in range(STUCK_TAKES):
            when = begin + timedelta(days=take // 2, minutes=take)
            play(made, "Eb", piece=SCALE, player=player, beat=beat, slips=dict.fromkeys(range(6), STEP), began=when)
            learn(made, made.takes(player, 1)[0].id, when)
        listed = today(made, player, 30, begin + timedelta(days=STUCK_TAKES), shelf=shelf, hands=("right",))
        return next(one.why for one in listed if one.key.short == "Eb" and one.kind in ("due", "go on"))

    with Journal(tmp_path / "slowest.sqlite") as made:
        assert why("Ben", 60 / 56).endswith("; slower, for 3 takes running at 90%")
        assert why("Ada", 60 / 30).endswith("; two bars at a time, then all, for 3 takes running at 90%")


def test_one_key_alone_is_said_of_one() -> None:
    assert held_up([stuck("A")], replace(RULES, most_opening=1)) == "no new key while 1 is opening"


def test_the_warm_up_is_in_the_listed_key_that_has_been_opening_for_longest() -> None:
    cells = (cell("C", HOLDING, 40), stuck("D"), cell("E"), cell("Ab", since=3 * STUCK_TAKES))
    known = {one.place: one for one in cells}
    asked = [one.place for one in cells]
    held = longest_stuck(asked, known)
    assert held is not None
    assert held.short == "Ab"
    held = longest_stuck(asked[:3], known)
    assert held is not None
    assert held.short == "D"
    assert longest_stuck([asked[0], asked[2], Place("open", "D", "right")], known) is None


def test_who_is_stuck_finds_the_five_fingers_of_that_key_at_the_head_of_the_list(tmp_path: Path) -> None:
    begin = datetime(2026, 11, 2, 17, tzinfo=UTC)
    with Journal(tmp_path / "stuck.sqlite") as made:
        for take in range(2 * STUCK_TAKES):
            when = begin + timedelta(days=take // 2, minutes=take)
            for key, slips in (("C", {}), ("Eb", dict.fromkeys(range(0, 16, 4), STEP))):
                play(made, key, piece=SCALE, player="Ben", slips=slips, began=when)
                learn(made, made.takes("Ben", 1)[0].id, when)
        listed = today(made, "Ben", 30, begin + timedelta(days=STUCK_TAKES))
    assert (listed[0].kind, listed[0].key.short) == (WARM_UP, "Eb")
    assert listed[0].why == "to make the position sure first"


def test_a_stuck_key_that_went_well_is_not_asked_for_slower() -> None:
    """``100% right last time; slower`` contradicts itself; and what takes too long would take longer still."""
    poor = stuck("D")
    assert asked_of(poor, RULES) == (slower(RULES), -1)
    well = replace(poor, recent=(*poor.recent, Played(1, 0.95, 1.0, 1.2, "all", False)))
    assert asked_of(well, RULES) == ("so once more, for 3 takes running at 90%", 0)
    long = replace(poor, recent=(*poor.recent, Played(1, 0.95, 1.0, 1.72, "all", False)))
    said = "more fluently: 1.8 times the time of the written key, 1.5 at most"
    assert asked_of(long, RULES) == (said, 1)
    assert asked_of(replace(long, since=3), RULES) == (said, 1), "nothing else says why it goes on opening"
    assert asked_of(cell("D"), RULES) == ("", 1)
    assert asked_of(replace(long, state=HOLDING), RULES) == ("", 1)


def test_who_plays_right_and_too_long_is_asked_for_more_until_the_key_holds(tmp_path: Path) -> None:
    """Every note right, at first in more than twice the time of the written key, and a little quicker each day: sent
    slower from the twelfth take on such a key never came to hold.
    """
    shelf = [Offer("five", SCALE.title, SCALE.key, "pentachord", "right", 16.0, 80.0)]
    begin = datetime(2026, 11, 2, 17, tzinfo=UTC)
    with Journal(tmp_path / "long.sqlite") as made:
        play(made, "C", piece=SCALE, player="Ben", began=begin, beat=0.75)
        tempo = 30.0
        for day in range(2 * STUCK_TAKES):
            when = begin + timedelta(days=day, hours=1)
            play(made, "Eb", piece=SCALE, player="Ben", began=when, beat=60 / tempo)
            learn(made, made.takes("Ben", 1)[0].id, when)
            listed = today(made, "Ben", 30, when + timedelta(days=1), shelf=shelf, hands=("right",))
            ours = [one for one in listed if one.key.short == "Eb" and one.kind in ("due", "go on")]
            if not ours:
                break
            tempo = min(ours[0].tempo or tempo, 1.04 * tempo)
        (kept,) = cells(made, "Ben").values()
    assert kept.state == HOLDING


def test_the_teacher_is_not_told_slower_where_the_player_is_asked_for_more(
    journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    long = replace(stuck("A"), recent=(Played(1, 0.95, 1.0, 1.72, "all", False),))
    for others, work in (((cell("D"), cell("E")), "One hand, or"), ((fallen("Bb"), cell("E")), "Slower, one hand, or")):
        known = {one.place: one for one in (*others, long)}
        monkeypatch.setattr(waiting, "cells", lambda *_, known=known: known)
        (line,) = for_the_lesson(journal, "Ada")
        assert line.endswith(f"(pentachord). {work} an easier tune there first.")
