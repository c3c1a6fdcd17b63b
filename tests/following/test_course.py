"""The course of a whole take, decided at its end."""

from __future__ import annotations

from tests.music.tunes import tune
from trainer.following.course import NOWHERE, course, likelihood
from trainer.following.ground import Ground
from trainer.following.model import MODEL
from trainer.listening.press import Press
from trainer.music.transpose import plan, transposed

# A strain that comes again after another: the same eight notes at 0 and at 16.
STRAIN = "C4 E4 D4 G4 F4 A4 G4 C5"
WRITTEN = tune("C", f"{STRAIN} G3 B3 A3 D4 C4 F4 E4 B4 {STRAIN}")
EXPECTED = transposed(WRITTEN, plan(WRITTEN.key, "Eb").interval)
GROUND = Ground(WRITTEN, EXPECTED, "both")


def played(order: list[int]) -> list[Press]:
    return [Press(0.6 * at, EXPECTED.notes[note].midi) for at, note in enumerate(order)]


def jumps(order: list[int]) -> list[float]:
    return [MODEL.jump] * len(order)


def test_straight_through_is_no_jump_although_a_strain_stands_twice() -> None:
    order = list(range(24))
    found = course(GROUND, played(order), 0, jumps(order), set())
    assert list(found.moments) == order
    assert not any(found.jumped[1:])


def test_going_back_is_one_jump_to_the_place_near_by() -> None:
    order = [*range(20), *range(10, 24)]
    found = course(GROUND, played(order), 0, jumps(order), set())
    assert list(found.moments) == order
    assert [at for at, jumped in enumerate(found.jumped) if jumped and at] == [20]


def test_a_wrong_key_has_no_place() -> None:
    order = list(range(12))
    presses = played(order)
    presses[5] = Press(presses[5].at, 100)
    found = course(GROUND, presses, 0, jumps(order), set())
    assert found.moments[5] == NOWHERE
    assert list(found.moments[:5] + found.moments[6:]) == order[:5] + order[6:]


def test_the_true_story_is_likelier_than_one_in_the_other_strain() -> None:
    order = list(range(24))
    pitches = [EXPECTED.notes[note].midi for note in order]
    astray = [*range(16, 24), *range(8, 24)]
    assert likelihood(GROUND, order, jumps(order), pitches) > likelihood(GROUND, astray, jumps(order), pitches) + 5


def test_a_take_that_begins_with_a_strain_that_stands_twice_began_at_the_start() -> None:
    order = [*range(8), *range(14, 20)]
    pitches = [EXPECTED.notes[note].midi for note in order]
    later = [*range(16, 24), *range(14, 20)]
    assert likelihood(GROUND, order, jumps(order), pitches) > likelihood(GROUND, later, jumps(order), pitches)
