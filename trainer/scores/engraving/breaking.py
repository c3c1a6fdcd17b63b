"""Where systems end: a page never closes with a bar or two alone when the systems before could have shared.

And whether the words of a song have their room between those ends.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Collection, Sequence
from itertools import accumulate
from math import inf

from trainer.scores.engraving.systems import System

# Of the width: a last system that ends before it was not drawn out.
_SHORT = 0.95
# So many systems at the end share their bars anew, those before stay.
_SHARING = 4
# Pixels by which a row of sums may differ from its bars one by one.
_CRUMB = 1e-6


def evened(systems: Sequence[System]) -> frozenset[int]:
    """Bars, by index, that had better begin a system, as many systems as before; empty where the page is well."""
    if len(systems) < 2:
        return frozenset()
    last, before = systems[-1], systems[-2]
    if last.right - last.left > _SHORT * (before.right - before.left):
        return frozenset()
    kept, sharing = systems[:-_SHARING], systems[-_SHARING:]
    bars = [bar for system in sharing for bar in system.bars]
    found = [bars[at].bar for at in _shared(_widths(sharing), len(sharing))]
    if found == [system.bars[0].bar for system in sharing]:
        return frozenset()
    return frozenset([*(system.bars[0].bar for system in kept), *found]) - {systems[0].bars[0].bar}


def filled(line: System, room: float) -> frozenset[int]:
    """Bars, by index, that begin a system where none may be narrower than by nature and all are about as wide.

    Parameters
    ----------
    line : System
        The whole piece in one.
    room : float
        For the bars of a system, beside what stands at its head. A wider bar has a system to itself.
    """
    wide = _widths([line])
    room = max(room, *wide)
    rows, taken = 1, 0.0
    for width in wide:
        rows, taken = (rows, taken + width) if taken + width <= room else (rows + 1, width)
    return frozenset(line.bars[at].bar for at in _shared(wide, rows, room)[1:])


def widest(line: System) -> float:
    """Of the bars of a piece in one line."""
    return max(_widths([line]))


def _widths(systems: Sequence[System]) -> list[float]:
    """Of every bar; what stands at the head of a system belongs to the system."""
    return [
        bar.right - max(bar.left, system.music_left) if bar is system.bars[0] else bar.right - bar.left
        for system in systems for bar in system.bars
    ]  # fmt: skip


def _shared(wide: Sequence[float], rows: int, most: float = inf) -> list[int]:
    """Where each of so many rows begins, so that all are about as wide and none wider than the most.

    >>> _shared([1.0] * 8, 2), _shared([3.0, 1.0, 1.0, 1.0], 2)
    ([0, 4], [0, 1])
    >>> _shared([2.0, 3.0, 3.0, 1.0], 3, 4.0), _shared([0.1, 0.2], 2, 0.2)
    ([0, 1, 2], [0, 1])
    """
    upto = [0.0, *accumulate(wide)]
    count = len(wide)
    # For each row and bar after its last one: the least sum of squares, and where the row began.
    best: list[list[tuple[float, int]]] = [[(_square(upto[end], most), 0) for end in range(count + 1)]]
    for row in range(1, rows):
        before = best[-1]
        ends: list[tuple[float, int]] = []
        for end in range(count + 1):
            first = max(row, bisect_left(upto, upto[end] - most - _CRUMB))
            sums = ((before[at][0] + _square(upto[end] - upto[at], most), at) for at in range(first, end))
            ends.append(min(sums, default=(inf, 0)))
        best.append(ends)
    begins, end = [], count
    for row in reversed(range(rows)):
        end = best[row][end][1]
        begins.append(end)
    return begins[::-1]


def _square(width: float, most: float) -> float:
    return width**2 if width <= most + _CRUMB else inf


def broken(document: str, begins: Collection[int]) -> str:
    """The same document with systems that begin at these bars, by index, in every part."""
    at = -1

    def bar(found: re.Match[str]) -> str:
        nonlocal at
        at = -1 if found[0].startswith("<part ") else at + 1
        return found[0] + '<print new-system="yes"/>' * (at in begins and found[0].startswith("<measure "))

    return re.sub(r"<part id=[^>]*>|<measure [^>]*>", bar, document)
