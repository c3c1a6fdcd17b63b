"""Small curves over the weeks: a line with its band, so that nobody takes chance for progress."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from pygame import Rect

from trainer.window.paint import fonts
from trainer.window.paint.canvas import CENTRE, LEFT, RIGHT, TOP, Canvas
from trainer.window.paint.theme import hexed


@dataclass(frozen=True)
class Point:
    """A value on a day, and the band it lies in with 95 in 100; none where too little is known."""

    day: date
    value: float
    band: tuple[float, float] | None = None


@dataclass(frozen=True)
class Growth:
    """One curve.

    Parameters
    ----------
    head, empty : str
        Its heading, and what to say and do when there is nothing to draw.
    points : sequence of Point
        Oldest first.
    said : callable
        A value in words, for the scale and the last point.
    even : float or None
        Where a dashed line is drawn for comparison.
    floor, ceiling : float or None
        The scale never passes these.
    least_span : float
        The scale spans at least so much.
    """

    head: str
    empty: str
    points: Sequence[Point]
    said: Callable[[float], str]
    even: float | None = None
    floor: float | None = None
    ceiling: float | None = None
    least_span: float = 0.0


def day_short(day: date) -> str:
    """A day on a scale.

    >>> day_short(date(2027, 3, 5))
    '5 Mar'
    """
    return f"{day.day} {day:%b}"


def lay(canvas: Canvas, name: str, rect: Rect, growth: Growth) -> None:
    """Lay heading, scale, band, line, and the last value beside its point."""
    u = canvas.unit
    head = Rect(rect.left, rect.top, rect.width, round(1.25 * u))
    canvas.words(f"{name}.head", head, growth.head, style=fonts.ITALIC, size=1.0, colour="graphite", least=0.7)
    points = growth.points
    if not points:
        room = Rect(rect.left, head.bottom + round(0.2 * u), rect.width, rect.bottom - head.bottom - round(0.2 * u))
        canvas.words(f"{name}.empty", room, growth.empty, size=1.0, lines=6, stand=TOP, least=0.7)
        return
    low, high = _scale(growth)
    marks = [growth.said(high), growth.said(low)]
    left = max(canvas.width(mark, fonts.ROMAN, 0.85) for mark in marks) + round(0.5 * u)
    last = growth.said(points[-1].value)
    after = canvas.width(last, fonts.BOLD, 1.0) + round(0.8 * u)
    foot = round(1.0 * u)
    plot = Rect(rect.left + left, head.bottom + round(0.5 * u), rect.width - left - after,
                rect.bottom - head.bottom - foot - round(1.0 * u))  # fmt: skip
    days = (points[-1].day - points[0].day).days

    def x(day: date) -> float:
        return plot.width * ((day - points[0].day).days / days if days else 0.5)

    def y(value: float) -> float:
        return plot.height * (high - max(low, min(high, value))) / (high - low)

    grown = plot.inflate(round(0.8 * u), round(0.6 * u))
    body = _drawn(canvas, plot, growth, x, y)
    shift = f"translate({plot.left - grown.left} {plot.top - grown.top})"
    canvas.shape(f"{name}.curve", grown, f'<g transform="{shift}">{body}</g>')
    ends = list(zip(marks, (high, low), strict=True))
    if growth.even is not None and min(abs(y(growth.even) - y(one)) for one in (high, low)) > 1.2 * u:
        ends.append((growth.said(growth.even), growth.even))
    for at, (mark, value) in enumerate(ends):
        place = Rect(rect.left, round(plot.top + y(value) - 0.5 * u), left - round(0.5 * u), round(u))
        canvas.words(f"{name}.scale.{at}", place, mark, size=0.85, colour="graphite", align=RIGHT)
    level = round(plot.top + y(points[-1].value) - 0.6 * u)
    beside = Rect(grown.right, level, rect.right - grown.right, round(1.2 * u))
    if days:
        canvas.words(f"{name}.last", beside, last, style=fonts.BOLD, size=1.0, align=LEFT, least=0.6)
        _lay_days(canvas, name, rect, plot, foot, (points[0].day, points[-1].day))
    else:
        beside.left = round(plot.centerx + 0.7 * u)
        beside.width = rect.right - beside.left
        canvas.words(f"{name}.last", beside, last, style=fonts.BOLD, size=1.0, align=LEFT, least=0.6)
        middle = Rect(plot.left, rect.bottom - foot, plot.width, foot)
        canvas.words(f"{name}.day", middle, day_short(points[0].day), size=0.85, colour="graphite", align=CENTRE)


def _lay_days(canvas: Canvas, name: str, rect: Rect, plot: Rect, foot: int, ends: tuple[date, date]) -> None:
    half = plot.width // 2
    for at, (day, align) in enumerate(zip(ends, (LEFT, RIGHT), strict=True)):
        place = Rect(plot.left + at * (plot.width - half), rect.bottom - foot, half, foot)
        canvas.words(f"{name}.day.{at}", place, day_short(day), size=0.85, colour="graphite", align=align)


def _scale(growth: Growth) -> tuple[float, float]:
    """Lowest and highest value shown: every point, and bands as far as they are not beyond all measure."""
    values = [point.value for point in growth.points]
    if growth.even is not None:
        values.append(growth.even)
    low, high = min(values), max(values)
    reach = max(high - low, growth.least_span)
    bands = [point.band for point in growth.points if point.band]
    low = max([min([low, *(band[0] for band in bands)]), low - reach])
    high = min([max([high, *(band[1] for band in bands)]), high + reach])
    if high - low < growth.least_span:
        middle = (high + low) / 2
        low, high = middle - growth.least_span / 2, middle + growth.least_span / 2
    if growth.ceiling is not None:
        high = min(high, growth.ceiling)
    if growth.floor is not None:
        low = max(low, growth.floor)
    return (low, high) if high > low else (low - 0.5, high + 0.5)


def _drawn(canvas: Canvas, plot: Rect, growth: Growth, x: Callable[[date], float], y: Callable[[float], float]) -> str:
    ink, rule, paper = (hexed(canvas.colour(token)) for token in ("ink", "rule", "paper"))
    points = growth.points
    u = canvas.unit
    body = f'<path d="M0 {plot.height + 0.5}H{plot.width}M0 0.5H{plot.width}" stroke="{rule}" stroke-width="1"/>'
    banded = [point for point in points if point.band]
    if banded:
        edge = hexed(canvas.colour("wash"))
        tops = [(x(point.day), y(point.band[1])) for point in banded if point.band]
        feet = [(x(point.day), y(point.band[0])) for point in reversed(banded) if point.band]
        if len(banded) == 1:
            wide = max(3.0, 0.16 * u)
            tops, feet = ([(tops[0][0] - wide, tops[0][1]), (tops[0][0] + wide, tops[0][1])],
                          [(feet[0][0] + wide, feet[0][1]), (feet[0][0] - wide, feet[0][1])])  # fmt: skip
        data = "M" + "L".join(f"{px:.1f} {py:.1f}" for px, py in (*tops, *feet)) + "Z"
        body += f'<path d="{data}" fill="{edge}" stroke="{rule}" stroke-width="0.8" stroke-linejoin="round"/>'
    if growth.even is not None:
        pen = f'stroke="{hexed(canvas.colour("brass"))}" stroke-width="{max(1.2, u * 0.06):.1f}"'
        dash = f'stroke-dasharray="{u * 0.3:.1f} {u * 0.22:.1f}"'
        body += f'<path d="M0 {y(growth.even):.1f}H{plot.width}" {pen} {dash}/>'
    if len(points) > 1:
        data = _smooth([(x(point.day), y(point.value)) for point in points])
        body += f'<path d="{data}" fill="none" stroke="{ink}" stroke-width="{max(1.5, u * 0.085):.1f}"/>'
    small = len(points) > 1 and plot.width / len(points) < 0.9 * u
    for at, point in enumerate(points):
        if small and at < len(points) - 1:
            continue
        # A value without a band is hollow.
        pen = f'fill="{ink if point.band else paper}" stroke="{ink}" stroke-width="1.3"'
        spot = f'cx="{x(point.day):.1f}" cy="{y(point.value):.1f}"'
        body += f'<circle {spot} r="{max(2.2, u * 0.15):.1f}" {pen}/>'
    return body


def _smooth(points: Sequence[tuple[float, float]]) -> str:
    """A curve through points that never swings beyond them."""
    data = f"M{points[0][0]:.1f} {points[0][1]:.1f}"
    for (x0, y0), (x1, y1) in itertools.pairwise(points):
        bend = (x1 - x0) * 0.42
        data += f"C{x0 + bend:.1f} {y0:.1f} {x1 - bend:.1f} {y1:.1f} {x1:.1f} {y1:.1f}"
    return data


def percent(value: float) -> str:
    return f"{100 * value:.0f}%"


def times(value: float) -> str:
    return f"{value:.2f} ×"


def whole_number(value: float) -> str:
    return f"{math.floor(value + 0.5)}"
