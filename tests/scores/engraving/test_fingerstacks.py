"""Fingers of notes a second apart stand one above the other, in the order of the notes."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from trainer.music.piece import LEFT, Piece
from trainer.music.piece import RIGHT as RIGHT_HAND
from trainer.scores.engraving.engraving import Look, engrave
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.reading import from_bytes

SVG = "{http://www.w3.org/2000/svg}"
FINGERS = {RIGHT_HAND: dict(zip("CDEG", (1, 2, 3, 5), strict=True)), LEFT: dict(zip("CDEG", (5, 4, 3, 1), strict=True))}


def piece_of(chord: str) -> Piece:
    """Two bars in which the right hand, then the left, has a chord."""
    low = re.sub(r"([A-G])", r"\1,", chord)
    abc = f"X:1\nT:t\nM:4/4\nL:1/1\nK:C\nV:1 clef=treble\nV:2 clef=bass\n[V:1] [{chord}]|z|\n[V:2] z|[{low}]|\n"
    piece = from_bytes(abc.encode(), "t.abc")
    notes = tuple(replace(note, finger=FINGERS[note.hand][note.pitch.letter]) for note in piece.notes)
    return replace(piece, notes=notes)


@pytest.mark.parametrize("chord", ["CD", "CDG", "CEG", "CDEG"])
def test_fingers_read_as_a_chord_from_the_top_down(chord: str) -> None:
    (system,) = engrave(piece_of(chord), Look(700, 48, ribbon_px=30)).systems
    drawn = [
        (float(text.get("y", 0)), float(text.get("x", 0)), int("".join(text.itertext()).strip()))
        for group in ET.fromstring(system.svg).iter(f"{SVG}g") if "fing" in group.get("class", "").split()
        for text in group.iter(f"{SVG}text")
    ]  # fmt: skip
    drawn.sort()
    upper, lower = drawn[: len(chord)], drawn[len(chord) :]
    for row, hand in ((upper, RIGHT_HAND), (lower, LEFT)):
        assert [finger for _, _, finger in row] == [FINGERS[hand][letter] for letter in reversed(chord)]
        assert len({y for y, _, _ in row}) == len(chord)
        assert len({x for _, x, _ in row}) == 1


def test_a_file_keeps_each_finger_at_its_note() -> None:
    piece = piece_of("CD")
    again = from_bytes(to_musicxml(piece).encode(), "t.musicxml")
    assert [note.finger for note in again.notes] == [note.finger for note in piece.notes]
