"""How the Desk looks: what to play today, recent takes, the shelf with its filters, the card of the chosen piece."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.journal.values import PATTERN
from trainer.music.compass import LEVELS
from trainer.music.keys import MAJOR, MINOR, Key
from trainer.music.piece import BOTH, LEFT, RIGHT
from trainer.music.transpose import OCTAVES
from trainer.window import masthead
from trainer.window.days import day_words
from trainer.window.desk import desktoday, deskwork
from trainer.window.desk.shelving import BACK_KEY, OFF_KEY
from trainer.window.paint import fonts, layout, titled
from trainer.window.paint.canvas import LEFT as AT_LEFT
from trainer.window.paint.canvas import RIGHT as AT_RIGHT
from trainer.window.paint.canvas import TOP, Canvas
from trainer.window.paint.controls import Controls
from trainer.window.strings import key_in, key_name, say

if TYPE_CHECKING:
    from trainer.scores.shelf.library import Entry
    from trainer.window.desk.desk import Desk

ANY = ""
# The choices of the shelf's filters: name, key, values with their words.
FILTERS: dict[str, tuple[str, dict[str, str]]] = {
    "level": ("l", {ANY: "desk.any", **{one: f"level.{one}" for one in LEVELS}}),
    "hands": ("j", {ANY: "desk.any", **{one: f"shelf.{one}" for one in (BOTH, RIGHT, LEFT)}}),
    "mode": ("n", {ANY: "desk.any", **{one: f"desk.{one}" for one in (MAJOR, MINOR)}}),
}
# As in `trainer.session.MODES`, and what else can be made of a piece.
WAYS = ("senza misura", "a tempo", "prima vista", *deskwork.DRILLS)
PARTS = ("desk.shelf", "desk.card", "desk.today", "desk.recent")
# What the card needs inside for a head of two lines, in units.
_TWO_LINES = 8.5


def lay(desk: Desk, canvas: Canvas, controls: Controls) -> None:
    """Lay everything, or one part at a time where there is no room."""
    places = masthead.lay(desk.house, canvas, controls, "desk")
    u = canvas.unit
    tight = masthead.is_tight(places.body, canvas)
    asked = desk.erasing.lay(canvas, controls, places.body)
    body = desk.shelving.lay(canvas, controls, desk.cut_off.lay(canvas, controls, asked))
    if tight and not desk.shelving.left and desk.erasing.row is None:
        body = masthead.parts(canvas, controls, body, PARTS, desk.part, partial(setattr, desk, "part"))
        _lay_part(desk, canvas, controls, body)
    # Large text leaves no room beside a question, or what came and is not there, until that is put away.
    elif not tight:
        left, right = layout.columns(body, [round(body.width * 0.36), 0], round(1.6 * u))
        # Recent takes give way to a long list of today, down to three.
        needed = 2.9 * u + desktoday.height(desk, canvas, left.width)
        rows = max(3.0, min(len(desk.recent), (left.height - needed) / (1.75 * u) - 1))
        listed = round((1.6 + 1.75 * rows if desk.recent else 7.6) * u)
        today, recent = layout.rows(left, [0, min(listed, round(left.height * 0.44))], round(0.9 * u))
        line = Rect(today.left, today.top, today.width, round(1.35 * u))
        _link_player(desk, canvas, controls, _link(desk, canvas, controls, line, "sight"))
        _link(desk, canvas, controls, Rect(recent.left, recent.top, recent.width, line.height), "handing")
        desktoday.lay(desk, canvas, controls, _headed(canvas, "desk.today", today))
        _lay_recent(desk, canvas, controls, _headed(canvas, "desk.recent", recent))
        shelf, card = layout.rows(right, [0, round(8.4 * u)], round(0.9 * u))
        _link_off(desk, canvas, controls, Rect(shelf.left, shelf.top, shelf.width, line.height))
        _lay_shelf(desk, canvas, controls, _headed(canvas, "desk.shelf", shelf))
        _lay_card(desk, canvas, controls, card)
    controls.order("sheet", "e", desk.show_sheet)
    if not desk.house.notice:
        masthead.lay_quiet(canvas, places, _enters(controls) or _quiet(desk))


def _lay_part(desk: Desk, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    """The part chosen; what acts from anywhere keeps its key in the others."""
    part = PARTS[desk.part]
    if part == "desk.shelf":
        if any(not entry.bundled for entry in desk.entries):
            line, rect = layout.rows(rect, [round(1.35 * canvas.unit), 0], round(0.25 * canvas.unit))
            _link_off(desk, canvas, controls, line)
        _lay_shelf(desk, canvas, controls, rect)
    elif part == "desk.card":
        _lay_card(desk, canvas, controls, rect)
    elif part == "desk.recent":
        _lay_recent(desk, canvas, controls, rect)
    else:
        # The way to the test stands at the foot.
        listed, foot = layout.rows(rect, [0, round(1.35 * canvas.unit)])
        desktoday.lay(desk, canvas, controls, listed)
        _link_player(desk, canvas, controls, _link(desk, canvas, controls, foot, "sight"), heading=False)
    controls.order("handing", "i", partial(desk.house.go, "handing"))
    if part != "desk.today":
        controls.order("sight", "v", partial(desk.house.go, "sight"))
        if len(desk.players) > 1:
            controls.order("player", "y", desk.next_player)
    if part != "desk.card":
        controls.order("start", "return", desk.start)


def _enters(controls: Controls) -> str:
    """What enter does in a list of its own; empty where it leads to the stand with the piece of the card."""
    if controls.focus not in ("today", "recent") or controls.named(controls.focus) is None:
        return ""
    words = say(f"desk.{controls.focus}.enter")
    return f"{words} {say('desk.set.hint')}" if controls.named("withdraw") is not None else words


def _quiet(desk: Desk) -> str:
    if desk.reading:
        return say("desk.reading", name=desk.reading)
    if desk.house.shelf_trouble:
        return desk.house.shelf_trouble
    ports = desk.house.ports
    if ports is not None and ports.hearing:
        from trainer.listening.ports import shown_name

        return say("desk.piano", name=shown_name(ports.hearing[0]))
    return f"{say('desk.no-piano')} {say('desk.open')}" if desk.house.ready else say("desk.piano.looking")


def _headed(canvas: Canvas, name: str, rect: Rect) -> Rect:
    """A heading; returns the room under it."""
    u = canvas.unit
    head = Rect(rect.left, rect.top, rect.width, round(1.35 * u))
    canvas.words(f"{name}.head", head, say(name), style=fonts.ITALIC, size=1.05, colour="graphite")
    return Rect(rect.left, head.bottom + round(0.25 * u), rect.width, rect.bottom - head.bottom - round(0.25 * u))


def _link(desk: Desk, canvas: Canvas, controls: Controls, line: Rect, room: str) -> Rect:
    """The way to another screen, at the right end of a line; returns the rest of the line."""
    label, key = say(f"desk.{room}"), {"sight": "v", "handing": "i"}[room]
    wide = canvas.width(label, fonts.ROMAN, 0.95) + controls.key_width(key) + 4
    place = Rect(line.right - wide, line.top, wide, line.height)
    controls.link(room, place, label, partial(desk.house.go, room), key=key, align=AT_RIGHT)
    return Rect(line.left, line.top, place.left - line.left - round(canvas.unit), line.height)


def _link_off(desk: Desk, canvas: Canvas, controls: Controls, line: Rect) -> None:
    """The way off the shelf for a piece of the player's own, and back for what was taken off last."""
    shelving = desk.shelving
    # Where letters are typed, and in the lists that lie beside, the key is theirs.
    beside = controls.focus in ("today", "recent") and controls.named(controls.focus) is not None
    key = "" if controls.focus == "find" or beside else OFF_KEY
    ways = [("off", say("desk.off"), key, shelving.take_off)] if shelving.own else []
    ways += [("back", say("desk.off.undo"), BACK_KEY, shelving.put_back)] if shelving.gone else []
    right = line.right
    for name, label, cap, act in ways:
        wide = canvas.width(label, fonts.ROMAN, 0.95) + controls.key_width(cap) + 4
        place = Rect(right - wide, line.top, wide, line.height)
        right = place.left - round(1.2 * canvas.unit)
        if right < line.left + canvas.width(say("desk.shelf"), fonts.ITALIC, 1.05):
            controls.order(name, cap, act)
        else:
            controls.link(name, place, label, act, key=cap, align=AT_RIGHT)


def _link_player(desk: Desk, canvas: Canvas, controls: Controls, line: Rect, heading: bool = True) -> None:
    """Whose Desk it is, where several play here; its key lets the next of them sit down."""
    if len(desk.players) < 2:
        return
    taken = canvas.width(say("desk.today"), fonts.ITALIC, 1.05) + round(canvas.unit) if heading else 0
    room = line.width - taken - controls.key_width("y") - 4
    label = next((one for one in _called(desk.house.player) if canvas.width(one, fonts.ROMAN, 0.95) <= room), "")
    if not label:
        controls.order("player", "y", desk.next_player)
        return
    wide = canvas.width(label, fonts.ROMAN, 0.95) + controls.key_width("y") + 4
    place = Rect(line.right - wide, line.top, wide, line.height)
    controls.link("player", place, label, desk.next_player, key="y", align=AT_RIGHT)


def _called(name: str) -> Iterator[str]:
    """A name and its shorter forms, the longest first: Zoë O’Brien, Zoë O., Zoë, Z."""
    words = name.split()
    yield name
    if len(words) > 1:
        yield f"{words[0]} {words[-1][0]}."
        yield words[0]
    yield f"{name[:1]}."


def _lay_recent(desk: Desk, canvas: Canvas, controls: Controls, room: Rect) -> None:
    u = canvas.unit
    if not desk.recent and not desk.house.ready:
        return
    if not desk.recent:
        said = canvas.words("recent.empty", room, say("desk.recent.empty"), size=1.05, lines=4, stand=TOP)
        label = say("desk.watch")
        wide = min(room.width, controls.button_width(label, "w"))
        button = Rect(room.left, said.bottom + round(0.9 * u), wide, round(1.9 * u))
        controls.button("watch", button, label, desk.house.rounds.watch_bundled, key="w")
        return

    def draw(at: int, row: Rect) -> None:
        take = desk.recent[at]
        inner = row.inflate(-round(1.1 * u), 0)
        marked = take.accuracy is not None
        words = "desk.take" if take.is_most else "desk.take.part"
        words = "desk.take.elsewhere" if take.id in desk.elsewhere else words
        said = say(words, accuracy=f"{take.accuracy:.0%}") if marked else say("desk.take.cut")
        when = f"{said} · {day_words(take.began.date())}"
        wide = min(canvas.width(when, fonts.ITALIC, 0.92) + 4, round(inner.width * 0.5))
        canvas.words(f"recent.{at}.when", Rect(inner.right - wide, inner.top, wide, inner.height), when,
                     style=fonts.ITALIC, size=0.92, colour="graphite", align=AT_RIGHT, least=0.75)  # fmt: skip
        place = Rect(inner.left, inner.top, inner.width - wide - 6, inner.height)
        letters = desk.house.settings.letters
        key = Key.parse(take.target)
        title = key_in(take.title, key, letters) if take.kind == PATTERN else take.title
        titled.lay(canvas, f"recent.{at}.title", place, title, size=1.02, after=key_name(key, letters))

    controls.rows("recent", room, len(desk.recent), desk.took, round(1.75 * u), draw, partial(setattr, desk, "took"),
                  desk.open_take, keep=False)  # fmt: skip
    desk.erasing.offer(controls)


def _lay_shelf(desk: Desk, canvas: Canvas, controls: Controls, room: Rect) -> None:
    u = canvas.unit
    filters, _, listed = layout.rows(room, [round(2.75 * u), round(0.5 * u), 0])
    share = 0.31 if filters.width > 34 * u else 0.26
    find, *places = layout.columns(filters, [round(filters.width * share), *(0 for _ in FILTERS)], round(1.0 * u))
    entry_box = Rect(find.left, find.bottom - round(1.75 * u), find.width, round(1.75 * u))
    shown, choose = desk.shown, partial(setattr, desk, "chosen")
    controls.entry("find", entry_box, desk.find, desk.search, key="/", hint=say("desk.find"),
                   afresh=True, among=("shelf", len(shown), desk.chosen, choose))  # fmt: skip
    for (name, (key, values)), place in zip(FILTERS.items(), places, strict=True):
        at = list(values).index(desk.filters[name])
        words = [say(one) for one in values.values()]
        controls.choice(f"filter.{name}", place, say(f"desk.{name}"), words, at, partial(desk.filter, name), key=key,
                        size=1.0)  # fmt: skip
    if not shown:
        said = _nothing(desk) if desk.entries else desk.house.shelf_trouble or say("desk.shelf.reading")
        canvas.words("shelf.none", listed, said, size=1.05, lines=3, stand=TOP)
        return
    wide_level = max(canvas.width(say(f"level.{one}"), fonts.ITALIC, 0.95) for one in LEVELS) + round(u)
    wide_key = canvas.width("B♭ major", fonts.ROMAN, 1.0) + round(u)

    def draw(at: int, row: Rect) -> None:
        _lay_entry(canvas, at, row, shown[at], desk.house.settings.letters, (wide_level, wide_key))

    controls.rows("shelf", listed, len(shown), desk.chosen, round(1.95 * u), draw, choose, desk.start,
                  partial(desk.step_target, -1), partial(desk.step_target, 1))  # fmt: skip


def _nothing(desk: Desk) -> str:
    """Why the shelf shows nothing, and what to do about it."""
    if not desk.find:
        return say("desk.shelf.none")
    filtered = any(value != ANY for value in desk.filters.values())
    return say("desk.shelf.unfound.filtered" if filtered else "desk.shelf.unfound", words=desk.find)


def _lay_entry(canvas: Canvas, at: int, row: Rect, entry: Entry, letters: str, wide: tuple[int, int]) -> None:
    """One piece of the shelf: title, by whom where there is room, level, key."""
    u = canvas.unit
    inner = row.inflate(-round(1.2 * u), 0)
    key = Rect(inner.right - wide[1], inner.top, wide[1], inner.height)
    level = Rect(key.left - wide[0], inner.top, wide[0], inner.height)
    title = Rect(inner.left, inner.top, level.left - inner.left - round(0.6 * u), inner.height)
    extent = titled.lay(canvas, f"shelf.{at}.title", title, entry.title, size=1.1)
    left = extent.right + round(0.7 * u)
    names = [entry.composer, entry.composer.rpartition(" ")[2]]
    if entry.sung:
        names = [*(f"{name} · {say(f'shelf.{entry.sung}')}" for name in names if name), say(f"shelf.{entry.sung}")]
    by = _fitting(canvas, names, title.right - left)
    if by:
        after = Rect(left, inner.top, title.right - left, inner.height)
        canvas.words(f"shelf.{at}.by", after, by, style=fonts.ITALIC, size=0.95, colour="graphite")
    canvas.words(f"shelf.{at}.level", level, say(f"level.{entry.level}"), style=fonts.ITALIC, size=0.95,
                 colour="graphite")  # fmt: skip
    canvas.words(f"shelf.{at}.key", key, key_name(Key.parse(entry.key), letters), size=1.0, align=AT_RIGHT)


def _fitting(canvas: Canvas, names: Sequence[str], room: int) -> str:
    """The first name there is room for; empty for none."""
    return next((name for name in names if name and canvas.width(name, fonts.ITALIC, 0.95) <= room), "")


def _lay_card(desk: Desk, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    entry = desk.entry
    u = canvas.unit
    if entry is None:
        return
    canvas.panel("card", rect, "faint", "rule", 0.6)
    letters = desk.house.settings.letters
    inner = rect.inflate(-round(1.8 * u), -round(1.1 * u))
    about = " · ".join([
        say("desk.written", key=key_name(Key.parse(entry.key), letters)),
        *([say(f"shelf.{entry.sung}")] if entry.sung else []), say(f"shelf.{entry.hands}"),
        say("desk.bars", bars=entry.printed),
    ])  # fmt: skip
    # Where both do not stand beside each other at a size that can be read they take two lines, if the choices under
    # them keep their size; else the title is shortened.
    need = canvas.width(entry.title.split(" (")[0], fonts.BOLD, 1.1) + canvas.width(about, fonts.ITALIC, 0.9) + u
    two = need > inner.width and inner.height >= _TWO_LINES * u
    head, _, fields, _, foot = layout.rows(
        inner, [round((3.0 if two else 1.5) * u), round(0.25 * u), 0, round(0.4 * u), round(1.9 * u)]
    )
    first, second = layout.rows(head, [0, 0]) if two else (head, head)
    if two:
        titled.lay(canvas, "card.title", first, entry.title, size=1.25, style=fonts.BOLD)
        after = second
    else:
        aside = canvas.width(about, fonts.ITALIC, 1.0) + round(u)
        front = Rect(head.left, head.top, max(head.width - aside, round(head.width * 0.45)), head.height)
        title = titled.lay(canvas, "card.title", front, entry.title, size=1.25, style=fonts.BOLD)
        after = Rect(title.right + round(u), head.top, head.right - title.right - round(u), head.height)
    canvas.words("card.about", after, about, style=fonts.ITALIC, size=1.0, colour="graphite",
                 align=AT_LEFT if two else AT_RIGHT, least=0.7)  # fmt: skip
    _lay_ways(desk, canvas, controls, fields, entry)
    _lay_orders(desk, canvas, controls, foot, desk.transposition(entry).words)


def _lay_ways(desk: Desk, canvas: Canvas, controls: Controls, rect: Rect, entry: Entry) -> None:
    """The four choices: target key, octave, way to practise, hands; in two rows where one would be too narrow."""
    u = canvas.unit
    names = [key_name(one, desk.house.settings.letters) for one in desk.targets(entry)]
    gap = round(1.1 * u)
    if rect.width < 34 * u and rect.height > 5.2 * u:
        upper, lower = layout.rows(rect, [0, 0], round(0.3 * u))
        places = [*layout.columns(upper, [0, 0], gap), *layout.columns(lower, [0, 0], gap)]
    else:
        places = layout.columns(rect, [round(rect.width * 0.29), 0, 0, 0], gap)
    fields = (
        ("target", "key", "k", names, 1.5, fonts.BOLD),
        ("octave", "octave", "o", [say(f"octave.{one}") for one in OCTAVES], 1.05, fonts.ROMAN),
        ("practice", "practice", "m", [say(f"mode.{one}") for one in WAYS], 1.05, fonts.ITALIC),
    )
    for (name, label, key, values, size, style), place in zip(fields, places, strict=False):
        at = getattr(desk, name) % len(values)
        controls.choice(label, place, say(f"desk.{label}"), values, at, partial(setattr, desk, name), key=key,
                        size=size, style=style)  # fmt: skip
    offered = desk.hands_for(entry)
    controls.choice("hands", places[3], say("desk.hands"), [say(f"hand.{one}") for one in offered],
                    offered.index(desk.asked_hands(entry)), lambda at: desk.choose_hands(offered[at]), key="h",
                    size=1.05)  # fmt: skip


def _lay_orders(desk: Desk, canvas: Canvas, controls: Controls, foot: Rect, moved: str) -> None:
    """What is asked for in words, and the buttons."""
    u = canvas.unit
    label = say("desk.start")
    wide = min(controls.button_width(label, "return", 1.1) + round(u), round(foot.width * 0.5))
    start = Rect(foot.right - wide, foot.top, wide, foot.height)
    left = start.left
    # Places are given away from the right, the main button's first; laid, and so tabbed through, from the left.
    orders: list[tuple[str, str, Callable[[], None], Rect | None]] = []
    for name, key, act, least in (("print", "p", desk.choose_sheet, 8), ("set", "s", desk.choose_work, 7)):
        wide = controls.button_width(say(f"desk.{name}"), key, 0.95)
        place = Rect(left - wide - round(0.7 * u), foot.top, wide, foot.height)
        room = place.left - foot.left > least * u
        left = place.left if room else left
        orders.insert(0, (name, key, act, place if room else None))
    for name, key, act, shown in orders:
        if shown:
            controls.button(name, shown, say(f"desk.{name}"), act, key=key, size=0.95)
        else:
            controls.order(name, key, act)
    key = "" if _enters(controls) else "return"
    controls.button("start", start, label, desk.start, key=key, main=True, size=1.1)
    free = Rect(foot.left, foot.top, min(foot.width, left - foot.left) - round(u), foot.height)
    canvas.words("card.moved", free, moved, style=fonts.ITALIC, size=1.05, colour="graphite", lines=2, least=0.6)
