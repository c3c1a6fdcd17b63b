"""How today's list looks on the Desk: each row as high as its reason, with a teacher's note, needs."""

from __future__ import annotations

from functools import partial
from math import ceil
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.music.piece import BOTH
from trainer.window.paint import fonts, layout, titled
from trainer.window.paint.canvas import MIDDLE, TOP, Canvas
from trainer.window.paint.canvas import RIGHT as AT_RIGHT
from trainer.window.paint.controls import Controls
from trainer.window.strings import key_in, key_name, keys_in, say

if TYPE_CHECKING:
    from trainer.window.desk.desk import Desk

# Fewer minutes than that are not worth a word.
_WORTH_MINUTES = 2
# Reasons are not made smaller than this before they take two lines.
_WHOLE = 0.85
# Height of a row of today's list, at least and at most, with its reason in so many lines: a teacher's note is read
# from the bench, too.
_HIGH = {1: (2.4, 3.1), 2: (3.7, 4.1), 3: (4.8, 5.2), 4: (5.9, 6.3), 5: (7.0, 7.4)}


def height(desk: Desk, canvas: Canvas, wide: int) -> float:
    """The pixels the list takes at least, so wide."""
    return sum(_HIGH[line][0] for line in _reasons(desk, canvas, wide)[1]) * canvas.unit


def _reasons(desk: Desk, canvas: Canvas, wide: int) -> tuple[list[str], list[int]]:
    """Why each is asked for, and how many lines that takes."""
    letters = desk.house.settings.letters
    whole = wide - round(1.1 * canvas.unit)
    # What a teacher wrote beside set work stays in the teacher's letters.
    reasons = [keys_in(one.why, letters) if one.kind == "new" else one.why for one in desk.suggestions]
    lines = [canvas.lines(why, fonts.ITALIC, 0.95 * _WHOLE, whole) for why in reasons]
    return reasons, [min(len(_HIGH), one) for one in lines]


def lay(desk: Desk, canvas: Canvas, controls: Controls, room: Rect) -> None:
    """Lay today's list, or why there is none."""
    u = canvas.unit
    if not desk.suggestions:
        canvas.words("today.empty", room, _no_list(desk), size=1.05, lines=8, stand=TOP)
        return
    letters = desk.house.settings.letters
    reasons, lines = _reasons(desk, canvas, room.width)

    def draw(at: int, row: Rect) -> None:
        offer = desk.suggestions[at]
        inner = row.inflate(-round(1.1 * u), -round(0.3 * u))
        above, below = layout.rows(inner, [inner.height * (0.54 if lines[at] == 1 else 1.3 / _HIGH[lines[at]][0]), 0])
        minutes = say("desk.minutes", minutes=max(1, round(offer.minutes)))
        if offer.hands != BOTH and offer.kind != "sight":
            minutes = f"{say(f'hand.{offer.hands}')} · {minutes}"
        wide = canvas.width(minutes, fonts.ITALIC, 0.92) + 4
        canvas.words(f"today.{at}.time", Rect(above.right - wide, above.top, wide, above.height), minutes,
                     style=fonts.ITALIC, size=0.92, colour="graphite", align=AT_RIGHT)  # fmt: skip
        place = Rect(above.left, above.top, above.width - wide - 6, above.height)
        # A test at sight has many keys.
        after = key_name(offer.key, letters) if offer.kind != "sight" else ""
        title = key_in(offer.title, offer.key, letters) if offer.pattern else offer.title
        titled.lay(canvas, f"today.{at}.title", place, title, size=1.1, after=after)
        canvas.words(f"today.{at}.why", below, reasons[at], style=fonts.ITALIC, size=0.95, colour="graphite",
                     lines=lines[at], stand=MIDDLE if lines[at] == 1 else TOP, least=0.7)  # fmt: skip

    least, most = ([_HIGH[line][end] * u for line in lines] for end in (0, 1))
    # Each as high as its reason needs; what room is left over makes all of them airier.
    share = max(0.0, min(1.0, (room.height - sum(least)) / (sum(most) - sum(least))))
    highs = [int(low + share * (high - low)) for low, high in zip(least, most, strict=True)]
    choose = partial(setattr, desk, "suggested")
    controls.rows("today", room, len(highs), desk.suggested, highs, draw, choose, desk.suggest, keep=False)
    if controls.focus == "today" and desk.work is not None:
        controls.order("withdraw", "delete", desk.withdraw)


def _no_list(desk: Desk) -> str:
    """Why there is nothing to play today, and what to do."""
    given, spare, next_ = desk.house.settings.minutes, desk.spare, desk.waiting
    if spare is not None and spare < _WORTH_MINUTES:
        return say("desk.today.enough", minutes=given)
    if next_ is not None:
        key = key_name(next_.key, desk.house.settings.letters)
        asked = {"title": next_.title.split(" (")[0], "key": key, "needs": ceil(next_.minutes), "minutes": given}
        return (
            say("desk.today.short.day", **asked) if spare is None else say("desk.today.short", left=int(spare), **asked)
        )
    if spare is not None:
        return say("desk.today.rest", minutes=int(spare))
    # Before the journal is open and the shelf is read nothing can be told of what is due.
    if not desk.house.ready:
        return say("desk.today.opening")
    read = desk.entries or desk.house.shelf_trouble
    return say("desk.today.empty" if read else "desk.today.shelf")
