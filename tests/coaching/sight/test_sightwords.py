"""The sight rating in words: where about four notes in five come right, and how sure that is."""

from __future__ import annotations

import pytest

from trainer.coaching.sight.sight import PRIOR_SPREAD, Rating, chance
from trainer.coaching.sight.sightwords import LADDER, Rung, difficulty, reach, rung, rungs


@pytest.mark.parametrize("at", range(len(LADDER)))
@pytest.mark.parametrize("accidentals", [1, 3, 6])
def test_four_notes_in_five_come_right_where_it_is_said(at: int, accidentals: int) -> None:
    """Just above the ability that reads a rung four times in five it is reached, just below it is not."""
    for ability in (value / 20 for value in range(-40, 160)):
        found = rung(ability)
        if found.at >= 0:
            assert chance(ability, difficulty(found.at, found.accidentals)) >= 0.8
        if chance(ability, difficulty(at, accidentals)) >= 0.8:
            assert (found.at, found.accidentals) >= (at, accidentals) or found.at > at


def test_a_better_reader_is_never_told_less() -> None:
    told = [rung(value / 20) for value in range(-40, 160)]
    assert told == sorted(told)
    assert {one.at for one in told} == set(range(-1, len(LADDER)))


def test_each_step_of_the_ladder_is_harder_than_the_last() -> None:
    steps = list(rungs().values())
    assert steps == sorted(steps)
    assert len(set(steps)) == len(LADDER)


def test_the_band_is_told_and_narrows() -> None:
    wide, sure = Rating(2.0, 0.6), Rating(2.0, 0.02)
    assert reach(wide) == (
        "At sight, at 60, about four notes in five come right in pentachord pieces for one hand in keys of up to two "
        "sharps or flats. By what was read so far it may be anything from trichord pieces for one hand in keys of up "
        "to two sharps or flats to hexachord pieces for one hand in keys of up to three sharps or flats."
    )
    assert "anything" not in reach(sure)


def test_nothing_is_claimed_where_nothing_is_known() -> None:
    assert "not known" in reach(Rating())
    assert "not known" in reach(Rating(2.4, PRIOR_SPREAD))
    assert "even in trichord" in reach(Rating(-1.0, 0.2))
    assert Rung(-1, 0).words == "less than trichord pieces"
