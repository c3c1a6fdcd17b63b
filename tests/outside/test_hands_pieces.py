"""Fingering of real pieces against the fingers a pianist printed: Clara Wieck's four Polonaises op. 1.

Source: the scores in music21's corpus (composer dead since 1896), the only ones there for piano with fingering. No two
pianists agree on every finger; fingers are asked for where a choice is hard, so agreement well above the fifth that
chance gives is what can be hoped for.
"""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from pathlib import Path

from trainer.hands.fingering import finger_piece
from trainer.scores.reading import read


def test_most_printed_fingers_of_the_polonaises_are_found() -> None:
    found = importlib.util.find_spec("music21")
    assert found is not None
    assert found.origin is not None
    folder = Path(found.origin).parent / "corpus" / "schumann_clara"
    printed: dict[tuple[str, str], int] = {}
    agree: set[tuple[str, str]] = set()
    for path in sorted(folder.glob("polonaise_op1n*.mxl")):
        piece = read(path)
        bare = replace(piece, notes=tuple(replace(note, finger=None) for note in piece.notes))
        for hand in piece.hands:
            fingers = finger_piece(bare, hand)
            for i, note in enumerate(piece.notes):
                if note.hand == hand and note.finger:
                    printed[path.stem, note.id] = note.finger
                    if fingers.get(i) == note.finger:
                        agree.add((path.stem, note.id))
    print(f"{len(agree)} of {len(printed)} printed fingers found")
    assert len(printed) >= 50
    assert len(agree) >= 41
