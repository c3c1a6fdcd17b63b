"""The pulse of a take over its bars, with a breath comma where the player waited."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from pygame import Rect

from trainer.window import barwords
from trainer.window.copy.finished import Finished
from trainer.window.paint import fonts
from trainer.window.paint.canvas import CENTRE, RIGHT, Canvas
from trainer.window.paint.theme import hexed
from trainer.window.stand import punctual
from trainer.window.strings import say


def lay(canvas: Canvas, rect: Rect, take: Finished) -> None:
    """Lay heading, curve, median line and bar numbers."""
    u = canvas.unit
    head = Rect(rect.left, rect.top, rect.width, round(1.2 * u))
    click = punctual.counted(take.timing)
    said = say("copy.curve.click", click=click) if click else say("copy.curve")
    canvas.words("curve.head", head, said, style=fonts.ITALIC, size=1.0, colour="graphite", least=0.6)
    bars = take.timing.bars
    foot = round(1.05 * u)
    plot = Rect(
        rect.left + round(2.2 * u),
        head.bottom + round(0.2 * u),
        rect.width - round(2.4 * u),
        rect.bottom - head.bottom - foot - round(0.3 * u),
    )
    if len(bars) < 2 or take.timing.pulse_bpm is None:
        canvas.words(
            "curve.empty", Rect(rect.left, head.bottom, rect.width, round(1.4 * u)), say("copy.curve.empty"), size=1.0
        )
        return
    median = take.timing.pulse_bpm
    low = min(min(bpm for _, bpm in bars), median * 0.8)
    high = max(max(bpm for _, bpm in bars), median * 1.2)
    step = plot.width / max(1, len(bars) - 1)

    def y(bpm: float) -> float:
        return (high - bpm) / (high - low) * (plot.height - 6) + 3

    points = [(at * step, y(bpm)) for at, (_, bpm) in enumerate(bars)]
    body = _drawn(canvas, plot, points, y(median))
    waits = {take.piece.bar_index(take.piece.notes[wait.note].onset): wait.seconds for wait in take.timing.hesitations}
    blue = hexed(canvas.colour("blue"))
    marked: set[int] = set()
    for at, (bar, _) in enumerate(bars):
        if bar in waits and bar not in marked:
            marked.add(bar)
            body += _comma(points[at][0], max(u * 0.9, points[at][1] - u * 0.9), u, blue)
    grown = plot.inflate(round(u), 8)
    canvas.shape(
        "curve", grown, f'<g transform="translate({plot.left - grown.left} {plot.top - grown.top})">{body}</g>'
    )
    label = Rect(rect.left, round(plot.top + y(median) - 0.6 * u), round(1.55 * u), round(1.2 * u))
    canvas.words("curve.median", label, f"{median:.0f}", size=0.92, colour="graphite", align=RIGHT)
    numbers = [take.piece.bars[bar].number for bar, _ in bars]
    for at in counted_bars(numbers, math.ceil(3.0 * u / max(1.0, step))):
        # A number alone tells nothing of an upbeat that was gone back to.
        in_words = at == 0 or not numbers[at]
        said = barwords.bar(numbers[at]) if in_words else str(numbers[at])
        wide = round((3.6 if in_words else 2.4) * u)
        place = Rect(round(plot.left + at * step - wide / 2), rect.bottom - foot, wide, foot)
        canvas.words(f"curve.bar.{at}", place, said, size=0.85, colour="graphite", align=CENTRE)


def counted_bars(numbers: Sequence[int], apart: int) -> list[int]:
    """Which bars are named under the curve: the first, then every second, fourth, eighth …, as bars are counted.

    Parameters
    ----------
    numbers : sequence of int
        Bars with a pulse, by their printed numbers.
    apart : int
        Places that must lie between two names.

    >>> counted_bars(range(1, 17), 3)
    [0, 4, 8, 12]
    >>> counted_bars([0, 1, 2, 3, 4, 5, 6], 2)
    [0, 3, 5]
    """
    every = 1
    while every < apart:
        every *= 2
    found = [0]
    for at, number in enumerate(numbers):
        if (number - 1) % every == 0 and at - found[-1] >= apart:
            found.append(at)
    return found


def _drawn(canvas: Canvas, plot: Rect, points: list[tuple[float, float]], middle: float) -> str:
    rule, ink, paper = hexed(canvas.colour("rule")), hexed(canvas.colour("ink")), hexed(canvas.colour("paper"))
    dash = f'<path d="M0 {middle:.1f}H{plot.width}" stroke="{rule}" stroke-width="1.2"/>'
    data = f"M{points[0][0]:.1f} {points[0][1]:.1f}"
    for (x0, y0), (x1, y1) in itertools.pairwise(points):
        bend = (x1 - x0) * 0.4
        data += f"C{x0 + bend:.1f} {y0:.1f} {x1 - bend:.1f} {y1:.1f} {x1:.1f} {y1:.1f}"
    dots = "".join(
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.1" fill="{ink}" stroke="{paper}" stroke-width="1.4"/>'
        for x, y in points
    )
    return f'{dash}<path d="{data}" fill="none" stroke="{ink}" stroke-width="1.8"/>{dots}'


def _comma(x: float, y: float, unit: float, tone: str) -> str:
    tail = f"M{x:.1f} {y:.1f}q{unit * 0.36:.1f} {unit * 0.1:.1f} {-unit * 0.08:.1f} {unit * 0.56:.1f}"
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{unit * 0.16:.1f}" fill="{tone}"/>'
        f'<path d="{tail}" fill="none" stroke="{tone}" stroke-width="{unit * 0.1:.1f}" stroke-linecap="round"/>'
    )
