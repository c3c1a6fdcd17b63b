"""The keyboard in millimetres: where each key lies and how much room there is between the black ones.

Sources. Octave 164-165 mm and white keys of 23.5 mm: the usual size of modern pianos, e.g. the hand-span study of
R. Boyle, R. Boyle and E. Booker, *Pianist Hand Spans* (Australasian Piano Pedagogy Conference, 2015), which takes
6.5 inches (165 mm) for the octave. Black keys 13.7 mm at the base: one twelfth of the octave, the spacing of the key
levers (J. Savard, *The Size of the Piano Keyboard*). They are not centred on the gaps: behind the fronts the five
keys from C to E share three white widths equally and the seven from F to B share four (same source). Lengths of
150 mm and 95 mm: usual values, from memory.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf

WHITE_WIDTH = 23.5
OCTAVE = 7 * WHITE_WIDTH
WHITE_LENGTH = 150.0
BLACK_LENGTH = 95.0
BLACK_WIDTH = 13.7
# From the front edge of the white keys to the front of the black ones.
BLACK_FRONT = WHITE_LENGTH - BLACK_LENGTH

BLACK_CLASSES = frozenset({1, 3, 6, 8, 10})
_WHITES_BELOW = (0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6)
_C_TO_E = 3 * WHITE_WIDTH / 5
_F_TO_B = 4 * WHITE_WIDTH / 7
LOWEST_PIANO_KEY = 21

# The lowest and the highest key the player has; who does not say has them all.
Compass = tuple[float, float]
ANY: Compass = (-inf, inf)


def is_black(midi: int) -> bool:
    return midi % 12 in BLACK_CLASSES


def _black_centre(pitch_class: int) -> float:
    """Millimetres from the left edge of C to the middle of a black key."""
    if pitch_class < 5:
        return (pitch_class + 0.5) * _C_TO_E
    return 3 * WHITE_WIDTH + (pitch_class - 5 + 0.5) * _F_TO_B


def centre(midi: int) -> float:
    """Middle of a key in mm from the left edge of MIDI note 0.

    >>> round(centre(72) - centre(60), 1), round(centre(64) - centre(60), 1)
    (164.5, 47.0)
    """
    octave, pitch_class = divmod(midi, 12)
    if pitch_class in BLACK_CLASSES:
        return octave * OCTAVE + _black_centre(pitch_class)
    return octave * OCTAVE + (_WHITES_BELOW[pitch_class] + 0.5) * WHITE_WIDTH


def span_mm(low: int, high: int) -> float:
    """Distance between the middles of two keys, in mm; signed."""
    return centre(high) - centre(low)


def key_rect(midi: int, lowest: int = LOWEST_PIANO_KEY) -> tuple[float, float, bool]:
    """Left edge in mm from the left edge of the `lowest` key (a white one), width in mm, and whether it is black.

    Black keys have the width of their base; a white key is given with its full front width.

    >>> key_rect(21), key_rect(23)[:2]
    ((0.0, 23.5, False), (23.5, 23.5))
    """
    black = is_black(midi)
    width = BLACK_WIDTH if black else WHITE_WIDTH
    start = centre(lowest) - WHITE_WIDTH / 2
    return centre(midi) - width / 2 - start, width, black


def room_between(midi: int) -> float:
    """Width in mm that a fingertip finds on a white key among the black ones.

    Where the neighbour is white too (B-C, E-F) the fingertip may lean over it, by half a white key.
    """
    left = centre(midi - 1) + BLACK_WIDTH / 2 if is_black(midi - 1) else centre(midi) - WHITE_WIDTH
    right = centre(midi + 1) - BLACK_WIDTH / 2 if is_black(midi + 1) else centre(midi) + WHITE_WIDTH
    return right - left


@dataclass(frozen=True)
class Keyboard:
    """A keyboard by its number of keys, lowest and highest MIDI note.

    Parameters
    ----------
    keys : int
    lowest, highest : int
        MIDI notes, both white keys.
    """

    keys: int
    lowest: int
    highest: int

    @property
    def width_mm(self) -> float:
        """From the left edge of the lowest key to the right edge of the highest."""
        return centre(self.highest) - centre(self.lowest) + WHITE_WIDTH

    @property
    def compass(self) -> tuple[int, int]:
        """Its lowest and its highest key."""
        return self.lowest, self.highest

    def holds(self, midi: int) -> bool:
        return self.lowest <= midi <= self.highest

    def rect(self, midi: int) -> tuple[float, float, bool]:
        """`key_rect` measured from this keyboard's left edge."""
        return key_rect(midi, self.lowest)


# Usual ranges: A0-C8, E1-G7, C2-C7, C2-C6 (common practice of makers, no single source).
KEYBOARDS = {
    88: Keyboard(88, 21, 108),
    76: Keyboard(76, 28, 103),
    61: Keyboard(61, 36, 96),
    49: Keyboard(49, 36, 84),
}


def stretch(midi: Iterable[int], beside: int = 2) -> Keyboard:
    """A stretch of keyboard round some keys: so many white keys beside them, from a white key to a white key.

    >>> stretch([61, 68], 1)
    Keyboard(keys=10, lowest=60, highest=69)
    """
    keys = tuple(midi)
    low, high = min(keys), max(keys)
    for _ in range(beside):
        low -= 1 + is_black(low - 1)
        high += 1 + is_black(high + 1)
    low -= is_black(low)
    high += is_black(high)
    return Keyboard(high - low + 1, low, high)
