"""Names of letters and keys as players of a language say them, English and German.

German: B natural is H, B flat is B, -is and -es for sharps and flats (common practice; e.g. H. Riemann, *Musiklexikon*,
from memory).
"""

from __future__ import annotations

import re

from trainer.music.keys import Key
from trainer.music.pitch import SpelledPitch

ENGLISH = "english"
GERMAN = "german"
LANGUAGES = (ENGLISH, GERMAN)

_GERMAN_SIGN = {-2: "eses", -1: "es", 0: "", 1: "is", 2: "isis"}


def letter_name(pitch: SpelledPitch, letters: str = ENGLISH) -> str:
    """A pitch without its octave as players of that language name it.

    >>> letter_name(SpelledPitch.parse("Bb4"), GERMAN), letter_name(SpelledPitch.parse("B4"), GERMAN)
    ('B', 'H')
    >>> [letter_name(SpelledPitch.parse(name), GERMAN) for name in ("Eb4", "F#4", "Abb4", "G##4")]
    ['Es', 'Fis', 'Asas', 'Gisis']
    """
    if letters != GERMAN:
        return pitch.sign_name
    if pitch.letter == "B":
        return {-2: "Heses", -1: "B"}.get(pitch.alteration, "H" + _GERMAN_SIGN.get(pitch.alteration, ""))
    name = pitch.letter + _GERMAN_SIGN.get(pitch.alteration, "")
    return {"Ees": "Es", "Aes": "As", "Eeses": "Eses", "Aeses": "Asas"}.get(name, name)


_CHURCH_GERMAN = {
    "dorian": "Dorisch", "phrygian": "Phrygisch", "lydian": "Lydisch", "mixolydian": "Mixolydisch",
    "locrian": "Lokrisch",
}  # fmt: skip


def key_name(key: Key, letters: str = ENGLISH) -> str:
    """A key as players of that language name it.

    >>> key_name(Key.parse("Bb"), GERMAN), key_name(Key.parse("f#"), GERMAN), key_name(Key.parse("D dorian"), GERMAN)
    ('B-Dur', 'fis-Moll', 'D-Dorisch')
    """
    if letters != GERMAN:
        return key.name
    name = letter_name(key.tonic, GERMAN)
    if key.church:
        return f"{name}-{_CHURCH_GERMAN[key.church]}"
    return f"{name.lower()}-Moll" if key.is_minor else f"{name}-Dur"


def key_in(text: str, key: Key, letters: str = ENGLISH) -> str:
    """A text of our own that names a key in English, with the key as players of that language name it.

    Only its last mention: what stands before may be a piece's title.

    >>> key_in("Minuet in G minor: find the first notes in G minor", Key.parse("g"), GERMAN)
    'Minuet in G minor: find the first notes in g-Moll'
    """
    before, named, after = text.rpartition(key.name)
    return f"{before}{key_name(key, letters)}{after}" if named else text


# A key by its whole name, and one whose tonic alone is named: ``in B sol too``.
_KEY = re.compile(r"\b([A-G])(♭|♯| flat| sharp)? (major|minor|dorian|phrygian|lydian|mixolydian|locrian)\b")
_TONIC = re.compile(r"(?<=\bin )([A-G])(♭|♯)?(?=[ ,;.:]|$)")
_SIGNS = {"♭": "b", " flat": "b", "♯": "#", " sharp": "#"}


def keys_in(text: str, letters: str = ENGLISH) -> str:
    """A sentence of our own that names no piece, with every key in it as players of that language name it.

    >>> keys_in("re and mi are black, and in B sol too; in F minor the fourth", GERMAN)
    're and mi are black, and in H sol too; in f-Moll the fourth'
    >>> keys_in("played in B flat major", GERMAN), keys_in("played in B flat major")
    ('played in B-Dur', 'played in B flat major')
    """
    if letters != GERMAN:
        return text

    def key(found: re.Match[str]) -> str:
        return key_name(Key.parse(f"{found[1]}{_SIGNS.get(found[2], '')} {found[3]}"), letters)

    def tonic(found: re.Match[str]) -> str:
        return letter_name(SpelledPitch.parse(f"{found[1]}{_SIGNS.get(found[2], '')}4"), letters)

    return _TONIC.sub(tonic, _KEY.sub(key, text))
