"""How the Singer shows the keys that suit: bars on one staff, and the keys in their order."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import OCTAVE
from trainer.window.paint import fonts, layout, staff
from trainer.window.paint.canvas import CENTRE, TOP, Canvas
from trainer.window.paint.canvas import RIGHT as AT_RIGHT
from trainer.window.paint.controls import Controls
from trainer.window.singer.singerwords import lay_share, short_key
from trainer.window.strings import key_name, say

if TYPE_CHECKING:
    from trainer.window.singer.singer import SingerScreen


def lay(screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    suited, best = screen.suited, screen.best
    if suited is None or best is None:
        waiting = say("singer.waiting") if screen.entry is not None else say("singer.none")
        words = screen.fault or waiting
        canvas.words(
            "keys.waiting", rect, words, style=fonts.ITALIC, size=1.1, colour="graphite", align=CENTRE, lines=3
        )
        if words == say("singer.waiting"):
            # Who knows what they want need not wait for it.
            controls.order("start", "return", screen.start)
            controls.order("put", "a", partial(screen.once_known, screen.set_list.put_down))
        return
    letters = screen.house.settings.letters
    tight = rect.height < 22 * u
    figured = 0 if tight else min(round((20.0 if layout.is_tall(canvas) else 11.0) * u), round(rect.height * 0.40))
    air = round((0.3 if tight else 0.6) * u)
    said = round((1.7 if tight else 2.4) * u)
    head, _, figure, listed, _, why, _, foot = layout.rows(
        rect, [round(1.9 * u), air, figured + 1, 0, air, said, air, round(1.9 * u)]
    )
    _lay_song_head(screen, canvas, head)
    if figured:
        _lay_figure(screen, canvas, figure)
    _lay_ranked(screen, canvas, controls, listed)
    canvas.words("keys.why", why, best.why, style=fonts.ITALIC, size=1.0, colour="graphite", lines=3, stand=TOP,
                 least=0.55)  # fmt: skip
    label = say("singer.start", key=key_name(best.key, letters))
    wide = min(controls.button_width(label, "return") + round(0.6 * u), round(foot.width * 0.62))
    controls.button("start", Rect(foot.left, foot.top, wide, foot.height), label, screen.start, key="return", main=True)
    put = say("singer.put-down")
    left = foot.left + wide + round(0.6 * u)
    room = min(controls.button_width(put, "a"), foot.right - left)
    controls.button("put", Rect(left, foot.top, room, foot.height), put, screen.set_list.put_down, key="a")
    more = [("print", say("desk.print"), "p", screen.choose_sheet)]
    if len(suited.lines) > 1:
        more.insert(0, ("line", _line_named("to", screen, screen.next_line), "v", screen.other_line))
    for name, words, cap, act in more:
        left += room + round(0.6 * u)
        room = controls.button_width(words, cap)
        if left + room <= foot.right:
            controls.button(name, Rect(left, foot.top, room, foot.height), words, act, key=cap)
        else:
            controls.order(name, cap, act)


def lay_staff(screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    """The staff by itself."""
    if screen.suited is None or screen.best is None:
        lay(screen, canvas, controls, rect)
        return
    head, _, figure = layout.rows(rect, [round(1.9 * canvas.unit), round(0.4 * canvas.unit), 0])
    _lay_song_head(screen, canvas, head)
    _lay_figure(screen, canvas, figure)


def _lay_song_head(screen: SingerScreen, canvas: Canvas, rect: Rect) -> None:
    suited = screen.suited
    assert suited is not None
    u = canvas.unit
    letters = screen.house.settings.letters
    key, line = key_name(suited.piece.key, letters), suited.line.span.name
    about = say("singer.line", key=key, line=line)
    if screen.line or screen.is_choir:
        about = _line_named("of", screen, screen.line, key=key, line=line)
    wide = min(round(rect.width * 0.52), canvas.width(about, fonts.ITALIC, 1.0) + 4)
    title = Rect(rect.left, rect.top, rect.width - wide - round(u), rect.height)
    canvas.words("keys.title", title, suited.piece.title, style=fonts.BOLD, size=1.35, least=0.6)
    place = Rect(rect.right - wide, rect.top, wide, rect.height)
    canvas.words("keys.about", place, about, style=fonts.ITALIC, size=1.0, colour="graphite", align=AT_RIGHT, least=0.6)


def _line_named(what: str, screen: SingerScreen, at: int, **more: str) -> str:
    """Words about one of several lines: of a duet by its place, else by its part."""
    assert screen.suited is not None
    lines = screen.suited.lines
    if len(lines) == 2 and not screen.is_choir:
        return say(f"singer.line.{what}-{('first', 'second')[at]}", **more)
    return say(f"singer.line.{what}", name=lines[at % len(lines)], **more)


def _lay_figure(screen: SingerScreen, canvas: Canvas, rect: Rect) -> None:
    """The singer's tessitura and the voice line in every key that suits, as bars on one staff."""
    suited, best = screen.suited, screen.best
    assert suited is not None
    assert best is not None
    letters = screen.house.settings.letters
    span = suited.tessitura
    line = suited.line
    up = OCTAVE if best.octaves > 0 else -OCTAVE

    def sung(pitch: SpelledPitch) -> SpelledPitch:
        for _ in range(abs(best.octaves)):
            pitch = pitch + up
        return pitch

    who = suited.lines[screen.line % len(suited.lines)] if screen.is_choir else say("singer.tessitura")
    bars = [staff.Bar(span.low, span.high, who, span.name, hollow=True, tone="brass")]
    as_written = [one for one in suited.keys if one.transposition.interval.semitones == 0]
    if not as_written:
        weights = [(sung(pitch), time) for pitch, time in line.sung]
        named = short_key(line.key, letters), say("singer.written")
        bars.append(staff.Bar(weights[0][0], weights[-1][0], *named, weights, tone="graphite"))
    for one in suited.keys:
        move = one.transposition.interval
        weights = [(sung(pitch) + move, time) for pitch, time in line.sung]
        below = (
            say("singer.written")
            if one in as_written
            else f"{one.low.sign_name}{one.low.octave}–{one.high.sign_name}{one.high.octave}"
        )
        bars.append(staff.Bar(one.low, one.high, short_key(one.key, letters), below, weights,
                              chosen=one is best, tone="ink" if one is best else "graphite"))  # fmt: skip
    staff.lay_bars(canvas, "figure", rect, bars, (span.low, span.high))


def _lay_ranked(screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    suited = screen.suited
    assert suited is not None
    u = canvas.unit
    letters = screen.house.settings.letters
    head = Rect(rect.left, rect.top, rect.width, round(1.2 * u))
    listed = Rect(rect.left, head.bottom, rect.width, rect.bottom - head.bottom)
    bar = round(min(6.0 * u, rect.width * 0.15))
    columns = _ranked_columns(head.inflate(-round(1.0 * u), 0), bar, u)
    for name, place in zip(("key", "move", "voice", "hands"), columns, strict=True):
        canvas.words(f"ranked.head.{name}", place, say(f"singer.head.{name}"), style=fonts.ITALIC, size=0.9,
                     colour="graphite")  # fmt: skip

    arrows = columns[0].left + canvas.width(say("singer.head.key"), fonts.ITALIC, 0.9) + controls.key_width("← →")
    if arrows < columns[0].right:
        controls.keycap("ranked.arrows", arrows, head.centery, "← →")

    def draw(at: int, row: Rect) -> None:
        one = suited.keys[at]
        key, move, voice, hands = _ranked_columns(row.inflate(-round(1.0 * u), 0), bar, u)
        canvas.words(f"ranked.{at}.key", key, key_name(one.key, letters), style=fonts.BOLD, size=1.1, least=0.7)
        semitones = one.transposition.interval.semitones
        said = one.transposition.words if semitones else say("singer.as-written")
        canvas.words(f"ranked.{at}.move", move, said, style=fonts.ITALIC, size=1.0, colour="graphite", least=0.6)
        lay_share(canvas, f"ranked.{at}.voice", voice, one.fit)
        lay_share(canvas, f"ranked.{at}.hands", hands, one.ease)

    most = 2.2 if layout.is_tall(canvas) else 1.75
    high = round(min(most * u, max(1.45 * u, listed.height / len(suited.keys))))
    controls.rows("ranked", listed, len(suited.keys), screen.at, high, draw, screen.pick_key, screen.start,
                  partial(screen.step_key, -1), partial(screen.step_key, 1))  # fmt: skip


def _ranked_columns(rect: Rect, bar: int, u: float) -> list[Rect]:
    return layout.columns(rect, [round(rect.width * 0.25), 0, bar, bar], round(0.8 * u))
