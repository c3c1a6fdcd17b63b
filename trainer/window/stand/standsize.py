"""How large the music on the Stand is."""

from __future__ import annotations

from dataclasses import replace

from pygame import Rect

from trainer.music.transpose import Transposition
from trainer.scores.engraving.look import Look
from trainer.window.page import clefrow
from trainer.window.paint import layout
from trainer.window.paint.canvas import Canvas
from trainer.window.workroom.fitting import Room

# The smallest and the largest staff space, in units of `_base`.
_LEAST_SPACE = 0.31
_MOST_SPACE = 1.0
# The usual one, and how many of it a system is high, with its syllables (ours).
_USUAL_SPACE, _SYSTEM = 0.62, 24.5


def look(places: layout.StandPlaces, canvas: Canvas, below: int, voice: bool, verse: int) -> Look:
    """Two systems fill the room there is, more in a tall window, one with very large text; `below` pixels stay free
    under each.
    """
    slot = places.music.height / slots_for(places, canvas, below) - below
    base = _base(canvas)
    space = max(base * _LEAST_SPACE, min(base * _USUAL_SPACE, slot / _SYSTEM))
    ribbon = round(max(base * 1.06, space * 2.6), 1)
    return Look(places.music.width, round(space * 4, 1), ribbon_px=ribbon, words=voice, expression=True, verse=verse)


def slots_for(places: layout.StandPlaces, canvas: Canvas, below: int) -> int:
    """Systems that have room under each other: two at least, with very large text one."""
    least = 2 if canvas.scale <= layout.ROOMY else 1
    return max(least, int(places.music.height / (_base(canvas) * _USUAL_SPACE * _SYSTEM + below)))


def room(places: layout.StandPlaces, canvas: Canvas, below: int) -> Room:
    """Where the systems stand; the staves of one alone are as large as usual."""
    slots = slots_for(places, canvas, below)
    least, most, usual = (_base(canvas) * space * 4 for space in (_LEAST_SPACE, _MOST_SPACE, _USUAL_SPACE))
    return Room(slots, places.music.height - below * slots, least, most, below, usual)


def beside_clefs(places: layout.StandPlaces, moved: Transposition, look: Look) -> layout.StandPlaces:
    """The same with room before the music for the clefs to imagine."""
    music = places.music
    aside = clefrow.gutter(moved, look.staff_px / 4)
    return replace(places, music=Rect(music.left + aside, music.top, music.width - aside, music.height))


def _base(canvas: Canvas) -> float:
    """What the size of the music is counted in: a fortieth of the window's height. A tall window's width says how large
    it is, so that several bars stand beside each other.
    """
    return canvas.size[0] / 53 if layout.is_tall(canvas) else canvas.size[1] / 40
