"""How Setup looks: four sections of choices, each with what its button found last."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.hands.position import widest
from trainer.music.counted import many
from trainer.window import masthead
from trainer.window.paint import fonts, layout
from trainer.window.paint.canvas import TOP, Canvas
from trainer.window.paint.controls import Controls
from trainer.window.places import home
from trainer.window.setup.setupfields import SECTIONS, Field, fields
from trainer.window.strings import say

if TYPE_CHECKING:
    from trainer.window.setup.setup import Setup

# Units under the fields of the upper sections, the same for both: their rows stand in line.
_UNDER = 1.9
# What the upper and the lower sections need, in units, and the air between them.
_UPPER, _LOWER, _BETWEEN = 12.6, 15.7, 0.8


def lay(screen: Setup, canvas: Canvas, controls: Controls) -> None:
    """Lay all sections, or one at a time where there is no room."""
    places = masthead.lay(screen.house, canvas, controls, "setup")
    u = canvas.unit
    if screen.clicking:
        controls.order("tap.space", "space", screen.tap_here)
    sections = (_lay_piano, _lay_page, _lay_practice, _lay_player)
    if masthead.is_tight(places.body, canvas) or places.body.height < (_UPPER + _BETWEEN + _LOWER) * u:
        names = [f"setup.{section}" for section in SECTIONS]
        body = masthead.parts(canvas, controls, places.body, names, screen.part, partial(setattr, screen, "part"))
        sections[screen.part](screen, canvas, controls, body)
    else:
        for at, place in enumerate(_sections(canvas, places.body)):
            head = Rect(place.left, place.top, place.width, round(1.5 * u))
            canvas.words(f"setup.{at}.head", head, say(f"setup.{SECTIONS[at]}"), style=fonts.ITALIC, size=1.15,
                         colour="brass")  # fmt: skip
            canvas.rule(f"setup.{at}.rule", Rect(place.left, head.bottom, place.width, 1))
            top = head.bottom + round(0.7 * u)
            room = Rect(place.left, top, place.width, place.bottom - top)
            sections[at](screen, canvas, controls, room)
    if not screen.house.notice:
        masthead.lay_quiet(canvas, places, screen.quiet())


def _sections(canvas: Canvas, body: Rect) -> list[Rect]:
    """Where the sections stand, in their order: two beside two, or all under each other in a tall window."""
    u = canvas.unit
    if layout.is_tall(canvas):
        return layout.rows(body, [0, 0, 0, 0], round(_BETWEEN * u))
    # The lower sections have more to say.
    upper = round(min(13.9 * u, body.height - (_BETWEEN + _LOWER) * u))
    left, right = layout.columns(body, [0, 0], round(2.6 * u))
    pairs = (layout.rows(column, [upper, 0], round(_BETWEEN * u)) for column in (left, right))
    return [place for pair in zip(*pairs, strict=True) for place in pair]


def _measures(canvas: Canvas) -> tuple[float, float, float]:
    """How high a field is, the most air under it, both in units, and the size of its value: more in a tall window."""
    return (3.1, 1.0, 1.25) if layout.is_tall(canvas) else (2.65, 0.6, 1.1)


def _lay_fields(canvas: Canvas, controls: Controls, rect: Rect, shown: Sequence[Field], below: float) -> Rect:
    """Fields in rows of two, a little closer where `below` units under them would not fit; returns what is left."""
    u = canvas.unit
    tall, most, size = _measures(canvas)
    high = round(tall * u)
    across = 2 if rect.width < 40 * u or layout.is_tall(canvas) else 3
    rows = -(-len(shown) // across)
    gap = round(max(0.15 * u, min(most * u, (rect.height - below * u - rows * high) / rows)))
    for at, one in enumerate(shown):
        row, column = divmod(at, across)
        line = Rect(rect.left, rect.top + row * (high + gap), rect.width, high)
        place = layout.columns(line, [0] * across, round(1.6 * u))[column]

        def choose(index: int, one: Field = one) -> None:
            one.choose(one.values[index])

        controls.choice(one.name, place, say(f"setup.{one.name}"), one.shown, one.at, choose, key=one.key,
                        size=size)  # fmt: skip
    top = rect.top + rows * (high + gap)
    return Rect(rect.left, top, rect.width, rect.bottom - top)


def far(moved: int) -> str:
    """How far keys are moved.

    >>> far(-1), far(3)
    ('1 semitone lower', '3 semitones higher')
    """
    return f"{many(abs(moved), 'semitone')} {'lower' if moved < 0 else 'higher'}"


def _lay_piano(screen: Setup, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    rest = _lay_fields(canvas, controls, rect, fields(screen, "piano"), _UNDER)
    moved = screen.house.settings.piano_transposes
    label = say("setup.stop") if screen.finding else say("setup.find")
    said = say("setup.transposes.none") if not moved else say("setup.transposes", far=far(moved))
    _lay_act(canvas, controls, _top(rest, u), ("find", label, "v", said,
                                                    screen.find))  # fmt: skip


def _lay_page(screen: Setup, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    rest = _lay_fields(canvas, controls, rect, fields(screen, "page"), _UNDER)
    if rest.height > 1.2 * canvas.unit:
        room = Rect(rest.left, rest.top, rest.width, min(rest.height, round(2.6 * canvas.unit)))
        canvas.words("page.keys", room, say("setup.page.keys"), style=fonts.ITALIC, size=0.95, colour="graphite",
                     lines=2, stand=TOP, least=0.7)  # fmt: skip


def _lay_practice(screen: Setup, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    rest = _lay_fields(canvas, controls, rect, fields(screen, "practice"), 4.6)
    label = say("setup.stop") if screen.clicking else say("setup.tap")
    offset = screen.house.settings.click_offset_ms
    said = say("setup.offset", ms=f"{offset:+d}") if offset else say("setup.offset.none")
    line = _top(rest, u)
    _lay_act(canvas, controls, line, ("tap", label, "b", said, screen.tap))
    air = round(0.4 * u)
    room = Rect(rest.left, line.bottom + air, rest.width, rest.bottom - line.bottom - air)
    if room.height < 2.2 * u:
        # The fields leave the place of a sixth one free.
        half = (rect.width - round(1.6 * u)) // 2
        room = Rect(rect.right - half, rest.top - round(2.75 * u), half, round(2.6 * u))
    size = screen.house.settings.hand_size
    named = say(f"setup.hand_size.{size}")
    words = say("setup.hand", size=named, wide=_article(widest(size)), easy=_article(widest(size, True)))
    canvas.words("practice.hand", room, words, style=fonts.ITALIC, size=0.95, colour="graphite", lines=4,
                 stand=TOP, least=0.5)  # fmt: skip


def _lay_act(
    canvas: Canvas, controls: Controls, line: Rect, act: tuple[str, str, str, str, Callable[[], None]]
) -> None:
    """A button with what it found last beside it."""
    name, label, key, said, do = act
    u = canvas.unit
    wide = min(controls.button_width(label, key, 0.95), round(line.width * 0.6))
    button = Rect(line.left, line.top, wide, line.height)
    controls.button(name, button, label, do, key=key, size=0.95)
    after = Rect(button.right + round(0.8 * u), line.top, line.right - button.right - round(0.8 * u), line.height)
    canvas.words(f"{name}.said", after, said, style=fonts.ITALIC, size=0.95, colour="graphite", lines=2, least=0.6)


def _lay_player(screen: Setup, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    tall, most, size = _measures(canvas)
    high = round(tall * u)
    air = round(max(0.15 * u, min(most * u, (rect.height - 2 * high - 4.2 * u) / 3)))
    who, _, place, _, orders, _, sheets = layout.rows(rect, [high, air, round(2.4 * u), air, round(1.8 * u), air, high])
    left, right = layout.columns(who, [0, 0], round(1.6 * u))
    one, into = fields(screen, "player")
    controls.choice("player", left, say("setup.player.who"), one.shown, one.at,
                    lambda at: screen.switch(screen.players[at]), key=one.key, size=size)  # fmt: skip
    add = say("setup.player.add"), screen.add_player
    _lay_entry(canvas, controls, right, "fresh", screen.fresh, screen.type_name, "n", say("setup.player.new"), add)
    shown = screen.house.trouble or say("setup.where", path=home(screen.journal_path))
    canvas.words("setup.where", place, shown, size=0.95, colour="graphite", style=fonts.ITALIC, lines=2, stand=TOP,
                 least=0.6)  # fmt: skip
    if screen.asking:
        _lay_question(screen, canvas, controls, Rect(orders.left, orders.top, orders.width, rect.bottom - orders.top))
        return
    x = orders.left
    for name, key, act in (
        ("handing", "f", partial(screen.house.go, "handing")),
        ("export", "x", screen.export),
        ("erase", "d", screen.ask_erase),
    ):
        label = say(f"setup.{name}")
        wide = min(controls.button_width(label, key, 0.95), orders.right - x)
        controls.button(name, Rect(x, orders.top, wide, orders.height), label, act, key=key, size=0.95)
        x += wide + round(0.6 * u)
    left, right = layout.columns(sheets, [0, 0], round(1.6 * u))
    controls.choice("sheets", left, say("setup.sheets"), into.shown, into.at,
                    lambda at: into.choose(into.values[at]), key=into.key, size=size)  # fmt: skip
    use = say("setup.sheets.use"), screen.use_folder
    _lay_entry(
        canvas, controls, right, "folder", screen.folder, screen.type_folder, "w", say("setup.sheets.other"), use
    )


def _lay_entry(
    canvas: Canvas,
    controls: Controls,
    rect: Rect,
    name: str,
    text: str,
    change: Callable[[str], None],
    key: str,
    hint: str,
    act: tuple[str, Callable[[], None]],
) -> None:
    """A line to type on, and a button once something stands there."""
    u = canvas.unit
    label, do = act
    wide = controls.button_width(label, "return", 0.95) if text.strip() else 0
    line = Rect(rect.left, rect.bottom - round(1.75 * u), rect.width - wide - (round(0.5 * u) if wide else 0),
                round(1.75 * u))  # fmt: skip
    controls.entry(name, line, text, change, key=key, hint=hint)
    if wide:
        button = Rect(rect.right - wide, line.top, wide, line.height)
        controls.button(f"{name}.do", button, label, do, key="return", size=0.95)


def _lay_question(screen: Setup, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    yes, no = say("setup.erase.yes"), say("setup.erase.no")
    wides = [controls.button_width(yes, "delete"), controls.button_width(no, "escape")]
    words = Rect(
        rect.left, rect.top, rect.width, min(round(2.6 * u), max(round(1.2 * u), rect.height - round(2.2 * u)))
    )
    canvas.words("erase.ask", words, say("setup.erase.ask", player=screen.house.player), size=1.0, lines=2,
                 stand=TOP, least=0.6)  # fmt: skip
    top = min(words.bottom + round(0.2 * u), rect.bottom - round(1.8 * u))
    button = Rect(rect.left, top, wides[0], round(1.8 * u))
    controls.button("erase.no", Rect(button.right + round(0.6 * u), top, wides[1], button.height), no,
                    screen.ask_erase, key="escape", main=True)  # fmt: skip
    controls.button("erase.yes", button, yes, screen.erase, key="delete")


def _top(rect: Rect, u: float) -> Rect:
    """A line for a button at the top of what is left."""
    return Rect(rect.left, rect.top + round(0.1 * u), rect.width, round(1.8 * u))


def _article(interval: str) -> str:
    return f"{'an' if interval[0] in 'aeio' else 'a'} {interval}"
