"""How the Stand looks: its head, its quiet line and its keyboard; music, margin and keys have files of their own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from functools import partial
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.hands.keyboard import is_black
from trainer.listening.clock import now
from trainer.listening.typing import KEYS as TYPED_KEYS
from trainer.music.piece import BOTH
from trainer.music.solfege import do_of
from trainer.session import PRIMA_VISTA, SENZA_MISURA
from trainer.window import barwords
from trainer.window.paint import fonts, keyboard, layout, signs, staff
from trainer.window.paint.canvas import RIGHT, Canvas
from trainer.window.paint.controls import Controls
from trainer.window.practice import LOOKING
from trainer.window.stand import standhints, standmargin, standmusic, tuning
from trainer.window.strings import key_name, letter_name, say
from trainer.window.wish import Wish
from trainer.window.workroom.fingered import under

if TYPE_CHECKING:
    from trainer.window.stand.stand import Stand

# Nothing on the Stand is cut: words are broken, and at the largest text sizes set smaller, down to the usual size.
_LEAST = 0.45
# Words that lose an end of a line by so little smaller a size take it.
_LITTLE = 0.9
# At the foot, as long as both lines have room when they are set so much smaller.
_CLOSER = 0.75


def lay(stand: Stand, canvas: Canvas, controls: Controls, places: layout.StandPlaces) -> None:
    """Lay the whole screen."""
    practice = stand.practice
    assert practice is not None
    state = (practice.wish, stand.house.settings, practice.phase, mode_words(stand), _bar_words(stand))
    canvas.again("stand.head", state, partial(_head, stand, canvas, places))
    canvas.rule("head.rule", places.rule)
    card = stand.tuning or stand.keys_shown
    # With large text a card has the whole room under the head.
    alone = card and canvas.scale > layout.ROOMY
    room = places.under_head if alone else places.music
    if stand.tuning:
        # The arrows belong to the card's fields now.
        tuning.lay(stand, canvas, controls, room)
    else:
        standhints.lay(stand, canvas, controls, places.hints)
    if stand.keys_shown:
        standhints.lay_card(stand, canvas, controls, room)
    if not card:
        standmusic.lay(stand, canvas, places)
    if not alone:
        _lay_beside(stand, canvas, places)


def _lay_beside(stand: Stand, canvas: Canvas, places: layout.StandPlaces) -> None:
    """What stands beside and under the music."""
    score = stand.page.score
    # Until the engraver has set it for the room there is now, music that is wider needs the margin's.
    wider = score is not None and not stand.tuning and score.engraved.look.width_px > places.music.width
    if places.margin is not None and places.margin_rule is not None and not wider:
        canvas.rule("margin.rule", places.margin_rule)
        standmargin.lay(stand, canvas, places.margin)
    amending = stand.amending
    words = amending.caption if amending else (_position_words(stand, canvas), _quiet_words(stand))
    # What is framed is told rather than how to say another, which stands in the margin and with the keys, too.
    framed = amending is not None and stand.house.notice is None
    canvas.again("stand.caption", (words, framed), partial(_caption, canvas, places.caption, *words, framed))
    _keys(stand, canvas, places.keys)


# Head


def _head(stand: Stand, canvas: Canvas, places: layout.StandPlaces) -> None:
    assert stand.practice is not None
    wish = stand.practice.wish
    letters = stand.house.settings.letters
    roomy = canvas.scale <= layout.ROOMY
    title = places.title if roomy else places.title.union(places.about)
    # However long it is, it keeps clear of what stands beside it.
    title = Rect(title.left, title.top, title.width - round(canvas.unit * 0.5), title.height)
    canvas.words("head.title", title, wish.piece.title, size=1.5, lines=2 if roomy else 3, least=_LEAST)
    if roomy:
        about = " · ".join(part for part in (wish.piece.by, say(f"level.{wish.level}"), _hands_words(wish)) if part)
        canvas.words("head.about", places.about, about, style=fonts.ITALIC, size=1.03, colour="graphite", lines=2,
                     least=0.6)  # fmt: skip
    _target(canvas, places, wish, letters)
    if roomy:
        places = replace(places, written=_written_room(stand, canvas, places))
    _written(canvas, places, wish, letters)
    canvas.words("head.mode", places.mode, mode_words(stand), style=fonts.ITALIC, size=1.2, align=RIGHT, lines=2,
                 least=_LEAST)  # fmt: skip
    canvas.words("head.place", places.place, _bar_words(stand), size=1.08, colour="graphite", align=RIGHT, lines=2,
                 least=_LEAST)  # fmt: skip


def mode_words(stand: Stand) -> str:
    """The mode and its tempo, which stay together where the line is broken."""
    assert stand.practice is not None
    wish = stand.practice.wish
    mode = say(f"mode.{wish.mode}")
    if wish.mode == SENZA_MISURA:
        return mode
    beat = signs.note(wish.beat)
    tempo = wish.tempo if beat else wish.quarters
    return f"{mode} \u00a0\u00a0{beat or signs.note(Fraction(1))}\u00a0=\u00a0{tempo:.0f}"


def _hands_words(wish: Wish) -> str:
    hands = wish.hands if len(wish.piece.hands) > 1 else wish.piece.hands[0] if wish.piece.hands else BOTH
    return say(f"stand.hands.{hands}")


def _target(canvas: Canvas, places: layout.StandPlaces, wish: Wish, letters: str) -> None:
    """The key to play in, large, with its signature."""
    key = key_name(wish.plan.target, letters)
    before = say("stand.play-in") + " "
    area = places.key
    if canvas.scale > layout.ROOMY:
        # Large text: the signature's place goes to the key's name.
        area = Rect(area.left, area.top, places.signature.right - area.left, area.height)
    size, beside = 2.75, 1.25
    small = canvas.width(before, fonts.ITALIC, beside)
    while size > 0.9 and (small + canvas.width(key, fonts.BOLD, size) > area.width or size * canvas.unit > area.height):
        size -= 0.05
        beside = min(1.25, size * 0.6)
        small = canvas.width(before, fonts.ITALIC, beside)
    wide = canvas.width(key, fonts.BOLD, size)
    name = Rect(area.right - wide - 2, area.top, wide + 2, area.height)
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
    if canvas.scale <= layout.ROOMY:
        staff.lay_signature(canvas, "head.signature", places.signature, wish.plan.target)


def _written_room(stand: Stand, canvas: Canvas, places: layout.StandPlaces) -> Rect:
    """The written key has the room that mode and bar leave, the widest bar too, so that its lines stay as they are."""
    assert stand.practice is not None
    last = barwords.printed(stand.practice.wish.piece)
    bars = (_bar_words(stand), say("stand.bar", bar=last, bars=last))
    beside = max(canvas.width(mode_words(stand), fonts.ITALIC, 1.2), *(canvas.width(one, size=1.08) for one in bars))
    right = max(places.written.right, places.mode.right - beside - round(canvas.unit * 1.5))
    return Rect(places.written.left, places.written.top, right - places.written.left, places.written.height)


def _written(canvas: Canvas, places: layout.StandPlaces, wish: Wish, letters: str) -> None:
    """The written key, and the way from there."""
    written = say("stand.written-in", key=key_name(wish.piece.key, letters))
    moved = wish.plan.words
    said = f"{written}\n{moved}" if canvas.scale <= layout.ROOMY else moved
    if wish.plan.target == wish.piece.key:
        # Its name stands there already, large.
        said = say("stand.as-written")
    widest = max(canvas.width(line, fonts.ITALIC, 1.03 * _LITTLE) for line in said.split("\n"))
    # Rather a little smaller than an end of a line alone; rather three lines than small.
    lines, least = (2, _LITTLE * 0.95) if widest < places.written.width else (4, _LEAST)
    canvas.words("head.written", places.written, said, style=fonts.ITALIC, size=1.03, colour="graphite", lines=lines,
                 least=least)  # fmt: skip


def _bar_words(stand: Stand) -> str:
    assert stand.practice is not None
    if stand.practice.phase == LOOKING:
        return say("stand.look", seconds=max(0, round(stand.pace.look_until - now())))
    piece = stand.practice.wish.piece
    moments = piece.moments
    if not moments:
        return ""
    onset = moments[min(stand.place, len(moments) - 1)].onset
    index, last = piece.bar_index(onset), barwords.printed(piece)
    if piece.times_round[index] > 1:
        return barwords.bar_of(piece, index)
    if piece.bars[index].number:
        return say("stand.bar", bar=piece.bars[index].number, bars=last)
    return say("stand.upbeat.repeats" if barwords.is_repeated(piece) else "stand.upbeat", bars=last)


# Foot


def _caption(canvas: Canvas, rect: Rect, position: str, quiet: str, framed: bool) -> None:
    """Where the hands are, and the quiet line; a long one has the whole width, in two rows where it must, unless what
    is `framed` comes first.
    """
    gap = round(canvas.unit)
    wide = canvas.width(quiet, fonts.ITALIC, 0.95) + 4 if quiet else 0
    beside = rect.width - canvas.width(position, fonts.ROMAN, 0.97 * _CLOSER) - gap
    if quiet and wide * _CLOSER > beside:
        position, quiet = (position, "") if framed else ("", quiet)
    wide = min(wide, beside if position else rect.width) if quiet else 0
    if position:
        left = Rect(rect.left, rect.top, rect.width - (wide + gap if quiet else 0), rect.height)
        canvas.words("foot.position", left, position, size=0.97, colour="graphite",
                     least=_LEAST if framed else _CLOSER * 0.95)  # fmt: skip
    if quiet:
        right = Rect(rect.right - wide, rect.top, wide, rect.height)
        canvas.words("foot.quiet", right, quiet, style=fonts.ITALIC, size=0.95, colour="graphite", align=RIGHT, lines=2,
                     least=_LEAST)  # fmt: skip


def _quiet_words(stand: Stand) -> str:
    """One quiet line: what is asked, what was said last, or how the piano steers."""
    assert stand.practice is not None
    house = stand.house
    if stand.glimpsing and stand.page.glimpse is None:
        return say("stand.engraving")
    if stand.glimpsing:
        return say("stand.glimpsed", key=key_name(stand.practice.wish.plan.target, house.settings.letters))
    quiet = stand.hearing.prompt or (house.notice.words if house.notice else "")
    if quiet:
        return quiet
    if stand.fingering.awaited:
        return say("stand.finger.wait")
    if stand.typing:
        return say("stand.typed")
    if house.no_piano:
        return say("stand.typing.off")
    return say("stand.steer") if house.settings.steering else ""


def _position_words(stand: Stand, canvas: Canvas) -> str:
    """Where do is and over which keys the hand lies, or what the clefs to imagine change."""
    assert stand.practice is not None
    wish, settings = stand.practice.wish, stand.house.settings
    if wish.mode == PRIMA_VISTA:
        return ""
    readings = stand.page.readings
    if readings is not None:
        changed = readings.words[0] if canvas.scale <= layout.ROOMY else readings.short[0]
        if changed:
            return changed
    do = say("stand.do", do=letter_name(do_of(wish.plan.target, settings.minor), settings.letters))
    if not wish.fingers:
        return do
    colours = ", ".join("black" if is_black(midi) else "white" for midi in wish.lying[0])
    # The music goes beyond: what is shown is where the hand is at home, not where it begins.
    return f"{do} · {say('stand.five', colours=colours) if wish.leaves_position else colours}"


def _keys(stand: Stand, canvas: Canvas, rect: Rect) -> None:
    assert stand.practice is not None
    house, wish = stand.house, stand.practice.wish
    typed = stand.plays or (stand.typing and stand.fingering.on)
    down = frozenset(stand.down)
    fingering = stand.fingering
    fingers: Mapping[int, int] = {}
    if fingering.on:
        fingers, down = fingering.keys, down | {fingering.pressed}
    elif wish.mode != PRIMA_VISTA:
        fingers = under(wish.fingers, wish.expected, stand.page.fingered)
    state = (wish, house.settings, down, typed, stand.plays, house.typed.octave, tuple(fingers.items()))
    canvas.again("stand.keys", state, lambda: _lay_keys(stand, canvas, rect, wish, down, typed, fingers))


def _lay_keys(
    stand: Stand,
    canvas: Canvas,
    rect: Rect,
    wish: Wish,
    down: frozenset[int],
    typed: bool,
    fingers: Mapping[int, int],
) -> None:
    """The keyboard: fingers and do, what is pressed, and the letters where they play."""
    house = stand.house
    do = wish.do_keys(house.settings.minor) if wish.mode != PRIMA_VISTA else frozenset[int]()
    letters: dict[int, str] = {}
    for key in reversed(TYPED_KEYS) if typed else ():
        pitch = house.typed.pitch(key.scancode)
        # While fingers are said the digits say them.
        if pitch is not None and (key.row or stand.plays):
            letters[pitch] = key.label
    keyboard.lay(canvas, rect, house.settings.keys, keyboard.Shown(fingers, do, down, letters))


__all__ = ["lay"]
