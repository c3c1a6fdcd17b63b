"""Paper, ink, graphite, blue pencil, brass: the colours of the room, by day and by night.

The night colours are computed, not chosen: each keeps its hue and its contrast to the paper, ink a little less.
Contrast is the ratio of WCAG 2.1 (W3C Recommendation 2018, "contrast ratio" and "relative luminance").
"""

from __future__ import annotations

import colorsys
from collections.abc import Mapping
from dataclasses import dataclass, field

Colour = tuple[int, int, int]

_DAY: dict[str, Colour] = {
    "paper": (0xFA, 0xF6, 0xEC),
    "ink": (0x1F, 0x1B, 0x16),
    "graphite": (0x6B, 0x65, 0x5C),
    "blue": (0x2C, 0x5A, 0x8C),
    "brass": (0xB0, 0x7D, 0x2B),
    "rule": (0xD9, 0xD1, 0xC0),
    "faint": (0xEE, 0xE7, 0xD8),
    "wash": (0xF1, 0xE7, 0xCF),
    # Paper at the edge of the lamp's light.
    "lamp_edge": (0xF2, 0xED, 0xE0),
}
_GLARE = 13.0
_NIGHT_PAPER: Colour = (0x1E, 0x1B, 0x17)
# The keys of the piano keep their colours under any lamp, a little dimmer at night.
_KEYS_DAY: dict[str, Colour] = {
    "ivory": (0xFF, 0xFD, 0xF7), "ivory_edge": (0xB9, 0xAD, 0x97), "ivory_low": (0xEF, 0xE8, 0xD9),
    "ebony": (0x1D, 0x1A, 0x17), "ebony_top": (0x3A, 0x35, 0x2F), "felt": (0x6E, 0x2B, 0x25),
    "fallboard": (0x2A, 0x22, 0x1B),
    "place_white": (0xEE, 0xDF, 0xBE), "place_black": (0x6A, 0x54, 0x2C), "pressed": (0x8B, 0x86, 0x7E),
}  # fmt: skip
_KEYS_NIGHT: dict[str, Colour] = {
    "ivory": (0xC9, 0xC1, 0xB2), "ivory_edge": (0x6B, 0x62, 0x55), "ivory_low": (0xB3, 0xAA, 0x9A),
    "ebony": (0x0C, 0x0B, 0x0A), "ebony_top": (0x2A, 0x26, 0x22), "felt": (0x4E, 0x20, 0x1C),
    "fallboard": (0x12, 0x0F, 0x0C),
    "place_white": (0xBF, 0xA6, 0x72), "place_black": (0x5A, 0x46, 0x22), "pressed": (0x7B, 0x76, 0x6E),
}  # fmt: skip


@dataclass(frozen=True)
class Theme:
    """One set of colours, read by name: ``theme["ink"]``; two themes of one name are the same."""

    name: str
    colours: Mapping[str, Colour] = field(compare=False, hash=False)

    def __getitem__(self, token: str) -> Colour:
        return self.colours[token]

    @property
    def is_night(self) -> bool:
        return self.name == "night"


def luminance(colour: Colour) -> float:
    """Relative luminance, 0 (black) to 1 (white)."""
    parts = [c / 255 / 12.92 if c / 255 <= 0.04045 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in colour]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def contrast(one: Colour, other: Colour) -> float:
    """Contrast ratio, 1 to 21."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def mixed(one: Colour, other: Colour, share: float) -> Colour:
    """`share` of `other` in `one`, 0-1."""
    return (
        round(one[0] + (other[0] - one[0]) * share),
        round(one[1] + (other[1] - one[1]) * share),
        round(one[2] + (other[2] - one[2]) * share),
    )


def _with_contrast(colour: Colour, paper: Colour, wanted: float) -> Colour:
    """The colour's hue made so light that it stands on dark `paper` at the wanted contrast (or as near as white)."""
    hue, _, saturation = colorsys.rgb_to_hls(*(c / 255 for c in colour))
    low, high = 0.0, 1.0
    found = colour
    for _ in range(24):
        light = (low + high) / 2
        red, green, blue = colorsys.hls_to_rgb(hue, light, saturation * 0.9)
        found = (round(red * 255), round(green * 255), round(blue * 255))
        if contrast(found, paper) < wanted:
            low = light
        else:
            high = light
    return found


def _night() -> dict[str, Colour]:
    colours = {"paper": _NIGHT_PAPER}
    for token, colour in _DAY.items():
        if token != "paper":
            wanted = contrast(colour, _DAY["paper"])
            # Text that is only large enough by day may be read smaller in a dark room; full ink would glare there.
            least = max(wanted, 4.6) if wanted > 3 else wanted
            colours[token] = _with_contrast(colour, _NIGHT_PAPER, min(least, _GLARE))
    return colours | _KEYS_NIGHT | {"lamp_edge": (0x16, 0x13, 0x10)}


DAY = Theme("day", _DAY | _KEYS_DAY)
NIGHT = Theme("night", _night())


def hexed(colour: Colour) -> str:
    """As ``#rrggbb``."""
    return "#{:02x}{:02x}{:02x}".format(*colour)
