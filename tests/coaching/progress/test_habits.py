"""Habits are found where they were put, and chance is not taken for one."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

import pytest

from tests.journal.played import SCALE, play
from trainer.coaching.progress.habits import degree_syllable, habits, trends
from trainer.coaching.progress.progress import CAUSE_WORDS, key_looks
from trainer.coaching.progress.report import report
from trainer.following.marks import CAUSES, MISSED, RIGHT
from trainer.journal import summary
from trainer.journal.store import Journal

NOW = datetime(2026, 3, 2, 18, tzinfo=UTC)
FA = [index for index, note in enumerate(SCALE.notes) if note.pitch.letter == "F"]


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with Journal(tmp_path / "journal.sqlite") as kept:
        yield kept


def test_a_habit_is_told_with_its_keys_and_its_evidence(journal: Journal) -> None:
    rng = Random(4)
    wrong = asked = 0
    for day in range(12):
        for key in ("Bb", "Eb", "G", "D"):
            slips = {}
            if key in ("Bb", "Eb"):
                slips = {index: "signature" for index in FA if rng.random() < 0.6}
                wrong, asked = wrong + len(slips), asked + len(FA)
            play(journal, key, player="Ada", slips=slips, began=NOW - timedelta(days=day))
    found = habits(journal, "Ada", NOW.date())
    assert found[0].sentence == f"in flat keys fa is played sharp, against the key signature: {wrong} of {asked}"
    assert len(found) <= 3
    assert habits(journal, "Ben", NOW.date()) == []


def test_a_few_unlucky_notes_are_no_habit(journal: Journal) -> None:
    rng = Random(8)
    for day in range(30):
        slips = {index: rng.choice(("wrong", "step")) for index in range(16) if rng.random() < 0.08}
        play(journal, rng.choice(("Bb", "D", "F", "A")), player="Ada", slips=slips, began=NOW - timedelta(days=day))
    assert habits(journal, "Ada", NOW.date()) == []


def test_old_habits_are_forgotten(journal: Journal) -> None:
    for day in range(10):
        slips = dict.fromkeys(FA, "signature")
        play(journal, "Bb", player="Ada", slips=slips, began=NOW - timedelta(days=200 + day))
    assert habits(journal, "Ada", NOW.date()) == []
    assert habits(journal, "Ada", NOW.date(), days=300)


def test_trends_say_when_the_difference_may_be_chance(journal: Journal) -> None:
    for day in range(1, 56):
        late = day < 28
        better = dict.fromkeys(range(1 if late else 6), "wrong")
        play(journal, "D", player="Ada", slips=better, began=NOW - timedelta(days=day))
        same = {(day + index) % 16: "wrong" for index in range(2 + day % 2)}
        play(journal, "D", player="Ben", slips=same, began=NOW - timedelta(days=day))
    rose = trends(journal, "Ada", NOW.date())[0]
    assert rose.is_told
    assert rose.words.startswith("Accuracy rose")
    flat = trends(journal, "Ben", NOW.date())[0]
    assert not flat.is_told
    assert "may be chance" in flat.words
    assert flat.low < 0 < flat.high


def test_a_cheaper_key_is_told_and_a_hair_is_not(journal: Journal) -> None:
    for player, early, late in (("Ada", 0.8, 0.6), ("Ben", 0.6, 0.595)):
        play(journal, "C", player=player, beat=0.5, began=NOW - timedelta(days=60))
        for day in range(1, 56):
            beat = (late if day <= 28 else early) * (1 + 0.01 * (day % 3))
            play(journal, "D", player=player, beat=beat, began=NOW - timedelta(days=day))
    fell = next(trend for trend in trends(journal, "Ada", NOW.date()) if trend.what == "cost")
    assert fell.is_told
    assert fell.words == "The cost of transposing fell: 1.62 times the time of the written key before, 1.21 now."
    hair = next(trend for trend in trends(journal, "Ben", NOW.date()) if trend.what == "cost")
    assert not hair.is_told


def test_figures_by_key_degree_interval_hand_and_cause(journal: Journal) -> None:
    play(journal, "C", player="Ada", began=NOW, beat=0.5)
    play(journal, "Eb", player="Ada", began=NOW, beat=0.6, slips={3: "step"}, late={5: 3.0, 11: 3.0})
    play(journal, "F#", player="Ada", began=NOW, beat=1.0, slips={3: "step", 4: "step"})
    keys = summary.by_key(journal, "Ada")
    assert list(keys) == ["C", "F#", "Eb"]
    assert (keys["Eb"].right, keys["Eb"].played) == (15, 16)
    assert keys["Eb"].per_minute == pytest.approx(15 / ((15 * 0.6 + 4 * 0.6) / 60))
    degrees = {row.value: row for row in summary.by_facet(journal, "Ada", "degree")}
    assert (degrees["4"].n, degrees["4"].right) == (9, 7)
    assert degrees["4"].late is not None
    assert degrees["1"].late is not None
    assert degrees["4"].late > 1.1 > degrees["1"].late
    causes = {row.value: row.n for row in summary.by_facet(journal, "Ada", "cause")}
    assert causes == {"right": 45, "step": 3}
    assert {row.value for row in summary.by_facet(journal, "Ada", "interval")} >= {"+M2", "-M2", "+P1"}
    assert summary.by_facet(journal, "Ada", "degree", keys=["Eb"])[0].n == 4
    assert sum(summary.minutes_by_day(journal, "Ada", NOW.date()).values()) == pytest.approx(
        sum(one.minutes for one in keys.values())
    )


def test_cost_by_distance_and_by_shape(journal: Journal) -> None:
    for _ in range(3):
        play(journal, "C", player="Ada", began=NOW, beat=0.5)
        play(journal, "G", player="Ada", began=NOW, beat=0.6)
        play(journal, "F#", player="Ada", began=NOW, beat=1.0)
    costs = summary.cost_by_distance(journal, "Ada", NOW.date())
    assert {distance: round(cost[0], 2) for distance, cost in costs.items()} == {1: 1.2, 6: 2.0}
    shapes = summary.cost_by_family(journal, "Ada", NOW.date())
    assert round(shapes["black black black white black"][0], 2) == 2.0
    looks = key_looks(journal, "Ada", NOW)
    assert len(looks) == 24
    assert looks["F#"].cost is not None
    assert looks["F#"].cost[0] == pytest.approx(2.0)


def test_the_report_says_everything_in_plain_values(journal: Journal) -> None:
    import json

    play(journal, "Eb", player="Ada", began=NOW)
    said = json.loads(json.dumps(report(journal, "Ada", NOW, 90)))
    assert set(said) == {
        "player", "since", "all", "recent", "keys", "weeks", "degrees", "intervals", "hands", "causes",
        "cost_by_fifths", "cost_by_shape", "habits", "trends", "sight", "cells",
    }  # fmt: skip
    assert said["keys"]["Eb"]["accuracy"] == 1.0
    assert (said["sight"]["rating"], said["sight"]["give_or_take"]) == (600, 392)
    assert "not known yet" in said["sight"]["words"]


def test_syllables_of_degrees_and_words_for_every_cause() -> None:
    assert [degree_syllable(str(n), "major") for n in range(1, 8)] == ["do", "re", "mi", "fa", "sol", "la", "ti"]
    assert [degree_syllable(str(n), "minor") for n in (1, 3, 5)] == ["la", "do", "mi"]
    assert degree_syllable("♭7", "major") == "te"
    assert set(CAUSE_WORDS) == {*CAUSES, MISSED} - {RIGHT}
