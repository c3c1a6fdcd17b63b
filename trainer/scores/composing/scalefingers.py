"""Standard fingering of scales, as a table.

Source: the fingering common to the scale manuals (for example the examination boards' manuals of scales and
arpeggios and C. L. Hanon, *The Virtuoso Pianist*, no. 39); from memory, checked by the rules those manuals give:
in every octave the fourth finger plays once and the thumb twice, and the thumb never takes a black key.
"""

from __future__ import annotations

from dataclasses import dataclass

from trainer.music.keys import MINOR, Key
from trainer.music.piece import RIGHT

NATURAL = "natural"
HARMONIC = "harmonic"
MELODIC = "melodic"
FORMS = (NATURAL, HARMONIC, MELODIC)


@dataclass(frozen=True)
class ScaleFingers:
    """Fingers of degrees 1 to 7 as they repeat in every octave, and those of the lowest and the highest note."""

    cycle: tuple[int, ...]
    lowest: int
    highest: int

    def upward(self, octaves: int) -> tuple[int, ...]:
        """Fingers of the ``7 * octaves + 1`` notes from lowest to highest."""
        inner = (self.cycle * octaves)[1:]
        return (self.lowest, *inner, self.highest)


def _fingers(cycle: str, lowest: int, highest: int) -> ScaleFingers:
    return ScaleFingers(tuple(int(finger) for finger in cycle), lowest, highest)


_RIGHT_WHITE = _fingers("1231234", 1, 5)
_LEFT_WHITE = _fingers("1432132", 5, 1)
_LEFT_THREE = _fingers("3214321", 3, 3)
# By pitch class of the tonic.
_RIGHT_MAJOR = {
    0: _RIGHT_WHITE, 2: _RIGHT_WHITE, 4: _RIGHT_WHITE, 7: _RIGHT_WHITE, 9: _RIGHT_WHITE, 11: _RIGHT_WHITE,
    5: _fingers("1234123", 1, 4), 10: _fingers("4123123", 2, 4), 3: _fingers("3123412", 3, 3),
    8: _fingers("3412312", 3, 3), 1: _fingers("2312341", 2, 2), 6: _fingers("2341231", 2, 2),
}  # fmt: skip
_LEFT_MAJOR = {
    0: _LEFT_WHITE, 2: _LEFT_WHITE, 4: _LEFT_WHITE, 5: _LEFT_WHITE, 7: _LEFT_WHITE, 9: _LEFT_WHITE,
    11: _fingers("1321432", 4, 1), 10: _LEFT_THREE, 3: _LEFT_THREE, 8: _LEFT_THREE, 1: _LEFT_THREE,
    6: _fingers("4321321", 4, 4),
}  # fmt: skip
_RIGHT_MINOR = {
    **dict.fromkeys((9, 4, 11, 2, 7, 0), _RIGHT_WHITE),
    5: _fingers("1234123", 1, 4), 10: _fingers("4123123", 2, 4), 3: _fingers("3123412", 3, 3),
    **dict.fromkeys((6, 1, 8), _fingers("3412312", 3, 3)),
}  # fmt: skip
_LEFT_MINOR = {
    **dict.fromkeys((9, 4, 2, 7, 0, 5), _LEFT_WHITE),
    11: _fingers("1321432", 4, 1), 6: _fingers("4321321", 4, 4), 1: _LEFT_THREE, 8: _LEFT_THREE,
    3: _fingers("2143213", 2, 2), 10: _fingers("2132143", 2, 2),
}  # fmt: skip
# With the sixth and seventh degrees raised, F sharp and C sharp minor go up as D flat major does; the top note takes
# the finger the way down begins with.
_RIGHT_MELODIC_UP = dict.fromkeys((6, 1), _fingers("2312341", 2, 3))
# With the seventh degree plain, G sharp minor has a black key where the thumb stood.
_LEFT_PLAIN_SEVENTH = {8: _fingers("3213214", 3, 3)}


def scale_fingers(key: Key, hand: str, form: str = HARMONIC, *, rising: bool = True) -> ScaleFingers:
    """The standard fingers of a key's scale for one hand; `form` matters in minor keys only."""
    place = key.tonic.midi % 12
    if key.mode == MINOR:
        if hand == RIGHT and form == MELODIC and rising and place in _RIGHT_MELODIC_UP:
            return _RIGHT_MELODIC_UP[place]
        plain = form == NATURAL or (form == MELODIC and not rising)
        if hand != RIGHT and plain and place in _LEFT_PLAIN_SEVENTH:
            return _LEFT_PLAIN_SEVENTH[place]
        return (_RIGHT_MINOR if hand == RIGHT else _LEFT_MINOR)[place]
    return (_RIGHT_MAJOR if hand == RIGHT else _LEFT_MAJOR)[place]
