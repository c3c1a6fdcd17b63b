"""The music on the Stand: systems in their places, ribbon, marks, and the hairline at what comes next."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import dataclass, field
from functools import lru_cache

import pygame
from pygame import Rect

from trainer.music.piece import BOTH, LEFT, RIGHT, Piece
from trainer.window.page import ribbon
from trainer.window.page.music import Score, System
from trainer.window.page.pencil import Stroke
from trainer.window.page.ribbon import Placed, Syllable
from trainer.window.paint import fonts
from trainer.window.paint.canvas import GROUND, OVER, SOLID, Box, Canvas, paper
from trainer.window.paint.shapes import picture
from trainer.window.paint.theme import Colour, hexed

# How much of what is not asked for shines through its veil, 0-255.
_VEIL = 178


@dataclass(frozen=True)
class Setting:
    """How the music is to be shown.

    Parameters
    ----------
    help : str
        How many syllables.
    syllables, letters : str
        What a syllable is.
    hands : str
        The other hand is veiled.
    loop : (int, int) or None
        Bars outside are veiled.
    size : float
        Pixels of the syllables' text.
    """

    help: str
    syllables: str
    letters: str
    hands: str
    loop: tuple[int, int] | None
    size: float


@dataclass
class Ribbons:
    """The syllables of every system, worked out once for a setting."""

    score: Score
    expected: Piece
    setting: Setting
    _made: dict[int, tuple[Placed, ...]] = field(default_factory=dict)

    def has(self, at: int) -> bool:
        """Whether a system's syllables are worked out."""
        return at in self._made

    def of(self, at: int) -> tuple[Placed, ...]:
        """The syllables of one system, in pixels of its picture; none as long as that is not drawn."""
        if self.score.systems[at].ink is None:
            return ()
        if at not in self._made:
            self._made[at] = tuple(self._worked_out(self.score.systems[at]))
        return self._made[at]

    def _worked_out(self, system: System) -> list[Placed]:
        piece, setting = self.score.piece, self.setting
        lines: dict[int, list[Syllable]] = {}
        for number, staff in enumerate(system.staves):
            if staff.ribbon is None:
                continue
            # A hand that crosses into the other's staff is named in its own row.
            own = {LEFT: len(system.staves) - 1, RIGHT: 0}
            here = [
                i
                for i in system.heads
                if own[piece.notes[i].hand] == number and setting.hands in (BOTH, piece.notes[i].hand)
            ]
            line = []
            for index in ribbon.chosen(piece, sorted(here), setting.help):
                text, is_do = ribbon.words(piece, self.expected, index, setting.syllables, setting.letters)
                if setting.help != ribbon.ONLY_DO or is_do:
                    line.append(Syllable(index, text, is_do, system.heads[index][0], setting.size))
            line.sort(key=lambda one: one.x)
            lines[number] = ribbon.shrunk(line, setting.size, piece)
        found: list[Placed] = []
        for number, line in zip(lines, ribbon.evened(list(lines.values())), strict=True):
            staff = system.staves[number]
            low = system.staves[number + 1].top if number + 1 < len(system.staves) else system.size[1]
            top = round(staff.bottom + system.space * 0.5)
            line = ribbon.thinned(line, setting.size, piece)
            assert staff.ribbon is not None
            found += ribbon.placed(line, system.mask, top, round(low), staff.ribbon, setting.size)
        return found


def lay_system(canvas: Canvas, at: int, system: System, corner: tuple[int, int], name: str = "music") -> Rect:
    """Lay the picture of one system, once it is drawn."""
    rect = Rect(corner, system.size)
    if system.ink is not None:
        canvas.picture(f"{name}.{at}", rect, system.inked(canvas.theme), canvas.theme.name, GROUND)
    return rect


def lay_own(canvas: Canvas, at: int, system: System, said: Iterable[int], corner: tuple[int, int]) -> None:
    """Underline the player's own fingers."""
    if system.ink is None:
        return
    for note in said:
        place = system.fingers.get(note)
        if place is not None:
            wide, thick = round(place.size * 0.56), max(2, round(system.space * 0.24))
            line = Rect(round(place.x - wide / 2), round(place.y + thick * 0.6), wide, thick)
            canvas.fill(f"finger.{at}.{note}.own", line.move(corner), "blue", OVER)


def lay_reduced(canvas: Canvas, score: Score, shown: Iterable[int], room: Rect) -> bool:
    """Lay some systems, music alone, drawn down to a room narrower than they were engraved for, until they are set for
    it; False when they are no wider.
    """
    wide = score.engraved.look.width_px
    if wide <= room.width:
        return False
    drawn = [(at, score.systems[at]) for at in shown if score.systems[at].ink is not None]
    sizes = [(round(one.size[0] * room.width / wide), round(one.size[1] * room.width / wide)) for _, one in drawn]
    air = max(0, room.height - sum(high for _, high in sizes)) // (len(sizes) + 1)
    top = room.top
    for (at, system), size in zip(drawn, sizes, strict=True):
        rect = Rect((room.left, top + air), size)
        if rect.bottom <= room.bottom or rect.top == room.top:
            canvas.picture(f"music.{at}", rect, system.reduced(canvas.theme, size), canvas.theme.name, GROUND)
        top = rect.bottom
    return True


def lay_ribbon(canvas: Canvas, at: int, line: Iterable[Placed], corner: tuple[int, int], size: float) -> None:
    """Lay the syllables of one system, in lines of text of `size` pixels."""
    for one in line:
        rect = one.rect.move(corner)
        tone = canvas.colour("brass" if one.is_do else "graphite")
        _lay_word(canvas, f"ribbon.{at}.{one.note}", rect, one, size, tone)


def _lay_word(canvas: Canvas, name: str, rect: Rect, one: Placed, size: float, tone: Colour) -> None:
    """Lay a syllable on the baseline of a line of `size`, whatever its own."""
    drawn_at = (rect.left, round(rect.top + size * ribbon.RISE - fonts.baseline(one.size)))

    def paint(surface: pygame.Surface) -> None:
        surface.blit(fonts.line(one.text, fonts.ITALIC, one.size, tone), drawn_at)

    grown = rect.inflate(round(size * 0.3), round(size * 0.3))
    canvas.add(Box(name, grown, (one.text, one.size, size, tone), paint, SOLID, one.text, rect))


def lay_right(canvas: Canvas, at: int, system: System, notes: Iterable[int], corner: tuple[int, int]) -> None:
    """Turn the heads of notes played right to graphite: the same picture, softer."""
    tone = canvas.colour("graphite")
    boxes = _softened(system, at, corner, tone)
    for note in notes:
        if note not in boxes:
            boxes[note] = _right(system, at, note, corner, tone)
    state = (system, tuple(notes), corner)
    canvas.again(f"right.{at}", state, lambda: canvas.boxes.extend(boxes[note] for note in notes))


@lru_cache(maxsize=8)
def _softened(system: System, at: int, corner: tuple[int, int], tone: Colour) -> dict[int, Box]:
    """The boxes of a system's softened heads, kept from frame to frame."""
    return {}


def _right(system: System, at: int, note: int, corner: tuple[int, int], tone: Colour) -> Box:
    x, y = system.heads[note]
    wide, high = round(system.space * 1.7), round(system.space * 1.12)
    area = Rect(round(x - wide / 2), round(y - high / 2), wide, high).clip(Rect((0, 0), system.size))
    rect = area.move(corner)

    def paint(surface: pygame.Surface) -> None:
        surface.blit(system.softened(area, tone), rect.topleft)

    return Box(f"right.{at}.{note}", rect, tone, paint, OVER)


def lay_strokes(canvas: Canvas, at: int, strokes: list[Stroke], corner: tuple[int, int]) -> None:
    """Lay the pencil marks of one system."""

    def lay() -> None:
        for number, stroke in enumerate(strokes):
            if stroke.rect.width:
                lay_stroke(canvas, f"mark.{at}.{number}", stroke, corner)

    canvas.again(f"mark.{at}", (tuple(strokes), corner), lay)


def lay_stroke(canvas: Canvas, name: str, stroke: Stroke, corner: tuple[int, int]) -> None:
    """Lay one pencil mark."""
    rect = stroke.rect.move(corner)
    tone = canvas.colour("blue")

    def paint(surface: pygame.Surface) -> None:
        surface.blit(picture(stroke.body, rect.width, rect.height), rect.topleft)
        for word in stroke.words:
            top = word.middle + corner[1] - word.size / 2 + word.size * 0.77 - fonts.baseline(word.size)
            surface.blit(fonts.line(word.text, word.style, word.size, tone), (round(word.left + corner[0]), round(top)))

    state: Hashable = (stroke.body, stroke.words, tone)
    canvas.add(Box(name, rect, state, paint, OVER, " ".join(word.text for word in stroke.words)))


def lay_hairline(
    canvas: Canvas, system: System, x: float, corner: tuple[int, int], line: Iterable[Placed] = ()
) -> None:
    """The brass line at the place, from above the first staff to under the last; it strikes no syllable through, nor
    the words of a song.
    """
    thick = max(2, round(system.space * 0.2))
    words_end = system.sung + 0.6 * system.space if system.sung else 0.0
    top = round(max(words_end, system.staves[0].top - 2.6 * system.space))
    low = round(min(system.size[1], system.staves[-1].bottom + 2.6 * system.space))
    rect = Rect(round(corner[0] + x - thick / 2), corner[1] + top, thick, low - top)
    air = round(system.space * 0.3)
    words = (one.rect.move(corner).inflate(2 * air, 0) for one in line)
    parts, start = [], rect.top
    for word in sorted((word for word in words if word.colliderect(rect)), key=lambda word: word.top):
        parts.append(Rect(rect.left, start, thick, max(0, word.top - start)))
        start = max(start, word.bottom)
    parts.append(Rect(rect.left, start, thick, max(0, rect.bottom - start)))
    # A stump beneath the last words would only be a speck.
    drawn = tuple((one.left, one.top, thick, one.height) for one in parts if one.height > system.space)
    tone = canvas.colour("brass")

    def paint(surface: pygame.Surface) -> None:
        for part in drawn:
            surface.fill(tone, part)

    canvas.add(Box("hairline", rect, (drawn, tone), paint, OVER))


def lay_veils(
    canvas: Canvas, at: int, system: System, corner: tuple[int, int], setting: Setting, line: Iterable[Placed]
) -> None:
    """Veil the hand and the bars that are not asked for, no syllable of `line`; brass brackets stand round a loop."""
    wide, high = system.size
    if setting.hands != BOTH and len(system.staves) == 2:
        middle = round((system.staves[0].bottom + system.staves[1].top) / 2)
        if setting.hands == RIGHT:
            upper = [one.rect.bottom for one in line if one.rect.top < system.staves[1].top]
            words = max(upper, default=0)
            top = max(round(system.staves[1].top - 2.2 * system.space), middle, words)
            _veil(canvas, f"veil.hand.{at}", Rect(corner[0], corner[1] + top, wide, high - top))
        elif setting.hands == LEFT:
            low = system.staves[0].bottom + 2.2 * system.space
            # The voice over the piano stays in sight: whoever plays one hand goes with the singer all the same.
            top = round(system.sung + 0.6 * system.space) if system.sung else 0
            _veil(canvas, f"veil.hand.{at}", Rect(corner[0], corner[1] + top, wide, round(min(low, middle)) - top))
    if setting.loop is None or not system.bars:
        return
    first, last = setting.loop
    inside = [(left, right) for bar, left, right in system.bars if first <= bar <= last]
    if not inside:
        _veil(canvas, f"veil.all.{at}", Rect(corner, (wide, high)))
        return
    left, right = inside[0][0], inside[-1][1]
    if system.bars[0][0] < first:
        _veil(canvas, f"veil.before.{at}", Rect(corner[0], corner[1], round(left), high))
        _bracket(canvas, f"loop.first.{at}", system, left, corner, 1)
    elif system.bars[0][0] == first:
        _bracket(canvas, f"loop.first.{at}", system, max(left, system.music_left - 0.5 * system.space), corner, 1)
    if system.bars[-1][0] > last:
        _veil(canvas, f"veil.after.{at}", Rect(corner[0] + round(right), corner[1], wide - round(right), high))
    if system.bars[-1][0] >= last:
        _bracket(canvas, f"loop.last.{at}", system, right, corner, -1)


def _veil(canvas: Canvas, name: str, rect: Rect) -> None:
    size, theme = canvas.size, canvas.theme

    def paint(surface: pygame.Surface) -> None:
        shown = rect.clip(Rect((0, 0), size))
        cloth = paper(size, theme).subsurface(shown).copy()
        cloth.set_alpha(_VEIL)
        surface.blit(cloth, shown.topleft)

    canvas.add(Box(name, rect, theme.name, paint, OVER))


def _bracket(canvas: Canvas, name: str, system: System, x: float, corner: tuple[int, int], way: int) -> None:
    s = system.space
    top, low = system.staves[0].top - 1.4 * s, system.staves[-1].bottom + 1.4 * s
    rect = Rect(round(corner[0] + x - 1.2 * s), round(corner[1] + top), round(2.4 * s), round(low - top))
    middle, high = rect.width / 2, rect.height
    thick = max(1.6, s * 0.2)
    body = (
        f'<path d="M{middle + way * 0.9 * s:.1f} {thick}H{middle:.1f}V{high - thick:.1f}H{middle + way * 0.9 * s:.1f}" '
        f'fill="none" stroke="{hexed(canvas.colour("brass"))}" stroke-width="{thick:.1f}"/>'
    )
    canvas.shape(name, rect, body, OVER)
