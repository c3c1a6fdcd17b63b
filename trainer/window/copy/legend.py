"""What the pencil's marks mean: each cause with its own mark before it, as it stands on the page."""

from __future__ import annotations

from dataclasses import replace

import numpy
from pygame import Rect

from trainer.following import marks
from trainer.window.page import pencil, sheetmusic
from trainer.window.page.pencil import Room, Spot, Stroke
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.theme import hexed

# Of the text size: the staff space the marks are drawn at, and how wide a mark is at most.
SPACE, WIDE = 0.36, 1.7


def drawn(cause: str, tone: str, space: float, sign: int = 1) -> tuple[Stroke, tuple[int, int]]:
    """The mark of a cause alone on an empty page, and its middle; a forgotten signature's by its `sign`, 1 a sharp."""
    middle = round(20 * space)
    spot = Spot(middle, middle, space, middle, middle)
    room = Room(numpy.zeros((2 * middle, 2 * middle), dtype=bool))
    if cause == marks.AS_WRITTEN:
        # Of a ring the middle is its note's, for its box holds room for a letter too.
        return pencil.ring(replace(spot, space=space * 0.8), tone, room, ""), (middle, middle)
    if cause in (marks.SIGNATURE, marks.ACCIDENTAL):
        written = sign if cause == marks.SIGNATURE else 0
        stroke = pencil.accidental(replace(spot, space=space * 0.7), tone, room, written)
    elif cause == marks.STEP:
        stroke = pencil.arrow(spot, tone, room, up=True)
    elif cause == marks.OCTAVE:
        stroke = pencil.eight(replace(spot, space=space * 0.8), tone, room, up=True)
    elif cause == marks.BRUSHED:
        stroke = pencil.tick(spot, tone, room)
    elif cause == marks.MISSED:
        stroke = pencil.caret(spot, tone, room)
    elif cause == marks.DISPLACED:
        stroke = pencil.bracket(spot, replace(spot, x=middle + 0.8 * space), tone, room, "")
        return stroke, (stroke.rect.centerx, round(stroke.rect.bottom - 0.9 * space))
    else:
        stroke = pencil.head(spot, tone, room, cause, 0)
    return stroke, stroke.rect.center


def lay(canvas: Canvas, name: str, rect: Rect, cause: str, sign: int) -> None:
    """Lay the mark of a cause in the middle of a cell."""
    stroke, (x, y) = drawn(cause, hexed(canvas.colour("blue")), canvas.unit * SPACE, sign)
    corner = rect.centerx - x, rect.centery - y
    sheetmusic.lay_stroke(canvas, name, stroke, corner)


__all__ = ["SPACE", "WIDE", "drawn", "lay"]
