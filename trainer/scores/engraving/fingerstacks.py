"""Fingers of two notes a second apart, one above the other.

The engraver sets the fingers of two neighbouring heads beside each other, where 2 and 3 read as 23; those of one note
it stacks in the order of a chord. So on a page all fingers of such a chord are given to one of its notes.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from trainer.music.piece import Piece
from trainer.scores.engraving.systems import System

_LETTERS = "CDEFGAB"


def stack_fingers(root: ET.Element) -> None:
    """Do so in every chord of a MusicXML document."""
    for measure in root.iter("measure"):
        chord: list[ET.Element] = []
        for note in measure.iter("note"):
            if note.find("chord") is None:
                _stack(chord)
                chord = []
            chord.append(note)
        _stack(chord)


def _stack(chord: Sequence[ET.Element]) -> None:
    """Those of one chord, lowest note first."""
    fingered = [
        (_line(note), sign) for note in chord if (sign := note.find("notations/technical/fingering/..")) is not None
    ]
    if len(fingered) < 2:
        return
    lines = sorted(_line(note) for note in chord)
    close = {line for pair in pairwise(lines) if pair[1] - pair[0] == 1 for line in pair}
    if not close:
        return
    # A head without a neighbour stands on the usual side of the stem.
    home = next((sign for line, sign in fingered if line not in close), fingered[0][1])
    fingers = []
    for _, sign in fingered:
        for finger in sign.findall("fingering"):
            sign.remove(finger)
            fingers.append(finger)
    # From the staff outward: below it the highest note's comes first.
    home.extend(fingers[::-1] if fingers[0].get("placement") == "below" else fingers)


def _line(note: ET.Element) -> int:
    """Line or space of a head, counted from C0."""
    return _LETTERS.index(note.findtext("pitch/step", "C")) + 7 * int(note.findtext("pitch/octave", "0"))


def unstacked(systems: Iterable[System], piece: Piece) -> tuple[System, ...]:
    """Systems whose stacked fingers say to which note of the chord each belongs."""
    chords: dict[tuple[Fraction, str, bool], list[int]] = {}
    for i, note in enumerate(piece.notes):
        if note.finger:
            chords.setdefault((note.onset, note.hand, note.grace), []).append(i)
    return tuple(_unstacked(system, piece, chords) for system in systems)


def _unstacked(system: System, piece: Piece, chords: Mapping[tuple[Fraction, str, bool], list[int]]) -> System:
    counted = Counter(place.note for place in system.fingers)
    fingers = list(system.fingers)
    for home in (note for note, count in counted.items() if count > 1):
        one = piece.notes[home]
        chord = [i for i in chords.get((one.onset, one.hand, one.grace), ()) if i == home or i not in counted]
        stack = [at for at, place in enumerate(fingers) if place.note == home]
        stack.sort(key=lambda at: fingers[at].y)
        chord.sort(key=lambda i: -piece.notes[i].pitch.steps)
        for at, i in zip(stack, chord, strict=False):
            fingers[at] = replace(fingers[at], note=i)
    return replace(system, fingers=tuple(fingers))
