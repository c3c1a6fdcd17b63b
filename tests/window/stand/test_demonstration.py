"""A recorded take that plays itself on the Stand: it ends when the player wishes, and is never the player's own."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from tools import staging
from trainer.journal.store import Journal
from trainer.listening.clock import now
from trainer.listening.press import Press
from trainer.scores.reading import read
from trainer.scores.shelf.library import find
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.practice import ENDED
from trainer.window.rounds.rounds import BUNDLED_PIECE
from trainer.window.stand.stand import Stand
from trainer.window.strings import say


@pytest.fixture(scope="module", autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


@pytest.fixture
def house() -> Iterator[House]:
    made = house_of((1280, 800))
    with Journal(made.journal_file) as made.journal:
        made.go("desk")
        yield made
        made.rounds.end_demonstration()
        assert made.journal.takes() == []


@pytest.fixture
def stand(house: House) -> Stand:
    """The take plays itself: some of it is heard, and a key of it is down."""
    house.rounds.watch_bundled()
    stand = house.screen
    assert isinstance(stand, Stand)
    assert stand.practice is not None
    while len(stand.practice.presses) < 4 or not stand.down:
        event, put = house.played.get(timeout=60)
        house.hear(event, put)
    return stand


def is_silent(house: House) -> bool:
    """Whether nothing of the recorded take is still to come."""
    return house.replayed is None and house.played.empty()


def test_stop_stops_it_and_what_was_played_lies_marked(stand: Stand) -> None:
    house = stand.house
    stand.stop()
    assert is_silent(house)
    assert stand.down == set(), "a key of it stayed down"
    assert stand.practice is not None
    assert stand.practice.phase == ENDED
    assert house.notice is not None
    assert house.notice.words != say("stand.watching")
    stand.stop()
    assert house.screen is not None
    assert house.screen.name == "copy"


@pytest.mark.parametrize("asked", ["again", "rekey", "mode", "loop", "key"])
def test_who_asks_for_a_take_of_their_own_has_the_page(stand: Stand, asked: str) -> None:
    house = stand.house
    ways: dict[str, Callable[[], object]] = {
        "again": stand.again,
        "rekey": lambda: stand.orders.rekey(1),
        "mode": stand.orders.mode,
        "loop": stand.orders.loop,
        "key": lambda: house.take_over(Press(now(), 63)),
    }
    ways[asked]()
    assert is_silent(house)
    assert stand.down == set()
    assert not house.rounds.demonstrating
    assert stand.practice is not None
    assert stand.practice.presses == []
    assert house.notice is None or house.notice.words != say("stand.watching")


def test_its_line_stays_as_long_as_it_plays(house: House) -> None:
    before = now()
    house.rounds.watch_bundled()
    assert house.notice is not None
    assert house.replayed is not None
    events = house.replayed.events
    assert house.notice.until >= before + events[-1].at - events[0].at


def test_who_did_not_wait_for_it_keeps_what_they_put_on_the_stand(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Any] = []
    with monkeypatch.context() as patch:
        patch.setattr(house.workroom, "ask", lambda job, *words, then, failed: asked.append(then))
        house.rounds.watch_bundled()
    put = staging.stand_of(house, "three-bells", "G")
    asked[0](read(find(BUNDLED_PIECE)))
    assert is_silent(house)
    assert put.practice is not None
    assert put.practice.wish.piece.title == "Three Bells"
