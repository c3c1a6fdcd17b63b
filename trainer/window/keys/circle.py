"""The circle of twenty-four keys: major outside, minor inside, and in each key a ring for every level.

The rings grow outward like a tree's, the first three notes innermost. How far a level has come is told by its line:
a hairline, dashes, a firm line, a broad one. A key that is due is ringed in blue pencil.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pygame import Rect

from trainer.music.keys import CIRCLE_MAJOR, CIRCLE_MINOR, TWENTY_FOUR, Key
from trainer.window.paint import fonts
from trainer.window.paint.canvas import CENTRE, GROUND, OVER, Canvas
from trainer.window.paint.theme import hexed

NEW, OPENING, HOLDING, FREE = "new", "opening", "holding", "free"
# Of the circle's radius: outer and inner edge of the ring of major keys and of the ring of minor keys.
_RINGS = {"major": (0.995, 0.645), "minor": (0.630, 0.335)}
# The outermost level's line lies so far inside the edge, the next ones so far apart.
_FIRST_LINE, _LINES_APART = 0.028, 0.027
# Degrees of the circle each key's lines span, of thirty.
_SPAN = 25.0
_NAME_SIZE = {"major": 0.118, "minor": 0.094}
WORDS_SIZE = {"major": 0.052, "minor": 0.047}


@dataclass(frozen=True)
class Wedge:
    """What the circle says of one key: its name, the state of each level from the smallest, a word below, due."""

    name: str
    levels: tuple[str, ...] = (NEW, NEW, NEW, NEW)
    words: str = ""
    due: bool = False


def ring_of(key: Key) -> tuple[str, int]:
    """Which ring a key lies in, and its place clockwise from the top.

    >>> ring_of(Key.parse("a")), ring_of(Key.parse("G"))
    (('minor', 0), ('major', 1))
    """
    keys = CIRCLE_MINOR if key.is_minor else CIRCLE_MAJOR
    return key.mode, keys.index(key)


def neighbour(key: Key, by: int) -> Key:
    """The key some places further clockwise in the same ring."""
    ring, at = ring_of(key)
    return (CIRCLE_MINOR if ring == "minor" else CIRCLE_MAJOR)[(at + by) % 12]


def across(key: Key) -> Key:
    """The key beside it in the other ring: its relative.

    >>> across(Key.parse("Eb")).short
    'c'
    """
    _, at = ring_of(key)
    return (CIRCLE_MAJOR if key.is_minor else CIRCLE_MINOR)[at]


def key_under(rect: Rect, point: tuple[int, int]) -> Key | None:
    """The key under a point of the screen."""
    x, y = point[0] - rect.centerx, point[1] - rect.centery
    distance = math.hypot(x, y) / (rect.width / 2)
    at = round(math.degrees(math.atan2(x, -y)) / 30) % 12
    for ring, keys in (("major", CIRCLE_MAJOR), ("minor", CIRCLE_MINOR)):
        outer, inner = _RINGS[ring]
        if inner <= distance <= outer:
            return keys[at]
    return None


def lay(canvas: Canvas, rect: Rect, wedges: Mapping[str, Wedge], chosen: Key, middle: Sequence[str]) -> None:
    """Lay the circle in a square.

    Parameters
    ----------
    wedges : mapping
        By the short name of each of the twenty-four keys.
    middle : sequence of str
        Lines for the middle of the circle, the first one large.
    """
    radius = rect.width / 2
    canvas.shape("circle", rect, _drawn(canvas, radius, wedges), GROUND)
    _lay_chosen(canvas, rect, chosen, wedges[chosen.short])
    for key in TWENTY_FOUR:
        _lay_words(canvas, rect, key, wedges[key.short], key == chosen)
    _lay_middle(canvas, rect, middle)


def _on(radius: float, share: float, degrees: float) -> tuple[float, float]:
    turn = math.radians(degrees)
    return radius + share * radius * math.sin(turn), radius - share * radius * math.cos(turn)


def _arc(radius: float, share: float, start: float, end: float) -> str:
    """Path data of an arc of the circle, in degrees clockwise from the top."""
    (x0, y0), (x1, y1) = _on(radius, share, start), _on(radius, share, end)
    reach = share * radius
    return f"M{x0:.1f} {y0:.1f}A{reach:.1f} {reach:.1f} 0 0 1 {x1:.1f} {y1:.1f}"


def _segment(radius: float, ring: str, at: int) -> str:
    """Path data of one key's field."""
    outer, inner = (share * radius for share in _RINGS[ring])
    (x0, y0), (x1, y1) = (_on(radius, _RINGS[ring][0], 30 * at + side) for side in (-15, 15))
    (x2, y2), (x3, y3) = (_on(radius, _RINGS[ring][1], 30 * at + side) for side in (15, -15))
    return (
        f"M{x0:.1f} {y0:.1f}A{outer:.1f} {outer:.1f} 0 0 1 {x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}"
        f"A{inner:.1f} {inner:.1f} 0 0 0 {x3:.1f} {y3:.1f}Z"
    )


def level_line(canvas: Canvas, state: str, across_px: float) -> str:
    """SVG attributes of a level's line for a circle (or a sample of it) with radius `across_px`."""
    colour = hexed(canvas.colour({NEW: "rule", OPENING: "graphite", HOLDING: "ink", FREE: "brass"}[state]))
    wide = max(1.0, across_px * {NEW: 0.003, OPENING: 0.0075, HOLDING: 0.0085, FREE: 0.020}[state])
    dash = f' stroke-dasharray="{across_px * 0.016:.1f} {across_px * 0.013:.1f}"' if state == OPENING else ""
    return f'fill="none" stroke="{colour}" stroke-width="{wide:.2f}"{dash}'


def _drawn(canvas: Canvas, radius: float, wedges: Mapping[str, Wedge]) -> str:
    rule = hexed(canvas.colour("rule"))
    faint = hexed(canvas.colour("faint"))
    drawn: list[str] = []
    for key in TWENTY_FOUR:
        wedge = wedges[key.short]
        fill = faint if any(state != NEW for state in wedge.levels) else "none"
        field = _segment(radius, *ring_of(key))
        drawn.append(f'<path d="{field}" fill="{fill}" stroke="{rule}" stroke-width="1.2"/>')
        drawn.append(_level_lines(canvas, radius, key, wedge))
    return "".join(drawn)


def _level_lines(canvas: Canvas, radius: float, key: Key, wedge: Wedge) -> str:
    """A line for each level, the first notes innermost."""
    ring, at = ring_of(key)
    edge = _RINGS[ring][0] - _FIRST_LINE
    return "".join(
        f'<path d="{_arc(radius, edge - number * _LINES_APART, 30 * at - _SPAN / 2, 30 * at + _SPAN / 2)}" '
        f"{level_line(canvas, state, radius)}/>"
        for number, state in enumerate(reversed(wedge.levels))
    )


def _lay_chosen(canvas: Canvas, rect: Rect, chosen: Key, wedge: Wedge) -> None:
    """The chosen key's field once more, washed and outlined, in a box no larger than the field."""
    radius = rect.width / 2
    ring, at = ring_of(chosen)
    thick = max(2.0, radius * 0.010)
    ends = [_on(radius, share, 30 * at + side) for share in _RINGS[ring] for side in (-15, 0, 15)]
    left, top = (math.floor(min(values) - thick) for values in zip(*ends, strict=True))
    right, bottom = (math.ceil(max(values) + thick) for values in zip(*ends, strict=True))
    brass, wash = hexed(canvas.colour("brass")), hexed(canvas.colour("wash"))
    outline = f'stroke="{brass}" stroke-width="{thick:.1f}" stroke-linejoin="round"'
    field = f'<path d="{_segment(radius, ring, at)}" fill="{wash}" {outline}/>'
    body = f'<g transform="translate({-left} {-top})">{field}{_level_lines(canvas, radius, chosen, wedge)}</g>'
    place = Rect(rect.left + left, rect.top + top, right - left, bottom - top)
    canvas.shape("circle.chosen", place, body, GROUND)


def _lay_words(canvas: Canvas, rect: Rect, key: Key, wedge: Wedge, chosen: bool) -> None:
    ring, at = ring_of(key)
    radius = rect.width / 2
    outer, inner = _RINGS[ring]
    # The lines take the outer part of the field; the words are centred in what is left.
    share = (outer - _FIRST_LINE - 3.6 * _LINES_APART + inner) / 2
    x, y = _on(radius, share, 30 * at)
    x, y = x + rect.left, y + rect.top
    name, below = _NAME_SIZE[ring] * radius, WORDS_SIZE[ring] * radius
    drop = below * 0.55 if wedge.words else 0.0
    wide = fonts.width(wedge.name, fonts.BOLD, name)
    place = Rect(round(x - wide / 2 - 3), round(y - drop - name / 2), round(wide + 6), round(name))
    canvas.words(f"circle.{key.short}", place, wedge.name, style=fonts.BOLD if chosen else fonts.ROMAN,
                 size=name / canvas.unit, align=CENTRE)  # fmt: skip
    if wedge.words:
        middle = name * 0.52 + below * 0.55 - drop
        reach = _reach(share, (inner, outer - _FIRST_LINE - 3.5 * _LINES_APART), 30 * at, middle / radius) * radius
        while fonts.width(wedge.words, fonts.ITALIC, below) > 2 * reach and below > 0.036 * radius:
            below *= 0.96
        wide = fonts.width(wedge.words, fonts.ITALIC, below)
        under = Rect(round(x - wide / 2 - 3), round(y + middle - below * 0.55), round(wide + 6), round(below * 1.1))
        canvas.words(f"circle.{key.short}.words", under, wedge.words, style=fonts.ITALIC, size=below / canvas.unit,
                     colour="graphite", align=CENTRE)  # fmt: skip
    if wedge.due:
        _lay_due(canvas, key.short, place)


def _reach(share: float, edges: tuple[float, float], degrees: float, drop: float) -> float:
    """Half the width a line of words has in a field, `drop` below the field's middle; all in shares of the radius."""
    turn = math.radians(degrees)
    side, along = abs(math.sin(turn)), -drop * math.cos(turn)
    inner, outer = edges
    free = min(outer - share - along, share + along - inner) - 0.012
    # Toward the sides of the circle a line runs across the rings, elsewhere along them.
    across = free / side if side > 0.2 else 1.0
    return max(0.05, min(0.8 * share * math.tan(math.radians(15)) / max(0.5, abs(math.cos(turn))), across))


def due_ring(canvas: Canvas, wide: float, high: float) -> str:
    """A ring as drawn by hand with a pencil, in a box of that size."""
    blue = hexed(canvas.colour("blue"))
    points = []
    for step in range(27):
        turn = math.radians(205 + step * 395 / 26)
        grow = 0.90 + 0.07 * step / 26
        points.append((wide / 2 + wide / 2 * grow * math.cos(turn), high / 2 + high / 2 * grow * math.sin(turn)))
    data = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
    return (
        f'<path d="{data}" fill="none" stroke="{blue}" stroke-width="{max(1.4, high * 0.05):.1f}" '
        f'stroke-linecap="round" stroke-linejoin="round"/>'
    )


def _lay_due(canvas: Canvas, name: str, place: Rect) -> None:
    ring = Rect(0, 0, round(place.width + place.height * 0.75), round(place.height * 1.14))
    ring.center = place.center
    canvas.shape(f"circle.{name}.due", ring, due_ring(canvas, ring.width, ring.height), OVER)


def _lay_middle(canvas: Canvas, rect: Rect, lines: Sequence[str]) -> None:
    radius = rect.width / 2
    sizes = [0.088 * radius] + [0.056 * radius] * (len(lines) - 1)
    high = sum(size * 1.25 for size in sizes)
    y = rect.centery - high / 2
    for at, (words, size) in enumerate(zip(lines, sizes, strict=True)):
        wide = round(radius * 0.58)
        place = Rect(round(rect.centerx - wide / 2), round(y), wide, round(size * 1.2))
        style, tone = (fonts.ROMAN, "ink") if at == 0 else (fonts.ITALIC, "graphite")
        canvas.words(f"circle.middle.{at}", place, words, style=style, size=size / canvas.unit, colour=tone,
                     align=CENTRE, least=0.6)  # fmt: skip
        y += size * 1.25
