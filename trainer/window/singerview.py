"""How the Singer looks: every box of it, laid from the state the screen holds."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.coaching.setlist import Day, until
from trainer.coaching.voices import CAUTION
from trainer.music.keys import Key
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import OCTAVE
from trainer.window import fonts, layout, masthead, staff
from trainer.window.canvas import CENTRE, GROUND, TOP, Canvas
from trainer.window.canvas import RIGHT as AT_RIGHT
from trainer.window.controls import Controls
from trainer.window.strings import key_name, letter_name, say
from trainer.window.theme import hexed

if TYPE_CHECKING:
    from trainer.window.singer import SingerScreen

# Parts of the screen that stand before its pages where there is no room for all.
BEFORE_PAGES = 3


def lay(screen: SingerScreen, canvas: Canvas, controls: Controls) -> None:
    """Lay the whole screen."""
    from trainer.window.singer import PAGES

    places = masthead.lay(screen.house, canvas, controls, "singer")
    u = canvas.unit
    pages = (_lay_keys, _lay_set_list, _lay_warm_up, _lay_part)
    names = [f"singer.page.{page}" for page in PAGES]
    if masthead.is_tight(places.body, canvas):
        before = ("singer.song", "singer.singer", "singer.staff")
        body = masthead.parts(canvas, controls, places.body, [*before, *names], screen.part, screen.to_part)
        (_lay_songs, _lay_singer, _lay_staff, *pages)[screen.part](screen, canvas, controls, body)
    else:
        left, right = layout.columns(places.body, [round(places.body.width * 0.315), 0], round(2.0 * u))
        _lay_choice(screen, canvas, controls, left)
        body = masthead.parts(canvas, controls, right, names, screen.page, screen.turn_to)
        pages[screen.page](screen, canvas, controls, body)
    if not screen.house.notice:
        words = say("singer.listening") if screen.listening else CAUTION
        canvas.words("quiet", places.quiet, words, style=fonts.ITALIC, size=0.95, colour="graphite", least=0.5)


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
    controls.entry("find", line, say("desk.find.label"), screen.find, screen.search, key="/", hint=say("singer.find"))
    shown = screen.shown
    letters = screen.house.settings.letters
    if not shown:
        canvas.words("songs.none", listed, say("desk.shelf.none"), size=1.05, lines=4, stand=TOP)
        return

    def draw(at: int, row: Rect) -> None:
        inner = row.inflate(-round(1.0 * u), 0)
        name = _short(Key.parse(shown[at].key), letters)
        wide = canvas.width("D♭", fonts.ROMAN, 1.0) + round(0.6 * u)
        key = Rect(inner.right - wide, inner.top, wide, inner.height)
        canvas.words(f"songs.{at}.key", key, name, size=1.0, colour="graphite", align=AT_RIGHT)
        title = Rect(inner.left, inner.top, inner.width - wide, inner.height)
        canvas.words(f"songs.{at}", title, shown[at].title, size=1.05, least=0.75)

    controls.rows("songs", listed, len(shown), screen.song, round(1.75 * u), draw, screen.pick_song, screen.start)


def _lay_singer(screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    canvas.panel("singer.ground", rect, "faint", "rule", 0.6)
    inner = rect.inflate(-round(1.5 * u), -round(1.0 * u))
    inner.height = min(inner.height, round(9.0 * u))
    who, _, ends, _, foot = layout.rows(inner, [0, round(0.4 * u), round(2.6 * u), round(0.4 * u), round(1.6 * u)])
    names = [name for name, _, _ in screen.singers]
    controls.choice("who", who, say("singer.who"), names, screen.singer, screen.pick_singer, key="s", size=1.35)
    _, span, _ = screen.who
    low, high = layout.columns(ends, [0, 0], round(1.2 * u))
    for name, place, pitch, is_low, key in (("low", low, span.low, True, "l"), ("high", high, span.high, False, "h")):
        _lay_end(screen, canvas, controls, place, (name, pitch, is_low, key))
    label = say("singer.stop" if screen.listening else "singer.listen")
    wide = min(foot.width, controls.button_width(label, "r", 0.95))
    controls.button("listen", Rect(foot.left, foot.top, wide, foot.height), label, screen.listen, key="r", size=0.95)


def _lay_end(
    screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect, end: tuple[str, SpelledPitch, bool, str]
) -> None:
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


def _short(key: Key, letters: str) -> str:
    name = letter_name(key.tonic, letters)
    return name[0].lower() + name[1:] if key.is_minor else name


# The keys that suit


def _lay_keys(screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    suited, best = screen.suited, screen.best
    if suited is None or best is None:
        words = say("singer.waiting") if screen.entry is not None else say("singer.none")
        canvas.words(
            "keys.waiting", rect, words, style=fonts.ITALIC, size=1.1, colour="graphite", align=CENTRE, lines=3
        )
        return
    letters = screen.house.settings.letters
    tight = rect.height < 22 * u
    figured = 0 if tight else min(round(11.0 * u), round(rect.height * 0.40))
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
    controls.button("put", Rect(left, foot.top, room, foot.height), put, screen.put_down, key="a")


def _lay_staff(screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    """The staff by itself."""
    if screen.suited is None or screen.best is None:
        _lay_keys(screen, canvas, controls, rect)
        return
    head, _, figure = layout.rows(rect, [round(1.9 * canvas.unit), round(0.4 * canvas.unit), 0])
    _lay_song_head(screen, canvas, head)
    _lay_figure(screen, canvas, figure)


def _lay_song_head(screen: SingerScreen, canvas: Canvas, rect: Rect) -> None:
    suited = screen.suited
    assert suited is not None
    u = canvas.unit
    letters = screen.house.settings.letters
    about = say("singer.line", key=key_name(suited.piece.key, letters), line=suited.line.span.name)
    wide = min(round(rect.width * 0.52), canvas.width(about, fonts.ITALIC, 1.0) + 4)
    title = Rect(rect.left, rect.top, rect.width - wide - round(u), rect.height)
    canvas.words("keys.title", title, suited.piece.title, style=fonts.BOLD, size=1.35, least=0.6)
    place = Rect(rect.right - wide, rect.top, wide, rect.height)
    canvas.words("keys.about", place, about, style=fonts.ITALIC, size=1.0, colour="graphite", align=AT_RIGHT, least=0.6)


def _lay_figure(screen: SingerScreen, canvas: Canvas, rect: Rect) -> None:
    """The singer's tessitura and the voice line in every key that suits, as bars on one staff."""
    suited, best = screen.suited, screen.best
    assert suited is not None
    assert best is not None
    letters = screen.house.settings.letters
    span = screen.who[1]
    line = suited.line
    up = OCTAVE if best.octaves > 0 else -OCTAVE

    def sung(pitch: SpelledPitch) -> SpelledPitch:
        for _ in range(abs(best.octaves)):
            pitch = pitch + up
        return pitch

    bars = [staff.Bar(span.low, span.high, say("singer.tessitura"), span.name, hollow=True, tone="brass")]
    as_written = [one for one in suited.keys if one.transposition.interval.semitones == 0]
    if not as_written:
        weights = [(sung(pitch), time) for pitch, time in line.sung]
        bars.append(staff.Bar(weights[0][0], weights[-1][0], say("singer.written"), _short(line.key, letters), weights,
                              tone="graphite"))  # fmt: skip
    for one in suited.keys:
        move = one.transposition.interval
        weights = [(sung(pitch) + move, time) for pitch, time in line.sung]
        below = (
            say("singer.written")
            if one in as_written
            else f"{one.low.sign_name}{one.low.octave}–{one.high.sign_name}{one.high.octave}"
        )
        bars.append(staff.Bar(one.low, one.high, _short(one.key, letters), below, weights,
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
    for name, place in zip(("voice", "hands"), columns[2:], strict=True):
        canvas.words(f"ranked.head.{name}", place, say(f"singer.head.{name}"), style=fonts.ITALIC, size=0.9,
                     colour="graphite")  # fmt: skip

    def draw(at: int, row: Rect) -> None:
        one = suited.keys[at]
        key, move, voice, hands = _ranked_columns(row.inflate(-round(1.0 * u), 0), bar, u)
        canvas.words(f"ranked.{at}.key", key, key_name(one.key, letters), style=fonts.BOLD, size=1.1, least=0.7)
        semitones = one.transposition.interval.semitones
        said = one.transposition.interval.words if semitones else say("singer.as-written")
        canvas.words(f"ranked.{at}.move", move, said, style=fonts.ITALIC, size=1.0, colour="graphite", least=0.6)
        _lay_share(canvas, f"ranked.{at}.voice", voice, one.fit)
        _lay_share(canvas, f"ranked.{at}.hands", hands, one.ease)

    high = round(min(1.75 * u, max(1.45 * u, listed.height / len(suited.keys))))
    controls.rows("ranked", listed, len(suited.keys), screen.at, high, draw, screen.pick_key, screen.start)


def _ranked_columns(rect: Rect, bar: int, u: float) -> list[Rect]:
    return layout.columns(rect, [round(rect.width * 0.25), 0, bar, bar], round(0.8 * u))


def _lay_share(canvas: Canvas, name: str, rect: Rect, share: float) -> None:
    """A share of one as a line on a rule, its figure after it."""
    u = canvas.unit
    figure = canvas.width("100", fonts.ROMAN, 0.92) + round(0.3 * u)
    long = rect.width - figure - round(0.4 * u)
    high = max(4, round(0.42 * u))
    line = Rect(rect.left, rect.centery - high // 2, long, high)
    rule, ink = hexed(canvas.colour("rule")), hexed(canvas.colour("ink"))
    body = (
        f'<path d="M0 {high / 2}H{long}" stroke="{rule}" stroke-width="1.2"/>'
        f'<path d="M0 {high / 2}H{max(1.0, long * share):.1f}" stroke="{ink}" stroke-width="{high * 0.8:.1f}"/>'
    )
    canvas.shape(name, line, body, GROUND)
    place = Rect(rect.right - figure, rect.top, figure, rect.height)
    canvas.words(f"{name}.figure", place, f"{100 * share:.0f}", size=0.92, colour="graphite", align=AT_RIGHT)


# Set list


def _lay_set_list(screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    occasion = screen.occasion
    if occasion is None or not occasion.songs:
        _lay_no_list(screen, canvas, controls, rect)
        return
    songs = min(len(occasion.songs) * 2.9 * u, (rect.height - 5 * u) * 0.62)
    head, _, listed, _, tasks, _, foot = layout.rows(
        rect, [round(1.9 * u), round(0.5 * u), round(songs), round(0.7 * u), 0, round(0.4 * u), round(1.9 * u)]
    )
    days = (occasion.date - date.today()).days
    when = f"{occasion.date.day} {occasion.date:%B %Y} · " + _when(days)
    wide = min(round(head.width * 0.5), canvas.width(when, fonts.ITALIC, 1.0) + 4)
    title = Rect(head.left, head.top, head.width - wide - round(u), head.height)
    canvas.words("list.name", title, occasion.name, style=fonts.BOLD, size=1.35, least=0.6)
    place = Rect(head.right - wide, head.top, wide, head.height)
    canvas.words("list.when", place, when, style=fonts.ITALIC, size=1.0, colour="graphite", align=AT_RIGHT, least=0.6)
    _lay_listed(screen, canvas, controls, listed)
    if tasks.height > 3 * u:
        _lay_days(canvas, tasks, until(occasion, screen.ready, date.today()))
    label, off = say("singer.list.start"), say("singer.list.off")
    wide = controls.button_width(label, "return")
    controls.button("list.start", Rect(foot.left, foot.top, wide, foot.height), label, screen.start_listed,
                    key="return", main=True)  # fmt: skip
    left = foot.left + wide + round(0.6 * u)
    controls.button("list.off", Rect(left, foot.top, min(controls.button_width(off, "x"), foot.right - left),
                                     foot.height), off, screen.strike, key="x")  # fmt: skip


def _when(days: int) -> str:
    if days == 0:
        return say("day.today")
    return say("singer.tomorrow") if days == 1 else say("singer.in-days", days=days)


def _lay_no_list(screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    words = Rect(rect.left, rect.top + round(0.5 * u), rect.width, rect.height - round(3 * u))
    said = canvas.words("list.empty", words, say("singer.list.empty"), size=1.1, lines=6, stand=TOP, least=0.7)
    if screen.lists.occasions or screen.lists.singers:
        return
    label = say("singer.list.invent")
    wide = min(rect.width, controls.button_width(label, "d"))
    place = Rect(rect.left, said.bottom + round(u), wide, round(1.9 * u))
    controls.button("invent", place, label, screen.invent, key="d")


def _lay_listed(screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    occasion = screen.occasion
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
        if at < len(screen.ready):
            one = screen.ready[at]
            canvas.words(f"listed.{at}.ready", ready, one.words, style=fonts.ITALIC, size=1.0, colour="graphite",
                         least=0.7)  # fmt: skip
            _lay_share(canvas, f"listed.{at}.share", share, one.share)

    controls.rows("listed", rect, len(occasion.songs), screen.listed, round(2.9 * u), draw, screen.pick_listed,
                  screen.start_listed)  # fmt: skip


def _key_words(wish: str, letters: str) -> str:
    """A song's key as wished in the file: a key in words, a number or an interval as it is."""
    from trainer.music.pitch import MusicError

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


# Warm-up


def _lay_warm_up(screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    from trainer.window.singer import MINUTES

    u = canvas.unit
    head, _, listed, _, foot = layout.rows(rect, [round(2.7 * u), round(0.5 * u), 0, round(0.4 * u), round(1.9 * u)])
    values = [say("desk.minutes", minutes=minutes) for minutes in MINUTES]
    field = Rect(head.left, head.top, min(round(10 * u), head.width), head.height)
    controls.choice("minutes", field, say("singer.minutes"), values, screen.minutes, screen.set_minutes, key="m",
                    size=1.15)  # fmt: skip
    room = Rect(field.right + round(1.2 * u), head.top, head.right - field.right - round(1.2 * u), head.height)
    if room.width > 8 * u:
        canvas.words("warm.why", room, say("singer.warm.why"), style=fonts.ITALIC, size=1.0, colour="graphite", lines=2,
                     least=0.7)  # fmt: skip
    if not screen.steps:
        words = say("singer.waiting") if screen.warm_songs else say("singer.warm.empty")
        canvas.words("warm.empty", listed, words, style=fonts.ITALIC, size=1.1, colour="graphite", lines=3, stand=TOP)
        return

    def draw(at: int, row: Rect) -> None:
        step = screen.steps[at]
        inner = row.inflate(-round(1.0 * u), 0)
        time, words = f"{step.minutes:g} min", Rect(inner)
        wide = canvas.width("0.75 min", fonts.ITALIC, 0.92) + round(0.4 * u)
        number = round(1.6 * u)
        canvas.words(f"steps.{at}.number", Rect(inner.left, inner.top, number, inner.height), str(at + 1), size=1.0,
                     colour="graphite")  # fmt: skip
        words = Rect(inner.left + number, inner.top, inner.width - number - wide, inner.height)
        canvas.words(f"steps.{at}", words, step.words, size=1.05, least=0.6)
        canvas.words(f"steps.{at}.time", Rect(inner.right - wide, inner.top, wide, inner.height), time,
                     style=fonts.ITALIC, size=0.92, colour="graphite", align=AT_RIGHT)  # fmt: skip

    controls.rows("steps", listed, len(screen.steps), screen.step, round(1.7 * u), draw, screen.pick_step,
                  screen.start_steps)  # fmt: skip
    label = say("singer.warm.start" if screen.step == 0 else "singer.warm.from", step=screen.step + 1)
    wide = controls.button_width(label, "return")
    controls.button("warm.start", Rect(foot.left, foot.top, wide, foot.height), label, screen.start_steps,
                    key="return", main=True)  # fmt: skip


# From a part


def _lay_part(screen: SingerScreen, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    from trainer.window.singer import PLAYERS

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
    lines = [
        (player.words, fonts.ITALIC, "graphite", 1.05),
        (say("singer.part", title=entry.title, instrument=player.name,
             written=key_name(Key.parse(entry.key), letters), sounding=key_name(move.target, letters)),
         fonts.ROMAN, "ink", 1.2),
        (say("singer.part.move", move=move.interval.words), fonts.ITALIC, "graphite", 1.05),
    ]  # fmt: skip
    reads = screen.part_for_best
    if reads is not None and screen.best is not None:
        joins = say("singer.part.joins", singer=screen.who[0], key=key_name(screen.best.key, letters),
                    instrument=player.name, written=key_name(reads, letters))  # fmt: skip
        lines.append((joins, fonts.ROMAN, "ink", 1.05))
    places = layout.rows(body, [min(4.4 * u, body.height / len(lines))] * len(lines))
    for at, (place, (words, style, tone, size)) in enumerate(zip(places, lines, strict=True)):
        canvas.words(f"part.{at}", place, words[0].upper() + words[1:], style=style, size=size, colour=tone, lines=3,
                     stand=TOP, least=0.6)  # fmt: skip
    label = say("singer.start", key=key_name(move.target, letters))
    wide = min(controls.button_width(label, "return"), foot.width)
    controls.button("part.start", Rect(foot.left, foot.top, wide, foot.height), label, screen.start_part, key="return",
                    main=True)  # fmt: skip
