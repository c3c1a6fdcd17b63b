"""Music signs as outlines: drawn from the engraver's own music face, so that none is ever missing from a text face.

The outlines are the files of Leipzig (SIL Open Font Licence) that the engraver brings; code points are those of the
open music-font layout SMuFL 1.4 (W3C Music Notation Community Group): accidentals E260-E264, clefs E050, E05C and E062,
notes for a tempo E1D2-E1D9, note heads E0A2-E0A4. One staff space is 250 units.
"""

from __future__ import annotations

import importlib.util
import pathlib
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

# Text sign -> code point, and the text that stands in when the face is not installed.
TEXT_SIGNS = {
    "♭": "E260", "♮": "E261", "♯": "E262", "𝄪": "E263", "𝄫": "E264",
    "\U0001d15d": "E1D2", "\U0001d15e": "E1D3", "♩": "E1D5", "♪": "E1D7", "\U0001d161": "E1D9",
}  # fmt: skip
# A length in quarters and its note; with a dot it is half as long again.
NOTES = {
    Fraction(4): "\U0001d15d", Fraction(2): "\U0001d15e", Fraction(1): "♩", Fraction(1, 2): "♪",
    Fraction(1, 4): "\U0001d161",
}  # fmt: skip
G_CLEF = "E050"
C_CLEF = "E05C"
F_CLEF = "E062"
HALF_HEAD = "E0A3"
BLACK_HEAD = "E0A4"


@dataclass(frozen=True, slots=True)
class Outline:
    """A sign's path (SVG path data, y upwards, 250 units a staff space) and its box: left, bottom, width, height."""

    path: str
    left: float
    bottom: float
    width: float
    height: float


def _folder() -> pathlib.Path | None:
    # find_spec only looks for the package: importing it would cost the window's start 0.2 s.
    spec = importlib.util.find_spec("verovio")
    if spec is None or not spec.submodule_search_locations:
        return None
    folder = pathlib.Path(next(iter(spec.submodule_search_locations))) / "data"
    return folder if (folder / "Leipzig").is_dir() else None


@cache
def _boxes() -> dict[str, tuple[float, ...]]:
    folder = _folder()
    if folder is None:
        return {}
    text = (folder / "Leipzig.xml").read_text(encoding="utf-8")
    row = re.compile(r'<g c="(\w+)" x="([-\d.]+)" y="([-\d.]+)" w="([-\d.]+)" h="([-\d.]+)"')
    return {match[1]: tuple(float(match[i]) for i in range(2, 6)) for match in row.finditer(text)}


@cache
def outline(code: str) -> Outline | None:
    """The outline of a code point, or None when the face is not there."""
    folder = _folder()
    box = _boxes().get(code)
    if folder is None or box is None:
        return None
    text = (folder / "Leipzig" / f"{code}.xml").read_text(encoding="utf-8")
    paths = re.findall(r'\bd="([^"]+)"', text)
    return Outline(" ".join(paths), *box)


def note(quarters: Fraction) -> str:
    """The note so many quarters long, as a text sign, dotted where it must be; empty for a length of no one note."""
    return NOTES.get(quarters) or next((f"{sign}." for long, sign in NOTES.items() if quarters == long * 3 / 2), "")
