"""The expected piece as flat tables, so that the work for one press does not grow with the piece."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from trainer.following.diagnosis import slip_shares
from trainer.following.texts import Texts
from trainer.hands.keyboard import ANY, Compass
from trainer.music.keys import Key
from trainer.music.piece import BOTH, LEFT, RIGHT, Piece

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
GRID = 48  # parts of a beat told apart
_KEYS = 400  # no key of the piece lies further from another, however far the take is displaced
NO_SLIP = -1e9  # log share of what is no slip


class Ground(Texts):
    """What the follower looks up, made once per piece.

    Attributes
    ----------
    hand, moment : list of int
        For each note its hand (0 right, 1 left) and its moment.
    twin : list of int
        For each note the note that stands for it: itself, but for unisons.
    own : list of tuple
        For each moment its notes that stand for themselves.
    other_voice : dict
        For each note that stands for two, the other.
    leads_to_its_key : set of int
        Grace notes on the key of a note of their moment.
    needed : list of bool
        False for unison twins and for notes the player may leave out: grace and ornamental notes, the hand not
        asked for, and notes the player's keyboard has no key for.
    has_key : list of bool
        For each moment whether the player's keyboard has a key for any of its notes.
    onset : list of float
        For each moment its onset in quarter notes.
    beats, grid, phase : array
        For each moment the felt beats before it, the same in 48ths, and how far into a beat it lies, in 48ths.
    first : list of int
        For each moment the index of its first note; one more entry at the end.
    places : dict
        For each pitch the indices of its notes, ascending.
    moments_of : dict
        For each pitch the moments that hold it, ascending array.
    alike : list of array
        For each moment all that hold the same keys, ascending; moments alike share one array.
    ornaments, ends : dict
        For each moment the ornamented notes that sound in it; for each of them when it ends, in quarter notes.
    beats_of, strength_of : dict
        For each pitch the beats before each of its moments, and how good a place it is to start from.
    ways : dict
        For each pitch and each of its moments (rows) where a story that reaches it may have stood.
    widest : int
        Rows of the most frequent pitch.
    rows : dict
        For each pitch the index of the first entry of each row, counted through.
    following : tuple of two lists
        For each hand and moment the next moment in which that hand has a key to play; entry -1 for before the start.
    asked : tuple of two bools
        Whether each hand is asked for.
    count : tuple of two lists
        For each hand the number of needed notes before each moment.
    """

    def __init__(self, written: Piece, expected: Piece, hands: str, compass: Compass = ANY, begins: int = 0) -> None:
        super().__init__(written, expected)
        # The moment at which the page lies when the take begins.
        self.begins = begins
        notes = expected.notes
        moments = expected.moments
        self.hand = [0 if note.hand == RIGHT else 1 for note in notes]
        self.moment = list(expected.moment_of)
        lowest, highest = compass
        self._has_key = [lowest <= pitch <= highest for pitch in self.pitch]
        self.needed = [
            key and not note.optional and not note.grace and hands in (BOTH, note.hand)
            for note, key in zip(notes, self._has_key, strict=True)
        ]
        self._join_unisons()
        self.onset = [float(moment.onset) for moment in moments]
        self.first = [moment.notes[0] for moment in moments] + [len(notes)]
        self.own = [
            tuple(note for note in range(low, high) if self.twin[note] == note) for low, high in pairwise(self.first)
        ]
        self._starts: Ints = np.array(self.first, dtype=np.intp)
        self.size = len(moments)
        self.has_key = [any(self._has_key[low:high]) for low, high in pairwise(self.first)]
        self.places: dict[int, list[int]] = {}
        for index, pitch in enumerate(self.pitch):
            if self.twin[index] == index:
                self.places.setdefault(pitch, []).append(index)
        self.moments_of: dict[int, Ints] = {
            pitch: np.unique(np.array([self.moment[n] for n in found], dtype=np.intp))
            for pitch, found in self.places.items()
        }
        self.count = (self._needed_before(0), self._needed_before(1))
        self.beats: Floats = np.array(self._beats())
        self.grid: Ints = np.rint(self.beats * GRID).astype(np.intp)
        self.phase: Ints = self.grid % GRID
        self.previous = (self._last_moment_with(0), self._last_moment_with(1))
        self.strength = self._strength()
        self.beats_of = {pitch: self.beats[found] for pitch, found in self.moments_of.items()}
        self.strength_of = {pitch: self.strength[found] for pitch, found in self.moments_of.items()}
        self.ways = {pitch: self._ways(found) for pitch, found in self.moments_of.items()}
        self.widest = max(map(len, self.ways.values()), default=0)
        self.rows = {pitch: np.arange(0, ways.size, ways.shape[1]) for pitch, ways in self.ways.items()}
        self._reached_from: dict[int, tuple[Ints, Ints]] = {}
        self.alike = self._alike()
        self.ornaments = self._ornaments()
        self.share, self._slips, self._at_pitch_0 = self._shares()
        self.ends = {n: float(note.end) for n, note in enumerate(expected.notes) if note.ornament}
        self.following = (self._next_moment_with(0), self._next_moment_with(1))
        self.asked = tuple(hands in (BOTH, hand) for hand in (RIGHT, LEFT))

    def _join_unisons(self) -> None:
        """Two voices on one key at one moment are one press: `twin` names the note that stands for both."""
        self.twin = list(range(len(self.pitch)))
        firsts: dict[tuple[int, int, int], int] = {}
        small: Counter[tuple[int, int, str, int]] = Counter()
        for index, note in enumerate(self.expected.notes):
            time = 0
            if note.grace:
                # Grace notes of one voice on one key are struck one after another.
                mine = self.moment[index], self.pitch[index], note.hand, note.voice
                small[mine] += 1
                time = small[mine]
            place = self.moment[index], self.pitch[index], time
            if place not in firsts or (self.needed[index] and not self.needed[firsts[place]]):
                if place in firsts:
                    self.twin[firsts[place]] = index
                firsts[place] = index
            else:
                self.twin[index] = firsts[place]
                self.needed[index] = False
        self.other_voice = {same: index for index, same in enumerate(self.twin) if same != index}
        self.leads_to_its_key = {
            index for (moment, pitch, time), index in firsts.items() if time and (moment, pitch, 0) in firsts
        }

    def _needed_before(self, hand: int) -> list[int]:
        counts = [0]
        for at in range(self.size):
            here = range(self.first[at], self.first[at + 1])
            counts.append(counts[-1] + sum(self.needed[n] and self.hand[n] == hand for n in here))
        return counts

    def _next_moment_with(self, hand: int) -> list[int]:
        """For each moment, and before them all (last entry), the next later one in which the hand has a key to play."""
        found = [self.size] * (self.size + 1)
        coming = self.size
        for at in range(self.size - 1, -1, -1):
            found[at] = coming
            if any(self.hand[n] == hand and self._has_key[n] for n in range(self.first[at], self.first[at + 1])):
                coming = at
        found[-1] = coming
        return found

    def _beats(self) -> list[float]:
        """For each moment the felt beats from the start of the piece."""
        beats: list[float] = []
        now = last = Fraction(0)
        for moment in self.expected.moments:
            now += (moment.onset - last) / self.expected.bar_at(last).beat_quarters
            last = moment.onset
            beats.append(float(now))
        return beats

    def _last_moment_with(self, hand: int) -> Ints:
        """For each moment the latest earlier moment in which the hand plays (itself less one when none)."""
        found = np.zeros(self.size, dtype=np.intp)
        last = -1
        for at in range(self.size):
            found[at] = last if last >= 0 else max(at - 1, 0)
            if any(self.hand[n] == hand for n in range(self.first[at], self.first[at + 1])):
                last = at
        return found

    def _ways(self, found: Ints) -> Ints:
        """For each of some moments, a row: itself, one, two and three before, the last with each hand."""
        before = [np.maximum(found - back, 0) for back in (0, 1, 2, 3)]
        return np.stack([*before, self.previous[0][found], self.previous[1][found]], axis=1)

    def reached_from(self, pitch: int, back: Sequence[int]) -> tuple[Ints, Ints]:
        """For each moment of a pitch, a row: itself, those so many before it, the last with each hand.

        And the index of the first entry of each row, counted through. Made once for each pitch, as it is asked for.
        """
        known = self._reached_from.get(pitch)
        if known is None:
            found = self.moments_of[pitch]
            near = np.clip(found[:, None] - np.array((0, *back)), 0, self.size - 1)
            hands = [before[found][:, None] for before in self.previous]
            ways = np.concatenate([near, *hands], axis=1)
            known = self._reached_from[pitch] = ways, np.arange(0, ways.size, ways.shape[1])
        return known

    def _strength(self) -> Floats:
        """How good a place each moment is to start from, as a log weight: start of piece, bar, beat, elsewhere."""
        strength = np.zeros(self.size)
        for at, moment in enumerate(self.expected.moments):
            beat, begins = self.expected.beat_at(moment.onset), self.expected.bar_at(moment.onset).onset
            first = moment.onset == begins  # of what a repeat divides too
            strength[at] = 1.0 if at == 0 else 0.5 if first else 0.0 if beat.denominator == 1 else -0.5
        return strength

    def _alike(self) -> list[Ints]:
        """For each moment all that hold the same keys, ascending; moments alike share one array."""
        found: dict[tuple[int, ...], list[int]] = {}
        for at, notes in enumerate(self.own):
            found.setdefault(tuple(sorted(self.pitch[n] for n in notes)), []).append(at)
        alike: list[Ints] = [np.empty(0, dtype=np.intp)] * self.size
        for moments in found.values():
            same = np.array(moments, dtype=np.intp)
            for at in moments:
                alike[at] = same
        return alike

    def echoes(self, first: int, last: int, low: int, high: int) -> list[int]:
        """By how many moments passages that sound like [first, last] and end in [low, high) lie away from it."""
        alike = self.alike
        ends = alike[last]
        found = []
        for end in ends[ends.searchsorted(low) : ends.searchsorted(high)].tolist():
            by = end - last
            if by and first + by >= 0 and all(alike[at] is alike[at + by] for at in range(first, last)):
                found.append(by)
        return found

    def _ornaments(self) -> dict[int, list[int]]:
        """For each moment the ornamented notes that sound in it."""
        found: dict[int, list[int]] = {}
        for index, note in enumerate(self.expected.notes):
            if note.ornament:
                end = float(note.end)
                at = self.moment[index]
                while at < self.size and (at == self.moment[index] or self.onset[at] <= end):
                    found.setdefault(at, []).append(index)
                    at += 1
        return found

    def _shares(self) -> tuple[list[dict[int, float]], Floats, Ints]:
        """For each note the log share of each distance in semitones among the slips for it.

        Notes of one degree in one key share a table. Also all tables in one row, each as long as any key may lie from
        any note, and where in it the share of key 0 as a slip for each note stands: key by key, the others follow.
        """
        tables: dict[tuple[int, int, Key, Key], dict[int, float]] = {}
        degrees = []
        for index, (note, key, page) in enumerate(zip(self.expected.notes, self.keys, self.pages, strict=True)):
            degree = note.pitch.steps % 7, note.pitch.alteration, key, page
            degrees.append(degree)
            if degree not in tables:
                tables[degree] = slip_shares(self, index)
        number = {degree: row for row, degree in enumerate(tables)}
        away = range(-_KEYS, _KEYS + 1)
        slips = np.array([table.get(d, NO_SLIP) for table in tables.values() for d in away])
        rows = np.array([number[degree] for degree in degrees], dtype=np.intp)
        return [tables[d] for d in degrees], slips, rows * len(away) + _KEYS - np.array(self.pitch, dtype=np.intp)

    def slip_at(self, pitch: int, low: int, high: int) -> Floats:
        """For each moment in [low, high) the log share of the likeliest slip in it that strikes a pitch."""
        first, last = self.first[low], self.first[high]
        shares: Floats = self._slips.take(self._at_pitch_0[first:last] + pitch)
        found: Floats = np.maximum.reduceat(shares, self._starts[low:high] - first)
        return found

    def near(self, pitch: int, low: int, high: int) -> list[int]:
        """Notes of a pitch whose index lies in [low, high)."""
        found = self.places.get(pitch)
        if found is None:
            return []
        return found[bisect_left(found, low) : bisect_left(found, high)]

    def skipped(self, hand: int, low: int, high: int) -> int:
        """Needed notes of a hand in moments low <= m < high."""
        return self.count[hand][high] - self.count[hand][low]


@lru_cache(maxsize=16)
def row_by_row(costs: tuple[float, ...], rows: int) -> Floats:
    """The costs of some ways once for each of so many moments: added so they cost a fraction of the time."""
    return np.tile(costs, (rows, 1))
