"""The five-finger card of a key: both hands' positions drawn on the keyboard, for print and for reports."""

from __future__ import annotations

from html import escape

from trainer.hands.keyboard import BLACK_LENGTH, WHITE_LENGTH, Keyboard, is_black, stretch
from trainer.hands.position import Position

INK = "#1F1B16"
GRAPHITE = "#6B655C"
BRASS = "#B07D2B"
PAPER = "#FFFFFF"
SHADE = "#E4DCCB"
# Beside the five keys so many white keys are drawn, so that the place can be found on the keyboard.
BESIDE = 2
# Only the front part of the keys is drawn, so that a card stays low.
_SHOWN_MM = 105.0
_EDGE = 1.2
# Room for the letters: those of black keys stand above, those of white keys below.
_LETTERS = 17
FACE = "STIXGeneral, 'STIX Two Text', serif"


def five_finger_card(position: Position) -> str:
    """An SVG in millimetres of the piano: five keys shaded, their fingers, do ringed, letters beside."""
    keyboard = stretch(position.midi, BESIDE)
    whole = keyboard.width_mm
    finger_of = dict(zip(position.midi, position.fingers, strict=True))
    letters = {pitch.midi: pitch.sign_name for pitch in position.pitches}
    # The back of the keys is cut off; the fronts keep their true proportions.
    cut = WHITE_LENGTH - _SHOWN_MM
    parts: list[str] = []
    for black in (False, True):
        for midi in range(keyboard.lowest, keyboard.highest + 1):
            if is_black(midi) == black:
                parts += _key(keyboard, midi, cut, finger_of.get(midi), midi == position.midi[0], letters.get(midi))
    high = _SHOWN_MM + 2 * _LETTERS
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{-_EDGE} {-_LETTERS} {whole + 2 * _EDGE:.1f} {high}" '
        f'width="{whole + 2 * _EDGE:.1f}" height="{high}" font-family="{FACE}">{"".join(parts)}</svg>'
    )


def _key(keyboard: Keyboard, midi: int, cut: float, finger: int | None, do: bool, letter: str | None) -> list[str]:
    left, width, black = keyboard.rect(midi)
    height = (BLACK_LENGTH if black else WHITE_LENGTH) - cut
    fill = (GRAPHITE if finger else INK) if black else (SHADE if finger else PAPER)
    parts = [
        f'<rect x="{left:.2f}" y="0" width="{width:.2f}" height="{height:.2f}" fill="{fill}" stroke="{INK}" '
        f'stroke-width="0.8"/>'
    ]
    if finger is None:
        return parts
    middle, at = left + width / 2, height - (12 if black else 16)
    if do:
        parts.append(
            f'<circle cx="{middle:.2f}" cy="{at - 4.2:.2f}" r="{6.2 if black else 8.5}" fill="none" '
            f'stroke="{PAPER if black else BRASS}" stroke-width="1.4"/>'
        )
    parts.append(
        f'<text x="{middle:.2f}" y="{at:.2f}" font-size="{11 if black else 14}" text-anchor="middle" '
        f'fill="{PAPER if black else INK}">{finger}</text>'
    )
    parts.append(
        f'<text x="{middle:.2f}" y="{-4 if black else _SHOWN_MM + 13}" font-size="12" text-anchor="middle" '
        f'fill="{INK}">{escape(letter or "")}</text>'
    )
    return parts
