"""Which clef each stretch of a staff is written in."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

from trainer.music.piece import LEFT, RIGHT, Bar, Note

# Middle line of the two clefs in steps above C0: B4 and D3.
_MIDDLE = {"G": 34, "F": 22}
# What a change costs in ledger lines: at a barline, and within a bar.
_CHANGE_COST = {True: 9, False: 14}
# More ledger lines than these are counted rather than read, and weigh as their square.
_READ_AT_ONCE = 3


def clef_changes(bars: Sequence[Bar], notes: Sequence[Note], home: str) -> dict[Fraction, str]:
    """Where one staff takes which clef (``G`` or ``F``), its first included: fewest ledger lines, changing only where
    it pays, and within a bar only where no note of the staff sounds on.
    """
    if not bars:
        return {}
    barlines = {bar.onset for bar in bars}
    places = sorted(barlines | _within_bars(bars, notes, home))
    held: list[list[int]] = [[] for _ in places]
    for note in notes:
        held[max(bisect_right(places, note.onset) - 1, 0)].append(note.pitch.steps)
    cost: dict[str, float] = {clef: 0 if clef == home else _CHANGE_COST[True] for clef in _MIDDLE}
    came: list[dict[str, str]] = []
    for place, steps in zip(places, held, strict=True):
        change = _CHANGE_COST[place in barlines]
        step: dict[str, str] = {}
        fresh: dict[str, float] = {}
        for clef in _MIDDLE:
            other = "F" if clef == "G" else "G"
            step[clef] = clef if cost[clef] <= cost[other] + change else other
            fresh[clef] = min(cost[clef], cost[other] + change) + sum(_trouble(one, clef) for one in steps)
        came.append(step)
        cost = fresh
    clef = min(cost, key=lambda name: (cost[name], name != home))
    chosen = []
    for step in reversed(came):
        chosen.append(clef)
        clef = step[clef]
    chosen.reverse()
    return {
        place: clef for at, (place, clef) in enumerate(zip(places, chosen, strict=True))
        if not at or clef != chosen[at - 1]
    }  # fmt: skip


def clefs(bars: Sequence[Bar], notes: Sequence[Note], home: str) -> list[str]:
    """The clef of one staff at the beginning of every bar."""
    return clefs_at(clef_changes(bars, notes, home), [bar.onset for bar in bars])


def clefs_at(changes: Mapping[Fraction, str], onsets: Iterable[Fraction]) -> list[str]:
    """The clef that stands at each of these onsets."""
    places = sorted(changes)
    return [changes[places[max(bisect_right(places, onset) - 1, 0)]] for onset in onsets]


def _within_bars(bars: Sequence[Bar], notes: Sequence[Note], home: str) -> set[Fraction]:
    """Where a clef may change within a bar: half a beat on a note of the staff's own hand begins, and none lasts."""
    found: set[Fraction] = set()
    last = Fraction(-1)
    at = 0
    for note in sorted(notes, key=lambda note: note.onset):
        while at + 1 < len(bars) and bars[at + 1].onset <= note.onset:
            at += 1
        own = note.hand == (RIGHT if home == "G" else LEFT) and not note.grace
        if own and last <= note.onset and (note.onset - bars[at].onset).denominator <= 2:
            found.add(note.onset)
        last = max(last, note.end)
    return found


def ledger_lines(steps: int, clef: str) -> int:
    """How many a note takes in a clef, those under the staff negative."""
    away = steps - _MIDDLE[clef]
    lines = max((abs(away) - 4) // 2, 0)
    return lines if away > 0 else -lines


def _trouble(steps: int, clef: str) -> int:
    lines = abs(ledger_lines(steps, clef))
    return lines if lines <= _READ_AT_ONCE else lines * lines
