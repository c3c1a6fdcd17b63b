"""The pedal and the breaths of a page: read, written and drawn."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from tests.scores.making import score, xml_note
from tests.scores.notation.test_expression import direction
from tests.scores.test_reading import bar
from trainer.music.piece import Piece
from trainer.music.pitch import Interval
from trainer.music.transpose import transposed
from trainer.scores.engraving.engraving import Look, engrave
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.reading import from_bytes

BACK = "<backup><duration>4</duration></backup>"


def pedal(kind: str) -> str:
    return direction(f'<pedal type="{kind}" line="no"/>')


def piano(*lower: str, more: str = "") -> Piece:
    staves = "<staves>2</staves>"
    upper = xml_note("C5", 4, "<staff>1</staff>")
    return from_bytes(score(bar(1, upper, BACK, *lower, more=staves) + more), "x")


def low(pitch: str, length: int = 2) -> str:
    return xml_note(pitch, length, "<staff>2</staff>")


def said(made: Piece) -> list[tuple[float, str, str]]:
    return [(float(word.onset), word.text, word.place) for word in made.directions]


def test_the_pedal_stands_under_the_lower_staff_in_every_key() -> None:
    made = piano(pedal("start"), low("C3"), pedal("stop"), low("D3"))
    assert said(made) == [(0, "Ped.", "left"), (2, "*", "left")]
    moved = transposed(made, Interval(-2, -3))
    assert said(from_bytes(to_musicxml(moved).encode(), "x")) == said(made)
    document = ET.fromstring(to_musicxml(made).encode())
    found = [
        (one.findtext("staff"), sign.get("type")) for one in document.iter("direction") for sign in one.iter("pedal")
    ]
    assert found == [("2", "start"), ("2", "stop")]
    look = Look(width_px=900, staff_px=32, expression=True)
    assert engrave(made, look).systems[0].svg.count('class="pedal') == 2


def test_a_change_of_pedal_is_told_by_its_going_down_anew() -> None:
    changed = piano(pedal("start"), low("C3"), pedal("change"), low("D3"), pedal("stop"))
    both = piano(pedal("start"), low("C3"), pedal("stop"), pedal("start"), low("D3"), pedal("stop"))
    assert said(changed) == said(both) == [(0, "Ped.", "left"), (2, "Ped.", "left"), (4, "*", "left")]


def test_a_pedal_lifted_with_a_bar_is_lifted_in_it_and_not_on_the_next_system() -> None:
    second = bar(2, xml_note("C5", 4, "<staff>1</staff>"), BACK, low("E3", 4))
    made = piano(pedal("start"), low("C3", 4), pedal("stop"), more=second)
    measures = ET.fromstring(to_musicxml(made).encode()).iter("measure")
    assert [[one.get("type") for one in measure.iter("pedal")] for measure in measures] == [["start", "stop"], []]


def test_a_breath_stands_after_the_last_of_tied_heads() -> None:
    breath = "<notations>{}<articulations><breath-mark/></articulations></notations>"
    first = xml_note("C5", 4, '<tie type="start"/>' + breath.format('<tied type="start"/>'))
    second = xml_note("C5", 2, '<tie type="stop"/><notations><tied type="stop"/></notations>')
    made = from_bytes(score(bar(1, first) + bar(2, second, xml_note("D5", 2))), "x")
    assert [note.signs for note in made.notes] == [("breath-mark",), ()]
    document = ET.fromstring(to_musicxml(made).encode())
    marked = [one.get("id") for one in document.iter("note") if one.find(".//breath-mark") is not None]
    assert marked == [f"{made.notes[0].id}-t1"]


def test_a_breath_of_an_abc_tune_is_kept() -> None:
    made = from_bytes(b"X:1\nT:Breath\nM:4/4\nL:1/4\nK:C\nC D !breath!E F|]\n", "x.abc")
    assert [note.signs for note in made.notes] == [(), (), ("breath-mark",), ()]


def test_syllables_stand_clear_of_the_pedal_and_of_the_bracket_under_the_last_staff() -> None:
    look = Look(width_px=900, staff_px=32, ribbon_px=20, expression=True)
    pedalled, deep = (
        engrave(made, look).systems[0]
        for made in (
            piano(pedal("start"), low("A1"), pedal("stop"), low("C2")),
            piano(low("A0"), low("C2")),
        )
    )
    for name, system in (("pedal", pedalled), ("octave", deep)):
        root = ET.fromstring(system.svg)
        _, top, _, high = (float(number) for number in root.get("viewBox", "").split())
        uses = [
            use.get("transform", "")
            for group in root.iter() if name in group.get("class", "").split()
            for use in group.iter() if use.tag.endswith("use")
        ]  # fmt: skip
        lowest = max(float(use.split("(")[1].split(")")[0].replace(",", " ").split()[1]) for use in uses)
        ribbon = system.staves[-1].ribbon
        assert ribbon is not None
        assert ribbon - 0.8 * look.ribbon_px > (lowest - top) / high * system.height
