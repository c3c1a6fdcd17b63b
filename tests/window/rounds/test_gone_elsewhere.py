"""A piece that comes when who asked for it is on another screen, or another has sat down, calls nobody away."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest

from tests.window.page.test_drawing import Later
from tools import staging
from trainer.coaching.sight.sighttest import TWO_MINUTES
from trainer.window.desk import deskview
from trainer.window.desk.desk import Desk
from trainer.window.desk.deskwork import HARMONY
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.keys.keys import Keys
from trainer.window.settings import Settings


@pytest.fixture(scope="module", autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


@pytest.fixture
def house() -> Iterator[House]:
    made = house_of((1280, 800), Settings(player="Ada"))
    made.open_journal()
    made.go("desk")
    made.draw()
    yield made
    made.close()


def asked(house: House, ask: Callable[[House], None]) -> Later:
    """Something is asked for, of a second process that has not answered yet."""
    house.workroom = room = Later()
    ask(house)
    assert room.jobs
    return room


def start(house: House) -> None:
    house.screen_of(Desk).start()


def drill(house: House) -> None:
    desk = house.screen_of(Desk)
    desk.practice = deskview.WAYS.index(HARMONY)
    desk.start()


def suggest(house: House) -> None:
    house.screen_of(Desk).suggest()


def sight(house: House) -> None:
    house.rounds.start_sighting(TWO_MINUTES)


def pattern(house: House) -> None:
    house.screen_of(Keys).pattern("pentascale")


ALL = (start, drill, suggest, sight, pattern)


@pytest.mark.parametrize("ask", ALL)
def test_who_waits_for_a_piece_finds_it_on_the_stand(house: House, ask: Callable[[House], None]) -> None:
    asked(house, ask).done()
    assert house.screen is house.rounds.stand()


@pytest.mark.parametrize("ask", ALL)
def test_who_has_gone_to_setup_stays_there(house: House, ask: Callable[[House], None]) -> None:
    room = asked(house, ask)
    house.go("setup")
    room.done()
    assert house.screen is not None
    assert house.screen.name == "setup"
    assert house.screen_of(Desk).reading == "", "another can be asked for"
    assert house.rounds.sighting is None
    assert house.on_stand is None


@pytest.mark.parametrize("ask", ALL)
def test_who_sits_down_meanwhile_is_not_given_what_another_asked_for(
    house: House, ask: Callable[[House], None]
) -> None:
    room = asked(house, ask)
    house.switch("Ben")
    room.done()
    assert house.screen is house.screen_of(Desk)
    assert house.rounds.sighting is None
    assert house.on_stand is None
