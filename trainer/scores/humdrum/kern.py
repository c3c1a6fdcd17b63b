"""Words of **kern to plain values: notes, rests and chords, barlines, keys, meters, and the spines beside them.

Source: D. Huron, *The Humdrum Toolkit: Reference Manual* (1994), ch. on **kern, and the later usage of its scores
(hidden notes, expansion lists), from memory. The tests read the same scores through music21 and compare note for note.
"""

from __future__ import annotations

import html
import math
import re
from dataclasses import dataclass
from fractions import Fraction

from trainer.music.chordsymbol import parse as parse_symbol
from trainer.music.keys import CHURCH_MODES, MAJOR, MAX_ACCIDENTALS, MINOR, Key, mode_named
from trainer.music.pitch import MusicError, SpelledPitch
from trainer.scores.notation.elements import KIND_TEXT, metered
from trainer.scores.notation.expressing import CUE, DYNAMICS, FERMATA, words_of
from trainer.scores.notation.ornaments import MOST_STROKES, adorned
from trainer.scores.notation.written import Meter

NULL = "."
_FINEST = 10_080
# In quarters: a maxima, and one with dots.
_LONGEST = 64
_RECIP = re.compile(r"(\d{1,5})(?:%(\d{1,5}))?(\.*)")
_PITCH = re.compile(r"([a-g]+|[A-G]+)(#{1,3}|-{1,3}|n)?")
_STROKES = re.compile(r"(@+)(\d{1,3})@+")
# What is kept of a note's signs; stems, beams and editors' marks have no meaning here.
_SIGNS = {"'": "staccato", "`": "staccatissimo", "~": "tenuto", ";": FERMATA, ",": "breath-mark"}
# The turned-over mordent of MusicXML is the one without a stroke, which goes up.
_ORNAMENTS = {
    "T": ("trill", ""), "t": ("trill", ""), "M": ("mordent", "inverted-mordent"), "m": ("mordent", "inverted-mordent"),
    "W": ("mordent", ""), "w": ("mordent", ""), "S": ("turn", ""), "$": ("turn", "inverted-turn"),
    ":": ("arpeggio", ""),
}  # fmt: skip
_CODES = {
    "piano": "Piano", "pianoforte": "Piano", "organ": "Organ", "cemba": "Harpsichord", "forte": "Fortepiano",
    "clavi": "Clavichord", "celes": "Celesta", "vox": "Voice", "soprn": "Soprano", "mezzo": "Mezzo-soprano",
    "alto": "Alto", "calto": "Alto", "tenor": "Tenor", "barit": "Baritone", "bass": "Bass", "soprano": "Soprano",
    "flt": "Flute", "oboe": "Oboe", "clars": "Clarinet", "fagot": "Bassoon", "corno": "Horn", "tromp": "Trumpet",
    "tromb": "Trombone", "violn": "Violin", "viola": "Viola", "cello": "Cello", "cbass": "Contrabass",
    "guitr": "Guitar", "arpa": "Harp",
}  # fmt: skip


# The first and the last note of a tremolo between two.
BETWEEN = ("tremolo-start", "tremolo-stop")


class Unreadable(MusicError):
    """A word of Humdrum that cannot be counted; whoever knows its line says so in a sentence."""


@dataclass(frozen=True, slots=True)
class Head:
    """One head of a note or chord: `opens` and `closes` count the slurs that begin and end at it."""

    pitch: SpelledPitch
    tie_start: bool = False
    tie_stop: bool = False
    ornament: str = ""
    signs: tuple[str, ...] = ()
    opens: int = 0
    closes: int = 0


@dataclass(frozen=True, slots=True)
class Struck:
    """What one word of **kern strikes: no heads for a rest; `length` in quarters, nothing for small notes."""

    heads: tuple[Head, ...]
    length: Fraction
    grace: bool = False


def struck(word: str) -> Struck | None:
    """The note, chord or rest a word stands for, or None where it stands for nothing that is played.

    >>> [head.pitch.name for head in struck("4.CC# 8g 8ee-").heads], struck("4.r").length
    (['C#2', 'G4', 'Eb5'], Fraction(3, 2))

    Raises
    ------
    Unreadable
        When its length or its pitch is none.
    """
    parts = word.split()
    small = any(sign in word for sign in ("q", "Q"))
    lengths = [length for length in map(_length, parts) if length is not None]
    # Beside a note the place of a rest is said, too, where a voice that is not printed shares the page.
    heads = tuple(head for part in parts if "r" not in part and (head := _head(part)) is not None)
    rest = any("r" in part for part in parts)
    if not (heads or rest) or not (lengths or small):
        return None
    return Struck(heads, Fraction(0) if small else lengths[0], small)


def _length(part: str) -> Fraction | None:
    found = _RECIP.search(_STROKES.sub("", part))
    if found is None:
        return None
    number, over, dots = found.groups()
    if over and int(number) and int(over):
        plain = Fraction(4 * int(over), int(number))
    elif set(number) == {"0"} and not over and len(number) <= 3:
        plain = Fraction(4 * 2 ** len(number))
    elif int(number) and not over:
        plain = Fraction(4, int(number))
    else:
        raise Unreadable("length")
    length = plain * (2 - Fraction(1, 2 ** min(len(dots), 4)))
    if length.denominator > _FINEST or length > _LONGEST:
        raise Unreadable("length")
    return length


def _head(part: str) -> Head | None:
    found = _PITCH.search(part)
    if found is None:
        return None
    letters, accidental = found.groups()
    octave = 3 + len(letters) if letters[0].islower() else 4 - len(letters)
    alteration = {"": 0, "#": 1, "-": -1, "n": 0}[(accidental or "")[:1]] * len(accidental or "")
    if len(letters) > 8:
        raise Unreadable("pitch")
    pitch = SpelledPitch(letters[0].upper(), alteration, octave)
    if not 0 <= pitch.midi <= 127:
        raise Unreadable("pitch")
    ornament, signs = _adorned(part, part[: found.start()] + part[found.end() :])
    return Head(
        pitch, "[" in part or "_" in part, "]" in part or "_" in part, ornament, tuple(signs),
        part.count("("), part.count(")"),
    )  # fmt: skip


def _adorned(part: str, rest: str) -> tuple[str, list[str]]:
    """Ornament and signs of a head; `rest` is the word without its pitch."""
    signs = [_SIGNS[sign] for sign in _SIGNS if sign in rest]
    if "^" in rest:
        signs.append("strong-accent" if "^^" in rest else "accent")
    if "yy" in rest:
        signs.append(CUE)
    ornament = ""
    for letter, (kind, own) in _ORNAMENTS.items():
        if letter in rest and kind != ornament:
            ornament, signs = adorned(ornament, signs, kind, [own] if own else [])
    strokes = _STROKES.search(part)
    if strokes and not ornament:
        between = strokes[1] == "@@"
        # Between two notes, each of which sounds half of what it is written as.
        length = (_length(part) or Fraction(1)) * (2 if between else 1)
        flags = max(math.ceil(math.log2(1 / length)), 0)
        count = int(strokes[2]).bit_length() - 3 - flags
        marks = ["/" * min(max(count, 1), MOST_STROKES), *([BETWEEN[0]] if between else [])]
        ornament, signs = "tremolo", [*signs, *marks]
    return ornament, signs


@dataclass(frozen=True, slots=True)
class Barline:
    """A barline: the number of the bar it begins, if it says one, and whether a repeat begins or ends there."""

    number: int | None
    starts: bool
    ends: bool


def barline(word: str) -> Barline:
    """Read ``=12``, ``=:|!``, ``=5!|:``, ``==``.

    >>> barline("=12a:|!|:")
    Barline(number=12, starts=True, ends=True)
    """
    numbered = re.match(r"=+(\d{1,6})", word)
    drawn = re.sub(r"[^:|!]", "", word)
    drawn = drawn if drawn.strip(":") else ""
    return Barline(int(numbered[1]) if numbered else None, drawn.endswith(":"), drawn.startswith(":"))


def signature(word: str) -> int | None:
    """Sharps (flats negative) of ``*k[f#c#]``; None of any other word."""
    found = re.fullmatch(r"\*k\[([A-Ga-gn#-]*)\]", word)
    if found is None:
        return None
    return max(-MAX_ACCIDENTALS, min(found[1].count("#") - found[1].count("-"), MAX_ACCIDENTALS))


def tonic(word: str) -> Key | None:
    """The key that ``*G:``, ``*f#:`` or ``*e:phr`` names; None of any other word.

    >>> tonic("*e:phr").name, tonic("*B-:").name
    ('E phrygian', 'B♭ major')
    """
    found = re.fullmatch(r"\*([A-Ga-g])([#-]?):(\w*)", word)
    if found is None:
        return None
    mode = mode_named(found[3]) or (MINOR if found[1].islower() else MAJOR)
    key = Key.in_mode(found[1].upper(), {"#": 1, "-": -1, "": 0}[found[2]], mode)
    return key if abs(key.signature) <= MAX_ACCIDENTALS else None


def mode_over(fifths: int, key: Key) -> str:
    """The mode in which a signature has the tonic of a key: minor music under an older signature is dorian on the page.

    >>> mode_over(0, Key.parse("d")), mode_over(-1, Key.parse("d")), mode_over(3, Key.parse("C"))
    ('dorian', 'minor', '')
    """
    names = (MAJOR, MINOR, *CHURCH_MODES)
    tonics = ((mode, Key.from_signature(fifths, mode)) for mode in names)
    return next((mode for mode, one in tonics if one.tonic == key.tonic), "")


def meter(word: str) -> Meter | None:
    """The meter of ``*M6/8``, ``*M2+3/8``; None of any other word."""
    found = re.fullmatch(r"\*M(\d{1,2}(?:\+\d{1,2})*)/(\d{1,2})", word)
    return metered(sum(map(int, found[1].split("+"))), int(found[2])) if found else None


def symbol(word: str) -> str:
    """What ``*met(c)`` and ``*met(c|)`` show in place of figures; empty of any other word."""
    found = re.fullmatch(r"\*met\(([cC]\|?)\)", word)
    return ("cut" if found[1][1:] else "common") if found else ""


def instrument(word: str) -> str:
    """Who plays by the code of an instrument (``*Ipiano``), empty where it is none that is known."""
    found = re.fullmatch(r"\*I([a-zA-Z]+)\d*", word)
    return _CODES.get(found[1].lower(), "") if found else ""


def syllable(word: str) -> str:
    """A syllable as a page has it, with a hyphen where the word goes on; empty where nothing is sung anew.

    >>> [syllable(word) for word in ("Wo-", "-chen", "f&uuml;r", "_", "|")]
    ['Wo-', 'chen', 'für', '', '']
    """
    text = " ".join(html.unescape(word).split())
    if not re.search(r"\w", text.replace("_", "")):
        return ""
    last = text.rsplit(" ", 1)[-1]
    goes_on = last.endswith("-") and re.search(r"\w", last) is not None
    return text.strip("-_|") + "-" * goes_on


def said(word: str) -> list[str]:
    """Dynamics, hairpins and words of one word of a **dynam spine, but for a hairpin `within` one note.

    >>> [said(word) for word in ("p", "f <", "[", "cresc.", "p <[", "sfX")]
    [['p'], ['f', '<'], ['!'], ['cresc.'], ['p'], ['sf']]
    """
    ends, begins = ["!"] if re.search(r"[\[\]]", word) else [], re.findall(r"[<>]", word)[:1]
    if within(word):
        ends = begins = []
    text = re.sub(r"[][<>()]", " ", word).strip().rstrip("XYZxy").strip()
    levels = [one for one in text.split() if one in DYNAMICS]
    words = words_of(text) if text and not levels else ""
    return ends + levels + ([words] if words else []) + begins


def within(word: str) -> str:
    """The hairpin of a **dynam word that begins and ends with one note, empty of any other.

    >>> within("<["), within("f >]"), within("[<")
    ('<', '>', '')
    """
    found = re.search(r"([<>])[^<>]*[\[\]]", word)
    return found[1] if found else ""


def words_in(comment: str) -> str:
    """The text that a layout comment puts over or under the music (``!LO:TX:a:t=rit.``), empty of any other."""
    found = re.match(r"!LO:TX:(?:[^:]*:)*?t=([^:]*)", comment)
    return " ".join(html.unescape(found[1].replace("\\n", " ")).split()) if found else ""


def chord_symbol(word: str) -> str:
    """What a word of a **mxhm spine is printed as: ``D- major-seventh`` as Dbmaj7.

    >>> chord_symbol("D- major-seventh"), chord_symbol("C dominant/E")
    ('Dbmaj7', 'C7/E')
    """
    root, _, kind = word.partition(" ")
    kind, _, bass = kind.partition("/")
    text = root.replace("-", "b") + KIND_TEXT.get(kind.strip(), "") + (f"/{bass.replace('-', 'b')}" if bass else "")
    return text if parse_symbol(text) is not None else ""
