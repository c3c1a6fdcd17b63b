"""When the page turns: which systems stand on it at a place in the music, and where.

Where there is room for two, the next one stands there before it is played; in a tall window so do the ones after it,
and each system that is over makes room for one to come. Where there is room for one, the page turns
by halves, as players fold a leaf: the next system begins at the left while the last bars of this one are played at the
right.
"""

from __future__ import annotations

from dataclasses import dataclass

from pygame import Rect

from trainer.window.page.music import Score, System


@dataclass(frozen=True)
class Part:
    """What is shown of a system: of its picture, in pixels, from `left` to `right`."""

    at: int
    left: int
    right: int


def shown_systems(score: Score, place: int, slots: int) -> list[int]:
    """Which system stands in which slot: the one being played, and in the others the next ones.

    While the first bar of a system is played the one before it stays, so that its marks can still be seen.
    """
    slots = min(slots, len(score.systems))
    current = score.system_at(place)
    if slots == 1:
        return [current]
    moments = score.piece.moments
    bar = score.piece.bar_index(moments[min(place, len(moments) - 1)].onset)
    first = score.systems[current].bars[0][0]
    begin = max(0, min(current if bar > first else current - 1, len(score.systems) - slots))
    return sorted(range(begin, begin + slots), key=lambda at: at % slots)


def parts_of(score: Score, place: int) -> list[Part]:
    """What stands there at a place where there is room for one system: it alone, or the end of one and the beginning of
    the next, from left to right.

    The bar before the one that is played stays, so that its marks can still be seen; so does the end of a system while
    the first bar of the next one is played.
    """
    current = score.system_at(place)
    system = score.systems[current]
    moments = score.piece.moments
    bar = score.piece.bar_index(moments[min(place, len(moments) - 1)].onset) if moments else 0
    number = max((at for at, one in enumerate(system.bars) if one[0] <= bar), default=0)
    if number == 0 and current > 0:
        before = score.systems[current - 1]
        folded = _folded(score, current - 1, len(before.bars) - 1)
        # A bar alone leaves nothing to read on in.
        if folded is not None and folded[0].right > system.bars[min(1, len(system.bars) - 1)][2] - system.space:
            return folded
    return _folded(score, current, number) or [_whole(current, system)]


def _whole(at: int, system: System) -> Part:
    return Part(at, 0, system.size[0])


def _folded(score: Score, at: int, number: int) -> list[Part] | None:
    """The next system's first bars before the bars of this one that are still wanted, while the bar of this `number` in
    it is played; None in its first half, and as long as there is no room for one or either is not drawn.
    """
    if at + 1 >= len(score.systems) or number == 0:
        return None
    system, coming = score.systems[at], score.systems[at + 1]
    if system.ink is None or coming.ink is None:
        # Where one may be cut is found in its ink.
        return None
    last = number == len(system.bars) - 1
    if not last and system.bars[number][1] < system.size[0] / 2:
        return None
    for first in (number - 1, number) if last else (number - 1,):
        left = system.bars[first][1]
        ends = [end for _, _, end in coming.bars if end <= left - system.space]
        if ends and first:
            return [Part(at + 1, 0, round(ends[-1])), Part(at, round(left), system.size[0])]
    if not last:
        return None
    # No bar of it is so narrow: as much of the first one as there is room for, up to the last head that is whole.
    left = system.bars[number][1]
    heads = [x + 1.2 * coming.space for x, _ in coming.heads.values() if x + 2.2 * coming.space <= left]
    return [Part(at + 1, 0, round(max(heads))), Part(at, round(left), system.size[0])] if heads else None


def slot_corners(room: Rect, score: Score, shown: list[int], below: int = 0) -> list[tuple[int, int]]:
    """Top left corners of the shown systems: shared out over the height, the air between them even.

    `below` pixels stay free under each of them. Three and more stand in the middle of their slots. Where two of the
    tallest would not stand under each other, a system gives way to its own neighbours alone, so that it stands where it
    stood when the page turns beside it.
    """
    high = [system.size[1] + below for system in score.systems]
    if len(shown) == 1:
        return [(room.left, room.top + max(0, round((room.height - high[shown[0]]) * 0.4)))]
    if len(shown) > 2:
        slot = room.height / len(shown)
        return [(room.left, round(room.top + slot * (n + 0.5) - high[at] / 2)) for n, at in enumerate(shown)]
    air = max(0.0, (room.height - 2 * max(high)) / 3)
    found = []
    for slot, at in enumerate(shown):
        # Between the system and each of its neighbours, as near to the middle as both have room.
        borders = [room.height / 2]
        for other in (at - 1, at + 1):
            if 0 <= other < len(high):
                upper, lower = (high[at], high[other])[:: 1 - 2 * slot]
                borders.append(max(upper, min(room.height / 2, room.height - lower)))
        start, end = (max(borders) + air / 2, room.height - air) if slot else (air, min(borders) - air / 2)
        top = min((start + end - high[at]) / 2, room.height - high[at])
        found.append((room.left, room.top + max(0, round(top))))
    return found
