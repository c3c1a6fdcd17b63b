"""A pointer that only happens to rest somewhere: who works with the keyboard sees one row lit, the chosen one."""

from __future__ import annotations

from collections.abc import Iterator

import pygame
import pytest
from pygame.event import Event

from tools import staging
from trainer.window.house.house import House
from trainer.window.house.still import house_of


@pytest.fixture
def house() -> Iterator[House]:
    with staging.home():
        made = house_of((1280, 800))
        staging.first_desk(made)
        made.draw()
        yield made
        made.close()


def lit(house: House) -> list[str]:
    house.draw()
    assert house.canvas is not None
    return sorted(box.name for box in house.canvas.boxes if box.name in ("shelf.over", "shelf.chosen"))


def point(house: House) -> None:
    """Move the pointer onto the third row of the shelf."""
    assert house.canvas is not None
    row = next(box.rect for box in house.canvas.boxes if box.name == "shelf.2.key")
    house.handle(Event(pygame.MOUSEMOTION, pos=row.center, rel=(3, 0), buttons=(0, 0, 0)))


def strike(house: House, key: int) -> None:
    house.handle(Event(pygame.KEYDOWN, key=key, mod=0, unicode="", scancode=0))


def test_a_row_under_a_resting_pointer_is_not_lit_once_a_key_is_struck(house: House) -> None:
    point(house)
    assert lit(house) == ["shelf.chosen", "shelf.over"]
    strike(house, pygame.K_DOWN)
    assert lit(house) == ["shelf.chosen"]
    # Whoever takes the mouse again sees where it is.
    point(house)
    assert "shelf.over" in lit(house)


def test_the_wheel_still_goes_through_the_list_under_a_resting_pointer(house: House) -> None:
    point(house)
    strike(house, pygame.K_DOWN)
    assert house.canvas is not None
    row = next(box.rect for box in house.canvas.boxes if box.name == "shelf.2.key")
    house.handle(Event(pygame.MOUSEWHEEL, y=-1, x=0))
    house.draw()
    chosen = next(box.rect for box in house.canvas.boxes if box.name == "shelf.chosen")
    assert chosen.collidepoint(row.center)
