"""Buttons, choice fields and lists: made for the keyboard first, each saying its key, with focus that can be seen.

A screen lays its controls anew for every frame; what they do is a function to call. The house moves the focus and
sends keys and clicks here.
"""

from __future__ import annotations

from bisect import bisect
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import pygame
from pygame import Rect

from trainer.window.paint import fonts
from trainer.window.paint.canvas import CENTRE, GROUND, LEFT, OVER, RIGHT, Canvas
from trainer.window.paint.scrolling import in_sight
from trainer.window.paint.theme import hexed

Action = Callable[[], object]
# How keys are named on the screen.
KEY_SIGNS = {
    "return": "enter", "escape": "esc", "up": "↑", "down": "↓", "left": "←", "right": "→", "page up": "pg up",
    "page down": "pg dn", "tab": "tab", "space": "space",
}  # fmt: skip

# Units between what has an edge of its own and the ring of focus round it, both sides together.
_EDGED = 0.35


@dataclass(frozen=True)
class Control:
    """Something that can be focused or pressed.

    Parameters
    ----------
    name : str
        Unique on its screen.
    rect : Rect
    act : callable
        On enter, on its key and on a click.
    key : str
        Name of the key that acts from anywhere on the screen, as pygame names it; empty for none.
    less, more : callable or None
        On the left and right arrow while focused.
    back, forth : callable or None
        On the up and down arrow while focused.
    page_back, page_forth : callable or None
        On page up and page down while focused.
    at : callable or None
        A click at a point of the control, before `act`; True when the click is used up.
    typed : callable or None
        Text typed while focused; ``"\\b"`` is the backspace key.
    leads : str
        The list that what is typed finds rows of: enter goes on to it, and so does esc.
    emptied : callable or None
        On esc while focused; a line that has it is selected by its key, so that what is typed next replaces it.
    enters : bool
        Whether enter acts on it while it shows the focus, before what enter does on the screen.
    main : bool
        The one most wanted: what enter does where nothing else takes it.
    ringed : bool
        Whether it can have the focus; what is only pointed at cannot.
    """

    name: str
    rect: Rect
    act: Action
    key: str = ""
    less: Action | None = None
    more: Action | None = None
    back: Action | None = None
    forth: Action | None = None
    at: Callable[[tuple[int, int]], bool] | None = None
    typed: Callable[[str], None] | None = None
    leads: str = ""
    page_back: Action | None = None
    page_forth: Action | None = None
    emptied: Action | None = None
    enters: bool = True
    main: bool = False
    ringed: bool = True

    @property
    def is_list(self) -> bool:
        return self.forth is not None and self.typed is None


class Controls:
    """The controls of one frame, and drawing them on the canvas."""

    def __init__(
        self,
        canvas: Canvas,
        focus: str,
        pointer: tuple[int, int] | None,
        seen: bool,
        selected: bool = False,
        firsts: dict[str, int] | None = None,
    ) -> None:
        self.canvas = canvas
        # Of every list the first row in sight, from frame to frame.
        self._firsts = firsts if firsts is not None else {}
        self.focus = focus
        # What stands on the line that has the focus is replaced by what is typed next.
        self._selected = selected
        self._pointer = pointer
        self._seen = seen
        self.all: list[Control] = []

    def named(self, name: str) -> Control | None:
        return next((control for control in self.all if control.name == name), None)

    def add(self, control: Control) -> None:
        self.all.append(control)

    def order(self, name: str, key: str, act: Action) -> None:
        """A key that acts, without a place on the screen."""
        self.all.append(Control(name, Rect(0, 0, 0, 0), act, key))

    def _is_over(self, rect: Rect) -> bool:
        return self._pointer is not None and rect.collidepoint(self._pointer)

    def ring(self, name: str, rect: Rect, air: float = 0.9) -> None:
        """The brass ring round what has the focus, drawn once the keyboard has been used; `air` in units, both sides.

        What has an edge of its own needs less: elsewhere the ring must not touch the words.
        """
        if self.focus != name or not self._seen:
            return
        unit = self.canvas.unit
        grown = rect.inflate(round(unit * air), round(unit * 0.3))
        thick = max(2.0, unit * 0.1)
        brass = hexed(self.canvas.colour("brass"))
        body = (
            f'<rect x="{thick / 2}" y="{thick / 2}" width="{grown.width - thick}" height="{grown.height - thick}" '
            f'rx="{unit * 0.5:.1f}" fill="none" stroke="{brass}" stroke-width="{thick:.1f}"/>'
        )
        self.canvas.shape(f"{name}.ring", grown, body, OVER)

    def key_width(self, key: str) -> int:
        """Pixels the picture of a key takes, with the air before it; 0 for none."""
        if not key:
            return 0
        return self.canvas.width(KEY_SIGNS.get(key, key), fonts.ITALIC, 0.82) + round(self.canvas.unit * 1.0)

    def keycap(self, name: str, right: int, middle: int, key: str, pale: bool = False) -> None:
        """A small key with its name, its right edge at `right`."""
        canvas = self.canvas
        unit = canvas.unit
        label = KEY_SIGNS.get(key, key)
        wide = canvas.width(label, fonts.ITALIC, 0.82) + round(unit * 0.55)
        rect = Rect(right - wide, middle - round(unit * 0.56), wide, round(unit * 1.12))
        tone = hexed(canvas.colour("paper" if pale else "graphite"))
        body = (
            f'<rect x="0.75" y="0.75" width="{rect.width - 1.5}" height="{rect.height - 1.5}" rx="{unit * 0.25:.1f}" '
            f'fill="none" stroke="{tone}" stroke-opacity="0.55" stroke-width="1.1"/>'
        )
        canvas.shape(f"{name}.cap", rect, body, GROUND)
        canvas.words(
            f"{name}.cap.text", rect, label, style=fonts.ITALIC, size=0.82, align=CENTRE,
            colour="paper" if pale else "graphite",
        )  # fmt: skip

    def button_width(self, label: str, key: str = "", size: float = 1.0) -> int:
        return self.canvas.width(label, fonts.ROMAN, size) + self.key_width(key) + round(self.canvas.unit * 1.5)

    def button(
        self, name: str, rect: Rect, label: str, act: Action, *, key: str = "", main: bool = False, size: float = 1.0
    ) -> None:
        """A button with its label and its key; `main` marks the one most wanted."""
        canvas = self.canvas
        unit = canvas.unit
        over = self._is_over(rect)
        fill = "ink" if main else ("wash" if over else None)
        canvas.panel(f"{name}.ground", rect, fill, "ink" if main else "rule", 0.45)
        air = round(unit * (0.7 if size >= 0.9 else 0.45))
        cap = self.key_width(key)
        inner = Rect(rect.left + air, rect.top, rect.width - 2 * air - cap, rect.height)
        canvas.words(f"{name}.label", inner, label, size=size, colour="paper" if main else "ink", lines=2)
        if key:
            self.keycap(name, rect.right - air + round(unit * 0.2), rect.centery, key, pale=main)
        self.add(Control(name, rect, act, key, main=main))
        self.ring(name, rect, _EDGED)

    def under(self, name: str, rect: Rect) -> None:
        """A thin line under what can be clicked and has no edge of its own, while the pointer is over it."""
        if self._is_over(rect):
            self.canvas.fill(f"{name}.under", Rect(rect.left, rect.bottom, rect.width, 1), "graphite", OVER)

    def link(self, name: str, rect: Rect, label: str, act: Action, *, key: str = "", align: str = LEFT) -> None:
        """A quiet button: words with their key, underlined under the pointer."""
        canvas = self.canvas
        cap = self.key_width(key)
        words = Rect(rect.left, rect.top, rect.width - cap, rect.height)
        if align == RIGHT:
            words = Rect(rect.left, rect.top, rect.width - cap, rect.height)
        extent = canvas.words(f"{name}.label", words, label, size=0.95, colour="graphite", align=align)
        if self._is_over(rect):
            canvas.fill(f"{name}.under", Rect(extent.left, extent.bottom, extent.width, 1), "graphite", OVER)
        if key:
            self.keycap(name, extent.right + cap, rect.centery, key)
        self.add(Control(name, rect, act, key))
        self.ring(name, Rect(extent.left, rect.top, extent.width + cap, rect.height))

    def choice(
        self,
        name: str,
        rect: Rect,
        label: str,
        values: Sequence[str],
        at: int,
        choose: Callable[[int], None],
        *,
        key: str = "",
        size: float = 1.25,
        style: str = fonts.ROMAN,
    ) -> None:
        """A choice field: a label, the value, and arrows; left and right change it, and so does its key."""
        canvas = self.canvas
        unit = canvas.unit
        count = len(values)

        def step(by: int) -> None:
            if count:
                choose((at + by) % count)

        head = Rect(rect.left, rect.top, rect.width, round(unit * 1.15))
        canvas.words(f"{name}.label", Rect(head.left, head.top, head.width - self.key_width(key), head.height), label,
                     style=fonts.ITALIC, size=0.92, colour="graphite")  # fmt: skip
        if key:
            self.keycap(name, head.right, head.centery, key)
        body = Rect(rect.left, head.bottom, rect.width, rect.height - head.height)
        arrow = round(unit * 0.9)
        before = Rect(body.left, body.top, arrow, body.height)
        after = Rect(body.right - arrow, body.top, arrow, body.height)
        canvas.words(f"{name}.value", Rect(before.right, body.top, body.width - 2 * arrow, body.height),
                     values[at] if count else "–", size=size, style=style, align=CENTRE, least=0.6)  # fmt: skip
        for way, where in (("‹", before), ("›", after)) if count > 1 else ():
            over = self._is_over(where)
            canvas.words(f"{name}.{way}", where, way, size=1.3, align=CENTRE, colour="brass" if over else "graphite")
        canvas.rule(f"{name}.under", Rect(body.left, body.bottom - 1, body.width, 1))

        def clicked(point: tuple[int, int]) -> bool:
            step(-1 if point[0] < body.left + body.width * 0.35 else 1)
            return True

        self.add(Control(name, rect, lambda: step(1), key, lambda: step(-1), lambda: step(1), at=clicked,
                         enters=False))  # fmt: skip
        self.ring(name, rect)

    def entry(
        self,
        name: str,
        rect: Rect,
        text: str,
        change: Callable[[str], None],
        *,
        key: str = "",
        hint: str = "",
        afresh: bool = False,
        among: tuple[str, int, int, Callable[[int], None]] = ("", 0, 0, lambda at: None),
    ) -> None:
        """A line to type on; `afresh`: its key selects what stands there, esc empties it.

        `among` are the list it finds rows of, how many, which of them is chosen, and how to choose: while it is typed
        on, the arrows up and down go through them, and enter leads there.
        """
        canvas = self.canvas
        unit = canvas.unit
        cap = self.key_width(key)
        canvas.rule(f"{name}.under", Rect(rect.left, rect.bottom - 1, rect.width, 1))
        shown = text or (hint if self.focus != name else "")
        inner = Rect(rect.left, rect.top, rect.width - cap, rect.height - 2)
        if self.focus == name:
            shown = _ending(canvas, shown, inner.width - round(unit * 0.3))
        selected = self._selected and self.focus == name
        if selected and text:
            wide = min(inner.width, canvas.width(text, fonts.ROMAN, 1.05))
            canvas.fill(f"{name}.selected", Rect(inner.left, inner.top, wide, inner.height), "wash", GROUND)
        extent = canvas.words(f"{name}.text", inner, shown or " ", style=fonts.ROMAN if text else fonts.ITALIC,
                              colour="ink" if text else "graphite", size=1.05)  # fmt: skip
        if self.focus == name:
            caret = Rect(
                extent.right + 2 if text else extent.left,
                rect.top + round(unit * 0.3),
                2,
                rect.height - round(unit * 0.6),
            )
            canvas.fill(f"{name}.caret", caret.clip(rect), "brass", OVER)
        if key:
            self.keycap(name, rect.right, rect.centery, key)

        def typed(letters: str) -> None:
            before = "" if selected else text
            change(before[:-1] if letters == "\b" else before + letters)

        emptied = (lambda: change("")) if afresh else None
        leads, count, at, choose = among
        back, forth = (lambda: choose(max(0, at - 1))), (lambda: choose(min(count - 1, at + 1)))
        steps = (back, forth) if count else (None, None)
        self.add(Control(name, rect, lambda: None, key, back=steps[0], forth=steps[1], typed=typed, emptied=emptied,
                         leads=leads, enters=False))  # fmt: skip
        self.ring(name, rect)

    def rows(
        self,
        name: str,
        rect: Rect,
        count: int,
        chosen: int,
        high: int | Sequence[int],
        draw: Callable[[int, Rect], None],
        choose: Callable[[int], None],
        act: Action,
        less: Action | None = None,
        more: Action | None = None,
        keep: bool = True,
    ) -> None:
        """A list: the chosen row stays in sight; up and down move, enter or a click on the chosen row acts.

        Rows keep their places as long as the chosen one is among those in sight, so that it stays under the pointer.

        `high` is the height of every row, or of each. Only in the list that has the focus is the chosen row washed and
        barred in brass, so that one row on the screen is lit. With `keep` a thin line tells it in another list, too:
        what is chosen there counts elsewhere.
        """
        focused = self.focus == name
        highs = [max(1, high)] * count if isinstance(high, int) else high
        chosen = max(0, min(count - 1, chosen))
        first, last = in_sight(highs, chosen, rect.height, self._firsts.get(name))
        self._firsts[name] = first
        bottom, bottoms = rect.top, []
        for index in range(first, last):
            row = Rect(rect.left, bottom, rect.width, highs[index])
            bottom = row.bottom
            bottoms.append(bottom)
            if index == chosen and (focused or keep):
                self._chosen_row(name, row, focused)
            elif self._is_over(row):
                self.canvas.panel(f"{name}.over", row, "faint", None, 0.3)
            draw(index, row)
        room = max(1, last - first)
        if count > room:
            self._scroll_bar(name, rect, first, room, count)

        def move(by: int) -> None:
            choose(max(0, min(count - 1, chosen + by)))

        def clicked(point: tuple[int, int]) -> bool:
            index = first + bisect(bottoms, point[1])
            if point[1] < rect.top or index >= last:
                return True
            if index != chosen or not focused:
                choose(index)
                return True
            return False

        self.add(
            Control(name, rect, act, "", back=lambda: move(-1), forth=lambda: move(1), at=clicked,
                    less=less, more=more, page_back=lambda: move(-room), page_forth=lambda: move(room))
        )  # fmt: skip

    def _chosen_row(self, name: str, row: Rect, focused: bool) -> None:
        """Washed and barred in brass in the list that has the focus; in another a thin line tells it."""
        canvas = self.canvas
        bar = Rect(row.left, row.top + 3, max(3, round(canvas.unit * 0.15)), row.height - 6)
        if focused:
            canvas.panel(f"{name}.chosen", row, "wash", None, 0.3)
            canvas.fill(f"{name}.bar", bar, "brass", OVER)
            self.ring(name, row.inflate(-round(canvas.unit * _EDGED), -round(canvas.unit * 0.3)), _EDGED)
        else:
            canvas.fill(f"{name}.bar", Rect(bar.left, bar.top, 1, bar.height), "graphite", OVER)

    def _scroll_bar(self, name: str, rect: Rect, first: int, room: int, count: int) -> None:
        """Beside a list of which not all is in sight: where its rows from `first` on stand among all."""
        long = max(12, rect.height * room // count)
        top = rect.top + (rect.height - long) * first // max(1, count - room)
        place = Rect(rect.right + round(self.canvas.unit * 0.3), top, 3, long)
        self.canvas.fill(f"{name}.scroll", place, "rule", OVER)


def _ending(canvas: Canvas, text: str, room: int) -> str:
    """As much of the end of what is being typed as there is room for: that is where the caret stands."""
    if canvas.width(text, fonts.ROMAN, 1.05) <= room:
        return text
    starts = range(1, len(text))
    at = bisect(starts, 0, key=lambda start: int(canvas.width("…" + text[start:], fonts.ROMAN, 1.05) <= room))
    return "…" + text[at + 1 :]


def key_name(event: pygame.event.Event) -> str:
    """The key of an event as controls name it, with ``ctrl `` before it when that is held."""
    name = pygame.key.name(event.key)
    return f"ctrl {name}" if event.mod & pygame.KMOD_CTRL else name
