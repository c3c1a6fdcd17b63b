"""The sheet of the chosen piece before it is printed: what is to stand on it besides the page as written."""

from __future__ import annotations

from functools import partial

from pygame import Rect

from trainer.scores.paper.papers import PAPERS
from trainer.window import masthead
from trainer.window.desk.desk import Desk
from trainer.window.paint import fonts, layout, titled
from trainer.window.paint.canvas import TOP, Canvas
from trainer.window.paint.controls import Controls
from trainer.window.screen import Screen
from trainer.window.strings import key_name, say

# What may stand on a sheet, as the settings name it, with its key.
PARTS = (("sheet_syllables", "y"), ("sheet_chords", "d"), ("sheet_blank", "b"), ("sheet_answers", "a"))
# In units: the column, the title, what is said under it, a row of choices, the buttons, and the air between them.
_WIDE, _TITLE, _ABOUT, _FIELD, _FOOT, _AIR = 46, 2.0, 3.0, 3.1, 2.0, 1.2


class SheetPage(Screen):
    """See `screens`: what the Desk prints."""

    name = "sheet"

    @property
    def desk(self) -> Desk:
        """Where the piece and the key were chosen."""
        return self.house.screen_of(Desk)

    def print_it(self) -> None:
        """Back to the Desk, which prints."""
        self.house.go("desk")
        self.desk.print_sheet()

    def write_out(self) -> None:
        """Back to the Desk, which writes the music as a file."""
        self.house.go("desk")
        self.desk.write_out()

    def lay(self, canvas: Canvas, controls: Controls) -> None:
        body = masthead.lay(self.house, canvas, controls, "sheet").body
        high = _TITLE + _ABOUT + 2 * _FIELD + _FOOT + 4 * _AIR
        # Large text on a small window has what room there is.
        with canvas.smaller(min(1.0, body.height / (high * canvas.unit), body.width / (_WIDE * 0.62 * canvas.unit))):
            u = canvas.unit
            wide = min(body.width, round(_WIDE * u))
            over = max(0, round((body.height - high * u) * 0.35))
            column = Rect(body.centerx - wide // 2, body.top + over, wide, round(high * u))
            high_rows = [round(one * u) for one in (_TITLE, _ABOUT, _FIELD, _FIELD)]
            title, about, upper, lower, foot, _ = layout.rows(
                column, [*high_rows, round(_FOOT * u), 0], round(_AIR * u)
            )
            self._lay_head(canvas, title, about)
            self._lay_choices(canvas, controls, upper, lower)
            self._lay_ways(canvas, controls, foot)

    def _lay_head(self, canvas: Canvas, title: Rect, about: Rect) -> None:
        entry = self.desk.entry
        if entry is None:
            return
        move = self.desk.transposition(entry)
        key = key_name(move.target, self.house.settings.letters)
        titled.lay(canvas, "sheet.title", title, entry.title, size=1.7, style=fonts.BOLD)
        moved = bool(move.interval.semitones or move.interval.steps)
        said = say("sheet.about", key=key, moved=move.words) if moved else say("sheet.about.written")
        canvas.words("sheet.about", about, said, size=1.15, lines=2, stand=TOP, least=0.7)

    def _lay_choices(self, canvas: Canvas, controls: Controls, upper: Rect, lower: Rect) -> None:
        """Two rows of choices: what is printed besides, and on which paper."""
        gap = round(1.4 * canvas.unit)
        places = [*layout.columns(upper, [0, 0, 0], gap), *layout.columns(lower, [0, 0, 0], gap)[:2]]
        for (name, key), place in zip(PARTS, places, strict=False):
            values = (True, False)
            shown = [say("sheet.yes"), say("sheet.no")]
            at = values.index(getattr(self.house.settings, name))
            controls.choice(name, place, say(name.replace("_", ".")), shown, at, partial(self._choose, name, values),
                            key=key)  # fmt: skip
        papers = tuple(PAPERS)
        at = papers.index(self.house.settings.paper)
        controls.choice("paper", places[-1], say("sheet.paper"), [say(f"sheet.{one}") for one in papers], at,
                        partial(self._choose, "paper", papers), key="o")  # fmt: skip

    def _choose(self, name: str, values: tuple[object, ...], at: int) -> None:
        self.house.change(**{name: values[at]})

    def _lay_ways(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        label, back = say("desk.print"), say("room.desk")
        wide = controls.button_width(label, "return", 1.1) + round(canvas.unit)
        controls.button("print", Rect(rect.left, rect.top, wide, rect.height), label, self.print_it, key="return",
                        main=True, size=1.1)  # fmt: skip
        place = Rect(
            rect.left + wide + round(canvas.unit), rect.top, controls.button_width(back, "escape"), rect.height
        )
        controls.button("back", place, back, partial(self.house.go, "desk"), key="escape")
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
