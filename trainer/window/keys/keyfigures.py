"""Two more pictures of Keys: why notes went wrong week by week, and what transposing costs in each key."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.music.keys import CIRCLE_MAJOR, CIRCLE_MINOR, Key
from trainer.window.keys import growth
from trainer.window.paint import fonts, layout
from trainer.window.paint.canvas import CENTRE, RIGHT, TOP, Canvas
from trainer.window.paint.theme import hexed
from trainer.window.strings import letter_name, say

if TYPE_CHECKING:
    from trainer.window.keys.growth import Point

# Costs are drawn as far as this; a band that goes further ends there.
_MOST = 3.0


def lay_causes(canvas: Canvas, rect: Rect, causes: Sequence[tuple[str, Sequence[Point]]]) -> None:
    """For each cause a line over the weeks, all on one scale: slips in a hundred presses, the last week's beside it."""
    u = canvas.unit
    if not causes:
        canvas.words("causes.none", rect, say("keys.causes.none"), size=1.0, lines=4, stand=TOP, least=0.7)
        return
    head, body = layout.rows(rect, [round(1.25 * u), 0])
    canvas.words("causes.head", head, say("keys.causes"), style=fonts.ITALIC, size=1.0, colour="graphite", least=0.7)
    top = max(point.value for _, points in causes for point in points) or 1.0
    label = max(canvas.width(say(f"cause.{name}"), fonts.ROMAN, 0.95) for name, _ in causes) + round(0.6 * u)
    after = canvas.width("88.8", fonts.BOLD, 0.95) + round(0.5 * u)
    high = min(body.height // len(causes), round(2.6 * u))
    for at, (name, points) in enumerate(causes):
        row = Rect(body.left, body.top + at * high, body.width, high)
        words = Rect(row.left, row.top, label, high)
        canvas.words(f"causes.{at}", words, say(f"cause.{name}"), size=0.95, least=0.6)
        plot = Rect(words.right, row.top + round(0.2 * u), row.width - label - after, high - round(0.4 * u))
        _lay_line(canvas, f"causes.{at}.line", plot, points, top)
        value = Rect(plot.right + round(0.3 * u), row.top, row.right - plot.right - round(0.3 * u), high)
        canvas.words(f"causes.{at}.last", value, f"{points[-1].value:.1f}", style=fonts.BOLD, size=0.95, least=0.6)


def _lay_line(canvas: Canvas, name: str, rect: Rect, points: Sequence[Point], top: float) -> None:
    """A line over the weeks above its ground; of one week a point."""
    ink, wash = hexed(canvas.colour("ink")), hexed(canvas.colour("wash"))
    if len(points) == 1:
        radius = max(2.2, canvas.unit * 0.15)
        # The whole point stands inside, at the top of the scale as at its foot.
        y = radius + (rect.height - 2 * radius) * (1 - points[0].value / top)
        spot = f'<circle cx="{rect.width / 2}" cy="{y:.1f}" r="{radius:.1f}" fill="{ink}"/>'
        canvas.shape(name, rect.inflate(2, 4), f'<g transform="translate(1 2)">{spot}</g>')
        return
    days = (points[-1].day - points[0].day).days or 1
    spots = [
        (rect.width * (point.day - points[0].day).days / days, rect.height * (1 - point.value / top) + 1)
        for point in points
    ]
    line = "L".join(f"{x:.1f} {y:.1f}" for x, y in spots)
    ground = f'<path d="M0 {rect.height}L{line}L{rect.width} {rect.height}Z" fill="{wash}"/>'
    stroke = f'<path d="M{line}" fill="none" stroke="{ink}" stroke-width="{max(1.4, canvas.unit * 0.07):.1f}"/>'
    canvas.shape(name, rect.inflate(2, 4), f'<g transform="translate(1 2)">{ground}{stroke}</g>')


def lay_costs(
    canvas: Canvas, rect: Rect, costs: Mapping[str, tuple[float, float, float]], chosen: Key, letters: str
) -> None:
    """For each key with a cost a point with its band, in the order of the circle; major round, minor square."""
    u = canvas.unit
    keys = [key for key in (*CIRCLE_MAJOR, *CIRCLE_MINOR) if key.short in costs]
    if not keys:
        canvas.words("costs.none", rect, say("keys.cost.empty"), size=1.0, lines=4, stand=TOP, least=0.7)
        return
    head, body, foot = layout.rows(rect, [round(1.25 * u), 0, round(1.2 * u)])
    canvas.words("costs.head", head, say("keys.costs"), style=fonts.ITALIC, size=1.0, colour="graphite", least=0.7)
    low = min(0.9, *(costs[key.short][1] for key in keys))
    high = min(_MOST, max(1.2, *(costs[key.short][2] for key in keys)))
    scale = [growth.times(high), growth.times(1.0)]
    left = max(canvas.width(words, fonts.ROMAN, 0.85) for words in scale) + round(0.5 * u)
    plot = Rect(body.left + left, body.top + round(0.5 * u), body.width - left, body.height - round(0.6 * u))

    def y(value: float) -> float:
        return plot.height * (high - max(low, min(high, value))) / (high - low)

    step = plot.width / len(keys)
    canvas.shape("costs.points", plot, _points(canvas, plot, [(key, costs[key.short]) for key in keys], y, step))
    for at, (words, value) in enumerate(zip(scale, (high, 1.0), strict=True)):
        place = Rect(body.left, round(plot.top + y(value) - 0.5 * u), left - round(0.4 * u), round(u))
        canvas.words(f"costs.scale.{at}", place, words, size=0.85, colour="graphite", align=RIGHT)
    size = min(0.95, 0.9 * step / max(1, canvas.width("B♭", fonts.BOLD, 1.0)))
    for at, key in enumerate(keys):
        name = letter_name(key.tonic, letters)
        place = Rect(round(plot.left + at * step), foot.top, round(step), foot.height)
        name = name[0].lower() + name[1:] if key.is_minor else name
        style = fonts.BOLD if key == chosen else fonts.ROMAN
        canvas.words(f"costs.{key.short}", place, name, style=style, size=size, align=CENTRE, least=0.5)


def _points(
    canvas: Canvas,
    plot: Rect,
    costs: Sequence[tuple[Key, tuple[float, float, float]]],
    y: Callable[[float], float],
    step: float,
) -> str:
    """SVG of the even line and of each key's point with its band."""
    ink, graphite, brass = (hexed(canvas.colour(token)) for token in ("ink", "graphite", "brass"))
    u = canvas.unit
    dash = f'stroke-dasharray="{u * 0.3:.1f} {u * 0.22:.1f}"'
    body = f'<path d="M0 {y(1.0):.1f}H{plot.width}" stroke="{brass}" stroke-width="{max(1.2, u * 0.06):.1f}" {dash}/>'
    size = max(2.4, min(u * 0.2, step * 0.3))
    for at, (key, (value, low, high)) in enumerate(costs):
        x = (at + 0.5) * step
        thick = max(1.2, u * 0.06)
        body += f'<path d="M{x:.1f} {y(low):.1f}V{y(high):.1f}" stroke="{graphite}" stroke-width="{thick:.1f}"/>'
        if key.is_minor:
            corner = f'x="{x - size:.1f}" y="{y(value) - size:.1f}"'
            body += f'<rect {corner} width="{2 * size:.1f}" height="{2 * size:.1f}" fill="{ink}"/>'
        else:
            body += f'<circle cx="{x:.1f}" cy="{y(value):.1f}" r="{size:.1f}" fill="{ink}"/>'
    return body
