"""Fingers stand clear of stems, on every page that has them."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

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
