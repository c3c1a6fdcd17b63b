"""The sheet of the chosen piece before it is printed: what is to stand on it besides the page as written."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import pygame
from pygame import Rect

from trainer.coaching.singers.instruments import INSTRUMENTS, reads_parts
from trainer.music.transpose import Transposition
from trainer.scores.paper.papers import FINGERS, PAPERS
from trainer.scores.shelf.library import Entry
from trainer.window import masthead
from trainer.window.desk.desk import Desk
from trainer.window.desk.sheetseen import FOOT, SheetSeen
from trainer.window.paint import fonts, layout, titled
from trainer.window.paint.canvas import TOP, Canvas
from trainer.window.paint.controls import Controls
from trainer.window.screen import Screen
from trainer.window.settings import SHEET_PAGES
from trainer.window.strings import key_name, say

if TYPE_CHECKING:
    from trainer.window.house.house import House

# What is chosen of each page, by its settings, with their keys.
_KEYS = {"sheet_page": "t", "sheet_syllables": "y", "sheet_chords": "d", "sheet_blank": "b", "sheet_answers": "a",
         "alone_syllables": "y", "alone_chords": "d",
         "sheet_fingers": "f", "sheet_instrument": "i", "paper": "o"}  # fmt: skip
CHOICES = {
    "transpose": ("sheet_page", "sheet_syllables", "sheet_chords", "sheet_blank", "sheet_answers", "paper"),
    "alone": ("sheet_page", "sheet_fingers", "alone_syllables", "alone_chords", "paper"),
    "part": ("sheet_page", "sheet_instrument", "alone_syllables", "paper"),
}
# Whose part can be written; those first whose part does not say what sounds.
READERS = tuple(one.name for one in sorted(INSTRUMENTS, key=lambda one: one.sounds.fifths == 0) if reads_parts(one))
# In units: the column, the title, what is said under it, a row of choices, the buttons, and the air between them.
_WIDE, _TITLE, _ABOUT, _FIELD, _FOOT, _AIR = 46, 2.0, 3.0, 3.1, 2.0, 1.2
# The least that the choices take beside a page, the air between the two, and the least height of a page under them.
_COLUMN, _BESIDE, _LEAST = 29, 2.5, 18


class SheetPage(Screen):
    """See `screens`: what the Desk prints."""

    name = "sheet"
    # What Singer asks for, which need not lie on the shelf.
    _sung: tuple[Entry, Transposition] | None = None

    def __init__(self, house: House) -> None:
        super().__init__(house)
        self._seen = SheetSeen(self.desk)

    def came_from(self, name: str) -> None:
        self.back = "singer" if name == "singer" else "desk"
        self._sung = self._sung if name == "singer" else None

    def show_for(self, song: Entry, move: Transposition) -> None:
        """Ask what is to be printed of a song in the key found for a singer; the Desk has both chosen, too."""
        self.desk.choose(song.path, move)
        self._sung = song, move
        self.house.go("sheet")

    @property
    def desk(self) -> Desk:
        """Where the piece and the key were chosen."""
        return self.house.screen_of(Desk)

    def print_it(self) -> None:
        """Back to the Desk, which prints."""
        self.house.go("desk")
        self.desk.print_sheet(self._sung)

    def write_out(self) -> None:
        """Back to the Desk, which writes the music as a file."""
        self.house.go("desk")
        self.desk.write_out(self._sung)

    def entered(self) -> None:
        self._seen.forget()

    def key_down(self, name: str, event: pygame.event.Event) -> bool:
        if name == "page up":
            self._seen.turn(-1)
            return True
        return False

    def lay(self, canvas: Canvas, controls: Controls) -> None:
        body = masthead.lay(self.house, canvas, controls, "sheet").body
        page = self._page_beside(canvas, body)
        beside = page is not None and not layout.is_tall(canvas)
        across = 2 if beside else 3
        down = 6 // across
        high = _TITLE + _ABOUT + down * _FIELD + _FOOT + (down + 2) * _AIR
        room = Rect(body)
        if page is not None and beside:
            room.width = page.left - body.left - round(_BESIDE * canvas.unit)
        # Large text on a small window has what room there is.
        with canvas.smaller(min(1.0, room.height / (high * canvas.unit), room.width / (_WIDE * 0.62 * canvas.unit))):
            u = canvas.unit
            wide = min(room.width, round(_WIDE * u))
            over = 0 if page is not None else max(0, round((room.height - high * u) * 0.35))
            column = Rect(room.left if beside else room.centerx - wide // 2, room.top + over, wide, round(high * u))
            heights = [round(one * u) for one in (_TITLE, _ABOUT, *[_FIELD] * down, _FOOT)]
            title, about, *fields, foot, _ = layout.rows(column, [*heights, 0], round(_AIR * u))
            self._lay_head(canvas, title, about)
            self._lay_choices(canvas, controls, fields, across)
            self._lay_ways(canvas, controls, foot)
        asked = self._sung or self.desk.asked
        if page is not None and asked is not None:
            self._seen.lay(canvas, controls, page, asked)

    def _page_beside(self, canvas: Canvas, body: Rect) -> Rect | None:
        """Where the page is seen: beside the choices, in an upright window under them; None where there is no room."""
        u = canvas.unit
        wide, high = PAPERS[self.house.settings.paper]
        if layout.is_tall(canvas):
            above = _TITLE + _ABOUT + 2 * _FIELD + _FOOT + 5 * _AIR
            room = Rect(body.left, round(body.top + above * u), body.width, round(body.height - (above + FOOT) * u))
            tall = min(room.height, round(room.width * high / wide))
            page = Rect(0, 0, round(tall * wide / high), tall)
            page.midtop = room.midtop
            return page if tall >= _LEAST * u else None
        tall = round(body.height - FOOT * u)
        page = Rect(0, body.top, round(tall * wide / high), tall)
        page.right = body.right
        return page if page.left - body.left >= (_COLUMN + _BESIDE) * u else None

    def _lay_head(self, canvas: Canvas, title: Rect, about: Rect) -> None:
        asked = self._sung or self.desk.asked
        if asked is None:
            return
        entry, move = asked
        key = key_name(move.target, self.house.settings.letters)
        titled.lay(canvas, "sheet.title", title, entry.title, size=1.7, style=fonts.BOLD)
        moved = bool(move.interval.semitones or move.interval.steps)
        page = self.house.settings.sheet_page
        if page == "transpose":
            said = say("sheet.about", key=key, moved=move.words) if moved else say("sheet.about.written")
        else:
            said = say(f"sheet.about.{page}", key=key, instrument=self.house.settings.sheet_instrument)
        canvas.words("sheet.about", about, said, size=1.15, lines=2, stand=TOP, least=0.7)

    def _lay_choices(self, canvas: Canvas, controls: Controls, rows: list[Rect], across: int) -> None:
        """Rows of choices: which page, what is printed on it, and on which paper."""
        gap = round(1.4 * canvas.unit)
        places = [place for row in rows for place in layout.columns(row, [0] * across, gap)]
        settings = self.house.settings
        for name, place in zip(CHOICES[settings.sheet_page], places, strict=False):
            values, shown = _values(name)
            chosen = getattr(settings, name)
            at = values.index(chosen) if chosen in values else 0
            controls.choice(name, place, say(_label(name)), shown, at, partial(self._choose, name, values),
                            key=_KEYS[name])  # fmt: skip

    def _choose(self, name: str, values: tuple[object, ...], at: int) -> None:
        self.house.change(**{name: values[at]})

    def _lay_ways(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        label, back = say("desk.print"), say(f"room.{self.back}")
        wide = controls.button_width(label, "return", 1.1) + round(canvas.unit)
        controls.button("print", Rect(rect.left, rect.top, wide, rect.height), label, self.print_it, key="return",
                        main=True, size=1.1)  # fmt: skip
        place = Rect(
            rect.left + wide + round(canvas.unit), rect.top, controls.button_width(back, "escape"), rect.height
        )
        controls.button("back", place, back, partial(self.house.go, self.back), key="escape")
        more = [("music", say("sheet.music"), "m", self.write_out)]
        if self.desk.sheet:
            more.append(("last", say("sheet.last"), "e", self.desk.show_sheet))
        for name, label, key, act in more:
            left = place.right + round(canvas.unit)
            here = Rect(left, rect.top, controls.button_width(label, key), rect.height)
            if here.right <= rect.right:
                controls.button(name, here, label, act, key=key)
                place = here
            else:
                controls.order(name, key, act)


def _label(name: str) -> str:
    return "sheet.paper" if name == "paper" else f"sheet.{name.split('_')[1]}"


def _values(name: str) -> tuple[tuple[object, ...], list[str]]:
    """What may be chosen, and how it is called."""
    if name == "sheet_instrument":
        return READERS, list(READERS)
    if name == "paper":
        return tuple(PAPERS), [say(f"sheet.{one}") for one in PAPERS]
    if name in ("sheet_page", "sheet_fingers"):
        found = SHEET_PAGES if name == "sheet_page" else FINGERS
        return found, [say(f"{_label(name)}.{one}") for one in found]
    return (True, False), [say("sheet.yes"), say("sheet.no")]
