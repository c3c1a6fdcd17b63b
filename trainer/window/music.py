"""The engraved page as the window holds it: one picture a system, and where every note of it stands."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property, lru_cache

import pygame

from trainer.music.piece import Piece
from trainer.scores.engraving import Engraved
from trainer.window.inking import Alpha, Ink
from trainer.window.pencil import Mask, Spot
from trainer.window.theme import Colour, Theme

# Pictures of systems kept ready: those on the screen, by day and by night, and those about to come.
_READY = 8


@dataclass(frozen=True, slots=True)
class Staff:
    """First and last line of a staff and the baseline of its syllables, pixels from the top of the system's picture."""

    top: float
    bottom: float
    ribbon: float | None


@dataclass(eq=False)
class System:
    """One system; its picture is made when it is first shown.

    Parameters
    ----------
    ink : Ink
    space : float
        Staff space in pixels.
    staves : tuple of Staff
        The piano's.
    heads : dict of note index to (x, y)
        Centre of each head.
    bars : tuple of (index in `Piece.bars`, left, right)
    music_left : float
        Where notes may begin, after clef and signature.
    sung : float
        How far down the voice over an accompaniment reaches with its words; 0 where none is shown.
    """

    ink: Ink
    space: float
    staves: tuple[Staff, ...]
    heads: dict[int, tuple[float, float]]
    bars: tuple[tuple[int, float, float], ...]
    music_left: float
    sung: float = 0.0

    @property
    def size(self) -> tuple[int, int]:
        return self.ink.size

    def unpack(self) -> bool:
        """Unpack the ink; False when it was."""
        return "mask" not in vars(self) and self.mask.size > 0

    @cached_property
    def darkness(self) -> Alpha:
        """How dark each pixel is, 0 to 255: array (width, height)."""
        return self.ink.alpha()

    @cached_property
    def mask(self) -> Mask:
        """Where there is ink: array (width, height) of bool."""
        found: Mask = self.darkness > 40
        return found

    def staff_of(self, index: int) -> Staff:
        """The staff whose lines are nearest to a head."""
        y = self.heads[index][1]
        return min(self.staves, key=lambda staff: abs((staff.top + staff.bottom) / 2 - y))

    def spot(self, index: int) -> Spot:
        x, y = self.heads[index]
        staff = self.staff_of(index)
        return Spot(x, y, self.space, staff.top, staff.bottom)

    def inked(self, theme: Theme) -> pygame.Surface:
        """The picture in the theme's ink."""
        return _whole(self, theme["ink"])

    def softened(self, area: pygame.Rect, tone: Colour) -> pygame.Surface:
        """A part of the picture in another tone."""
        return _painted(self.darkness[area.left : area.right, area.top : area.bottom], tone)

    def span(self, notes: Iterable[int]) -> tuple[float, float] | None:
        """Leftmost and rightmost head centre of some notes, those that stand here."""
        xs = [self.heads[index][0] for index in notes if index in self.heads]
        return (min(xs), max(xs)) if xs else None


@dataclass(eq=False)
class Score:
    """All systems of a piece, engraved for one width."""

    piece: Piece
    systems: tuple[System, ...]
    engraved: Engraved

    @cached_property
    def system_of(self) -> dict[int, int]:
        """For each note, the system it stands in."""
        return {note: at for at, system in enumerate(self.systems) for note in system.heads}

    def system_at(self, moment: int) -> int:
        """The system of a moment; past the end the last one."""
        moments = self.piece.moments
        for index in moments[min(moment, len(moments) - 1)].notes if moments else ():
            if index in self.system_of:
                return self.system_of[index]
        return max(0, len(self.systems) - 1)


@lru_cache(maxsize=_READY)
def _whole(system: System, tone: Colour) -> pygame.Surface:
    return _painted(system.darkness, tone)


def _painted(alpha: Alpha, tone: Colour) -> pygame.Surface:
    """So much of a tone on see-through ground."""
    surface = pygame.Surface(alpha.shape, pygame.SRCALPHA, 32)
    surface.fill((*tone, 0))
    pygame.surfarray.pixels_alpha(surface)[:] = alpha
    return surface


def score_of(piece: Piece, found: Engraved, drawn: list[Ink]) -> Score:
    """What the second process gave, as the window holds it."""
    systems = []
    for system, ink in zip(found.systems, drawn, strict=True):
        played = [staff for staff in system.staves if staff.sung is None]
        staves = tuple(Staff(staff.top, staff.bottom, staff.ribbon) for staff in played)
        sung = max((staff.sung or 0.0 for staff in system.staves), default=0.0)
        heads = {place.note: (place.x, place.y) for place in system.notes}
        bars = tuple((bar.bar, bar.left, bar.right) for bar in system.bars)
        space = (staves[0].bottom - staves[0].top) / 4
        systems.append(System(ink, space, staves, heads, bars, system.music_left, sung))
    return Score(piece, tuple(systems), found)
