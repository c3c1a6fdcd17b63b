"""The keyboard at the foot of the Stand, in true proportions: position shaded, fingers numbered, do ringed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache

import pygame
from pygame import Rect

from trainer.hands.keyboard import BLACK_LENGTH, KEYBOARDS, WHITE_LENGTH, Keyboard, is_black
from trainer.window.paint import fonts
from trainer.window.paint.canvas import GROUND, OVER, Box, Canvas
from trainer.window.paint.shapes import picture
from trainer.window.paint.theme import Colour, Theme, contrast, hexed, mixed

PLAIN = "plain"
PLACE = "place"
PRESSED = "pressed"
# Millimetres of the board behind the keys, and of its strip of felt.
_BOARD = 7.0
_FELT = 1.6


# A keyboard by its number of keys, or a stretch of one.
Keys = int | Keyboard


def board_of(keys: Keys) -> Keyboard:
    return KEYBOARDS[keys] if isinstance(keys, int) else keys


@dataclass(frozen=True)
class Shown:
    """What the keyboard shows.

    Parameters
    ----------
    fingers : mapping of MIDI note to finger
        The five-finger position of each hand.
    do : frozenset of MIDI notes
        Ringed.
    pressed : frozenset of MIDI notes
    letters : mapping of MIDI note to str
        What is printed on the computer keys that play them; empty with a piano.
    """

    fingers: Mapping[int, int] = field(default_factory=dict)
    do: frozenset[int] = frozenset()
    pressed: frozenset[int] = frozenset()
    letters: Mapping[int, str] = field(default_factory=dict)


def fitted(room: Rect, keys: Keys) -> Rect:
    """The largest keyboard of true proportions that fits, centred, at the foot of the room."""
    board = board_of(keys)
    scale = min(room.width / board.width_mm, room.height / (WHITE_LENGTH + _BOARD))
    wide, high = int(board.width_mm * scale), int((WHITE_LENGTH + _BOARD) * scale)
    return Rect(room.centerx - wide // 2, room.bottom - high, wide, high)


def key_at(rect: Rect, keys: Keys, point: tuple[int, int]) -> int | None:
    """The key under a point of the screen, black keys first."""
    board = board_of(keys)
    hits = [midi for midi in range(board.lowest, board.highest + 1) if key_rect(rect, keys, midi).collidepoint(point)]
    return next((midi for midi in hits if is_black(midi)), hits[0] if hits else None)


def key_rect(rect: Rect, keys: Keys, midi: int) -> Rect:
    """Where a key lies on the screen."""
    board = board_of(keys)
    scale = rect.width / board.width_mm
    left, wide, black = board.rect(midi)
    top = rect.top + round(_BOARD * scale)
    high = round((BLACK_LENGTH if black else WHITE_LENGTH) * scale)
    x0, x1 = round(rect.left + left * scale), round(rect.left + (left + wide) * scale)
    return Rect(x0, top, x1 - x0, min(high, rect.bottom - top))


def lay(canvas: Canvas, rect: Rect, keys: Keys, shown: Shown) -> None:
    """Lay the keyboard's boxes: a board, then every key, white ones first."""
    state = ((rect.left, rect.top, rect.width, rect.height), keys, shown)
    canvas.again("keys", state, lambda: _lay(canvas, rect, keys, shown))


def _lay(canvas: Canvas, rect: Rect, keys: Keys, shown: Shown) -> None:
    board = board_of(keys)
    scale = rect.width / board.width_mm
    high = round(_BOARD * scale)
    felt = max(2, round(_FELT * scale))
    canvas.fill("keys.board", Rect(rect.left, rect.top, rect.width, high), "fallboard")
    canvas.fill("keys.felt", Rect(rect.left, rect.top + high - felt, rect.width, felt), "felt")
    theme = canvas.theme
    for midi, place, black in _places((rect.left, rect.top, rect.width, rect.height), keys):
        state = PRESSED if midi in shown.pressed else PLACE if midi in shown.fingers else PLAIN
        finger, letter = shown.fingers.get(midi, 0), shown.letters.get(midi, "")
        canvas.add(_key(midi, place, black, state, finger, letter, midi in shown.do, theme))


Place = tuple[int, int, int, int]


@lru_cache(maxsize=4)
def _places(rect: Place, keys: Keys) -> tuple[tuple[int, Place, bool], ...]:
    """Every key's place, white ones first."""
    board = board_of(keys)
    order = sorted(range(board.lowest, board.highest + 1), key=is_black)
    found = []
    for midi in order:
        one = key_rect(Rect(rect), keys, midi)
        found.append((midi, (one.left, one.top, one.width, one.height), is_black(midi)))
    return tuple(found)


@lru_cache(maxsize=1024)
def _key(midi: int, place: Place, black: bool, state: str, finger: int, letter: str, do: bool, theme: Theme) -> Box:
    """The box of one key."""
    rect = Rect(place)

    def paint(surface: pygame.Surface) -> None:
        drawn = _black_key if black else _white_key
        surface.blit(picture(drawn(rect.width, rect.height, state, theme), rect.width, rect.height), rect.topleft)
        _write(surface, rect, black, state, theme, str(finger) if finger else "", letter, do)

    return Box(f"keys.{midi}", rect, (state, theme.name, finger, letter, do), paint, OVER if black else GROUND)


def _write(
    surface: pygame.Surface, rect: Rect, black: bool, state: str, theme: Theme, finger: str, letter: str, do: bool
) -> None:
    tone = tone_on(state, black, theme)
    size = min(rect.width * (1.42 if black else 0.95), rect.height * 0.22)
    foot = rect.bottom - size * (1.28 if not black else 1.22)
    if letter:
        small = size * (0.72 if black else 0.66)
        soft = mixed(tone, theme["ivory_edge"], 0.25)
        _centred(surface, letter, fonts.ITALIC, small, soft, rect.centerx, rect.bottom - small * 1.3)
        foot -= small * 1.15
    if finger:
        _centred(surface, finger, fonts.ROMAN, size, tone, rect.centerx, foot)
    if do:
        radius = max(3.0, rect.width * (0.36 if black else 0.27))
        across = int(radius * 2 + 6)
        thick = max(1.8, radius * 0.26)
        ring = (
            f'<circle cx="{across / 2}" cy="{across / 2}" r="{radius:.1f}" fill="none" '
            f'stroke="{hexed(_ring_tone(theme, black))}" stroke-width="{thick:.1f}"/>'
        )
        y = rect.bottom - size * (1.5 if not letter else 2.2) - across
        surface.blit(picture(ring, across, across), (rect.centerx - across // 2, round(y)))


def tone_on(state: str, black: bool, theme: Theme) -> Colour:
    """What is written on a key: light or dark, whichever stands out more where the key is pressed."""
    dark = mixed(theme["ebony"], theme["graphite"], 0.45 if not theme.is_night else 0.1)
    if state != PRESSED:
        return theme["ivory"] if black else dark
    tones = ((255, 255, 255), theme["ebony"])
    return max(tones, key=lambda tone: contrast(tone, fill_of(state, black, theme)))


def fill_of(state: str, black: bool, theme: Theme) -> Colour:
    """The colour of a key's face."""
    if black:
        pressed = mixed(theme["pressed"], theme["ebony"], 0.25)
        return {PLAIN: theme["ebony"], PLACE: theme["place_black"], PRESSED: pressed}[state]
    return {PLAIN: theme["ivory"], PLACE: theme["place_white"], PRESSED: theme["pressed"]}[state]


def _ring_tone(theme: Theme, black: bool) -> tuple[int, int, int]:
    brass = theme["brass"]
    return (
        mixed(brass, (255, 226, 160), 0.35) if black else (mixed(brass, (60, 30, 0), 0.35) if theme.is_night else brass)
    )


def _centred(
    surface: pygame.Surface, text: str, style: str, size: float, tone: tuple[int, int, int], x: int, top: float
) -> None:
    wide = fonts.width(text, style, size)
    drawn = fonts.line(text, style, size, tone)
    surface.blit(drawn, (round(x - wide / 2), round(top + size * 0.77 - fonts.baseline(size))))


def _white_key(wide: int, high: int, state: str, theme: Theme) -> str:
    fill = fill_of(state, False, theme)
    low = mixed(fill, theme["ivory_low"], 0.75) if state == PLAIN else mixed(fill, theme["ebony"], 0.06)
    corner = max(1.5, wide * 0.11)
    lip = max(2.0, high * 0.03)
    dark = mixed(fill, theme["ebony"], 0.34 if state == PRESSED else 0.2)
    gap = 1.0
    return (
        f'<defs><linearGradient id="f" x1="0" y1="0" x2="0" y2="1">'
        f'<stop offset="0" stop-color="{hexed(dark)}"/>'
        f'<stop offset="{0.16 if state == PRESSED else 0.07}" stop-color="{hexed(mixed(fill, low, 0.5))}"/>'
        f'<stop offset="0.5" stop-color="{hexed(fill)}"/><stop offset="1" stop-color="{hexed(fill)}"/>'
        f"</linearGradient></defs>"
        f'<rect width="{wide}" height="{high}" fill="{hexed(mixed(theme["ivory_edge"], theme["ebony"], 0.25))}"/>'
        f'<path d="M{gap / 2} 0H{wide - gap / 2}V{high - corner - 1}q0 {corner} {-corner} {corner}H{corner + gap / 2}'
        f'q{-corner} 0 {-corner} {-corner}Z" fill="{hexed(low)}"/>'
        f'<path d="M{gap / 2} 0H{wide - gap / 2}V{high - corner - lip}q0 {corner} {-corner} {corner}H{corner + gap / 2}'
        f'q{-corner} 0 {-corner} {-corner}Z" fill="url(#f)"/>'
    )


def _black_key(wide: int, high: int, state: str, theme: Theme) -> str:
    fill = fill_of(state, True, theme)
    top = mixed(fill, (255, 246, 230), 0.16 if state != PRESSED else 0.1)
    side = max(1.2, wide * 0.13)
    front = max(3.0, high * (0.075 if state != PRESSED else 0.045))
    corner = max(1.0, wide * 0.1)
    return (
        f'<defs><linearGradient id="t" x1="0" y1="0" x2="0" y2="1"><stop offset="0" stop-color="{hexed(fill)}"/>'
        f'<stop offset="0.85" stop-color="{hexed(mixed(fill, top, 0.55))}"/>'
        f'<stop offset="1" stop-color="{hexed(top)}"/></linearGradient></defs>'
        f'<path d="M0 0H{wide}V{high - corner}q0 {corner} {-corner} {corner}H{corner}'
        f'q{-corner} 0 {-corner} {-corner}Z" '
        f'fill="{hexed(mixed(fill, (0, 0, 0), 0.35))}"/>'
        f'<path d="M{side:.1f} 0H{wide - side:.1f}V{high - front - corner:.1f}'
        f"q0 {corner:.1f} {-corner:.1f} {corner:.1f}"
        f'H{side + corner:.1f}q{-corner:.1f} 0 {-corner:.1f} {-corner:.1f}Z" fill="url(#t)"/>'
    )
