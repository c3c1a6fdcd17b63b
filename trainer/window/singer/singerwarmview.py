"""How the Singer shows the warm-up, and playing from a part."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pygame import Rect

from trainer.coaching.singers.instruments import Concert, part_for, sounding_span
from trainer.music.keys import Key
from trainer.window import barwords
from trainer.window.paint import fonts, layout, titled
from trainer.window.paint.canvas import RIGHT as AT_RIGHT
from trainer.window.paint.canvas import TOP, Canvas
from trainer.window.paint.controls import Controls
from trainer.window.singer.singerwarm import MINUTES
from trainer.window.singer.singerwords import PLAYERS, voice_named
from trainer.window.strings import key_in, key_name, say

if TYPE_CHECKING:
    from trainer.window.singer.singer import SingerScreen


def lay(screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    page = screen.warm_up
    head, _, listed, _, foot = layout.rows(rect, [round(2.7 * u), round(0.5 * u), 0, round(0.4 * u), round(1.9 * u)])
    values = [say("desk.minutes", minutes=minutes) for minutes in MINUTES]
    field = Rect(head.left, head.top, min(round(10 * u), head.width), head.height)
    controls.choice("minutes", field, say("singer.minutes"), values, page.minutes, page.set_minutes, key="m",
                    size=1.15)  # fmt: skip
    room = Rect(field.right + round(1.2 * u), head.top, head.right - field.right - round(1.2 * u), head.height)
    if room.width > 8 * u:
        canvas.words("warm.why", room, say("singer.warm.why"), style=fonts.ITALIC, size=1.0, colour="graphite", lines=2,
                     least=0.7)  # fmt: skip
    if not page.steps:
        words = say("singer.waiting") if page.songs else say("singer.warm.empty")
        canvas.words("warm.empty", listed, words, style=fonts.ITALIC, size=1.1, colour="graphite", lines=3, stand=TOP)
        return

    letters = screen.house.settings.letters

    def draw(at: int, row: Rect) -> None:
        step = page.steps[at]
        inner = row.inflate(-round(1.0 * u), 0)
        time, words = barwords.time_words(step.minutes), Rect(inner)
        wide = canvas.width("0:00 min", fonts.ITALIC, 0.92) + round(0.4 * u)
        number = round(1.6 * u)
        canvas.words(f"steps.{at}.number", Rect(inner.left, inner.top, number, inner.height), str(at + 1), size=1.0,
                     colour="graphite")  # fmt: skip
        words = Rect(inner.left + number, inner.top, inner.width - number - wide, inner.height)
        key = step.transposition.target if step.transposition else step.piece.key
        said = key_in(step.words, key, letters)
        if canvas.width(said, fonts.ROMAN, 1.05) > words.width:
            said = titled.unbracketed(said)
        canvas.words(f"steps.{at}", words, said, size=1.05, least=0.6)
        canvas.words(f"steps.{at}.time", Rect(inner.right - wide, inner.top, wide, inner.height), time,
                     style=fonts.ITALIC, size=0.92, colour="graphite", align=AT_RIGHT)  # fmt: skip

    controls.rows("steps", listed, len(page.steps), page.chosen, round(1.7 * u), draw, page.pick,
                  page.start)  # fmt: skip
    label = say("singer.warm.start" if page.chosen == 0 else "singer.warm.from", step=page.chosen + 1)
    wide = controls.button_width(label, "return")
    controls.button("warm.start", Rect(foot.left, foot.top, wide, foot.height), label, page.start,
                    key="return", main=True)  # fmt: skip


def lay_part(screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    letters = screen.house.settings.letters
    move, entry = screen.from_part, screen.entry
    field, _, body, _, foot = layout.rows(rect, [round(2.9 * u), round(0.8 * u), 0, round(0.4 * u), round(1.9 * u)])
    field.width = min(field.width, round(26 * u))
    controls.choice("instrument", field, say("singer.instrument"), [one.name for one in PLAYERS], screen.instrument,
                    screen.pick_instrument, key="i", size=1.35)  # fmt: skip
    if move is None or entry is None:
        canvas.words("part.none", body, say("singer.none"), size=1.1, lines=3, stand=TOP)
        return
    player = PLAYERS[screen.instrument]
    sounding = key_name(move.target, letters)
    lines = [(player.words[0].upper() + player.words[1:], fonts.ITALIC, "graphite", 1.05)]
    if screen.in_concert:
        part = key_name(part_for(Concert(move.target), player).value, letters)
        words = say("singer.part.concert", title=entry.title, instrument=player.name, written=part, sounding=sounding)
        lines.append((words, fonts.ROMAN, "ink", 1.2))
    else:
        words = say("singer.part", title=entry.title, instrument=player.name,
                    written=key_name(Key.parse(entry.key), letters), sounding=sounding)  # fmt: skip
        lines.append((words, fonts.ROMAN, "ink", 1.2))
        lines.append((_part_words(screen, move.words), fonts.ITALIC, "graphite", 1.05))
    reads = screen.part_for_best
    if reads is not None and screen.best is not None:
        name = screen.who[0]
        if voice_named(name):
            # With a tessitura of its own it is no longer the voice type of the table.
            name = "the singer" if screen.own is not None else f"the {name}"
        joins = say("singer.part.joins", singer=name, key=key_name(screen.best.key, letters),
                    instrument=player.name, written=key_name(reads, letters))  # fmt: skip
        lines.append((joins, fonts.ROMAN, "ink", 1.05))
    _lay_paragraphs(canvas, body, lines)
    label = say("singer.start", key=key_name(move.target, letters))
    wide = min(controls.button_width(label, "return"), foot.width)
    controls.button("part.start", Rect(foot.left, foot.top, wide, foot.height), label, screen.start_part, key="return",
                    main=True)  # fmt: skip


def _lay_paragraphs(canvas: Canvas, rect: Rect, said: list[tuple[str, str, str, float]]) -> None:
    """Paragraphs under each other; where they do not fit, all of them are set smaller by the same share."""
    share = 1.0
    while True:
        with canvas.smaller(share):
            counts = [canvas.lines(words, style, size, rect.width) for words, style, _, size in said]
            highs = [1.2 * count * size * canvas.unit for count, (*_, size) in zip(counts, said, strict=True)]
            air = 1.1 * canvas.unit
            if sum(highs) + air * (len(said) - 1) <= rect.height or share < 0.5:
                y = float(rect.top)
                for at, ((words, style, tone, size), high, count) in enumerate(zip(said, highs, counts, strict=True)):
                    place = Rect(rect.left, round(y), rect.width, round(high))
                    canvas.words(f"part.{at}", place, words, style=style, size=size, colour=tone, lines=count,
                                 stand=TOP, least=0.9)  # fmt: skip
                    y += high + air
                return
        share -= 0.05


def _part_words(screen: SingerScreen, move: str) -> str:
    """The move from the page, and where the song's line lies on it and in sound."""
    said = say("singer.part.move", move=move)
    if screen.suited is None:
        return said
    line = screen.suited.line.span
    sounds = sounding_span(line, PLAYERS[screen.instrument])
    return f"{said} {say('singer.part.line', written=line.name, sounding=sounds.name)}"
