"""The course of a whole take, decided at its end."""

from __future__ import annotations

import pytest

from tests.music.tunes import tune
from trainer.following import course as course_room
from trainer.following.course import Teller, along, course
from trainer.following.ground import Ground
from trainer.following.model import MODEL
from trainer.following.retelling import steps_of
from trainer.following.rough import NOWHERE, Course
from trainer.following.story import HIT, NOTHING, SLIP, Step
from trainer.following.tracker import Tracker
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


def told(order: list[int], led: list[int], jumped: set[int]) -> float:
    """How likely a take is when it is told along a course."""
    presses = played(order)
    live = Tracker(GROUND, 0.6)
    for index, press in enumerate(presses):
        live.hear(index, press.pitch, press.at)
    course_ = Course(tuple(led), tuple(at in jumped for at in range(len(led))))
    return Teller(live, presses, jumps(order), 0, 0, len(presses)).tell(course_, NOWHERE).score


def test_the_true_story_is_likelier_than_one_in_the_other_strain() -> None:
    order = list(range(24))
    astray = [*range(16, 24), *range(8, 24)]
    assert told(order, order, {0}) > told(order, astray, {0, 8}) + 5


def test_a_take_that_begins_with_a_strain_that_stands_twice_began_at_the_start() -> None:
    order = [*range(8), *range(14, 20)]
    later = [*range(16, 24), *range(14, 20)]
    assert told(order, order, {0, 8}) > told(order, later, {0, 8})


def test_a_course_that_jumps_a_little_late_is_told_with_the_jump_where_it_was() -> None:
    order = [*range(20), *range(10, 24)]
    assert told(order, order, {0, 22}) == told(order, order, {0, 20})


def test_being_told_to_be_elsewhere_does_not_pay() -> None:
    order = [*range(20), *range(10, 24)]
    elsewhere = [*range(20), *([NOWHERE] * 14)]
    assert told(order, order, {0, 20}) > told(order, elsewhere, {0})


HALF = f"{STRAIN} G3 B3 A3 D4 C4 F4 E4 B4"
TWICE = tune("C", f"{HALF} {HALF}")
BACK = [*range(16), *range(4, 32)]  # twelve notes back, then on to the end
FAR = [*range(16), *range(20, 32), *range(16, 32)]  # the same keys, twelve of them in the other half


def heard_going_back(wrong: dict[int, int]) -> tuple[Tracker, list[Press]]:
    """A take that goes back within the first half, some presses struck so many semitones off."""
    expected = transposed(TWICE, plan(TWICE.key, "Eb").interval)
    presses = [Press(0.6 * at, expected.notes[note].midi + wrong.get(at, 0)) for at, note in enumerate(BACK)]
    live = Tracker(Ground(TWICE, expected, "both"), 0.6)
    for index, press in enumerate(presses):
        live.hear(index, press.pitch, press.at)
    return live, presses


def test_where_a_course_goes_far_the_like_passage_near_by_is_told_too(monkeypatch: pytest.MonkeyPatch) -> None:
    live, presses = heard_going_back({})
    clumsy = [
        step._replace(note=-1, kind=NOTHING, place=15, jumped=False) if 16 <= step.press < 19 else step
        for step in steps_of(live.best.step)
    ]
    gone = Course(tuple(FAR), tuple(at in (0, 16, 28) for at in range(len(FAR))))
    monkeypatch.setattr(course_room, "course", lambda *_: gone)
    assert [step.note for step in along(live, presses, clumsy)] == BACK


@pytest.mark.parametrize(("off", "note", "kind", "place"), [(1, 4, SLIP, 4), (25, -1, NOTHING, 3)])
def test_a_story_whose_jump_begins_with_another_key_is_told_as_it_is(
    off: int, note: int, kind: str, place: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    live, presses = heard_going_back({16: off})
    steps = [step._replace(jumped=step.press == 16) for step in steps_of(live.best.step)]
    steps[16] = steps[16]._replace(note=note, kind=kind, shift=off if note >= 0 else 0, place=place)
    moments = [NOWHERE if at == 16 else moment for at, moment in enumerate(FAR)]
    gone = Course(tuple(moments), tuple(at in (0, 17, 28) for at in range(len(FAR))))
    monkeypatch.setattr(course_room, "course", lambda *_: gone)
    monkeypatch.setattr(course_room, "_echo", lambda *_: None)
    assert along(live, presses, steps) == steps


def test_a_stretch_in_another_key_is_not_told_again_at_home(monkeypatch: pytest.MonkeyPatch) -> None:
    """There the course finds the few keys that happen to stand at home."""

    def never(*_: object) -> None:
        raise AssertionError

    presses = [Press(press.at, press.pitch + (3 if at < 7 else 0)) for at, press in enumerate(played(list(range(24))))]
    steps = [Step(None, at, at, HIT, 3 if at < 7 else 0, at, False) for at in range(24)]
    monkeypatch.setattr(course_room, "_apart", lambda *_: [(0, 12)])
    monkeypatch.setattr(course_room, "Teller", never)
    assert along(Tracker(GROUND, 0.6), presses, steps) == steps
