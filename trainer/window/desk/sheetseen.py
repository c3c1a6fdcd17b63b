"""How a sheet will come out, seen before it is printed: its pages as small pictures, one at a time."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import pygame
from pygame import Rect

from trainer.window.desk import deskwork
from trainer.window.paint import fonts
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.controls import Controls
from trainer.window.paint.theme import Theme
from trainer.window.strings import say
from trainer.window.workroom import studies
from trainer.window.workroom.workroom import told

if TYPE_CHECKING:
    from trainer.music.transpose import Transposition
    from trainer.scores.shelf.library import Entry
    from trainer.window.desk.desk import Desk
    from trainer.window.settings import Settings

# In units: the row under the page with its number.
FOOT = 1.7


class SheetSeen:
    """The pages of the chosen piece's sheet as pictures; asked for anew whenever they would come out otherwise."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._asked: tuple[Entry, Transposition, Settings, int] | None = None
        # Of a piece in a key what is set of it: looked up once, however often the page is asked for.
        self._set: tuple[Entry, Transposition, str] | None = None
        self._pages: tuple[bytes, ...] = ()
        self._drawn: tuple[int, Theme, pygame.Surface] | None = None
        self.trouble = ""
        self.page = 0

    def forget(self) -> None:
        """Another piece, key or work may be chosen since."""
        self._asked, self._set, self._pages, self._drawn, self.trouble, self.page = None, None, (), None, "", 0

    def turn(self, by: int) -> None:
        """To another page, round and round."""
        if self._pages:
            self.page = (self.page + by) % len(self._pages)
            self._drawn = None

    def _ask(self, piece: Entry, move: Transposition, high: int) -> None:
        """Pictures `high` pixels high, unless they are here or asked for."""
        desk, wished = self._desk, (piece, move, self._desk.house.settings, high)
        if wished == self._asked:
            return
        # What was asked for before the page was left and entered anew is another, though it may look the same.
        self._asked = wished

        def come(pages: tuple[bytes, ...]) -> None:
            if wished is self._asked:
                self._pages, self._drawn, self.trouble = pages, None, ""
                self.page = min(self.page, len(pages) - 1)

        def failed(trouble: Exception) -> None:
            if wished is self._asked:
                self._pages, self._drawn, self.trouble = (), None, told(trouble, "sheet.unseen")

        if self._set is None or self._set[:2] != (piece, move):
            self._set = piece, move, deskwork.left_of(desk, piece, move, desk.asked_hands(piece))
        given = piece.path, move, str(desk.house.journal_file.parent), desk.house.settings, self._set[2]
        desk.house.workroom.ask(studies.seen_on_paper, *given, high, then=come, failed=failed, place="sheet")

    def lay(self, canvas: Canvas, controls: Controls, rect: Rect, asked: tuple[Entry, Transposition]) -> None:
        """The page of what is asked for in a box of the paper's shape; under it its number and the turning key."""
        canvas.panel("seen.ground", rect, "paper", "rule", 0.15)
        self._ask(*asked, rect.height)
        if self.trouble:
            words = rect.inflate(-round(2 * canvas.unit), -round(2 * canvas.unit))
            canvas.words("seen.trouble", words, self.trouble, style=fonts.ITALIC, colour="graphite", lines=6, least=0.7)
        elif self._pages:
            surface = self._surface(canvas.theme)
            canvas.picture("seen", surface.get_rect(center=rect.center).clip(rect), surface, self.page)
        if len(self._pages) > 1:
            self._lay_turner(canvas, controls, rect)

    def _lay_turner(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        words = say("copy.page", page=self.page + 1, pages=len(self._pages))
        wide = canvas.width(words, fonts.ITALIC, 0.95) + controls.key_width("pg dn") + round(canvas.unit)
        place = Rect(rect.right - wide, rect.bottom + round(0.3 * canvas.unit), wide, round(1.4 * canvas.unit))
        controls.link("seen.turn", place, words, lambda: self.turn(1), key="page down")

    def _surface(self, theme: Theme) -> pygame.Surface:
        """The page in the ink of the room: at night all that is printed is light."""
        if self._drawn is None or self._drawn[:2] != (self.page, theme):
            surface = pygame.image.load(io.BytesIO(self._pages[self.page]), "page.png")
            if pygame.display.get_surface():
                surface = surface.convert_alpha()
            if theme.is_night:
                surface.fill((*theme["ink"], 0), special_flags=pygame.BLEND_RGBA_MAX)
            self._drawn = self.page, theme, surface
        return self._drawn[2]
