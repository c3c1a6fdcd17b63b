"""Voice types: the range, the comfortable tessitura, and where the registers change.

Sources, all values from memory: ranges as given for the six chief voice types in handbooks of singing and in
*The New Harvard Dictionary of Music* (1986), art. "Voice"; tessituras after J. C. McKinney, *The Diagnosis and
Correction of Vocal Faults* (1982), ch. 8; places of register change (primo and secondo passaggio) after R. Miller,
*The Structure of Singing* (1986), chs. 9-10 for lyric voices. Handbooks differ by a tone or so: a singer's own
tessitura, when known, always stands above this table.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from trainer.music.pitch import MusicError, SpelledPitch, shortened

CAUTION = (
    "The singer's comfort decides, and a voice teacher's word stands. Stop when singing hurts or the voice turns "
    "hoarse; if it lasts, ask a doctor."
)


@dataclass(frozen=True)
class Span:
    """From a lowest to a highest pitch."""

    low: SpelledPitch
    high: SpelledPitch

    @classmethod
    def parse(cls, text: str, what: str = "a tessitura") -> Span:
        """Read ``D4-D5`` (or with a long dash, ``to`` or a space).

        Raises
        ------
        MusicError
            When there are not two pitches, or the first is not below the second.
        """
        ends = re.split(r"\s*(?:[–—]|\bto\b|(?<=\d)-|(?<=\d)\s)\s*", text.strip())
        if len(ends) != 2:
            raise MusicError(f"'{shortened(text)}' is not {what}: write the lowest and the highest pitch, like D4-D5.")
        low, high = (SpelledPitch.parse(end) for end in ends)
        for pitch in (low, high):
            if not 0 <= pitch.midi <= 127:
                raise MusicError(f"{pitch.name} is beyond all instruments: choose pitches between C-1 and G9.")
        if low.midi >= high.midi:
            raise MusicError(f"In '{shortened(text)}' the first pitch is not below the second: write the lowest first.")
        return cls(low, high)

    @property
    def name(self) -> str:
        """With music signs: ``D4–B♭4``."""
        return f"{self.low.sign_name}{self.low.octave}–{self.high.sign_name}{self.high.octave}"

    @property
    def semitones(self) -> int:
        return self.high.midi - self.low.midi

    @property
    def middle(self) -> float:
        """Half way between its ends, as a key of the piano."""
        return (self.low.midi + self.high.midi) / 2


@dataclass(frozen=True)
class Voice:
    """A voice type: its full range, its tessitura, and the pitches where the registers change."""

    name: str
    range: Span
    tessitura: Span
    passaggi: tuple[SpelledPitch, SpelledPitch]


def _voice(name: str, span: str, tessitura: str, primo: str, secondo: str) -> Voice:
    changes = SpelledPitch.parse(primo), SpelledPitch.parse(secondo)
    return Voice(name, Span.parse(span), Span.parse(tessitura), changes)


VOICES = (
    _voice("soprano", "C4-C6", "F4-G5", "Eb4", "F#5"),
    _voice("mezzo-soprano", "A3-A5", "D4-F5", "E4", "F5"),
    _voice("contralto", "F3-F5", "C4-E5", "G4", "D5"),
    _voice("tenor", "C3-C5", "F3-G4", "D4", "G4"),
    _voice("baritone", "G2-G4", "D3-E4", "B3", "E4"),
    _voice("bass", "E2-E4", "A2-C4", "A3", "D4"),
)
# Where the parts of a choir are at ease, lower than who sings alone: the compass that handbooks of harmony give for
# four parts (C4-G5, G3-D5, C3-G4, E2-C4; Kostka and Payne, *Tonal Harmony*, 1984, from memory) less a tone at each end,
# and the two voices between their neighbours; these are ours.
CHORAL = {
    "soprano": Span.parse("D4-F5"),
    "mezzo-soprano": Span.parse("B3-D5"),
    "contralto": Span.parse("A3-C5"),
    "tenor": Span.parse("D3-F4"),
    "baritone": Span.parse("A2-D4"),
    "bass": Span.parse("F#2-Bb3"),
}
_ALSO = {"mezzo": "mezzo-soprano", "mezzo soprano": "mezzo-soprano", "alto": "contralto"}


def voice(name: str) -> Voice:
    """The voice type of a name (``mezzo`` and ``alto`` are understood too); raises `MusicError` otherwise."""
    asked = name.strip().lower()
    asked = _ALSO.get(asked, asked)
    for kind in VOICES:
        if kind.name == asked:
            return kind
    raise MusicError(f"'{shortened(name)}' is not a voice type here: choose {', '.join(v.name for v in VOICES)}.")
