"""A piano of fewer keys than Setup knows of is asked about once, and only where the takes say so."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tools import staging
from trainer.listening.clock import now
from trainer.listening.press import Press
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.settings import Settings
from trainer.window.strings import say

ASKED = say("stand.fewer-keys")
LOW = "-7"  # greensleeves, a fifth lower, goes below C2


@pytest.fixture(autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


def house_with(settings: Settings | None = None, typing: bool = False) -> House:
    house = house_of((1280, 800), settings)
    staging.stand_of(house, "greensleeves", LOW).typing = typing
    return house


def take(house: House, lowest: int, to: str = LOW) -> str:
    """What is said after a take on a piano that has no lower key than this."""
    stand = staging.stand_of(house, "greensleeves", to)
    assert stand.practice is not None
    for note in stand.practice.wish.expected.notes:
        if note.midi >= lowest:
            house.hear(Press(float(note.onset) * 0.6, note.midi, 64), now())
    stand.stop()
    return house.rounds.ended_line()[0] if house.notice is None else house.notice.words


def test_after_three_takes_without_such_a_key_it_is_said_once() -> None:
    house = house_with()
    assert [take(house, 36) == ASKED for _ in range(5)] == [False, False, True, False, False]
    assert house.settings.keys_told


@pytest.mark.parametrize(
    "settings", [Settings(keys=61), Settings(keys=49), Settings(keys_told=True), Settings(piano_transposes=2)]
)
def test_nothing_is_asked_of_whom_it_does_not_concern(settings: Settings) -> None:
    house = house_with(settings)
    assert ASKED not in [take(house, 36) for _ in range(4)]


def test_a_key_struck_there_is_a_key_of_the_piano() -> None:
    house = house_with()
    said = [take(house, lowest) for lowest in (36, 36, 28, 36, 36)]
    assert ASKED not in said
    assert take(house, 36) == ASKED


def test_music_that_asks_for_no_such_key_and_what_was_typed_say_nothing() -> None:
    house = house_with()
    assert ASKED not in [take(house, 36, "+0") for _ in range(4)]
    house = house_with(typing=True)
    assert ASKED not in [take(house, 36) for _ in range(4)]
