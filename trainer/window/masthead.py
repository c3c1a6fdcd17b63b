"""The head of every screen but the Stand: its name, the ways to the others, and the quiet line at the foot."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.window.paint import fonts, layout
from trainer.window.paint.canvas import RIGHT, SOLID, Canvas
from trainer.window.paint.controls import Control, Controls
from trainer.window.rooms import KEYS
from trainer.window.strings import say

if TYPE_CHECKING:
    from trainer.window.house.house import House


@dataclass(frozen=True)
class Link:
    """What else can be done on a line of parts: its name, words, key, and what it does."""

    name: str
    words: str
    key: str
    act: Callable[[], None]


def parts(
    canvas: Canvas, controls: Controls, rect: Rect, names: Sequence[str], at: int, choose: Callable[[int], None],
    links: Sequence[Link] = (),
) -> Rect:  # fmt: skip
    """Where there is no room for all parts of a screen: one at a time, their names above. Returns the part's room.

    At the right end of the line stand `links`; where there is no room for one its key does the same.
    """
    u = canvas.unit
    line = Rect(rect.left, rect.top, rect.width, round(1.5 * u))
    x = line.left
    for number, name in enumerate(names):
        style = fonts.ITALIC if number == at else fonts.ROMAN
        # As wide chosen as not chosen: the others keep their places.
        wide = max(canvas.width(say(name), face, 0.95) for face in (fonts.ITALIC, fonts.ROMAN)) + 4
        place = Rect(x, line.top, min(wide, line.right - x), line.height)
        canvas.words(
            f"part.{name}", place, say(name), style=style, size=0.95, colour="brass" if number == at else "graphite"
        )
        controls.add(Control(f"part.{name}", place, partial(choose, number)))
        controls.ring(f"part.{name}", place)
        x = place.right + round(1.1 * u)
    if x + controls.key_width("t") < line.right:
        x += controls.key_width("t")
        controls.keycap("part.next", x, line.centery, "t")
    controls.order("part.next", "t", partial(choose, (at + 1) % len(names)))
    right = line.right
    for link in links:
        wide = canvas.width(link.words, fonts.ROMAN, 0.95) + controls.key_width(link.key) + 4
        if right - wide < x + u:
            controls.order(link.name, link.key, link.act)
            continue
        controls.link(link.name, Rect(right - wide, line.top, wide, line.height), link.words, link.act, key=link.key,
                      align=RIGHT)  # fmt: skip
        right -= wide + round(1.1 * u)
    top = line.bottom + round(0.4 * u)
    return Rect(rect.left, top, rect.width, rect.bottom - top)


def is_tight(rect: Rect, canvas: Canvas) -> bool:
    """Whether a screen's body has to be shown in parts."""
    return rect.height < 20 * canvas.unit or rect.width < 42 * canvas.unit


def lay(house: House, canvas: Canvas, controls: Controls, current: str, title: str = "") -> layout.Sheet:
    """Lay the head and the quiet line; returns the places, the body still free."""
    places = layout.sheet(canvas)
    u = canvas.unit
    canvas.words("head.name", places.name, title or say(f"room.{current}"), size=1.75)
    x = places.ways.right
    ways: list[Control] = []
    for key, room in reversed(KEYS.items()):
        label = say(f"room.{room}")
        style = fonts.ITALIC if room == current else fonts.ROMAN
        cap = controls.key_width(key)
        wide = canvas.width(label, style, 1.05)
        if x - wide - cap < places.ways.left:
            break
        controls.keycap(f"way.{room}", x, places.ways.centery, key)
        words = Rect(x - cap - wide - 2, places.ways.top, wide + 4, places.ways.height)
        tone = "brass" if room == current else "graphite"
        extent = canvas.words(f"way.{room}.label", words, label, style=style, size=1.05, colour=tone, align=RIGHT)
        if room == current:
            line = Rect(extent.left, extent.bottom + round(u * 0.2), extent.width, max(1, round(u * 0.07)))
            canvas.fill(f"way.{room}.under", line, "brass", SOLID)
        whole = Rect(words.left, words.centery - round(u), x - words.left, round(2 * u))
        ways.append(Control(f"way.{room}", whole, partial(house.go, room)))
        controls.ring(f"way.{room}", whole)
        x = words.left - round(u * 1.3)
    # Laid from the right, gone through from the left.
    for way in reversed(ways):
        controls.add(way)
    canvas.rule("head.rule", places.rule)
    quiet = house.notice.words if house.notice else ""
    if quiet:
        lay_quiet(canvas, places, quiet)
    return places


def lay_quiet(canvas: Canvas, places: layout.Sheet, words: str) -> None:
    """The quiet line at the foot; with large text it may take two lines."""
    canvas.words("quiet", places.quiet, words, style=fonts.ITALIC, size=0.95, colour="graphite",
                 lines=2, least=0.6)  # fmt: skip
