"""Harmony for composing: chords as degrees, and the progressions of each level.

Roman numerals as in harmony textbooks; which progressions serve a beginner is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

from trainer.music.compass import HEXACHORD, LEVELS, OPEN, PENTACHORD, TRICHORD
from trainer.scores.composing.rhythms import draw


@dataclass(frozen=True)
class Chord:
    """Members as degrees from 0 (the tonic), root first, and the degrees the chord raises by a semitone."""

    members: tuple[int, ...]
    raises: frozenset[int] = frozenset()

    @property
    def root(self) -> int:
        return self.members[0]

    def holds(self, degree: int) -> bool:
        return degree % 7 in self.members


# In minor the dominant's third is the leading note, raised.
MAJOR_CHORDS = {
    "I": Chord((0, 2, 4)), "ii": Chord((1, 3, 5)), "IV": Chord((3, 5, 0)), "V": Chord((4, 6, 1, 3)),
    "vi": Chord((5, 0, 2)), "V/V": Chord((1, 3, 5), frozenset({3})), "V/vi": Chord((2, 4, 6), frozenset({4})),
}  # fmt: skip
MINOR_CHORDS = {
    "i": Chord((0, 2, 4)), "iv": Chord((3, 5, 0)), "V": Chord((4, 6, 1, 3), frozenset({6})), "VI": Chord((5, 0, 2)),
    "III": Chord((2, 4, 6)), "VII": Chord((6, 1, 3)), "V/iv": Chord((0, 2, 4), frozenset({2})),
}  # fmt: skip

# Two bars each: how a phrase opens, how it comes to rest on the dominant, how it closes on the tonic, how a
# contrasting phrase opens. A bar with two chords changes in the middle. Each from its level upward.
_Table = dict[str, tuple[tuple[str, str], ...]]
_MAJOR: dict[str, _Table] = {
    "opening": {
        TRICHORD: (("I", "I"), ("I", "V")),
        PENTACHORD: (("I", "IV"),),
        HEXACHORD: (("I", "vi"), ("I", "ii")),
    },
    "half": {
        TRICHORD: (("I", "V"),),
        PENTACHORD: (("IV", "V"),),
        HEXACHORD: (("ii", "V"), ("vi", "V")),
        OPEN: (("V/V", "V"), ("V/V", "V")),
    },
    "full": {
        TRICHORD: (("V", "I"), ("I V", "I")),
        PENTACHORD: (("IV V", "I"),),
        HEXACHORD: (("ii V", "I"),),
    },
    "contrast": {
        TRICHORD: (("V", "I"),),
        PENTACHORD: (("IV", "I"),),
        HEXACHORD: (("vi", "ii"),),
        OPEN: (("V/vi", "vi"), ("V/vi", "vi")),
    },
}
_MINOR: dict[str, _Table] = {
    "opening": {
        TRICHORD: (("i", "i"), ("i", "V")),
        PENTACHORD: (("i", "iv"),),
        HEXACHORD: (("i", "VI"), ("i", "VII")),
    },
    "half": {
        TRICHORD: (("i", "V"),),
        PENTACHORD: (("iv", "V"),),
        HEXACHORD: (("VI", "V"), ("iv", "V")),
    },
    "full": {
        TRICHORD: (("V", "i"), ("i V", "i")),
        PENTACHORD: (("iv V", "i"),),
        HEXACHORD: (("VI V", "i"),),
    },
    "contrast": {
        TRICHORD: (("V", "i"),),
        PENTACHORD: (("iv", "i"),),
        HEXACHORD: (("III", "VII"),),
        OPEN: (("V/iv", "iv"), ("V/iv", "iv")),
    },
}


def progression(part: str, level: str, minor: bool, rng: Random) -> list[tuple[Chord, ...]]:
    """Two bars of harmony for a part of a phrase: ``opening``, ``half``, ``full`` or ``contrast``."""
    table = (_MINOR if minor else _MAJOR)[part]
    upto = LEVELS.index(level)
    choices = [pair for name, pairs in table.items() if LEVELS.index(name) <= upto for pair in pairs]
    # What a level adds is drawn twice as often as what came before it.
    weights = [2 if pair in table.get(level, ()) else 1 for pair in choices]
    chords = MINOR_CHORDS if minor else MAJOR_CHORDS
    return [tuple(chords[name] for name in bar.split()) for bar in choices[draw(rng, weights)]]
