"""How the Stand looks: every box of it, laid from the state `stand` holds."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.listening.clock import now
from trainer.listening.typing import KEYS as TYPED_KEYS
from trainer.music.piece import BOTH
from trainer.music.solfege import do_of
from trainer.session import PRIMA_VISTA, SENZA_MISURA
from trainer.window import chordrow, clefrow, fonts, keyboard, layout, punctual, sheetmusic, staff, tuning
from trainer.window.canvas import BOTTOM, CENTRE, OVER, RIGHT, TOP, Canvas
from trainer.window.controls import Control, Controls
from trainer.window.music import Score
from trainer.window.practice import ENDED, LOOKING, Wish
from trainer.window.strings import key_name, letter_name, say

if TYPE_CHECKING:
    from trainer.window.stand import Stand


# Up to this text scale there is room for everything.
_ROOMY = 1.3


def lay(stand: Stand, canvas: Canvas, controls: Controls, places: layout.StandPlaces) -> None:
    """Lay the whole screen."""
    assert stand.practice is not None
    state = (id(stand.practice.wish), stand.house.settings, stand.practice.phase, _mode_words(stand), _bar_words(stand))
    canvas.again("stand.head", state, partial(_head, stand, canvas, places))
    canvas.rule("head.rule", places.rule)
    if stand.tuning:
        # The arrows belong to the card's fields now.
        tuning.lay(stand, canvas, controls, places.music)
    else:
        _hints(stand, canvas, controls, places.hints)
        if stand.keys_shown:
            _all_keys(stand, canvas, controls, places.music)
        else:
            _music(stand, canvas, places)
    if places.margin is not None and places.margin_rule is not None:
        canvas.rule("margin.rule", places.margin_rule)
        _margin(stand, canvas, places.margin)
    if stand.correcting.on:
        stand.correcting.caption(canvas, places.caption)
    else:
        _caption(stand, canvas, places.caption)
    _keys(stand, canvas, places.keys)


# Head


def _head(stand: Stand, canvas: Canvas, places: layout.StandPlaces) -> None:
    assert stand.practice is not None
    wish = stand.practice.wish
    letters = stand.house.settings.letters
    canvas.words("head.title", places.title, wish.piece.title, size=1.5, least=0.6)
    source = wish.piece.composer or wish.piece.origin
    about = " · ".join(part for part in (source, say(f"level.{wish.level}"), _hands_words(wish)) if part)
    if canvas.scale <= _ROOMY:
        canvas.words("head.about", places.about, about, style=fonts.ITALIC, size=1.03, colour="graphite", least=0.8)
    _target(canvas, places, wish, letters)
    canvas.words("head.mode", places.mode, _mode_words(stand), style=fonts.ITALIC, size=1.2, align=RIGHT, least=0.5)
    canvas.words("head.place", places.place, _bar_words(stand), size=1.08, colour="graphite", align=RIGHT)


def _mode_words(stand: Stand) -> str:
    assert stand.practice is not None
    wish = stand.practice.wish
    mode = say(f"mode.{wish.mode}")
    if wish.mode == SENZA_MISURA:
        return mode
    return f"{mode}   ♩ = {wish.tempo:.0f}" if _beat_is_quarter(wish) else f"{mode}   ♩. = {wish.tempo:.0f}"


def _hands_words(wish: Wish) -> str:
    hands = wish.hands if len(wish.piece.hands) > 1 else wish.piece.hands[0] if wish.piece.hands else BOTH
    return say(f"stand.hands.{hands}")


def _beat_is_quarter(wish: Wish) -> bool:
    return not wish.piece.bars or wish.piece.bars[0].beat_quarters == 1


def _target(canvas: Canvas, places: layout.StandPlaces, wish: Wish, letters: str) -> None:
    key = key_name(wish.plan.target, letters)
    before = say("stand.play-in") + " "
    area = places.key
    if canvas.scale > _ROOMY:
        # Large text: the signature's place goes to the key's name.
        area = Rect(area.left, area.top, places.signature.right - area.left, area.height)
    size, beside = 2.75, 1.25
    small = canvas.width(before, fonts.ITALIC, beside)
    while size > 0.9 and (small + canvas.width(key, fonts.BOLD, size) > area.width or size * canvas.unit > area.height):
        size -= 0.05
        beside = min(1.25, size * 0.6)
        small = canvas.width(before, fonts.ITALIC, beside)
    wide = canvas.width(key, fonts.BOLD, size)
    right = area.right
    name = Rect(right - wide - 2, area.top, wide + 2, area.height)
    canvas.words("head.key", name, key, style=fonts.BOLD, size=size, align=RIGHT, least=0.5)
    left = Rect(
        area.left,
        area.top + round(size * canvas.unit * 0.16),
        max(10, name.left - area.left - round(canvas.unit * 0.3)),
        area.height,
    )
    canvas.words(
        "head.play-in", left, before.strip(), style=fonts.ITALIC, size=beside, colour="graphite", align=RIGHT, least=0.5
    )
    if canvas.scale <= _ROOMY:
        staff.lay_signature(canvas, "head.signature", places.signature, wish.plan.target)
    written = say("stand.written-in", key=key_name(wish.piece.key, letters))
    moved = wish.plan.interval.words
    said = f"{written}\n{moved}" if canvas.scale <= _ROOMY else moved
    canvas.words("head.written", places.written, said, style=fonts.ITALIC, size=1.03,
                 colour="graphite", lines=2, least=0.7)  # fmt: skip


def _bar_words(stand: Stand) -> str:
    assert stand.practice is not None
    if stand.practice.phase == LOOKING:
        return say("stand.look", seconds=max(0, round(stand.look_until - now())))
    piece = stand.practice.wish.piece
    moments = piece.moments
    if not moments:
        return ""
    onset = moments[min(stand.place, len(moments) - 1)].onset
    return say("stand.bar", bar=piece.bar_at(onset).number, bars=piece.bars[-1].number)


# Music


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


def _music(stand: Stand, canvas: Canvas, places: layout.StandPlaces) -> None:
    assert stand.practice is not None
    wish = stand.practice.wish
    score = stand.score
    if score is None or score.piece is not wish.piece:
        canvas.words("music.waiting", places.music, say("stand.engraving"), style=fonts.ITALIC, size=1.2,
                     colour="graphite", align=CENTRE)  # fmt: skip
        return
    showing_glimpse = stand.glimpsing and stand.glimpse is not None
    page = stand.glimpse if showing_glimpse and stand.glimpse is not None else score
    slots = min(stand.slots, len(page.systems))
    shown = shown_systems(page, stand.place, slots)
    below = 0 if showing_glimpse else stand.below(canvas)
    corners = slot_corners(places.music, page, shown, below)
    ribbons = stand.ribbons()
    setting = stand.setting()
    for at, corner in zip(shown, corners, strict=True):
        system = page.systems[at]
        sheetmusic.lay_system(canvas, at, system, corner, "glimpse" if showing_glimpse else "music")
        if showing_glimpse:
            continue
        line = ribbons.of(at)
        canvas.again(
            f"ribbon.{at}", (id(line), corner), partial(sheetmusic.lay_ribbon, canvas, at, line, corner, setting.size)
        )
        if stand.marking is not None:
            sheetmusic.lay_right(canvas, at, system, stand.marking.right[at], corner)
        _rows(stand, canvas, places, score, at, corner)
        sheetmusic.lay_veils(canvas, at, system, corner, setting, wish.piece)
        if stand.marking is not None:
            sheetmusic.lay_strokes(canvas, at, stand.marking.strokes[at], corner)
    if not showing_glimpse and not stand.correcting.on:
        _place_line(stand, canvas, score, shown, corners)


def _rows(
    stand: Stand, canvas: Canvas, places: layout.StandPlaces, score: Score, at: int, corner: tuple[int, int]
) -> None:
    """The chords under a system and the clefs to imagine before it, where they are wished."""
    assert stand.practice is not None
    wish, system = stand.practice.wish, score.systems[at]
    readings = stand.readings
    if readings is not None:
        room = places.music.left - layout.air(canvas)
        state = (id(score), corner, room, id(readings))
        canvas.again(f"clefs.{at}", state, partial(clefrow.lay, canvas, at, score, corner, room, readings))
    if stand.below(canvas):
        found = stand.chords.of(wish.piece)
        row = tuple(chordrow.entries(score, found, at, wish.plan.interval))
        canvas.again(f"chords.{at}", (row, corner), partial(chordrow.lay, canvas, at, row, corner, system.size))
        if stand.correcting.on:
            stand.correcting.lay(canvas, score, at, corner)


def slot_corners(room: Rect, score: Score, shown: list[int], below: int = 0) -> list[tuple[int, int]]:
    """Top left corners of the shown systems: shared out over the height, the air between them even.

    `below` pixels stay free under each of them.
    """
    heights = [score.systems[at].size[1] + below for at in shown]
    tallest = max(system.size[1] for system in score.systems) + below
    if len(shown) == 1:
        return [(room.left, room.top + max(0, round((room.height - heights[0]) * 0.4)))]
    air = max(0.0, (room.height - 2 * tallest) / 3)
    found = []
    for slot, high in enumerate(heights):
        top = room.top + air + slot * (tallest + air) + (tallest - high) / 2
        found.append((room.left, round(top)))
    return found


def _place_line(stand: Stand, canvas: Canvas, score: Score, shown: list[int], corners: list[tuple[int, int]]) -> None:
    practice = stand.practice
    assert practice is not None
    heard = stand.hearing.place
    clock = stand.music_now() if heard is None else heard
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
        sheetmusic.lay_hairline(canvas, score.systems[at], x, corner)
        _count(stand, canvas, score, at, x, corner)


def _count(stand: Stand, canvas: Canvas, score: Score, at: int, x: float, corner: tuple[int, int]) -> None:
    """The beat of the count-in, large, over the place."""
    beat = stand.counting()
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


# Margin


def _margin(stand: Stand, canvas: Canvas, rect: Rect) -> None:
    practice = stand.practice
    assert practice is not None
    u = canvas.unit
    figures_high = min(round(9.6 * u), round(rect.height * 0.55))
    top = Rect(rect.left, rect.top, rect.width, rect.height - figures_high - round(u * 0.6))
    figures = Rect(rect.left, rect.bottom - figures_high, rect.width, figures_high)
    head = Rect(top.left, top.top, top.width, round(1.3 * u))
    canvas.words("margin.head", head, say("margin.head"), style=fonts.ITALIC, size=1.0, colour="graphite")
    y = head.bottom + round(u * 0.35)
    readings = stand.readings
    if readings is not None and not stand.slips:
        _clef_words(canvas, Rect(top.left, y, top.width, max(round(u), top.bottom - y)), readings)
    elif not stand.slips and not practice.presses:
        empty = Rect(top.left, y, top.width, max(round(u), top.bottom - y))
        prompt = "margin.look" if practice.phase == LOOKING else "margin.empty"
        words = say("stand.chord.margin" if stand.correcting.on else prompt)
        canvas.words("margin.empty", empty, words, size=1.0, colour="graphite", lines=9, stand=TOP)
    shown = stand.slips[-3:]
    for number, (where, what) in enumerate(shown):
        number += len(stand.slips) - len(shown)
        room = top.bottom - y
        if where and room > 2.4 * u:
            line = Rect(top.left, y, top.width, round(1.2 * u))
            canvas.words(f"margin.{number}.where", line, where, style=fonts.BOLD, size=1.05, colour="blue", least=0.7)
            y = line.bottom
        lines = max(1, min(4, int((top.bottom - y) / (1.17 * u))))
        if top.bottom - y < 1.1 * u:
            break
        said = Rect(top.left, y, top.width, round(lines * 1.18 * u))
        extent = canvas.words(f"margin.{number}.what", said, what, size=1.03, lines=lines, stand=TOP, least=0.85)
        y = extent.bottom + round(0.5 * u)
    _figures(stand, canvas, figures)


def _clef_words(canvas: Canvas, rect: Rect, readings: clefrow.Readings) -> None:
    """What to imagine, in words, until there are slips to tell."""
    u = canvas.unit
    changed, lines = readings.words
    y = rect.top
    said = [*lines, f"{changed}." if changed else say("stand.clef.plain")]
    if canvas.scale > _ROOMY:
        said = [readings.short[1]]
    for number, words in enumerate(said):
        room = rect.bottom - y
        if room < 1.1 * u:
            return
        lines_free = max(1, min(5, int(room / (1.17 * u))))
        place = Rect(rect.left, y, rect.width, round(lines_free * 1.18 * u))
        extent = canvas.words(f"margin.clef.{number}", place, words, size=1.0, lines=lines_free, stand=TOP, least=0.8)
        y = extent.bottom + round(0.45 * u)


def _figures(stand: Stand, canvas: Canvas, rect: Rect) -> None:
    practice = stand.practice
    assert practice is not None
    timing = practice.timing
    pulse = say("margin.none")
    if timing.pulse_bpm is not None:
        pulse = f"{timing.pulse_bpm:.0f}"
        if timing.steadiness is not None:
            word = "steady" if timing.steadiness >= 0.93 else "moving" if timing.steadiness >= 0.85 else "uneven"
            pulse = say("margin.pulse.value", pulse=pulse, steadiness=say(f"margin.{word}"))
    right = sum(1 for mark in practice.marks if mark.cause == "right")
    cost = stand.house.rounds.cost_of(practice)
    written = key_name(practice.wish.piece.key, stand.house.settings.letters)
    rows = [
        (say("margin.right"), say("margin.right.value", right=right, played=len(practice.marks))),
        (say("margin.pulse"), pulse),
        (say("margin.cost", key=written), say("margin.cost.value", cost=f"{cost:.1f}") if cost else say("margin.none")),
    ]
    click = punctual.middle(timing)
    if click:
        rows[-1] = (say("margin.click"), click)
    # With large text only the first figures have room.
    rows = rows[: max(1, round(rect.height // (canvas.unit * 2.4)))]
    places = layout.rows(rect, [0] * len(rows), canvas.unit * 0.25)
    for number, ((label, value), place) in enumerate(zip(rows, places, strict=True)):
        above, below = layout.rows(place, [place.height * 0.44, place.height * 0.56])
        canvas.words(
            f"margin.figure.{number}.label", above, label, style=fonts.ITALIC, size=1.0, colour="graphite", stand=BOTTOM
        )
        canvas.words(f"margin.figure.{number}", below, value, size=1.3, least=0.65)


# Foot


def _caption(stand: Stand, canvas: Canvas, rect: Rect) -> None:
    assert stand.practice is not None
    wish = stand.practice.wish
    settings = stand.house.settings
    quiet = stand.hearing.prompt or (stand.house.notice.words if stand.house.notice else "")
    if stand.glimpsing:
        quiet = say("stand.glimpsed", key=key_name(wish.plan.target, settings.letters))
    if not quiet:
        quiet = _steering_words(stand)
    wide = min(canvas.width(quiet, fonts.ITALIC, 0.95) + 4, round(rect.width * 0.62))
    right = Rect(rect.right - wide, rect.top, wide, rect.height)
    left = Rect(rect.left, rect.top, rect.width - wide - round(canvas.unit), rect.height)
    readings = stand.readings
    changed = ""
    if readings is not None:
        changed = readings.words[0] if canvas.scale <= _ROOMY else readings.short[0]
    if wish.mode != PRIMA_VISTA:
        said = changed or _position_words(wish, settings.minor, settings.letters)
        canvas.words("foot.position", left, said, size=0.97, colour="graphite", least=0.75)
    canvas.words("foot.quiet", right, quiet, style=fonts.ITALIC, size=0.95, colour="graphite", align=RIGHT, least=0.8)


def _steering_words(stand: Stand) -> str:
    if stand.house.no_piano:
        return say("stand.typed") if stand.typing else say("stand.typing.off")
    return say("stand.steer") if stand.house.settings.steering else ""


def _position_words(wish: Wish, minor: str, letters: str) -> str:
    do = letter_name(do_of(wish.plan.target, minor), letters)
    if wish.level == "open":
        return say("stand.do", do=do)
    shape = wish.positions
    if not shape:
        return say("stand.do", do=do)
    colours = ", ".join("black" if one == "b" else "white" for one in shape[0].shape)
    return f"{say('stand.do', do=do)} · {colours}"


def _keys(stand: Stand, canvas: Canvas, rect: Rect) -> None:
    assert stand.practice is not None
    wish = stand.practice.wish
    fingers: Mapping[int, int] = {}
    do: frozenset[int] = frozenset()
    if wish.mode != PRIMA_VISTA:
        fingers, do = wish.fingers, wish.do_keys(stand.house.settings.minor)
    letters: dict[int, str] = {}
    if stand.house.no_piano and stand.plays:
        for key in reversed(TYPED_KEYS):
            pitch = stand.house.typed.pitch(key.scancode)
            if pitch is not None:
                letters[pitch] = key.label
    shown = keyboard.Shown(fingers, do, frozenset(stand.down), letters)
    keyboard.lay(canvas, rect, stand.house.settings.keys, shown)


Order = tuple[str, str, Callable[[], object], str]


def _orders(stand: Stand) -> list[Order]:
    """What can be done: string, the key as shown, the action, the key as pygame names it."""
    before = stand.key_labels()
    ended = stand.practice is not None and stand.practice.phase == ENDED
    row: list[Order] = [("next", f"{before}n", stand.next, f"{before}n")] if stand.house.rounds.row else []
    return [
        *row,
        ("again", "space", stand.again, "space"),
        ("keys", "f10", stand.show_keys, "f10"),
        ("copy" if ended else "stop", "enter", stand.stop, "return"),
        ("desk", "esc", partial(stand.house.go, "desk"), "escape"),
        ("tempo", "↑ ↓", partial(stand.tempo, 1), "up"),
        ("rekey", "← →", partial(stand.rekey, 1), "right"),
        ("help", f"{before}h", stand.help, f"{before}h"),
        ("let" if stand.house.rounds.helping.held else "hold", f"{before}f", stand.hold, f"{before}f"),
        ("glimpse", f"{before}g", lambda: None, ""),
        ("mode", f"{before}m", stand.mode, f"{before}m"),
        ("loop", f"{before}l", stand.loop, f"{before}l"),
        ("hands", f"{before}b", stand.hands, f"{before}b"),
        ("listen", f"{before}i", stand.listen, f"{before}i"),
        ("ear", f"{before}c", stand.cadence, f"{before}c"),
        ("sing", f"{before}s", stand.sing, f"{before}s"),
        ("tuning", f"{before}e", stand.tune, f"{before}e"),
        ("degrees", f"{before}d", stand.degrees, f"{before}d"),
        ("correct", f"{before}r", stand.correcting.toggle, f"{before}r"),
        ("clef", f"{before}k", stand.clef, f"{before}k"),
        ("other", f"{before}o", stand.other_hand, f"{before}o"),
        ("margin", f"{before}p", stand.margin, f"{before}p"),
    ]


def _more_orders(stand: Stand) -> list[Order]:
    """What can be done besides, told only on the list of all keys."""
    house = stand.house
    return [
        ("tone", "ctrl ← →", partial(stand.rekey, 2), "ctrl right"),
        ("typing", "f8", stand.typing_toggle, "f8"),
        ("octave", "f6 f7", partial(house.typed.shift, 1), "f7"),
        ("night", "f9", lambda: None, ""),
        ("full", "f11", lambda: None, ""),
        ("scale", "ctrl + −", lambda: None, ""),
    ]


def _hints(stand: Stand, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    """What can be done and its keys; on a narrow window the last ones are only on the list of all keys."""
    correcting = stand.correcting.on
    orders = stand.correcting.orders() if correcting else _orders(stand)
    shown = _hints_that_fit(canvas, orders, rect)
    state = tuple((name, label, box.left) for (name, label, _, _), box in zip(orders, shown, strict=False))
    canvas.again("stand.hints", state, partial(_lay_hints, canvas, controls, orders, shown))
    for at, (name, _, act, key) in enumerate(orders):
        if at < len(shown):
            controls.add(Control(f"hint.{name}", shown[at], act, key))
            controls.ring(f"hint.{name}", shown[at])
        else:
            controls.order(f"hint.{name}", key, act)
    if correcting:
        stand.correcting.order(controls)
        return
    for name, _, act, key in _more_orders(stand):
        if key:
            controls.order(f"more.{name}", key, act)
    for key, by in (("left", -1), ("ctrl left", -2)):
        controls.order(f"more.{key}", key, partial(stand.rekey, by))
    controls.order("more.down", "down", partial(stand.tempo, -1))
    controls.order("more.f6", "f6", partial(stand.house.typed.shift, -1))


_HINT = 0.86


def _hints_that_fit(canvas: Canvas, orders: list[Order], rect: Rect) -> list[Rect]:
    """Places of the first hints, as many as the line holds."""
    x = rect.left
    found = []
    for name, label, _, _ in orders:
        wide = (
            _cap_width(canvas, label)
            + round(canvas.unit * 0.3)
            + canvas.width(say(f"stand.{name}"), fonts.ROMAN, _HINT)
        )
        if x + wide > rect.right:
            break
        found.append(Rect(x, rect.top, wide, rect.height))
        x += wide + round(canvas.unit * 0.75)
    return found


def _cap_width(canvas: Canvas, label: str) -> int:
    return canvas.width(label, fonts.ITALIC, 0.82) + round(canvas.unit * 0.55)


def _lay_hints(canvas: Canvas, controls: Controls, orders: list[Order], shown: list[Rect]) -> None:
    for (name, label, _, _), box in zip(orders, shown, strict=False):
        cap = _cap_width(canvas, label)
        controls.keycap(f"hint.{name}", box.left + cap, box.centery, label)
        left = box.left + cap + round(canvas.unit * 0.3)
        place = Rect(left, box.top, box.right - left + 2, box.height)
        canvas.words(f"hint.{name}.label", place, say(f"stand.{name}"), size=_HINT, colour="graphite")


def _all_keys(stand: Stand, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    """A card in place of the music with every order and its key."""
    orders = [*_orders(stand), *_more_orders(stand)]
    half = -(-len(orders) // 2)
    with canvas.smaller(min(rect.height / (3.0 + 1.75 * half), rect.width / 34) / canvas.unit):
        u = canvas.unit
        row = round(1.75 * u)
        card = Rect(0, 0, min(rect.width, round(34 * u)), min(rect.height, round(3.0 * u) + row * half))
        card.center = rect.center
        canvas.panel("keys.card", card, "faint", "graphite", 0.6)
        inner = card.inflate(-round(2.4 * u), -round(1.4 * u))
        head = Rect(inner.left, inner.top, inner.width, round(1.4 * u))
        canvas.words("keys.card.head", head, say("stand.keys.head"), style=fonts.ITALIC, size=1.1, colour="graphite")
        body = Rect(inner.left, inner.top + round(1.7 * u), inner.width, row * half)
        both = zip(layout.columns(body, [0, 0], round(1.5 * u)), (orders[:half], orders[half:]), strict=True)
        for at, (column, part) in enumerate(both):
            for line, (name, label, _, _) in enumerate(part):
                place = Rect(column.left, column.top + line * row, column.width, row)
                controls.keycap(f"card.{at}.{line}", place.left + _cap_width(canvas, label), place.centery, label)
                words = Rect(place.left + round(6.2 * u), place.top, place.width - round(6.2 * u), row)
                canvas.words(f"card.{at}.{line}", words, say(f"stand.{name}"), size=1.0, least=0.7)


__all__ = ["lay", "shown_systems", "slot_corners"]
