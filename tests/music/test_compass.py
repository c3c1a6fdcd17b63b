from __future__ import annotations

import pytest

from tests.music.tunes import tune
from trainer.music.compass import level


@pytest.mark.parametrize(
    ("key", "pitches", "expected"),
    [
        ("C", "C4 D4 E4 D4 C4", "trichord"),
        ("a", "A4 B4 C5 B4 A4", "trichord"),
        ("C", "E4 F4 G4 F4", "pentachord"),
        ("C", "C4 D4 E4 F4 G4", "pentachord"),
        ("C", "B3 C4 D4 E4 F4 G4", "hexachord"),
        ("C", "B3 C4 D4 E4 F4 G4 A4", "hexachord"),
        ("C", "C4 G4 C5", "open"),
        ("C", "C4 D4 Eb4 D4 C4", "pentachord"),
        ("C", "D4 E4 F#4 G4 A4", "pentachord"),
        ("C", "C4 D4 E4 F4 F#4 G4", "hexachord"),
        ("a", "A4 G#4 A4 G4", "hexachord"),
    ],
)
def test_level_by_reach(key: str, pitches: str, expected: str) -> None:
    assert level(tune(key, pitches)) == expected
