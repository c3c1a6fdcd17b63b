"""Small staves drawn by hand of the program: a signature with its clef, and spans of pitch beside each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pygame import Rect

from trainer.music.keys import Key
from trainer.music.pitch import SpelledPitch
from trainer.window.paint import fonts
from trainer.window.paint.canvas import CENTRE, GROUND, SOLID, Canvas
from trainer.window.paint.shapes import sign
from trainer.window.paint.signs import BLACK_HEAD, F_CLEF, G_CLEF, HALF_HEAD, TEXT_SIGNS
from trainer.window.paint.theme import hexed

# Places of the signature on a treble staff, in half spaces down from its top line.
_SHARP_PLACES = (0, 3, -1, 2, 5, 1, 4)
_FLAT_PLACES = (4, 1, 5, 2, 6, 3, 7)
# Letter steps above C0 of the top line.
_TOP_LINE = {G_CLEF: SpelledPitch("F", 0, 5).steps, F_CLEF: SpelledPitch("A", 0, 3).steps}
# How far a clef reaches above the top line and below the lowest, in letter steps.
_CLEF_REACH = {G_CLEF: (3, 4), F_CLEF: (1, 1)}
# Of bars on a staff, in staff spaces: the clef with its air, and a bar with an accidental before its head.
_CLEF_WIDE, _BAR_WIDE = 3.6, 3.4
# The line a clef stands on, counted from the top one.
_CLEF_LINE = {G_CLEF: 3, F_CLEF: 1}


def lay_signature(canvas: Canvas, name: str, rect: Rect, key: Key) -> None:
    """A key's signature on a little staff with its clef."""
    count = key.signature
    ink = hexed(canvas.colour("ink"))
    grey = hexed(canvas.colour("graphite"))
    space = min(rect.height / 8.4, canvas.unit * 0.56, rect.width / (5.2 + abs(count) * 1.08))
    top = rect.height / 2 - 2 * space + space * 0.15
    left = space * 0.6
    wide = 3.6 * space + abs(count) * 1.05 * space + space * 0.6
    body = _lines(left, left + wide, top, space, grey)
    body += sign(G_CLEF, left + 0.35 * space, round(top + 3 * space) + 0.5, space, ink)
    places = _SHARP_PLACES if count > 0 else _FLAT_PLACES
    code = TEXT_SIGNS["♯" if count > 0 else "♭"]
    for at in range(abs(count)):
        y = round(top) + 0.5 + places[at] * space / 2
        body += sign(code, left + 3.35 * space + at * 1.05 * space, y, space, ink)
    canvas.shape(name, rect, body)


def _lines(left: float, right: float, top: float, space: float, tone: str) -> str:
    return "".join(
        f'<path d="M{left:.1f} {round(top + line * space) + 0.5}H{right:.1f}" stroke="{tone}" stroke-width="1"/>'
        for line in range(5)
    )


@dataclass(frozen=True)
class Bar:
    """A span of pitch standing on a staff: its two ends, how it is drawn, and what is written above and below.

    Parameters
    ----------
    weights : sequence of (SpelledPitch, float)
        Time spent on each pitch; drawn as strokes across the bar. Empty for none.
    hollow : bool
        Half-note heads at its ends instead of black ones.
    tone : str
    """

    low: SpelledPitch
    high: SpelledPitch
    above: str
    below: str
    weights: Sequence[tuple[SpelledPitch, float]] = ()
    hollow: bool = False
    tone: str = "ink"
    chosen: bool = False


def clef_for(bars: Sequence[Bar]) -> str:
    """Treble or bass, whichever needs fewer ledger lines for all of them."""

    def outside(clef: str) -> int:
        top = _TOP_LINE[clef]
        return sum(max(0, bar.high.steps - top) + max(0, top - 8 - bar.low.steps) for bar in bars)

    return min((G_CLEF, F_CLEF), key=outside)


def lay_bars(
    canvas: Canvas, name: str, rect: Rect, bars: Sequence[Bar], band: tuple[SpelledPitch, SpelledPitch]
) -> None:
    """Spans of pitch as upright bars on one staff, and a band across it between two pitches.

    Parameters
    ----------
    bars : sequence of Bar
        From left to right; the first stands apart, before the others.
    band : (SpelledPitch, SpelledPitch)
        The tessitura: shaded across the whole staff.
    """
    u = canvas.unit
    clef = clef_for(bars)
    top_line = _TOP_LINE[clef]
    label = round(1.2 * u)
    room = Rect(rect.left, rect.top + label, rect.width, rect.height - 2 * label)
    # The clef reaches beyond the lines; an accidental beyond its head.
    above, below = _CLEF_REACH[clef]
    highest = max(*(bar.high.steps + 3 for bar in bars), top_line + above)
    lowest = min(*(bar.low.steps - 2 for bar in bars), top_line - 8 - below)
    # As large as leaves a head its accidental and its ledger lines beside the next one.
    abreast = rect.width / (_CLEF_WIDE + _BAR_WIDE * (len(bars) + 0.35))
    space = min(room.height / ((highest - lowest) / 2), max(1.0 * u, min(abreast, 1.7 * u)))
    used = (highest - lowest) / 2 * space
    # The top line's place in the picture: what stands above it has its room.
    top = (room.height - used) / 2 + (highest - top_line) / 2 * space

    def y(pitch: SpelledPitch) -> float:
        return top + (top_line - pitch.steps) * space / 2

    tones = {token: hexed(canvas.colour(token)) for token in ("ink", "graphite", "brass", "rule", "wash", "blue")}
    high, low = y(band[1]) - space / 2, y(band[0]) + space / 2
    first = _CLEF_WIDE * space
    body = f'<rect x="0" y="{high:.1f}" width="{rect.width}" height="{low - high:.1f}" fill="{tones["wash"]}"/>'
    for edge in (high, low):
        dash = f'stroke="{tones["brass"]}" stroke-width="1" stroke-dasharray="5 4"'
        body += f'<path d="M0 {edge:.1f}H{rect.width}" {dash}/>'
    body += _lines(0, rect.width, top, space, tones["graphite"])
    body += sign(clef, 0.5 * space, round(top + _CLEF_LINE[clef] * space) + 0.5, space, tones["ink"])
    step = (rect.width - first) / (len(bars) + 0.35)
    for at, bar in enumerate(bars):
        x = first + (at + 0.5 + (0.35 if at else 0)) * step
        body += _bar(bar, x, y, space, top, tones)
        _lay_labels(canvas, f"{name}.{at}", rect, label, (rect.left + x, step), bar)
    parting = first + 1.16 * step
    body += f'<path d="M{parting:.1f} {top:.1f}V{top + 4 * space:.1f}" stroke="{tones["graphite"]}" stroke-width="1"/>'
    canvas.shape(name, room, body, GROUND)


def _lay_labels(canvas: Canvas, name: str, rect: Rect, high: int, place: tuple[float, float], bar: Bar) -> None:
    x, step = place
    wide = round(step * 0.96)
    above = Rect(round(x - wide / 2), rect.top, wide, high)
    below = Rect(above.left, rect.bottom - high, wide, high)
    style = fonts.BOLD if bar.chosen else fonts.ROMAN
    extent = canvas.words(f"{name}.above", above, bar.above, style=style, size=1.05, align=CENTRE, least=0.6)
    canvas.words(f"{name}.below", below, bar.below, style=fonts.ITALIC, size=0.85, colour="graphite", align=CENTRE,
                 least=0.7)  # fmt: skip
    if bar.chosen:
        line = Rect(extent.left, above.bottom - 1, extent.width, max(2, round(canvas.unit * 0.08)))
        canvas.fill(f"{name}.under", line, "brass", SOLID)


def _bar(bar: Bar, x: float, y: object, space: float, top: float, tones: dict[str, str]) -> str:
    assert callable(y)
    tone = tones[bar.tone]
    high, low = y(bar.high), y(bar.low)
    wide = space * (0.24 if bar.chosen else 0.16)
    body = f'<path d="M{x:.1f} {high:.1f}V{low:.1f}" stroke="{tone}" stroke-width="{wide:.1f}"/>'
    most = max((time for _, time in bar.weights), default=1.0)
    for pitch, time in bar.weights:
        half = 1.25 * space * time / most
        body += (
            f'<path d="M{x - half:.1f} {y(pitch):.1f}H{x + half:.1f}" stroke="{tone}" '
            f'stroke-width="{space * 0.34:.1f}" stroke-opacity="0.42"/>'
        )
    for pitch in (bar.low, bar.high):
        at = y(pitch)
        body += _ledgers(x, at, space, top, tones["graphite"])
        code = HALF_HEAD if bar.hollow else BLACK_HEAD
        body += sign(code, x - 0.59 * space, at, space, tone)
        if pitch.alteration:
            mark = {1: "♯", -1: "♭", 2: "𝄪", -2: "𝄫"}.get(pitch.alteration, "")
            if mark:
                left = x - (1.75 if abs(pitch.alteration) == 1 else 2.3) * space
                body += sign(TEXT_SIGNS[mark], left, at, space, tone)
    return body


def _ledgers(x: float, at: float, space: float, top: float, tone: str) -> str:
    """Short lines for a head outside the staff."""
    lines = []
    line = top - space
    while line >= at - 1:
        lines.append(line)
        line -= space
    line = top + 5 * space
    while line <= at + 1:
        lines.append(line)
        line += space
    return "".join(
        f'<path d="M{x - space:.1f} {round(line) + 0.5}H{x + space:.1f}" stroke="{tone}" stroke-width="1.1"/>'
        for line in lines
    )
