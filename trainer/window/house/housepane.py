"""The window's surface: laid anew for every frame, painted where something changed."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

import pygame

from trainer.listening.clock import now
from trainer.window.paint.canvas import Canvas, Easel, Kept
from trainer.window.paint.controls import Controls
from trainer.window.paint.theme import DAY
from trainer.window.strings import say

if TYPE_CHECKING:
    from trainer.window.house.house import House


class Pane:
    """What is looked at.

    Parameters
    ----------
    house : House
    size : (int, int)
        Pixels of the window at first.
    surface : Surface, optional
        Painted on instead of a window of its own (pictures and tests).

    Attributes
    ----------
    own : bool
        Whether there is, or will be, a window.
    canvas : Canvas or None
        What was last painted.
    answered : deque of float
        Seconds from a key struck to the painted frame, for the bench.
    """

    def __init__(self, house: House, size: tuple[int, int], surface: pygame.Surface | None) -> None:
        self.house = house
        self.own = surface is None
        self.surface = surface
        self.canvas: Canvas | None = None
        self.answered: deque[float] = deque(maxlen=20000)
        self._size = size
        self._named = ""
        self._easel = Easel()
        self._kept: dict[str, Kept] = {}
        # When the first key was struck that is not painted yet.
        self._oldest: float | None = None

    def open(self) -> None:
        """Make the window; raises pygame.error without a screen."""
        pygame.display.init()
        pygame.font.init()
        self._name("")
        pygame.display.set_icon(_icon())
        self._set_mode()
        pygame.key.set_repeat(350, 45)
        pygame.event.set_blocked([pygame.JOYAXISMOTION, pygame.JOYBUTTONDOWN])

    def _name(self, caption: str) -> None:
        """Call the window after what it shows; a name that can be no window's is told without its odd letters."""
        plain = "".join(letter for letter in caption if letter.isprintable())
        name = f"{plain} – {say('window.title')}" if plain else say("window.title")
        if self.own and name != self._named:
            pygame.display.set_caption(name)
            self._named = name

    def _set_mode(self) -> None:
        if self.house.settings.full_screen:
            self.surface = pygame.display.set_mode((0, 0), pygame.FULLSCREEN)
        else:
            self.surface = pygame.display.set_mode(self._size, pygame.RESIZABLE)

    def full_screen(self) -> None:
        """Fill the screen, or be a window again."""
        if not self.own:
            return
        self.house.change(full_screen=not self.house.settings.full_screen)
        if self.house.settings.full_screen:
            self._size = self.surface.get_size() if self.surface else self._size
        self._set_mode()
        self._easel.forget()

    def resized(self) -> None:
        """The window has another size, or was covered: all is painted again."""
        if self.own:
            self.surface = pygame.display.get_surface()
        self._easel.forget()

    def struck(self, happened: float) -> None:
        """A key was struck; the frame that shows it is waited for."""
        if self._oldest is None:
            self._oldest = happened

    def draw(self) -> None:
        """Lay the screen anew and paint what changed."""
        assert self.surface is not None
        canvas, controls = self.laid()
        self.house.console.laid(controls)
        self.canvas = canvas
        touched = self._easel.paint(self.surface, canvas)
        if touched and self.own:
            pygame.display.update(touched)
        assert self.house.screen is not None
        self._name(self.house.screen.caption)
        if self._oldest is not None:
            self.answered.append(now() - self._oldest)
            self._oldest = None

    def laid(self) -> tuple[Canvas, Controls]:
        """The boxes and controls of the screen as it is now."""
        house, console = self.house, self.house.console
        assert house.screen is not None
        assert self.surface is not None
        canvas = Canvas(self.surface.get_size(), house.theme, house.settings.scale / 100, self._kept)
        name = house.screen.name
        pointer = console.pointer if console.pointing else None
        controls = Controls(
            canvas, console.focused(name), pointer, console.seen, console.selected, console.firsts(name)
        )
        house.screen.lay(canvas, controls)
        return canvas, controls

    def picture(self, path: str) -> None:
        """Write what the window shows to a picture file."""
        assert self.surface is not None
        pygame.image.save(self.surface, path)


def _icon() -> pygame.Surface:
    """The window's sign: a note head between two staff lines on paper, ringed in blue."""
    from trainer.window.paint.shapes import picture, sign
    from trainer.window.paint.signs import BLACK_HEAD
    from trainer.window.paint.theme import hexed

    body = f'<rect width="64" height="64" rx="12" fill="{hexed(DAY["paper"])}"/>'
    for y in (16, 32, 48):
        body += f'<path d="M6 {y}H58" stroke="{hexed(DAY["graphite"])}" stroke-width="1.6"/>'
    body += sign(BLACK_HEAD, 22, 32, 16, hexed(DAY["ink"]))
    body += (
        f'<ellipse cx="32" cy="32" rx="22" ry="17" transform="rotate(-14 32 32)" fill="none" '
        f'stroke="{hexed(DAY["blue"])}" stroke-width="4"/>'
    )
    return picture(body, 64, 64)
