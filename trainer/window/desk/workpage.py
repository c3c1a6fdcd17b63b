"""The chosen piece as work, before it is set: until when, how often, how well, at which tempo, with how much help."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import partial
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.music.solfege import HELPS
from trainer.window import masthead, players
from trainer.window.desk.desk import Desk
from trainer.window.desk.deskwork import Terms
from trainer.window.paint import fonts, layout, titled
from trainer.window.paint.canvas import TOP, Canvas
from trainer.window.paint.controls import Controls
from trainer.window.screen import Screen
from trainer.window.strings import key_name, say
from trainer.window.tempi import TEMPO_STEPS

if TYPE_CHECKING:
    from trainer.coaching.work.assignments import Assignment
    from trainer.window.house.house import House

# What may be asked for: days until then, takes, share right in a hundred, least tempo.
DAYS = tuple(range(1, 29))
TIMES = (1, 2, 3, 4, 5)
GOALS = (70, 75, 80, 85, 90, 95, 100)
TEMPI = (None, *TEMPO_STEPS)
# In units: the column, the title, what is said under it, a row of choices, the note, the buttons, the air between them.
_WIDE, _TITLE, _ABOUT, _FIELD, _NOTE, _FOOT, _AIR = 46, 2.0, 3.0, 3.1, 1.9, 2.0, 1.2


class WorkPage(Screen):
    """See `screens`: what the Desk sets as work. The terms stay as they were for the next piece, but for the note."""

    name = "work"

    def __init__(self, house: House) -> None:
        super().__init__(house)
        self.terms = Terms()
        self.known: Assignment | None = None

    @property
    def desk(self) -> Desk:
        """Where piece, key and hands were chosen."""
        return self.house.screen_of(Desk)

    def entered(self) -> None:
        """What is set already in this key and for these hands is shown as it is, to be changed."""
        found = self.desk.progress
        self.known = None if found is None else found.assignment
        if found is None or self.known is None:
            self.terms = replace(self.terms, note="")
            return
        one = self.known
        days = self.terms.days if one.by is None else max(1, min(DAYS[-1], (one.by - date.today()).days))
        # What is reached need not be played again.
        left = one.times - max((key.reached for key in found.keys), default=0)
        tempo = None if one.tempo is None else min(TEMPO_STEPS, key=lambda step: abs(step - (one.tempo or 0)))
        goal = min(GOALS, key=lambda share: abs(share - 100 * one.goal))
        self.terms = Terms(days, max(1, min(TIMES[-1], left)), goal, tempo, one.help, not one.players, one.note)

    def set_it(self) -> None:
        """Back to the Desk, where the work stands on today's list."""
        self.house.go("desk")
        self.desk.set_work(self.terms)

    def change(self, **terms: object) -> None:
        """Other terms."""
        self.terms = replace(self.terms, **terms)  # type: ignore[arg-type]

    def lay(self, canvas: Canvas, controls: Controls) -> None:
        body = masthead.lay(self.house, canvas, controls, "work").body
        high = _TITLE + _ABOUT + 2 * _FIELD + _NOTE + _FOOT + 5 * _AIR
        # Large text on a small window has what room there is.
        with canvas.smaller(min(1.0, body.height / (high * canvas.unit), body.width / (_WIDE * 0.62 * canvas.unit))):
            u = canvas.unit
            wide = min(body.width, round(_WIDE * u))
            over = max(0, round((body.height - high * u) * 0.35))
            column = Rect(body.centerx - wide // 2, body.top + over, wide, round(high * u))
            tall = [round(one * u) for one in (_TITLE, _ABOUT, _FIELD, _FIELD, _NOTE, _FOOT)]
            title, about, upper, lower, note, foot, _ = layout.rows(column, [*tall, 0], round(_AIR * u))
            self._lay_head(canvas, title, about)
            self._lay_terms(canvas, controls, upper, lower)
            controls.entry("note", note, self.terms.note, lambda text: self.change(note=text), key="n",
                           hint=say("work.note"))  # fmt: skip
            self._lay_ways(canvas, controls, foot)

    def _lay_head(self, canvas: Canvas, title: Rect, about: Rect) -> None:
        entry = self.desk.entry
        if entry is None:
            return
        key = key_name(self.desk.transposition(entry).target, self.house.settings.letters)
        titled.lay(canvas, "work.title", title, entry.title, size=1.7, style=fonts.BOLD)
        said = say("work.about", key=key, hands=say(f"hand.alone.{self.desk.asked_hands(entry)}"))
        canvas.words("work.about", about, said, size=1.15, lines=2, stand=TOP, least=0.7)

    def _lay_terms(self, canvas: Canvas, controls: Controls, upper: Rect, lower: Rect) -> None:
        """Two rows of choices: when, how often and how well; how fast, with which help, and for whom."""
        gap, terms = round(1.4 * canvas.unit), self.terms
        several = len(players.known(self.house)) > 1
        places = [*layout.columns(upper, [0, 0, 0], gap), *layout.columns(lower, [0, 0, 0], gap)]
        days = [date.today() + timedelta(days=one) for one in DAYS]
        fields: list[tuple[str, str, tuple[object, ...], list[str]]] = [
            ("days", "u", DAYS, [say("work.day", day=f"{one:%A}", date=f"{one.day} {one:%B}") for one in days]),
            ("times", "x", TIMES, [say(f"work.times.{one}" if one < 3 else "work.times.more", times=one)
                                   for one in TIMES]),
            ("goal", "g", GOALS, [say("work.right", share=one) for one in GOALS]),
            ("tempo", "m", TEMPI, [say("work.tempo.any"), *(say("work.tempo.least", tempo=t) for t in TEMPO_STEPS)]),
            ("help", "h", HELPS, [say(f"help.{one}") for one in HELPS]),
            ("everyone", "w", (False, True), [self.house.player, say("work.all")]),
        ]  # fmt: skip
        for (name, key, values, shown), place in zip(fields[: 6 if several else 5], places, strict=False):
            controls.choice(name, place, say(f"work.{name}"), shown, values.index(getattr(terms, name)),
                            partial(self._choose, name, values), key=key, size=1.1)  # fmt: skip

    def _choose(self, name: str, values: tuple[object, ...], at: int) -> None:
        self.change(**{name: values[at]})

    def _lay_ways(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        label, back = say("desk.set"), say("room.desk")
        gap = round(canvas.unit)
        wide = controls.button_width(label, "return", 1.1) + gap
        controls.button("set", Rect(rect.left, rect.top, wide, rect.height), label, self.set_it, key="return",
                        main=True, size=1.1)  # fmt: skip
        place = Rect(rect.left + wide + gap, rect.top, controls.button_width(back, "escape"), rect.height)
        controls.button("back", place, back, partial(self.house.go, "desk"), key="escape")
        if self.known is None:
            return
        label = say("work.back")
        last = Rect(place.right + gap, rect.top, controls.button_width(label, "delete"), rect.height)
        if last.right <= rect.right:
            controls.button("away", last, label, self._take_back, key="delete")
        else:
            controls.order("away", "delete", self._take_back)

    def _take_back(self) -> None:
        self.house.go("desk")
        if self.known is not None:
            self.desk.withdraw(self.known)
