"""The studio: everybody who plays here, what came of their week, and the way to each one's keys and page."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from functools import partial
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.music.counted import many
from trainer.window import masthead, players
from trainer.window.days import day_words
from trainer.window.paint import fonts, layout, titled
from trainer.window.paint.canvas import RIGHT as AT_RIGHT
from trainer.window.paint.canvas import TOP, Canvas
from trainer.window.paint.controls import Controls
from trainer.window.screen import Dated
from trainer.window.strings import say
from trainer.window.studio import lessonpage

if TYPE_CHECKING:
    from trainer.coaching.paper.students import Student
    from trainer.window.house.house import House

# In units: a row, the buttons, the air above them.
_ROW, _FOOT, _AIR = 2.95, 2.0, 0.6
# How much of a row its name takes, and what words are not made smaller than.
_NAME, _READABLE = 0.22, 0.8


class StudioPage(Dated):
    """See `screens`: for a teacher, between two lessons."""

    name = "studio"
    back = "keys"

    def __init__(self, house: House) -> None:
        super().__init__(house)
        # Everybody's names, known at once, and what came of their week, as far as it has been read.
        self.names: list[str] = []
        self._read_of: dict[str, Student] = {}
        self.chosen = 0
        self.reading = False

    def entered(self) -> None:
        self.house.focus("students")
        self._read()

    def opened(self) -> None:
        self.entered()

    def new_day(self) -> None:
        self._read()

    def _read(self) -> None:
        """Look at everybody anew, elsewhere; until then their names stand there, with what was read last."""
        from trainer.window.workroom import studies

        house = self.house
        if house.journal is None or not house.flushed():
            return
        self.reading = True
        self.names = players.known(house)
        self.chosen = self.names.index(house.player)

        def done(found: Sequence[Student]) -> None:
            self.reading = False
            self._read_of = {one.player: one for one in found}

        def failed(trouble: Exception) -> None:
            self.reading = False
            house.unable("studio.failed")(trouble)

        given = str(house.journal_file), self.names, house.settings.minor
        house.workroom.ask(studies.students_of, *given, then=done, failed=failed, place="studio")

    @property
    def students(self) -> list[Student]:
        """Those whose week has been read."""
        return [self._read_of[name] for name in self.names if name in self._read_of]

    @property
    def player(self) -> str:
        """Whoever is chosen; empty before anybody plays here."""
        return self.names[min(self.chosen, len(self.names) - 1)] if self.names else ""

    def open(self) -> None:
        """The keys of whoever is chosen, who sits here from now on."""
        if not self.player:
            return
        if self.player != self.house.player:
            self.house.switch(self.player)
        self.house.go("keys")

    def print_lesson(self) -> None:
        """The page for the lesson of whoever is chosen; nobody else sits down for it."""
        if self.player:
            lessonpage.print_page(self.house, False, self.player)

    # How it looks

    def lay(self, canvas: Canvas, controls: Controls) -> None:
        house, u = self.house, canvas.unit
        places = masthead.lay(house, canvas, controls, "studio")
        if not house.notice:
            unread = self.reading and len(self.students) < len(self.names)
            masthead.lay_quiet(canvas, places, say("studio.reading" if unread else "studio.quiet"))
        listed, _, foot = layout.rows(places.body, [0, round(_AIR * u), round(_FOOT * u)])
        if len(self.names) < 2:
            said = say("studio.alone", player=house.player) if self.names else say("studio.reading")
            canvas.words("studio.none", listed, said, size=1.15, colour="graphite", lines=4, stand=TOP)
        else:
            # All of a studio stands there at once, a little closer if need be.
            high = min(_ROW * u, max(2.5 * u, listed.height / len(self.names)))
            draw, choose = partial(self._lay_row, canvas), partial(setattr, self, "chosen")
            controls.rows("students", listed, len(self.names), self.chosen, int(high), draw, choose, self.open)
        self._lay_orders(canvas, controls, foot)

    def _lay_row(self, canvas: Canvas, at: int, rect: Rect) -> None:
        u, player = canvas.unit, self.names[at]
        one = self._read_of.get(player)
        inner = rect.inflate(-round(1.1 * u), -round(0.3 * u))
        above, below = layout.rows(inner, [round(inner.height * 0.54), 0])
        wide = max(round(inner.width * _NAME), min(round(10 * u), inner.width // 3))
        name, week, last = layout.columns(above, [wide, 0, round(inner.width * 0.2)], round(u))
        work, look = layout.columns(below, [wide, 0], round(u))
        canvas.words(f"students.{at}.name", name, player, size=1.2, least=0.7)
        if one is None:
            return
        canvas.words(f"students.{at}.week", week, _week(one), size=1.05, least=0.7)
        when = day_words(one.last) if one.last is not None else ""
        canvas.words(f"students.{at}.last", last, when, style=fonts.ITALIC, size=1.0, colour="graphite", align=AT_RIGHT)
        said = say("studio.set", done=one.done, work=one.work) if one.work else say("studio.set.none")
        canvas.words(f"students.{at}.work", work, said, style=fonts.ITALIC, size=1.0, colour="graphite", least=0.7)
        words = f"{one.look[:1].upper()}{one.look[1:]}"
        if canvas.width(words, fonts.ITALIC, _READABLE) > look.width:
            # What stands in brackets is on the page for the lesson, too.
            words = titled.unbracketed(words)
        canvas.words(f"students.{at}.look", look, words, style=fonts.ITALIC, size=1.0, colour="graphite", least=0.6)

    def _lay_orders(self, canvas: Canvas, controls: Controls, foot: Rect) -> None:
        gap, x = round(0.7 * canvas.unit), foot.left
        orders = (
            ("open", "return", self.open), ("lesson", "l", self.print_lesson),
            ("all", "a", partial(lessonpage.print_page, self.house, True)),
            ("handing", "i", partial(self.house.go, "handing")),
        )  # fmt: skip
        for name, key, act in orders:
            label = say(f"studio.{name}")
            wide = controls.button_width(label, key)
            if x + wide > foot.right:
                controls.order(name, key, act)
                continue
            place = Rect(x, foot.top, wide, foot.height)
            controls.button(name, place, label, act, key=key, main=key == "return")
            x = place.right + gap
        controls.order("page", "e", partial(lessonpage.show_page, self.house))


def _week(one: Student) -> str:
    """What somebody played since the last lesson."""
    if one.last is None:
        return say("studio.never")
    if one.right is None:
        from trainer.coaching.paper.students import last_lesson

        since = last_lesson(date.today())
        return say("studio.nothing", day=f"{since.day} {since:%B}")
    return say("studio.played", days=many(one.days, "day"), minutes=round(one.minutes), right=f"{one.right:.0%}")
