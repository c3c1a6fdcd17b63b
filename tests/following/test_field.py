"""Distant stories: which places a jump may lead to."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.music.tunes import tune
from trainer.following.field import Anchor, Field, Heard, Rival
from trainer.following.ground import Ground
from trainer.following.model import MODEL
from trainer.following.story import Line
from trainer.music.transpose import plan, transposed

WRITTEN = tune("C", "C4 E4 D4 G4 F4 A4 G4 C5 " * 12)
EXPECTED = transposed(WRITTEN, plan(WRITTEN.key, "Eb").interval)


def test_after_a_far_jump_the_place_left_is_likely_still_until_the_new_one_is_proved() -> None:
    ground = Ground(WRITTEN, EXPECTED, "both")
    field = Field(ground)

    def hear(press: int, place: int) -> None:
        line = Line(-0.2 * press, place, (0, 0), 0, 0, 0, 0.6 * press, 0.6, None)
        field.hear(Heard(press, ground.pitch[place + 1], 0.6 * press, line, line, MODEL.jump))

    for press in range(9):
        hear(press, 40 + press)
    far = field.goal_of(48, 5)
    assert far < MODEL.goal_anchor - 1.0
    for press in range(9, 9 + MODEL.anchored):
        hear(press, press - 4)
        assert field.goal_of(48, 5) >= MODEL.goal_anchor - 0.5
    assert field.goal_of(90, 5) < MODEL.goal_anchor - 1.0
    hear(9 + MODEL.anchored, 5 + MODEL.anchored)
    assert field.goal_of(48, 5) == far


def test_near_and_strong_places_are_likelier_goals_than_far_ones() -> None:
    ground = Ground(WRITTEN, EXPECTED, "both")
    field = Field(ground)
    assert field.goal_of(36, 40) > field.goal_of(44, 40) > field.goal_of(80, 40)
    assert field.goal_of(0, 80) > field.goal_of(8, 80)
    assert ground.onset[36] % 4 == 0
    assert field.goal_of(36, 41) > field.goal_of(37, 41)


def test_one_moment_and_all_of_a_pitch_are_weighed_alike() -> None:
    ground = Ground(WRITTEN, EXPECTED, "both")
    field = Field(ground)
    for place, anchor in ((-1, None), (0, None), (40, None), (95, None), (20, Anchor(70.0, 0.0, 0, 4.0))):
        field.anchor = anchor
        for pitch, moments in ground.moments_of.items():
            goals = field.goals(pitch, place)
            assert [field.goal_of(int(moment), place) for moment in moments] == pytest.approx(list(goals))


def test_a_place_whole_beats_away_is_a_likelier_goal() -> None:
    """Eighths: from the off-beat the player goes to off-beats more readily than else, though beats are stronger."""
    written = tune("C", "C4 E4 D4 G4 " * 12)
    written = written.with_notes(replace(n, onset=n.onset / 2, length=n.length / 2) for n in written.notes)
    field = Field(Ground(written, transposed(written, plan(written.key, "Eb").interval), "both"))
    on_beat, off_beat = 39, 40  # the moments left: the next lies on the beat, or off it
    assert field.goal_of(34, on_beat) - field.goal_of(34, off_beat) == pytest.approx(2 * MODEL.goal_phase)
    assert field.goal_of(35, off_beat) - field.goal_of(35, on_beat) == pytest.approx(2 * MODEL.goal_phase)


@pytest.mark.parametrize("moment", [73, 77])
def test_the_like_passages_near_the_place_left_are_those_a_jump_could_reach(moment: int) -> None:
    """Whether the player has since gone on from the place jumped to or stepped back from it."""
    ground = Ground(WRITTEN, EXPECTED, "both")
    field = Field(ground)
    for press in range(4):
        line = Line(-0.2 * press, 20, (0, 0), 0, 0, 0, 0.6 * press, 0.6, None)
        field.hear(Heard(press, ground.pitch[75], 0.6 * press, line, line, MODEL.jump))
    found = field.nearer(Rival(-1.0, moment, 1, 75, -2.0))
    assert [(rival.goal, rival.moment - rival.goal) for rival in found] == [(19, moment - 75), (27, moment - 75)]
