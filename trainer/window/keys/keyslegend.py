"""What the lines of the circle mean, in one line under it."""

from __future__ import annotations

from pygame import Rect

from trainer.window.keys import circle
from trainer.window.keys.keyfacts import STATES
from trainer.window.paint import fonts
from trainer.window.paint.canvas import SOLID, Canvas
from trainer.window.strings import say

DUE = "due"
STATES_AND_DUE = (*STATES, DUE)


def lay(canvas: Canvas, rect: Rect) -> None:
    """What the lines mean, and the pencil's ring, in one line."""
    u = canvas.unit
    sample = round(min(1.5 * u, rect.width * 0.055))
    size = 0.92
    gap = round(0.35 * u)
    while True:
        wides = [canvas.width(say(f"keys.state.{name}"), fonts.ITALIC, size) + 4 for name in STATES_AND_DUE]
        need = sum(wides) + len(STATES_AND_DUE) * (sample + gap)
        if need <= rect.width or size < 0.5:
            break
        size -= 0.04
    air = min(round(1.2 * u), max(2, (rect.width - need) // (len(STATES_AND_DUE) - 1)))
    x = rect.left + max(0, (rect.width - need - air * (len(STATES_AND_DUE) - 1)) // 2)
    for name, wide in zip(STATES_AND_DUE, wides, strict=True):
        place = Rect(x, rect.top, sample + gap + wide, rect.height)
        lay_sample(canvas, place, name, sample, rect.width / 2, size)
        x = place.right + air


def lay_sample(canvas: Canvas, rect: Rect, name: str, sample: int, radius: float, size: float) -> None:
    """A line as the circle draws it, or the pencil's ring, and its word."""
    place = Rect(rect.left, rect.top, sample, rect.height)
    if name == DUE:
        tall = min(round(canvas.unit), round(sample * 0.66))
        ring = Rect(place.left, place.centery - tall // 2, sample, tall)
        canvas.shape("legend.due", ring, circle.due_ring(canvas, ring.width, ring.height), SOLID)
    else:
        line = circle.level_line(canvas, name, radius)
        canvas.shape(f"legend.{name}", place, f'<path d="M2 {place.height / 2}H{sample - 2}" {line}/>', SOLID)
    left = place.right + round(0.35 * canvas.unit)
    said = Rect(left, rect.top, max(1, rect.right - left), rect.height)
    canvas.words(f"legend.{name}.word", said, say(f"keys.state.{name}"), style=fonts.ITALIC, size=size,
                 colour="graphite")  # fmt: skip
