"""How large a piece is laid out, so that its systems stand where there is room for them on the Stand."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import ceil

from trainer.music.passage import passage
from trainer.music.piece import Piece
from trainer.scores.engraving.engraving import Engraved, engrave, heights, in_pixels, stretch
from trainer.scores.engraving.look import Look
from trainer.scores.engraving.systems import System

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
# What exceeds its room by more has none without its fingers, slurs and dynamics either, and is not tried (ours).
_BARE = 1.5
# Of the size wished, what more than two systems may be made smaller to.
_LARGE_ENOUGH = 0.75
# Of a piece of so many bars that must be laid out what is seen stands there at once, the whole a moment later; of a
# song, whose words make it slow, and where so many notes stand in a bar, of so few.
LONG, LONG_SONG, _FULL_BAR = 48, 16, 16
# Bars that are tried first, and how many moments fill a system at most (tuned).
_FIRST_BARS, _FEWEST_BARS, _MOMENTS = 16, 4, 45
# And before the bar that is looked at, for the system before it (ours).
_BEFORE = 8
# Of all bars no more are tried at first, nor, where these hold too little, after that (ours).
_MOST_TRIED, _MOST = 0.5, 0.7

# How large a piece is laid out, and how many of its systems are to stand under each other.
Size = tuple[Look, int]


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
        How many from there on hold what is seen, with the system after it; 0 where that is not known.
    begins : tuple of int
        Bars with which systems begin on the page that stands there, and the one after its last.
    stood : (int, float)
        How wide these are and how high their staves, in pixels.
    size : (Look, int) or None
        How large what stands there is, where what comes is to be as large.
    """

    lead: int = 0
    bars: int = 0
    begins: tuple[int, ...] = ()
    stood: tuple[int, float] = (0, 0.0)
    size: Size | None = None

    @classmethod
    def at(cls, page: Engraved | None, near: int, slots: int, as_large: bool = False) -> Waiting:
        """Before a page that is to take the place of this one, or of none, so many systems looked at near a bar;
        `as_large` as this one.
        """
        size = (page.look, slots) if page is not None and as_large else None
        if page is None or not page.systems[0].bars[0].bar <= near <= page.systems[-1].bars[-1].bar:
            return cls(max(0, near - _BEFORE), size=size)
        begins = tuple(system.bars[0].bar for system in page.systems)
        here, ends = page.system_of_bar(near), (*begins[1:], page.systems[-1].bars[-1].bar + 1)
        lead = begins[max(0, here - 2)]
        # A page that goes on does not say where the system after its last ends.
        known = size is None or here + slots < len(ends)
        bars = ends[min(here + slots, len(ends) - 1)] - lead if known else 0
        return cls(lead, bars, (begins[0], *ends), _set(page.look), size)


def is_long(piece: Piece) -> bool:
    """Whether the whole of a piece is waited for noticeably longer than what is seen of it."""
    bars = len(piece.bars)
    dense = len(piece.notes) >= _FULL_BAR * bars
    return bars >= (LONG_SONG if dense or piece.sung else LONG)


def begun(
    piece: Piece, room: Room, sized: Callable[[Piece, Look | None], Size], near: int, waiting: Waiting
) -> Engraved | None:
    """Of a long piece the systems that are looked at, as large as these bars by themselves are; None where that needs
    so many bars that the whole is hardly slower.

    `sized` finds that size for a passage, from what a shorter one has on.
    """
    first, bars, size = waiting.lead, len(piece.bars), None
    # Of several voices over the piano one system has the room.
    count = waiting.bars or _first_bars(piece, first, near, 1 if len(piece.singers) > 1 else room.slots)
    while count <= bars * (_MOST_TRIED if size is None else _MOST):
        last = min(first + count, bars) - 1
        size = look, slots = sized(passage(piece, (first, last)), size and size[0])
        told = waiting.begins if waiting.stood == _set(look) and last < waiting.begins[-1] else ()
        found = stretch(piece, look, (first, last), told)
        if found.systems and near < found.systems[0].bars[0].bar:
            first, count = max(0, first - _BEFORE), count + min(first, _BEFORE)
            continue
        if found.systems and near <= found.systems[-1].bars[-1].bar:
            before = max(0, found.system_of_bar(near) - 1)
            if len(found.systems) - before >= slots or last + 1 == bars:
                return found
        # The one that was left out holds bars, too.
        a_system = count / (len(found.systems) + 1 + (first > 0))
        count = max(count + 2, near - first + ceil(a_system * (slots + 1)))
    return None


def further(piece: Piece, look: Look, last: tuple[int, int], slots: int) -> Engraved:
    """The systems that follow one, its first bar and its last given by their indices: so many, fewer at the end."""
    first, following, bars = last[0], last[1] + 1, len(piece.bars)
    count = following - first
    while True:
        count += ceil((following - first) * (slots + 1.5))
        end = min(first + count, bars) - 1
        found = _following(stretch(piece, look, (first, end)), following)
        if not found or found[0].bars[0].bar != following:
            # By itself the system before says its meter and may hold a bar less.
            begins = (following, *_begins(stretch(piece, look, (following, end))))
            found = _following(stretch(piece, look, (first, end), begins), following)
        if len(found) >= slots or end + 1 == bars:
            return Engraved(found, in_pixels(look))


def _following(found: Engraved, bar: int) -> tuple[System, ...]:
    """The systems from a bar on."""
    return tuple(system for system in found.systems if system.bars[0].bar >= bar)


def _begins(found: Engraved) -> tuple[int, ...]:
    """Where these systems begin, and the one after them."""
    return (*(one.bars[0].bar for one in found.systems), *(one.bars[-1].bar + 1 for one in found.systems[-1:]))


def _first_bars(piece: Piece, first: int, near: int, slots: int) -> int:
    """How many bars from the `first` on may hold the systems seen near a bar and the next, which is left out."""
    onsets = sorted({note.onset for note in (*piece.notes, *piece.sung)})
    begin = bisect_left(onsets, piece.bars[near].onset)
    bars = piece.bars[near : near + _FIRST_BARS]
    ends = (bisect_left(onsets, bar.onset + bar.length) - begin for bar in bars)
    full = next((at for at, moments in enumerate(ends, 1) if moments >= _MOMENTS * (slots + 1)), len(bars))
    return near - first + max(full, _FEWEST_BARS)


def by_itself(cut: Piece, look: Look, room: Room) -> Size:
    """How large a passage fits by itself, which may be larger than the whole does: at once is worth more."""
    return _fitting(cut, look, room, part=True)


def _set(look: Look) -> tuple[int, float]:
    """What says where systems begin: how wide they are, and how large in them the music is."""
    return look.width_px, in_pixels(look).staff_px


def fitting(piece: Piece, look: Look, room: Room) -> Look:
    """How large a piece fits. To see the next system is worth more than every finger of a chord, and those go first,
    then slurs, dynamics and the like.

    Where even so one system stands alone, it is as large as it would be by itself, with all of them.
    """
    return _fitting(piece, look, room)[0]


def _fitting(piece: Piece, look: Look, room: Room, part: bool = False) -> Size:
    """See `fitting`. Of a `part` of a piece, which goes on, the last systems share no bars, and it is not made larger
    than its neighbours will be.
    """
    slots = room.slots
    goes_on = slots if part else 0

    def stands(look: Look, tall: Sequence[float]) -> bool:
        return stand_in(tall, slots, room.height) if part else _fits(piece, look, room, tall)

    whole, tall = _sized(piece, look, room, goes_on)
    fits = slots == 1 or stands(whole, tall)
    if slots > 2 and not (fits and whole.staff_px >= _LARGE_ENOUGH * look.staff_px):
        # A third system is worth less than the size of two and all that stands in them.
        return _fitting(piece, look, room.of_fewer(slots - 1), part)
    if fits and (slots > 1 or len(tall) == 1):
        return whole if part else _grown(piece, whole, room), slots
    if not fits and stand_in(tall, slots, room.height * _BARE):
        bare = replace(look, stacked=False, expression=False)
        least = replace(bare, staff_px=round(room.least, 1))
        # What does not stand there in the smallest size need not be tried in others, nor others while somebody waits.
        if stand_in(_at_least(heights(piece, least), goes_on), slots, room.height * _SHARED):
            for fewer in (
                replace(least if part else look, stacked=False, expression=look.expression),
                least if part else bare,
            ):
                sized, now = _sized(piece, fewer, room, goes_on)
                if stands(sized, now):
                    return sized, slots
    # One system has the whole room: the notes grow into it, the syllables with them.
    one = room.of_fewer(1)
    staff = min(max(room.alone, look.staff_px), whole.staff_px * _ALONE * one.height / max(tall))
    return _sized(piece, _of_size(look, staff) if staff > look.staff_px else look, one)[0], 1


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


def _at_least(tall: list[float], count: int) -> list[float]:
    """So many systems at least, those that are not there yet as tall as the tallest."""
    return tall + [max(tall)] * (count - len(tall))


def _sized(piece: Piece, look: Look, room: Room, goes_on: int = 0) -> tuple[Look, list[float]]:
    """The look with staves of such a size that a piece fits, as far as they may be made smaller, and how tall its
    systems then are, `goes_on` of them at least.
    """
    for tries in range(_TRIES + 1):
        tall = _at_least(heights(piece, look), goes_on)
        needed = room_for(tall, room.slots)
        if tries == _TRIES or needed <= room.height or look.staff_px <= room.least * 1.01:
            break
        words = 2.5 * look.ribbon_px * min(room.slots, len(tall))
        share = (room.height - words) / max(1.0, needed - words)
        look = replace(look, staff_px=round(max(room.least, look.staff_px * max(0.5, share)), 1))
    return look, tall
