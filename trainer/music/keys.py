"""Keys, signatures, and the distance between keys on the circle of fifths.

Source of the signatures: any rudiments handbook, e.g. E. Taylor, *The AB Guide to Music Theory* I (1989), ch. 6
(from memory); sharps enter F C G D A E B, flats B E A D G C F.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from trainer.music.pitch import ALTERATION_WORDS, Interval, MusicError, SpelledPitch, pitch_from_fifths

MAJOR = "major"
MINOR = "minor"
SHARPS = "FCGDAEB"
MAX_ACCIDENTALS = 7
# Steps of the scale as places on the line of fifths from the tonic: degrees 1 to 7.
_SCALE_FIFTHS = {MAJOR: (0, 2, 4, -1, 1, 3, 5), MINOR: (0, 2, -3, -1, 1, -4, -2)}
UNDERSTOOD = "write a letter with # or b, capital for major and small for minor (C, F#, Bb, f#, c#), or 'F# minor'"


@dataclass(frozen=True)
class Key:
    """A key: tonic letter, alteration, and mode (``major`` or ``minor``).

    >>> Key.parse("f#").name
    'F♯ minor'
    >>> Key.parse("Eb").signature
    -3
    """

    letter: str
    alteration: int
    mode: str

    @classmethod
    def parse(cls, text: str) -> Key:
        """Read ``C``, ``F#``, ``Bb``, ``f#`` (minor), ``F# minor``, ``B flat major``; music signs also.

        Raises
        ------
        MusicError
            With the list of what is understood, when the text is no key or its signature has more than seven
            accidentals.
        """
        plain = text.strip().replace("♭", "b").replace("♯", "#").replace("♮", "")
        # Only the letter's own size tells the mode: `Eb Major` and `F# MINOR` are meant as well.
        plain = plain[:1] + re.sub(r"\s+", " ", plain[1:]).lower()
        match = re.fullmatch(r"([A-Ga-g])(#|b)?(?:[ -](sharp|flat))?(?:[ -](major|minor))?", plain)
        if not match or (match[2] and match[3]):
            raise MusicError(f"'{text}' is not a key: {UNDERSTOOD}.")
        letter = match[1].upper()
        alteration = {"#": 1, "sharp": 1, "b": -1, "flat": -1, None: 0}[match[2] or match[3]]
        mode = match[4] or (MINOR if match[1].islower() else MAJOR)
        key = cls(letter, alteration, mode)
        if abs(key.signature) > MAX_ACCIDENTALS:
            raise MusicError(
                f"{key.name} has {abs(key.signature)} accidentals, more than a signature holds: "
                f"write {key.respelled().short} for the same keys of the piano."
            )
        return key

    @classmethod
    def from_signature(cls, signature: int, mode: str = MAJOR) -> Key:
        """The key with `signature` sharps (negative: flats, -7 to 7) in `mode`."""
        tonic = pitch_from_fifths(signature + (3 if mode == MINOR else 0), 4)
        return cls(tonic.letter, tonic.alteration, mode)

    @property
    def tonic(self) -> SpelledPitch:
        """The tonic in octave 4."""
        return SpelledPitch(self.letter, self.alteration, 4)

    @property
    def signature(self) -> int:
        """Sharps in the signature; flats are negative. May pass 7 for keys only written by transposition."""
        return self.tonic.fifths - (3 if self.mode == MINOR else 0)

    @property
    def is_minor(self) -> bool:
        return self.mode == MINOR

    def alteration_of(self, letter: str) -> int:
        """What the signature does to a letter: semitones added, -2 to 2.

        >>> Key.parse("Eb").alteration_of("A")
        -1
        """
        place = SHARPS.index(letter)
        signature = self.signature
        return (signature - place + 6) // 7

    def degree(self, number: int, octave: int = 4) -> SpelledPitch:
        """Degree 1 to 7 (natural minor) at or above the tonic of `octave`."""
        fifths = self.tonic.fifths + _SCALE_FIFTHS[self.mode][number - 1]
        pitch = pitch_from_fifths(fifths, octave)
        tonic = SpelledPitch(self.letter, self.alteration, octave)
        return pitch if pitch.steps >= tonic.steps else SpelledPitch(pitch.letter, pitch.alteration, octave + 1)

    @property
    def scale(self) -> tuple[SpelledPitch, ...]:
        """Seven degrees up from the tonic of octave 4, natural minor in minor keys."""
        return tuple(self.degree(n) for n in range(1, 8))

    def fifths_away(self, other: Key) -> int:
        """Distance between the two signatures round the circle of fifths, 0 to 6.

        >>> Key.parse("g").fifths_away(Key.parse("c#"))
        6
        """
        apart = abs(self.signature - other.signature) % 12
        return min(apart, 12 - apart)

    def transposed(self, interval: Interval) -> Key:
        """The key an interval away, spelled by the interval (signature may pass seven accidentals)."""
        tonic = self.tonic + interval
        return Key(tonic.letter, tonic.alteration, self.mode)

    def respelled(self) -> Key:
        """The enharmonic key with the fewer accidentals; itself when that is already so (six sharps stay)."""
        signature = self.signature
        while signature > 6:
            signature -= 12
        while signature < -6:
            signature += 12
        return Key.from_signature(signature, self.mode) if abs(signature) < abs(self.signature) else self

    @property
    def relative(self) -> Key:
        return Key.from_signature(self.signature, MAJOR if self.is_minor else MINOR)

    @property
    def short(self) -> str:
        """As written in commands: ``Eb``, ``f#``."""
        sign = {1: "#", -1: "b", 0: ""}.get(self.alteration, "#" * self.alteration or "b" * -self.alteration)
        return (self.letter.lower() if self.is_minor else self.letter) + sign

    @property
    def name(self) -> str:
        """With music signs: ``E♭ major``."""
        return f"{self.tonic.sign_name} {self.mode}"

    @property
    def words(self) -> str:
        """In words: ``E flat major``, ``C major``."""
        sign = f" {ALTERATION_WORDS[self.alteration]}" if self.alteration else ""
        return f"{self.letter}{sign} {self.mode}"


# The fifteen signatures in each mode, flats first.
ALL_SIGNATURES = tuple(range(-MAX_ACCIDENTALS, MAX_ACCIDENTALS + 1))
# The twenty-four keys of the piano in circle order from C, as usually spelled (F sharp and E flat minor at the foot).
CIRCLE_MAJOR = tuple(Key.from_signature(s, MAJOR) for s in (0, 1, 2, 3, 4, 5, 6, -5, -4, -3, -2, -1))
CIRCLE_MINOR = tuple(Key.from_signature(s, MINOR) for s in (0, 1, 2, 3, 4, 5, -6, -5, -4, -3, -2, -1))
TWENTY_FOUR = CIRCLE_MAJOR + CIRCLE_MINOR
