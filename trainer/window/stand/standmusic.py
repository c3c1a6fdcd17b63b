"""The music on the Stand, laid: which systems stand there, where, and the line at the place to play next."""

from __future__ import annotations

from contextlib import AbstractContextManager, nullcontext
from functools import partial
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.music.piece import BOTH
from trainer.window.page import chordrow, clefrow, folding, sheetmusic
from trainer.window.page.music import Score
from trainer.window.page.turning import Part, parts_of, shown_systems, slot_corners
from trainer.window.paint import fonts, layout
from trainer.window.paint.canvas import CENTRE, LEFT, OVER, RIGHT, Canvas
from trainer.window.practice import ENDED
from trainer.window.strings import say

if TYPE_CHECKING:
    from trainer.window.stand.stand import Stand


def lay(stand: Stand, canvas: Canvas, places: layout.StandPlaces) -> None:
    """Lay the systems shown now, with all that stands on them."""
    assert stand.practice is not None
    wish = stand.practice.wish
    score = stand.page.score
    if score is None or score.piece is not wish.piece or not score.reaches(stand.place):
        canvas.words("music.waiting", places.music, stand.page.trouble or say("stand.engraving"), style=fonts.ITALIC,
                     size=1.2, colour="graphite", align=CENTRE, lines=4)  # fmt: skip
        return
    glimpse = stand.page.glimpse if stand.glimpsing else None
    if glimpse is not None:
        shown = shown_systems(glimpse, stand.place, min(stand.page.slots, len(glimpse.systems)))
        for at, corner in zip(shown, slot_corners(places.music, glimpse, shown), strict=True):
            sheetmusic.lay_system(canvas, at, glimpse.systems[at], corner, "glimpse")
            sheetmusic.lay_own(canvas, at, glimpse.systems[at], stand.page.fingered.said, corner)
        return
    below = stand.page.below(canvas)
    slots = min(stand.page.slots, len(score.systems))
    if sheetmusic.lay_reduced(canvas, score, shown_systems(score, stand.place, slots), places.music):
        return
    # Until it is set for the room there is now, systems would lie on each other.
    slots = score.standing(slots, places.music.height, below, stand.place)
    stand.fingering.begin_frame(places.music)
    stand.orders.placing.begin_frame(places.music)
    if slots == 1 and stand.amending is None:
        shown, corners = _lay_parts(stand, canvas, places, score, below)
    else:
        shown = shown_systems(score, stand.place, slots)
        corners = slot_corners(places.music, score, shown, below)
        for at, corner in zip(shown, corners, strict=True):
            _system(stand, canvas, places, score, at, corner)
    if stand.amending is None:
        _place_line(stand, canvas, score, shown, corners)


def _lay_parts(
    stand: Stand, canvas: Canvas, places: layout.StandPlaces, score: Score, below: int
) -> tuple[list[int], list[tuple[int, int]]]:
    """Lay the one system there is room for, or the parts of two, with a thin rule between them."""
    parts = parts_of(score, stand.place)
    corners = [slot_corners(places.music, score, [part.at], below)[0] for part in parts]
    for part, corner in zip(parts, corners, strict=True):
        _system(stand, canvas, places, score, part.at, corner, part)
        if part.left:
            canvas.rule("music.fold", _fold(stand, places, score, part, corner), "graphite")
    return [part.at for part in parts], corners


def _fold(stand: Stand, places: layout.StandPlaces, score: Score, part: Part, corner: tuple[int, int]) -> Rect:
    """The rule before the end of a system, clear of what reaches over its first barline."""
    space = score.systems[part.at].space
    words = [one.rect.left for one in stand.page.ribbons().of(part.at) if one.rect.centerx >= part.left]
    left = min(folding.reach(score, part).left, *words, part.left)
    return Rect(round(corner[0] + left - space * 0.6), places.music.top, max(1, round(space / 8)), places.music.height)


def _system(
    stand: Stand,
    canvas: Canvas,
    places: layout.StandPlaces,
    score: Score,
    at: int,
    corner: tuple[int, int],
    part: Part | None = None,
) -> None:
    """One system, or a part of it: music, syllables, what was right, the rows beside it, what is not asked for, and the
    marks.
    """
    page, system = stand.page, score.systems[at]
    if system.ink is None:
        return
    line, setting = page.ribbons().of(at), page.setting()
    stand.orders.placing.lay(system, corner, part)
    if part is None:
        sheetmusic.lay_system(canvas, at, system, corner)
        only: AbstractContextManager[None] = nullcontext()
    else:
        folding.lay(canvas, score, part, corner)
        # Before a system there may be clefs to imagine.
        left = corner[0] + part.left if part.left else 0
        only = canvas.only(Rect(left, places.music.top, corner[0] + part.right - left, places.music.height))
    with only:
        syllables = partial(sheetmusic.lay_ribbon, canvas, at, line, corner, setting.size)
        canvas.again(f"ribbon.{at}", (line, corner), syllables)
        sheetmusic.lay_own(canvas, at, system, page.fingered.said, corner)
        if page.marking is not None:
            sheetmusic.lay_right(canvas, at, system, page.marking.right[at], corner)
        _rows(stand, canvas, places, score, at, corner)
        sheetmusic.lay_veils(canvas, at, system, corner, setting, line)
    if page.marking is not None:
        strokes = page.marking.strokes[at]
        if part is not None:
            # A mark stands as a whole where its middle is.
            strokes = [one for one in strokes if part.left <= one.rect.centerx < part.right]
        sheetmusic.lay_strokes(canvas, at, strokes, corner)
    if stand.fingering.on:
        stand.fingering.lay(canvas, score, at, corner)


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
    """The beat of the count-in, large, over the place; in a song before it, where the first word is not."""
    beat = stand.pace.counting()
    if not beat:
        return
    system = score.systems[at]
    size = 2.4 * canvas.unit
    wide = round(size * 1.2)
    sung = bool(system.sung)
    left = x - system.space - wide if sung else x + system.space
    rect = Rect(round(corner[0] + left), round(corner[1] + system.staves[0].top - size * 1.05), wide, round(size))
    canvas.words("count", rect, str(beat), style=fonts.ITALIC, size=2.4, colour="brass", kind=OVER,
                 align=RIGHT if sung else LEFT)  # fmt: skip


__all__ = ["lay"]
