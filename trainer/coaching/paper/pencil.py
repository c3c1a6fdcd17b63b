"""The teacher's pencil on paper: one shape a cause, drawn beside the note it belongs to. Meaning never by colour."""

from __future__ import annotations

from html import escape

from trainer.following import marks
from trainer.music.piece import Note
from trainer.music.pitch import SIGNS
from trainer.scores.engraving.systems import Place

PENCIL = "#2C5A8C"
_FACE = "STIXGeneral, 'STIX Two Text', serif"
# As a style, which the engraver's own style sheet cannot overrule.
_STROKE = f'style="fill:none;stroke:{PENCIL};stroke-width:2.2;stroke-linecap:round;stroke-linejoin:round"'


def pencil(cause: str, offset: int, place: Place, written: Note, expected: Note) -> str:
    """The mark of one cause at one note, as SVG elements in the system's pixels; empty for a right key.

    Parameters
    ----------
    offset : int
        Semitones from the expected pitch to what sounded: which way an arrow points.
    """
    x, y = place.x, place.y
    wide, high = place.width * 0.95, place.height * 1.15
    if cause == marks.AS_WRITTEN:
        return _ring(x, y, wide, high) + _text(x + wide + 3, y - high, written.pitch.sign_name, 22)
    if cause in (marks.SIGNATURE, marks.ACCIDENTAL):
        sign = SIGNS[expected.pitch.alteration] or "♮"
        return _text(x - 5, min(place.top, y) - 10, sign, 30)
    if cause == marks.STEP:
        return _arrow(x, y, down=offset > 0)
    if cause == marks.OCTAVE:
        return _text(x + wide, y - high, f"8{'↓' if offset > 0 else '↑'}", 20)
    if cause == marks.DISPLACED:
        top = min(place.top, y) - 12
        return f'<path d="M{x - wide:.1f} {top + 6:.1f}v-6h{2 * wide:.1f}v6" {_STROKE}/>'
    if cause == marks.BRUSHED:
        return f'<path d="M{x + wide:.1f} {y - 4:.1f}l4 6l8 -14" {_STROKE}/>'
    if cause == marks.MISSED:
        low = max(place.bottom, y) + 14
        return f'<path d="M{x - 9:.1f} {low + 9:.1f}L{x:.1f} {low - 4:.1f}L{x + 9:.1f} {low + 9:.1f}" {_STROKE}/>'
    if cause == marks.REPEATED:
        return _ring(x + 6, y, wide * 0.7, high * 0.7) + _ring(x + 12, y, wide * 0.7, high * 0.7)
    if cause == marks.RIGHT:
        return ""
    # Long enough to be seen on either side of a black head.
    return f'<path d="M{x - 1.7 * wide:.1f} {y + 1.7 * high:.1f}L{x + 1.7 * wide:.1f} {y - 1.7 * high:.1f}" {_STROKE}/>'


def _ring(x: float, y: float, wide: float, high: float) -> str:
    return f'<ellipse cx="{x:.1f}" cy="{y:.1f}" rx="{wide:.1f}" ry="{high:.1f}" {_STROKE}/>'


def _arrow(x: float, y: float, *, down: bool) -> str:
    """A short slanted arrow toward the right line or space, its head near the note."""
    way = 1 if down else -1
    tip = f"{x - 9:.1f} {y - 4 * way:.1f}"
    shaft = f"M{x - 26:.1f} {y - 18 * way:.1f}L{tip}"
    head = f"M{x - 17:.1f} {y - 5 * way:.1f}L{tip}L{x - 11:.1f} {y - 12 * way:.1f}"
    return f'<path d="{shaft}{head}" {_STROKE}/>'


def _text(x: float, y: float, text: str, size: int) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-family="{_FACE}" font-size="{size}" fill="{PENCIL}" '
        f'font-style="italic">{escape(text)}</text>'
    )
