"""What a take made of rhythm and tempo: long and short for even notes, dotted notes evened out, quicker and quicker."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import log
from statistics import correlation, median

from trainer.following.marks import Mark
from trainer.following.timing import passes
from trainer.listening.press import Press
from trainer.music.piece import Piece

# All numbers are ours.
_ENOUGH = 8  # beats or half beats of two notes that tell of a habit
_LONGER = 1.5  # times the written proportion of the two notes, at which it is another rhythm
_MOST = 0.75  # of them that are at least half as far away, the same way
_BARS = 8  # bars played that tell of a drift
_LIKE = 0.85  # correlation of the pulse with the bars that makes a drift
_DRIFT = 1.15  # times the tempo of the first quarter, or as much less, that the last quarter has
_LAST = 2  # bars at the end that may slow down, as most music does

EVEN, DOTTED = "even", "dotted"  # what was written and not kept


def not_kept(piece: Piece, presses: Sequence[Press], marks: Sequence[Mark]) -> tuple[str, float] | None:
    """What was written for the two notes of a beat where something else was played, and the first over the second.

    None when the written rhythm was kept, or there is too little of it to tell.
    """
    by_written: dict[str, list[tuple[float, float]]] = {}
    for written, played in _pairs(piece, presses, marks):
        if written in (1.0, 2.0, 3.0):
            by_written.setdefault(EVEN if written == 1.0 else DOTTED, []).append((written, played))
    for kind, found in by_written.items():
        away = [log(played / written) for written, played in found]
        middle = median(away)
        if kind == DOTTED and middle > 0.0:
            continue
        alike = sum(one / middle >= 0.5 for one in away) if middle else 0
        if len(found) >= _ENOUGH and abs(middle) >= log(_LONGER) and alike >= _MOST * len(found):
            return kind, median(played for _, played in found)
    return None


def _pairs(piece: Piece, presses: Sequence[Press], marks: Sequence[Mark]) -> Iterator[tuple[float, float]]:
    """Of every beat or half beat of two notes the first's length over the second's, as written and as played."""
    for played in passes(piece, presses, marks):
        for a, b, c in zip(played, played[1:], played[2:], strict=False):
            start, middle, end = (piece.moments[one.moment].onset for one in (a, b, c))
            beat = piece.bar_at(start).beat_quarters
            parts = beat / (end - start)
            if parts in (1, 2) and (piece.beat_at(start) * parts).denominator == 1 and b.at > a.at and c.at > b.at:
                yield float((middle - start) / (end - middle)), (b.at - a.at) / (c.at - b.at)


def drift(bars: Sequence[tuple[int, float]]) -> tuple[float, float] | None:
    """The pulse of the first and of the last quarter of a take, where it went steadily from the one to the other.

    Bars as in `Timing.bars`; a last slowing down does not count, nor what was played again.
    """
    once = [bpm for (bar, bpm), (after, _) in pairwise(bars) if after > bar]
    if len(once) < len(bars) - 1 or len(once) - 1 < _BARS:
        return None
    steady = [bpm for _, bpm in bars[:-_LAST]]
    quarter = len(steady) // 4
    first, last = median(steady[:quarter]), median(steady[-quarter:])
    if 1 / _DRIFT < last / first < _DRIFT or abs(correlation(range(len(steady)), steady)) < _LIKE:
        return None
    return first, last


def drift_in(piece: Piece, bars: Sequence[tuple[int, float]]) -> tuple[float, float] | None:
    """As `drift`; None where the page itself changes its tempo."""
    return drift(bars) if len(piece.tempi) <= 1 else None


def say_time(piece: Piece, presses: Sequence[Press], marks: Sequence[Mark], bars: Sequence[tuple[int, float]]) -> str:
    """What is to be said of rhythm and tempo, in sentences; empty when both were kept."""
    said = []
    rhythm = not_kept(piece, presses, marks)
    if rhythm is not None:
        kind, proportion = rhythm
        long, short = ("long", "short") if proportion > 1 else ("short", "long")
        said.append(
            f"Even notes came {long} and {short} ({max(proportion, 1 / proportion):.1f} to 1)."
            if kind == EVEN
            else f"Long and short notes came nearly even ({proportion:.1f} to 1)."
        )
    went = drift_in(piece, bars)
    if went is not None:
        first, last = went
        said.append(f"It {'sped up' if last > first else 'slowed down'} from {first:.0f} to {last:.0f}.")
    return " ".join(said)
