"""The music on the Stand, laid: which systems stand there, where, and the line at the place to play next."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.music.piece import BOTH
from trainer.window import chordrow, clefrow, fonts, layout, sheetmusic
from trainer.window.canvas import CENTRE, OVER, Canvas
from trainer.window.music import Score
from trainer.window.practice import ENDED
from trainer.window.strings import say

if TYPE_CHECKING:
    from trainer.window.stand import Stand


def shown_systems(score: Score, place: int, slots: int) -> list[int]:
    """Which system stands in which slot: the one being played, and in the other the next, one system ahead.

    While the first bar of a system is played the one before it stays, so that its marks can still be seen.
    """
    count = len(score.systems)
    current = score.system_at(place)
    if slots == 1 or count == 1:
        return [current]
    moments = score.piece.moments
    bar = score.piece.bar_index(moments[min(place, len(moments) - 1)].onset)
    first = score.systems[current].bars[0][0]
    other = current + 1 if current + 1 < count and (bar > first or current == 0) else current - 1
    if other < 0:
        other = current + 1
    shown = [0, 0]
    shown[current % 2], shown[1 - current % 2] = current, other
    return shown


def lay(stand: Stand, canvas: Canvas, places: layout.StandPlaces) -> None:
    """Lay the systems shown now, with all that stands on them."""
    assert stand.practice is not None
    wish = stand.practice.wish
    score = stand.page.score
    if score is None or score.piece is not wish.piece:
        canvas.words("music.waiting", places.music, stand.page.trouble or say("stand.engraving"), style=fonts.ITALIC,
                     size=1.2, colour="graphite", align=CENTRE, lines=4)  # fmt: skip
        return
    glimpse = stand.page.glimpse if stand.glimpsing else None
    if glimpse is not None:
        shown = shown_systems(glimpse, stand.place, min(stand.page.slots, len(glimpse.systems)))
        for at, corner in zip(shown, slot_corners(places.music, glimpse, shown), strict=True):
            sheetmusic.lay_system(canvas, at, glimpse.systems[at], corner, "glimpse")
        return
    shown = shown_systems(score, stand.place, min(stand.page.slots, len(score.systems)))
    corners = slot_corners(places.music, score, shown, stand.page.below(canvas))
    for at, corner in zip(shown, corners, strict=True):
        _system(stand, canvas, places, score, at, corner)
    if not stand.correcting.on:
        _place_line(stand, canvas, score, shown, corners)


def _system(
    stand: Stand, canvas: Canvas, places: layout.StandPlaces, score: Score, at: int, corner: tuple[int, int]
) -> None:
    """One system: music, syllables, what was right, the rows beside it, what is not asked for, and the marks."""
    page, system = stand.page, score.systems[at]
    sheetmusic.lay_system(canvas, at, system, corner)
    line, setting = page.ribbons().of(at), page.setting()
    syllables = partial(sheetmusic.lay_ribbon, canvas, at, line, corner, setting.size)
    canvas.again(f"ribbon.{at}", (line, corner), syllables)
    if page.marking is not None:
        sheetmusic.lay_right(canvas, at, system, page.marking.right[at], corner)
    _rows(stand, canvas, places, score, at, corner)
    sheetmusic.lay_veils(canvas, at, system, corner, setting, line)
    if page.marking is not None:
        sheetmusic.lay_strokes(canvas, at, page.marking.strokes[at], corner)


def _rows(
    stand: Stand, canvas: Canvas, places: layout.StandPlaces, score: Score, at: int, corner: tuple[int, int]
) -> None:
    """The chords under a system and the clefs to imagine before it, where they are wished."""
    assert stand.practice is not None
    wish, system = stand.practice.wish, score.systems[at]
    readings = stand.page.readings
    if readings is not None:
        room = places.music.left - layout.air(canvas)
        state = (score, corner, room, readings)
        canvas.again(f"clefs.{at}", state, partial(clefrow.lay, canvas, at, score, corner, room, readings))
    if stand.page.below(canvas):
        found = stand.page.chords.of(wish.piece)
        row = tuple(chordrow.entries(score, found, at, wish.plan.interval))
        canvas.again(f"chords.{at}", (row, corner), partial(chordrow.lay, canvas, at, row, corner, system.size))
        if stand.correcting.on:
            stand.correcting.lay(canvas, score, at, corner)


def slot_corners(room: Rect, score: Score, shown: list[int], below: int = 0) -> list[tuple[int, int]]:
    """Top left corners of the shown systems: shared out over the height, the air between them even.

    `below` pixels stay free under each of them. Where two of the tallest would not stand under each other, a system
    gives way to its own neighbours alone, so that it stands where it stood when the page turns beside it.
    """
    high = [system.size[1] + below for system in score.systems]
    if len(shown) == 1:
        return [(room.left, room.top + max(0, round((room.height - high[shown[0]]) * 0.4)))]
    air = max(0.0, (room.height - 2 * max(high)) / 3)
    found = []
    for slot, at in enumerate(shown):
        # Between the system and each of its neighbours, as near to the middle as both have room.
        borders = [room.height / 2]
        for other in (at - 1, at + 1):
            if 0 <= other < len(high):
                upper, lower = (high[at], high[other])[:: 1 - 2 * slot]
                borders.append(max(upper, min(room.height / 2, room.height - lower)))
        start, end = (max(borders) + air / 2, room.height - air) if slot else (air, min(borders) - air / 2)
        top = min((start + end - high[at]) / 2, room.height - high[at])
        found.append((room.left, room.top + max(0, round(top))))
    return found


def _place_line(stand: Stand, canvas: Canvas, score: Score, shown: list[int], corners: list[tuple[int, int]]) -> None:
    """The line at the place to play next, or at what is heard."""
    practice = stand.practice
    assert practice is not None
    heard = stand.hearing.place
    clock = stand.pace.music_now() if heard is None else heard
    if (practice.phase == ENDED and heard is None) or not score.piece.moments:
        return
    if clock is not None:
        start, end = practice.wish.span
        at, x = score.engraved.place_at(score.piece, min(max(clock, start), end))
    else:
        place = practice.place
        if place >= len(score.piece.moments):
            return
        at = score.system_at(place)
        wanted = [
            i for i in score.piece.moments[place].notes if practice.wish.hands in (BOTH, score.piece.notes[i].hand)
        ]
        span = score.systems[at].span(wanted or score.piece.moments[place].notes)
        if span is None:
            return
        x = span[0] - score.systems[at].space * 1.15
    if at in shown:
        corner = corners[shown.index(at)]
        sheetmusic.lay_hairline(canvas, score.systems[at], x, corner, stand.page.ribbons().of(at))
        _count(stand, canvas, score, at, x, corner)


def _count(stand: Stand, canvas: Canvas, score: Score, at: int, x: float, corner: tuple[int, int]) -> None:
    """The beat of the count-in, large, over the place."""
    beat = stand.pace.counting()
    if not beat:
        return
    system = score.systems[at]
    size = 2.4 * canvas.unit
    rect = Rect(
        round(corner[0] + x + system.space),
        round(corner[1] + system.staves[0].top - size * 1.05),
        round(size * 1.2),
        round(size),
    )
    canvas.words("count", rect, str(beat), style=fonts.ITALIC, size=2.4, colour="brass", kind=OVER)


__all__ = ["lay", "shown_systems", "slot_corners"]
