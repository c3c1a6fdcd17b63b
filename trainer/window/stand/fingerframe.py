"""How fingers of one's own look before they are printed: the frame round a note and its finger, and those just said."""

from __future__ import annotations

from dataclasses import dataclass

from pygame import Rect

from trainer.window.page.music import System
from trainer.window.paint import fonts
from trainer.window.paint.canvas import CENTRE, OVER, Canvas
from trainer.window.paint.theme import hexed

# Staff spaces from the outer note to a finger that is not printed, and its size.
_AWAY, _SIZE = 1.6, 2.25
# Of the size of a finger: its box, and how much larger it is while it is framed.
_WIDE, _HIGH, _FRAMED = 1.0, 1.06, 1.25
# In staff spaces: the frame of a head, and the line of a frame.
_HEAD_WIDE, _HEAD_HIGH, _LINE = 2.7, 2.2, 0.26


@dataclass(frozen=True)
class Place:
    """Middle and size of a finger, in pixels of its system."""

    x: float
    y: float
    size: float

    def box(self, corner: tuple[int, int], times: float = 1.0) -> Rect:
        """The room it takes, so many times as large, in the system at a corner."""
        wide, high = _WIDE * self.size * times, _HIGH * self.size * times
        return Rect(
            round(corner[0] + self.x - wide / 2), round(corner[1] + self.y - high / 2), round(wide), round(high)
        )


def place_of(system: System, note: int, chord: list[int], left_hand: bool) -> Place:
    """Where a note's finger is printed, else in the stack of its chord (its notes from low to high) outward."""
    stack = chord if left_hand else chord[::-1]
    out = -1 if left_hand else 1
    for off, one in enumerate([note, *stack]):
        place = system.fingers.get(one)
        if place is not None:
            rank = stack.index(note) - stack.index(one) if off else 0
            return Place(place.x, place.y - (0.34 + out * abs(rank)) * place.size, place.size)
    spot, size = system.spot(note), system.space * _SIZE
    outer = max(spot.y, spot.bottom) if left_hand else min(spot.y, spot.top)
    return Place(spot.x, outer - out * (_AWAY * system.space + stack.index(note) * size), size)


def lay_said(canvas: Canvas, name: str, place: Place, corner: tuple[int, int], finger: int) -> None:
    """A finger that is not on the page yet, over what is printed there."""
    _lay(canvas, name, place.box(corner), finger, place.size)


def lay_framed(canvas: Canvas, system: System, note: int, place: Place, corner: tuple[int, int], finger: int) -> None:
    """The framed note with its finger, 0 for none; where both stand close together one frame goes round them."""
    x, y = system.heads[note]
    wide, high = system.space * _HEAD_WIDE, system.space * _HEAD_HIGH
    head = Rect(round(corner[0] + x - wide / 2), round(corner[1] + y - high / 2), round(wide), round(high))
    box = place.box(corner, _FRAMED)
    frames = {"finger.box": box, "finger.head": head}
    ground = box.copy()
    if box.colliderect(head):
        frames = {"finger.head": box.union(head)}
        # The head stays free of the paper under the digit.
        ground.top = max(box.top, head.bottom) if box.centery > head.centery else box.top
        ground.height = (box.bottom if box.centery > head.centery else min(box.bottom, head.top)) - ground.top
    _lay(canvas, "finger.framed", ground, finger, place.size * _FRAMED)
    for name, rect in frames.items():
        canvas.shape(name, rect, _edge(canvas, rect, system.space * _LINE), OVER)


def _lay(canvas: Canvas, name: str, box: Rect, finger: int, size: float) -> None:
    """A digit on paper."""
    body = (
        f'<rect width="{box.width}" height="{box.height}" rx="{box.height * 0.28:.1f}" '
        f'fill="{hexed(canvas.colour("paper"))}"/>'
    )
    canvas.shape(name, box, body, OVER)
    if finger:
        canvas.words(f"{name}.finger", box, str(finger), style=fonts.BOLD, size=size / canvas.unit, colour="blue",
                     align=CENTRE, kind=OVER, least=1.0)  # fmt: skip


def _edge(canvas: Canvas, rect: Rect, line: float) -> str:
    thick = max(2.0, line)
    round_ = min(rect.width, rect.height) * 0.28
    return (
        f'<rect x="{thick / 2}" y="{thick / 2}" width="{rect.width - thick}" height="{rect.height - thick}" '
        f'rx="{round_:.1f}" fill="none" stroke="{hexed(canvas.colour("blue"))}" stroke-width="{thick:.1f}"/>'
    )
