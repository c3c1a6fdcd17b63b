"""Causes of single slips, and how context weighs them."""

from __future__ import annotations

import pytest

from tests.music.tunes import tune
from trainer.following import marks as m
from trainer.following.diagnosis import Habits, displaced, fits, spelled_for, weigh
from trainer.following.ground import Ground
from trainer.music.keys import Key
from trainer.music.piece import BOTH
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import plan, transposed


def ground(key: str, to: str, pitches: str) -> Ground:
    written = tune(key, pitches)
    return Ground(written, transposed(written, plan(written.key, to).interval), BOTH)


# Written key, target key, written note, semitones from the expected pitch to the one that sounded, cause.
CASES = [
    ("F", "C", "Bb4", -1, m.STEP),  # fa in C is F; E is the step below
    ("G", "F", "C5", 1, m.SIGNATURE),  # fa in F is B flat; B natural is written in G
    ("F", "G", "E4", -1, m.SIGNATURE),  # ti in G is F sharp; F natural is the written key's letter
    ("G", "F#", "G4", -1, m.SIGNATURE),  # do in F sharp as F natural: its sign forgotten, though ti is that key too
    ("D", "C", "F#4", 1, m.STEP),  # mi in C is E, in neither key sharp or flat; F is the step above
    ("C", "D", "E4", 1, m.STEP),  # mi in D is F sharp; G is the step above
    ("C", "Eb", "E4", -3, m.AS_WRITTEN),  # mi in E flat is G; E was written
    ("C", "Eb", "G4", 12, m.OCTAVE),
    ("C", "Eb", "F#4", -1, m.ACCIDENTAL),  # fi in E flat is A natural; A flat is what the signature says
    ("C", "Eb", "G4", 5, m.WRONG),
    ("C", "D", "F4", 1, m.SIGNATURE),  # fa in D is G; G sharp is the sign D would have next
    ("G", "F", "F#4", -1, m.SIGNATURE),  # ti in F is E; E flat is the sign F would have next
    ("C", "D", "G4", 1, m.WRONG),  # nobody forgets a sign into A sharp, which stands in neither key
]


@pytest.mark.parametrize(("key", "to", "note", "away", "cause"), CASES)
def test_the_likeliest_cause(key: str, to: str, note: str, away: int, cause: str) -> None:
    there = ground(key, to, note)
    assert weigh(fits(there, 0, there.pitch[0] + away), Habits())[0][0] == cause


def test_probabilities_sum_to_one_and_others_are_kept() -> None:
    there = ground("C", "D", "E4")
    weighed = weigh(fits(there, 0, there.pitch[0] - 2), Habits())
    assert {cause for cause, _ in weighed} >= {m.AS_WRITTEN, m.STEP}
    assert sum(weight for _, weight in weighed) == pytest.approx(1.0)


def given_to(slips: dict[str, float]) -> Habits:
    """Of a player who has made these."""
    found = Habits()
    found.learn(slips)
    return found


def test_a_slip_that_fits_two_causes_goes_to_what_the_player_has_been_doing() -> None:
    there = ground("C", "D", "E4")
    found = fits(there, 0, there.pitch[0] - 2)
    assert weigh(found, Habits())[0][0] == m.AS_WRITTEN
    assert weigh(found, given_to({m.STEP: 20.0}))[0][0] == m.STEP


def test_a_run_is_displaced_and_a_quick_neighbour_is_brushed() -> None:
    there = ground("C", "Eb", "E4")
    assert weigh(fits(there, 0, there.pitch[0] + 2, run=3), Habits())[0][0] == m.DISPLACED
    assert weigh(fits(there, 0, there.pitch[0] + 1, brushed=True), Habits())[0][0] == m.BRUSHED


def test_the_key_that_sounded_is_spelled_by_its_cause() -> None:
    a_flat = Key.parse("Ab")
    d_flat = SpelledPitch.parse("Db5")
    assert spelled_for(d_flat, 1, m.SIGNATURE, a_flat).name == "D5"
    assert spelled_for(d_flat, 2, m.STEP, a_flat).name == "Eb5"
    assert spelled_for(d_flat, 12, m.OCTAVE, a_flat).name == "Db6"


def test_letters_played_natural_one_after_another_are_a_habit_and_no_hand_displaced() -> None:
    """B and E natural in C minor, from D minor, which has a B flat itself."""
    there = ground("d", "c", "C5 F4 D5")
    assert not displaced(there, [0, 1], 1)
    assert displaced(there, [0, 2], 1)  # C is flat in no key here


def test_the_sign_of_the_page_kept_on_a_raised_note_is_its_accidental_forgotten() -> None:
    """Ti in G sharp minor is F double sharp; the page, in C minor, has a natural. So even of one who errs wildly."""
    there = ground("c", "g#", "B4")
    assert weigh(fits(there, 0, there.pitch[0] - 2), given_to({m.WRONG: 5.0}))[0][0] == m.ACCIDENTAL
