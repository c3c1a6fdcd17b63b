"""Reading by clef: imagine another clef on the staff and the written heads name the transposed notes.

There are seven clefs, one for each letter on the bottom line, so every interval has exactly one. The signature
is the target key's, and accidentals before certain letters then read a semitone or two higher or lower: those letters
that the signature "of the interval" itself would alter.

Source of the seven clefs: any solfège handbook, e.g. G. Dandelot, *Manuel pratique pour l'étude des clés*
(from memory); the F clef on the third line and the C clef on the fifth are the same baritone clef.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from trainer.music.counted import listed
from trainer.music.keys import Key
from trainer.music.pitch import ALTERATION_WORDS, SIGNS, Interval, SpelledPitch, pitch_from_fifths
from trainer.music.transpose import Transposition


@dataclass(frozen=True)
class Clef:
    """A clef: its name, sign (``G``, ``C``, ``F``), the line it stands on (1 lowest), the pitch of the bottom line."""

    name: str
    sign: str
    line: int
    bottom: SpelledPitch

    @property
    def words(self) -> str:
        """``soprano clef (C on the first line)``."""
        ordinal = ("first", "second", "third", "fourth", "fifth")[self.line - 1]
        return f"{self.name} clef ({self.sign} on the {ordinal} line)"


def _clef(name: str, sign: str, line: int, bottom: str) -> Clef:
    return Clef(name, sign, line, SpelledPitch.parse(bottom))


TREBLE = _clef("treble", "G", 2, "E4")
SOPRANO = _clef("soprano", "C", 1, "C4")
MEZZO = _clef("mezzo-soprano", "C", 2, "A3")
ALTO = _clef("alto", "C", 3, "F3")
TENOR = _clef("tenor", "C", 4, "D3")
BARITONE = _clef("baritone", "F", 3, "B2")
BASS = _clef("bass", "F", 4, "G2")
# No two keys lie so far apart that an accidental changes by more.
_AMOUNTS = {1: "a semitone", 2: "two semitones"}
SEVEN = (TREBLE, SOPRANO, MEZZO, ALTO, TENOR, BARITONE, BASS)


@dataclass(frozen=True)
class ClefReading:
    """How to read a staff in another clef.

    Parameters
    ----------
    written_clef, clef : Clef
        On the page, and imagined in its place.
    octaves : int
        Octaves to add to what the imagined clef says: 1 = play an octave higher than it reads.
    key : Key
        Whose signature to imagine.
    changed : dict-like tuple of (letter, semitones)
        Letters, as named in the imagined clef, before which a written accidental reads higher (+1) or lower (-1)
        than it looks; in the order of the sharps or of the flats.
    """

    written_clef: Clef
    clef: Clef
    octaves: int
    key: Key
    changed: tuple[tuple[str, int], ...]

    @property
    def groups(self) -> tuple[tuple[str, int], ...]:
        """Letters whose accidentals read as many semitones higher or lower, together; most first.

        >>> from trainer.music.transpose import plan
        >>> reading(TREBLE, plan(Key.parse("Eb"), "F#")).groups
        (('FC', 2), ('GDAEB', 1))
        """
        return tuple(
            ("".join(letter for letter, _ in of), by) for by, of in groupby(self.changed, key=lambda one: one[1])
        )

    def reads_as(self, letter: str, accidental: int) -> int:
        """The alteration to play where an accidental is printed before a head named `letter` in the imagined clef.

        >>> from trainer.music.transpose import plan
        >>> reading(TREBLE, plan(Key.parse("C"), "D")).reads_as("F", -1)  # a flat before F reads as a natural
        0
        """
        return accidental + dict(self.changed).get(letter, 0)

    @property
    def words(self) -> str:
        """The whole instruction in a sentence or two."""
        said = (
            f"Read the {self.written_clef.name} staff in the {self.clef.words}"
            if self.clef != self.written_clef
            else f"Keep the {self.clef.name} clef"
        )
        if self.octaves:
            many = abs(self.octaves)
            octave = "an octave" if many == 1 else f"{('two', 'three', 'four')[many - 2]} octaves"
            said += f", {octave} {'higher' if self.octaves > 0 else 'lower'}"
        said += f", with the signature of {self.key.words}."
        return f"{said} {self.accidentals}".rstrip()

    @property
    def accidentals(self) -> str:
        """Which printed accidentals read otherwise than they look, in a sentence; empty when none do.

        >>> from trainer.music.transpose import plan
        >>> reading(TREBLE, plan(Key.parse("C"), "D")).accidentals
        'Accidentals before F and C read a semitone higher: ♭ means natural.'
        """
        said: list[str] = []
        for letters, by in self.groups:
            read, way = "" if said else "read ", "higher" if by > 0 else "lower"
            example = _example(self, letters[0], by)
            said.append(f"before {listed(letters)} {read}{_AMOUNTS[abs(by)]} {way}: {example}")
        return f"Accidentals {'; '.join(said)}." if said else ""


def _example(how: ClefReading, letter: str, by: int) -> str:
    seen = -1 if by > 0 else 1
    return f"{SIGNS[seen]} means {ALTERATION_WORDS[how.reads_as(letter, seen)]}"


def changed_letters(interval_fifths: int) -> tuple[tuple[str, int], ...]:
    """The letters whose accidentals change, by the distance of the interval on the line of fifths.

    Moving by n fifths adds n sharps to any signature; a written accidental on a letter that gains one of them must
    be read that much higher. So the letters are the first n of F C G D A E B (or, downward, of B E A D G C F), and
    from eight on some change by two.

    >>> changed_letters(2), changed_letters(-3)
    ((('F', 1), ('C', 1)), (('B', -1), ('E', -1), ('A', -1)))
    """
    tonic = pitch_from_fifths(interval_fifths, 4)
    gained = Key(tonic.letter, tonic.alteration, "major")
    order = "FCGDAEB" if interval_fifths > 0 else "BEADGCF"
    return tuple((letter, gained.alteration_of(letter)) for letter in order if gained.alteration_of(letter))


def reading(written_clef: Clef, transposition: Transposition) -> ClefReading:
    """Which clef to imagine on a staff written in `written_clef` to play a transposition.

    >>> from trainer.music.transpose import plan
    >>> reading(TREBLE, plan(Key.parse("C"), "-m3")).words.split(",")[0]
    'Read the treble staff in the soprano clef (C on the first line)'
    """
    interval = transposition.interval
    clef = clef_for(written_clef, interval)
    octaves = (written_clef.bottom.steps + interval.steps - clef.bottom.steps) // 7
    return ClefReading(written_clef, clef, octaves, transposition.target, changed_letters(interval.fifths))


def clef_for(written_clef: Clef, interval: Interval) -> Clef:
    """Only the clef to imagine for an interval, whatever the key."""
    wanted = written_clef.bottom.steps + interval.steps
    return next(c for c in SEVEN if (c.bottom.steps - wanted) % 7 == 0)
