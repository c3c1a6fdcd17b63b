"""Where a hand stands in the course of a piece: runs of notes during which every finger keeps its key."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

from trainer.hands.position import MEDIUM, crowding, reaches
from trainer.hands.rules import THUMB
from trainer.hands.slices import of_notes
from trainer.music.piece import LEFT, Piece


@dataclass(frozen=True)
class Place:
    """One place of a hand.

    Parameters
    ----------
    notes : tuple of int
        Indices of the notes played there.
    midi, fingers : tuple of int
        The keys used, from low to high, and the fingers on them.
    """

    notes: tuple[int, ...]
    midi: tuple[int, ...]
    fingers: tuple[int, ...]

    @property
    def crowding(self) -> float:
        """Millimetres, see `position.crowding`."""
        return crowding(self.midi, self.fingers)


def places(piece: Piece, hand: str, fingers: Mapping[int, int]) -> tuple[Place, ...]:
    """The places a hand takes one after the other; going from one to the next is a shift.

    A finger may take two neighbouring keys of one place (a letter and its chromatic neighbour).
    """
    notes = [(i, note) for i, note in enumerate(piece.notes) if note.hand == hand and i in fingers]
    found: list[Place] = []
    taken: dict[int, int] = {}
    played: list[int] = []
    for at in of_notes(notes, hand, {i for i, _ in notes if fingers[i] == THUMB}):
        fresh = {abs(at.keys[p]): fingers[at.notes[p][0]] for p in at.struck}
        together = taken | fresh
        if taken and not _agree(together, hand):
            found.append(_place(played, taken))
            taken, played = {}, []
        taken = taken | fresh
        played += [index for p in at.struck for index in at.notes[p]]
    if played:
        found.append(_place(played, taken))
    return tuple(found)


def too_wide(piece: Piece, hand: str, size: str = MEDIUM) -> tuple[int, ...]:
    """The first note of every chord that a hand of this size cannot hold: to be broken, or thinned.

    Chords marked as arpeggios are broken already.
    """
    notes = [(i, note) for i, note in enumerate(piece.notes) if note.hand == hand]
    found = []
    for at in of_notes(notes, hand):
        keys = [abs(at.keys[place]) for place in at.struck]
        struck = [index for place in at.struck for index in at.notes[place]]
        broken = any(piece.notes[index].ornament == "arpeggio" for index in struck)
        if not broken and not reaches(min(keys), max(keys), size):
            found.append(min(struck))
    return tuple(found)


def _agree(finger_of: Mapping[int, int], hand: str) -> bool:
    keys = sorted(finger_of, reverse=hand == LEFT)
    for low, high in pairwise(keys):
        if finger_of[low] > finger_of[high] or (finger_of[low] == finger_of[high] and abs(high - low) > 1):
            return False
    return True


def _place(played: list[int], taken: Mapping[int, int]) -> Place:
    keys = tuple(sorted(taken))
    return Place(tuple(played), keys, tuple(taken[key] for key in keys))
