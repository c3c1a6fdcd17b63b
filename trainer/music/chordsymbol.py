"""Chord symbols over a song: the root and the bass move with the piece, the rest of the symbol stays as printed.

Source of the form: letter, accidental, quality, ``/bass``; common practice of lead sheets, no single source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from trainer.music.pitch import Interval, SpelledPitch

_NOTE = r"([A-G])(##|bb|[#b♯♭x𝄪𝄫]?)"
# What may stand after the root; a word such as "Coda" or "Fine" holds something else and is left alone.
_QUALITY = r"((?:maj|min|dim|aug|sus|add|omit|no|alt|dom|mi|ma|M|m|[-+°ø△Δ^]|[#b♯♭]|\d+|[(), ]|/\d)*)"
_SYMBOL = re.compile(rf"{_NOTE}{_QUALITY}(?:/{_NOTE})?")
_ALTERATIONS = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1, "##": 2, "x": 2, "𝄪": 2, "bb": -2, "𝄫": -2}


@dataclass(frozen=True)
class ChordSymbol:
    """Root, the quality as printed (``m7``, ``sus4``, ``6/9`` …) and the bass, when another note is written there."""

    root: SpelledPitch
    quality: str
    bass: SpelledPitch | None = None

    def transposed(self, interval: Interval) -> ChordSymbol:
        """Moved by an interval; roots that would need a double accidental are respelled."""
        bass = None if self.bass is None else _simple(self.bass + interval)
        return ChordSymbol(_simple(self.root + interval), self.quality, bass)

    @property
    def text(self) -> str:
        """With music signs: ``B♭m7/F``."""
        return self.root.sign_name + self.quality + (f"/{self.bass.sign_name}" if self.bass else "")


def parse(text: str) -> ChordSymbol | None:
    """Read a chord symbol; None when the words are no chord (``N.C.``, ``Fine``, ``Coro``).

    >>> parse("Bbm7/F").text, parse("N.C."), parse("C6/9").quality
    ('B♭m7/F', None, '6/9')
    """
    match = _SYMBOL.fullmatch(text.strip())
    if not match:
        return None
    bass = SpelledPitch(match[4], _ALTERATIONS[match[5]], 3) if match[4] else None
    return ChordSymbol(SpelledPitch(match[1], _ALTERATIONS[match[2]], 3), match[3], bass)


def transposed_symbol(text: str, interval: Interval) -> str:
    """A chord symbol moved by an interval; words that are no chord come back as they are.

    >>> transposed_symbol("F7/A", Interval.parse("-m3")), transposed_symbol("N.C.", Interval.parse("+M2"))
    ('D7/F♯', 'N.C.')
    """
    symbol = parse(text)
    return text if symbol is None else symbol.transposed(interval).text


def _simple(pitch: SpelledPitch) -> SpelledPitch:
    if abs(pitch.alteration) < 2:
        return pitch
    step = 1 if pitch.alteration > 0 else -1
    return SpelledPitch.from_steps(pitch.steps + step, pitch.midi)
