"""An engraved system with something drawn over it, or with its notes taken away."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from html import escape
from itertools import pairwise

from trainer.scores.engraving.systems import System

_SVG = "{http://www.w3.org/2000/svg}"
_LINK = "{http://www.w3.org/1999/xlink}"
# What stays of a bar when its notes are taken away.
_FRAME = ("staff", "barLine", "mNum")
# About how wide a letter of a numeral is, in pixels of the system.
_LETTER_PX = 8.6


def laid_over(system: System, parts: Sequence[str], below: float = 0.0) -> str:
    """A system's SVG with SVG elements drawn over it, in the system's own pixels.

    `below` adds room at the foot, in pixels.
    """
    inner = re.sub(r"^<\?xml[^>]*\?>\s*", "", system.svg)
    height = system.height + below
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'viewBox="0 0 {system.width:.2f} {height:.2f}" width="{system.width:.2f}" height="{height:.2f}">'
        f"{inner}{''.join(parts)}</svg>"
    )


def without_notes(system: System) -> str:
    """The staves of a system with clef, signature, meter and barlines in their places, to write the notes on.

    The voices over an accompaniment stay: what is to be written is the piano's.
    """
    ET.register_namespace("", _SVG[1:-1])
    ET.register_namespace("xlink", _LINK[1:-1])
    root = ET.fromstring(system.svg)
    for whole in _by_class(root, "system"):
        for child in list(whole):
            if "spanning" in _classes(child):  # a slur, tie or bracket that comes from the system before
                whole.remove(child)
    for measure in _by_class(root, "measure"):
        for child in list(measure):
            if not set(_classes(child)) & set(_FRAME):
                measure.remove(child)
    bars = [[child for child in bar if "staff" in _classes(child)] for bar in _by_class(root, "measure")]
    sung = {number for number, staff in enumerate(system.staves) if staff.sung is not None}
    for staff in (staff for staves in bars for number, staff in enumerate(staves) if number not in sung):
        for child in list(staff):
            if "ledgerLines" in _classes(child):
                staff.remove(child)
        for layer in _by_class(staff, "layer"):
            for child in list(layer):
                layer.remove(child)
    return ET.tostring(root, encoding="unicode")


def _classes(element: ET.Element) -> list[str]:
    return element.get("class", "").split()


def _by_class(root: ET.Element, name: str) -> list[ET.Element]:
    return [element for element in root.iter(f"{_SVG}g") if name in _classes(element)]


def drawn_apart(centres: Sequence[float], widths: Sequence[float], air: float, most: float) -> list[float]:
    """Centres of words in a line, those that hardly touch drawn apart, each by a little and by `most` at most.

    >>> drawn_apart([10, 18, 40], [10, 10, 10], 2, 3)
    [8.0, 20.0, 40]
    """
    places = list(centres)
    # What one gives way may touch the next: a few rounds let a close group share its room.
    for _ in range(3):
        for at, (before, after) in enumerate(pairwise(centres)):
            short = (widths[at] + widths[at + 1]) / 2 + air - (places[at + 1] - places[at])
            if short > 0:
                places[at] = max(before - most, places[at] - short / 2)
                places[at + 1] = min(after + most, places[at + 1] + short / 2)
    return places


def numeral_drawn(sign: str) -> tuple[str, float]:
    """A numeral as SVG text, its figures small and one above the other as in print, and about how wide it is."""
    ((root, figures, rest),) = re.findall(r"^([^0-9]*)([0-9]{0,2})(.*)$", sign)
    said, width = escape(root), _LETTER_PX * (len(root) + len(rest))
    if figures:
        # The second figure stands under the first: a figure of this face is half its size wide.
        low = f'<tspan font-size="12" dx="-6" dy="9.5">{figures[1]}</tspan>' if len(figures) == 2 else ""
        back = f'<tspan dy="{-1.5 if low else 8}">{escape(rest) or "&#8203;"}</tspan>' if rest else ""
        said += f'<tspan font-size="12" dx="1" dy="-8">{figures[0]}</tspan>{low}{back}'
        width += 7
    return said, width
