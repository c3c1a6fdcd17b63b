"""Keys held down: a tap counts once however long a frame takes, and only steps are repeated."""

from __future__ import annotations

import pygame
import pytest
from pygame.event import Event

from trainer.window.desk import Desk
from trainer.window.house import House
from trainer.window.repeats import Repeats
from trainer.window.settings import Settings
from trainer.window.still import house_of

K = {"key": pygame.K_k, "mod": 0, "unicode": "k", "scancode": pygame.KSCAN_K}
M = {"key": pygame.K_DOWN, "mod": 0, "unicode": "", "scancode": pygame.KSCAN_DOWN}


def down(of: dict[str, object] = K) -> Event:
    return Event(pygame.KEYDOWN, of)


def up(of: dict[str, object] = K) -> Event:
    return Event(pygame.KEYUP, of)


def told(events: list[Event]) -> list[tuple[int, bool]]:
    return [(event.type, getattr(event, "repeated", False)) for event in events]


def test_a_tap_read_late_counts_once() -> None:
    """While a frame took long, the timer repeated a key that had been let go, and the next tap came."""
    sifting = Repeats()
    assert told(sifting.sift([down()])) == [(pygame.KEYDOWN, False)]
    late = sifting.sift([down(), down(), down(), up(), down(), up()])
    assert told(late) == [(pygame.KEYUP, False), (pygame.KEYDOWN, False), (pygame.KEYUP, False)]


def test_a_key_that_is_held_repeats_beside_another() -> None:
    sifting = Repeats()
    sifting.sift([down(M)])
    held = sifting.sift([down(M), down(K), up(K), down(M)])
    assert told(held) == [
        (pygame.KEYDOWN, True),
        (pygame.KEYDOWN, False),
        (pygame.KEYUP, False),
        (pygame.KEYDOWN, True),
    ]


def test_a_window_left_with_a_key_down_begins_anew() -> None:
    sifting = Repeats()
    sifting.sift([down()])
    sifting.sift([Event(pygame.WINDOWFOCUSLOST)])
    assert told(sifting.sift([down()])) == [(pygame.KEYDOWN, False)]


@pytest.fixture
def house() -> House:
    house = house_of((1280, 800), Settings())
    house.show(house.screen_of(Desk))
    house.draw()
    return house


def hold(house: House, key: int, scancode: int) -> None:
    for event in ({}, {"repeated": True}, {"repeated": True}):
        house.handle(Event(pygame.KEYDOWN, {"key": key, "mod": 0, "unicode": "", "scancode": scancode, **event}))
        house.draw()


def test_a_choice_and_a_list_go_on_while_a_key_is_held(house: House) -> None:
    desk = house.screen_of(Desk)
    assert isinstance(desk, Desk)
    hold(house, pygame.K_k, pygame.KSCAN_K)
    assert desk.target == 3
    hold(house, pygame.K_DOWN, pygame.KSCAN_DOWN)
    assert desk.chosen == 3


def test_what_is_done_once_is_done_once(house: House) -> None:
    hold(house, pygame.K_F9, pygame.KSCAN_F9)
    assert house.settings.night
    house.change(night=False)
    hold(house, pygame.K_v, pygame.KSCAN_V)
    assert house.screen is not None
    assert house.screen.name == "sight"
