"""Scores for several players: which part is the pianist's, and that the others are named."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.scores.making import score, xml_note
from tests.scores.test_reading import bar
from trainer.scores.reading import from_bytes, left_out

BACK = "<backup><duration>4</duration></backup>"


def one(pitch: str) -> str:
    return bar(1, xml_note(pitch, 4))


def two(upper: str, lower: str) -> str:
    return bar(1, xml_note(upper, 4, "<staff>1</staff>"), BACK, xml_note(lower, 4, "<voice>5</voice><staff>2</staff>"),
               more="<staves>2</staves>")  # fmt: skip


HARP, CELESTA, PIANO = two("C6", "C5"), two("D6", "D5"), two("E5", "E3")
FLUTE, VIOLIN, CELLO = one("G5"), one("A5"), one("A2")


@pytest.mark.parametrize(("parts", "played", "said"), [
    ({"Harp": HARP, "Piano": PIANO, "Violin": VIOLIN}, "E3 E5",
     "Of 'score.musicxml' Piano is read, and Harp and Violin are left out: keep the score at hand."),
    ({"Celesta": CELESTA, "Klavier": PIANO, "Violine": VIOLIN}, "E3 E5",
     "Of 'score.musicxml' Klavier is read, and Celesta and Violine are left out: keep the score at hand."),
    ({"Celesta": one("D6"), "Piano": PIANO, "Violin": VIOLIN}, "E3 E5", "Celesta and Violin are left out"),
    ({"Harp": HARP, "Piano right": one("E5"), "Piano left": one("E3"), "Flute": FLUTE}, "E3 E5",
     "Piano right and Piano left are read, and Harp and Flute are left out"),
    ({"Harp": HARP, "": PIANO, "Flute": FLUTE}, "E3 E5", "part 2 is read, and Harp and Flute are left out"),
    ({"Violin": VIOLIN, "Violoncello": CELLO, "Piano": PIANO}, "E3 E5", "Violin and Violoncello are left out"),
    ({"Piano I": PIANO, "Piano II": CELESTA}, "E3 E5", "Piano I is read, and Piano II is left out"),
    ({"Flute": FLUTE, "Harp": HARP, "Violin": VIOLIN}, "C5 C6",
     "'score.musicxml' has no keyboard part, so Harp, on two staves, is read, and Flute and Violin are left out"),
    ({f"Horn {at}": FLUTE for at in range(1, 8)} | {"Piano": PIANO}, "E3 E5",
     "Horn 1, Horn 2, Horn 3, Horn 4, Horn 5 and 2 others are left out"),
    ({f"Horn {at}": FLUTE for at in range(1, 8)}, " ".join(["G5"] * 7),
     "has no keyboard part, so all its 7 parts are read"),
    ({"Flute": FLUTE, "Piano": PIANO}, "E3 E5", ""),
    ({"Flute": FLUTE, "Harp": HARP}, "C5 C6", ""),
    ({"Violin I": VIOLIN, "Violin II": FLUTE, "Viola": one("C4"), "Cello": CELLO}, "A2 C4 G5 A5", ""),
])  # fmt: skip
def test_the_part_called_a_keyboard_is_played_and_who_is_left_out_is_named(
    parts: dict[str, str], played: str, said: str, tmp_path: Path
) -> None:
    document = score(*parts.values(), names=tuple(parts))
    assert " ".join(note.pitch.name for note in from_bytes(document, "score.musicxml").notes) == played
    path = tmp_path / "score.musicxml"
    path.write_bytes(document)
    assert said in left_out(path)
    assert bool(said) == bool(left_out(path))
