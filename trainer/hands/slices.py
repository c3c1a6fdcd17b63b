"""What one hand has under its fingers at each onset: keys struck and keys still held."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm
from typing import NamedTuple

from trainer.hands.keyboard import is_black
from trainer.music.piece import LEFT, Note

FINGERS_OF_A_HAND = 5
# Semitones between two keys of one colour that one thumb strikes together, across the line between them: common
# practice, no source.
_ONE_THUMB = 2
# Wider than this nothing is held by one hand; what sounds on is left to the pedal (a tenth and a semitone).
WIDEST_HOLD = 17


@dataclass(frozen=True)
class Slice:
    """The keys of one hand at one onset, turned so that the thumb's side is low (a left hand is mirrored).

    Parameters
    ----------
    keys : tuple of int
        From the thumb's side outward: MIDI numbers in the right hand, their negatives in the left.
    black : tuple of bool
    struck : tuple of int
        Places in `keys` that are struck now; the others are held from before.
    notes : tuple of tuple of int
        For each key the indices of its notes (two voices may share one).
    rest : float
        Quarter notes of silence before it.
    shared : bool
        The thumb takes two keys at once: the first place stands for both, with the key next to the other fingers.
    """

    keys: tuple[int, ...]
    black: tuple[bool, ...]
    struck: tuple[int, ...]
    notes: tuple[tuple[int, ...], ...]
    rest: float = 0.0
    shared: bool = False

    @property
    def is_single(self) -> bool:
        """One key is struck, whatever is held."""
        return len(self.struck) == 1


def of_keys(line: Iterable[int | Sequence[int]], hand: str) -> tuple[Slice, ...]:
    """Slices of plain MIDI notes and chords, one after the other without rests."""
    found = []
    for at, keys in enumerate(line):
        chord = (keys,) if isinstance(keys, int) else tuple(keys)
        found.append(_slice({key: [at] for key in chord}, set(chord), hand, 0.0))
    return tuple(found)


def of_notes(
    notes: Sequence[tuple[int, Note]], hand: str, thumbs: Container[int] = (), up: int = 0
) -> tuple[Slice, ...]:
    """Slices of (index, note) pairs of one hand, in the order of a piece; grace notes come one by one.

    A note of `thumbs` is the thumb's: one with a key below it that the thumb cannot leave to another finger takes that
    key along, where `neighbours` allows it. The keys that are played lie `up` semitones above the notes.
    """
    # Whole ticks, because fractions are slow to compare thousands of times.
    ticks = lcm(*{part.denominator for _, note in notes for part in (note.onset, note.length)})
    timed = [_Timed(i, note.midi, _in_ticks(note.onset, ticks), _in_ticks(note.length, ticks)) for i, note in notes]
    found: list[Slice] = []
    sounding: list[_Timed] = []
    silent_from = at = 0
    while at < len(timed):
        start, group = timed[at].start, [timed[at]]
        grace = notes[at][1].grace
        at += 1
        while not grace and at < len(timed) and timed[at].start == start:
            group.append(timed[at])
            at += 1
        struck = {note.midi for note in group}
        sounding = [note for note in sounding if note.end > start and note.midi not in struck]
        keys: dict[int, list[int]] = {}
        for note in [*group, *_kept(sounding, struck)]:
            keys.setdefault(note.midi, []).append(note.note)
        rest = max(0, start - silent_from) / ticks if found else 0.0
        found.append(_slice(keys, struck, hand, rest, thumbs, up))
        if not grace:
            sounding += group
        silent_from = max(silent_from, *(note.end for note in group))
    return tuple(found)


class _Timed(NamedTuple):
    note: int
    midi: int
    start: int
    length: int

    @property
    def end(self) -> int:
        return self.start + self.length


def _in_ticks(quarters: Fraction, ticks: int) -> int:
    return quarters.numerator * (ticks // quarters.denominator)


def _kept(sounding: list[_Timed], struck: set[int]) -> list[_Timed]:
    """The held notes a hand can really keep: not too far from what is struck, not more than five keys in all."""
    kept: list[_Timed] = []
    for note in reversed(sounding):
        keys = struck | {other.midi for other in kept} | {note.midi}
        if len(keys) <= FINGERS_OF_A_HAND and max(keys) - min(keys) <= WIDEST_HOLD:
            kept.append(note)
    return kept


def neighbours(key: int, other: int) -> bool:
    """Whether one thumb can strike two keys at once: two white or two black ones next to each other.

    >>> [neighbours(60, other) for other in (59, 61, 62, 64)], neighbours(61, 63), neighbours(63, 66)
    ([True, False, True, False], True, False)
    """
    return is_black(key) == is_black(other) and 0 < abs(key - other) <= _ONE_THUMB


def is_clustered(notes: Iterable[tuple[int, Note]]) -> bool:
    """Whether a letter is struck together with its own sharp or flat, which takes two fingers."""
    struck = {(note.onset, note.pitch.steps, note.midi) for _, note in notes if not note.grace}
    return len(struck) > len({(onset, steps) for onset, steps, _ in struck})


def _slice(
    keys: dict[int, list[int]],
    struck: set[int],
    hand: str,
    rest: float,
    thumbs: Container[int] = (),
    up: int = 0,
) -> Slice:
    sign = -1 if hand == LEFT else 1
    if len(keys) == 1:
        (key,) = keys
        return Slice((sign * key,), (is_black(key),), (0,), (tuple(keys[key]),), rest)
    ordered = sorted(keys, key=lambda key: sign * key)
    low, high = ordered[:2]
    shared = (
        any(i in thumbs for i in keys[high]) and (low in struck) == (high in struck) and neighbours(low + up, high + up)
    )
    if shared:
        keys = {**keys, high: [*keys[low], *keys[high]]}
        del ordered[0]
    # More than five keys: the inner ones are left to the thumb or broken, and get no finger of their own.
    while len(ordered) > FINGERS_OF_A_HAND:
        ordered.pop(len(ordered) // 2)
    return Slice(
        tuple(sign * key for key in ordered),
        tuple(is_black(key) for key in ordered),
        tuple(place for place, key in enumerate(ordered) if key in struck),
        tuple(tuple(keys[key]) for key in ordered),
        rest,
        shared,
    )
