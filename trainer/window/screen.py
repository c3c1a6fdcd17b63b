"""What every screen is: something that lays boxes and controls, and hears keys and the piano."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import date
from typing import TYPE_CHECKING, TypeVar

import pygame

from trainer.listening.press import Event
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.controls import Controls
from trainer.window.strings import say

if TYPE_CHECKING:
    from trainer.window.house.house import House

NEVER = math.inf
# How often one that is left open looks whether another day has begun.
_LOOK_S = 60.0


class Screen:
    """One screen. A new one is one file with a class of this kind, entered into `rooms.ROOMS`."""

    # The key that leads here from anywhere, and the word for it in the strings; empty for screens of passage.
    key = ""
    name = ""
    # The screen escape leads to.
    back = "desk"

    def __init__(self, house: House) -> None:
        self.house = house

    def entered(self) -> None:
        """It comes to the front."""

    def came_from(self, name: str) -> None:
        """It is about to come to the front, after the screen of that name."""

    def opened(self) -> None:
        """Journal, ports and sound are open now; called for the screen in front, once in a program's life."""

    def left(self) -> None:
        """Another comes to the front, or the program ends."""

    def lay(self, canvas: Canvas, controls: Controls) -> None:
        """Lay boxes and controls for the state as it is now. Must not change the state."""
        raise NotImplementedError

    @property
    def caption(self) -> str:
        """What the window is called while it is in front, where the system lists its windows."""
        return say(f"room.{self.name}")

    def heard(self, event: Event) -> None:
        """Something came from a piano, the computer keyboard's included."""

    def key_down(self, name: str, event: pygame.event.Event) -> bool:
        """A key no control wanted; True when it was used."""
        return False

    def heeds_enter(self) -> bool:
        """Whether enter, pressed now, is meant for what is shown here; where it is not, what it would do is said."""
        return True

    def key_up(self, name: str) -> None:
        """A key let go."""

    def touched(self, point: tuple[int, int]) -> int | None:
        """The MIDI note of the drawn key at a point, where the pointer plays it."""
        return None

    def pointer_up(self) -> None:
        """The pointer's button let go."""

    @property
    def plays(self) -> bool:
        """Whether the letters of the computer keyboard are a piano here now."""
        return False

    def tick(self, now: float) -> float:
        """Time passes. Returns the seconds after which it must be called again, `NEVER` when nothing moves."""
        return NEVER

    def dropped(self, paths: Sequence[str]) -> None:
        """Files or folders were dropped on the window together."""
        self.house.open_files(paths)


class Dated(Screen):
    """One that shows what is due today: left open over midnight it shows what is due on the new day."""

    def __init__(self, house: House) -> None:
        super().__init__(house)
        self._day = date.today()

    def new_day(self) -> None:
        """Another day has begun."""
        raise NotImplementedError

    def tick(self, now: float) -> float:
        if self._day != date.today():
            self._day = date.today()
            self.new_day()
        return _LOOK_S


OneScreen = TypeVar("OneScreen", bound=Screen)
Answer = TypeVar("Answer")


def awaited(
    house: House, then: Callable[[Answer], None], gone: Callable[[], None] = lambda: None
) -> Callable[[Answer], None]:
    """What becomes of an answer that leads to another screen: only `gone`, once who asked has gone elsewhere, or
    somebody else has sat down. Nobody is called away from what they do by then.
    """
    screen, player = house.screen, house.player

    def come(answer: Answer) -> None:
        if house.screen is screen and house.player == player:
            then(answer)
        else:
            gone()

    return come
