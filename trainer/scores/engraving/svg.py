"""verovio's SVG taken apart: one drawing a system, and where everything stands in it."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil
from typing import NamedTuple

from trainer.scores.engraving.clearing import clear_fingers, lift_ornaments, lowest_sign, spell_symbols
from trainer.scores.engraving.systems import BarPlace, FingerPlace, Place, Staff, System

_SVG = "{http://www.w3.org/2000/svg}"
_XLINK = "{http://www.w3.org/1999/xlink}href"
# verovio draws a staff space as 180 of its SVG units (unit 9, two units a space, ten SVG units each).
_SPACE = 180.0
# Width of note heads in staff spaces, from the metrics of verovio's own music font (Leipzig.xml, h-a-x / 250).
_HEADS = {"E0A0": 2.18, "E0A2": 1.62, "E0A3": 1.256, "E0A4": 1.256}
_USUAL_HEAD = 1.256
_GLYPH_REACH, _MARGIN = (1.6, 0.9), 0.8  # spaces a glyph may rise and sink from its place, and the air round a system
# Treble clefs, the second with an 8 under it, reach further than the staff (Leipzig.xml, y and h / 250), and
# into most of the air round a system.
_TAKEN = 0.75 * _MARGIN
_REACHES = {"E050": (4.34 - _TAKEN, 2.62 - _TAKEN), "E052": (4.34 - _TAKEN, 3.56 - _TAKEN)}
# Of the height of syllables, what they rise over their baseline, with a little air.
_ASCENT = 0.85
_NUMBER = r"-?\d+(?:\.\d+)?"
_MOVE = re.compile(rf"translate\(\s*({_NUMBER})[ ,]+({_NUMBER})\s*\)(?:\s*scale\(\s*({_NUMBER}))?")
# A straight line is a hair more than whole pixels, for rounding; and the drawing is moved aside by a part of verovio's
# units, so that no line lies on the boundary of two pixels, where it would be one thicker.
_HAIR, _ASIDE, _NEARLY = 1.0004, 0.3, 0.15
_LINE = re.compile(rf"M\s*({_NUMBER})[ ,]+({_NUMBER})\s*L\s*({_NUMBER})[ ,]+({_NUMBER})")
_PAIRS = re.compile(rf"({_NUMBER})[ ,]+({_NUMBER})")


def is_voice(staff: ET.Element) -> bool:
    """Whether a staff of a bar holds notes of a voice over an accompaniment (`writing`), which nobody here plays."""
    return any(note.get("id", "").startswith("v") for note in _by_class(staff, "note"))


def systems_of(
    pages: Sequence[str], staff_px: float, ink: str, bar_numbers: bool, ribbon_px: float, drawings: bool = True
) -> Iterator[System]:
    """Every system of every page, in order; with `ribbon_px` the first line of words only keeps room for syllables.

    Where only sizes and places are asked for there are no `drawings`, which halves the time.
    """
    ET.register_namespace("", _SVG[1:-1])
    ET.register_namespace("xlink", _XLINK[1:-5])
    bar = 0
    roots = [ET.fromstring(text) for text in pages]
    # In an interlude a voice's staff holds rests alone: which ones are voices' is known of the whole.
    voiced = {
        at for root in roots for bar in _by_class(root, "measure") for at, staff in _staves(bar) if is_voice(staff)
    }
    for page in map(_Page.of, roots):
        for group in page.systems:
            system = _System(page, group, bar, staff_px, ink, ribbon_px, voiced)
            if not bar_numbers:
                system.drop("mNum")
            yield system.made(drawings)
            bar += len(system.bars)


def _is(element: ET.Element, name: str) -> bool:
    """Whether a drawn group is of a class; most have one, some several."""
    classes = element.get("class", "")
    return name in classes and name in classes.split()


def _staves(measure: ET.Element) -> Iterator[tuple[int, ET.Element]]:
    """The staves of a bar with their numbers, from 1 at the top; one that rests may be left out of its system."""
    for place, staff in enumerate((child for child in measure if _is(child, "staff")), start=1):
        yield int(staff.get("data-n", place)), staff


def _by_class(root: ET.Element, name: str) -> list[ET.Element]:
    return [element for element in root.iter(f"{_SVG}g") if _is(element, name)]


class _Head(NamedTuple):
    """A note in verovio's units: index, centre and size of the head, reach with stem, staff number."""

    note: int
    x: float
    y: float
    width: float
    height: float
    top: float
    bottom: float
    staff: int


@dataclass
class _Page:
    """What the systems of one of verovio's pages share: its width, margin, glyphs and styles."""

    wide: float
    shift_x: float
    glyphs: dict[str, ET.Element]
    styles: list[ET.Element]
    systems: list[ET.Element]

    @classmethod
    def of(cls, root: ET.Element) -> _Page:
        inner = root.find(f".//{_SVG}svg")
        view = (root if inner is None else inner).get("viewBox", "0 0 0 0").split()
        margins = (_MOVE.search(group.get("transform", "")) for group in _by_class(root, "page-margin"))
        return cls(
            wide=float(view[2]),
            shift_x=next((float(found[1]) for found in margins if found), 0.0),
            glyphs={glyph.get("id", ""): glyph for defs in root.iter(f"{_SVG}defs") for glyph in defs},
            styles=list(root.iter(f"{_SVG}style")),
            systems=_by_class(root, "system"),
        )


class _System:
    """One system while it is measured."""

    def __init__(
        self,
        page: _Page,
        group: ET.Element,
        first_bar: int,
        staff_px: float,
        ink: str,
        ribbon_px: float,
        voiced: set[int],
    ) -> None:
        self.page = page
        self.group = group
        self.scale = staff_px / (4 * _SPACE)
        self.ink = ink
        self.drop("placeholder")
        self.drop("grpSym", "bracketsq")
        spell_symbols(group)
        self.ribbons = self._take_ribbons() if ribbon_px else {}
        # Top and bottom line of each staff that is there, by its number.
        self.staff_lines: dict[int, tuple[float, float]] = {}
        self.bars: list[tuple[int, float, float]] = []
        self.raw_notes: list[_Head] = []
        self.music_left = 0.0
        # How far down each voice's staff reaches with its words, by its number.
        self.sung = dict.fromkeys(voiced, 0.0)
        for offset, measure in enumerate(_by_class(group, "measure")):
            clear_fingers(measure)
            lift_ornaments(measure)
            self._measure(measure, first_bar + offset)
        last = max(self.staff_lines)
        if last in self.ribbons:  # verovio sets words and the signs under the last staff each for itself
            low = lowest_sign(group, self.staff_lines[last][1])
            self.ribbons[last] = max(self.ribbons[last], low + _ASCENT * ribbon_px / self.scale)
        self.top, self.bottom = self._extent()

    def _take_ribbons(self) -> dict[int, float]:
        """Take the placeholder syllables out of the drawing; per staff number in the system, their baseline."""
        found: dict[int, float] = {}
        for measure in _by_class(self.group, "measure"):
            for number, staff in _staves(measure):
                if is_voice(staff):
                    continue  # the words under the voice are its own
                for parent in list(staff.iter(f"{_SVG}g")):
                    for child in list(parent):
                        if _is(child, "verse") and child.get("data-n") == "1":
                            text = child.find(f".//{_SVG}text[@y]")
                            if text is not None:
                                found[number] = max(found.get(number, 0.0), float(text.get("y", 0)))
                            parent.remove(child)
        return found

    def _measure(self, measure: ET.Element, bar: int) -> None:
        left = right = 0.0
        for number, staff in _staves(measure):
            lines = [_LINE.match(path.get("d", "")) for path in staff if path.tag == f"{_SVG}path"]
            drawn = [line for line in lines if line]
            if drawn:
                left, right = float(drawn[0][1]), float(drawn[0][3])
                self.staff_lines.setdefault(number, (float(drawn[0][2]), float(drawn[-1][2])))
            if number in self.sung:
                words = [float(text.get("y", 0)) for text in staff.iter(f"{_SVG}text")]
                self.sung[number] = max(self.sung[number], self.staff_lines[number][1], *words)
            self._notes(staff, number)
            if not self.bars:
                for element in staff:  # not those within the bar, or of the next one
                    if any(_is(element, sign) for sign in ("clef", "keySig", "meterSig")):
                        for use in element.iter(f"{_SVG}use"):
                            found = _MOVE.search(use.get("transform", ""))
                            if found:
                                self.music_left = max(self.music_left, float(found[1]) + 2.5 * _SPACE)
        self.bars.append((bar, left, right))

    def _notes(self, staff: ET.Element, number: int) -> None:
        stems: dict[int, tuple[float, float]] = {}
        for chord in _by_class(staff, "chord"):
            reach = _stem(chord)
            for note in _by_class(chord, "note"):
                if reach:
                    stems[id(note)] = reach
        for note in _by_class(staff, "note"):
            name = note.get("id", "")
            head = next(iter(_by_class(note, "notehead")), None)
            use = head.find(f"{_SVG}use") if head is not None else None
            found = _MOVE.search(use.get("transform", "")) if use is not None else None
            if not re.fullmatch(r"k\d+", name) or use is None or not found:
                continue
            size = float(found[3] or 0.72) / 0.72
            width = _HEADS.get(_glyph(use), _USUAL_HEAD) * _SPACE * size
            x, y = float(found[1]) + width / 2, float(found[2])
            height = _SPACE * size
            reach = _stem(note) or stems.get(id(note)) or (y, y)
            top, bottom = min(y - height / 2, *reach), max(y + height / 2, *reach)
            self.raw_notes.append(_Head(int(name[1:]), x, y, width, height, top, bottom, number))

    def _extent(self) -> tuple[float, float]:
        """Highest and lowest y of anything drawn in the system."""
        ys = [y for pair in self.staff_lines.values() for y in pair] + list(self.ribbons.values())
        for element in self.group.iter():
            tag = element.tag[len(_SVG) :]
            if tag == "path":
                d = element.get("d", "")
                if not element.get("transform"):
                    ys += [float(y) for _, y in _PAIRS.findall(d)]
            elif tag in ("polygon", "polyline"):
                ys += [float(y) for _, y in _PAIRS.findall(element.get("points", ""))]
            elif tag == "use":
                found = _MOVE.search(element.get("transform", ""))
                if found:
                    size, y = float(found[3] or 0.72) / 0.72, float(found[2])
                    up, down = _REACHES.get(_glyph(element), _GLYPH_REACH)
                    ys += [y - up * size * _SPACE, y + down * size * _SPACE]
            elif tag == "text" and element.get("y"):
                ys += [float(element.get("y", 0)) - 1.6 * _SPACE, float(element.get("y", 0)) + 0.4 * _SPACE]
        if self.ribbons:
            ys.append(max(self.ribbons.values()) + 0.7 * _SPACE)
        return min(ys) - _MARGIN * _SPACE, max(ys) + _MARGIN * _SPACE

    def drop(self, name: str, symbol: str = "") -> None:
        """Leave everything of one class, or of that and one symbol, out of the drawing."""
        for parent in list(self.group.iter(f"{_SVG}g")):
            for child in [one for one in parent if _is(one, name) and symbol in ("", one.get("data-symbol"))]:
                parent.remove(child)

    def made(self, drawing: bool) -> System:
        scale, wide = self.scale, self.page.wide
        # A staff line on the boundary of two pixels is two thick: put the first one on a pixel, but not into its very
        # middle, for where spaces are of odd size the next staff, half a space further, would lie on a boundary.
        first = (min(self.staff_lines.values())[0] - self.top) * scale
        self.top -= ((0.43 - first) % 1.0) / scale
        # Whole pixels: drawn to others the picture would be stretched by a hair, and lines fall between two columns.
        size = round(wide * scale), ceil((self.bottom - self.top) * scale)

        def x(value: float) -> float:
            return round((value + self.page.shift_x) * scale, 2)

        def y(value: float) -> float:
            return round((value - self.top) * scale, 2)

        order = {number: at for at, number in enumerate(sorted(self.staff_lines), start=1)}
        under = (self.ribbons, self.sung)
        staves = tuple(
            Staff(y(top), y(bottom), *(y(reach[number]) if number in reach else None for reach in under))
            for number, (top, bottom) in sorted(self.staff_lines.items())
        )
        notes = tuple(
            Place(h.note, x(h.x), y(h.y), round(h.width * scale, 2), round(h.height * scale, 2), y(h.top), y(h.bottom),
                  order[h.staff])
            for h in self.raw_notes
        )  # fmt: skip
        bars = tuple(BarPlace(bar, x(left), x(right)) for bar, left, right in self.bars)
        fingers = tuple(
            FingerPlace(note, x(at), y(base), round(size * scale, 2)) for note, at, base, size in self._fingers()
        )
        return System(
            width=size[0],
            height=size[1],
            svg=self._drawing(*size) if drawing else "",
            staves=staves,
            bars=bars,
            notes=notes,
            left=bars[0].left,
            right=bars[-1].right,
            music_left=x(self.music_left),
            fingers=fingers,
        )

    def _fingers(self) -> Iterator[tuple[int, float, float, float]]:
        """Of each finger its note, and where and how large it is in verovio's units."""
        for group in _by_class(self.group, "fing"):
            note = re.fullmatch(r"#k(\d+)", group.get("data-startid", ""))
            text = group.find(f".//{_SVG}text[@y]")
            if note and text is not None:
                sizes = [float(part.get("font-size", "0px")[:-2]) for part in text.iter(f"{_SVG}tspan")]
                yield int(note[1]), float(text.get("x", 0)), float(text.get("y", 0)), max(sizes, default=0.0)

    def _thicken(self) -> None:
        """Straight lines of whole pixels: drawn with sharp edges, a thinner one falls between two rows and vanishes."""
        for path in self.group.iter(f"{_SVG}path"):
            wide = float(path.get("stroke-width", 0)) * self.scale
            if wide and (wide < 1 or abs(wide - round(wide)) < _NEARLY) and _LINE.match(path.get("d", "")):
                path.set("stroke-width", f"{max(1, round(wide)) * _HAIR / self.scale:.3f}")

    def _drawing(self, width: int, height: int) -> str:
        """A document with this system alone, of so many pixels."""
        self._thicken()
        used = {(use.get(_XLINK) or "").lstrip("#") for use in self.group.iter(f"{_SVG}use")}
        out = ET.Element(
            f"{_SVG}svg",
            {
                "viewBox": f"{_ASIDE - self.page.shift_x:g} {self.top:.2f} {width / self.scale:.4f} "
                f"{height / self.scale:.4f}",
                "width": str(width),
                "height": str(height),
                "color": self.ink,
                "version": "1.1",
            },
        )
        definitions = ET.SubElement(out, f"{_SVG}defs")
        definitions.extend(self.page.glyphs[name] for name in sorted(used) if name in self.page.glyphs)
        out.extend(self.page.styles)
        ET.SubElement(out, f"{_SVG}style").text = (
            "g.page-margin{font-family:STIXGeneral,Times,serif}path,polygon,polyline,ellipse,rect{stroke:currentColor}"
            ".staff>path,.barLine path,.ledgerLines path,.stem path{shape-rendering:crispEdges}"
        )
        holder = ET.SubElement(out, f"{_SVG}g", {"class": "page-margin", "fill": self.ink, "stroke-width": "0"})
        holder.append(self.group)
        return ET.tostring(out, encoding="unicode")


def _glyph(use: ET.Element) -> str:
    """The sign that is drawn, by its code in SMuFL."""
    return (use.get(_XLINK) or use.get("href") or "").lstrip("#").split("-")[0]


def _stem(element: ET.Element) -> tuple[float, float] | None:
    """Top and bottom of the stem that belongs to a note or chord directly."""
    for child in element:
        if _is(child, "stem"):
            for path in child.iter(f"{_SVG}path"):
                line = _LINE.match(path.get("d", ""))
                if line:
                    return float(line[2]), float(line[4])
    return None
