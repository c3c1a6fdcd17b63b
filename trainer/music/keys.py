"""Keys, signatures, and the distance between keys on the circle of fifths.

Source of the signatures: any rudiments handbook, e.g. E. Taylor, *The AB Guide to Music Theory* I (1989), ch. 6
(from memory); sharps enter F C G D A E B, flats B E A D G C F.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from trainer.music.pitch import ALTERATION_WORDS, Interval, MusicError, SpelledPitch, pitch_from_fifths, shortened

MAJOR = "major"
MINOR = "minor"
SHARPS = "FCGDAEB"
MAX_ACCIDENTALS = 7
# The church modes that are neither major nor minor: which of the two by their third, and how many sharps that adds.
CHURCH_MODES = {
    "lydian": (MAJOR, 1), "mixolydian": (MAJOR, -1), "dorian": (MINOR, 1), "phrygian": (MINOR, -1),
    "locrian": (MINOR, -2),
}  # fmt: skip
# Every mode by its first three letters, as ABC writes it also.
_MODES = {name[:3]: name for name in (MAJOR, MINOR, *CHURCH_MODES)} | {"ion": MAJOR, "aeo": MINOR}
UNDERSTOOD = (
    "write a letter with # or b, capital for major and small for minor (C, F#, Bb, f#, c#), or 'F# minor', 'D dorian'"
)


def mode_named(word: str) -> str:
    """The mode a word names, empty for none: ``Dorian``, ``mix``, ``aeolian`` (which is natural minor).

    >>> mode_named("Mixolydian"), mode_named("aeo"), mode_named("none")
    ('mixolydian', 'minor', '')
    """
    word = word.strip().lower()
    full = _MODES.get(word[:3], "")
    return full if len(word) == 3 or word in (full, "ionian", "aeolian") else ""


@dataclass(frozen=True)
class Key:
    """A key: tonic letter, alteration, mode (``major`` or ``minor``), and the church mode where it is in one.

    A church mode has a tonic, a signature of its own and seven degrees; these come from `church`. All else that is
    known of keys (fingers of scales, the twenty-four keys, numerals, key-finding) is known of major and minor only,
    so `mode` stays one of the two: the one with the same third over the same tonic, whose five-finger position
    differs by one note at most (locrian's by two). So D dorian is fingered and counted as D minor, but read, named,
    printed and transposed as D dorian. Aeolian and ionian are minor and major themselves.

    >>> Key.parse("f#").name
    'F♯ minor'
    >>> Key.parse("Eb").signature, Key.parse("Eb dorian").signature
    (-3, -5)
    """

    letter: str
    alteration: int
    mode: str
    church: str = ""

    @classmethod
    def parse(cls, text: str) -> Key:
        """Read ``C``, ``F#``, ``Bb``, ``f#`` (minor), ``F# minor``, ``B flat major``, ``D dorian``, ``Ddor``; music
        signs also.

        Raises
        ------
        MusicError
            With the list of what is understood, when the text is no key or its signature has more than seven
            accidentals.
        """
        plain = text.strip().replace("♭", "b").replace("♯", "#").replace("♮", "")
        # Only the letter's own size tells the mode: `Eb Major` and `F# MINOR` are meant as well.
        plain = plain[:1] + re.sub(r"\s+", " ", plain[1:]).lower()
        match = re.fullmatch(r"([A-Ga-g])(#|b)?(?:[ -](sharp|flat))?(?:[ -]?([a-z]{3,}))?", plain)
        named = mode_named(match[4] or "") if match else ""
        if not match or (match[2] and match[3]) or (match[4] and not named):
            raise MusicError(f"'{shortened(text)}' is not a key: {UNDERSTOOD}.")
        letter = match[1].upper()
        alteration = {"#": 1, "sharp": 1, "b": -1, "flat": -1, None: 0}[match[2] or match[3]]
        key = cls.in_mode(letter, alteration, named or (MINOR if match[1].islower() else MAJOR))
        if abs(key.signature) > MAX_ACCIDENTALS:
            raise MusicError(
                f"{key.name} has {abs(key.signature)} accidentals, more than a signature holds: "
                f"write {key.respelled().short} for the same keys of the piano."
            )
        return key

    @classmethod
    def in_mode(cls, letter: str, alteration: int, mode: str) -> Key:
        """The key on a tonic in any of the modes: ``major``, ``minor``, ``dorian``."""
        if mode in CHURCH_MODES:
            return cls(letter, alteration, CHURCH_MODES[mode][0], mode)
        return cls(letter, alteration, mode)

    @classmethod
    def from_signature(cls, signature: int, mode: str = MAJOR) -> Key:
        """The key with `signature` sharps (negative: flats, -7 to 7) in any of the modes.

        >>> Key.from_signature(0, "dorian").name
        'D dorian'
        """
        like, sharps = CHURCH_MODES.get(mode, (mode, 0))
        tonic = pitch_from_fifths(signature - sharps + (3 if like == MINOR else 0), 4)
        return cls.in_mode(tonic.letter, tonic.alteration, mode)

    @property
    def tonic(self) -> SpelledPitch:
        """The tonic in octave 4."""
        return SpelledPitch(self.letter, self.alteration, 4)

    @property
    def signature(self) -> int:
        """Sharps in the signature; flats are negative. May pass 7 for keys only written by transposition."""
        sharps = CHURCH_MODES[self.church][1] if self.church else 0
        return self.tonic.fifths - (3 if self.mode == MINOR else 0) + sharps

    @property
    def full_mode(self) -> str:
        """The mode by its own name: ``major``, ``minor`` or the church mode."""
        return self.church or self.mode

    @property
    def plain(self) -> Key:
        """The major or minor key it is fingered and counted as: itself, when it is in no church mode."""
        return replace(self, church="") if self.church else self

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
        pitch = SpelledPitch.from_steps(SpelledPitch(self.letter, 0, octave).steps + number - 1, 0)
        return SpelledPitch(pitch.letter, self.alteration_of(pitch.letter), pitch.octave)

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
        return replace(self, letter=tonic.letter, alteration=tonic.alteration)

    def respelled(self) -> Key:
        """The enharmonic key with the fewer accidentals; itself when that is already so (six sharps stay)."""
        signature = self.signature
        while signature > 6:
            signature -= 12
        while signature < -6:
            signature += 12
        return Key.from_signature(signature, self.full_mode) if abs(signature) < abs(self.signature) else self

    @property
    def relative(self) -> Key:
        """The key with the same signature: major for minor and church modes, minor for major."""
        return Key.from_signature(self.signature, MAJOR if self.is_minor or self.church else MINOR)

    @property
    def short(self) -> str:
        """As written in commands: ``Eb``, ``f#``, ``D dorian``."""
        sign = {1: "#", -1: "b", 0: ""}.get(self.alteration, "#" * self.alteration or "b" * -self.alteration)
        if self.church:
            return f"{self.letter}{sign} {self.church}"
        return (self.letter.lower() if self.is_minor else self.letter) + sign

    @property
    def name(self) -> str:
        """With music signs: ``E♭ major``."""
        return f"{self.tonic.sign_name} {self.full_mode}"

    @property
    def words(self) -> str:
        """In words: ``E flat major``, ``C major``."""
        sign = f" {ALTERATION_WORDS[self.alteration]}" if self.alteration else ""
        return f"{self.letter}{sign} {self.full_mode}"


# The fifteen signatures in each mode, flats first.
ALL_SIGNATURES = tuple(range(-MAX_ACCIDENTALS, MAX_ACCIDENTALS + 1))
# The twenty-four keys of the piano in circle order from C, as usually spelled (F sharp and E flat minor at the foot).
CIRCLE_MAJOR = tuple(Key.from_signature(s, MAJOR) for s in (0, 1, 2, 3, 4, 5, 6, -5, -4, -3, -2, -1))
CIRCLE_MINOR = tuple(Key.from_signature(s, MINOR) for s in (0, 1, 2, 3, 4, 5, -6, -5, -4, -3, -2, -1))
TWENTY_FOUR = CIRCLE_MAJOR + CIRCLE_MINOR
