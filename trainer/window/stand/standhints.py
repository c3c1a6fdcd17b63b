"""The row of keys at the foot of the Stand, and the card with all of them."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, partial
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.window.paint import fonts, layout
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.controls import Control, Controls
from trainer.window.stand.standorders import Order
from trainer.window.strings import say

if TYPE_CHECKING:
    from trainer.window.stand.stand import Stand

# Of the text size: what an order does, and its key.
_HINT, _CAP = 0.86, 0.82
# Of the card, in units: a column, the words in it, a row, what stands above the rows, and the air at its sides.
_COLUMN, _WORDS, _ROW, _HEAD, _SIDES = 17.0, 5.4, 1.75, 3.0, 2.4


def lay(stand: Stand, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    """What can be done and its keys; on a narrow window the last ones are only on the list of all keys."""
    amending = stand.amending
    orders = amending.orders() if amending else stand.orders.listed()
    if not amending:
        # Those of no use now come last and are not shown; what their keys have to say they still say.
        orders.sort(key=lambda order: not stand.orders.offered(order[0]))
    shown = _that_fit(canvas, [order for order in orders if amending or stand.orders.offered(order[0])], rect)
    state = tuple((name, label, box.left) for (name, label, _, _), box in zip(orders, shown, strict=False))
    canvas.again("stand.hints", state, partial(_lay_row, canvas, controls, orders, shown))
    for at, (name, label, act, key) in enumerate(orders):
        if at < len(shown):
            _click(stand, controls, f"hint.{name}", shown[at], _cap_width(label, canvas.unit), (name, label, act, key))
        else:
            controls.order(f"hint.{name}", key, act)
    if amending:
        amending.order(controls)
        return
    stand.orders.placing.order(controls)
    for name, _, act, key in stand.orders.more():
        if key:
            controls.order(f"more.{name}", key, act)
    for key, act in stand.orders.unshown():
        controls.order(f"more.{key}", key, act)


def _click(stand: Stand, controls: Controls, name: str, rect: Rect, cap: int, order: Order) -> None:
    """What a click on an order does; on one that goes two ways, the half of its keys that was clicked."""
    word, _, act, key = order
    controls.ring(name, rect)
    ways = None if stand.amending else stand.orders.ways(word)
    if ways is None:
        controls.under(name, rect)
        controls.add(Control(name, rect, act, key))
        return
    half = cap // 2
    first = Rect(rect.left, rect.top, half, rect.height)
    second = Rect(first.right, rect.top, cap - half, rect.height)
    for end, place in (("first", first), ("second", second)):
        controls.under(f"{name}.{end}", place)

    def at(point: tuple[int, int]) -> bool:
        for place, way in zip((first, second), ways, strict=True):
            if place.collidepoint(point):
                way()
                return True
        return False

    controls.add(Control(name, rect, act, key, at=at))


def _that_fit(canvas: Canvas, orders: list[Order], rect: Rect) -> list[Rect]:
    """Places of the first hints, as many as the line holds."""
    x = rect.left
    found = []
    for wide in _wides(tuple((name, label) for name, label, _, _ in orders), canvas.unit):
        if x + wide > rect.right:
            break
        found.append(Rect(x, rect.top, wide, rect.height))
        x += wide + round(canvas.unit * 0.75)
    return found


@lru_cache(maxsize=8)
def _wides(hints: tuple[tuple[str, str], ...], unit: float) -> tuple[int, ...]:
    """Pixels each hint takes: its key, some air, its word."""
    return tuple(
        _cap_width(label, unit) + round(unit * 0.3) + _wide(say(f"stand.{name}"), fonts.ROMAN, _HINT * unit)
        for name, label in hints
    )


def _wide(text: str, style: str, pixels: float) -> int:
    return round(fonts.width(text, style, round(pixels * 3) / 3) + 0.5)


def _cap_width(label: str, unit: float) -> int:
    return _wide(label, fonts.ITALIC, _CAP * unit) + round(unit * 0.55)


def _lay_row(canvas: Canvas, controls: Controls, orders: list[Order], shown: list[Rect]) -> None:
    for (name, label, _, _), box in zip(orders, shown, strict=False):
        cap = _cap_width(label, canvas.unit)
        controls.keycap(f"hint.{name}", box.left + cap, box.centery, label)
        left = box.left + cap + round(canvas.unit * 0.3)
        place = Rect(left, box.top, box.right - left + 2, box.height)
        canvas.words(f"hint.{name}.label", place, say(f"stand.{name}"), size=_HINT, colour="graphite")


def lay_card(stand: Stand, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    """A card in place of the music with every order and its key, in as many columns as let it be largest.

    A click on one does it, and puts the card away unless it goes two ways.
    """

    def away(name: str, act: Callable[[], object]) -> None:
        stand.keys_shown = False
        if name not in ("keys", "page"):
            act()

    orders = [order for order in (*stand.orders.listed(), *stand.orders.more()) if stand.orders.offered(order[0])]
    count = max(range(1, 5), key=lambda one: _card_unit(len(orders), one, rect))
    long = -(-len(orders) // count)
    with canvas.smaller(_card_unit(len(orders), count, rect) / canvas.unit):
        u = canvas.unit
        row = round(_ROW * u)
        card = Rect(0, 0, min(rect.width, round((_COLUMN * count + _SIDES) * u)), round(_HEAD * u) + row * long)
        card.height = min(card.height, rect.height)
        card.center = rect.center
        canvas.panel("keys.card", card, "faint", "graphite", 0.6)
        inner = card.inflate(-round(_SIDES * u), -round(1.4 * u))
        head = Rect(inner.left, inner.top, inner.width, round(1.4 * u))
        canvas.words("keys.card.head", head, say("stand.keys.head"), style=fonts.ITALIC, size=1.1, colour="graphite")
        body = Rect(inner.left, inner.top + round(1.7 * u), inner.width, row * long)
        for at, column in enumerate(layout.columns(body, [0] * count, round(u))):
            for line, (name, label, act, _) in enumerate(orders[at * long : (at + 1) * long]):
                place = Rect(column.left, column.top + line * row, column.width, row)
                cap = _cap_width(label, u)
                controls.keycap(f"card.{at}.{line}", place.left + cap, place.centery, label)
                words = Rect(place.left + round(_WORDS * u), place.top, place.width - round(_WORDS * u), row)
                canvas.words(f"card.{at}.{line}", words, say(f"stand.{name}"), size=1.0, least=0.7)
                done = act if stand.orders.ways(name) else partial(away, name, act)
                _click(stand, controls, f"card.{at}.{line}", place, cap, (name, label, done, ""))


def _card_unit(orders: int, columns: int, rect: Rect) -> float:
    """How large a unit may be for so many columns."""
    return min(rect.height / (_HEAD + _ROW * -(-orders // columns)), rect.width / (_COLUMN * columns + _SIDES))
