"""Prima vista: what the test at sight is, its two forms, and how the last one went."""

from __future__ import annotations

from functools import partial

from pygame import Rect

from trainer.coaching.sighttest import FIVE_MINUTES, TWO_MINUTES, Result
from trainer.coaching.sightwords import reached
from trainer.window import fonts, layout, masthead
from trainer.window.canvas import TOP, Canvas
from trainer.window.controls import Controls
from trainer.window.screen import Screen
from trainer.window.strings import say

# Each form with its key and the words on its button.
_FORMS = (("2", "sight.two", TWO_MINUTES), ("5", "sight.five", FIVE_MINUTES))


class SightPage(Screen):
    """See `screens`: a calm page before and after a test."""

    name = "sight"

    @property
    def result(self) -> Result | None:
        """How the last test of this player went, since the window was opened."""
        found = self.house.rounds.sight_result
        return found[1] if found is not None and found[0] == self.house.player else None

    def left(self) -> None:
        # What has not begun yet does not begin elsewhere.
        self.house.rounds.leave_sighting()

    def lay(self, canvas: Canvas, controls: Controls) -> None:
        places = masthead.lay(self.house, canvas, controls, "sight")
        u = canvas.unit
        body = places.body
        wide = min(body.width, round(46 * u))
        column = Rect(body.centerx - wide // 2, body.top, wide, body.height)
        high = round(min(4.2 * u, column.height * 0.26)) if self.result is not None else 0
        air = round(min(1.6 * u, column.height * 0.05))
        foot = Rect(column.left, column.bottom - round(2.2 * u), column.width, round(2.0 * u))
        top = Rect(column.left, column.top + air, column.width, max(1, foot.top - air - column.top - air))
        if self.result is not None:
            figures = Rect(top.left, top.top, top.width, high)
            _figures(canvas, figures, self.result)
            top = Rect(top.left, figures.bottom + air, top.width, max(1, top.bottom - figures.bottom - air))
            _words(canvas, top, self.result)
        else:
            canvas.words("sight.about", top, say("sight.about"), size=1.15, lines=12, stand=TOP, least=0.6)
        self._lay_ways(canvas, controls, foot)

    def _lay_ways(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        """Both forms, and the way to the marks of the last reading."""
        x = rect.left
        ways = [(key, name, partial(self.house.rounds.start_sighting, form)) for key, name, form in _FORMS]
        if self.result is not None:
            ways.append(("c", "room.copy", partial(self.house.go, "copy")))
        for at, (key, name, act) in enumerate(ways):
            label = say(name)
            wide = controls.button_width(label, key)
            if x + wide > rect.right:
                controls.order(name, key, act)
                continue
            place = Rect(x, rect.top, wide, rect.height)
            controls.button(name, place, label, act, key=key, main=at == 0 and self.result is None)
            x = place.right + round(0.8 * canvas.unit)


def _words(canvas: Canvas, rect: Rect, result: Result) -> None:
    """How far reading reaches, large; how sure that is, below it; what was not played."""
    if result.per_minute is None:
        canvas.words("sight.words", rect, result.words, size=1.15, lines=7, stand=TOP, least=0.7)
        return
    said, band = reached(result.rating)
    extent = canvas.words("sight.words", Rect(rect.left, rect.top, rect.width, round(rect.height * 0.55)), said,
                          size=1.3, lines=4, stand=TOP, least=0.6)  # fmt: skip
    top = extent.bottom + round(min(0.9 * canvas.unit, rect.height * 0.08))
    canvas.words("sight.band", Rect(rect.left, top, rect.width, max(1, rect.bottom - top)), band or " ",
                 style=fonts.ITALIC, size=1.05, colour="graphite", lines=5, stand=TOP, least=0.6)  # fmt: skip


def _figures(canvas: Canvas, rect: Rect, result: Result) -> None:
    """Notes right a minute, accuracy, what transposing costs."""
    none = say("margin.none")
    shown = (
        ("minute", f"{result.per_minute:.0f}" if result.per_minute is not None else none),
        ("right", f"{result.accuracy:.0%}" if result.accuracy is not None else none),
        ("cost", say("margin.cost.value", cost=f"{result.cost:.1f}") if result.cost is not None else none),
    )
    for (name, value), place in zip(shown, layout.columns(rect, [0] * len(shown), canvas.unit), strict=True):
        above, below = layout.rows(place, [place.height * 0.4, 0])
        label = say(f"sight.{name}")
        canvas.words(f"sight.{name}.label", above, label, style=fonts.ITALIC, size=1.0, colour="graphite", least=0.6)
        canvas.words(f"sight.{name}", below, value, size=1.7, least=0.45)
