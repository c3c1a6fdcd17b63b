"""Today's list: due first, within the minutes, nothing lost when days are missed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.journal.played import play
from tests.music.tunes import tune
from trainer.coaching.path import memory
from trainer.coaching.path.cells import Cell, cells, help_for, hold_help, learn
from trainer.coaching.path.path import HOLDING, OPENING, Place, Played, Step, load
from trainer.coaching.singers.setlist import Occasion, Song
from trainer.coaching.today.minutes import minutes_left, rest_line
from trainer.coaching.today.repertoire import Offer, Repertoire, offers
from trainer.coaching.today.schedule import SET_WORK, WARM_UP_FROM, Suggestion, _Plan, page_key, today, waiting
from trainer.coaching.work.assignments import Assignment
from trainer.journal.erasing import erase_takes
from trainer.journal.store import Journal
from trainer.music.keys import Key
from trainer.music.piece import Piece
from trainer.scores.reading import read
from trainer.scores.shelf.library import describe, find

FIVE = tune("C", "C4 D4 E4 F4 G4 F4 E4 D4 C4 D4 E4 F4 G4 E4 C4 C4")
OTHER = replace(tune("D", "D4 E4 F#4 G4 A4 G4 F#4 E4 D4 E4 F#4 G4 A4 F#4 D4 D4"), title="Other tune")
SHELF = [
    Offer("five", "tune", Key.parse("C"), "pentachord", "right", 16.0, 80.0),
    Offer("other", "Other tune", Key.parse("D"), "pentachord", "right", 32.0, 80.0),
    Offer("three", "Three", Key.parse("D"), "trichord", "right", 16.0, 60.0),
]
START = datetime(2026, 3, 2, 18, tzinfo=UTC)


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with Journal(tmp_path / "journal.sqlite") as kept:
        yield kept


def practise(journal: Journal, key: str, day: int, **more: Any) -> None:
    take = play(journal, key, piece=FIVE, player="Ada", began=START + timedelta(days=day), **more)
    assert take.id is not None
    learn(journal, take.id)


def test_an_empty_journal_begins_with_the_first_key_of_the_path(journal: Journal) -> None:
    listed = today(journal, "Ada", 20, START, shelf=SHELF)
    assert [s.kind for s in listed] == ["warm-up", "as written", "new", "new", "new"]
    assert (listed[2].level, listed[2].key, listed[2].hands) == ("trichord", Key.parse("C"), "right")
    assert listed[2].name == "three"
    assert "white keys" in listed[2].why
    assert sum(s.minutes for s in listed) <= 20


def test_an_evening_with_a_wrong_clock_keeps_no_key_from_coming_up_and_moving(journal: Journal) -> None:
    """A computer that woke in another century left the key undue, and deaf to every take, until then."""
    practise(journal, "D", day=0)
    practise(journal, "D", day=36_500)
    now = START + timedelta(days=10)
    assert "due" in [s.kind for s in today(journal, "Ada", 20, now, shelf=SHELF)]
    take = play(journal, "D", piece=FIVE, player="Ada", began=now)
    assert take.id is not None
    learned = learn(journal, take.id, now)
    assert learned is not None
    assert learned.rating == "good"
    (cell,) = cells(journal, "Ada").values()
    assert len(cell.recent) == 3
    assert cell.due is not None
    assert 0 < (cell.due - now.date()).days < 100
    assert "due" not in [s.kind for s in today(journal, "Ada", 20, now, shelf=SHELF)]


def test_work_that_is_set_comes_first_with_its_terms_until_it_is_done(journal: Journal) -> None:
    day = START.date()
    work = (
        Assignment("x", "Own Song", ("G",), by=None),
        Assignment("five", "tune", ("Eb", "F"), ("Ada",), "right", 60, help="do", times=2, by=day + timedelta(days=4)),
        Assignment("other", "Other tune", ("A",), ("Ben",), by=day),
        Assignment("three", "Three", ("E",), by=day - timedelta(days=2), note="Left hand first."),
    )

    def asked(minutes: float = 40) -> list[Suggestion]:
        return [one for one in today(journal, "Ada", minutes, START, shelf=SHELF, assignments=work)
                if one.kind == SET_WORK]  # fmt: skip

    late, soon, later = asked()
    assert (late.title, late.key.short, late.why) == (
        "Three", "E", "set: 90% right, was due on 28 February. Left hand first."
    )  # fmt: skip
    assert (soon.name, soon.key.short, soon.tempo, soon.help) == ("five", "Eb", 60.0, "do")
    assert soon.why == "set: 90% right, at 60 or faster, 0 of 2 times, by Friday 6 March"
    assert (later.name, later.title, later.tempo) == ("x", "Own Song", None)
    for _ in range(2):
        practise(journal, "Eb", 0, beat=1.0, help="do")
    assert [one.key.short for one in asked() if one.title == "tune"] == ["F"]
    for _ in range(2):
        practise(journal, "F", 0, beat=1.0, help="none")
    assert [one.title for one in asked()] == ["Three", "Own Song"]
    assert sum(one.minutes for one in today(journal, "Ada", 8, START, shelf=SHELF, assignments=work)) <= 8


def test_work_whose_key_cannot_be_told_keeps_nothing_else_off_the_list(journal: Journal) -> None:
    work = (Assignment("own-tune", "Own Tune", ("-3",)), Assignment("five", "tune", ("Eb",), (), "right"))
    listed = today(journal, "Ada", 20, START, shelf=SHELF, assignments=work)
    assert [one.title for one in listed if one.kind == SET_WORK] == ["tune"]


def test_long_work_is_on_the_list_of_a_short_day_once_through(journal: Journal) -> None:
    """A teacher's piece was never asked for where playing it twice took more than its share of the day."""
    work = (Assignment("five", "tune", ("Eb",), (), "right", tempo=8),)
    one, *_ = (one for one in today(journal, "Ada", 20, START, shelf=SHELF, assignments=work) if one.kind == SET_WORK)
    assert (one.minutes, one.why) == (5.7, "set: 90% right, at 8 or faster")
    (one,) = (one for one in today(journal, "Ada", 5, START, shelf=SHELF, assignments=work) if one.kind == SET_WORK)
    assert (one.minutes, one.why) == (3.1, "set: 90% right, at 8 or faster. Once through")
    assert SET_WORK not in [one.kind for one in today(journal, "Ada", 3, START, shelf=SHELF, assignments=work)]


def test_what_is_due_is_played_once_where_nothing_would_be_on_the_list(journal: Journal) -> None:
    practise(journal, "D", 0, slips=dict.fromkeys(range(6), "signature"))
    later = START + timedelta(days=20)
    alone = [replace(SHELF[0], quarters=80.0)]
    (twice,) = (one for one in today(journal, "Ada", 20, later, shelf=alone) if one.kind == "due")
    (one,) = today(journal, "Ada", twice.minutes - 0.1, later, shelf=alone)
    assert (one.kind, one.minutes) == ("due", round(twice.minutes / 2 + 0.25, 1))
    assert one.why.endswith(". Once through")
    assert today(journal, "Ada", one.minutes - 0.1, later, shelf=alone) == []


def test_keys_that_stay_open_long_are_asked_for_slower_and_it_is_said_why_no_new_one_comes(journal: Journal) -> None:
    slips = dict.fromkeys(range(4), "signature")
    for key in ("D", "Eb", "F"):
        for take in range(12):
            practise(journal, key, take // 2, slips=slips)

    def reasons() -> list[str]:
        return [one.why for one in today(journal, "Ada", 20, START + timedelta(days=6), shelf=SHELF[:1])
                if one.kind == "go on"]  # fmt: skip

    went = "opening, 75% right last time; slower, for 3 takes running at 90%"
    assert reasons() == [f"{went}; no new key while 3 are opening", went, went]


def test_keys_that_fell_back_are_said_to_be_opened_again_and_to_keep_new_ones_away(journal: Journal) -> None:
    for day, takes, slips in ((0, 3, {}), (9, 2, dict.fromkeys(range(7), "signature"))):
        for key in ("D", "Eb", "F", "A", "Bb"):
            for _ in range(takes):
                practise(journal, key, day, slips=slips)
    listed = today(journal, "Ada", 20, START + timedelta(days=9), shelf=SHELF[:1])
    went = "opening again, 56% right last time"
    assert [one.why for one in listed] == [f"{went}; no new key while 5 are opening", *[went] * 4]


def test_in_the_usual_course_three_keys_are_opened_without_a_word(journal: Journal) -> None:
    for key in ("D", "Eb", "F"):
        practise(journal, key, 0, slips=dict.fromkeys(range(4), "signature"))
    whys = [one.why for one in today(journal, "Ada", 20, START, shelf=SHELF[:1]) if one.kind == "go on"]
    assert whys == ["opening, 75% right last time"] * 3


def test_due_keys_come_first_and_what_does_not_fit_stays_due(journal: Journal) -> None:
    for key in ("D", "Eb", "F", "A", "Bb", "E"):
        practise(journal, key, 0, slips=dict.fromkeys(range(6), "signature"))
    later = START + timedelta(days=20)
    due = [place.key for place, cell in cells(journal, "Ada").items() if cell.due and cell.due <= later.date()]
    assert sorted(due) == ["A", "Bb", "D", "E", "Eb", "F"]
    for minutes in (5, 8, 30):
        listed = today(journal, "Ada", minutes, later, shelf=SHELF)
        assert 0 < sum(s.minutes for s in listed) <= minutes
    assert [s.kind for s in listed] == ["warm-up", *["due"] * 6]
    assert "due for 19 days" in listed[1].why
    short = today(journal, "Ada", 8, later, shelf=SHELF)
    assert 0 < len([s for s in short if s.kind == "due"]) < 6
    assert len([c for c in cells(journal, "Ada").values() if c.due and c.due <= later.date()]) == 6


def test_what_is_due_leaves_a_new_key_its_place_but_at_most_half_the_time(journal: Journal) -> None:
    practise(journal, "D", 0, slips=dict.fromkeys(range(6), "signature"))
    later = START + timedelta(days=20)
    listed = {one.kind: one.minutes for one in reversed(today(journal, "Ada", 30, later, shelf=SHELF))}
    half = 2 * listed["new"]
    # Too short for a warm-up.
    assert listed["due"] < half - 0.2 < half + 0.2 < WARM_UP_FROM
    for minutes, kinds in ((half + 0.2, ["due", "new"]), (half - 0.2, ["due"])):
        assert [one.kind for one in today(journal, "Ada", minutes, later, shelf=SHELF)] == kinds


def test_a_key_played_well_is_not_due_tomorrow(journal: Journal) -> None:
    practise(journal, "D", 0)
    (cell,) = cells(journal, "Ada").values()
    assert cell.place == Place("pentachord", "D", "right")
    assert cell.state == OPENING
    assert cell.due == date(2026, 3, 4)
    listed = today(journal, "Ada", 30, START + timedelta(days=1), shelf=SHELF)
    assert [s.kind for s in listed] == ["warm-up", "as written", "new", "go on", "new"]
    assert "100% right last time" in listed[3].why


def test_what_is_new_is_said_truly(journal: Journal) -> None:
    """A key whose right hand is known is no new key for the left, nor on the next level."""
    three = tune("D", "D4 E4 F#4 E4 D4 E4 D4 D4 E4 F#4 E4 D4")

    def offered() -> str:
        one = next(one for one in today(journal, "Ada", 60, START, shelf=SHELF) if one.kind == "new")
        assert one.key == Key.parse("C")
        return f"{one.level} {one.hands}: {one.why}"

    def hold(piece: Piece, hands: str) -> None:
        for _ in range(3):
            take = play(journal, "C", piece=piece, player="Ada", began=START, hands=hands)
            assert take.id is not None
            learn(journal, take.id)

    reason = "do re mi lie on three neighbouring white keys"
    assert offered() == f"trichord right: a new key: {reason}"
    hold(three, "right")
    assert offered() == f"trichord left: the left hand now: {reason}"
    route = load()
    first, *_ = (step for step in route.steps if step.level == "pentachord")
    known = {Place("trichord", "C", "right"): Cell(Place("trichord", "C", "right"))}
    plan = _Plan(journal, "Ada", START, SHELF, known, route)
    assert plan.for_place(Place("pentachord", "C", "right")).why == f"a known key, pentachord now: {first.reason}"
    assert plan.for_place(Place("pentachord", "G", "right")).why.startswith("a new key: "), "C is known, not G"
    known[Place("pentachord", "C", "left")] = Cell(Place("pentachord", "C", "left"))
    assert plan.for_place(Place("pentachord", "C", "both")).why == f"both hands together now: {first.reason}"


def test_a_reason_says_what_it_means_without_the_step_before_it() -> None:
    assert not [step.reason for step in load().steps if "the same" in step.reason]


def test_a_new_key_begins_with_the_piece_that_has_the_fewest_notes(journal: Journal) -> None:
    shelf = [
        Offer("a-study", "A study", Key.parse("D"), "trichord", "right", 16.0, 60.0, notes=200),
        Offer("little", "Little", Key.parse("D"), "trichord", "right", 16.0, 60.0, notes=12),
    ]
    one = next(one for one in today(journal, "Ada", 30, START, shelf=shelf) if one.kind == "new")
    assert one.name == "little"
    (entry,) = offers([describe(str(find("three-bells")))])
    assert entry.notes == len(read(find("three-bells")).notes)


def test_a_key_that_is_gone_on_with_is_warmed_up_for_too(journal: Journal) -> None:
    for key in ("D", "Eb", "F"):
        practise(journal, key, 0)
    listed = today(journal, "Ada", 30, START + timedelta(days=1), shelf=SHELF)
    assert [one.kind for one in listed] == ["warm-up", *["go on"] * 3]
    assert listed[0].key == listed[1].key


def test_the_first_warm_up_asks_for_the_hand_that_plays_and_for_both_once_both_do(journal: Journal) -> None:
    first, *rest = today(journal, "Ada", 20, START, shelf=SHELF)
    assert (first.kind, first.hands, rest[0].hands) == ("warm-up", "right", "right")
    take = play(journal, "G", piece=read(find("ode-to-joy")), player="Ada", began=START)
    assert take.id is not None
    learn(journal, take.id)
    first, *_ = today(journal, "Ada", 20, START + timedelta(days=1), shelf=SHELF)
    assert (first.kind, first.hands) == ("warm-up", "both")


def test_who_plays_with_one_hand_warms_up_with_that_hand(journal: Journal) -> None:
    """A path of one hand alone, and a player's own choice of it; also where a key has been opening for long."""
    path = load()
    alone = replace(path, steps=tuple(replace(step, hands=("right",)) for step in path.steps))
    for take in range(12):
        practise(journal, "D", take // 2, slips=dict.fromkeys(range(4), "signature"))
    later = START + timedelta(days=7)
    both, *_ = today(journal, "Ada", 30, later, shelf=SHELF)
    assert (both.hands, both.why) == ("both", "to make the position sure first")
    for about in ({"route": alone}, {"hands": ("right",)}):
        first, *_ = today(journal, "Ada", 30, later, shelf=SHELF, **about)
        assert (first.hands, first.why) == ("right", "to make the position sure first")
    # What was once played with both hands asks for both no more.
    play(journal, "G", piece=read(find("ode-to-joy")), player="Ada", began=START + timedelta(days=6))
    first, *_ = today(journal, "Ada", 30, later, shelf=SHELF, hands=("right",))
    assert (first.kind, first.hands) == ("warm-up", "right")


def test_a_day_late_is_since_yesterday(journal: Journal) -> None:
    practise(journal, "D", 0)
    due = cells(journal, "Ada")[Place("pentachord", "D", "right")].due
    assert due is not None
    at = START + timedelta(days=(due - START.date()).days + 1)
    (one,) = [one for one in today(journal, "Ada", 30, at, shelf=SHELF) if one.kind == "due"]
    assert one.why == "opening, due since yesterday"


def test_after_weeks_away_the_list_begins_with_a_sure_key_and_says_when_it_was_played(journal: Journal) -> None:
    """The key most likely forgotten is due first; but not as the first thing hands play after seven weeks."""
    for day in range(3):
        practise(journal, "F", day)
    for _ in range(2):
        practise(journal, "A", 3, slips=dict.fromkeys(range(6), "signature"))

    def due(days: int) -> list[tuple[str, str]]:
        at = START + timedelta(days=days)
        return [(one.key.short, one.why) for one in today(journal, "Ada", 30, at, shelf=SHELF) if one.kind == "due"]

    assert cells(journal, "Ada")[Place("pentachord", "F", "right")].state == HOLDING
    assert due(16)[0] == ("A", "opening, due for 12 days"), "of thirteen days nobody need be eased in"
    sure, hard = due(52)
    assert sure == ("F", "holding, last played 7 weeks ago, a sure beginning")
    assert hard == ("A", "opening, last played 7 weeks ago")
    warm_up, *_ = today(journal, "Ada", 30, START + timedelta(days=52), shelf=SHELF)
    assert (warm_up.kind, warm_up.key.short) == ("warm-up", "F")
    # Once something is played the rest comes in its usual order.
    practise(journal, "G", 52)
    assert [key for key, _ in due(52)] == ["A", "F"]


def test_the_first_day_after_weeks_away_is_for_what_was_known(journal: Journal) -> None:
    """No new key and no test before what was played is found again, also once the first takes of the day are played."""
    for key in "FGA":
        for day in range(3):
            practise(journal, key, day)

    def kinds(days: int) -> set[str]:
        return {one.kind for one in today(journal, "Ada", 40, START + timedelta(days=days), shelf=SHELF)}

    assert {"new", "sight"} <= kinds(13)
    assert kinds(45) == {"warm-up", "due"}
    practise(journal, "F", 45)
    assert kinds(45) == {"due"}
    for key in "GA":
        practise(journal, key, 45)
    assert "new" in kinds(45), "what was known is found again, and there is time"
    assert "new" in kinds(46), "and the day after is a day like any other"


def test_a_take_in_the_written_key_opens_no_cell(journal: Journal) -> None:
    practise(journal, "C", 0)
    practise(journal, "D", 0, kind="pattern")
    assert cells(journal, "Ada") == {}


def test_bars_alone_move_no_cell_also_when_they_are_marked_later(journal: Journal) -> None:
    """A loop cut off and finished at the next start is still a part, though it is all the journal has of the piece."""
    practise(journal, "Eb", 0, kind="loop")
    assert cells(journal, "Ada") == {}


def test_while_a_key_is_opened_it_keeps_its_piece(journal: Journal) -> None:
    practise(journal, "A", 0, slips=dict.fromkeys(range(6), "signature"))
    listed = today(journal, "Ada", 30, START + timedelta(days=2), shelf=SHELF)
    (due,) = [s for s in listed if s.kind == "due"]
    assert (due.name, due.tempo) == ("five", 56.0)


def test_without_a_fitting_piece_a_fresh_one_is_asked_for_in_another_key(journal: Journal) -> None:
    listed = today(journal, "Ada", 20, START, shelf=[])
    assert listed[1].name == ""
    assert listed[1].written == Key.parse("G")


def test_the_set_list_takes_half_when_an_occasion_is_near(journal: Journal) -> None:
    practise(journal, "D", 0, slips=dict.fromkeys(range(6), "signature"))
    songs = (Song("other", "Other tune", "Bb"), Song("five", "tune", "-2"))
    for days, expected in ((30, 0), (5, 2), (0, 2)):
        now = START + timedelta(days=3)
        occasion = Occasion("Choir evening", now.date() + timedelta(days=days), songs)
        listed = today(journal, "Ada", 30, now, shelf=SHELF, occasion=occasion)
        mine = [s for s in listed if s.kind == "set list"]
        assert len(mine) == expected
        assert sum(s.minutes for s in listed) <= 30
    assert {s.key.short for s in mine} == {"Bb"}
    assert "today" in mine[0].why


@pytest.mark.parametrize("key", ["-3", "+m2", "H"])
def test_a_song_whose_key_cannot_be_told_keeps_nothing_else_off_the_list(journal: Journal, key: str) -> None:
    """A set list may say an interval, of a piece that has left the shelf."""
    practise(journal, "D", 0)
    for songs, expected in (
        ((Song("gone", "Gone", key), Song("three", "Three", "C")), ["Three"]),
        ((Song("gone", "Gone", key),), []),
    ):
        occasion = Occasion("Choir evening", START.date() + timedelta(days=5), songs)
        listed = today(journal, "Ada", 30, START + timedelta(days=3), shelf=SHELF, occasion=occasion)
        assert [s.title for s in listed if s.kind == "set list"] == expected
        assert len(listed) > len(expected)


def test_a_song_of_the_set_list_is_not_asked_for_a_second_time_as_due_or_new(journal: Journal) -> None:
    """It stood on one list as due, to be gone on with or new, and again for the concert."""
    songs = (Song("five", "tune", "A"), Song("three", "Three", "C"))
    occasion = Occasion("Choir evening", START.date() + timedelta(days=5), songs)
    practise(journal, "A", 0, slips=dict.fromkeys(range(6), "signature"))
    for days in (0, 1, 2, 3):
        listed = today(journal, "Ada", 60, START + timedelta(days=days), shelf=SHELF, occasion=occasion)
        assert sorted(s.key.short for s in listed if s.kind == "set list") == ["A", "C"]
        places = [(s.level, s.key.short, s.hands) for s in listed if s.kind not in ("warm-up", "sight", "as written")]
        assert len(places) == len(set(places)), places


def test_help_is_the_cells_unless_the_player_holds_it(journal: Journal) -> None:
    place = Place("pentachord", "D", "right")
    assert help_for(journal, "Ada", place) == "all"
    practise(journal, "D", 0)
    practise(journal, "D", 1)
    assert help_for(journal, "Ada", place) == "bars"
    hold_help(journal, "Ada", "none")
    assert help_for(journal, "Ada", place) == "none"
    hold_help(journal, "Ada", "")
    assert help_for(journal, "Ada", place) == "bars"


def test_a_quiet_line_after_twenty_five_minutes_without_a_rest(journal: Journal) -> None:
    for minute in range(0, 26, 2):
        play(journal, "D", piece=FIVE, player="Ada", began=START + timedelta(minutes=minute), beat=5.0)
    assert rest_line(journal, "Ada", START + timedelta(minutes=20)) == ""
    assert "rest" in rest_line(journal, "Ada", START + timedelta(minutes=26))
    assert rest_line(journal, "Ada", START + timedelta(minutes=40)) == ""
    assert rest_line(journal, "Ben", START + timedelta(minutes=26)) == ""
    # What a wrong clock dated years ahead was not played just now.
    play(journal, "D", piece=FIVE, player="Ada", began=START + timedelta(days=20_000))
    assert "rest" in rest_line(journal, "Ada", START + timedelta(minutes=26))


@pytest.mark.parametrize(("away", "says"), [(4, True), (6, False)])
def test_five_minutes_away_from_the_piano_are_a_rest(journal: Journal, away: int, says: bool) -> None:
    # Three takes of four minutes, a pause, four more.
    for minute in (0, 4, 8, *(12 + away + 4 * number for number in range(4))):
        play(journal, "D", piece=FIVE, player="Ada", began=START + timedelta(minutes=minute), beat=16.0)
    assert bool(rest_line(journal, "Ada", START + timedelta(minutes=28 + away))) == says


def test_midnight_is_no_rest(journal: Journal) -> None:
    late = START.replace(hour=23, minute=40)
    for minute in range(0, 40, 4):
        play(journal, "D", piece=FIVE, player="Ada", began=late + timedelta(minutes=minute), beat=16.0)
    assert "rest" in rest_line(journal, "Ada", late + timedelta(minutes=40))
    assert rest_line(journal, "Ada", late + timedelta(minutes=24)) == ""


@pytest.mark.parametrize(
    ("accuracy", "cost", "help_shown", "rating"),
    [
        (0.74, 1.0, "none", "again"),
        (0.75, 1.0, "none", "hard"),
        (0.95, 1.6, "none", "hard"),
        (0.95, 1.2, "none", "good"),
        (0.97, 1.1, "do", "easy"),
        (0.97, 1.2, "do", "good"),
        (0.97, 1.0, "all", "good"),
        (0.99, None, "none", "easy"),
    ],
)
def test_the_rule_that_rates_a_take(accuracy: float, cost: float | None, help_shown: str, rating: str) -> None:
    assert memory.rating_of(Played(0, accuracy, 1.0, cost, help_shown, False)) == rating


def test_what_was_played_today_is_taken_off_the_minutes(journal: Journal) -> None:
    assert minutes_left(journal, "Ada", 15, START) == 15
    practise(journal, "D", -1, beat=4.0)
    practise(journal, "D", 0, beat=4.0)
    practise(journal, "Eb", 0, beat=4.0)
    played = 2 * 15 * 4 / 60
    assert minutes_left(journal, "Ada", 15, START) == pytest.approx(15 - played)
    assert minutes_left(journal, "Ada", 1, START) == 0
    assert minutes_left(journal, "Ben", 15, START) == 15
    left = minutes_left(journal, "Ada", 15, START)
    assert sum(one.minutes for one in today(journal, "Ada", left, START, shelf=SHELF)) <= left


def test_short_pauses_between_takes_are_time_at_the_piano(journal: Journal) -> None:
    """Who gives ten minutes is not kept for twenty by what lies between the takes."""
    for seconds in (0, 100, 200, 900):
        # Fifteen steps of four seconds: a minute.
        play(journal, "D", piece=FIVE, player="Ada", began=START + timedelta(seconds=seconds), beat=4.0)
        play(journal, "D", piece=FIVE, player="Ben", began=START + timedelta(seconds=seconds + 30), beat=1.0)
    assert minutes_left(journal, "Ada", 15, START) == pytest.approx(15 - 4 - 2 * 40 / 60)


def test_a_hand_stays_with_its_own_piece_while_its_key_is_opened_whatever_the_other_hand_plays(
    journal: Journal,
) -> None:
    shelf = [
        Offer("small", "Small", Key.parse("C"), "pentachord", "right", 16.0, 80.0, notes=8),
        Offer("large", "Large", Key.parse("C"), "pentachord", "both", 16.0, 80.0, notes=12),
    ]
    small, large = tune("C", "C4 D4 E4 F4 G4 F4 E4 D4 C4"), tune("C", "C3 D3 E3 F3 G3 F3 E3 D3 C3")
    large = replace(large, notes=tuple(replace(note, hand="left") for note in large.notes))
    play(journal, "Eb", piece=replace(small, title="Small"), player="Ada", began=START)
    play(journal, "Eb", piece=replace(large, title="Large"), player="Ada", began=START + timedelta(days=1))
    played = Repertoire(journal, "Ada", shelf, (START + timedelta(days=2)).date())

    def asked(hands: str) -> str:
        offer = played.piece_for(Place("pentachord", "Eb", hands), Key.parse("Eb"), OPENING)
        assert offer is not None
        return offer.title

    assert (asked("right"), asked("left")) == ("Small", "Large")


def test_time_left_goes_to_further_new_keys_as_many_as_may_be_opened_at_once(journal: Journal) -> None:
    new = [one for one in today(journal, "Ada", 20, START, shelf=SHELF) if one.kind == "new"]
    assert [(one.key.short, one.hands) for one in new] == [("C", "right"), ("C", "left"), ("F", "right")]
    assert [one.why.partition(":")[0] for one in new] == ["a new key", "the left hand now", "a new key"]
    short = today(journal, "Ada", 5, START, shelf=SHELF)
    assert [one.kind for one in short] == ["as written", "new"]
    practise(journal, "D", 0)
    practise(journal, "Eb", 0)
    assert len([one for one in today(journal, "Ada", 60, START, shelf=SHELF) if one.kind == "new"]) == 1


def test_a_piece_is_read_as_it_is_written_before_it_first_moves_and_only_once(journal: Journal) -> None:
    shelf = [Offer("five", "tune", Key.parse("C"), "pentachord", "right", 16.0, 80.0)]
    route = replace(load(), steps=(Step("pentachord", ("D",), ("right",), "two white keys and a black one"),))

    def listed() -> list[Suggestion]:
        return today(journal, "Ada", 20, START, shelf=shelf, route=route, hands=("right",))

    home = listed()[1]
    assert (home.kind, home.name, home.key, home.hands) == ("as written", "five", Key.parse("C"), "right")
    assert listed()[2].kind == "new"
    practise(journal, "C", 0)
    assert "as written" not in [one.kind for one in listed()]


def test_a_piece_as_written_is_asked_for_no_faster_than_who_is_slow_plays(journal: Journal) -> None:
    def as_written() -> float | None:
        listed = today(journal, "Ada", 30, START + timedelta(days=1), shelf=SHELF)
        return next(one.tempo for one in listed if one.kind == "as written" and one.name == "three")

    assert as_written() == 51.0
    for _ in range(4):
        practise(journal, "G", 0, beat=60 / 32)
    assert as_written() == pytest.approx(60 * 1.1 * 32 / 80, abs=1)


def test_who_has_just_played_is_warm(journal: Journal) -> None:
    practise(journal, "C", 0)
    for minutes, warms in ((10, False), (45, False), (75, True), (24 * 60, True)):
        listed = today(journal, "Ada", 30, START + timedelta(minutes=minutes), shelf=SHELF)
        assert (listed[0].kind == "warm-up") is warms, f"{minutes} minutes later"
    assert today(journal, "Ben", 30, START, shelf=SHELF)[0].kind == "warm-up"


def test_keys_being_opened_take_turns_and_end_for_the_day(journal: Journal) -> None:
    """The least sure key is not asked for again and again while the others wait."""
    slips = dict.fromkeys(range(3), "signature")
    for key in ("D", "Eb", "F"):
        practise(journal, key, 0, slips=slips if key == "F" else None)
    asked, names = [], []
    for _ in range(40):
        gone_on = [one for one in today(journal, "Ada", 60, START, shelf=SHELF) if one.kind == "go on"]
        if not gone_on:
            break
        asked.append(gone_on[0].key.short)
        names.append((gone_on[0].name, gone_on[0].why))
        piece = FIVE if gone_on[0].name == "five" else OTHER
        take = play(journal, asked[-1], piece=piece, player="Ada", began=START, slips=slips)
        assert take.id is not None
        learn(journal, take.id)
    assert asked[0] == "F", "the least sure first"
    assert [sorted(asked[at : at + 3]) for at in (0, 3, 6)] == [["D", "Eb", "F"]] * 3
    assert len(asked) < 40, "it ends"
    assert ("other", "opening, another tune in this key") in names, "after six takes another tune"
    assert max(asked.count(key) for key in asked) < 12


def test_a_key_whose_time_is_half_over_may_come_ahead_when_there_is_time(journal: Journal) -> None:
    for _ in range(3):
        practise(journal, "D", 0)
    practise(journal, "D", 2)
    (cell,) = cells(journal, "Ada").values()
    assert cell.due is not None
    waits = (cell.due - START.date()).days - 2

    def ahead(days: int) -> list[str]:
        listed = today(journal, "Ada", 60, START + timedelta(days=2 + days), shelf=SHELF)
        return [one.why for one in listed if one.kind == "ahead"]

    assert waits >= 4
    assert ahead(1) == []
    assert ahead(waits - 2) == ["holding, due in 2 days, with time left today"]
    assert ahead(waits - 1) == ["holding, due tomorrow"]
    assert ahead(waits) == [], "due"


def test_a_key_whose_takes_are_erased_does_not_break_the_list(journal: Journal) -> None:
    for _ in range(3):
        practise(journal, "D", 0)
    practise(journal, "D", 2)
    erase_takes(journal, [row.id for row in journal.takes("Ada")])
    (cell,) = cells(journal, "Ada").values()
    assert cell.due is not None
    listed = today(journal, "Ada", 60, START + timedelta(days=3), shelf=SHELF)
    assert listed
    assert [one for one in listed if one.kind in ("due", "ahead")] == []


def test_of_what_a_longer_day_would_ask_for_the_shortest_that_matters_is_named() -> None:
    def one(kind: str, minutes: float) -> Suggestion:
        return Suggestion(kind, kind, Key.parse("G"), "trichord", "right", "", minutes)

    listed = [one("warm-up", 1.0), one("sight", 2.0), one("as written", 2.5), one("due", 6.0), one("new", 4.0)]
    named = waiting(listed)
    assert named is not None
    assert (named.kind, named.minutes) == ("new", 4.0)
    assert waiting(listed[:3]) is None
    assert waiting([]) is None


def test_a_fresh_piece_is_written_in_an_easy_key_other_than_its_target() -> None:
    assert [page_key(Key.parse(target)).short for target in ("Eb", "C", "f#", "a")] == ["C", "G", "a", "e"]


def test_who_plays_the_list_from_its_top_comes_to_the_reading_at_sight(journal: Journal) -> None:
    """The list is made anew after every take: at its end a reading was never reached, its time went to another key."""
    for key in ("D", "D", "D", "Eb", "F"):
        practise(journal, key, 0)
    route = replace(
        load(), steps=(Step("pentachord", ("D", "Eb", "F", "A", "Bb", "G", "E", "Ab", "B"), ("right",), ""),)
    )
    at, left, kinds = START + timedelta(days=1), 20.0, list[str]()
    while left > 0 and "sight" not in kinds:
        listed = today(journal, "Ada", left, at, shelf=SHELF[:1], hands=("right",), route=route)
        if not listed:
            break
        kinds.append(listed[0].kind)
        for _ in range(2):
            take = play(journal, listed[0].key.short, piece=FIVE, player="Ada", began=at)
            assert take.id is not None
            learn(journal, take.id, at)
            at += timedelta(seconds=50)
        left = minutes_left(journal, "Ada", 20, at)
    assert kinds[-1] == "sight", kinds
