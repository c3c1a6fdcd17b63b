"""How large the music of the Marked copy is; and its page laid out while the take is still being played, so that it is
there when the take is over.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pygame import Rect

from trainer.scores.engraving.engraving import Look
from trainer.window import masthead
from trainer.window.paint import layout
from trainer.window.paint.canvas import Canvas
from trainer.window.workroom import jobs
from trainer.window.workroom.fingered import Whose

if TYPE_CHECKING:
    from trainer.window.house.house import House
    from trainer.window.practice import Practice

# Height of a staff in units of `base_of`.
_STAFF = 1.42
_LARGEST_SCALE = 1.5
# Of a page beside its counts and advice, the share that is the music's.
_MUSIC = 0.635
# From so many presses on it is likely that the take will be looked at (ours).
_TELLING = 12


def beside(canvas: Canvas) -> tuple[Rect, Rect]:
    """The columns of the Marked copy: the music with its curve, and what is said of it."""
    body = layout.sheet(canvas).body
    left, right = layout.columns(body, [round(body.width * _MUSIC), 0], round(1.8 * canvas.unit))
    return left, right


def base_of(canvas: Canvas) -> float:
    """What the size of the music is counted in: a fortieth of the window's height, in a tall window less. Who wants
    large text wants large notes, as far as two bars still stand beside each other.
    """
    base = canvas.size[0] / 53 if layout.is_tall(canvas) else canvas.size[1] / 40
    return base * max(1.0, min(canvas.scale, _LARGEST_SCALE))


def look_of(canvas: Canvas, wide: int, voice: bool, verse: int) -> Look:
    """The music of the Marked copy, so many pixels wide."""
    return Look(wide, round(base_of(canvas) * _STAFF, 1), ribbon_px=0.0, fingers=False, words=voice, verse=verse)


def whose(house: House) -> Whose:
    """Whose own fingers it bears."""
    return Whose(str(house.journal_file.parent), house.settings.player)


class Ahead:
    """Has the page of a take laid out once, as soon as it is likely that the take will be looked at."""

    def __init__(self, house: House) -> None:
        self._house = house
        self._asked: tuple[object, ...] | None = None

    def played(self, practice: Practice, verse: int) -> None:
        """A key of a take was struck."""
        # Without the loop nobody waits for a page.
        canvas = self._house.canvas
        if len(practice.presses) != _TELLING or canvas is None or not self._house.loop.running:
            return
        body = layout.sheet(canvas).body
        wide = body.width if masthead.is_tight(body, canvas) else beside(canvas)[0].width
        look = look_of(canvas, wide, self._house.settings.voice, verse)
        asked = practice.wish.piece, look, practice.wish.plan.interval, whose(self._house)
        if asked != self._asked:
            self._asked = asked
            # Where it cannot be laid out the Marked copy says so itself.
            self._house.workroom.ask(
                jobs.copied_ahead, *asked, then=lambda _: None, failed=lambda _: None, place="copy.ahead"
            )
