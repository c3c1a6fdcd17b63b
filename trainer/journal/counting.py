"""Takes to counts: one take when it ends, or years of them at once when they are merged.

Takes are laid end to end in arrays and counted together, which costs little more for a thousand takes than for one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from trainer.following.marks import MISSED, RIGHT
from trainer.journal.columns import NO_NOTE, Columns
from trainer.journal.tally import LONGEST_LATE, Count, PieceLabels, TakeFacts
from trainer.music.keys import Key

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# group, facet, value, n, right, timed, late
Row = tuple[int, str, str, int, int, int, float]
_OF_NOTES = ("degree", "interval", "hand")


def facts(labels: PieceLabels, written: Key, target: Key, take: Columns) -> TakeFacts:
    """Count one settled take.

    Raises
    ------
    IndexError
        When a mark or a missed note names a note the piece does not have.
    """
    counting = Counting()
    counting.add(0, labels, written.fifths_away(target), take)
    counts = {(facet, value): Count(n, good, timed, late) for _, facet, value, n, good, timed, late in counting.rows()}
    return TakeFacts(counts, *pace(labels, take))


def pace(labels: PieceLabels, take: Columns) -> tuple[float, float | None]:
    """(quarters of music got through, those a minute), as in `TakeFacts`: of a hand alone by its own notes only."""
    import numpy as np

    notes = take.notes[take.notes != NO_NOTE]
    hands = labels.hand_of[np.concatenate((notes, np.array(take.missed, np.int64)))]
    asked = np.unique(labels.moment_of[np.isin(labels.hand_of, hands)])
    answered = np.searchsorted(asked, np.unique(labels.moment_of[notes])[:-1])
    onsets = labels.moment_onsets[asked]
    quarters = float(np.sum(onsets[answered + 1] - onsets[answered]))
    seconds = float(take.times[-1] - take.times[0]) if len(take.times) else 0.0
    return quarters, 60 * quarters / seconds if seconds > 0 and quarters > 0 else None


class Counting:
    """Takes to be counted together, each in a group: a number from 0 that the caller gives a meaning."""

    def __init__(self) -> None:
        self._takes: list[tuple[int, PieceLabels, int, Columns]] = []

    def add(self, group: int, labels: PieceLabels, distance: int, take: Columns) -> None:
        """A settled take; one that lay elsewhere altogether is looked at and adds nothing.

        Parameters
        ----------
        distance : int
            Fifths between the written and the target key.

        Raises
        ------
        IndexError
            When a mark or a missed note names a note the piece does not have; the take is not counted then.
        """
        notes, missed, most = take.notes, take.missed, len(labels.degrees)
        if len(notes) and not (notes.min() >= NO_NOTE and notes.max() < most):
            raise IndexError("a mark names a note that is not there")
        if missed and not (min(missed) >= 0 and max(missed) < most):
            raise IndexError("a note left out is not there")
        if not take.elsewhere:
            self._takes.append((group, labels, distance, take))

    def rows(self) -> Iterator[Row]:
        """What the takes add up to, each (group, facet, value) once."""
        import numpy as np

        if not self._takes:
            return
        groups, labels, distances, takes = zip(*self._takes, strict=True)
        sizes = [len(take.notes) for take in takes]
        causes = [cause for take in takes for cause in take.causes]
        right = right_of_all = np.array([cause == RIGHT for cause in causes], bool)
        notes = np.concatenate([take.notes for take in takes])
        group = np.repeat(groups, sizes)
        late = _lateness(labels, takes, sizes, notes, right)
        extra = self._missed()
        yield from _counted("cause", *_numbered(causes), group, right, late, extra["cause"])
        meant = notes != NO_NOTE
        group, right, late = group[meant], right[meant], late[meant]
        for facet in _OF_NOTES:
            names, values = _of_notes(facet, labels, takes)
            yield from _counted(facet, names, values, group, right, late, extra[facet])
        names, of_take = _numbered([str(distance) for distance in distances])
        values = np.repeat(of_take, sizes)[meant]
        yield from _counted("distance", names, values, group, right, late, extra["distance"])
        for (of, value), n in self._habits(extra["habit"], sizes, notes, right_of_all, causes).items():
            yield of, "habit", value, n, 0, 0, 0.0

    def _missed(self) -> dict[str, Counter[tuple[int, str]]]:
        """Facet -> how often (group, value) stands for a note left out."""
        found: dict[str, Counter[tuple[int, str]]] = {
            facet: Counter() for facet in ("cause", *_OF_NOTES, "distance", "habit")
        }
        for group, labels, distance, take in self._takes:
            if not take.missed:
                continue
            found["cause"][group, MISSED] += len(take.missed)
            found["distance"][group, str(distance)] += len(take.missed)
            for missed in take.missed:
                found["degree"][group, labels.degrees[missed]] += 1
                found["interval"][group, labels.intervals[missed]] += 1
                found["hand"][group, labels.hands[missed]] += 1
                found["habit"][group, f"{labels.degrees[missed]}|{MISSED}|+0"] += 1
        return found

    def _habits(
        self,
        found: Counter[tuple[int, str]],
        sizes: Sequence[int],
        notes: NDArray[np.int64],
        right: NDArray[np.bool_],
        causes: Sequence[str],
    ) -> Counter[tuple[int, str]]:
        import numpy as np

        slips = np.flatnonzero(~right & (notes != NO_NOTE))
        of_take = np.repeat(np.arange(len(sizes)), sizes)[slips]
        offsets = np.concatenate([take.offsets for *_, take in self._takes])[slips]
        for at, take, note, offset in zip(
            slips.tolist(), of_take.tolist(), notes[slips].tolist(), offsets.tolist(), strict=True
        ):
            group, labels, _, _ = self._takes[take]
            found[group, f"{labels.degrees[note]}|{causes[at]}|{offset:+d}"] += 1
        return found


def _numbered(values: Sequence[str]) -> tuple[list[str], NDArray[np.int64]]:
    """The different values, and for each of all which one it is."""
    import numpy as np

    names = list(dict.fromkeys(values))
    place = {name: at for at, name in enumerate(names)}
    return names, np.array([place[value] for value in values], np.int64)


def _of_notes(
    facet: str, labels: Sequence[PieceLabels], takes: Sequence[Columns]
) -> tuple[list[str], NDArray[np.int64]]:
    """The values of a facet, and which one each press meant for a note has."""
    import numpy as np

    pieces = {id(one): one for one in labels}
    names, places = _numbered([value for one in pieces.values() for value in one.facet(facet)])
    ends = np.cumsum([len(one.degrees) for one in pieces.values()])
    of_piece = dict(zip(pieces, np.split(places, ends[:-1]), strict=True))
    parts = [of_piece[id(one)][take.notes[take.notes != NO_NOTE]] for one, take in zip(labels, takes, strict=True)]
    return names, np.concatenate(parts)


def _counted(
    facet: str,
    names: Sequence[str],
    values: NDArray[np.int64],
    group: NDArray[np.int64],
    right: NDArray[np.bool_],
    late: NDArray[np.float64],
    extra: Counter[tuple[int, str]],
) -> Iterator[Row]:
    """Presses by group and value, and `extra` notes to each; `late` is NaN where a press says nothing about time."""
    import numpy as np

    width = len(names)
    place = group * width + values
    timed = ~np.isnan(late)
    most = int(place.max()) + 1 if len(place) else 0
    n = np.bincount(place, minlength=most)
    columns = (
        n,
        np.bincount(place[right], minlength=most),
        np.bincount(place[timed], minlength=most),
        np.bincount(place[timed], late[timed], minlength=most),
    )
    used = np.flatnonzero(n)
    for at, count, good, measured, lateness in zip(
        used.tolist(), *(column[used].tolist() for column in columns), strict=True
    ):
        of, value = at // width, names[at % width]
        if value:
            yield of, facet, value, count + extra.pop((of, value), 0), good, measured, lateness
    for (of, value), count in extra.items():
        if value:
            yield of, facet, value, count, 0, 0, 0.0


def _lateness(
    labels: Sequence[PieceLabels],
    takes: Sequence[Columns],
    sizes: Sequence[int],
    notes: NDArray[np.int64],
    right: NDArray[np.bool_],
) -> NDArray[np.float64]:
    """For each press, log of the time to it over what its take's own pulse gives; NaN where that says nothing."""
    import numpy as np

    late = np.full(len(notes), np.nan)
    onsets = np.concatenate([one.asked_onsets[take.notes] for one, take in zip(labels, takes, strict=True)])
    times = np.concatenate([take.times for take in takes])
    of_take = np.repeat(np.arange(len(takes)), sizes)
    at = np.flatnonzero(right & (notes != NO_NOTE) & ~np.isnan(onsets))
    # Of notes struck together the first says how long the way was.
    first = np.ones(len(at), bool)
    first[1:] = (np.diff(onsets[at]) != 0) | (np.diff(of_take[at]) != 0)
    at = at[first]
    spans, waits = np.diff(onsets[at]), np.diff(times[at])
    forward = (spans > 0) & (waits > 0) & (np.diff(of_take[at]) == 0)
    at, ways = at[1:][forward], waits[forward] / spans[forward]
    usual = _medians(of_take[at], ways, len(takes))[of_take[at]]
    enough = ~np.isnan(usual)
    factors = np.clip(ways[enough] / usual[enough], 1 / LONGEST_LATE, LONGEST_LATE)
    late[at[enough]] = np.log(factors)
    return late


def _medians(of_take: NDArray[np.int64], ways: NDArray[np.float64], takes: int) -> NDArray[np.float64]:
    """The median of each take's values; NaN for a take with fewer than three."""
    import numpy as np

    found = np.full(takes, np.nan)
    ordered = ways[np.lexsort((ways, of_take))]
    counts = np.bincount(of_take, minlength=takes)
    starts = np.cumsum(counts) - counts
    enough = counts >= 3
    starts, counts = starts[enough], counts[enough]
    found[enough] = (ordered[starts + (counts - 1) // 2] + ordered[starts + counts // 2]) / 2
    return found
