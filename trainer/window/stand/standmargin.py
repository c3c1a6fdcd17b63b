"""The margin of the Stand: what went otherwise, in words, the newest always; under it the take in figures."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.following.marks import right_of
from trainer.hands.keyboard import KEYBOARDS
from trainer.hands.why import beyond
from trainer.session import SENZA_MISURA
from trainer.window.paint import fonts, layout
from trainer.window.paint.canvas import BOTTOM, TOP, Canvas
from trainer.window.practice import COUNTING, LOOKING, PLAYING, Practice
from trainer.window.settings import Settings
from trainer.window.stand import punctual
from trainer.window.strings import key_name, letter_name, say
from trainer.window.wish import Wish

if TYPE_CHECKING:
    from trainer.window.stand.stand import Stand

# So many slips are told at most.
_SLIPS = 3
# Presses before which no pulse is told (ours).
_FELT = 8
# Sizes tried for what has to fit, from the usual one down.
_SIZES = tuple(one / 20 for one in range(20, 8, -1))
# Words are not made smaller than this for the sake of older ones (ours).
_READ = 0.8
# Of the text size: a line with its air, and the air between slips.
_LINE, _APART = 1.18, 0.5
# Units a figure with its label takes, and what is kept for words before a second and a third figure stands there.
_FIGURE, _WORDS = 3.0, 7.5


@dataclass(frozen=True, slots=True)
class _Part:
    """Words that belong together: where, in blue, over what."""

    name: str
    where: str
    what: str
    colour: str = "ink"


def lay(stand: Stand, canvas: Canvas, rect: Rect) -> None:
    """Lay the margin; in the frame of a press it stays, for that belongs to the mark beside the note."""
    if stand.pace.hurried and canvas.still("stand.margin"):
        return
    parts, figures = tuple(_parts(stand, canvas)), tuple(_figures(stand))
    state = (parts, figures, (rect.left, rect.top, rect.width, rect.height))
    canvas.again("stand.margin", state, partial(_lay, canvas, rect, parts, figures))


def _lay(canvas: Canvas, rect: Rect, parts: tuple[_Part, ...], figures: tuple[tuple[str, str], ...]) -> None:
    u = canvas.unit
    count = max(1, min(len(figures), int((rect.height - _WORDS * u) / (_FIGURE * u))))
    high = min(round(count * _FIGURE * u), round(rect.height * 0.55))
    if not any(value for _, value in figures[:count]):
        high = 0
    foot = Rect(rect.left, rect.bottom - high, rect.width, high)
    head = Rect(rect.left, rect.top, rect.width, round(1.3 * u))
    canvas.words("margin.head", head, say("margin.head"), style=fonts.ITALIC, size=1.0, colour="graphite")
    top = head.bottom + round(u * 0.3)
    _lay_parts(canvas, Rect(rect.left, top, rect.width, max(1, foot.top - round(u * 0.4) - top)), parts)
    _lay_figures(canvas, foot, figures[:count])


# Words


def slip_of(practice: Practice, at: int, letters: str) -> tuple[str, str] | None:
    """Where and what, of a press that was not right."""
    if practice.session.whole.is_of_all(practice.marks[at]):
        return None
    where, _, what = practice.words(at, letters).partition(": ")
    return (where, what) if what else ("", where) if where else None


def _parts(stand: Stand, canvas: Canvas) -> list[_Part]:
    """What there is to say, the most needed last."""
    practice = stand.practice
    assert practice is not None
    if stand.amending is not None:
        return [_Part("margin.amending", "", stand.amending.margin, "graphite")]
    if stand.hearing.prompt:
        return [_Part("margin.sing", "", say("margin.sing", key=f"{stand.key_labels()}s"), "graphite")]
    if stand.slips:
        first = max(0, len(stand.slips) - _SLIPS)
        return [_Part(f"margin.{first + at}", *slip) for at, slip in enumerate(stand.slips[first:])]
    readings = stand.page.readings
    if readings is not None:
        # What to imagine, until there are slips to tell; how accidentals read stands over the keyboard.
        if canvas.scale > layout.ROOMY:
            return [_Part("margin.clef", "", readings.short[1])]
        return [_Part(f"margin.clef.{at}", "", told) for at, told in enumerate(readings.words[1])]
    if practice.presses:
        return []
    waiting = _Part("margin.empty", "", say(_prompt(practice)), "graphite")
    missing = _missing(practice.wish, stand.house.settings)
    return [_Part("margin.missing", "", missing), waiting] if missing else [waiting]


def _missing(wish: Wish, settings: Settings) -> str:
    """Which notes the player's keyboard does not have."""
    board = KEYBOARDS[settings.keys]
    if all(board.holds(midi) for midi in wish.ends):
        return ""
    return beyond(wish.expected, board, wish.hands, partial(letter_name, letters=settings.letters))


def _prompt(practice: Practice) -> str:
    """What the player is waited for, by its word in the strings."""
    if practice.phase == LOOKING:
        return "margin.look"
    if practice.wish.mode == SENZA_MISURA:
        return "margin.empty"
    return {COUNTING: "margin.counting", PLAYING: "margin.going"}.get(practice.phase, "margin.in-time")


def _lay_parts(canvas: Canvas, rect: Rect, parts: tuple[_Part, ...]) -> None:
    """The last part whole, in smaller letters when it must be; of those before it, as many as there is room for in
    letters not much smaller.
    """
    if not parts:
        return
    tried = [(parts[first:], size) for first in range(len(parts) - 1) for size in _SIZES if size >= _READ]
    tried += [(parts[-1:], size) for size in _SIZES]
    fitting = (one for one in tried if _high(canvas, rect.width, *one) <= rect.height)
    shown, size = next(fitting, tried[-1])
    y = float(rect.top)
    for part in shown:
        for name, text, style, share, tone in _texts(part):
            lines, high = _lines(canvas, rect.width, text, style, share * size)
            place = Rect(rect.left, round(y), rect.width, round(high))
            canvas.words(f"{part.name}.{name}", place, text, style=style, size=share * size, colour=tone, lines=lines,
                         stand=TOP, least=0.95)  # fmt: skip
            y += high
        y += _APART * size * canvas.unit


def _texts(part: _Part) -> list[tuple[str, str, str, float, str]]:
    """Its texts from the top: name, words, face, size, colour."""
    where = [("where", part.where, fonts.BOLD, 1.05, "blue")] if part.where else []
    return [*where, ("what", part.what, fonts.ROMAN, 1.03, part.colour)]


def _lines(canvas: Canvas, wide: int, text: str, style: str, size: float) -> tuple[int, float]:
    """How many lines a text takes, and how high they are."""
    lines = canvas.lines(text, style, size, wide)
    return lines, lines * _LINE * size * canvas.unit


def _high(canvas: Canvas, wide: int, parts: tuple[_Part, ...], size: float) -> float:
    """Height of some parts at a size; none fits whose longest word does not."""
    high = 0.0
    for part in parts:
        for _, text, style, share, _ in _texts(part):
            if max(canvas.width(word, style, share * size) for word in text.split()) > wide:
                return float("inf")
            high += _lines(canvas, wide, text, style, share * size)[1]
    return high + (len(parts) - 1) * _APART * size * canvas.unit


# Figures


def _figures(stand: Stand) -> list[tuple[str, str]]:
    """Labels and values: right so far, the pulse, and how it lies to the click or to the written key.

    What is not known yet has no value, and keeps its place empty.
    """
    practice = stand.practice
    assert practice is not None
    timing, settled = practice.timing, practice.settled
    # What was left out is known at the end.
    missed = len(settled.missed) if settled is not None else 0
    pulse = ""
    if timing.pulse_bpm is not None and (settled is not None or len(practice.marks) >= _FELT):
        pulse = f"{timing.pulse_bpm:.0f}"
        if timing.steadiness is not None:
            word = "steady" if timing.steadiness >= 0.93 else "moving" if timing.steadiness >= 0.85 else "uneven"
            pulse = say("margin.pulse.value", pulse=pulse, steadiness=say(f"margin.{word}"))
    click = punctual.middle(timing)
    if click:
        last = say("margin.click"), click
    else:
        cost = stand.house.rounds.cost_of(practice)
        written = key_name(practice.wish.piece.key, stand.house.settings.letters)
        last = (
            say("margin.cost", key=written),
            say("margin.cost.value", cost=f"{cost:.1f}") if cost else "",
        )
    counted = practice.marks[practice.within]
    right = right_of(practice.right, len(counted), missed)
    whole = practice.session.whole if practice.marks else None
    if whole is not None and whole.shift:
        right = say("margin.right.lay", right=right_of(whole.right_among(counted), len(counted), missed))
    return [
        (say("margin.right"), right if practice.marks else ""),
        (say("margin.pulse"), pulse),
        last,
    ]


def _lay_figures(canvas: Canvas, rect: Rect, figures: tuple[tuple[str, str], ...]) -> None:
    places = layout.rows(rect, [0] * len(figures), canvas.unit * 0.25)
    for number, ((label, value), place) in enumerate(zip(figures, places, strict=True)):
        if not value:
            continue
        above, below = layout.rows(place, [place.height * 0.44, place.height * 0.56])
        canvas.words(f"margin.figure.{number}.label", above, label, style=fonts.ITALIC, size=1.0, colour="graphite",
                     stand=BOTTOM, least=0.6)  # fmt: skip
        canvas.words(f"margin.figure.{number}", below, value, size=1.3, least=0.6)


__all__ = ["lay"]
