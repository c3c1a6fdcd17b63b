"""Keys struck and let go at ticks, as notes that can be written: places on a grid of each beat, lengths of one voice.

Counted in whole `PARTS` of a quarter, which every grid divides: a long file's worth of fractions is slow to compare.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

# Grids tried for each beat, in parts of a quarter; a finer grid must earn its place by fitting so much better.
_GRIDS = (1, 2, 3, 4, 6, 8)
_FINENESS_COST = 0.004
# Of a beat one half of which is a triplet and the other is not: only what a program wrote is read so finely.
_HALVES = 12
PARTS = 24
# From the nearest sixteenth or triplet, in quarters: places that know nothing of the beat lie 0.045 away at the median,
# somebody who plays to the click about 0.02.
_FREE = 0.035
_ENOUGH = 12
# Ticks by which a place may be rounded; the share of notes in beats that fit a grid so well, of files nobody played.
_ROUNDING = 0.51
_WRITTEN = 0.95


@dataclass(slots=True)
class Sounded:
    """One key held: track, channel, key, start and end in ticks."""

    track: int
    channel: int
    midi: int
    start: int
    end: int


def quantised(sounded: Sequence[Sounded], per_quarter: int) -> list[tuple[int, int]]:
    """Onset and length of every note in `PARTS`, each beat on the coarsest grid that its onsets fit."""
    by_beat: dict[int, list[float]] = defaultdict(list)
    for one in sounded:
        by_beat[one.start // per_quarter].append(one.start % per_quarter / per_quarter)
    exact = {beat: _exact(places, per_quarter) for beat, places in by_beat.items()}
    # What a program wrote stands where it is written; what was played may fit a fine grid by chance.
    written = sum(len(by_beat[beat]) for beat, grid in exact.items() if grid) >= _WRITTEN * len(sounded)
    grids = {beat: (written and exact[beat]) or _grid(places) for beat, places in by_beat.items()}
    timed = []
    for one in sounded:
        beat, rest = divmod(one.start, per_quarter)
        grid = grids[beat]
        onset = beat * PARTS + round(rest / per_quarter * grid) * (PARTS // grid)
        # Most notes are let go a little early: the length goes to the next place of the same grid or of eighths.
        fine = grid if grid % 3 == 0 else max(grid, 4)
        timed.append((onset, max(round((one.end - one.start) / per_quarter * fine), 1) * (PARTS // fine)))
    return timed


def _exact(places: list[float], per_quarter: int) -> int:
    """The coarsest grid on which all places lie but for the rounding of ticks; 0 where there is none."""
    return next(
        (
            grid
            for grid in (*_GRIDS, _HALVES)
            if all(abs(place - round(place * grid) / grid) * per_quarter <= _ROUNDING for place in places)
        ),
        0,
    )


def _grid(places: list[float]) -> int:
    costs = {
        grid: sum((place - round(place * grid) / grid) ** 2 for place in places) / len(places)
        + _FINENESS_COST * (grid / 8) ** 2 * (2 if grid % 3 == 0 else 1)
        for grid in _GRIDS
    }
    return min(costs, key=lambda grid: (costs[grid], grid))


def is_free(sounded: Sequence[Sounded], per_quarter: int) -> bool:
    """Whether keys were struck without regard to the beats, so that the bars of their page are guesses."""
    places = [one.start % per_quarter / per_quarter for one in sounded]
    off = (min(abs(place * grid - round(place * grid)) / grid for grid in (3, 4)) for place in places)
    return len(places) >= _ENOUGH and median(off) > _FREE


def unpedalled(notes: Iterable[tuple[str, int, int, int]]) -> list[tuple[int, int]]:
    """Lengths that can be written in one voice a hand: up to the hand's next note, chords ending together.

    Parameters
    ----------
    notes : iterable of (hand, onset, key, length)
        In `PARTS`.

    Returns
    -------
    list of (index in `notes`, length)
        By onset, then from low to high; of a key struck twice at once, as layered sounds do it, the first alone.
    """
    listed = list(notes)
    following: dict[str, dict[int, int]] = {}
    for hand in {one[0] for one in listed}:
        following[hand] = dict(pairwise(sorted({one[1] for one in listed if one[0] == hand})))
    lengths: dict[tuple[str, int], int] = {}
    first: dict[tuple[str, int, int], int] = {}
    for index, (hand, onset, key, length) in enumerate(listed):
        gap = following[hand].get(onset, onset) - onset
        # Played detached or held over, the note is written up to the next one when it comes near it.
        lasts = gap if gap and length * 4 >= gap * 3 else length
        lengths[hand, onset] = max(lengths.get((hand, onset), 0), lasts)
        first.setdefault((hand, onset, key), index)
    ordered = sorted(first.values(), key=lambda index: (listed[index][1:3], index))
    return [(index, lengths[listed[index][:2]]) for index in ordered]
