"""A line at the top of the Desk that says something and what can be done about it, each with its key."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from pygame import Rect

from trainer.window.paint import fonts, layout
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.controls import Controls

_SIZE = 0.95
# The words are not made smaller than this before they take another line, of so many at most.
_LEAST, _LINES = 0.85, 3
_LEAST_LOW = 0.7


class Way(NamedTuple):
    """Something that can be done: its control's name, its words, its key."""

    name: str
    label: str
    key: str
    act: Callable[[], None]


def lay(
    canvas: Canvas, controls: Controls, rect: Rect, name: str, words: str, ways: Sequence[Way], *, low: bool = False
) -> Rect:
    """Lay the line at the top of `rect`, what can be done beside it or below; returns the rest.

    Parameters
    ----------
    low : bool
        The words take no more height than one line has, in two smaller ones where they must: the rest needs its room.
    """
    u = canvas.unit
    gap, high = round(1.2 * u), round(1.4 * u)
    wides = [canvas.width(way.label, fonts.ROMAN, _SIZE) + controls.key_width(way.key) + 4 for way in ways]
    all_wide = sum(wides) + gap * (len(ways) - 1)
    beside = canvas.width(words, fonts.ITALIC, 1.0) + all_wide + 2 * gap <= rect.width
    lines = 1 if beside or low else min(_LINES, canvas.lines(words, fonts.ITALIC, _LEAST, rect.width))
    first = Rect(rect.left, rect.top, rect.width - (all_wide + gap if beside else 0), high * lines)
    small = low and not beside
    canvas.words(f"{name}.words", first, words, style=fonts.ITALIC, lines=2 if small else lines,
                 least=_LEAST_LOW if small else _LEAST)  # fmt: skip
    line = first if beside else Rect(rect.left, first.bottom, rect.width, high)
    x = rect.right - all_wide if beside else rect.left
    for way, wide in zip(ways, wides, strict=True):
        controls.link(way.name, Rect(x, line.top, wide, high), way.label, way.act, key=way.key)
        x += wide + gap
    rule = Rect(rect.left, line.bottom + round(0.25 * u), rect.width, 1)
    canvas.rule(f"{name}.rule", rule)
    return layout.rows(rect, [rule.bottom - rect.top + round(0.6 * u), 0])[1]
