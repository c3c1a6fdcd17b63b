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

    At the right end of the line stand `links`, as many as have room; a screen lays the others at its foot.
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
    free = Rect(x + round(u), line.top, max(0, line.right - x - round(u)), line.height)
    _lay_links(canvas, controls, free, links)
    top = line.bottom + round(0.4 * u)
    return Rect(rect.left, top, rect.width, rect.bottom - top)


def _lay_links(canvas: Canvas, controls: Controls, line: Rect, links: Sequence[Link]) -> int:
    """Lay links at the right end of a line, the first outermost, as many as have room; returns where they begin."""
    right, placed = line.right, []
    for link in links:
        wide = canvas.width(link.words, fonts.ROMAN, 0.95) + controls.key_width(link.key) + 4
        if right - wide >= line.left:
            placed.append((link, Rect(right - wide, line.top, wide, line.height)))
            right -= wide + round(1.1 * canvas.unit)
    # Laid from the right, gone through from the left.
    for link, place in reversed(placed):
        controls.link(link.name, place, link.words, link.act, key=link.key, align=RIGHT)
    return placed[-1][1].left if placed else line.right


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


def lay_foot(
    house: House, canvas: Canvas, controls: Controls, places: layout.Sheet, said: Sequence[str], links: Sequence[Link]
) -> None:
    """The quiet line with links at its right end: of `said` the first that keeps its size beside them, else the last.

    Where there is no room for a link, or the house has something to say, its key does the same.
    """
    if house.notice:
        for link in links:
            controls.order(link.name, link.key, link.act)
        return
    u, rect = canvas.unit, places.quiet
    lines, air = 2 if rect.height > 2 * u else 1, round(1.2 * u)
    least = round(canvas.width(said[-1], fonts.ITALIC, 0.95) * (1 if lines == 1 else 0.6)) + air
    line = Rect(rect.left + least, rect.top, max(0, rect.width - least), rect.height)
    left = _lay_links(canvas, controls, line, links)
    for link in links:
        if controls.named(link.name) is None:
            controls.order(link.name, link.key, link.act)
    free = Rect(rect.left, rect.top, rect.width - (rect.right - left + air if left < rect.right else 0), rect.height)
    fits = (one for one in said if canvas.lines(one, fonts.ITALIC, 0.88, free.width) <= lines)
    words = next(fits, said[-1])
    canvas.words("quiet", free, words, style=fonts.ITALIC, size=0.95, colour="graphite", lines=lines, least=0.6)
