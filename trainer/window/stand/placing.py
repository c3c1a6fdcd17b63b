"""Where the next take begins: "from bar nine, please". The bar is stepped to, or pointed at on the page."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import replace
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.music.piece import BOTH
from trainer.session import PRIMA_VISTA, SENZA_MISURA
from trainer.window import barwords
from trainer.window.page.music import System
from trainer.window.page.turning import Part
from trainer.window.paint.controls import Control, Controls
from trainer.window.practice import Practice
from trainer.window.strings import say
from trainer.window.wish import Wish

if TYPE_CHECKING:
    from trainer.window.stand.stand import Stand

# Staff spaces over and under a system within which a click means one of its bars.
_NEAR = 3.0
_LINE_S = 6.0


class Placing:
    """Chooses the bar a take is begun at.

    Parameters
    ----------
    stand : Stand
    """

    def __init__(self, stand: Stand) -> None:
        self._stand = stand
        self._seen: list[tuple[System, tuple[int, int], Part | None]] = []
        self._room = Rect(0, 0, 0, 0)

    @property
    def _practice(self) -> Practice:
        assert self._stand.practice is not None
        return self._stand.practice

    @property
    def here(self) -> int:
        """Index of the bar the page lies at."""
        piece = self._practice.wish.piece
        moments = piece.moments
        return piece.bar_index(moments[min(self._stand.place, len(moments) - 1)].onset) if moments else 0

    def step(self, by: int) -> None:
        """A bar on or back; from within a bar, first back to where it begins. A loop is moved past rests."""
        wish = self._practice.wish
        if wish.loop is not None:
            ways = range(wish.loop[0] + by, len(wish.piece.bars) if by > 0 else -1, by)
            self.at(next((bar for bar in ways if _moved(wish, bar) is not None), wish.loop[0] + by))
            return
        here, moments = self.here, wish.piece.moments
        if by < 0 and wish.start and self._stand.place == wish.begins:
            # The hand may rest from there to its first note, which lies on another beat or in a later bar.
            here = wish.start
        elif by < 0 and moments:
            begins = bisect_left(moments, wish.piece.bars[here].onset, key=lambda moment: moment.onset)
            by += min(self._stand.place, len(moments) - 1) > begins
        self.at(here + by)

    def first(self) -> None:
        """From the beginning."""
        self.at(0)

    def at(self, bar: int) -> None:
        """Let the next take begin at a bar, by its index in `Piece.bars`; a loop goes there as long as it is."""
        wish = self._practice.wish
        if wish.mode == PRIMA_VISTA:
            self._stand.house.say(say("sight.fixed" if self._stand.tested else "stand.from.sight"), 4)
            return
        moved = _moved(wish, max(0, bar))
        if moved is None:
            return
        self._stand.change(moved)
        self.tell()

    def change(self, wish: Wish) -> None:
        """Put on the stand what was changed otherwise; where nothing is asked for from its bar on, from the beginning.

        So it is when the hand that plays now rests from there to the end.
        """
        silent = wish.loop is None and wish.start and _rests(wish)
        self._stand.change(replace(wish, start=0) if silent else wish)
        if silent:
            self.tell()

    def tell(self) -> None:
        """Say where the next take begins, and what begins it."""
        wish, house = self._practice.wish, self._stand.house
        if wish.loop is not None:
            house.say(say("stand.loop.on", bars=barwords.bars(wish.piece, *wish.loop)), 3)
            return
        timed = ".timed" if wish.mode != SENZA_MISURA else ""
        where = barwords.bar_of(wish.piece, wish.start)
        house.say(say(f"stand.from{timed}", bar=where) if wish.start else say("stand.from.first"), _LINE_S)

    # The page

    def begin_frame(self, room: Rect) -> None:
        """The page is about to be laid."""
        self._seen, self._room = [], room

    def lay(self, system: System, corner: tuple[int, int], part: Part | None) -> None:
        """A system, or a part of it, is laid there."""
        self._seen.append((system, corner, part))

    def order(self, controls: Controls) -> None:
        """A click on the page means the bar that stands there; the keys go on and back."""
        controls.order("bar.back", "page up", lambda: self.step(-1))
        controls.order("bar.first", "home", self.first)
        if self._seen and not (self._stand.keys_shown or self._stand.tuning or self._stand.glimpsing):
            controls.add(Control("bar.page", self._room, lambda: None, at=self.clicked, ringed=False))

    def clicked(self, point: tuple[int, int]) -> bool:
        """Begin at the bar at a point; False where there is none."""
        for system, (left, top), part in self._seen:
            x, y, air = point[0] - left, point[1] - top, _NEAR * system.space
            shown = part is None or part.left <= x < part.right
            if shown and system.staves[0].top - air <= y <= system.staves[-1].bottom + air:
                bar = next((bar for bar, begin, end in system.bars if begin <= x < end), None)
                if bar is not None:
                    self.at(bar)
                    return True
        return False


def _moved(wish: Wish, bar: int) -> Wish | None:
    """The same begun at a bar; None where nothing more is asked for from there on."""
    bars, moved = wish.piece.bars, wish.begun_at(bar)
    if moved.loop is not None:
        asked = any(wish.hands in (BOTH, wish.piece.notes[note].hand) for note in moved.part)
        return moved if moved.loop[1] < len(bars) and asked else None
    return moved if bar == 0 or (bar < len(bars) and not _rests(moved)) else None


def _rests(wish: Wish) -> bool:
    """Whether nothing is asked for from the bar it is begun at; the first note of all may lie beyond it, too."""
    moments = wish.piece.moments
    return not moments or moments[wish.begins].onset < wish.span[0]
