"""Where things lie on each screen: every rectangle is computed here, for any size of window and of text."""

from __future__ import annotations

from dataclasses import dataclass

from pygame import Rect

from trainer.window.paint import keyboard
from trainer.window.paint.canvas import Canvas

# Up to this text scale there is room for everything.
ROOMY = 1.3


def is_tall(canvas: Canvas) -> bool:
    """Whether the window is so much taller than wide that its width says how large the music is (ours)."""
    return canvas.size[1] > 1.2 * canvas.size[0]


def rows(rect: Rect, heights: list[float], gap: float = 0) -> list[Rect]:
    """Rectangles under each other; a height of 0 takes an even share of what is left."""
    fixed = sum(heights) + gap * (len(heights) - 1)
    open_rows = sum(1 for height in heights if height == 0)
    share = max(0.0, (rect.height - fixed) / open_rows) if open_rows else 0.0
    found = []
    y = float(rect.top)
    for height in heights:
        high = height or share
        found.append(Rect(rect.left, round(y), rect.width, round(y + high) - round(y)))
        y += high + gap
    return found


def columns(rect: Rect, widths: list[float], gap: float = 0) -> list[Rect]:
    """Rectangles beside each other; a width of 0 takes an even share of what is left."""
    turned = rows(Rect(rect.top, rect.left, rect.height, rect.width), widths, gap)
    return [Rect(one.top, one.left, one.height, one.width) for one in turned]


@dataclass(frozen=True)
class StandPlaces:
    """The Stand: head over a thin rule, music and margin, keyboard at the foot."""

    title: Rect
    about: Rect
    key: Rect
    signature: Rect
    written: Rect
    mode: Rect
    place: Rect
    rule: Rect
    music: Rect
    margin: Rect | None
    margin_rule: Rect | None
    caption: Rect
    keys: Rect
    hints: Rect

    @property
    def under_head(self) -> Rect:
        """All the room between the head and the row of keys."""
        top = self.music.top
        return Rect(self.rule.left, top, self.rule.width, self.hints.top - (self.hints.height // 3) - top)


def air(canvas: Canvas) -> int:
    """The outer margin of every screen."""
    return round(min(canvas.size[1] / 40, canvas.size[0] / 60) * 1.7)


def stand(canvas: Canvas, keys: int, margin: bool) -> StandPlaces:
    """Places on the Stand for a keyboard of `keys` keys."""
    wide, high = canvas.size
    u = canvas.unit
    edge = air(canvas)
    inner = Rect(edge, round(edge * 0.55), wide - 2 * edge, high - round(edge * 0.9))
    big = canvas.scale > ROOMY
    head_high = min(4.4 * u, inner.height * 0.22)
    hint_high = min(1.35 * u, inner.height * 0.06)
    caption_high = min(1.45 * u, inner.height * 0.06)
    # Of true proportions it is no higher than its width allows: what is left over is the music's.
    keys_high = min(inner.height * (0.13 if big else 0.185), keyboard.fitted(inner, keys).height + 1)
    head, rule, _, music, _, caption, _, foot, _, hints = rows(
        inner,
        [head_high, 2, u * 0.5, 0, u * 0.2, caption_high, u * 0.15, keys_high, u * 0.35, hint_high],
    )
    rule.height = 1
    left = Rect(head.left, head.top, round(head.width * 0.315), head.height)
    centre = Rect(left.right, head.top, round(head.width * 0.505), head.height)
    right = Rect(centre.right, head.top, head.right - centre.right, head.height)
    title, about = rows(left, [head.height * 0.54, head.height * 0.40])
    mode, place = rows(right, [head.height * 0.5, head.height * 0.44])
    key = Rect(centre.left, centre.top, round(centre.width * 0.54), centre.height)
    signature = Rect(key.right + round(u * 0.55), centre.top, round(centre.width * 0.15), centre.height)
    written = Rect(
        signature.right + round(u * 0.4), centre.top, centre.right - signature.right - round(u * 0.8), centre.height
    )
    side: Rect | None = None
    side_rule: Rect | None = None
    side_wide = round(max(10.2 * u, inner.width * 0.175))
    if margin and side_wide < inner.width * 0.34:
        side = Rect(inner.right - side_wide, music.top + round(u * 0.4), side_wide, music.height - round(u * 0.4))
        side_rule = Rect(side.left - round(u * 0.9), side.top, 1, side.height)
        music = Rect(music.left, music.top, side_rule.left - round(u * 0.9) - music.left, music.height)
    return StandPlaces(title, about, key, signature, written, mode, place, rule, music, side, side_rule, caption,
                       keyboard.fitted(foot, keys), hints)  # fmt: skip


@dataclass(frozen=True)
class Sheet:
    """A screen with a masthead: its name and the ways to the other screens, the body, and a quiet line."""

    name: Rect
    ways: Rect
    rule: Rect
    body: Rect
    quiet: Rect


def sheet(canvas: Canvas) -> Sheet:
    """Places common to all screens but the Stand."""
    wide, high = canvas.size
    u = canvas.unit
    edge = air(canvas)
    inner = Rect(edge, round(edge * 0.6), wide - 2 * edge, high - round(edge * 1.0))
    # Large text has no room for a whole sentence in one line.
    quiet_high = (2.1 if canvas.scale > 1.3 else 1.3) * u
    head, rule, _, body, _, quiet = rows(inner, [min(3.0 * u, high * 0.13), 2, u * 0.8, 0, u * 0.3, quiet_high])
    rule.height = 1
    name = Rect(head.left, head.top, round(head.width * 0.3), head.height)
    ways = Rect(name.right, head.top, head.right - name.right, head.height)
    return Sheet(name, ways, rule, body, quiet)
