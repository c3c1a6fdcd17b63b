"""Smooth shapes: a scrap of SVG made into a picture once and kept. All that is curved on the screen comes from here."""

from __future__ import annotations

import io
from collections import OrderedDict

import pygame

from trainer.window.paint.signs import outline

# Pixels of pictures kept, four bytes each: all the small signs of a screen and a few large drawings.
_KEPT = 3_000_000
_pictures: OrderedDict[tuple[str, int, int], pygame.Surface] = OrderedDict()
_held = 0


def picture(body: str, width: int, height: int) -> pygame.Surface:
    """SVG elements `body`, in pixels of a box `width` × `height`, as a picture with see-through ground."""
    global _held
    key = body, width, height
    found = _pictures.get(key)
    if found is not None:
        _pictures.move_to_end(key)
        return found
    made = _pictures[key] = _made(body, width, height)
    _held += width * height
    # A drawing is different after every take: those of takes long gone make room.
    while _held > _KEPT and len(_pictures) > 1:
        (_, wide, high), _ = _pictures.popitem(last=False)
        _held -= wide * high
    return made


def _made(body: str, width: int, height: int) -> pygame.Surface:
    import resvg_py

    text = f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}">{body}</svg>'
    data = bytes(resvg_py.svg_to_bytes(svg_string=text, skip_system_fonts=True))
    surface = pygame.image.load(io.BytesIO(data), "shape.png")
    return surface.convert_alpha() if pygame.display.get_surface() else surface


def sign(code: str, x: float, y: float, space: float, fill: str, heavier: float = 0.0) -> str:
    """A music sign as an SVG element: its origin at (x, y), `space` pixels to the staff space; empty if not there.

    `heavier` pixels of stroke are laid round the outline.
    """
    found = outline(code)
    if found is None:
        return ""
    scale = space / 250.0
    stroke = f' stroke="{fill}" stroke-width="{heavier / scale:.1f}"' if heavier else ""
    place = f"translate({x:.2f} {y:.2f}) scale({scale:.5f} {-scale:.5f})"
    return f'<path transform="{place}" fill="{fill}"{stroke} d="{found.path}"/>'
