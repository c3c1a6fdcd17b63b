"""What a screen lays out: boxes on paper, each with its place, its state and a way to paint it.

A screen lays its boxes anew for every frame; only boxes whose place or state changed are painted again. Tests read
the same boxes: text outside its box, and boxes that overlap, are found by rectangles and not by pictures.
"""

from __future__ import annotations

import contextlib
import math
import random
from collections.abc import Callable, Hashable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cache, lru_cache

import pygame
from pygame import Rect

from trainer.window.paint import fonts, shapes
from trainer.window.paint.theme import Colour, Theme, hexed, mixed

LEFT = "left"
CENTRE = "centre"
RIGHT = "right"
TOP = "top"
MIDDLE = "middle"
BOTTOM = "bottom"

# Kinds of boxes: things that may not lie on each other; grounds, on which others lie; and what lies over others.
SOLID = "solid"
GROUND = "ground"
OVER = "over"


@dataclass(frozen=True, slots=True)
class Box:
    """One thing drawn.

    Parameters
    ----------
    name : str
        Unique on its screen.
    rect : Rect
        Everything it paints lies inside.
    state : hashable
        Changes when the painting would.
    paint : callable
        Paints on the given surface, whose clip is set.
    kind : str
        ``solid``, ``ground`` or ``over``.
    text : str
        The words it shows, if any.
    extent : Rect or None
        Where its text stands.
    cut : bool
        Words had to be left out for want of room.
    """

    name: str
    rect: Rect
    state: Hashable
    paint: Callable[[pygame.Surface], None]
    kind: str = SOLID
    text: str = ""
    extent: Rect | None = None
    cut: bool = False


@lru_cache(maxsize=3)
def paper(size: tuple[int, int], theme: Theme) -> pygame.Surface:
    """The ground: paper under a lamp, a breath lighter above its middle and darker toward the corners."""
    middle, edge = theme["paper"], theme["lamp_edge"]
    glow = (
        f'<defs><radialGradient id="g" cx="0.5" cy="0.42" r="0.85"><stop offset="0" stop-color="{hexed(middle)}"/>'
        f'<stop offset="0.45" stop-color="{hexed(mixed(middle, edge, 0.3))}"/>'
        f'<stop offset="1" stop-color="{hexed(edge)}"/></radialGradient></defs>'
        f'<rect width="{_COARSE[0]}" height="{_COARSE[1]}" fill="url(#g)"/>'
    )
    surface = pygame.transform.smoothscale(shapes.picture(glow, *_COARSE), size)
    grain = _grain()
    for left in range(0, size[0], _TILE):
        for top in range(0, size[1], _TILE):
            surface.blit(grain, (left, top), special_flags=pygame.BLEND_RGB_ADD)
    return surface.convert() if pygame.display.get_init() and pygame.display.get_surface() else surface


# The glow is drawn so small and enlarged: it has no detail.
_COARSE = (320, 200)
_TILE = 256


@cache
def _grain() -> pygame.Surface:
    """A tile of noise one tone deep: it hides the steps between neighbouring tones."""
    noise = random.Random(7).randbytes(_TILE * _TILE * 3).translate(bytes(value & 1 for value in range(256)))
    tile = pygame.image.frombytes(noise, (_TILE, _TILE), "RGB")
    return tile.convert() if pygame.display.get_init() and pygame.display.get_surface() else tile


Kept = tuple[tuple[Hashable, ...], list[Box]]


def _high(count: int, pixels: float) -> float:
    """Height of so many lines of text."""
    return (count - 1) * pixels * 1.16 + pixels


@lru_cache(maxsize=4096)
def _fitted(
    text: str, style: str, pixels: float, least: float, wide: int, high: int, lines: int
) -> tuple[tuple[str, ...], float, bool]:
    """Text broken and made smaller for a box: its lines, its size, and whether words had to be left out."""
    smallest = pixels * least
    while True:
        broken = fonts.wrapped(text, style, pixels, wide) if lines > 1 else [text]
        widest = max(fonts.width(line, style, pixels) for line in broken)
        fits = widest <= wide and len(broken) <= lines
        if fits and _high(len(broken), pixels) <= high + 1:
            break
        if pixels - 1 / 3 < smallest:
            break
        # One line is as wide as its size is large; more lines break anew with every size.
        less = wide / widest if lines == 1 and widest > wide else 0.95
        pixels = max(smallest, min(pixels - 1 / 3, math.floor(pixels * less * 3) / 3))
    room = max(1, min(lines, int((high + pixels * 0.25) // (pixels * 1.16)))) if lines > 1 else 1
    cut = len(broken) > room
    if cut:
        broken = [*broken[: room - 1], " ".join(broken[room - 1 :])]
    shown = tuple(fonts.shortened(line, style, pixels, wide) for line in broken)
    return shown, pixels, cut or shown != tuple(broken)


def _within(box: Box, part: Rect) -> list[Box]:
    """What a part of the window shows of a box: words wholly or not at all."""
    if box.text:
        return [box] if part.collidepoint((box.extent or box.rect).center) else []

    def paint(surface: pygame.Surface) -> None:
        clip = surface.get_clip()
        surface.set_clip(clip.clip(part))
        box.paint(surface)
        surface.set_clip(clip)

    return [replace(box, rect=box.rect.clip(part), paint=paint)] if part.colliderect(box.rect) else []


class Canvas:
    """The boxes of one frame.

    Parameters
    ----------
    size : (int, int)
        Pixels.
    theme : Theme
    scale : float
        Text scale, 0.8 to 2.
    kept : dict, optional
        Boxes of earlier frames, for `again`.
    """

    def __init__(
        self, size: tuple[int, int], theme: Theme, scale: float = 1.0, kept: dict[str, Kept] | None = None
    ) -> None:
        self._kept = kept if kept is not None else {}
        self.size = size
        self.theme = theme
        self.scale = scale
        self.unit = min(size[1] / 40, size[0] / 60) * scale
        self.boxes: list[Box] = []

    @contextlib.contextmanager
    def smaller(self, share: float) -> Iterator[None]:
        """Lay at a share of the text size, for a card that would not fit otherwise."""
        unit = self.unit
        self.unit = unit * min(1.0, share)
        try:
            yield
        finally:
            self.unit = unit

    @contextlib.contextmanager
    def only(self, part: Rect) -> Iterator[None]:
        """Of what is laid meanwhile show what lies in a part of the window: words as a whole or not at all."""
        begun = len(self.boxes)
        yield
        self.boxes[begun:] = [shown for box in self.boxes[begun:] for shown in _within(box, part)]

    @property
    def rect(self) -> Rect:
        return Rect(0, 0, *self.size)

    def colour(self, token: str) -> Colour:
        return self.theme[token]

    def add(self, box: Box) -> None:
        self.boxes.append(box)

    def again(self, name: str, state: Hashable, lay: Callable[[], None]) -> None:
        """Lay a part of the screen, or take its boxes from the last frame when `state` is the same.

        `state` must tell everything the part depends on but size, theme and text scale.
        """
        whole = (state, self.size, self.theme.name, self.scale)
        kept = self._kept.get(name)
        if kept is not None and kept[0] == whole:
            self.boxes += kept[1]
            return
        begun = len(self.boxes)
        lay()
        self._kept[name] = (whole, self.boxes[begun:])

    def still(self, name: str) -> bool:
        """Lay a part as it was last; False when it has to be laid anew."""
        kept = self._kept.get(name)
        if kept is None or kept[0][1:] != (self.size, self.theme.name, self.scale):
            return False
        self.boxes += kept[1]
        return True

    def words(
        self,
        name: str,
        rect: Rect,
        text: str,
        *,
        style: str = fonts.ROMAN,
        size: float = 1.0,
        colour: str = "ink",
        align: str = LEFT,
        stand: str = MIDDLE,
        lines: int = 1,
        least: float = 0.72,
        kind: str = SOLID,
    ) -> Rect:
        """Text in a box, broken into at most `lines` lines, made smaller down to `least` when it must be.

        `size` is in units of the window (one unit: 1/40 of its height, times the text scale). Returns where the
        text stands.
        """
        pixels = round(size * self.unit * 3) / 3
        shown, pixels, cut = _fitted(text, style, pixels, least, rect.width, rect.height, lines)
        tone = self.theme[colour]
        return self._lines(name, rect, text, shown, style, pixels, tone, align, stand, kind, cut)

    def _lines(
        self,
        name: str,
        rect: Rect,
        text: str,
        shown: tuple[str, ...],
        style: str,
        pixels: float,
        tone: Colour,
        align: str,
        stand: str,
        kind: str,
        cut: bool,
    ) -> Rect:
        step = pixels * 1.16
        high = _high(len(shown), pixels)
        top = {TOP: rect.top, MIDDLE: rect.top + (rect.height - high) / 2, BOTTOM: rect.bottom - high}[stand]
        placed: list[tuple[str, int, int]] = []
        extent: Rect | None = None
        for at, words in enumerate(shown):
            wide = fonts.width(words, style, pixels)
            x = {LEFT: rect.left, CENTRE: rect.left + (rect.width - wide) / 2, RIGHT: rect.right - wide}[align]
            # Capitals and descenders share the size evenly: the baseline lies 0.77 of it below the line's top.
            y = top + at * step + pixels * 0.77 - fonts.baseline(pixels)
            placed.append((words, round(x), round(y)))
            stands = Rect(round(x), round(top + at * step), max(1, round(wide)), round(pixels))
            extent = stands if extent is None else extent.union(stands)
        assert extent is not None

        def paint(surface: pygame.Surface) -> None:
            for words, x, y in placed:
                surface.blit(fonts.line(words, style, pixels, tone), (x, y))

        grown = rect.union(extent.inflate(round(pixels * 0.5), round(pixels * 0.5)))
        self.add(Box(name, grown, (tuple(placed), style, pixels, tone), paint, kind, text, extent, cut))
        return extent

    def width(self, text: str, style: str = fonts.ROMAN, size: float = 1.0) -> int:
        """Pixels a line of text would take."""
        return round(fonts.width(text, style, round(size * self.unit * 3) / 3) + 0.5)

    def lines(self, text: str, style: str, size: float, wide: int) -> int:
        """Lines a text is broken into in so many pixels."""
        return len(fonts.wrapped(text, style, round(size * self.unit * 3) / 3, wide))

    def shape(self, name: str, rect: Rect, body: str, kind: str = SOLID) -> None:
        """Smooth shapes: SVG elements in pixels of the box."""
        where = rect.topleft

        def paint(surface: pygame.Surface) -> None:
            surface.blit(shapes.picture(body, rect.width, rect.height), where)

        self.add(Box(name, Rect(rect), body, paint, kind))

    def fill(self, name: str, rect: Rect, colour: str, kind: str = GROUND) -> None:
        """A plain rectangle."""
        tone = self.theme[colour]
        self.add(Box(name, Rect(rect), tone, lambda surface: surface.fill(tone, rect) and None, kind))

    def rule(self, name: str, rect: Rect, colour: str = "rule") -> None:
        """A thin line: a rectangle one or two pixels across."""
        self.fill(name, rect, colour, SOLID)

    def picture(
        self,
        name: str,
        rect: Rect,
        surface: pygame.Surface,
        state: Hashable,
        kind: str = SOLID,
        area: Rect | None = None,
    ) -> None:
        """A ready picture, its top left at the box's."""

        def paint(target: pygame.Surface) -> None:
            target.blit(surface, rect.topleft, area)

        self.add(Box(name, Rect(rect), (state, id(surface)), paint, kind))

    def panel(
        self, name: str, rect: Rect, fill: str | None = None, edge: str | None = "rule", radius: float = 0.4
    ) -> None:
        """A rounded ground for other boxes."""
        corner = radius * self.unit
        body = (
            f'<rect x="0.75" y="0.75" width="{rect.width - 1.5}" height="{rect.height - 1.5}" rx="{corner:.1f}" '
            f'fill="{hexed(self.theme[fill]) if fill else "none"}" '
            f'stroke="{hexed(self.theme[edge]) if edge else "none"}" stroke-width="1.2"/>'
        )
        self.shape(name, rect, body, GROUND)


class Easel:
    """Keeps what is on the screen and paints only what changed."""

    def __init__(self) -> None:
        self._shown: dict[str, Box] = {}
        self._ground: tuple[tuple[int, int], Theme] | None = None

    def forget(self) -> None:
        """Everything is to be painted again."""
        self._ground = None

    def paint(self, surface: pygame.Surface, canvas: Canvas) -> list[Rect]:
        """Paint the difference to the last frame. Returns the rectangles touched."""
        ground = (canvas.size, canvas.theme)
        now = {box.name: box for box in canvas.boxes}
        dirty = [canvas.rect] if ground != self._ground else _joined(self._changes(now), canvas.rect)
        self._ground = ground
        self._shown = now
        if not dirty:
            return dirty
        back = paper(canvas.size, canvas.theme)
        places = [box.rect for box in canvas.boxes]
        for rect in dirty:
            surface.set_clip(rect)
            surface.blit(back, rect.topleft, rect)
            for at in rect.collidelistall(places):
                canvas.boxes[at].paint(surface)
        surface.set_clip(None)
        return dirty

    def _changes(self, now: dict[str, Box]) -> Iterable[Rect]:
        for name, box in now.items():
            old = self._shown.get(name)
            if old is box:
                continue
            if old is None:
                yield box.rect
            elif old.rect != box.rect or old.state != box.state:
                yield box.rect
                yield old.rect
        for name, old in self._shown.items():
            if name not in now:
                yield old.rect


def _joined(rects: Iterable[Rect], whole: Rect) -> list[Rect]:
    """Few rectangles that hold all: touching ones are joined; many become one."""
    found: list[Rect] = []
    for rect in rects:
        current = rect.clip(whole)
        if not current.width or not current.height:
            continue
        at = current.collidelist(found)
        while at >= 0:
            current = current.union(found.pop(at))
            at = current.collidelist(found)
        found.append(current)
    if len(found) > 24:
        return [found[0].unionall(found[1:])]
    return found
