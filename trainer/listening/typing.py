"""The computer keyboard as a piano.

Keys are named by where they lie, not by what is printed on them, so the piano has the same shape on every national
layout. Source of the numbers: *USB HID Usage Tables* 1.4, keyboard page 0x07 (from memory); SDL's scancodes are the
same numbers. Two rows of letters as white keys with the row above as black ones: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from trainer.listening.press import Press, Release

# Octaves up or down that keep every key on a piano of 88 (21 to 108).
MAX_SHIFT = 2
MIDDLE_C = 60
VELOCITY = 72
# The pointer on the drawn keys is one more key: no place on the computer keyboard has this number.
POINTER = -1


@dataclass(frozen=True, slots=True)
class TypedKey:
    """One key of the computer keyboard.

    Parameters
    ----------
    scancode : int
        USB usage number of the place.
    semitone : int
        Above the C of the lower row.
    row : int
        Row of the computer keyboard: 0 digits, 1, 2, 3 downwards.
    x : float
        Place along the keyboard in key widths, rows staggered as on the desk.
    label : str
        What a US keyboard prints there; a window may ask the system for the local one.
    """

    scancode: int
    semitone: int
    row: int
    x: float
    label: str


# Row, left edge in key widths, and per key: label, scancode, semitone. Dots and brackets go on above the octave.
_ROWS = (
    (0, 0.0, (("2", 31, 13), ("3", 32, 15), ("5", 34, 18), ("6", 35, 20), ("7", 36, 22),
              ("9", 38, 25), ("0", 39, 27), ("=", 46, 30))),
    (1, 0.5, (("Q", 20, 12), ("W", 26, 14), ("E", 8, 16), ("R", 21, 17), ("T", 23, 19), ("Y", 28, 21),
              ("U", 24, 23), ("I", 12, 24), ("O", 18, 26), ("P", 19, 28), ("[", 47, 29), ("]", 48, 31))),
    (2, 0.75, (("S", 22, 1), ("D", 7, 3), ("G", 10, 6), ("H", 11, 8), ("J", 13, 10), ("L", 15, 13), (";", 51, 15))),
    (3, 1.25, (("Z", 29, 0), ("X", 27, 2), ("C", 6, 4), ("V", 25, 5), ("B", 5, 7), ("N", 17, 9), ("M", 16, 11),
               (",", 54, 12), (".", 55, 14), ("/", 56, 16))),
)  # fmt: skip
# Place of each label within its whole row, in key widths.
_ORDER = {0: "1234567890-=", 1: "QWERTYUIOP[]", 2: "ASDFGHJKL;'", 3: "ZXCVBNM,./"}
KEYS = tuple(
    TypedKey(scancode, semitone, row, left + _ORDER[row].index(label), label)
    for row, left, keys in _ROWS
    for label, scancode, semitone in keys
)
_SEMITONES = {key.scancode: key.semitone for key in KEYS}


def is_letter(scancode: int) -> bool:
    """Whether a place that plays lies in the rows of letters, not of digits."""
    return any(key.scancode == scancode and key.row for key in KEYS)


class TypedPiano:
    """Key strokes into presses and releases.

    The lower row starts an octave below middle C and the upper one on it, moved by `octave`.
    """

    def __init__(self) -> None:
        self.octave = 0
        self._held: dict[int, int] = {}

    def pitch(self, scancode: int) -> int | None:
        """The MIDI note a place plays now; None when it plays none."""
        if scancode not in _SEMITONES:
            return None
        return MIDDLE_C - 12 + 12 * self.octave + _SEMITONES[scancode]

    def shift(self, octaves: int) -> int:
        """Move the keyboard by octaves, within the piano; gives the octave it now stands at (0 is the usual)."""
        self.octave = max(-MAX_SHIFT, min(MAX_SHIFT, self.octave + octaves))
        return self.octave

    def down(self, scancode: int, at: float) -> Press | None:
        """A stroke: a press, or None for other keys and for the system's own repeats of a held key."""
        pitch = self.pitch(scancode)
        return None if pitch is None else self._press(scancode, pitch, at)

    def touch(self, pitch: int, at: float) -> Press | None:
        """The pointer pressed on a drawn key; `up` of `POINTER` lets it go."""
        return self._press(POINTER, pitch, at)

    def _press(self, scancode: int, pitch: int, at: float) -> Press | None:
        if scancode in self._held or pitch in self._held.values():
            return None
        self._held[scancode] = pitch
        return Press(at, pitch, VELOCITY)

    def up(self, scancode: int, at: float) -> Release | None:
        """A key let go: the release of what it pressed, even after a shift."""
        pitch = self._held.pop(scancode, None)
        return None if pitch is None else Release(at, pitch)

    def let_go(self, at: float) -> list[Release]:
        """Release everything, as when the window loses the keyboard."""
        found = [Release(at, pitch) for pitch in self._held.values()]
        self._held.clear()
        return found
