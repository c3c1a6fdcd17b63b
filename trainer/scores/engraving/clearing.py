"""What verovio draws put right: fingers clear of the stems they would touch, chord symbols in one face; and how low
signs under a staff reach.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator

_SVG = "{http://www.w3.org/2000/svg}"
# Accidentals of chord symbols: verovio writes them as text in its own music font (SMuFL 1.4, "Figured bass"), which is
# no face elsewhere; said in signs the text faces hold.
_SYMBOL_SIGNS = str.maketrans({
    "\uea63": "♭♭", "\uea64": "♭", "\uea65": "♮", "\uea66": "♯", "\uea67": "×", "𝄫": "♭♭", "𝄪": "×",
})  # fmt: skip
_ALTERED = {"b": "♭", "#": "♯"}
_PLACE = re.compile(r"translate\(\s*-?[\d.]+[ ,]+(-?[\d.]+)")
# In verovio's SVG units, 180 a staff space: what stays free between a finger and a stem, and of the size of its text
# how wide and high a digit is.
_FREE = 72.0
_WIDE, _HIGH = 0.5, 0.68
# How far an ornament reaches under its place, with a little air; how wide and high one may be (Leipzig.xml, at 0.72).
_ORNAMENTS = {"trill": 40.0, "turn": 40.0, "mordent": 70.0}
_SIGN_WIDE, _SIGN_HIGH = 311.0, 262.0
# Fingers at one place further apart than this are not of one chord.
_APART = 540.0
_SPOT = re.compile(r"translate\(\s*(-?[\d.]+)[ ,]+(-?[\d.]+)\s*\)")
_STEM = re.compile(r"M\s*(-?[\d.]+)[ ,]+(-?[\d.]+)\s*L\s*-?[\d.]+[ ,]+(-?[\d.]+)")

# Where it stands, and its text.
_Finger = tuple[float, float, ET.Element]


def clear_fingers(measure: ET.Element) -> None:
    """Move the fingers of a bar sideways, away from the stems they stand beside."""
    stems = [
        found
        for group in measure.iter(f"{_SVG}g")
        if "stem" in group.get("class", "").split()
        for path in group.iter(f"{_SVG}path")
        if (found := _stem(path)) is not None
    ]
    fingers = [
        (float(text.get("x", 0)), float(text.get("y", 0)), text)
        for group in measure.iter(f"{_SVG}g")
        if "fing" in group.get("class", "").split()
        for text in group.iter(f"{_SVG}text")
    ]
    for column in _columns(sorted(fingers, key=lambda finger: finger[:2])):
        away = max((_shift(x, text, stems) for x, _, text in column), key=abs)
        for x, _, text in column:
            text.set("x", f"{x + away:g}")


def lift_ornaments(measure: ET.Element) -> None:
    """Lift the ornaments of a bar off fingers. The engraver sets them by their note alone, where the finger of a lower
    voice has pushed the note's own up.
    """
    fingers = [
        (float(text.get("x", 0)), float(text.get("y", 0)), _size(text))
        for group in _by_class(measure, "fing")
        for text in group.iter(f"{_SVG}text")
    ]
    for group, low in ((group, low) for name, low in _ORNAMENTS.items() for group in _by_class(measure, name)):
        signs = [(use, found) for use in group.iter(f"{_SVG}use") if (found := _SPOT.search(use.get("transform", "")))]
        if not signs:
            continue
        x, y = float(signs[0][1][1]), float(signs[0][1][2])
        higher = y
        # From the lowest on: each may lift it into the next.
        for at, base, size in sorted(fingers, key=lambda finger: -finger[1]):
            beside = x - size * _WIDE / 2 < at < x + _SIGN_WIDE + size * _WIDE / 2
            if beside and base - size * _HIGH < higher + low and base > higher - _SIGN_HIGH:
                higher = base - size * _HIGH - low
        for use, found in signs if higher < y else ():
            moved = f"translate({found[1]}, {float(found[2]) + higher - y:g})"
            use.set("transform", _SPOT.sub(moved, use.get("transform", "")))


def _size(text: ET.Element) -> float:
    return max((float(part.get("font-size", "0px")[:-2]) for part in text.iter(f"{_SVG}tspan")), default=0.0)


def _columns(fingers: list[_Finger]) -> list[list[_Finger]]:
    """The fingers of a chord stand over each other and move together; those of the other hand are further away."""
    found: list[list[_Finger]] = []
    for finger in fingers:
        if found and found[-1][-1][0] == finger[0] and finger[1] - found[-1][-1][1] < _APART:
            found[-1].append(finger)
        else:
            found.append([finger])
    return found


def _stem(path: ET.Element) -> tuple[float, float, float] | None:
    """Where a stem stands, its top and its bottom."""
    line = _STEM.match(path.get("d", ""))
    if line is None:
        return None
    ends = sorted((float(line[2]), float(line[3])))
    return float(line[1]), ends[0], ends[1]


def _shift(x: float, text: ET.Element, stems: list[tuple[float, float, float]]) -> float:
    """How far a finger must go to the side it stands on to be clear of every stem; 0 when it is."""
    size = _size(text)
    base, half = float(text.get("y", 0)), size * _WIDE / 2
    found = 0.0
    for at, top, bottom in stems:
        if top < base + _FREE / 2 and bottom > base - size * _HIGH - _FREE / 2:
            lacking = half + _FREE - abs(x - at)
            if lacking > abs(found):
                found = lacking if x >= at else -lacking
    return found


def spell_symbols(group: ET.Element) -> None:
    """Set the accidentals of chord symbols in the face and size of their letters."""
    for symbol in _by_class(group, "harm"):
        parts = [part for part in symbol.iter(f"{_SVG}tspan") if part.text and part.get("font-size")]
        letters = next((part for part in parts if "font-family" not in part.attrib), None)
        for part in parts:
            spelled = (part.text or "").translate(_SYMBOL_SIGNS)
            part.text = re.sub(r"[b#](?=\d)", lambda found: _ALTERED[found[0]], spelled)
            if letters is not None:
                part.attrib.pop("font-family", None)
                part.set("font-size", letters.get("font-size", ""))


def lowest_sign(group: ET.Element, bottom: float) -> float:
    """How far down the brackets of 8vb and the pedal's signs under a staff reach; its `bottom` line where none are."""
    places = [
        float(found[1])
        for name in ("octave", "pedal")
        for sign in _by_class(group, name)
        for use in sign.iter(f"{_SVG}use")
        if (found := _PLACE.search(use.get("transform", "")))
    ]
    return max((place for place in places if place > bottom), default=bottom)


def _by_class(root: ET.Element, name: str) -> Iterator[ET.Element]:
    return (group for group in root.iter(f"{_SVG}g") if name in group.get("class", "").split())
