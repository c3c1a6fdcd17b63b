"""Minutes of playing day by day, as a low drawing for the report: spread practice, or all on the last day."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta

from trainer.coaching.paper.cards import FACE, GRAPHITE, INK, SHADE

LONGEST_DAYS = 42
# In the drawing's own units, tenths of a millimetre at its usual width.
_HIGH, _WIDE = 90, 800
_FOOT, _HEAD = 34, 26
# With more days than this only Mondays have a date under them.
_DATED = 15
# What the name and date of a day take; where a day has less, two letters stand under it.
_ROOM, _LETTERS = 76, 23


def strip(minutes: Mapping[date, float], start: date, end: date) -> str:
    """An SVG with a bar for every day from `start` to `end`, the longest labelled with its minutes.

    More than `LONGEST_DAYS` days are cut to the last of them.
    """
    first = max(start, end - timedelta(days=LONGEST_DAYS - 1))
    days = [first + timedelta(days=n) for n in range((end - first).days + 1)]
    most = max((minutes.get(day, 0.0) for day in days), default=0.0)
    step = min(_WIDE / len(days), 80)
    parts = []
    told = False
    for at, day in enumerate(days):
        left, high = at * step, _HIGH * minutes.get(day, 0.0) / most if most else 0.0
        if high:
            parts.append(_bar(left + step * 0.14, _HEAD + _HIGH - high, step * 0.72, high))
        if high and minutes.get(day) == most and not told:
            told = True
            parts.append(_text(left + step / 2, _HEAD - 6, f"{most:.0f} min", INK))
        if len(days) <= _DATED:
            parts.append(_text(left + step / 2, _HEAD + _HIGH + 26, f"{day:%a} {day.day}"[: 2 if step < _ROOM else 6]))
        elif day.weekday() == 0:
            parts.append(_text(left + step / 2, _HEAD + _HIGH + 26, f"{day.day} {day:%b}"))
    wide = step * len(days)
    parts.append(f'<path d="M0 {_HEAD + _HIGH}H{wide:.0f}" style="stroke:{GRAPHITE};stroke-width:2"/>')
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-30 0 {_WIDE + 60} {_HEAD + _HIGH + _FOOT}" '
        f'font-family="{FACE}">{"".join(parts)}</svg>'
    )


def _bar(left: float, top: float, wide: float, high: float) -> str:
    return (
        f'<rect x="{left:.1f}" y="{top:.1f}" width="{wide:.1f}" height="{high:.1f}" fill="{SHADE}" '
        f'stroke="{INK}" stroke-width="1.5"/>'
    )


def _text(x: float, y: float, said: str, ink: str = GRAPHITE) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" font-size="{_LETTERS}" text-anchor="middle" fill="{ink}">{said}</text>'
