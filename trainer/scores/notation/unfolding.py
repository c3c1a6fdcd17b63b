"""Repeats, voltas, D.C. and D.S.: the order in which written bars are played."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

# A jump that loops for ever is a slip of the pen: no piece plays its bars more often than this.
_MOST_PASSES = 16


@dataclass(slots=True)
class Signs:
    """What one written bar says about the way through the piece.

    Parameters
    ----------
    start, end : bool
        A forward repeat at its left, a backward one at its right.
    times : int
        How often the repeated passage is played in all.
    ending : tuple of int
        The passes on which this bar is played, empty outside voltas.
    new_ending : bool
        A volta bracket begins here.
    segno, coda, fine, to_coda, da_capo, dal_segno : bool
    """

    start: bool = False
    end: bool = False
    times: int = 2
    ending: tuple[int, ...] = ()
    new_ending: bool = False
    segno: bool = False
    coda: bool = False
    fine: bool = False
    to_coda: bool = False
    da_capo: bool = False
    dal_segno: bool = False


def playing_order(bars: Sequence[Signs]) -> list[int]:
    """Indices of the written bars in the order they are played. After D.C. or D.S. repeats are not taken again,
    but those of a coda that comes only now are.

    >>> first, last = Signs(ending=(1,), new_ending=True, end=True), Signs(ending=(2,), new_ending=True)
    >>> playing_order([Signs(), first, last, Signs()])
    [0, 1, 0, 2, 3]
    """
    order: list[int] = []
    at = section = 0
    turn = 1
    jumped = again = False  # sent back; among bars that were played before
    while at < len(bars) and len(order) < _MOST_PASSES * len(bars):
        bar = bars[at]
        past_endings = turn > 1 and at > 0 and bool(bars[at - 1].ending) and not bar.ending
        if at != section and (bar.start or past_endings):
            section, turn = at, 1
        if bar.ending and not _plays(bars, at, turn, again):
            at = _after_ending(bars, at)
            continue
        order.append(at)
        if jumped and bar.fine:
            break
        if jumped and bar.to_coda:
            coda = next((i for i in range(len(bars)) if bars[i].coda and i > at), None)
            if coda is not None:
                again = coda in order
                at = section = coda
                turn = 1
                continue
        if bar.end and not again:
            if turn < _passes(bars, at):
                turn += 1
                at = section
                continue
            if not bar.ending or not _more_endings(bars, at):
                section, turn = at + 1, 1
        if (bar.da_capo or bar.dal_segno) and not jumped:
            jumped = again = True
            at = 0 if bar.da_capo else next((i for i in range(at, -1, -1) if bars[i].segno), 0)
            continue
        at += 1
    return order


def _plays(bars: Sequence[Signs], at: int, turn: int, again: bool) -> bool:
    chain = _chain(bars, at)
    in_order = len(chain) > 1 and not any(1 in bars[start].ending for start in chain)
    if again:
        last = chain[-1] if in_order else max(chain, key=lambda start: (max(bars[start].ending), start))
        return last <= at < _after_ending(bars, last)
    if in_order:
        # Brackets that leave out the first time are numbered wrongly: taken in their order no bar is lost.
        begins = chain[min(turn, len(chain)) - 1]
        return begins <= at < _after_ending(bars, begins)
    if turn in bars[at].ending:
        return True
    # A pass that no bracket names takes the last one.
    named = any(turn in bars[start].ending for start in chain)
    return not _more_endings(bars, at) and turn > max(bars[at].ending) and len(chain) > 1 and not named


def _after_ending(bars: Sequence[Signs], at: int) -> int:
    after = at + 1
    while after < len(bars) and bars[after].ending and not bars[after].new_ending:
        after += 1
    return after


def _more_endings(bars: Sequence[Signs], at: int) -> bool:
    after = _after_ending(bars, at)
    return after < len(bars) and bool(bars[after].ending)


def _chain(bars: Sequence[Signs], at: int) -> list[int]:
    """First bars of the voltas that stand side by side with the one at `at`."""
    first = at
    while first and bars[first - 1].ending:
        first -= 1
    starts = [first]
    while True:
        after = _after_ending(bars, starts[-1])
        if after >= len(bars) or not bars[after].ending:
            return starts
        starts.append(after)


def _passes(bars: Sequence[Signs], at: int) -> int:
    if not bars[at].ending:
        return bars[at].times
    return max(2, *(max(bars[start].ending) for start in _chain(bars, at)))
