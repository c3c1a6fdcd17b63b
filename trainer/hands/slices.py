"""What one hand has under its fingers at each onset: keys struck and keys still held."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.hands.keyboard import is_black
from trainer.music.piece import LEFT, Note

FINGERS_OF_A_HAND = 5
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
    """

    keys: tuple[int, ...]
    black: tuple[bool, ...]
    struck: tuple[int, ...]
    notes: tuple[tuple[int, ...], ...]
    rest: float = 0.0

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


def of_notes(notes: Sequence[tuple[int, Note]], hand: str) -> tuple[Slice, ...]:
    """Slices of (index, note) pairs of one hand, in the order of a piece; grace notes come one by one."""
    found: list[Slice] = []
    sounding: list[tuple[int, Note]] = []
    silent_from = Fraction(0)
    at = 0
    while at < len(notes):
        first = notes[at][1]
        group = [notes[at]]
        at += 1
        while not first.grace and at < len(notes) and notes[at][1].onset == first.onset:
            group.append(notes[at])
            at += 1
        struck = {note.midi for _, note in group}
        sounding = [(i, note) for i, note in sounding if note.end > first.onset and note.midi not in struck]
        keys: dict[int, list[int]] = {}
        for index, note in [*group, *_kept(sounding, struck)]:
            keys.setdefault(note.midi, []).append(index)
        rest = float(max(Fraction(0), first.onset - silent_from)) if found else 0.0
        found.append(_slice(keys, struck, hand, rest))
        sounding += [pair for pair in group if not pair[1].grace]
        silent_from = max([silent_from] + [note.end for _, note in group])
    return tuple(found)


def _kept(sounding: list[tuple[int, Note]], struck: set[int]) -> list[tuple[int, Note]]:
    """The held notes a hand can really keep: not too far from what is struck, not more than five keys in all."""
    kept: list[tuple[int, Note]] = []
    for index, note in reversed(sounding):
        keys = struck | {other.midi for _, other in kept} | {note.midi}
        if len(keys) <= FINGERS_OF_A_HAND and max(keys) - min(keys) <= WIDEST_HOLD:
            kept.append((index, note))
    return kept


def _slice(keys: dict[int, list[int]], struck: set[int], hand: str, rest: float) -> Slice:
    sign = -1 if hand == LEFT else 1
    ordered = sorted(keys, key=lambda key: sign * key)
    # More than five keys: the inner ones are left to the thumb or broken, and get no finger of their own.
    while len(ordered) > FINGERS_OF_A_HAND:
        ordered.pop(len(ordered) // 2)
    return Slice(
        tuple(sign * key for key in ordered),
        tuple(is_black(key) for key in ordered),
        tuple(place for place, key in enumerate(ordered) if key in struck),
        tuple(tuple(keys[key]) for key in ordered),
        rest,
    )
