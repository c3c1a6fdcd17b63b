"""Chord symbols over a song: the root and the bass move with the piece, the rest of the symbol stays as printed.

Source of the form: letter, accidental, quality, ``/bass``; common practice of lead sheets, no single source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from trainer.music.pitch import Interval, SpelledPitch

_NOTE = r"([A-G])(##|bb|[#b♯♭x𝄪𝄫]?)"
# What may stand after the root; a word such as "Coda" or "Fine" holds something else and is left alone.
_QUALITY = (
    r"((?:[Mm]aj|[Mm]in|MAJ|MIN|MA|MI|Ma|Mi|[Dd]im|[Aa]ug|[Ss]us|[Aa]dd|omit|no|alt|dom|mi|ma|M|m|o(?=7)"
    r"|[-‐‑–−+°º˚øØ∅△Δ∆^]|[#b♯♭]|\d+|[(), ]|/[#b♯♭]?\d)*)"
)
_SYMBOL = re.compile(rf"{_NOTE}{_QUALITY}(?:/{_NOTE})?")
# The same by German letters: H is B natural, B is B flat, -is and -es alter, a small letter is a minor chord.
_GERMAN_NOTE = r"([A-Ha-h](?:is)?|[CDFGcdfg]es|[AEae]s)"
_GERMAN_SYMBOL = re.compile(rf"{_GERMAN_NOTE}{_QUALITY}(?:/{_GERMAN_NOTE})?")
_ALTERATIONS = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1, "##": 2, "x": 2, "𝄪": 2, "bb": -2, "𝄫": -2}
# Spellings of one thing, for `ChordSymbol.thirds`: J is major (of the seventh), m minor, o diminished, h half of it.
_SPELLINGS = (
    (r"[(), ]", ""), ("♭", "b"), ("♯", "#"), ("[‐‑–−]", "-"), (r"(?i:omit|no)\d+", ""), (r"(?i:add)[#b]?\d+", ""),
    (r"6/?9", "6"), (r"[△Δ∆^](?!\d)", "J7"), (r"Maj|maj|MAJ|Ma|MA|ma|M(?!i|I)|[△Δ∆^]", "J"),
    (r"Min|min|MIN|Mi|MI|mi|^-", "m"), ("[Dd]im|[°º˚]", "o"),
    ("[Aa]ug", "+"), ("[øØ∅]", "h"), (r"(?<=\d)-(?=\d)", "b"), (r"(?<=\d)\+(?=\d)", "#"), ("JJ", "J"),
    (r"mJ(?!\d)", "mJ7"),
)  # fmt: skip
_MAJOR_THIRD, _MINOR_THIRD = 4, -3
_FIFTHS = {"perfect": 1, "diminished": -6, "augmented": 8}
_SEVENTHS = {"major": 5, "minor": -2, "diminished": -9}


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
    def thirds(self) -> tuple[int, ...]:
        """Third, fifth, and the seventh where it has one, as fifths from the root, however the quality is spelled.

        A chord without its third, and one with a note put in its place, counts as major; a ninth or more brings its
        seventh along, as do a triangle and what is major beside a minor third; ``Cmaj`` and ``CM`` are triads.

        >>> [parse(text).thirds for text in ("Cma7", "C-7b5", "Co7", "C+7", "C6/9")]
        [(4, 1, 5), (-3, -6, -2), (-3, -6, -9), (4, 8, -2), (4, 1)]
        """
        plain = self.quality
        for spelling, meant in _SPELLINGS:
            plain = re.sub(spelling, meant, plain)
        minor, diminished, half = plain.startswith("m"), plain.startswith("o"), plain.startswith("h")
        third = _MINOR_THIRD if minor or diminished or half else _MAJOR_THIRD
        fifth = "perfect"
        if diminished or half or "b5" in plain:
            fifth = "diminished"
        elif "+" in plain or "#5" in plain:
            fifth = "augmented"
        rest = re.sub(r"[#b]\d+", "", plain)
        seventh = ""
        if half or "alt" in rest or re.search(r"(?<!\d)(?:7|9|11|13)", rest):
            seventh = "diminished" if diminished else ("major" if "J" in rest else "minor")
        found = (third, _FIFTHS[fifth])
        return (*found, _SEVENTHS[seventh]) if seventh else found

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


def is_german(symbols: Iterable[str]) -> bool:
    """Whether chord symbols are named by German letters: one of them could be no other (``H7``, ``Es``, ``Fism``).

    >>> is_german(["G", "Hm", "B"]), is_german(["Asus4", "B7"]), is_german(["Fine", "Es geht"])
    (True, False, False)
    """
    return any(text[:1].isupper() and parse(text) is None and from_german(text) != text for text in symbols)


def from_german(text: str) -> str:
    """A chord symbol by German letters in English ones; other words come back as they are.

    Common practice of German songbooks, no single source; the letters as in `trainer.music.names`.

    >>> [from_german(text) for text in ("H7", "B", "Fism/Cis", "Es", "Asus4", "d7", "Coda")]
    ['B7', 'Bb', 'F#m/C#', 'Eb', 'Asus4', 'Dm7', 'Coda']
    """
    match = _GERMAN_SYMBOL.fullmatch(text.strip())
    if not match:
        return text
    root, quality, bass = match[1], match[2], match[3]
    minor = "m" if root[0].islower() and not quality.startswith(("m", "o", "°", "dim")) else ""
    said = _english(root) + minor + quality + (f"/{_english(bass)}" if bass else "")
    return text if parse(said) is None else said


def _english(note: str) -> str:
    letter, ending = note[0].upper(), note[1:].lower()
    if ending:
        return letter + ("#" if ending == "is" else "b")
    return {"H": "B", "B": "Bb"}.get(letter, letter)


def _simple(pitch: SpelledPitch) -> SpelledPitch:
    if abs(pitch.alteration) < 2:
        return pitch
    step = 1 if pitch.alteration > 0 else -1
    return SpelledPitch.from_steps(pitch.steps + step, pitch.midi)
