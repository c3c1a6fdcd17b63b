"""How the Singer shows the set list: the songs, how ready they are, and what to practise until then."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.coaching.singers.setlist import Day, share_of, until
from trainer.music.keys import Key
from trainer.music.pitch import MusicError
from trainer.window.paint import fonts, layout
from trainer.window.paint.canvas import RIGHT as AT_RIGHT
from trainer.window.paint.canvas import TOP, Canvas
from trainer.window.paint.controls import Controls
from trainer.window.singer.singerwords import lay_share
from trainer.window.strings import key_name, say

if TYPE_CHECKING:
    from trainer.window.singer.singer import SingerScreen


def lay(screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    occasion = screen.set_list.occasion
    if occasion is None or not occasion.songs:
        _lay_no_list(screen, canvas, controls, rect)
        return
    songs = min(len(occasion.songs) * 2.9 * u, (rect.height - 5 * u) * 0.62)
    head, _, listed, _, tasks, _, foot = layout.rows(
        rect, [round(2.6 * u), round(0.5 * u), round(songs), round(0.7 * u), 0, round(0.4 * u), round(1.9 * u)]
    )
    _lay_head(screen, controls, head, u)
    _lay_listed(screen, canvas, controls, listed)
    if tasks.height > 3 * u:
        minutes = share_of(screen.house.settings.minutes)
        there = [one for one in screen.set_list.ready if not screen.set_list.is_gone(one.song)]
        _lay_days(canvas, tasks, until(occasion, there, date.today(), minutes))
    label, off = say("singer.list.start"), say("singer.list.off")
    wide = controls.button_width(label, "return")
    controls.button("list.start", Rect(foot.left, foot.top, wide, foot.height), label, screen.set_list.start,
                    key="return", main=True)  # fmt: skip
    left = foot.left + wide + round(0.6 * u)
    controls.button("list.off", Rect(left, foot.top, min(controls.button_width(off, "x"), foot.right - left),
                                     foot.height), off, screen.set_list.strike, key="x")  # fmt: skip
    end = left + controls.button_width(off, "x")
    paper = Rect(end + round(0.6 * u), foot.top, controls.button_width(say("desk.print"), "p"), foot.height)
    if paper.right <= foot.right:
        controls.button("list.print", paper, say("desk.print"), screen.set_list.print_songs, key="p")
        end = paper.right
    else:
        controls.order("list.print", "p", screen.set_list.print_songs)
    order = Rect(end + round(u), foot.top, foot.right - end - round(u), foot.height)
    if len(occasion.songs) > 1 and order.width > canvas.width(say("singer.list.order"), fonts.ITALIC, 0.95):
        canvas.words("list.order", order, say("singer.list.order"), style=fonts.ITALIC, size=0.95, colour="graphite",
                     align=AT_RIGHT)  # fmt: skip


def _lay_head(screen: SingerScreen, controls: Controls, rect: Rect, u: float) -> None:
    """The occasion's name to type on, and its day, a day at a step."""
    page = screen.set_list
    occasion = page.occasion
    assert occasion is not None
    name, day = layout.columns(rect, [0, min(round(17 * u), round(rect.width * 0.5))], round(1.2 * u))
    line = Rect(name.left, name.bottom - round(1.8 * u), name.width, round(1.8 * u))
    controls.entry("occasion", line, occasion.name, page.rename, key="o",
                   hint=say("singer.occasion.name"))  # fmt: skip
    when = f"{occasion.date.day} {occasion.date:%B %Y}"
    if controls.focus == "occasion":
        # Enter ends the name, and does not start a song.
        controls.order("occasion.done", "return", lambda: None)
    # Three values in a row, the middle one shown: stepping either way gives the direction.
    label = say("singer.occasion.day", when=_when((occasion.date - date.today()).days))
    controls.choice("day", day, label, [when] * 3, 1, lambda at: page.put_off(1 if at == 2 else -1), key="d", size=1.1)


def _when(days: int) -> str:
    if days == 0:
        return say("day.today")
    return say("singer.tomorrow") if days == 1 else say("singer.in-days", days=days)


def _lay_no_list(screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    words = Rect(rect.left, rect.top + round(0.5 * u), rect.width, rect.height - round(3 * u))
    said = canvas.words("list.empty", words, say("singer.list.empty"), size=1.1, lines=6, stand=TOP, least=0.7)
    if screen.set_list.lists.occasions or screen.set_list.lists.singers:
        return
    label = say("singer.list.invent")
    wide = min(rect.width, controls.button_width(label, "d"))
    place = Rect(rect.left, said.bottom + round(u), wide, round(1.9 * u))
    controls.button("invent", place, label, screen.set_list.invent, key="d")


def _lay_listed(screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    occasion = screen.set_list.occasion
    assert occasion is not None
    u = canvas.unit
    letters = screen.house.settings.letters

    def draw(at: int, row: Rect) -> None:
        song = occasion.songs[at]
        inner = row.inflate(-round(1.0 * u), -round(0.3 * u))
        name, key, ready, share = layout.columns(
            inner, [0, round(5.2 * u), round(7.0 * u), round(min(7 * u, inner.width * 0.18))], round(0.6 * u)
        )
        above, below = layout.rows(name, [name.height * 0.54, 0])
        canvas.words(f"listed.{at}", above, song.title, size=1.1, least=0.7)
        canvas.words(f"listed.{at}.singer", below, song.singer, style=fonts.ITALIC, size=0.92, colour="graphite")
        canvas.words(f"listed.{at}.key", key, _key_words(song.key, letters), size=1.0, least=0.6)
        if screen.set_list.is_gone(song):
            canvas.words(f"listed.{at}.gone", ready.union(share), say("singer.list.gone"), style=fonts.ITALIC, size=1.0,
                         colour="graphite", least=0.7)  # fmt: skip
        elif at < len(screen.set_list.ready):
            one = screen.set_list.ready[at]
            canvas.words(f"listed.{at}.ready", ready, one.words, style=fonts.ITALIC, size=1.0, colour="graphite",
                         least=0.7)  # fmt: skip
            lay_share(canvas, f"listed.{at}.share", share, one.share)

    page = screen.set_list
    controls.rows("listed", rect, len(occasion.songs), page.chosen, round(2.9 * u), draw, page.pick, page.start,
                  less=lambda: page.move(-1), more=lambda: page.move(1))  # fmt: skip


def _key_words(wish: str, letters: str) -> str:
    """A song's key as wished in the file: a key in words, a number or an interval as it is."""
    try:
        return key_name(Key.parse(wish), letters)
    except MusicError:
        return wish


def _lay_days(canvas: Canvas, rect: Rect, days: Sequence[Day]) -> None:
    """What to practise on the next days, as many as there is room for."""
    u = canvas.unit
    high = round(1.7 * u)
    head = Rect(rect.left, rect.top, rect.width, round(1.4 * u))
    canvas.words("days.head", head, say("singer.until"), style=fonts.ITALIC, size=1.0, colour="graphite")
    if not days:
        room = Rect(rect.left, head.bottom, rect.width, rect.bottom - head.bottom)
        canvas.words("days.none", room, say("singer.until.none"), size=1.05, lines=2, stand=TOP, least=0.7)
        return
    wide = canvas.width("30 September", fonts.ITALIC, 1.0) + round(u)
    for at, day in enumerate(days[: max(1, (rect.bottom - head.bottom) // high)]):
        line = Rect(rect.left, head.bottom + at * high, rect.width, high)
        name = (say("day.today"), say("singer.tomorrow"))[at] if at < 2 else f"{day.date.day} {day.date:%B}"
        canvas.words(f"days.{at}.name", Rect(line.left, line.top, wide, high), name, style=fonts.ITALIC, size=1.0,
                     colour="graphite")  # fmt: skip
        tasks = [say("singer.task", title=task.song.title, minutes=task.minutes) for task in day.tasks]
        said = say("singer.whole") if day.whole else " · ".join(tasks)
        canvas.words(f"days.{at}", Rect(line.left + wide, line.top, line.width - wide, high), said, size=1.0, least=0.6)
