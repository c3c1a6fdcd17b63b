"""Cells move by the numbers of the path, and by nothing else."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from trainer.coaching.path.cells import Cell, after_take
from trainer.coaching.path.path import FILE as PATH_FILE
from trainer.coaching.path.path import (
    FREE,
    HOLDING,
    NEW,
    OPENING,
    Place,
    Played,
    faded,
    level_reached,
    load,
    moved,
    next_places,
)
from trainer.music.compass import LEVELS
from trainer.music.keys import TWENTY_FOUR, Key
from trainer.music.names import GERMAN, keys_in
from trainer.music.pitch import MusicError

ROUTE = load()
RULES = ROUTE.rules
GOOD = Played(0, 0.97, 1.0, 1.05, "none", False)


def take(accuracy: float, day: int = 0, **more: Any) -> Played:
    return replace(GOOD, accuracy=accuracy, day=day, **more)


def test_every_key_is_opened_at_three_levels_and_white_trichords_come_first() -> None:
    assert [p.key for p in ROUTE.places[:7]] == ["C", "C", "F", "F", "G", "G", "F#"]
    names = {key.short for key in TWENTY_FOUR}
    for level in LEVELS[1:]:
        assert {p.key for p in ROUTE.places if p.level == level} == names
    assert all(ROUTE.reason(place) for place in ROUTE.places)
    assert len(set(ROUTE.places)) == len(ROUTE.places)


def test_a_reason_can_stand_behind_what_is_new_and_is_not_taken_for_the_hands() -> None:
    """As in ``both hands together now: only the middle finger on black``: one colon, and `both` of the hands alone."""
    assert not [step.reason for step in ROUTE.steps if ":" in step.reason or "both" in step.reason]


def test_keys_named_in_a_reason_have_the_players_own_letters() -> None:
    (flats,) = {keys_in(step.reason, GERMAN) for step in ROUTE.steps if "finger on white" in step.reason}
    assert flats == "only the middle finger on white, in Des as in As"


@pytest.mark.parametrize(
    ("told", "degree", "is_black"), [("black second", 5, True), ("black third", 4, True), ("white third", 4, False)]
)
def test_a_reason_of_minor_names_the_key_with_one_more_finger_of_that_colour(
    told: str, degree: int, is_black: bool
) -> None:
    (step,) = [step for step in ROUTE.steps if f"{told} degree" in step.reason]
    for key in map(Key.parse, step.keys):
        so = (key.degree(degree).midi % 12 in {1, 3, 6, 8, 10}) == is_black
        assert so == (f"in {key.name.replace('♯', ' sharp')} " in step.reason), (key.name, step.reason)


def test_minor_keys_come_soon_and_not_after_all_the_major_ones() -> None:
    """Who practises ten minutes a day plays in minor within weeks, and hears both modes side by side from then on."""
    for level, most in (("trichord", 12), ("pentachord", 15)):
        places = [place for place in ROUTE.places if place.level == level]
        first = next(at for at, place in enumerate(places) if Key.parse(place.key).is_minor)
        assert first <= most, level
    modes = [Key.parse(place.key).mode for place in ROUTE.places if place.level == "pentachord"]
    assert sum(one != two for one, two in pairwise(modes)) >= 6, "by turns"


@pytest.mark.parametrize(
    ("state", "takes", "after"),
    [
        (NEW, [take(0.5)], OPENING),
        (OPENING, [take(0.9), take(0.9), take(0.9)], HOLDING),
        (OPENING, [take(0.9), take(0.89), take(0.9)], OPENING),
        (OPENING, [take(0.95), take(0.95)], OPENING),
        (OPENING, [take(0.95, cost=1.6)] * 3, OPENING),
        (OPENING, [take(0.95, cost=None)] * 3, HOLDING),
        (HOLDING, [take(0.95, day=1), take(0.95, day=1), take(0.95, day=2)], FREE),
        (HOLDING, [take(0.95, day=2)] * 3, HOLDING),
        (HOLDING, [take(0.95, day=day, help="all") for day in (1, 2, 3)], HOLDING),
        (HOLDING, [take(0.95, day=day, glimpsed=True) for day in (1, 2, 3)], HOLDING),
        (HOLDING, [take(0.95, day=day, cost=1.2) for day in (1, 2, 3)], HOLDING),
        (HOLDING, [take(0.95, day=day, waits=0.2) for day in (1, 2, 3)], HOLDING),
        (HOLDING, [take(0.95, day=day, waits=0.1) for day in (1, 2, 3)], FREE),
        (HOLDING, [take(0.7), take(0.74)], OPENING),
        (HOLDING, [take(0.7), take(0.8)], HOLDING),
        (FREE, [take(0.84)], HOLDING),
        (FREE, [take(0.86)], FREE),
    ],
)
def test_what_moves_a_cell(state: str, takes: list[Played], after: str) -> None:
    assert moved(state, takes, RULES) == after


def test_takes_before_a_change_of_state_do_not_count_again() -> None:
    cell = Cell(Place("pentachord", "D", "right"))
    now = datetime(2026, 1, 5, 12, tzinfo=UTC)
    said = []
    for day in range(8):
        learned = after_take(cell, take(0.96, day=day), ROUTE, now + timedelta(days=day))
        assert learned is not None
        cell = learned.after
        said.append(cell.state)
    assert said == [OPENING, OPENING, HOLDING, HOLDING, HOLDING, FREE, FREE, FREE]


def test_a_take_hardly_begun_counts_for_nothing() -> None:
    cell = Cell(Place("pentachord", "D", "right"))
    assert after_take(cell, take(1.0, share=0.3), ROUTE, datetime.now(UTC)) is None


def test_a_take_marked_after_one_of_a_later_day_moves_nothing() -> None:
    """Cut off on Monday and marked on Wednesday, it would be the last word on what Tuesday's hands can do."""
    cell = Cell(Place("pentachord", "D", "right"))
    now = datetime(2026, 1, 5, 12, tzinfo=UTC)
    later = after_take(cell, take(0.98, day=8), ROUTE, now + timedelta(days=1))
    assert later is not None
    assert after_take(later.after, take(0.6, day=7), ROUTE, now) is None


def test_only_the_first_take_of_a_day_is_the_review() -> None:
    cell = Cell(Place("pentachord", "D", "right"))
    now = datetime(2026, 1, 5, 12, tzinfo=UTC)
    first = after_take(cell, take(0.6, day=7), ROUTE, now)
    assert first is not None
    assert first.rating == "again"
    again = after_take(first.after, take(0.98, day=7), ROUTE, now)
    assert again is not None
    assert again.rating is None
    assert again.after.due == first.after.due
    assert again.after.due == datetime(2026, 1, 6).date()


def test_help_fades_after_two_good_takes_and_comes_back_after_a_bad_one() -> None:
    good = take(0.93, help="all")
    assert faded("all", [good], RULES) == "all"
    assert faded("all", [good, good], RULES) == "bars"
    assert faded("bars", [good, good], RULES) == "bars", "good takes with more help earn nothing"
    assert faded("none", [take(0.95), take(0.95)], RULES) == "none"
    assert faded("do", [take(0.95), take(0.79)], RULES) == "bars"
    assert faded("all", [take(0.5)], RULES) == "all"
    assert faded("all", [replace(good, glimpsed=True)] * 2, RULES) == "all"


def test_no_new_key_while_too_many_are_being_opened() -> None:
    opening = dict.fromkeys(ROUTE.places[: RULES.most_opening], OPENING)
    assert next_places(opening, ROUTE) == []
    assert next_places({ROUTE.places[0]: HOLDING}, ROUTE)[0] == ROUTE.places[1]


def test_both_hands_wait_for_each_hand_alone() -> None:
    pent = [p for p in ROUTE.places if p.level == "pentachord" and p.key == "G"]
    assert [p.hands for p in pent] == ["right", "left", "both"]
    states = {place: HOLDING for place in ROUTE.places if place.level == "trichord"}
    assert pent[2] not in next_places(states, ROUTE)
    assert pent[2] in next_places({**states, pent[0]: HOLDING, pent[1]: HOLDING}, ROUTE)
    assert pent[2] in next_places(states, ROUTE, hands=("both",)), "a player who never plays hands alone"


def test_level_reached_is_the_highest_that_holds() -> None:
    reached = level_reached({Place("trichord", "C", "right"): FREE, Place("pentachord", "C", "left"): OPENING})
    assert reached["C"] == "trichord"
    assert reached["G"] == ""


def test_a_path_may_ask_for_more_takes_running_than_the_usual_one(tmp_path: Path) -> None:
    usual = (Path(__file__).resolve().parents[3] / "trainer/coaching/path/path.toml").read_text(encoding="utf-8")
    (tmp_path / PATH_FILE).write_text(usual.replace("takes = 3", "takes = 8"), encoding="utf-8")
    route = load(tmp_path)
    cell = Cell(Place("pentachord", "D", "right"))
    said = []
    for day in range(16):
        learned = after_take(cell, take(0.96, day=day), route, datetime(2026, 1, 5, 12, tzinfo=UTC))
        assert learned is not None
        cell = learned.after
        said.append(cell.state)
    assert (said.index(HOLDING), said.index(FREE)) == (7, 15)


def test_a_teacher_may_edit_the_path(tmp_path: Path) -> None:
    usual = (Path(__file__).resolve().parents[3] / "trainer/coaching/path/path.toml").read_text(encoding="utf-8")
    own = tmp_path / PATH_FILE
    own.write_text(
        usual.replace("accuracy = 0.90", "accuracy = 0.80").replace('keys = ["C", "F", "G"]', 'keys = ["G"]', 1)
    )
    assert load(tmp_path).rules.holding_accuracy == 0.80
    assert load(tmp_path).places[0].key == "G"
    own.write_text(usual, encoding="utf-8-sig")
    assert load(tmp_path).places == ROUTE.places, "as some editors save it, with the mark of UTF-8"
    own.write_text("".join(line for line in usual.splitlines(keepends=True) if not line.startswith("waits")))
    assert load(tmp_path).rules == RULES, "a copy of a path that did not ask for time yet"
    for wrong, said in (
        (usual.replace('level = "open"', 'level = "wide"', 1), "'wide' is no level"),
        (usual.replace('keys = ["F#"]', 'keys = ["H"]', 1), "'H' is not a key"),
        (usual.replace("[counts]", "[count]"), "'counts' is missing"),
        (usual.replace("accuracy = 0.90", "accuracy = 90"), r"accuracy under \[holding\] is 90, not 0 to 1"),
        (usual.replace("takes = 2", "takes = 0"), r"takes under \[help\] is 0, not 1 to 100"),
        (usual.replace("days = 2", "days = 4"), r"days under \[free\] is 4, not 0 to 3"),
        (usual.replace("cost = 1.5", "cost = 0"), r"cost under \[holding\] is 0, not 0.5 or more"),
        (usual.replace("cost = 1.15", "cost = nan"), r"cost under \[free\] is nan, not 0.5 or more"),
        (usual.replace("waits = 1 ", "waits = -1 "), r"waits under \[free\] is -1, not 0 or more"),
        (usual.replace("most_opening = 3", "most_opening = 0"), r"most_opening under \[counts\] is 0, not 1 or more"),
        ("[[step", "cannot be used"),
    ):
        own.write_text(wrong)
        with pytest.raises(MusicError, match=said):
            load(tmp_path)
