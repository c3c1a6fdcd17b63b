"""Keys after a long frame: a tap counts once, only steps are repeated, and the piano comes first."""

from __future__ import annotations

import pygame
import pytest
from pygame.event import Event

from tools import staging
from trainer.listening.clock import now
from trainer.listening.press import Press
from trainer.window.desk.desk import Desk
from trainer.window.house.house import House
from trainer.window.house.repeats import Repeats
from trainer.window.house.still import house_of
from trainer.window.practice import ENDED
from trainer.window.settings import Settings

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


class Struck:
    """A piano on which something was struck while a frame took long."""

    hearing = ("piano",)

    def __init__(self, *events: object) -> None:
        self._events = list(events)

    def pending(self) -> list[object]:
        events, self._events = self._events, []
        return events

    def watch(self) -> list[str]:
        return []


def test_a_note_struck_before_the_key_that_ends_the_take_belongs_to_it() -> None:
    house = house_of((1280, 800), Settings())
    stand = staging.stand_of(house, "three-bells", "G")
    assert stand.practice is not None
    notes = stand.practice.wish.expected.notes[:6]
    for at, note in enumerate(notes[:-1]):
        house.hear(Press(now() + at, note.midi, 64), now())
    house.ports = Struck(Press(now() + 6, notes[-1].midi, 64))  # type: ignore[assignment]
    house.loop._happened([Event(pygame.KEYDOWN, key=pygame.K_RETURN, mod=0, unicode="", scancode=40)])
    assert stand.practice.phase == ENDED
    assert len(stand.practice.presses) == 6
