"""How the systems of a copy are spaced: evenly, but for what is written over and under them."""

from __future__ import annotations

from collections.abc import Sequence

_HALVINGS = 24


def gaps(overhangs: Sequence[tuple[float, float]], spare: float, most: float, least: float) -> list[float]:
    """The air over the first system, between each two, and under the last, in pixels.

    Parameters
    ----------
    overhangs : sequence of (float, float)
        How far the pencil reaches over and under each system.
    spare : float
        What the systems leave of the page; below 0 they overlap by it.
    most, least : float
        The most and the least air between two systems; above the first and below the last it is half of that.

    Examples
    --------
    >>> [round(gap) for gap in gaps([(0, 0), (0, 0)], 40, 100, 0)]
    [10, 20, 10]
    >>> [round(gap) for gap in gaps([(24, 0), (0, 0)], 40, 100, 0)]
    [24, 11, 5]
    >>> [round(gap) for gap in gaps([(60, 0), (20, 0)], 40, 100, 0)]
    [30, 10, 0]
    """
    over, under = [one for one, _ in overhangs], [one for _, one in overhangs]
    needs = [over[0], *(max(pair) for pair in zip(under[:-1], over[1:], strict=True)), under[-1]]
    shares = [0.5, *(1.0 for _ in needs[1:-1]), 0.5]
    if spare <= 0:
        return [share * max(least, spare / len(overhangs)) for share in shares]
    if sum(needs) >= spare:
        return [need * spare / sum(needs) for need in needs]
    low, high = 0.0, most
    for _ in range(_HALVINGS):
        level = (low + high) / 2
        fits = sum(max(need, share * level) for need, share in zip(needs, shares, strict=True)) <= spare
        low, high = (level, high) if fits else (low, level)
    return [max(need, share * low) for need, share in zip(needs, shares, strict=True)]
