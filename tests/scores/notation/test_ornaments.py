"""Several ornaments at one note: all are kept and shown; the last of them is what the note has."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET

import pytest

from tests.scores.making import score, xml_note
from trainer.music.packed import packed, unpacked
from trainer.music.piece import Piece
from trainer.music.pitch import Interval
from trainer.music.transpose import transposed
from trainer.scores.engraving.engraving import Look, engrave
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.notation.preparing import Print
from trainer.scores.reading import from_bytes

TWO = "<ornaments><turn/><mordent/></ornaments>"
# As SMuFL numbers their glyphs (https://w3c.github.io/smufl/latest/tables/common-ornaments.html).
GLYPHS = {"trill-mark": "E566", "turn": "E567", "inverted-turn": "E568", "inverted-mordent": "E56C", "mordent": "E56D"}


def noted(notations: str) -> Piece:
    """One note with its notations."""
    head = "<attributes><divisions>1</divisions></attributes>"
    more = f"<notations>{notations}</notations>"
    return from_bytes(score(f'<measure number="1">{head}{xml_note("G4", 4, more)}</measure>'), "x")


def abc(music: str) -> Piece:
    return from_bytes(f"X:1\nT:Graced\nM:4/4\nL:1/4\nK:C\n{music}|]\n".encode(), "x.abc")


def written(made: Piece, printing: Print | None = None) -> list[list[str]]:
    """Of every note its signs in a document."""
    return [
        [sign.tag for group in one.iter("ornaments") for sign in group] + [roll.tag for roll in one.iter("arpeggiate")]
        for one in ET.fromstring(to_musicxml(made, printing)).iter("note")
    ]


@pytest.mark.parametrize(
    ("made", "ornament", "signs"),
    [
        (noted(TWO), "mordent", ["turn", "mordent"]),
        (noted("<ornaments><mordent/><turn/></ornaments>"), "turn", ["mordent", "turn"]),
        (noted("<ornaments><inverted-turn/></ornaments><ornaments><trill-mark/></ornaments>"), "trill",
         ["inverted-turn", "trill-mark"]),
        (noted("<ornaments><turn/><inverted-mordent/></ornaments>"), "mordent", ["turn", "inverted-mordent"]),
        (noted('<ornaments><mordent/><tremolo type="single">2</tremolo></ornaments>'), "tremolo",
         ["mordent", "tremolo"]),
        (noted('<ornaments><tremolo type="single">2</tremolo><mordent/></ornaments>'), "mordent",
         ["mordent", "tremolo"]),
        (noted("<ornaments><trill-mark/></ornaments><arpeggiate/>"), "trill", ["trill-mark", "arpeggiate"]),
        (noted("<arpeggiate/>"), "arpeggio", ["arpeggiate"]),
        (noted('<ornaments><trill-mark/><wavy-line type="start"/></ornaments>'), "trill", ["trill-mark"]),
        (abc("!turn!!mordent!G4"), "mordent", ["turn", "mordent"]),
        (abc("!invertedturn!PG4"), "mordent", ["inverted-turn", "inverted-mordent"]),
        (abc("!turn![!lowermordent!G]4"), "mordent", ["turn", "mordent"]),
        (abc("!invertedturn![G]4"), "turn", ["inverted-turn"]),
        (abc("!turn![.G]4"), "turn", ["turn"]),
    ],
)  # fmt: skip
def test_all_are_kept_and_written(made: Piece, ornament: str, signs: list[str]) -> None:
    assert made.notes[0].ornament == ornament
    lower = transposed(made, Interval.parse("-m3"))
    for one in (made, lower, unpacked(json.loads(json.dumps(packed(lower))))):
        assert written(one) == written(one, Print()) == [signs]
    assert written(from_bytes(to_musicxml(made).encode(), "x")) == [signs]


def test_one_ornament_is_kept_as_it_always_was() -> None:
    """By its kind alone, so that pieces in the journals stay what they are."""
    signs = [noted(f"<ornaments><{name}/></ornaments>").notes[0].signs for name in ("turn", "mordent", "trill-mark")]
    assert signs == [(), (), ()]


@pytest.mark.parametrize("names", [("turn", "mordent"), ("inverted-turn", "trill-mark"), ("turn", "inverted-mordent")])
def test_both_are_drawn_one_over_the_other(names: tuple[str, str]) -> None:
    svg = engrave(noted(f"<ornaments><{names[0]}/><{names[1]}/></ornaments>"), Look(900, 40)).systems[0].svg
    heights = [
        re.search(rf'href="#{GLYPHS[name]}-[^"]*" transform="translate\(-?[\d.]+, (-?[\d.]+)\)', svg) for name in names
    ]
    assert all(heights)
    assert len({found[1] for found in heights if found}) == 2


def test_a_grace_note_keeps_both_too() -> None:
    head = "<attributes><divisions>1</divisions></attributes>"
    small = xml_note("A4", 0, f"<notations>{TWO}</notations>", before="<grace/>")
    made = from_bytes(score(f'<measure number="1">{head}{small}{xml_note("G4", 4)}</measure>'), "x")
    assert [one.grace for one in made.notes] == [True, False]
    assert written(made) == [["turn", "mordent"], []]
