"""The prima vista test: a baseline, then matched pieces in other keys, within its minutes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path

import pytest

from tests.journal.played import SCALE, play
from trainer.coaching.path.cells import learn
from trainer.coaching.sight.sight import Item, Rating
from trainer.coaching.sight.sighttest import FIVE_MINUTES, TWO_MINUTES, Form, Reading, SightTest, compose, rating_of
from trainer.coaching.today.schedule import page_key
from trainer.journal.store import Journal
from trainer.journal.summary import sights
from trainer.music.compass import level
from trainer.music.keys import Key
from trainer.music.piece import KeyChange

NOW = datetime(2026, 3, 2, 18, tzinfo=UTC)


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with Journal(tmp_path / "journal.sqlite") as kept:
        for key in ("D", "Eb", "F", "A"):
            take = play(kept, key, player="Ada", began=NOW - timedelta(days=3))
            assert take.id is not None
            learn(kept, take.id)
        yield kept


def read(journal: Journal, reading: Reading, beat: float = 0.8, slips: int = 0) -> int:
    wrong = dict.fromkeys(range(slips), "wrong")
    item = reading.item
    take = play(journal, item.target.short, player="Ada", kind="sight", beat=beat, slips=wrong, began=NOW)
    assert take.id is not None
    return take.id


@pytest.mark.parametrize("form", [FIVE_MINUTES, TWO_MINUTES], ids=lambda form: form.name)
def test_a_form_keeps_to_its_minutes_and_begins_with_the_baseline(journal: Journal, form: Form) -> None:
    test = SightTest(journal, "Ada", form, NOW)
    seen = []
    while (reading := test.next()) is not None:
        seen.append(reading)
        test.played(reading, read(journal, reading))
    assert len(seen) == test._form.items
    assert sum(reading.seconds for reading in seen) <= test._form.seconds
    assert [reading.baseline for reading in seen] == [True, *[False] * (len(seen) - 1)]
    assert seen[0].item.target == seen[0].item.written
    base = seen[0].item
    for reading in seen[1:]:
        assert (reading.item.level, reading.item.hands, reading.item.tempo) == (base.level, base.hands, base.tempo)
        assert reading.item.target != reading.item.written
        assert reading.look_s == 30.0
    assert len({reading.item.target for reading in seen}) == len(seen), "every key once"
    assert len({reading.seed for reading in seen}) == len(seen), "every piece is another"


@pytest.mark.parametrize("keys", [("a", "C", "F", "G"), ("C", "F")])
def test_a_reading_keeps_the_mode_of_its_page_and_is_in_another_key(tmp_path: Path, keys: tuple[str, ...]) -> None:
    """Where the keys of a mode are all read, one comes again: E minor is not read in F major, nor C as it stands."""
    with Journal(tmp_path / "few.sqlite") as few:
        for key in keys:
            page = replace(SCALE, keys=(KeyChange(Fraction(0), page_key(Key.parse(key))),))
            number = play(few, key, piece=page, player="Ada", began=NOW - timedelta(days=3)).id
            assert number is not None
            learn(few, number)
        for _ in range(12):
            test = SightTest(few, "Ada", FIVE_MINUTES, NOW)
            while (reading := test.next()) is not None:
                test.silent(reading)
                assert reading.item.target.mode == reading.item.written.mode
                assert reading.baseline or reading.item.target != reading.item.written


def test_pieces_of_one_test_are_never_those_of_another(journal: Journal) -> None:
    seeds = set()
    for _ in range(5):
        reading = SightTest(journal, "Ada", TWO_MINUTES, NOW).next()
        assert reading is not None
        seeds.add(reading.seed)
    assert len(seeds) == 5


def test_what_the_test_says(journal: Journal) -> None:
    test = SightTest(journal, "Ada", TWO_MINUTES, NOW)
    assert "no result" in test.result().words
    readings = []
    for beat, slips in ((0.5, 0), (0.75, 4)):
        reading = test.next()
        assert reading is not None
        test.played(reading, read(journal, reading, beat, slips))
        readings.append(reading)
    said = test.result()
    assert said.accuracy == pytest.approx(12 / 16)
    # Both took less time than their music at its tempo: minutes are the music's, and what was slipped is the cost.
    assert said.cost == pytest.approx(16 / 12)
    assert said.per_minute == pytest.approx(12 / readings[-1].music_minutes)
    assert "75% right. A right note took 1.3 times as long as in the written key" in said.words
    assert said.rating.spread < said.before.spread
    assert said.rating != said.before
    (kept,) = sights(journal, "Ada")
    assert kept.accuracy == pytest.approx(12 / 16)
    assert rating_of(journal, "Ada", NOW) == said.rating


def test_the_baseline_does_not_move_the_rating(journal: Journal) -> None:
    test = SightTest(journal, "Ada", TWO_MINUTES, NOW)
    reading = test.next()
    assert reading is not None
    test.played(reading, read(journal, reading))
    assert test.rating == test.before == Rating()
    assert sights(journal, "Ada") == []


def test_a_rating_grows_less_sure_with_time_but_never_less_than_at_first() -> None:
    rating = Rating(2.0, 0.3)
    assert rating.later(0) == rating
    assert rating.spread < rating.later(30).spread < rating.later(365).spread <= Rating().spread
    assert rating.later(100_000).spread == Rating().spread
    assert rating.later(30).ability == rating.ability


def test_difficulty_rises_with_level_distance_signature_and_tempo() -> None:
    plain = Item("pentachord", "right", Key.parse("C"), Key.parse("C"), 60.0)
    assert plain.difficulty == 0
    for harder in (
        Item("hexachord", "right", Key.parse("C"), Key.parse("C"), 60.0),
        Item("pentachord", "both", Key.parse("C"), Key.parse("C"), 60.0),
        Item("pentachord", "right", Key.parse("C"), Key.parse("D"), 60.0),
        Item("pentachord", "right", Key.parse("C"), Key.parse("C"), 72.0),
    ):
        assert harder.difficulty > plain.difficulty


def test_a_player_with_no_keys_yet_is_asked_for_three_notes(tmp_path: Path) -> None:
    with Journal(tmp_path / "new.sqlite") as journal:
        reading = SightTest(journal, "Ben", FIVE_MINUTES, NOW).next()
        assert reading is not None
        assert reading.item.level == "trichord"
        assert reading.item.tempo <= 63


def test_the_pieces_of_a_test_can_be_composed_and_are_all_different(journal: Journal) -> None:
    test = SightTest(journal, "Ada", FIVE_MINUTES, NOW)
    made = []
    while (reading := test.next()) is not None:
        piece = compose(reading)
        assert piece.key == reading.item.written
        assert piece.tempo == reading.item.tempo
        assert level(piece) == reading.item.level
        assert len(piece.bars) == reading.item.bars
        made.append(piece.notes)
        test.played(reading, read(journal, reading))
    assert len(set(made)) == len(made) == 4


def test_a_reading_with_nothing_right_is_a_result_too(journal: Journal) -> None:
    test = SightTest(journal, "Ada", TWO_MINUTES, NOW)
    for slips in (0, 16):
        reading = test.next()
        assert reading is not None
        test.played(reading, read(journal, reading, 0.5, slips))
    assert "0 notes right a minute, 0% right" in test.result().words


def test_who_takes_longer_than_the_music_pays_in_time(journal: Journal) -> None:
    test = SightTest(journal, "Ada", TWO_MINUTES, NOW)
    for longer in (0.5, 2.0):
        reading = test.next()
        assert reading is not None
        test.played(reading, read(journal, reading, longer * 60 * reading.music_minutes / 15))
    assert test.result().cost == pytest.approx(2.0, rel=0.01)


def test_a_silent_reading_says_nothing_and_the_test_goes_on(journal: Journal) -> None:
    test = SightTest(journal, "Ada", FIVE_MINUTES, NOW)
    base = test.next()
    assert base is not None
    test.played(base, read(journal, base))
    second = test.next()
    assert second is not None
    test.silent(second)
    assert test.rating == test.before
    third = test.next()
    assert third is not None
    assert third.item.target != second.item.target
    test.played(third, read(journal, third, slips=4))
    assert test.result().accuracy == pytest.approx(12 / 16)
    last = test.next()
    assert last is not None
    test.silent(last)
    assert test.next() is None
    assert len(sights(journal, "Ada")) == 1


def test_a_key_read_lately_has_a_rest(journal: Journal) -> None:
    """What tells most would be the hardest key every time, and the others would never be read."""
    asked: list[str] = []
    for day in range(9):
        test = SightTest(journal, "Ada", TWO_MINUTES, NOW + timedelta(days=day))
        while (reading := test.next()) is not None:
            test.played(reading, read(journal, reading))
        key = test._done[-1][0].item.target.short
        assert key not in asked[-3:], "four keys are open: none comes again before the others"
        asked.append(key)
    assert set(asked) == {"D", "Eb", "F", "A"}


def test_how_long_a_reading_takes() -> None:
    """Eight bars of 4/4 at 96 are 20 seconds of music, before them a bar of count-in and the look."""
    item = Item("pentachord", "right", Key.parse("C"), Key.parse("D"), 96.0, bars=8)
    reading = Reading(item, 1, baseline=False, look_s=30.0)
    assert reading.music_minutes == pytest.approx(20 / 60)
    assert reading.seconds == pytest.approx(30 + 2.5 + 20)


def test_the_width_of_a_rating_is_told_in_its_points() -> None:
    rating = Rating(2.0, 0.25)
    assert rating.points == 700
    assert 500 + 100 * rating.high == pytest.approx(rating.points + rating.give, abs=0.5)
