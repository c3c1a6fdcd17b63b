"""A system of an engraved page: its drawing, and where everything stands in it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

# A finger as it is drawn: up to its digit; the digit.
_FINGER = re.compile(r'(<g [^>]*class="fing"[^>]*data-startid="#k\d+"[^>]*>(?:\s*<t[^>]*>)+)([1-5])(?=<)')


@dataclass(frozen=True)
class Place:
    """Where a note stands: centre and width of its head, how far head and stem reach, in pixels; its staff, from 1."""

    note: int
    x: float
    y: float
    width: float
    height: float
    top: float
    bottom: float
    staff: int


@dataclass(frozen=True)
class Staff:
    """Top and bottom line of a staff, and the baseline of the syllables under it (None without a ribbon).

    Of a voice over the piano, `sung` is how far down it reaches with its words; None for the piano's staves."""

    top: float
    bottom: float
    ribbon: float | None
    sung: float | None = None


@dataclass(frozen=True)
class BarPlace:
    """A bar by its index in `Piece.bars`, from its left to its right barline."""

    bar: int
    left: float
    right: float


@dataclass(frozen=True)
class FingerPlace:
    """Where the finger of a note is printed: middle and baseline of its digit, and the size of its text, in pixels."""

    note: int
    x: float
    y: float
    size: float


@dataclass(frozen=True)
class System:
    """One system: its drawing and what stands where in it, in pixels from its top left corner.

    Parameters
    ----------
    width, height : int
    svg : str
        A complete document; paper transparent.
    staves : tuple of Staff
        From the top.
    bars : tuple of BarPlace
    notes : tuple of Place
    left, right : float
        Ends of the staff lines.
    music_left : float
        Where notes may begin, after clef and signature.
    fingers : tuple of FingerPlace
        In the order they are drawn.
    """

    width: int
    height: int
    svg: str
    staves: tuple[Staff, ...]
    bars: tuple[BarPlace, ...]
    notes: tuple[Place, ...]
    left: float
    right: float
    music_left: float
    fingers: tuple[FingerPlace, ...] = ()

    def plain(self) -> dict[str, Any]:
        """As JSON values."""
        rows = {name: [vars(one) for one in getattr(self, name)] for name in ("staves", "bars", "notes", "fingers")}
        return {**vars(self), **rows}

    def fingered(self, fingers: Mapping[int, int]) -> System:
        """The same system with other digits where fingers are printed; any takes the same room."""

        order = iter(self.fingers)

        def told(found: re.Match[str]) -> str:
            return f"{found[1]}{fingers.get(next(order).note, found[2])}"

        return replace(self, svg=_FINGER.sub(told, self.svg)) if self.fingers and self.svg else self

    def moved(self, notes: int, bars: int) -> System:
        """The same system where so many notes and bars come before those it was laid out with."""
        return replace(
            self,
            bars=tuple(replace(one, bar=one.bar + bars) for one in self.bars),
            notes=tuple(replace(one, note=one.note + notes) for one in self.notes),
            fingers=tuple(replace(one, note=one.note + notes) for one in self.fingers),
        )

    @classmethod
    def from_plain(cls, value: dict[str, Any]) -> System:
        """From what `plain` made of it."""
        return cls(
            **{
                **value,
                "staves": tuple(Staff(**one) for one in value["staves"]),
                "bars": tuple(BarPlace(**one) for one in value["bars"]),
                "notes": tuple(Place(**one) for one in value["notes"]),
                "fingers": tuple(FingerPlace(**one) for one in value["fingers"]),
            }
        )
