"""Pictures of the screens where there is no display: the same screens, drawn by the same code, onto a surface."""

from __future__ import annotations

from pathlib import Path

import pygame

from trainer.session import Session
from trainer.window.copy.copy import Copy
from trainer.window.copy.finished import finished
from trainer.window.house.house import House
from trainer.window.practice import Practice
from trainer.window.settings import Settings
from trainer.window.stand.stand import Stand

SIZE = (1280, 800)


def house_of(size: tuple[int, int], settings: Settings | None = None) -> House:
    """A house without a window: jobs are done at once, and nothing set in it is kept."""
    pygame.font.init()
    house = House(settings or Settings(), size, pygame.Surface(size, 0, 32))
    house.ready = True
    return house


def picture_of_stand(session: Session, path: str | Path) -> None:
    """Write the Stand as it looks with a take, at its end or in the middle of it."""
    house = house_of(SIZE)
    stand = house.screen_of(Stand)
    stand.resume(Practice.of(session))
    _write(house, path)


def picture_of_copy(session: Session, path: str | Path) -> None:
    """Write the Marked copy of a take; ends the take."""
    session.finish()
    house = house_of(SIZE)
    house.rounds.last = finished(Practice.of(session))
    house.show(house.screen_of(Copy))
    _write(house, path)


def _write(house: House, path: str | Path) -> None:
    # The first drawing asks for the engraving, the second shows it.
    house.draw()
    house.draw()
    house.picture(str(path))
    house.close()
