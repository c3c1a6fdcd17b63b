"""The fields of an ABC tune to plain values: key, meter, unit length, tempo, clef, words under the notes.

Source: the ABC music standard 2.1 (2011), chapters 3, 4 and 5, from memory.
"""

from __future__ import annotations

import html
import re
import unicodedata
from dataclasses import dataclass, field
from fractions import Fraction

from trainer.music.keys import MAJOR, MAX_ACCIDENTALS, MINOR, SHARPS, Key, mode_named
from trainer.music.pitch import LETTERS, Interval, SpelledPitch
from trainer.scores.notation.elements import by_halves
from trainer.scores.notation.expressing import FERMATA
from trainer.scores.notation.ornaments import INVERTED
from trainer.scores.notation.written import Meter

# What a sign says of the note after it, and of the place it stands at.
ORNAMENTS = {
    "T": "trill", "~": "turn", "M": "mordent", "P": "mordent", "trill": "trill", "trill(": "trill", "turn": "turn",
    "turnx": "turn", "invertedturn": "turn", "roll": "turn", "mordent": "mordent", "lowermordent": "mordent",
    "uppermordent": "mordent", "pralltriller": "mordent", "arpeggio": "arpeggio", "/": "tremolo", "//": "tremolo",
    "///": "tremolo",
}  # fmt: skip
SIGNS = {
    ".": "staccato", "staccato": "staccato", "tenuto": "tenuto", "wedge": "staccatissimo", "^": "strong-accent",
    "marcato": "strong-accent", "L": "accent", ">": "accent", "accent": "accent", "emphasis": "accent", "H": FERMATA,
    "fermata": FERMATA, "invertedfermata": FERMATA, "breath": "breath-mark",
}  # fmt: skip
_TURNED = dict.fromkeys(("P", "uppermordent", "pralltriller"), "inverted-mordent") | {"invertedturn": "inverted-turn"}
HAIRPINS = {
    "<(": "<", "crescendo(": "<", ">(": ">", "diminuendo(": ">", "<)": "!", "crescendo)": "!", ">)": "!",
    "diminuendo)": "!",
}  # fmt: skip
ALTERATIONS = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0, "": 0, "^/": 0, "_/": 0, "^^/": 1, "__/": -1}
_KEY = re.compile(
    r"(?P<letter>[A-G])(?P<sign>[#b]?)\s*(?P<mode>exp|(?:maj|ion|lyd|mix|dor|min|aeo|phr|loc)[a-z]*|m\b)?", re.I
)
_ALTERED = re.compile(r"(?<!\S)(\^\^?|__?|=)([A-Ga-g])(?!\S)")
_CLEF = re.compile(
    r"(?:clef=|\b)(treble|bass|alto|tenor|baritone|soprano|mezzosoprano|(?<==)[GFC])[1-5]?([+-]8)?(?!\S)"
)
_MOST_PARTS = 100
_SIGN = {"bass": "F", "baritone": "F", "F": "F", "treble": "G", "G": "G"}
_ACCENTS = {
    "`": "\N{COMBINING GRAVE ACCENT}", "'": "\N{COMBINING ACUTE ACCENT}", "^": "\N{COMBINING CIRCUMFLEX ACCENT}",
    '"': "\N{COMBINING DIAERESIS}", "~": "\N{COMBINING TILDE}", "c": "\N{COMBINING CEDILLA}",
    "r": "\N{COMBINING RING ABOVE}", "v": "\N{COMBINING CARON}", "u": "\N{COMBINING BREVE}",
    "=": "\N{COMBINING MACRON}", ".": "\N{COMBINING DOT ABOVE}", ";": "\N{COMBINING OGONEK}",
    "H": "\N{COMBINING DOUBLE ACUTE ACCENT}",
}  # fmt: skip
_LIGATURES = {
    r"\ss": "ß", r"\ae": "æ", r"\AE": "Æ", r"\oe": "œ", r"\OE": "Œ", r"\/o": "ø", r"\/O": "Ø", r"\aa": "å",
    r"\AA": "Å", r"\&": "&",
}  # fmt: skip
_SYLLABLE = re.compile(r"(?:\\-|[^\s*_|-])+|[*_|-]")


@dataclass(frozen=True)
class Signature:
    """A key field: what it does to the letters, and the key to read it in.

    Parameters
    ----------
    altered : dict of letter to semitones
    fifths, mode : int, str
        The key and its mode as `written.WrittenBar` holds them; mode empty when the field names no tonic. A tonic
        whose accidentals are all named one by one is major or minor by its third.
    """

    altered: dict[str, int] = field(default_factory=dict)
    fifths: int = 0
    mode: str = ""


def key(text: str) -> Signature:
    """``D``, ``Bb``, ``F#m``, ``Ddor``, ``D Phr ^f``, ``D exp _e ^f``, ``Hp``, ``none``.

    >>> key("D exp _e ^f").altered, key("Bloc").fifths, key("Bloc").mode
    ({'E': -1, 'F': 1}, 0, 'locrian')
    """
    text = text.strip()
    said = {letter.upper(): ALTERATIONS[sign] for sign, letter in _ALTERED.findall(text)}
    if text[:2] in ("Hp", "HP"):
        # The pipes have one scale, on A; the second spelling only leaves its signature unprinted.
        return Signature({"F": 1, "C": 1, **said}, 2, "mixolydian")
    found = _KEY.match(text)
    if found is None or text.lower().startswith(("none", "clef", "bass", "alto")):
        return Signature({letter: by for letter, by in said.items() if by}, 0)
    letter = found["letter"].upper()
    tonic = SpelledPitch(letter, {"#": 1, "b": -1, "": 0}[found["sign"].lower()], 4)
    word = (found["mode"] or "maj").lower()
    if word == "exp":
        altered = {name: by for name, by in said.items() if by}
        third = SpelledPitch.from_steps(tonic.steps + 2, 0).letter
        high = SpelledPitch(third, altered.get(third, 0), 4 + (LETTERS.index(letter) > 4))
        named = Key(letter, tonic.alteration, MAJOR if high.midi - tonic.midi > 3 else MINOR)
    else:
        named = Key.in_mode(letter, tonic.alteration, MINOR if word == "m" else mode_named(word[:3]))
        signed = {name: named.alteration_of(name) for name in SHARPS}
        altered = {name: by for name, by in {**signed, **said}.items() if by}
    if abs(named.signature) > MAX_ACCIDENTALS:
        named = named.respelled()
    return Signature(altered, named.signature, named.full_mode)


def clef(text: str) -> tuple[str, int]:
    """The sign of the clef that is named, empty for none, and the octaves everything is to be moved by.

    >>> clef("K:C clef=treble-8 octave=1"), clef('V:2 bass name="Cello"')
    (('G', 0), ('F', 0))
    """
    plain = re.sub(r'"[^"]*"', "", text)
    moved = re.search(r"\boctave=([+-]?\d)", plain)
    octaves = int(moved[1]) if moved else 0
    found = _CLEF.search(plain, 2)
    if found is None:
        return "", octaves
    return _SIGN.get(found[1], "C"), octaves + {"+8": 1, "-8": -1}.get(found[2] or "", 0)


def transposition(text: str) -> Interval | None:
    """From what a voice writes to what sounds, where a key or voice field says it; None where it says nothing.

    >>> transposition("V:1 clef=treble transpose=-2").words
    'down a major second'
    """
    found = re.search(r"\btranspose=([+-]?\d{1,2})(?!\d)", re.sub(r'"[^"]*"', "", text))
    return by_halves(int(found[1])) if found else None


def order_of_parts(text: str) -> str:
    """The letters of a part field as they are played; empty for none, or for more than a tune has.

    >>> order_of_parts("A2B"), order_of_parts("((AB)2.C)2"), order_of_parts("A (slow)")
    ('AAB', 'ABABCABABC', '')
    """
    text = re.sub(r"[\s.]", "", text)
    if not re.fullmatch(r"(?:[A-Z()]\d{0,2}){1,200}", text):
        return ""
    open_: list[str] = [""]
    last = ""
    for letter, often in re.findall(r"([A-Z()])(\d*)", text):
        if letter == "(":
            open_.append("")
            continue
        last = letter
        if letter == ")":
            if len(open_) == 1:
                return ""
            last = open_.pop()
        open_[-1] += last * int(often or 1)
        if len(open_[-1]) > _MOST_PARTS:
            return ""
    return open_[0] if len(open_) == 1 else ""


def meter(text: str) -> Meter | None:
    """``C``, ``C|``, ``6/8``, ``(2+3)/8``; None for free meter or none that is understood."""
    text = re.sub(r"\s", "", text)
    if text.startswith("C"):
        return Meter(2, 2, "cut") if text.startswith("C|") else Meter(4, 4, "common")
    found = re.match(r"\(?(\d{1,2}(?:\+\d{1,2})*)\)?/(1|2|4|8|16|32|64)(?!\d)", text)
    beats = sum(int(number) for number in re.findall(r"\d+", found[1])) if found else 0
    return Meter(beats, int(found[2])) if found and beats else None


def ornament(name: str) -> tuple[str, list[str]]:
    """What one of `ORNAMENTS` is, and what its kind leaves open."""
    sign = _TURNED.get(name, name)
    return ORNAMENTS[name], [sign] if sign in INVERTED or sign[0] == "/" else []


def unit(text: str) -> Fraction | None:
    """The length of a note without a number, in quarters: ``1/8``."""
    found = re.match(r"\s*(\d{1,2})\s*/\s*(\d{1,3})", text)
    return Fraction(4 * int(found[1]), int(found[2])) if found and int(found[1]) and int(found[2]) else None


def unit_of(meter: Meter | None) -> Fraction:
    """The unit length where no field says it: a sixteenth in meters shorter than three quarters, else an eighth."""
    return Fraction(1, 4) if meter and Fraction(meter.beats, meter.unit) < Fraction(3, 4) else Fraction(1, 2)


def tempo(text: str, one: Fraction) -> float | None:
    """Quarters a minute: ``1/4=120``, ``"Lively" 3/8=60``, or ``100`` of the unit length `one`."""
    plain = re.sub(r'"[^"]*"', "", text)
    found = re.search(r"(?:^|=)\s*(\d{1,4}(?:\.\d+)?)\s*$", plain.strip())
    if not found:
        return None
    lengths = re.findall(r"(\d{1,2})/(\d{1,3})", plain)
    beat = sum((Fraction(4 * int(a), int(b)) for a, b in lengths if int(b)), Fraction(0)) or one
    quarters = float(beat) * float(found[1])
    return quarters if 4 <= quarters <= 999 else None


def plain(text: str) -> str:
    r"""Text with its escapes resolved.

    >>> plain(r"H\'elo\"ise \ss &amp; Co."), plain(r"\u00c5se \uo \AAse")
    ('Héloïse ß & Co.', 'Åse ŏ Åse')
    """
    text = re.sub(r"\\u([0-9A-Fa-f]{4})", _numbered, text)
    for written, meant in _LIGATURES.items():
        text = text.replace(written, meant)
    text = re.sub(r"\\([`'^\"~crvuH;=.])([A-Za-z])", _accented, text)
    return html.unescape(text.replace(r"\%", "%")).strip()


def _numbered(said: re.Match[str]) -> str:
    """A letter by its number; none that could not be printed."""
    letter = chr(int(said[1], 16))
    return letter if letter.isprintable() else ""


def _accented(said: re.Match[str]) -> str:
    return unicodedata.normalize("NFC", said[2] + _ACCENTS[said[1]])


def syllables(text: str) -> list[str]:
    """What stands under the notes, one entry a note: the syllable (with a hyphen where the word goes on), empty for
    a note with none, and ``|`` where the next bar begins.

    >>> syllables("O come,_ qui-et~night * |sleep")
    ['O', 'come,', '', 'qui-', 'et night', '', '|', 'sleep']
    """
    found: list[str] = []
    parted = True  # since the last syllable a space has been seen
    end = 0
    for token in _SYLLABLE.finditer(text):
        said = token[0]
        spaced = token.start() > end
        end = token.end()
        if said == "|":
            found.append("|")
        elif said in "*_":
            found.append("")
        elif said != "-":
            found.append(plain(said.replace("~", " ").replace(r"\-", "-")))
        elif found and found[-1] and not spaced and not found[-1].endswith("-") and found[-1] != "|":
            found[-1] += "-"
        elif not (spaced and parted):
            found.append("")
        parted = said != "-"
    return found
