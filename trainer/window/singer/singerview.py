"""How the Singer looks: song and singer, and the pages beside them, each in a file of its own."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from functools import lru_cache, partial
from pathlib import Path
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.coaching.singers.voices import CAUTION
from trainer.music.keys import Key
from trainer.music.pitch import SpelledPitch
from trainer.window import masthead
from trainer.window.paint import fonts, layout, titled
from trainer.window.paint.canvas import RIGHT as AT_RIGHT
from trainer.window.paint.canvas import TOP, Canvas
from trainer.window.paint.controls import Control, Controls
from trainer.window.singer import singerkeysview, singerlistview, singerwarmview
from trainer.window.singer.singerwords import PAGES, short_key
from trainer.window.strings import key_name, letter_name, say

if TYPE_CHECKING:
    from trainer.scores.shelf.library import Entry
    from trainer.window.singer.singer import SingerScreen

# Parts of the screen that stand before its pages where there is no room for all.
BEFORE_PAGES = 3
# From so many units on the fields of the singer stand beside each other, and a song has room for who wrote it.
_WIDE = 34
# How much of a tall window's height the songs take.
_SONGS = 0.34


def lay(screen: SingerScreen, canvas: Canvas, controls: Controls) -> None:
    """Lay the whole screen."""
    places = masthead.lay(screen.house, canvas, controls, "singer")
    u = canvas.unit
    pages = (singerkeysview.lay, singerlistview.lay, singerwarmview.lay, singerwarmview.lay_part)
    names = [f"singer.page.{page}" for page in PAGES]
    if masthead.is_tight(places.body, canvas):
        before = ("singer.song", "singer.singer", "singer.staff")
        body = masthead.parts(canvas, controls, places.body, [*before, *names], screen.part, screen.to_part)
        (_lay_songs, _lay_singer, singerkeysview.lay_staff, *pages)[screen.part](screen, canvas, controls, body)
    elif layout.is_tall(canvas):
        # Songs over the singer over the page, each as wide as the window.
        songs, _, singer, _, below = layout.rows(
            places.body, [round(places.body.height * _SONGS), round(0.8 * u), round(6.4 * u), round(0.9 * u), 0]
        )
        _lay_songs(screen, canvas, controls, songs)
        _lay_singer(screen, canvas, controls, singer)
        body = masthead.parts(canvas, controls, below, names, screen.page, screen.turn_to)
        pages[screen.page](screen, canvas, controls, body)
    else:
        left, right = layout.columns(places.body, [round(places.body.width * 0.315), 0], round(2.0 * u))
        _lay_choice(screen, canvas, controls, left)
        body = masthead.parts(canvas, controls, right, names, screen.page, screen.turn_to)
        pages[screen.page](screen, canvas, controls, body)
    if not screen.house.notice:
        words = say("singer.listening") if screen.listening else CAUTION
        words = say("singer.naming") if controls.focus == "name" else words
        masthead.lay_quiet(canvas, places, words)


# Song and singer


def _lay_choice(screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    low = min(round(9.6 * u), round(rect.height * 0.56))
    above, _, below = layout.rows(rect, [0, round(0.7 * u), low])
    _lay_songs(screen, canvas, controls, above)
    _lay_singer(screen, canvas, controls, below)


def _lay_songs(screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    line, _, listed = layout.rows(rect, [round(1.7 * u), round(0.4 * u), 0])
    shown = screen.shown
    controls.entry("find", line, screen.find, screen.search, key="/", hint=say("singer.find"),
                   afresh=True, among=("songs", len(shown), screen.song, screen.pick_song))  # fmt: skip
    letters = screen.house.settings.letters
    alike = _alike(tuple((entry.title, entry.composer) for entry in shown))
    roomy = rect.width > _WIDE * u
    if not shown:
        said = say("desk.shelf.unfound", words=screen.find) if screen.entries else say("desk.shelf.reading")
        canvas.words("songs.none", listed, said, size=1.05, lines=4, stand=TOP)
        return

    def draw(at: int, row: Rect) -> None:
        inner = row.inflate(-round(1.0 * u), 0)
        written = Key.parse(shown[at].key)
        name = key_name(written, letters) if roomy else short_key(written, letters)
        wide = canvas.width("B♭ major" if roomy else "D♭", fonts.ROMAN, 1.0) + round(0.6 * u)
        key = Rect(inner.right - wide, inner.top, wide, inner.height)
        canvas.words(f"songs.{at}.key", key, name, size=1.0, colour="graphite", align=AT_RIGHT)
        title = Rect(inner.left, inner.top, inner.width - wide, inner.height)
        taken = canvas.width(shown[at].title, fonts.ROMAN, 1.05) + round(0.6 * u)
        beside = ""
        if shown[at].title in alike:
            beside = _told_apart(shown[at], alike)
            taken = min(taken, round(title.width * 0.6))
        else:
            by = shown[at].composer if roomy else ""
            said = " · ".join(word for word in (by, say(f"shelf.{shown[at].sung}") if shown[at].sung else "") if word)
            beside = said if taken + canvas.width(said, fonts.ITALIC, 0.92) <= title.width else ""
        if beside:
            after = Rect(title.left + taken, title.top, title.width - taken, title.height)
            canvas.words(f"songs.{at}.by", after, beside, style=fonts.ITALIC, size=0.92, colour="graphite", least=0.6)
            title.width = taken
        titled.lay(canvas, f"songs.{at}", title, shown[at].title, size=1.05)

    controls.rows("songs", listed, len(shown), screen.song, round(1.75 * u), draw, screen.pick_song, screen.start,
                  partial(screen.step_key, -1), partial(screen.step_key, 1))  # fmt: skip


@lru_cache(maxsize=2)
def _alike(songs: tuple[tuple[str, str], ...]) -> dict[str, frozenset[str]]:
    """Titles that more than one song has, with the composers who have more than one of that title."""
    titles, both = Counter(title for title, _ in songs), Counter(songs)
    return {title: frozenset(by for (other, by), count in both.items() if other == title and count > 1)
            for title, many in titles.items() if many > 1}  # fmt: skip


def _told_apart(entry: Entry, alike: Mapping[str, frozenset[str]]) -> str:
    """What tells a song from another of its title: who wrote it, else its file."""
    own = entry.composer and entry.composer not in alike[entry.title]
    return entry.composer if own else Path(entry.path).name


def _lay_singer(screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    canvas.panel("singer.ground", rect, "faint", "rule", 0.6)
    inner = rect.inflate(-round(1.5 * u), -round(1.0 * u))
    inner.height = min(inner.height, round(9.0 * u))
    who, ends, foot = _singer_places(inner, u)
    # A name left with esc is not being typed any more.
    naming = screen.naming if controls.focus == "name" else None
    if naming is None:
        controls.choice(
            "who", who, say("singer.who"), screen.singer_names, screen.singer, screen.pick_singer, key="s", size=1.35
        )
    else:
        line = Rect(who.left, who.bottom - round(1.8 * u), who.width, round(1.8 * u))
        controls.entry("name", line, naming, screen.type_name, hint=say("singer.name"))
        controls.order("name.keep", "return", screen.keep_singer)
    _, span, _ = screen.who
    if screen.is_choir:
        room = ends.union(foot)
        canvas.words("choir", room, say("singer.choir"), style=fonts.ITALIC, colour="graphite", lines=4, stand=TOP)
        return
    low, high = layout.columns(ends, [0, 0], round(1.2 * u))
    for name, place, pitch, is_low, key in (("low", low, span.low, True, "l"), ("high", high, span.high, False, "h")):
        _lay_end(screen, controls, place, (name, pitch, is_low, key))
    label = say("singer.stop" if screen.listening else "singer.listen")
    wide = min(foot.width, controls.button_width(label, "r", 0.95))
    controls.button("listen", Rect(foot.left, foot.top, wide, foot.height), label, screen.listen, key="r", size=0.95)
    if screen.own is not None and naming is None:
        # The letter that leads to the name is not written on it.
        controls.add(Control("keep.key", Rect(0, 0, 0, 0), screen.name_singer, "k", typed=lambda _: None))
        keep, left = say("singer.keep"), foot.left + wide + round(0.5 * u)
        wide = controls.button_width(keep, "k", 0.95)
        if left + wide <= foot.right:
            place = Rect(left, foot.top, wide, foot.height)
            controls.button("keep", place, keep, screen.name_singer, key="k", size=0.95)


def _singer_places(rect: Rect, u: float) -> tuple[Rect, Rect, Rect]:
    """Where the singer's name, the ends of the tessitura and the buttons stand."""
    if rect.width > _WIDE * u:
        fields, _, foot = layout.rows(rect, [0, round(0.5 * u), round(1.6 * u)])
        who, ends = layout.columns(fields, [0, 0], round(1.6 * u))
        return who, ends, foot
    who, _, ends, _, foot = layout.rows(rect, [0, round(0.4 * u), round(2.6 * u), round(0.4 * u), round(1.6 * u)])
    return who, ends, foot


def _lay_end(screen: SingerScreen, controls: Controls, rect: Rect, end: tuple[str, SpelledPitch, bool, str]) -> None:
    """A field for one end of the tessitura, a semitone at a step."""
    name, pitch, is_low, key = end
    # Three values in a row, the middle one shown: stepping either way gives the direction.
    letters = screen.house.settings.letters
    values = [_pitch(pitch, letters)] * 3

    def step(at: int) -> None:
        screen.set_end(is_low, 1 if at == 2 else -1)

    controls.choice(name, rect, say(f"singer.{name}"), values, 1, step, key=key, size=1.15)


def _pitch(pitch: SpelledPitch, letters: str) -> str:
    return f"{letter_name(pitch, letters)}{pitch.octave}"
