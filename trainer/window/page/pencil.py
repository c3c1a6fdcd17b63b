"""The teacher's pencil: every mark as a shape drawn beside its note, so that meaning never rests on colour.

Shapes follow what teachers and proof-readers write by hand: a ring, a large accidental, a slanted arrow, a caret, a
breath comma. They are made from strokes that are not quite regular, the same for the same note every time.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterable
from dataclasses import dataclass

import numpy
from pygame import Rect

from trainer.following import marks
from trainer.window.paint import fonts
from trainer.window.paint.shapes import sign
from trainer.window.paint.signs import BLACK_HEAD, HALF_HEAD, TEXT_SIGNS

_ACCIDENTALS = {-2: "𝄫", -1: "♭", 0: "♮", 1: "♯", 2: "𝄪"}


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a note stands on the screen.

    Parameters
    ----------
    x, y : float
        Centre of the head, pixels.
    space : float
        Staff space in pixels.
    top, bottom : float
        First and last line of its staff.
    """

    x: float
    y: float
    space: float
    top: float
    bottom: float


@dataclass(frozen=True, slots=True)
class Word:
    """Letters the pencil writes: text, left edge, middle height, size in pixels."""

    text: str
    left: float
    middle: float
    size: float
    style: str = fonts.ITALIC


@dataclass(frozen=True, slots=True)
class Stroke:
    """One mark drawn: its box, SVG elements in pixels of the box, and words in pixels of the window."""

    rect: Rect
    body: str
    words: tuple[Word, ...] = ()


# Heights at which the arrow of a move may run: between staff and syllables, or under these.
_FLOORS = 6

Mask = numpy.ndarray[tuple[int, int], numpy.dtype[numpy.bool_]]


class Room:
    """What is already taken on the page, so that marks find a free place.

    Parameters
    ----------
    ink : array (width, height) of bool
        Where the engraving is inked.
    taken : rectangles
        Of syllables and other marks.
    """

    def __init__(self, ink: Mask, taken: Iterable[Rect] = ()) -> None:
        self._ink = ink
        self._taken = list(taken)

    def take(self, rect: Rect) -> Rect:
        self._taken.append(rect)
        return rect

    def free(self, rect: Rect) -> None:
        self._taken.remove(rect)

    def overlap(self, rect: Rect) -> int:
        """Square pixels of the rectangle that are inked or outside the picture, and all that others have taken."""
        clips = (rect.clip(other) for other in self._taken if rect.colliderect(other))
        others = sum(clip.width * clip.height for clip in clips)
        left, top = max(0, rect.left), max(0, rect.top)
        inside = self._ink[left : max(left, rect.right), top : max(top, rect.bottom)]
        return 4 * others + 2 * int(numpy.count_nonzero(inside)) + self._outside(rect)

    def gaps(self, strip: Rect, air: int) -> list[tuple[int, int]]:
        """From where to where a strip is free of ink over its whole height, `air` pixels kept on both sides of any."""
        rows = slice(max(0, strip.top), max(0, strip.bottom))
        inked = numpy.flatnonzero(self._ink[max(0, strip.left) : strip.right, rows].any(axis=1)) + max(0, strip.left)
        found, start = [], strip.left
        for x in (*inked.tolist(), strip.right + air):
            if x - air > start:
                found.append((start, x - air))
            start = max(start, x + air)
        return found

    def _outside(self, rect: Rect) -> int:
        """Above and under the picture there is air, for a while; beside it there is none."""
        wide, high = self._ink.shape
        air = high // 6
        kept = rect.clip(Rect(0, -air, wide, high + 2 * air))
        return 4 * (rect.width * rect.height - kept.width * kept.height)

    def best(self, choices: Iterable[Rect]) -> Rect:
        """The rectangle that covers least, earlier ones preferred (a staff line hardly counts); it is taken."""
        (best,) = self.best_parts([(rect,) for rect in choices])
        return self.take(best)

    def best_parts(self, choices: Iterable[tuple[Rect, ...]]) -> tuple[Rect, ...]:
        """As `best`, of marks made of several rectangles that leave the rest of their box free; none is taken."""
        best: tuple[Rect, ...] | None = None
        least = math.inf
        for number, parts in enumerate(choices):
            covered = sum(self.overlap(part) / max(1, part.width * part.height) for part in parts)
            cost = 3 * max(0.0, covered - 0.06) + 0.012 * number
            if cost < least:
                best, least = parts, cost
        assert best is not None
        return best


def _box(x: float, y: float, wide: float, high: float) -> Rect:
    """A box of pixels round a centre."""
    left, top = math.floor(x - wide / 2), math.floor(y - high / 2)
    return Rect(left, top, math.ceil(wide) + 1, math.ceil(high) + 1)


def _path(rect: Rect, data: str, tone: str, thick: float) -> str:
    """A stroke given in window pixels, moved into its box."""
    return (
        f'<g transform="translate({-rect.left} {-rect.top})"><path d="{data}" fill="none" stroke="{tone}" '
        f'stroke-width="{thick:.2f}" stroke-linecap="round" stroke-linejoin="round"/></g>'
    )


def _thick(space: float) -> float:
    return max(1.4, space * 0.17)


def ring(spot: Spot, tone: str, room: Room, letter: str) -> Stroke:
    """The note ringed, the written letter beside it."""
    chance = random.Random(round(spot.x * 7 + spot.y))
    s = spot.space
    wide, high = 1.45 * s, 1.12 * s
    turn = math.radians(-14 + chance.uniform(-5, 5))
    points = []
    start = chance.uniform(3.6, 4.2)
    for at in range(26):
        angle = start + at * 2 * math.pi * 1.07 / 25
        grow = 1.0 + 0.07 * at / 25 + 0.025 * math.sin(angle * 2 + start)
        px, py = wide * grow * math.cos(angle), high * grow * math.sin(angle)
        points.append((spot.x + px * math.cos(turn) - py * math.sin(turn),
                       spot.y + px * math.sin(turn) + py * math.cos(turn)))  # fmt: skip
    hoop = _box(spot.x, spot.y, 3.9 * s, 3.2 * s)
    room.take(hoop)
    size = 2.5 * s
    wide_word = fonts.width(letter, fonts.ITALIC, size)
    places = [(1.0, -1.7), (-1.0, -1.7), (1.0, 1.9), (-1.0, 1.9), (1.0, -2.9), (-1.0, -2.9), (1.0, 0.0), (-1.0, 0.0),
              (0.0, -2.6), (0.0, 2.6), (1.7, -1.0), (-1.7, -1.0), (1.7, 1.2), (-1.7, 1.2),
              (0.0, 3.3), (0.0, -3.3)]  # fmt: skip
    choices = []
    for side, rise in places:
        x = spot.x + side * (1.35 * s + wide_word / 2)
        choices.append(_box(x, spot.y + rise * s, wide_word, size * 0.78))
    written = room.best(choices)
    rect = hoop.union(written.inflate(4, round(size * 0.5)))
    word = Word(letter, written.left, written.centery, size)
    return Stroke(rect, _path(rect, _smooth(points), tone, _thick(s)), (word,))


def _smooth(points: list[tuple[float, float]]) -> str:
    """A curve through points (Catmull-Rom as cubic Béziers)."""
    data = [f"M{points[0][0]:.1f} {points[0][1]:.1f}"]
    for at in range(len(points) - 1):
        before = points[max(0, at - 1)]
        here, there = points[at], points[at + 1]
        after = points[min(len(points) - 1, at + 2)]
        data.append(
            f"C{here[0] + (there[0] - before[0]) / 6:.1f} {here[1] + (there[1] - before[1]) / 6:.1f} "
            f"{there[0] - (after[0] - here[0]) / 6:.1f} {there[1] - (after[1] - here[1]) / 6:.1f} "
            f"{there[0]:.1f} {there[1]:.1f}"
        )
    return "".join(data)


def _above(spot: Spot, wide: float, high: float, room: Room) -> Rect:
    """A free box above note and staff, else under them."""
    s = spot.space
    top = min(spot.y - 1.1 * s, spot.top - 0.6 * s) - high / 2
    low = max(spot.y + 1.1 * s, spot.bottom + 0.6 * s) + high / 2
    steps = [top - rise * s for rise in (0, 0.8, 1.6, 2.4, 3.2, 4.2, 5.2)]
    choices = [_box(spot.x + aside * s, y, wide, high) for y in steps for aside in (0, 0.7, -0.7)]
    beside = [_box(spot.x + side * (wide / 2 + 1.0 * s), spot.y - rise * s, wide, high)
              for rise in (0.0, 1.4) for side in (-1, 1)]  # fmt: skip
    return room.best([*choices, *beside, _box(spot.x, low, wide, high)])


def accidental(spot: Spot, tone: str, room: Room, alteration: int) -> Stroke:
    """The forgotten accidental written large above the note."""
    s = spot.space * 1.35
    rect = _above(spot, 1.3 * s, 3.0 * s, room)
    code = TEXT_SIGNS[_ACCIDENTALS.get(alteration, "♮")]
    centre = rect.height / 2 + (0.55 * s if alteration < 0 else 0.0)
    return Stroke(rect, sign(code, rect.width / 2 - 0.38 * s, centre, s, tone, s * 0.07))


def arrow(spot: Spot, tone: str, room: Room, up: bool) -> Stroke:
    """A short slanted arrow toward the right line or space: it comes from the side on which the hand fell."""
    s = spot.space
    way = 1 if up else -1
    choices = []
    for side in (-1, 1):
        choices.append(_box(spot.x + side * 2.0 * s, spot.y + way * 1.25 * s, 2.2 * s, 2.2 * s))
    rect = room.best(choices)
    side = -1 if rect.centerx < spot.x else 1
    from_x, from_y = rect.centerx + side * 0.85 * s, rect.centery + way * 0.85 * s
    to_x, to_y = rect.centerx - side * 0.8 * s, rect.centery - way * 0.8 * s
    head = 0.85 * s
    data = (
        f"M{from_x:.1f} {from_y:.1f}L{to_x:.1f} {to_y:.1f}"
        f"M{to_x + side * head:.1f} {to_y + way * 0.12 * s:.1f}L{to_x:.1f} {to_y:.1f}"
        f"L{to_x + side * 0.12 * s:.1f} {to_y + way * head:.1f}"
    )
    return Stroke(rect, _path(rect, data, tone, _thick(s)))


def eight(spot: Spot, tone: str, room: Room, up: bool) -> Stroke:
    """8 with an arrow toward the right octave."""
    s = spot.space
    size = 2.5 * s
    rect = _above(spot, 2.6 * s, 2.3 * s, room)
    x = rect.left + rect.width * 0.72
    top, low = rect.centery - 0.9 * s, rect.centery + 0.9 * s
    tip, tail = (top, low) if up else (low, top)
    way = 1 if up else -1
    data = (
        f"M{x:.1f} {tail:.1f}L{x:.1f} {tip:.1f}M{x - 0.5 * s:.1f} {tip + way * 0.6 * s:.1f}L{x:.1f} {tip:.1f}"
        f"L{x + 0.5 * s:.1f} {tip + way * 0.6 * s:.1f}"
    )
    word = Word("8", rect.left + 0.15 * s, rect.centery, size)
    return Stroke(rect.inflate(0, round(s)), _path(rect.inflate(0, round(s)), data, tone, _thick(s)), (word,))


def bracket(first: Spot, last: Spot, tone: str, room: Room, label: str) -> Stroke:
    """A bracket over a run, or under it where over it is no room, with the interval by which the hand was displaced.

    Over the run the interval stands on the line, under it before the line, as an octave sign does: so it fits between
    the staff and its row of syllables, where the pencil is lifted over a finger, or under that.
    """
    s = first.space
    left, right = first.x - 1.1 * s, max(last.x, first.x) + 1.1 * s
    size = 2.0 * s
    word, leg = fonts.width(label, fonts.ITALIC, size), 0.8 * s
    top = min(first.y, last.y, first.top) - 1.6 * s
    low = max(first.y, last.y, first.bottom) + 0.4 * s

    def over(line: float) -> tuple[Rect, ...]:
        written = Rect(round(left), round(line - leg - size - 0.1 * s), round(word), round(size))
        return written, Rect(round(left), round(line - leg), round(right - left), round(leg))

    def under(line: float, aside: float) -> tuple[Rect, ...]:
        written = Rect(round(left + aside), round(line), round(word), round(size * 0.9))
        start = written.right + round(0.4 * s)
        return written, Rect(start, round(written.centery - leg), max(round(leg), round(right) - start), round(leg))

    choices = [
        *(over(top - rise * s) for rise in (0.0, 1.2, 2.4, 3.6)),
        *(under(low + d * 0.5 * s, aside * s) for d in range(11) for aside in (0.0, 2.2)),
    ]
    written, line = room.best_parts(choices)
    if written.bottom <= line.top:
        data = f"M{line.left} {line.bottom}V{line.top}H{line.right}V{line.bottom}"
    else:
        strip = line.move(0, round(leg / 2))
        data = "".join(f"M{start} {line.bottom}H{end}" for start, end in room.gaps(strip, round(0.4 * s)))
        data += f"M{line.right} {line.bottom}V{line.top}"
    box = room.take(written.union(line).inflate(6, 6))
    return Stroke(box, _path(box, data, tone, _thick(s)), (Word(label, written.left, written.centery, size),))


def tick(spot: Spot, tone: str, room: Room) -> Stroke:
    """A tick beside the head: a neighbouring key was brushed."""
    s = spot.space
    choices = [_box(spot.x + side * 1.65 * s, spot.y + rise * s, 1.3 * s, 1.4 * s)
               for side, rise in ((1, -0.9), (-1, -0.9), (1, 1.0), (-1, 1.0))]  # fmt: skip
    rect = room.best(choices)
    data = (
        f"M{rect.left + 0.2 * s:.1f} {rect.centery:.1f}l{0.3 * s:.1f} {0.45 * s:.1f}q{0.2 * s:.1f} {-0.8 * s:.1f} "
        f"{0.6 * s:.1f} {-1.0 * s:.1f}"
    )
    return Stroke(rect, _path(rect, data, tone, _thick(s)))


def caret(spot: Spot, tone: str, room: Room) -> Stroke:
    """A caret under a note that was left out."""
    s = spot.space
    choices = [_box(spot.x, spot.y + drop * s, 1.9 * s, 1.2 * s) for drop in (1.35, 2.2, 3.0)]
    rect = room.best(choices)
    data = (
        f"M{rect.left + 0.2 * s:.1f} {rect.bottom - 0.2 * s:.1f}L{rect.centerx:.1f} {rect.top + 0.2 * s:.1f}"
        f"L{rect.right - 0.2 * s:.1f} {rect.bottom - 0.15 * s:.1f}"
    )
    return Stroke(rect, _path(rect, data, tone, _thick(s)))


def head(spot: Spot, tone: str, room: Room, cause: str, steps: int) -> Stroke:
    """A small head at the pitch that sounded, `steps` letters above the spot: hollow, doubled or struck through."""
    s = spot.space * 0.86
    y = spot.y - steps * spot.space / 2
    # A wrong key stays close beside the note it was meant for: farther off it could be taken for another's.
    wide, asides = (1.7, (1.9, -1.4, 1.4, -2.0)) if cause == marks.WRONG else (3.1, (2.5, -2.5, 3.6, -3.6, 4.8, 6.0))
    rect = room.best([_box(spot.x + aside * spot.space, y, wide * s, 2.2 * s) for aside in asides])
    x, y = rect.width / 2, rect.height / 2
    if cause == marks.WRONG:
        body = sign(HALF_HEAD, x - 0.63 * s, y, s, tone)
    elif cause == marks.REPEATED:
        body = sign(BLACK_HEAD, x - 1.05 * s, y, s, tone) + sign(BLACK_HEAD, x - 0.05 * s, y, s, tone)
    else:
        body = sign(BLACK_HEAD, x - 0.63 * s, y, s, tone)
        body += (
            f'<path d="M{x - 1.2 * s:.1f} {y + 0.85 * s:.1f}L{x + 1.2 * s:.1f} {y - 0.85 * s:.1f}" '
            f'stroke="{tone}" stroke-width="{_thick(s):.1f}" stroke-linecap="round"/>'
        )
    return Stroke(rect, body + _ledgers(spot, rect, steps, tone))


def _ledgers(spot: Spot, rect: Rect, steps: int, tone: str) -> str:
    """Short lines for a head outside the staff."""
    y = spot.y - steps * spot.space / 2
    lines = []
    level = spot.top - spot.space
    while y <= level + 1:
        lines.append(level)
        level -= spot.space
    level = spot.bottom + spot.space
    while y >= level - 1:
        lines.append(level)
        level += spot.space
    shown = [line - rect.top for line in lines if rect.top < line < rect.bottom]
    return "".join(
        f'<path d="M{rect.width * 0.1:.1f} {line:.1f}H{rect.width * 0.9:.1f}" stroke="{tone}" stroke-width="1.2"/>'
        for line in shown
    )


def comma(spot: Spot, tone: str, room: Room, seconds: float) -> Stroke:
    """A breath comma above the staff, with the seconds of waiting where they can be read."""
    s = spot.space
    text = f"{seconds:.1f} s" if seconds < 9.95 else f"{seconds:.0f} s"
    size = 1.75 * s
    wide = fonts.width(text, fonts.ITALIC, size)
    x = spot.x - 1.7 * s
    # Over the note, or, where a tall sign stands there, before it.
    choices = [Rect(round(x - back - 0.5 * s), round(spot.top - rise * s), round(1.3 * s + wide), round(1.9 * s))
               for back in (0.0, wide + 0.2 * s) for rise in (2.3, 3.2, 4.2, 5.2)]  # fmt: skip
    # Small figures on a finger, even on its edge, could not be read: rather than there the comma stands alone.
    alone = [Rect(choice.left, choice.top, round(1.3 * s), choice.height) for choice in choices]
    free = [[one for one in some if not room.overlap(one)] for some in (choices, alone)]
    rect = room.best(free[0] or free[1] or choices)
    px, py = rect.left + 0.5 * s, rect.top + 0.65 * s
    data = f"M{px:.1f} {py:.1f}q{0.75 * s:.1f} {0.2 * s:.1f} {-0.2 * s:.1f} {1.15 * s:.1f}"
    body = _path(rect, data, tone, _thick(s) * 1.3)
    body += f'<circle cx="{px - rect.left:.1f}" cy="{py - rect.top:.1f}" r="{0.33 * s:.1f}" fill="{tone}"/>'
    said = (Word(text, rect.left + 1.1 * s, rect.centery, size),) if free[0] or not free[1] else ()
    return Stroke(rect, body, said)


def journey(origin: Spot, goal: Spot, tone: str, room: Room, bottom: float) -> Stroke:
    """A thin arrow under the lowest staff line `bottom` from one place to another; one that meets it goes deeper."""
    s = origin.space
    floors = [bottom + s * (2.2 + 1.05 * step) for step in range(_FLOORS)]
    left, right = min(origin.x, goal.x), max(origin.x, goal.x)
    wide, high = round(right - left + 2 * s), round(1.2 * s)
    rect = room.best([Rect(round(left - s), round(floor - s), wide, high) for floor in floors])
    top, low = rect.top + 0.1 * s, rect.top + 1.3 * s
    data = f"M{origin.x:.1f} {top:.1f}C{origin.x:.1f} {low:.1f} {goal.x:.1f} {low:.1f} {goal.x:.1f} {top + 0.5 * s:.1f}"
    # A full head: an open one is the caret of a note left out.
    tip = (
        f'<path d="M{goal.x - rect.left:.1f} {top - rect.top:.1f}l{0.42 * s:.1f} {0.85 * s:.1f}h{-0.84 * s:.1f}z" '
        f'fill="{tone}"/>'
    )
    return Stroke(rect, _path(rect, data, tone, max(1.2, s * 0.1)) + tip)
