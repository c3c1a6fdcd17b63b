"""Fingers stand clear of stems, on every page that has them."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from tests.scores.making import note, piece
from trainer.scores.engraving.engraving import Look, engrave
from trainer.scores.reading import read
from trainer.scores.shelf.library import find

SVG = "{http://www.w3.org/2000/svg}"
# A staff space in the drawing's units; a digit is about half its size wide and two thirds of it high.
SPACE = 180.0


def groups(root: ET.Element, name: str) -> list[ET.Element]:
    return [group for group in root.iter(f"{SVG}g") if name in group.get("class", "").split()]


@pytest.mark.parametrize("name", ["five-step-stair", "petzold-minuet-in-g", "three-bells"])
def test_no_finger_touches_a_stem(name: str) -> None:
    checked = 0
    for system in engrave(read(find(name)), Look(width_px=1040, staff_px=36, ribbon_px=24)).systems:
        for measure in groups(ET.fromstring(system.svg), "measure"):
            stems = []
            for group in groups(measure, "stem"):
                numbers = [float(one) for path in group for one in re.findall(r"-?[\d.]+", path.get("d", ""))]
                if numbers:
                    stems.append((numbers[0], min(numbers[1::2]), max(numbers[1::2])))
            for finger in groups(measure, "fing"):
                text = next(finger.iter(f"{SVG}text"))
                size = max(float(part.get("font-size", "0px")[:-2]) for part in text.iter(f"{SVG}tspan"))
                x, y = float(text.get("x", 0)), float(text.get("y", 0))
                for at, top, bottom in stems:
                    if top < y and bottom > y - 0.66 * size:
                        assert abs(x - at) - size / 4 > 0.35 * SPACE, (name, text.get("x"))
                checked += 1
    assert checked


@pytest.mark.parametrize("ornament", ["trill", "mordent", "turn"])
def test_an_ornament_stands_over_its_finger_that_that_of_a_lower_voice_pushes_up(ornament: str) -> None:
    music = piece(note("a", "B5", 0, 2, finger=5, ornament=ornament), note("b", "F4", 0, 2, voice=2, finger=1), bars=1)
    (system,) = engrave(music, Look(500, 40, ribbon_px=14, expression=True)).systems
    drawn = ET.fromstring(system.svg)
    (sign,) = groups(drawn, ornament)
    place = re.search(r"translate\([-\d.]+,? ([-\d.]+)", next(sign.iter(f"{SVG}use")).get("transform", ""))
    assert place
    texts = [text for finger in groups(drawn, "fing") for text in finger.iter(f"{SVG}text")]
    assert len(texts) == 2
    # Digits are two thirds of their size high; the stroke of a mordent goes 65 units under its place.
    for text in texts:
        assert float(text.get("y", 0)) - 0.66 * 188 > float(place[1]) + (65 if ornament == "mordent" else 0)
