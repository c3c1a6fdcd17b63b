"""A part of a system, as it stands beside the beginning of the next: cut between bars, and no sign in two.

A syllable, a finger or a dynamic that reaches over the barline belongs to the bar its middle is in, as a whole; a slur,
a beam or a hairpin is cut, as it is where a line ends.
"""

from __future__ import annotations

from functools import lru_cache

import numpy
import pygame
from numpy.typing import NDArray
from pygame import Rect

from trainer.window.page.music import Score, System, painted
from trainer.window.page.pencil import Mask
from trainer.window.page.turning import Part
from trainer.window.paint import fonts
from trainer.window.paint.canvas import GROUND, OVER, Box, Canvas
from trainer.window.paint.theme import Colour

# In staff spaces: the letters of a syllable stand so near each other; what is wider is no single sign.
_NEAR, _WIDEST = 0.35, 5.0
# Of the syllables' size: that of a bar's number, its foot over the staff, and its air, as the engraver has them.
_NUMBER, _FOOT, _AIR = 0.8, 0.68, 0.1


def lay(canvas: Canvas, score: Score, part: Part, corner: tuple[int, int]) -> None:
    """Lay the picture of a part of a system, over its first bar the number where the system does not begin with it."""
    system = score.systems[part.at]
    area = reach(score, part)
    tone = canvas.colour("ink")
    canvas.picture(
        f"music.{part.at}", area.move(corner), _picture(score, part, tone), (part, canvas.theme.name), GROUND
    )
    if part.left:
        _lay_number(canvas, score, part, system, corner)


def reach(score: Score, part: Part) -> Rect:
    """What of the system's picture holds a part, signs that reach over its barlines included."""
    columns = numpy.flatnonzero(_kept(score, part).any(axis=1))
    left, right = (int(columns[0]), int(columns[-1]) + 1) if len(columns) else (part.left, part.right)
    high = score.systems[part.at].size[1]
    return Rect(min(left, part.left), 0, max(right, part.right) - min(left, part.left), high)


@lru_cache(maxsize=4)
def _picture(score: Score, part: Part, tone: Colour) -> pygame.Surface:
    area = reach(score, part)
    columns = slice(area.left, area.right)
    dark = score.systems[part.at].darkness[columns]
    return painted(numpy.where(_kept(score, part)[columns], dark, 0).astype(numpy.uint8), tone)


@lru_cache(maxsize=4)
def _kept(score: Score, part: Part) -> Mask:
    """What of the picture belongs to a part: array (width, height) of bool."""
    system = score.systems[part.at]
    wide, high = system.size
    kept = numpy.zeros((wide, high), dtype=bool)
    kept[part.left : part.right] = True
    staves = [(round(staff.top), round(staff.bottom)) for staff in score.engraved.systems[part.at].staves]
    # Within the staves a barline parts what is on both sides.
    tops, ends = [0, *(low + 2 for _, low in staves)], [*(top - 1 for top, _ in staves), high]
    for edge, right in ((part.left, True), (part.right, False)):
        if not 0 < edge < wide:
            continue
        for top, low in zip(tops, ends, strict=True):
            for sign in _over(system, edge, top, low):
                kept[sign[0], sign[1] + top] = bool(sign[0].mean() >= edge) == right
    return kept


Sign = tuple[NDArray[numpy.intp], NDArray[numpy.intp]]


def _over(system: System, edge: int, top: int, low: int) -> list[Sign]:
    """Signs between two staves that reach over an edge: the columns of their pixels, and the rows from `top`."""
    far = round(_WIDEST * system.space)
    left = max(0, edge - far)
    ink = system.darkness[left : edge + far, top:low] > 0
    if not ink.size:
        return []
    # A barline goes through all of it.
    ink = ink & ~ink.all(axis=1, keepdims=True)
    at, near = edge - left, max(1, round(_NEAR * system.space))
    found = []
    rows = numpy.flatnonzero(ink[max(0, at - near) : at + near].any(axis=0))
    for row in rows:
        seed = numpy.zeros_like(ink)
        seed[max(0, at - near) : at + near, row] = ink[max(0, at - near) : at + near, row]
        if not seed.any():
            continue
        sign = _grown(seed, ink, near)
        ink = ink & ~sign
        columns, lines = numpy.nonzero(sign)
        if columns.min() < at <= columns.max() and columns.min() > 0 and columns.max() < ink.shape[0] - 1:
            found.append((columns + left, lines))
    return found


def _grown(seed: Mask, ink: Mask, near: int) -> Mask:
    """All ink that hangs together with a seed, gaps of so many columns and of a row between."""
    while True:
        wider = seed.copy()
        for by in range(1, near + 1):
            wider[by:] |= seed[:-by]
            wider[:-by] |= seed[by:]
        for by in (1, 2):
            wider[:, by:] |= seed[:, :-by]
            wider[:, :-by] |= seed[:, by:]
        wider &= ink
        if (wider == seed).all():
            return seed
        seed = wider


def _lay_number(canvas: Canvas, score: Score, part: Part, system: System, corner: tuple[int, int]) -> None:
    """The number of the bar that a part begins with, clear of what stands under it."""
    bar = next((bar for bar, left, _ in system.bars if left >= part.left - 1), None)
    number = score.piece.bars[bar].number if bar is not None else 0
    if not number:
        return
    text = score.engraved.look.ribbon_px or 2 * system.space
    size = _NUMBER * text
    wide = round(fonts.width(str(number), fonts.ROMAN, size))
    first = score.engraved.systems[part.at].staves[0]
    under = _kept(score, part)[part.left : part.left + wide, : round(first.top)]
    under = under & system.mask[part.left : part.left + wide, : round(first.top)]
    rows = numpy.flatnonzero(under.any(axis=0))
    foot = first.top - _FOOT * text
    if len(rows):
        foot = min(foot, rows[0] - _AIR * text)
    tone, left = canvas.colour("ink"), corner[0] + part.left
    top = round(corner[1] + foot - fonts.baseline(size))
    rect = Rect(left, round(corner[1] + foot - size), wide + 2, round(size * 1.1))

    def paint(surface: pygame.Surface) -> None:
        surface.blit(fonts.line(str(number), fonts.ROMAN, size, tone), (left, top))

    canvas.add(Box("music.number", rect, (number, size, left, top, tone), paint, OVER, str(number), rect))
