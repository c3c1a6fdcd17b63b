"""A card on the Stand with what sets the ear before a take, how the model is heard, and how the click beats."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.window import settings as kept
from trainer.window.paint import fonts, layout
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.controls import Controls
from trainer.window.strings import say

if TYPE_CHECKING:
    from trainer.window.stand.stand import Stand

# Settings that are chosen here, in two columns, each with what it may be.
_COLUMNS: tuple[tuple[tuple[str, Sequence[object]], ...], ...] = (
    (
        ("ear", kept.EARS),
        ("subdivision", kept.SUBDIVISIONS),
        ("silent", tuple(kept.SILENT_BARS)),
    ),
    (
        ("model_key", kept.MODEL_KEYS),
        ("model_hand", kept.MODEL_HANDS),
        ("model_speed", kept.MODEL_SPEEDS),
    ),
)
# Units the card would like: width, and height of a field.
_WIDE, _FIELD = 36.0, 2.9
_HEAD, _FOOT, _EDGE = 1.5, 1.9, 1.2


def lay(stand: Stand, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    """Lay the card over the music's place; every field and order has its key."""
    before = stand.key_labels()
    high = 2 * _EDGE + _HEAD + _FOOT + 3 * _FIELD + 4 * 0.35
    with canvas.smaller(min(rect.height / (high + 0.2), rect.width / _WIDE) / canvas.unit):
        u = canvas.unit
        card = Rect(0, 0, min(rect.width, round(_WIDE * u)), min(rect.height, round(high * u)))
        card.center = rect.center
        canvas.panel("tuning.card", card, "faint", "graphite", 0.6)
        inner = card.inflate(-round(2.4 * u), -round(2 * _EDGE * u))
        head, body, foot = layout.rows(inner, [round(_HEAD * u), 0, round(_FOOT * u)], round(0.35 * u))
        canvas.words("tuning.head", head, say("tuning.head"), style=fonts.ITALIC, size=1.1, colour="graphite")
        number = 0
        for column, fields in zip(layout.columns(body, [0, 0], round(2.2 * u)), _COLUMNS, strict=True):
            for place, (name, values) in zip(layout.rows(column, [0] * len(fields), 0.3 * u), fields, strict=True):
                number += 1
                _field(stand, controls, place, name, values, f"{before}{number}")
        _orders(stand, canvas, controls, foot)
    controls.order("tuning.escape", "escape", stand.orders.tune)


def _field(stand: Stand, controls: Controls, rect: Rect, name: str, values: Sequence[object], key: str) -> None:
    shown = [say(f"tuning.{name}.{value}") for value in values]
    at = values.index(getattr(stand.house.settings, name))

    def choose(wanted: int) -> None:
        stand.house.change(**{name: values[wanted]})

    controls.choice(name, rect, say(f"tuning.{name}"), shown, at, choose, key=key, size=1.08)


def _orders(stand: Stand, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    """What can be heard at once, and the way back."""
    before = stand.key_labels()
    orders = [
        ("ear", say("stand.ear"), f"{before}c", stand.orders.cadence),
        ("listen", say("stand.listen"), f"{before}i", stand.orders.listen),
        ("close", say("tuning.close"), f"{before}e", stand.orders.tune),
    ]
    wides = [controls.button_width(label, key, 0.95) for _, label, key, _ in orders]
    gap = round(0.6 * canvas.unit)
    x = rect.left
    for (name, label, key, act), wide in zip(orders, wides, strict=True):
        last = name == "close"
        left = rect.right - wide if last else x
        place = Rect(left, rect.top, wide, rect.height)
        controls.button(f"tuning.{name}", place, label, partial(act), key=key, size=0.95, main=last)
        x += wide + gap


__all__ = ["lay"]
