"""Movable-do: the syllable and the degree of a pitch in a key.

Syllables by place on the line of fifths from do. Source: the chromatic syllables of tonic sol-fa as used in
ear-training courses (di ri fi si li going up, te le se me ra going down); common practice, no single source.
"""

from __future__ import annotations

from trainer.music.keys import Key
from trainer.music.pitch import SpelledPitch

LA_BASED = "la"
DO_BASED = "do"
# How many syllables are shown: every one, the first of a bar, only do, none.
HELPS = ("all", "bars", "do", "none")

# Fifths from do -> syllable. Raised degrees right of ti, lowered left of fa.
SYLLABLES = {
    -6: "se", -5: "ra", -4: "le", -3: "me", -2: "te", -1: "fa",
    0: "do", 1: "sol", 2: "re", 3: "la", 4: "mi", 5: "ti",
    6: "fi", 7: "di", 8: "si", 9: "ri", 10: "li",
}  # fmt: skip
# Beyond the singable ones, by letter of the degree and the double alteration.
_FIFTHS_OF_DEGREE = (0, 2, 4, -1, 1, 3, 5)
_DIATONIC = ("do", "re", "mi", "fa", "sol", "la", "ti")


def do_of(key: Key, minor: str = LA_BASED) -> SpelledPitch:
    """The pitch called do in a key, octave 4.

    The tonic, or in la-based minor the relative major's tonic. A church mode follows the same choice: whoever sings
    minor from la sings dorian from re and mixolydian from sol, for the signature makes do; whoever sings minor from
    do sings every mode from do. Common practice, no single source.

    >>> do_of(Key.parse("D dorian")).name, do_of(Key.parse("D dorian"), DO_BASED).name
    ('C4', 'D4')
    """
    return key.relative.tonic if (key.is_minor or key.church) and minor == LA_BASED else key.tonic


def degree(pitch: SpelledPitch, key: Key) -> tuple[int, int]:
    """Scale degree 1-7 counted from the tonic, and its alteration against the key's (natural minor) scale.

    >>> degree(SpelledPitch.parse("B4"), Key.parse("C"))
    (7, 0)
    >>> degree(SpelledPitch.parse("G#4"), Key.parse("a"))
    (7, 1)
    """
    number = (pitch.steps - key.tonic.steps) % 7 + 1
    return number, pitch.alteration - key.alteration_of(pitch.letter)


def syllable(pitch: SpelledPitch, key: Key, minor: str = LA_BASED) -> str:
    """The movable-do syllable of a pitch in a key.

    >>> [syllable(p, Key.parse("Eb")) for p in Key.parse("Eb").scale]
    ['do', 're', 'mi', 'fa', 'sol', 'la', 'ti']
    >>> syllable(SpelledPitch.parse("G#4"), Key.parse("a")), syllable(SpelledPitch.parse("G#4"), Key.parse("a"), "do")
    ('si', 'ti')
    """
    do = do_of(key, minor)
    fifths = pitch.fifths - do.fifths
    if fifths in SYLLABLES:
        return SYLLABLES[fifths]
    step = (pitch.steps - do.steps) % 7
    off = (fifths - _FIFTHS_OF_DEGREE[step]) // 7
    return _DIATONIC[step] + ("♯" * off if off > 0 else "♭" * -off)


def degree_label(pitch: SpelledPitch, key: Key) -> str:
    """The degree as a number with its alteration against the major or natural-minor scale: ``4``, ``♯4``, ``♭7``."""
    number, off = degree(pitch, key)
    return ("♯" * off if off > 0 else "♭" * -off) + str(number)
