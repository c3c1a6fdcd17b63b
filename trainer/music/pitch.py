"""Spelled pitches and intervals by line-of-fifths arithmetic.

A pitch is two integers: *steps* (letters counted from C0, seven to the octave) and *semitones* (MIDI note
number). The place on the line of fifths follows from the two, ``7 * semitones - 12 * steps`` up to a constant,
because a fifth is 4 steps and 7 semitones and an octave 7 steps and 12 semitones.

Source: scientific pitch notation, A4 = 440 Hz (ISO 16:1975); MIDI note numbers, A4 = 69 (MIDI 1.0). The line
of fifths as the order of spelled pitches: D. Temperley, *The Cognition of Basic Musical Structures* (2001), ch. 5
(from memory).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property

LETTERS = "CDEFGAB"
LETTER_SEMITONES = (0, 2, 4, 5, 7, 9, 11)
SIGNS = {-3: "♭𝄫", -2: "𝄫", -1: "♭", 0: "", 1: "♯", 2: "𝄪", 3: "♯𝄪"}
ALTERATION_WORDS = {
    -3: "triple flat", -2: "double flat", -1: "flat", 0: "natural",
    1: "sharp", 2: "double sharp", 3: "triple sharp",
}  # fmt: skip
_PITCH = re.compile(r"([A-G])(#{0,3}|b{0,3}|x)(-?\d+)")


class MusicError(ValueError):
    """What was asked cannot be understood as music; the text is one sentence for the player."""


def shortened(text: object, most: int = 60) -> str:
    """What somebody wrote, to be said in a sentence: on one line, its middle left out beyond `most` characters."""
    plain = " ".join(str(text).split())
    end = most // 3
    return plain if len(plain) <= most else f"{plain[: most - end - 1]}…{plain[-end:]}"


@dataclass(frozen=True)
class Interval:
    """A spelled interval with direction: signed letter steps and signed semitones.

    >>> Interval.parse("-m3")
    Interval(steps=-2, semitones=-3)
    >>> Interval(-2, -3).words
    'down a minor third'
    """

    steps: int
    semitones: int

    @cached_property
    def fifths(self) -> int:
        """Signed distance on the line of fifths (a perfect fifth up is +1)."""
        return 7 * self.semitones - 12 * self.steps

    @property
    def is_down(self) -> bool:
        return (self.steps, self.semitones) < (0, 0)

    def __neg__(self) -> Interval:
        return Interval(-self.steps, -self.semitones)

    def __add__(self, other: Interval) -> Interval:
        return Interval(self.steps + other.steps, self.semitones + other.semitones)

    @property
    def _quality(self) -> tuple[str, int]:
        """Quality (``P M m A d`` repeated as needed) and ordinal number of the undirected interval."""
        up = -self if self.is_down else self
        octaves, step = divmod(up.steps, 7)
        natural = LETTER_SEMITONES[step] + 12 * octaves
        excess = up.semitones - natural
        if step in (0, 3, 4):
            quality = "P" if excess == 0 else ("A" * excess if excess > 0 else "d" * -excess)
        elif excess >= 0:
            quality = "M" if excess == 0 else "A" * excess
        else:
            quality = "m" if excess == -1 else "d" * (-excess - 1)
        return quality, up.steps + 1

    @property
    def short(self) -> str:
        """Signed short form, ``-m3``, ``+P5``; the unison is ``+P1``."""
        quality, number = self._quality
        return f"{'-' if self.is_down else '+'}{quality}{number}"

    @property
    def words(self) -> str:
        """In words: ``down a minor third``, ``up a tritone`` is said by its spelling, ``in the written key``."""
        if self.steps == 0 and self.semitones == 0:
            return "in the written key"
        return f"{'down' if self.is_down else 'up'} {self.plain}"

    @property
    def plain(self) -> str:
        """Without direction, with article: ``a minor third``, ``an augmented fourth``, ``a chromatic semitone``."""
        quality, number = self._quality
        if (quality, number) == ("A", 1):
            return "a chromatic semitone"
        names = {"P": "perfect", "M": "major", "m": "minor"}
        if quality in names:
            word = names[quality]
        else:
            times = {1: "", 2: "doubly ", 3: "triply "}.get(len(quality), f"{len(quality)} times ")
            word = times + ("augmented" if quality[0] == "A" else "diminished")
        ordinals = ("unison", "second", "third", "fourth", "fifth", "sixth", "seventh", "octave",
                    "ninth", "tenth", "eleventh", "twelfth", "thirteenth", "fourteenth", "fifteenth")  # fmt: skip
        noun = ordinals[number - 1] if number <= len(ordinals) else f"{number}th"
        whole = noun if (word, noun) == ("perfect", "octave") else f"{word} {noun}"
        return f"{'an' if whole[0] in 'aeiou' else 'a'} {whole}"

    @classmethod
    def parse(cls, text: str) -> Interval:
        """Read ``-m3``, ``+P5``, ``M2``, ``A4``, ``d5``.

        Raises
        ------
        MusicError
            When the text is no interval, or a quality the number cannot have (``P3``, ``M5``).
        """
        match = re.fullmatch(r"([+-]?)(P|M|m|A{1,3}|d{1,3})(\d{1,2})", text.strip())
        if match:
            sign, quality, number = match[1], match[2], int(match[3])
            octaves, step = divmod(number - 1, 7)
            perfect = step in (0, 3, 4)
            if number >= 1 and quality in ("M", "m") if not perfect else quality == "P" or quality[0] in "Ad":
                pass
            elif number < 1 or (quality[0] not in "Ad"):
                match = None
        if not match:
            raise MusicError(f"'{shortened(text)}' is not an interval: write one like -m3, +P5, M2 or A4.")
        excess = {"P": 0, "M": 0, "m": -1}.get(quality)
        if excess is None:
            count = len(quality)
            excess = count if quality[0] == "A" else (-count if perfect else -count - 1)
        up = cls(number - 1, LETTER_SEMITONES[step] + 12 * octaves + excess)
        return -up if sign == "-" else up


@dataclass(frozen=True, order=False)
class SpelledPitch:
    """A written pitch: letter, alteration, octave (C4 = middle C = MIDI 60).

    Parameters
    ----------
    letter : str
        One of ``C D E F G A B``.
    alteration : int
        Semitones added by the accidental, -3 to 3; 0 is natural.
    octave : int
        Scientific octave number of the letter (B♯3 sounds as C4).

    >>> SpelledPitch.parse("Bb4").midi
    70
    >>> (SpelledPitch.parse("Bb4") + Interval.parse("-m3")).name
    'G4'
    """

    letter: str
    alteration: int
    octave: int

    @classmethod
    def parse(cls, text: str) -> SpelledPitch:
        """Read ``C4``, ``F#5``, ``Bb3``, ``Fx4`` (♭ ♯ ♮ also); raises `MusicError` otherwise."""
        plain = text.strip().replace("♭", "b").replace("♯", "#").replace("♮", "").replace("𝄪", "x").replace("𝄫", "bb")
        match = _PITCH.fullmatch(plain[:1].upper() + plain[1:])
        if not match:
            raise MusicError(
                f"'{shortened(text)}' is not a pitch: write a letter, an accidental and an octave, like F#4 or Bb3."
            )
        sign = match[2]
        return cls(match[1], 2 if sign == "x" else sign.count("#") - sign.count("b"), int(match[3]))

    @classmethod
    def from_steps(cls, steps: int, semitones: int) -> SpelledPitch:
        """The pitch `steps` letters above C0 that sounds as MIDI note `semitones`."""
        octave, index = divmod(steps, 7)
        return cls(LETTERS[index], semitones - (12 * (octave + 1) + LETTER_SEMITONES[index]), octave)

    @cached_property
    def steps(self) -> int:
        """Letters above C0."""
        return LETTERS.index(self.letter) + 7 * self.octave

    @cached_property
    def midi(self) -> int:
        """MIDI note number; may lie outside 0-127 for pitches no piano has."""
        return 12 * (self.octave + 1) + LETTER_SEMITONES[LETTERS.index(self.letter)] + self.alteration

    @property
    def pitch_class(self) -> int:
        return self.midi % 12

    @property
    def fifths(self) -> int:
        """Place on the line of fifths, C = 0, G = 1, F = -1."""
        return ("FCGDAEB".index(self.letter) - 1) + 7 * self.alteration

    def __add__(self, interval: Interval) -> SpelledPitch:
        return SpelledPitch.from_steps(self.steps + interval.steps, self.midi + interval.semitones)

    def __sub__(self, other: SpelledPitch) -> Interval:
        """The interval from `other` up (or down) to this pitch."""
        return Interval(self.steps - other.steps, self.midi - other.midi)

    @property
    def name(self) -> str:
        """Plain letters: ``Bb4``, ``F#3``, ``Fx4``, ``Ebb2``."""
        sign = (
            "x" if self.alteration == 2 else ("#" * self.alteration if self.alteration > 0 else "b" * -self.alteration)
        )
        return f"{self.letter}{sign}{self.octave}"

    @property
    def sign_name(self) -> str:
        """With music signs and no octave: ``B♭``, ``F♯``."""
        return self.letter + SIGNS.get(self.alteration, "?")

    @property
    def words(self) -> str:
        """As a teacher says it, no octave: ``B flat``, ``F sharp``, ``B`` natural is said ``B natural``."""
        return f"{self.letter} {ALTERATION_WORDS.get(self.alteration, '')}".strip()


def pitch_from_fifths(fifths: int, octave: int) -> SpelledPitch:
    """The pitch at a place on the line of fifths (C = 0), in the given octave."""
    alteration, index = divmod(fifths + 1, 7)
    return SpelledPitch("FCGDAEB"[index], alteration, octave)
