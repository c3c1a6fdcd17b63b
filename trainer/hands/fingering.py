"""The fingering of least effort for one hand, by dynamic programming over the tables of `trainer.hands.effort`.

A state is the fingers on the keys of one `Slice`; rules that look at three notes make it a search of second order,
exact for the sum of all points. Music inside one five-finger position is not searched at all: 1 to 5 lie on the five
letters in every key, which is what a position means.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import overload

import numpy as np
from numpy.typing import NDArray

from trainer.hands import effort
from trainer.hands.effort import Table
from trainer.hands.position import MEDIUM, scale_of
from trainer.hands.slices import Slice, is_clustered, of_keys, of_notes
from trainer.music.keys import Key
from trainer.music.piece import LEFT, RIGHT, Note, Piece
from trainer.music.pitch import LETTERS, SpelledPitch
from trainer.music.solfege import degree

_WHATEVER_IT_COSTS = 1000.0
# A rest lets the hand go where it likes: what is left of the effort of getting there, from so many quarters on.
_AFTER_REST = ((1.0, 0.25), (0.5, 0.5))
# A figure that comes again takes the fingers it had before, unless that costs more than this share of the difference.
# Players ask for it: E. Clarke, R. Parncutt, M. Raekallio, J. Sloboda, "Talking Fingers", Musicae Scientiae 1 (1997).
ALIKE = 1.4
ALIKE_AT_MOST = 6.0


@dataclass(frozen=True)
class Wish:
    """A finger to be kept for a note unless the keys speak against it.

    Parameters
    ----------
    finger : int
    leaving : float
        Points it costs to leave the wished fingering at this note; once left, the notes after it are free to follow.
    each : float
        Points it costs for this note, left or following.
    own, moved : bool
        Said by the player: it stands, and the notes around it are free to follow; or said for the written key.
    """

    finger: int
    leaving: float = 0.0
    each: float = _WHATEVER_IT_COSTS
    own: bool = False
    moved: bool = False


Wishes = Mapping[int, Wish]


@overload
def finger(line: Sequence[int], hand: str = ..., size: str = ...) -> tuple[int, ...]: ...
@overload
def finger(
    line: Sequence[int | Sequence[int]], hand: str = ..., size: str = ...
) -> tuple[int | tuple[int, ...], ...]: ...
def finger(
    line: Sequence[int | Sequence[int]], hand: str = RIGHT, size: str = MEDIUM
) -> tuple[int | tuple[int, ...], ...]:
    """Fingers for a line of MIDI notes; chords are sequences and come back as tuples in the order given.

    A note no finger is left for (more than five keys at once) gets 0.

    >>> finger([60, 62, 64, 65, 67, 69, 71, 72])
    (1, 2, 3, 1, 2, 3, 4, 5)
    >>> finger([(60, 64, 67), (60, 65, 69)])
    ((1, 3, 5), (1, 3, 5))
    """
    slices = of_keys(line, hand)
    found = _search(slices, {}, scale_of(size))
    sign = -1 if hand == LEFT else 1
    fingers: list[int | tuple[int, ...]] = []
    for written, at, way in zip(line, slices, found, strict=True):
        of_key = {sign * key: number for key, number in zip(at.keys, way, strict=True)}
        fingers.append(of_key[written] if isinstance(written, int) else tuple(of_key.get(key, 0) for key in written))
    return tuple(fingers)


def finger_piece(piece: Piece, hand: str, size: str = MEDIUM, wishes: Wishes | None = None) -> dict[int, int]:
    """Fingers of one hand of a piece by the index of the note.

    Parameters
    ----------
    piece : Piece
    hand : str
    size : str
        Hand size, see `position.HAND_SIZES`.
    wishes : mapping of note index to Wish, optional
        Fingers to be kept where they serve. When not given, the fingers printed on the notes belong to this key and
        are kept.

    Returns
    -------
    dict of int to int
        Fingers 1 to 5; a note of a chord that leaves no finger for it has none.
    """
    notes = [(i, note) for i, note in enumerate(piece.notes) if note.hand == hand]
    if not notes:
        return {}
    placed = in_position(notes, piece.key, hand)
    said = {i: one.finger for i, one in (wishes or {}).items() if one.own or one.moved}
    if placed is not None and all(placed[i] == number for i, number in said.items()):
        return placed
    if wishes is None:
        wishes = {index: Wish(note.finger) for index, note in notes if note.finger}
    slices = of_notes(notes, hand, {index for index, wish in wishes.items() if wish.finger == 1})
    fingers: dict[int, int] = {}
    for at, way in zip(slices, _search(slices, wishes, scale_of(size)), strict=True):
        for place in at.struck:
            fingers |= dict.fromkeys(at.notes[place], way[place])
    return dict(sorted(fingers.items()))


def in_position(notes: Sequence[tuple[int, Note]], key: Key, hand: str) -> dict[int, int] | None:
    """The fingers of music that stays on five neighbouring letters, the same in every key; None when it travels.

    Printed fingers say which finger lies on which letter, and must all agree; else the tonic is under the outer
    finger (1 right, 5 left) when the five letters from it hold everything; else the lowest (right) or highest (left)
    note is under the thumb.
    """
    steps = [note.pitch.steps for _, note in notes]
    low, high = min(steps), max(steps)
    if high - low > 4 or is_clustered(notes):
        return None
    sign = -1 if hand == LEFT else 1
    printed = {note.finger - sign * note.pitch.steps for _, note in notes if note.finger}
    if len(printed) > 1:
        return None
    if printed:
        base = printed.pop()
    else:
        lowest = min((note.pitch for _, note in notes), key=lambda pitch: pitch.steps)
        above_tonic = degree(lowest, key)[0] - 1
        start = low - above_tonic if high - (low - above_tonic) <= 4 else None
        if hand == LEFT:
            base = 1 + (start + 4 if start is not None else high)
        else:
            base = 1 - (start if start is not None else low)
    found = {index: base + sign * note.pitch.steps for index, note in notes}
    return found if all(1 <= number <= 5 for number in found.values()) else None


def five_keys(piece: Piece, hand: str) -> dict[int, int] | None:
    """The keys under the five fingers, as MIDI notes, of a hand that stays on five letters; None when it travels.

    Letters that are not used are those of the signature.
    """
    notes = [(i, note) for i, note in enumerate(piece.notes) if note.hand == hand]
    placed = in_position(notes, piece.key, hand) if notes else None
    if placed is None:
        return None
    (first, number), *_ = placed.items()
    sign = -1 if hand == LEFT else 1
    found = {}
    for finger_ in range(1, 6):
        octave, letter = divmod(piece.notes[first].pitch.steps + sign * (finger_ - number), 7)
        found[SpelledPitch(LETTERS[letter], piece.key.alteration_of(LETTERS[letter]), octave).midi] = finger_
    # An altered letter has the key that is played, not the signature's.
    used = set(placed.values())
    found = {midi: finger_ for midi, finger_ in found.items() if finger_ not in used}
    return dict(sorted({**found, **{note.midi: placed[i] for i, note in notes}}.items()))


class Judge:
    """What fingerings of one hand of a piece cost; made once, asked often."""

    def __init__(self, piece: Piece, hand: str, size: str = MEDIUM) -> None:
        self._slices = of_notes([(i, note) for i, note in enumerate(piece.notes) if note.hand == hand], hand)
        self._steps = _Steps(self._slices, {}, scale_of(size)) if self._slices else None

    def points(self, fingers: Mapping[int, int]) -> float:
        """Points of effort, summed over the piece, of fingers by note index.

        Where they are no possible way to lay one hand (crossed in a chord, or missing), the way nearest to them.
        """
        if self._steps is None:
            return 0.0
        return self._steps.total([self._nearest(i, fingers) for i in range(len(self._slices))])

    def _nearest(self, i: int, fingers: Mapping[int, int]) -> int:
        assert self._steps is not None
        at, own = self._slices[i], self._steps.own[i]
        ways = effort.states(len(at.keys))
        wrong = np.zeros(len(ways))
        for place, indices in enumerate(at.notes):
            if indices[0] in fingers:
                wrong += ways[:, place] != fingers[indices[0]] - 1
        return int((wrong * _WHATEVER_IT_COSTS + own).argmin())


class _Steps:
    """The effort tables of every slice, ready for the search."""

    def __init__(self, slices: tuple[Slice, ...], wishes: Wishes, scale: float) -> None:
        self.slices = slices
        self.scale = scale
        self.own = [self._own(i) for i in range(len(slices))]
        self.from_last = [None, *(self._from_last(i) for i in range(1, len(slices)))]
        self.from_two = [None, None, *(self._from_two(i) for i in range(2, len(slices)))][: len(slices)]
        if wishes:
            self._wish(wishes)

    def _wish(self, wishes: Wishes) -> None:
        """Add what leaving the wished fingers costs."""
        kept_before: NDArray[np.bool_] | None = None
        for i, at in enumerate(self.slices):
            ways = effort.states(len(at.keys))
            kept = np.ones(len(ways), dtype=bool)
            leaving = 0.0
            if at.shared:
                self.own[i] = self.own[i] + _WHATEVER_IT_COSTS * (ways[:, 0] > 0)
            for place in at.struck:
                for wish in (wishes[index] for index in at.notes[place] if index in wishes):
                    other = ways[:, place] != wish.finger - 1
                    self.own[i] = self.own[i] + wish.each * other
                    kept &= ~other
                    if wish.own and wish.leaving:
                        kept[:] = False
                    leaving = max(leaving, wish.leaving)
            step = self.from_last[i]
            if leaving and kept_before is not None and step is not None:
                self.from_last[i] = step + leaving * (kept_before[:, None] & ~kept[None, :])
            elif leaving:
                self.own[i] = self.own[i] + leaving * ~kept
            kept_before = kept

    def _own(self, i: int) -> Table:
        at = self.slices[i]
        if len(at.keys) > 1:
            table = effort.together(at.keys, at.black, self.scale)
            if not at.is_single:
                return table
        before, after = self._colour(i - 1), self._colour(i + 1)
        single = effort.one(at.black[at.struck[0]], before, after, self._short(i))
        return single if len(at.keys) == 1 else table + single[effort.states(len(at.keys))[:, at.struck[0]]]

    def _short(self, i: int) -> int:
        """How often the little finger is too short for a single key: black, white ones about; see `effort`."""
        at = self.slices[i]
        key = at.keys[at.struck[0]]
        if not at.black[at.struck[0]] or False not in (self._colour(j) for j in range(i - 2, i + 3)):
            return 0
        beside = [self.slices[j] for j in (i - 1, i + 1) if 0 <= j < len(self.slices)]
        broken = all(abs(other.keys[other.struck[0]] - key) >= effort.A_RUN for other in beside)
        return broken + (len(beside) < 2)

    def _colour(self, i: int) -> bool | None:
        if not 0 <= i < len(self.slices):
            return None
        at = self.slices[i]
        return all(at.black[place] for place in at.struck)

    def _from_last(self, i: int) -> Table:
        before, at = self.slices[i - 1], self.slices[i]
        line = before.is_single and at.is_single
        if line and len(before.keys) == len(at.keys) == 1:
            table = self._two(before, 0, at, 0, False)
        else:
            moved = []
            for side in (0,) if line else (0, -1):
                p, q = before.struck[side], at.struck[side]
                rows, columns = effort.states(len(before.keys))[:, p], effort.states(len(at.keys))[:, q]
                moved.append(self._two(before, p, at, q, not line)[rows[:, None], columns[None, :]])
            table = sum(moved[1:], moved[0]) / len(moved)
        if at.rest:
            table = table * _eased(at.rest)
        if len(at.keys) > len(at.struck):
            table = table + _exchanged(before, at)
        return table

    def _two(self, before: Slice, p: int, at: Slice, q: int, chord: bool) -> Table:
        return effort.two(at.keys[q] - before.keys[p], before.black[p], at.black[q], chord, self.scale)

    def _from_two(self, i: int) -> Table | None:
        first, middle, last = self.slices[i - 2 : i + 1]
        if not (first.is_single and middle.is_single and last.is_single):
            return None
        a, b, c = (at.keys[at.struck[0]] for at in (first, middle, last))
        table = effort.three(b - a, c - a, self.scale)
        if len(first.keys) > 1 or len(middle.keys) > 1 or len(last.keys) > 1:
            x, y, z = (effort.states(len(at.keys))[:, at.struck[0]] for at in (first, middle, last))
            table = table[x[:, None, None], y[None, :, None], z[None, None, :]]
        rest = max(middle.rest, last.rest)
        return table * _eased(rest) if rest else table

    def total(self, rows: Sequence[int]) -> float:
        """The effort of chosen states, by row."""
        sum_ = float(self.own[0][rows[0]])
        for i in range(1, len(rows)):
            last, two = self.from_last[i], self.from_two[i]
            assert last is not None
            sum_ += float(self.own[i][rows[i]] + last[rows[i - 1], rows[i]])
            if two is not None:
                sum_ += float(two[rows[i - 2], rows[i - 1], rows[i]])
        return sum_


def _eased(rest: float) -> float:
    return next((share for quarters, share in _AFTER_REST if rest >= quarters), 1.0)


def _exchanged(before: Slice, at: Slice) -> Table:
    old, new = effort.states(len(before.keys)), effort.states(len(at.keys))
    table = np.zeros((len(old), len(new)))
    for place, key in enumerate(at.keys):
        if place not in at.struck and key in before.keys:
            table += effort.EXCHANGE * (old[:, before.keys.index(key)][:, None] != new[:, place][None, :])
    return table


@cache
def _ways(count: int) -> tuple[tuple[int, ...], ...]:
    return tuple(tuple(int(f) + 1 for f in way) for way in effort.states(count))


def _search(slices: tuple[Slice, ...], wishes: Wishes, scale: float) -> list[tuple[int, ...]]:
    if not slices:
        return []
    steps = _Steps(slices, wishes, scale)
    if len(slices) == 1:
        rows = [int(steps.own[0].argmin())]
    else:
        forward, rows = _forward(steps)
        # Where the player's own finger stands other places keep theirs: what was alike is.
        figures = [] if any(wish.own for wish in wishes.values()) else _figures(slices)
        if figures:
            _prefer_alike(steps, forward, figures)
            rows = _forward(steps)[1]
    return [_ways(len(at.keys))[row] for at, row in zip(slices, rows, strict=True)]


def _forward(steps: _Steps) -> tuple[list[Table], list[int]]:
    """Best effort up to each pair of states, and the best path."""
    own, last, two = steps.own, steps.from_last, steps.from_two
    assert last[1] is not None
    best: list[Table] = [own[0][:, None] + last[1] + own[1][None, :]]
    chosen: list[np.ndarray] = []
    for i in range(2, len(own)):
        before, table, step = best[-1], two[i], last[i]
        assert step is not None
        if table is None:
            # Without a rule over three slices the best way here does not depend on where we go.
            chosen.append(before.argmin(0))
            best.append(before.min(0)[:, None] + step + own[i][None, :])
        else:
            reached = before[:, :, None] + table
            chosen.append(reached.argmin(0))
            best.append(reached.min(0) + step + own[i][None, :])
    middle, end = (int(x) for x in np.unravel_index(int(best[-1].argmin()), best[-1].shape))
    rows = [end, middle]
    for choice in reversed(chosen):
        row = int(choice[rows[-1]] if choice.ndim == 1 else choice[rows[-1], rows[-2]])
        rows.append(row)
    return best, rows[::-1]


def _backward(steps: _Steps) -> list[Table]:
    """Best effort from each pair of states to the end, without the states' own."""
    own, last, two = steps.own, steps.from_last, steps.from_two
    left: list[Table] = [np.zeros((len(own[-2]), len(own[-1])))]
    for i in range(len(own) - 1, 1, -1):
        step, table = last[i], two[i]
        assert step is not None
        ahead = step + own[i][None, :] + left[-1]
        if table is None:
            left.append(np.broadcast_to(ahead.min(1)[None, :], (len(own[i - 2]), len(own[i - 1]))))
        else:
            left.append((table + ahead[None, :, :]).min(2))
    return left[::-1]


def _figures(slices: tuple[Slice, ...]) -> list[list[int]]:
    """Places of single notes that stand alike: same key in any octave, same step before and after."""
    groups: dict[tuple[int, int, int], list[int]] = {}
    for i in range(1, len(slices) - 1):
        around = slices[i - 1 : i + 2]
        if all(len(at.keys) == 1 for at in around):
            a, b, c = (at.keys[0] for at in around)
            groups.setdefault((b % 12, b - a, c - b), []).append(i)
    return [group for group in groups.values() if len(group) > 1]


def _prefer_alike(steps: _Steps, forward: list[Table], figures: list[list[int]]) -> None:
    """Make dear, for notes that stand alike, the fingers that are dear for them on average."""
    backward = _backward(steps)
    least = float(forward[-1].min())
    for group in figures:
        worse = sum(np.minimum((forward[i - 1] + backward[i - 1]).min(0) - least, ALIKE_AT_MOST) for i in group)
        for i in group:
            steps.own[i] = steps.own[i] + ALIKE * worse / len(group)
