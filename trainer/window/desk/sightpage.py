"""Prima vista: what the test at sight is, its two forms, and how the last one went."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from pygame import Rect

from trainer.coaching.sight.sighttest import FIVE_MINUTES, TWO_MINUTES, Result
from trainer.coaching.sight.sightwords import reached
from trainer.window import masthead
from trainer.window.paint import fonts, layout
from trainer.window.paint.canvas import TOP, Canvas
from trainer.window.paint.controls import Controls
from trainer.window.screen import Screen
from trainer.window.strings import say

# Each form with its key and the words on its button.
_FORMS = (("2", "sight.two", TWO_MINUTES), ("5", "sight.five", FIVE_MINUTES))
# In units: air between paragraphs and over the buttons, the height of the figures and of the buttons.
_AIR, _BEFORE_FOOT = 0.9, 1.8
_FIGURES, _FOOT = 4.6, 2.0
# Of the free room so much stays over what is said.
_OVER = 0.4
# The smallest share of the text size.
_LEAST = 0.5


@dataclass(frozen=True)
class _Part:
    """A paragraph of the page: the name of its box, text size, words, face and colour."""

    name: str
    size: float
    words: str
    style: str = fonts.ROMAN
    colour: str = "ink"

    def high(self, canvas: Canvas, wide: int) -> float:
        """Pixels it takes in a column so wide."""
        return (canvas.lines(self.words, self.style, self.size, wide) * 1.16 + 0.1) * self.size * canvas.unit

    def lay(self, canvas: Canvas, rect: Rect) -> None:
        canvas.words(self.name, rect, self.words, style=self.style, size=self.size, colour=self.colour, lines=12,
                     stand=TOP, least=0.5)  # fmt: skip


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
        said = _about() if self.result is None else _told(self.result)
        figures = 0.0 if self.result is None else min(_FIGURES * u, column.height * 0.26)
        air = min(_AIR * u, column.height * 0.04)
        # What is said and its buttons stay together, a little over the middle of the page.
        before_foot = min(_BEFORE_FOOT * u, column.height * 0.06)
        room = column.height - figures - (len(said) - (not figures)) * air - before_foot - _FOOT * u
        share, heights = _sized(canvas, said, column.width, room)
        y = column.top + max(0.0, room - sum(heights)) * _OVER
        if self.result is not None:
            _figures(canvas, Rect(column.left, round(y), column.width, round(figures)), self.result)
            y += figures + air
        with canvas.smaller(share):
            for part, high in zip(said, heights, strict=True):
                part.lay(canvas, Rect(column.left, round(y), column.width, round(high)))
                y += high + air
        foot = Rect(column.left, round(y - air + before_foot), column.width, round(_FOOT * u))
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


def _sized(canvas: Canvas, said: list[_Part], wide: int, room: float) -> tuple[float, list[float]]:
    """Which share of the text size leaves room for all paragraphs, and how high each is then."""
    share = 1.0
    while True:
        with canvas.smaller(share):
            heights = [part.high(canvas, wide) for part in said]
        if sum(heights) <= room or share < _LEAST:
            return share, heights
        share -= 0.05


def _about() -> list[_Part]:
    """What the test is: two paragraphs, and how to leave it."""
    *said, leave = say("sight.about").split("\n")
    parts = [_Part(f"sight.about.{at}", 1.3, words) for at, words in enumerate(said)]
    return [*parts, _Part("sight.leave", 1.15, leave, style=fonts.ITALIC, colour="graphite")]


def _told(result: Result) -> list[_Part]:
    """How far reading reaches, large; how sure that is, below it; what was not played."""
    if result.per_minute is None:
        return [_Part("sight.words", 1.4, result.words)]
    said, band = reached(result.rating)
    parts = [_Part("sight.words", 1.5, said)]
    return [*parts, _Part("sight.band", 1.15, band, style=fonts.ITALIC, colour="graphite")] if band else parts


def _figures(canvas: Canvas, rect: Rect, result: Result) -> None:
    """Notes right a minute, accuracy, what transposing costs."""
    none = say("margin.none")
    shown = (
        ("minute", f"{result.per_minute:.0f}" if result.per_minute is not None else none),
        ("right", f"{result.accuracy:.0%}" if result.accuracy is not None else none),
        ("cost", say("margin.cost.value", cost=f"{result.cost:.1f}") if result.cost is not None else none),
    )
    places = layout.columns(rect, [0] * len(shown), canvas.unit)
    # All labels are of one size, and so are all values: the widest says which.
    room = min(place.width for place in places)
    label = min(1.1, 1.1 * room / max(canvas.width(say(f"sight.{name}"), fonts.ITALIC, 1.1) for name, _ in shown))
    large = min(2.0, 2.0 * room / max(canvas.width(value, fonts.ROMAN, 2.0) for _, value in shown))
    for (name, value), place in zip(shown, places, strict=True):
        above, below = layout.rows(place, [place.height * 0.4, 0])
        canvas.words(f"sight.{name}.label", above, say(f"sight.{name}"), style=fonts.ITALIC, size=label,
                     colour="graphite", least=0.9)  # fmt: skip
        canvas.words(f"sight.{name}", below, value, size=large, least=0.6)
