"""Roman numerals: which notes each means, and its function in the key.

The notes are those music21's `RomanNumeral` gives for each figure (checked entry by entry in the tests); they stand
here as a table because a page must show its harmony without the second that importing music21 takes. Figures the
table lacks are read through music21. Functions after D. de la Motte, *Harmonielehre* (1976), from memory: tonic,
subdominant (with its substitutes on ii, flat II and the augmented sixths) and dominant; iii and vi are counted to
the tonic.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from functools import lru_cache

from trainer.music.keys import MAJOR, MINOR, Key
from trainer.music.pitch import MusicError, SpelledPitch, pitch_from_fifths, shortened

TONIC = "tonic"
SUBDOMINANT = "subdominant"
DOMINANT = "dominant"

# Figure -> chord notes in thirds from the root, as places on the line of fifths from the tonic; what it costs to
# believe in the chord (0 diatonic triads; ours).
_Rows = dict[str, tuple[tuple[int, ...], float]]
_MAJOR: _Rows = {
    "I": ((0, 4, 1), 0.0), "ii": ((2, -1, 3), 0.05), "iii": ((4, 1, 5), 0.2), "IV": ((-1, 3, 0), 0.0),
    "V": ((1, 5, 2), 0.0), "vi": ((3, 0, 4), 0.1), "viio": ((5, 2, -1), 0.25),
    "V7": ((1, 5, 2, -1), 0.0), "ii7": ((2, -1, 3, 0), 0.15), "IV7": ((-1, 3, 0, 4), 0.35),
    "vi7": ((3, 0, 4, 1), 0.35), "I7": ((0, 4, 1, 5), 0.4), "iii7": ((4, 1, 5, 2), 0.5),
    "viiø7": ((5, 2, -1, 3), 0.3), "viio7": ((5, 2, -1, -4), 0.3), "iiø7": ((2, -1, -4, 0), 0.4),
    "i": ((0, -3, 1), 0.4), "iv": ((-1, -4, 0), 0.3), "iio": ((2, -1, -4), 0.4), "bVI": ((-4, 0, -3), 0.4),
    "bIII": ((-3, 1, -2), 0.5), "bVII": ((-2, 2, -1), 0.4), "bII": ((-5, -1, -4), 0.5),
    "V/V": ((2, 6, 3), 0.2), "V7/V": ((2, 6, 3, 0), 0.2), "viio/V": ((6, 3, 0), 0.4),
    "viio7/V": ((6, 3, 0, -3), 0.35), "V/vi": ((4, 8, 5), 0.25), "V7/vi": ((4, 8, 5, 2), 0.25),
    "viio7/vi": ((8, 5, 2, -1), 0.4), "V/ii": ((3, 7, 4), 0.3), "V7/ii": ((3, 7, 4, 1), 0.25),
    "viio7/ii": ((7, 4, 1, -2), 0.4), "V/iii": ((5, 9, 6), 0.4), "V7/iii": ((5, 9, 6, 3), 0.4),
    "V7/IV": ((0, 4, 1, -2), 0.25), "It6": ((6, -4, 0), 0.5), "Ger65": ((6, -4, 0, -3), 0.45),
    "Fr43": ((2, 6, -4, 0), 0.5), "III+": ((4, 8, 12), 0.6),
}  # fmt: skip
_MINOR: _Rows = {
    "i": ((0, -3, 1), 0.0), "iio": ((2, -1, -4), 0.15), "III": ((-3, 1, -2), 0.1), "iv": ((-1, -4, 0), 0.0),
    "V": ((1, 5, 2), 0.0), "VI": ((-4, 0, -3), 0.1), "VII": ((-2, 2, -1), 0.15), "viio": ((5, 2, -1), 0.2),
    "v": ((1, -2, 2), 0.3), "V7": ((1, 5, 2, -1), 0.0), "iiø7": ((2, -1, -4, 0), 0.15),
    "viio7": ((5, 2, -1, -4), 0.2), "iv7": ((-1, -4, 0, -3), 0.35), "VI7": ((-4, 0, -3, 1), 0.4),
    "VII7": ((-2, 2, -1, -4), 0.25), "i7": ((0, -3, 1, -2), 0.45), "III+": ((-3, 1, 5), 0.4),
    "III7": ((-3, 1, -2, 2), 0.5), "I": ((0, 4, 1), 0.35), "IV": ((-1, 3, 0), 0.3), "IV7": ((-1, 3, 0, -3), 0.4),
    "ii": ((2, -1, 3), 0.4), "ii7": ((2, -1, 3, 0), 0.45), "vi": ((3, 0, 4), 0.6), "bII": ((-5, -1, -4), 0.35),
    "V/V": ((2, 6, 3), 0.3), "V7/V": ((2, 6, 3, 0), 0.25), "viio7/V": ((6, 3, 0, -3), 0.35),
    "V7/iv": ((0, 4, 1, -2), 0.25), "viio7/iv": ((4, 1, -2, -5), 0.4), "V7/VI": ((-3, 1, -2, -5), 0.35),
    "It6": ((6, -4, 0), 0.5), "Ger65": ((6, -4, 0, -3), 0.45), "Fr43": ((2, 6, -4, 0), 0.5),
}  # fmt: skip
TABLE = {MAJOR: _MAJOR, MINOR: _MINOR}
# The bass of an augmented sixth, which its figure names whatever note is its root: the lowered sixth degree.
LOW_SIXTH = -4
_FIFTH, _INCOMPLETE = 2, 1.0
# Figured bass by the place of the bass in the chord: triads, then chords of the seventh.
TRIADS = ("", "6", "64")
SEVENTHS = ("7", "65", "43", "42")
_FUNCTIONS = {"I": TONIC, "II": SUBDOMINANT, "III": TONIC, "IV": SUBDOMINANT, "V": DOMINANT, "VI": TONIC,
              "VII": DOMINANT}  # fmt: skip
_NUMERAL = r"IV|V?I{1,3}|V|iv|v?i{1,3}|v"
_PARTS = re.compile(rf"([b#]*)(?:(It|Ger|Fr|N|Cad)|({_NUMERAL}))([oø+]?)(\d{{0,3}})(/[b#]*(?:{_NUMERAL}))?")


@dataclass(frozen=True)
class Numeral:
    """A Roman numeral in a key: figure, chord notes from the root in thirds (fifths from the tonic), bass place."""

    figure: str
    fifths: tuple[int, ...]
    inversion: int = 0

    def pitches(self, key: Key, octave: int = 3) -> tuple[SpelledPitch, ...]:
        """Bass first, then the other notes upward in close position."""
        order = self.fifths[self.inversion :] + self.fifths[: self.inversion]
        found: list[SpelledPitch] = []
        for place in order:
            pitch = pitch_from_fifths(key.tonic.fifths + place, octave)
            while found and pitch.midi <= found[-1].midi:
                pitch = SpelledPitch(pitch.letter, pitch.alteration, pitch.octave + 1)
            found.append(pitch)
        return tuple(found)

    @property
    def sign(self) -> str:
        """As printed under a staff: ``vii°7``, ``♭VI``."""
        return self.figure.replace("o", "°").replace("b", "♭").replace("#", "♯")

    @property
    def degree(self) -> int:
        """The degree of the scale the root stands on (of the key applied to, in ``V/V``: the dominant's root, 2)."""
        return (self.fifths[0] * 4) % 7 + 1

    @property
    def function(self) -> str:
        """``tonic``, ``subdominant``, ``dominant``, or ``dominant of V`` for applied chords."""
        parts = _PARTS.fullmatch(self.figure)
        if not parts:
            return ""
        if parts[6]:
            return f"{DOMINANT} of {parts[6][1:]}"
        if parts[2] == "Cad":
            return DOMINANT
        if parts[2] or (parts[1] == "b" and parts[3].upper() in ("II", "VI")):
            return SUBDOMINANT
        return _FUNCTIONS.get(parts[3].upper(), "")


def inverted(base: str, fifths: tuple[int, ...], inversion: int) -> Numeral:
    """A numeral of the table with another bass: ``V7`` with the third in the bass is ``V65``.

    An augmented sixth has one bass only.

    >>> inverted("V7/V", (2, 6, 3, 0), 1).figure
    'V65/V'
    """
    parts = _PARTS.fullmatch(base)
    assert parts is not None
    if parts[2]:
        return Numeral(base, fifths, fifths.index(LOW_SIXTH))
    figures = SEVENTHS if len(fifths) == 4 else TRIADS
    stem = (parts[1] or "") + parts[3] + parts[4]
    return Numeral(stem + figures[inversion] + (parts[6] or ""), fifths, inversion)


@lru_cache(maxsize=512)
def parse(figure: str, mode: str) -> Numeral:
    """Read a figure a player wrote: ``V65``, ``vii°7``, ``♭VI``, ``V7/V``, ``Ger65``.

    ``o``, ``/o``, ``b`` and ``#`` stand for °, ø, ♭ and ♯ where a keyboard lacks them; ``/o`` is the form of RomanText
    (D. Tymoczko and others, ISMIR 2019; from memory).

    Raises
    ------
    MusicError
        When it is no Roman numeral.
    """
    plain = figure.strip().replace("/o", "ø").replace("°", "o").replace("♭", "b").replace("♯", "#")
    for base, (fifths, _) in TABLE[mode].items():
        for inversion in range(len(fifths)):
            if inverted(base, fifths, inversion).figure == plain:
                return inverted(base, fifths, inversion)
    return _through_music21(plain, mode)


def of_keys(pressed: Collection[int], tonic: int, mode: str) -> Numeral | None:
    """The chord that keys held on a piano make in a key, the lowest of them its bass; None for no chord of the table.

    A chord of the seventh may lack its fifth. Of several names for the same keys the likeliest.

    Parameters
    ----------
    pressed : collection of int
        MIDI notes.
    tonic : int
        Pitch class of do (in minor: of la), 0 to 11, in the key that is played.

    Examples
    --------
    >>> of_keys((47, 62, 65, 67), 0, MAJOR).figure
    'V65'
    """
    if not pressed:
        return None
    sounding = {(key - tonic) % 12 for key in pressed}
    bass = (min(pressed) - tonic) % 12
    best: tuple[float, Numeral] | None = None
    for figure, (fifths, cost) in TABLE[mode].items():
        classes = [place * 7 % 12 for place in fifths]
        lacking = set(classes) - sounding
        if not sounding <= set(classes) or (lacking and (len(fifths) < 4 or lacking != {classes[_FIFTH]})):
            continue
        numeral = inverted(figure, fifths, classes.index(bass))
        price = cost + (_INCOMPLETE if lacking else 0.0)
        if classes[numeral.inversion] == bass and (best is None or price < best[0]):
            best = price, numeral
    return best[1] if best else None


def _through_music21(figure: str, mode: str) -> Numeral:
    from music21 import key as m21key
    from music21 import roman

    refusal = MusicError(f"'{shortened(figure)}' is not a Roman numeral: write one like V7, ii6, vii°7/V or ♭VI.")
    if not _PARTS.fullmatch(figure):
        raise refusal
    tonic = m21key.Key("C") if mode == MAJOR else m21key.Key("a")
    try:
        chord = roman.RomanNumeral(figure, tonic)
        root, bass = chord.root(), chord.bass()
        notes = sorted(chord.pitches, key=lambda p: (p.diatonicNoteNum - root.diatonicNoteNum) % 7)
    except Exception as refused:  # music21 raises many kinds for a figure it cannot read
        raise refusal from refused
    if not notes:
        raise refusal
    home = SpelledPitch(tonic.tonic.step, 0, 4).fifths
    fifths = tuple(SpelledPitch(p.step, int(p.alter), 4).fifths - home for p in notes)
    return Numeral(figure, fifths, [p.name for p in notes].index(bass.name))
