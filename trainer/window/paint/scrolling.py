"""Which rows of a list are in sight. Pure."""

from __future__ import annotations

from collections.abc import Sequence


def in_sight(highs: Sequence[int], chosen: int, room: int, before: int | None = None) -> tuple[int, int]:
    """The rows there is room for, from the first one before on, moved no further than the chosen one asks for.

    One that lies farther out of sight, or the first one chosen, stands in the middle, as far as there are rows on both
    sides.
    """
    if not highs:
        return 0, 0
    first = chosen if before is None else min(before, len(highs) - 1)
    last = _end(highs, first, room)
    if chosen == first - 1:
        first = chosen
    elif chosen == last:
        while first < chosen and sum(highs[first : chosen + 1]) > room:
            first += 1
    elif before is None or not first <= chosen < last:
        first = chosen
        while first > 0 and sum(highs[first - 1 : chosen]) <= room // 2:
            first -= 1
    last = max(chosen + 1, _end(highs, first, room))
    while first > 0 and sum(highs[first - 1 : last]) <= room:
        first -= 1
    while first < chosen and sum(highs[first:last]) > room:
        first += 1
    return first, last


def _end(highs: Sequence[int], first: int, room: int) -> int:
    """The row after the last one there is room for."""
    last = first + 1
    while last < len(highs) and sum(highs[first : last + 1]) <= room:
        last += 1
    return last
