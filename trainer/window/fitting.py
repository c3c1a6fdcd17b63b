"""How large a piece is laid out, so that its systems stand where there is room for them on the Stand."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import ceil

from trainer.music.passage import passage
from trainer.music.piece import Piece
from trainer.scores.engraving import Engraved, engrave, heights, in_pixels, stretch
from trainer.scores.look import Look

# A layout that does not fit is tried again at most so often.
_TRIES = 4
# Systems fit into a room that they exceed by so little.
OVER = 1.03
# Staves as the engraver has them, in whole pixels between two lines, and how much of a room a piece that is made larger
# takes at most, so that the fingers of another key find room too (ours).
_STEP_PX, _FULL = 4, 0.96
# Systems that share their bars are lower than before by no more than this; one alone may grow by this more than the
# tallest of smaller ones lets expect, for larger ones hold fewer bars and it is made smaller again (tuned).
_SHARED, _ALONE = 1.15, 1.2
# Of the size wished, what more than two systems may be made smaller to.
_LARGE_ENOUGH = 0.75
# Of a piece of so many bars that must be laid out what is seen stands there at once, the whole a moment later.
LONG, _FIRST_BARS = 48, 16


@dataclass(frozen=True)
class Room:
    """Where systems are to stand.

    Parameters
    ----------
    slots : int
        How many are wished to stand under each other.
    height : int
        Pixels for these.
    least, most : float
        Pixels of the smallest and of the largest staff.
    below : int
        Pixels that stay free under each besides.
    alone : float
        Pixels of the largest staff of a system that stands alone.
    """

    slots: int
    height: int
    least: float
    most: float
    below: int = 0
    alone: float = 0.0

    @property
    def whole(self) -> int:
        """Pixels, with what stays free."""
        return self.height + self.slots * self.below

    def of_fewer(self, slots: int) -> Room:
        """The same room for fewer systems."""
        return replace(self, slots=slots, height=self.whole - slots * self.below)


@dataclass(frozen=True)
class Waiting:
    """Who looks at a page waits for it: what is seen comes first.

    Parameters
    ----------
    lead : int
        Index of the bar where the system before those that are looked at begins, or of one before; 0 at the beginning
        of the piece.
    bars : int
        How many from there on hold what is seen, with the system after it.
    begins : tuple of int
        Bars with which systems begin on the page that stands there.
    stood : (int, float)
        How wide these are and how high their staves, in pixels.
    """

    lead: int = 0
    bars: int = _FIRST_BARS
    begins: tuple[int, ...] = ()
    stood: tuple[int, float] = (0, 0.0)

    @classmethod
    def at(cls, page: Engraved | None, near: int, slots: int) -> Waiting:
        """Before a page that is to take the place of this one, or of none, so many systems looked at near a bar."""
        if page is None:
            return cls(max(0, near - _FIRST_BARS // 2))
        begins = tuple(system.bars[0].bar for system in page.systems)
        here, ends = page.system_of_bar(near), (*begins[1:], page.systems[-1].bars[-1].bar + 1)
        lead = begins[max(0, here - 2)]
        return cls(lead, ends[min(here + slots, len(ends) - 1)] - lead, begins, _set(page.look))


def begun(piece: Piece, room: Room, sized: Callable[[Piece], Look], near: int, waiting: Waiting) -> Engraved | None:
    """Of a long piece the systems that are looked at, one more than is seen at once, as large as these bars by
    themselves are; None where that needs so many bars that the whole is hardly slower.
    """
    first, count = waiting.lead, waiting.bars
    while 2 * count <= len(piece.bars):
        last = min(first + count, len(piece.bars)) - 1
        look = sized(passage(piece, (first, last)))
        found = stretch(piece, look, (first, last), waiting.begins if waiting.stood == _set(look) else ())
        if found.systems and near <= found.systems[-1].bars[-1].bar:
            before = max(0, found.system_of_bar(near) - 1)
            tall = [ceil(system.height) + room.below for system in found.systems[before:]]
            seen = min(room.slots, standing(tall, room.slots, room.whole))
            if seen < len(tall) or last + 1 == len(piece.bars):
                return found
        count += count // 2
    return None


def by_itself(cut: Piece, look: Look, room: Room) -> Look:
    """How large a passage fits by itself, which may be larger than the whole does: at once is worth more."""
    found, tall = _sized(cut, look, room)
    return found if stand_in(tall, room.slots, room.height) else fitting(cut, look, room)


def _set(look: Look) -> tuple[int, float]:
    """What says where systems begin: how wide they are, and how large in them the music is."""
    return look.width_px, in_pixels(look).staff_px


def fitting(piece: Piece, look: Look, room: Room) -> Look:
    """How large a piece fits. To see the next system is worth more than every finger of a chord, and those go first,
    then slurs, dynamics and the like.

    Where even so one system stands alone, it is as large as it would be by itself, with all of them.
    """
    slots = room.slots
    whole, tall = _sized(piece, look, room)
    fits = slots == 1 or _fits(piece, whole, room, tall)
    if slots > 2 and not (fits and whole.staff_px >= _LARGE_ENOUGH * look.staff_px):
        # A third system is worth less than the size of two and all that stands in them.
        return fitting(piece, look, room.of_fewer(slots - 1))
    if fits and (slots > 1 or len(tall) == 1):
        return _grown(piece, whole, room)
    if not fits:
        bare = replace(look, stacked=False, expression=False)
        # What does not stand there in the smallest size need not be tried in others.
        if stand_in(heights(piece, replace(bare, staff_px=round(room.least, 1))), slots, room.height * _SHARED):
            for fewer in (replace(look, stacked=False), bare):
                sized, now = _sized(piece, fewer, room)
                if _fits(piece, sized, room, now):
                    return sized
    # One system has the whole room: the notes grow into it, the syllables with them.
    one = room.of_fewer(1)
    staff = min(max(room.alone, look.staff_px), whole.staff_px * _ALONE * one.height / max(tall))
    return _sized(piece, _of_size(look, staff) if staff > look.staff_px else look, one)[0]


def room_for(tall: Sequence[float], slots: int) -> float:
    """The most height that so many systems take, of those that come one after the other.

    More than two keep their places while the page turns, so each has as much as the tallest.
    """
    if slots > 2:
        return slots * max(tall)
    return max(sum(tall[at : at + slots]) for at in range(max(1, len(tall) - slots + 1)))


def stand_in(tall: Sequence[float], slots: int, height: float) -> bool:
    """Whether so many systems of a piece, each so tall in whole pixels, stand under each other in a height."""
    return room_for(tall, slots) <= height * OVER


def standing(tall: Sequence[float], slots: int, height: float) -> int:
    """How many systems of a piece are shown at once: all of them where they stand under each other in the height, else
    `slots` at most, and one at least.
    """
    if stand_in(tall, len(tall), height):
        return len(tall)
    return next((count for count in range(slots, 1, -1) if stand_in(tall, count, height)), 1)


def standing_of(piece: Piece, look: Look, room: Room) -> int:
    """The same of a piece laid out; 0 where even one is too tall."""
    tall = [ceil(system.height) + room.below for system in engrave(piece, look).systems]
    count = standing(tall, room.slots, room.whole)
    return count if stand_in(tall, count, room.whole) else 0


def _fits(piece: Piece, look: Look, room: Room, tall: Sequence[float]) -> bool:
    """Whether so many systems stand there once the last share their bars, so `tall` before."""
    if not stand_in(tall, room.slots, room.height * _SHARED):
        return False
    return stand_in([ceil(system.height) for system in engrave(piece, look).systems], room.slots, room.height)


def _of_size(look: Look, staff: float) -> Look:
    """With staves of so many pixels, the syllables in proportion."""
    return replace(look, staff_px=staff, ribbon_px=round(look.ribbon_px * staff / look.staff_px, 1))


def _grown(piece: Piece, look: Look, room: Room) -> Look:
    """Of a piece that stands there as a whole: the look with the largest staves, syllables with them, at which it still
    does, on as many systems as it then takes.
    """
    tall = heights(piece, look)
    if len(tall) > room.slots:
        return look
    free = room.whole * _FULL

    def stands(tall: Sequence[float]) -> bool:
        return room_for([height + room.below for height in tall], len(tall)) <= free

    def at(step: int) -> Look:
        return _of_size(look, float(step * _STEP_PX))

    usual = fits = int(look.staff_px / _STEP_PX)
    # Larger staves never take fewer lines.
    most = min(room.most, look.staff_px * free / max(1.0, room_for(tall, len(tall))))
    too_large = int(most / _STEP_PX) + 1
    while too_large - fits > 1:
        tried = (fits + too_large) // 2
        if stands(heights(piece, at(tried))):
            fits = tried
        else:
            too_large = tried
    # Systems that share their bars may be taller than they were.
    while fits > usual and not stands([system.height for system in engrave(piece, at(fits)).systems]):
        fits -= 1
    return at(fits) if fits > usual else look


def _sized(piece: Piece, look: Look, room: Room) -> tuple[Look, list[float]]:
    """The look with staves of such a size that a piece fits, as far as they may be made smaller, and how tall its
    systems then are.
    """
    for tries in range(_TRIES + 1):
        tall = heights(piece, look)
        needed = room_for(tall, room.slots)
        if tries == _TRIES or needed <= room.height or look.staff_px <= room.least * 1.01:
            break
        words = 2.5 * look.ribbon_px * min(room.slots, len(tall))
        share = (room.height - words) / max(1.0, needed - words)
        look = replace(look, staff_px=round(max(room.least, look.staff_px * max(0.5, share)), 1))
    return look, tall
