"""The engraved page as the window holds it: one picture a system, and where every note of it stands."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property, lru_cache

import numpy
import pygame

from trainer.music.piece import Piece
from trainer.scores.engraving.engraving import Engraved
from trainer.scores.engraving.systems import FingerPlace
from trainer.window.page.pencil import Mask, Spot
from trainer.window.paint.theme import Colour, Theme
from trainer.window.workroom.fitting import standing
from trainer.window.workroom.inking import Alpha, Ink
from trainer.window.workroom.jobs import Drawn

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
    size : (int, int)
        Of its picture, in pixels.
    ink : Ink or None
        None as long as it is not drawn.
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
    fingers : dict of note index to FingerPlace
    """

    size: tuple[int, int]
    ink: Ink | None
    space: float
    staves: tuple[Staff, ...]
    heads: dict[int, tuple[float, float]]
    bars: tuple[tuple[int, float, float], ...]
    music_left: float
    sung: float = 0.0
    fingers: dict[int, FingerPlace] = field(default_factory=dict)

    def unpack(self) -> bool:
        """Unpack the ink; False when it was, or is not there."""
        return self.ink is not None and "_mask" not in vars(self) and self._mask.size > 0

    @cached_property
    def darkness(self) -> Alpha:
        """How dark each pixel is, 0 to 255: array (width, height); asked for when its ink is there."""
        assert self.ink is not None
        return self.ink.alpha()

    @property
    def mask(self) -> Mask:
        """Where there is ink: array (width, height) of bool; nowhere as long as it is not drawn."""
        return self._mask if self.ink is not None else numpy.zeros(self.size, dtype=bool)

    @cached_property
    def _mask(self) -> Mask:
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

    def reduced(self, theme: Theme, size: tuple[int, int]) -> pygame.Surface:
        """The picture drawn down to a size."""
        return _reduced(self, theme["ink"], size)

    def softened(self, area: pygame.Rect, tone: Colour) -> pygame.Surface:
        """A part of the picture in another tone."""
        return painted(self.darkness[area.left : area.right, area.top : area.bottom], tone)

    def span(self, notes: Iterable[int]) -> tuple[float, float] | None:
        """Leftmost and rightmost head centre of some notes, those that stand here."""
        xs = [self.heads[index][0] for index in notes if index in self.heads]
        return (min(xs), max(xs)) if xs else None


@dataclass(eq=False)
class Score:
    """The systems of a piece, engraved for one width; not `whole`: some that follow each other, until all are laid
    out.
    """

    piece: Piece
    systems: tuple[System, ...]
    engraved: Engraved
    whole: bool = True

    def reaches(self, moment: int) -> bool:
        """Whether the system of a moment is among these."""
        if self.whole or not self.piece.moments:
            return True
        moments = self.piece.moments
        return self.holds(moments[min(moment, len(moments) - 1)].onset)

    def standing(self, slots: int, height: float, below: int, moment: int) -> int:
        """How many systems stand under each other in a room so many pixels high, `below` of them free under each:
        the whole piece where it has room, else `slots` at most and one at least. Of a page that is not whole those
        round a moment count: what is not looked at may be higher, and will be set anew.
        """
        tall = [system.size[1] + below for system in self.systems]
        if not self.whole:
            here = self.system_at(moment)
            tall = tall[max(0, here - 1) : here + slots]
        return standing(tall, slots, height)

    def holds(self, onset: Fraction) -> bool:
        """Whether the bar of a place in the music stands in one of these."""
        return self.whole or self.systems[0].bars[0][0] <= self.piece.bar_index(onset) <= self.systems[-1].bars[-1][0]

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
    return painted(system.darkness, tone)


@lru_cache(maxsize=_READY)
def _reduced(system: System, tone: Colour, size: tuple[int, int]) -> pygame.Surface:
    return pygame.transform.smoothscale(_whole(system, tone), size)


def painted(alpha: Alpha, tone: Colour) -> pygame.Surface:
    """So much of a tone on see-through ground."""
    surface = pygame.Surface(alpha.shape, pygame.SRCALPHA, 32)
    surface.fill((*tone, 0))
    pygame.surfarray.pixels_alpha(surface)[:] = alpha
    return surface


def score_of(piece: Piece, drawn: Drawn) -> Score:
    """What the second process gave, as the window holds it."""
    systems = []
    for at, system in enumerate(drawn.engraved.systems):
        played = [staff for staff in system.staves if staff.sung is None]
        staves = tuple(Staff(staff.top, staff.bottom, staff.ribbon) for staff in played)
        sung = max((staff.sung or 0.0 for staff in system.staves), default=0.0)
        heads = {place.note: (place.x, place.y) for place in system.notes}
        bars = tuple((bar.bar, bar.left, bar.right) for bar in system.bars)
        space = (staves[0].bottom - staves[0].top) / 4
        fingers = {place.note: place for place in system.fingers}
        ink = drawn.ink.get(at)
        size = system.width, system.height
        systems.append(System(size, ink, space, staves, heads, bars, system.music_left, sung, fingers))
    return Score(piece, tuple(systems), drawn.engraved, drawn.whole)
