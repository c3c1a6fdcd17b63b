"""Titles of pieces, shortened as a librarian would: what stands in brackets goes first, then what follows a comma."""

from __future__ import annotations

import re

from pygame import Rect

from trainer.window.paint import fonts
from trainer.window.paint.canvas import Canvas

# Titles are not made smaller than this before something is left out of them.
_WHOLE = 0.85


def unbracketed(words: str) -> str:
    """Words without what stands in brackets.

    >>> unbracketed("Lightly Row (Hänschen klein), bars 4 and 5 in G major")
    'Lightly Row, bars 4 and 5 in G major'
    """
    return re.sub(r" \([^()]*\)", "", words)


def lay(
    canvas: Canvas, name: str, rect: Rect, title: str, *, size: float, style: str = fonts.ROMAN, after: str = ""
) -> Rect:
    """Lay a title with what belongs after it, such as its key, which is never cut; returns where it stands."""
    variants = (title, title.split(" (")[0], title.split(" (")[0].split(",")[0])
    said = [f"{one} · {after}" if after and after not in one else one for one in variants]
    words = next((one for one in said if canvas.width(one, style, size * _WHOLE) <= rect.width), "")
    if words or not after:
        return canvas.words(name, rect, words or said[-1], style=style, size=size, least=0.72)
    wide = min(rect.width, canvas.width(f" · {after}", style, size * _WHOLE) + 2)
    front = Rect(rect.left, rect.top, max(1, rect.width - wide), rect.height)
    extent = canvas.words(name, front, variants[-1], style=style, size=size, least=_WHOLE)
    back = Rect(extent.right + 2, rect.top, rect.right - extent.right - 2, rect.height)
    return extent.union(canvas.words(f"{name}.after", back, f"· {after}", style=style, size=size * _WHOLE))
