"""Faces for text: a serif with its italic and bold, with a fallback for every single glyph and a cache of lines.

STIX (SIL Open Font Licence) and DejaVu come with matplotlib, which the score reader brings along; the folder is found
without importing it. Music signs are drawn from the engraver's face (`signs`). Letters are rasterised at three
times their size and averaged down, so that spacing follows the design of the face and not the grid of pixels.
"""

from __future__ import annotations

import contextlib
import importlib.util
import math
import pathlib
import re
import unicodedata
from collections import OrderedDict
from functools import cache, lru_cache

import pygame

from trainer.window.paint.shapes import picture, sign
from trainer.window.paint.signs import NOTES, TEXT_SIGNS, outline
from trainer.window.paint.theme import Colour, hexed

ROMAN = "roman"
ITALIC = "italic"
BOLD = "bold"
BOLD_ITALIC = "bold-italic"
SANS = "sans"
FALLBACK = "fallback"
_FILES = {
    ROMAN: "STIXGeneral.ttf", ITALIC: "STIXGeneralItalic.ttf", BOLD: "STIXGeneralBol.ttf",
    BOLD_ITALIC: "STIXGeneralBolIta.ttf", SANS: "DejaVuSans.ttf",
}  # fmt: skip
_FALLBACK = "DejaVuSans.ttf"
# Faces of the computer for letters neither has, as names in other scripts need them.
_OTHERS = (
    "notosanscjkjp", "notosanscjksc", "notosanscjkkr", "droidsansfallback", "wenquanyizenhei", "freesans", "freeserif",
    "notosansarabic", "notosanshebrew", "notosansdevanagari", "notosansthai", "yugothic", "msgothic", "microsoftyahei",
    "malgungothic", "nirmalaui", "leelawadeeui", "segoeui", "hiraginosans", "pingfangsc", "applesdgothicneo",
    "arialunicodems", "geezapro", "thonburi",
)  # fmt: skip
_FINE = 3
BASELINE = 0.93
LINE = 1.24
# Of the text size: staff space of a sign set among letters, and the air on both its sides.
_SIGN_SPACE = 0.31
_SIGN_AIR = 0.035
# Of the text size: stroke added to a sign's outline, so that it is as dark as the letters beside it.
_HEAVY = 0.012
_HEAVY_BOLD = 0.035
_KEPT = 900
_WORDS_KEPT = 2000
_DARKER = 110
# A pair of typewriter's quotes: not an apostrophe within a word, nor one before or after it alone.
_IN_QUOTES = re.compile(r"(?<![^\s(])'((?:[^'\n]|(?<=\w)'(?=\w))+)'(?![^\s.,:;!?)])")
# Between a note's letter and its sign in words (D flat, F double sharp), and before the dot between two things.
_BOUND = re.compile(r"(?<=\b[A-H]) (?=(?:double )?(?:flat|sharp|natural)\b)|(?<=\b[A-H] double) (?=flat|sharp)| (?=· )")
# Letters that stand from right to left, Hebrew and Arabic and their kin; and words of them.
_LEFTWARD = "[\u0590-\u065f\u066e-\u06ef\u06fa-\u08ff\ufb1d-\ufdff\ufe70-\ufefc]"
_LEFTWARDS = re.compile(rf"{_LEFTWARD}+(?:\W+{_LEFTWARD}+)*")
# Of these, letters that take their shape from those beside them: the script they are set in.
_JOINED = re.compile("[\u0600-\u08ff\ufb50-\ufdff\ufe70-\ufefc]")
_AS_JOINED = "|Arab"


@cache
def folder() -> pathlib.Path | None:
    """The folder of the faces, or None when they are not installed."""
    spec = importlib.util.find_spec("matplotlib")
    if spec is None or not spec.submodule_search_locations:
        return None
    found = pathlib.Path(next(iter(spec.submodule_search_locations))) / "mpl-data" / "fonts" / "ttf"
    return found if (found / _FILES[ROMAN]).is_file() else None


@lru_cache(maxsize=128)
def _font(style: str, size: int) -> pygame.font.Font:
    if not pygame.font.get_init():
        pygame.font.init()
    if style.endswith(_AS_JOINED):
        # Not the font of the plain face, which stays as it is.
        joined = _font.__wrapped__(style.removesuffix(_AS_JOINED), size)
        with contextlib.suppress(pygame.error):  # without shapes in an old library
            joined.set_script(_AS_JOINED[-4:])
        return joined
    if style not in _FILES and style != FALLBACK:
        return pygame.font.Font(style, size)
    home = folder()
    name = _FALLBACK if style == FALLBACK else _FILES[style]
    return pygame.font.Font(str(home / name) if home else None, size)


@cache
def _others() -> tuple[str, ...]:
    """The files of those further faces the computer has; asked for with the first letter that needs one."""
    found = []
    for path in filter(None, map(pygame.font.match_font, _OTHERS)):
        with contextlib.suppress(pygame.error, OSError):  # a face that cannot be read is none
            pygame.font.Font(path, 24)
            found.append(path)
    return tuple(found)


@lru_cache(maxsize=4096)
def _face(style: str, letter: str) -> str:
    """The face a letter is drawn in: `style`, the fallback, or the file of another that has it."""
    found = next((face for face in (style, FALLBACK) if _has(face, letter)), None)
    return found or next((file for file in _others() if _has(file, letter)), FALLBACK)


@cache
def _nothing(style: str) -> bytes:
    """What a face draws for a letter it does not have."""
    return pygame.image.tobytes(_font(style, 24).render("\uffff", True, (0, 0, 0)), "RGBA")


@lru_cache(maxsize=4096)
def _has(style: str, letter: str) -> bool:
    metrics = _font(style, 24).metrics(letter)
    if not metrics or metrics[0] is None:
        return False
    # Some faces give measures for letters they lack.
    return letter.isspace() or pygame.image.tobytes(
        _font(style, 24).render(letter, True, (0, 0, 0)), "RGBA"
    ) != _nothing(style)


def _drawable(letter: str) -> str:
    """A letter as it is set; a question mark for what the library refuses: half of a letter, out of a file's name.

    >>> _drawable("'"), _drawable("\\0")
    ('’', '?')
    """
    if letter == "'":
        # The typewriter's apostrophe, as files have it.
        return "’"
    return "?" if letter == "\0" or "\ud800" <= letter <= "\udfff" else letter


def _quoted(text: str) -> str:
    """What stands between typewriter's quotes, as the name of a file does, between those of a printed page.

    >>> _quoted("'a song.abc' is the singer's: don't")
    "‘a song.abc’ is the singer's: don't"
    """
    return _IN_QUOTES.sub("‘\\1’", text)


def _standing(text: str) -> str:
    """A line's letters in the order in which they stand, from the left: words read from right to left turned round.

    >>> _standing("Ada, \u05d0\u05d1 \u05d2") == "Ada, \u05d2 \u05d1\u05d0"
    True
    """
    return _LEFTWARDS.sub(_turned, text) if text and max(text) >= "\u0590" else text


def _turned(found: re.Match[str]) -> str:
    letters: list[str] = []
    for letter in found[0]:
        # A sign over or under a letter stays with it.
        if letters and unicodedata.combining(letter):
            letters[-1] += letter
        else:
            letters.append(letter)
    return "".join(reversed(letters))


def _runs(text: str, style: str) -> list[tuple[str, str]]:
    """Text cut where the face changes: (face or ``sign``, letters)."""
    runs: list[tuple[str, str]] = []
    for letter in map(_drawable, text):
        is_sign = letter in TEXT_SIGNS and outline(TEXT_SIGNS[letter]) is not None
        face = "sign" if is_sign else _face(style, letter) + _AS_JOINED * bool(_JOINED.match(letter))
        if runs and runs[-1][0] == face and face != "sign":
            runs[-1] = (face, runs[-1][1] + letter)
        else:
            runs.append((face, letter))
    return runs


def _sign_width(letter: str, size: float) -> float:
    found = outline(TEXT_SIGNS[letter])
    assert found is not None
    return found.width / 250 * _SIGN_SPACE * size + (_air(letter) + _SIGN_AIR) * size


def _air(letter: str) -> float:
    """Of the size: air before a sign; F and a sharp, both tall to their edges, would else touch."""
    return _SIGN_AIR * (1.9 if letter == "♯" else 1.0)


@lru_cache(maxsize=8192)
def width(text: str, style: str, size: float) -> float:
    """Width of a line in pixels."""
    return _measured(_standing(_quoted(text)), style, size)


@lru_cache(maxsize=8192)
def _measured(text: str, style: str, size: float) -> float:
    """Width of letters in the order in which they stand."""
    total = 0.0
    for face, letters in _runs(text, style):
        if face == "sign":
            total += _sign_width(letters, size)
        else:
            total += _font(face, max(1, round(size * _FINE))).size(letters)[0] / _FINE
    return total


@lru_cache(maxsize=8192)
def _room_for(word: str, style: str, size: float) -> float:
    """At most how much wider a word makes a line: its letters as they are before they are moved together."""
    total = 0.0
    for face, letters in _runs(word, style):
        if face == "sign":
            total += _sign_width(letters, size)
        else:
            measured = _font(face, max(1, round(size * _FINE))).metrics(letters)
            total += sum(one[4] for one in measured if one is not None) / _FINE
    return total


def line_height(size: float) -> int:
    """Height of a line's picture in pixels."""
    return math.ceil(size * LINE)


def baseline(size: float) -> int:
    """Pixels from the top of a line's picture to its baseline."""
    return round(size * BASELINE)


_lines: OrderedDict[tuple[str, str, float, Colour], pygame.Surface] = OrderedDict()


def line(text: str, style: str, size: float, colour: Colour) -> pygame.Surface:
    """One line of text as a picture; its baseline lies `baseline(size)` below its top."""
    key = (text, style, size, colour)
    found = _lines.get(key)
    if found is not None:
        _lines.move_to_end(key)
        return found
    made = _drawn(text, style, size, colour)
    _lines[key] = made
    if len(_lines) > _KEPT:
        _lines.popitem(last=False)
    return made


def _drawn(text: str, style: str, size: float, colour: Colour) -> pygame.Surface:
    """A line put together from its words: a line of new text is mostly made of words that were drawn before."""
    text = _standing(_quoted(text))
    # Italics lean out of their advance: a little room at the right keeps them whole.
    wide = math.ceil(_measured(text, style, size) + size * 0.18)
    made = pygame.Surface((max(1, wide), line_height(size)), pygame.SRCALPHA, 32)
    made.fill((*colour, 0))
    begun = 0
    for word in text.split(" "):
        if word:
            at = _measured(text[:begun], style, size) * _FINE + (_bearing(word[0], style, size) if begun else 0)
            x, phase = divmod(round(at), _FINE)
            made.blit(_word(word, style, size, colour, phase), (x, 0), special_flags=pygame.BLEND_RGBA_MAX)
        begun += len(word) + 1
    return made


@lru_cache(maxsize=4096)
def _bearing(letter: str, style: str, size: float) -> int:
    """How far a letter reaches left of where it stands (0 or less), in parts of `_FINE`: its picture begins there."""
    ((face, drawn),) = _runs(letter, style)
    if face == "sign":
        return 0
    found = _font(face, max(1, round(size * _FINE))).metrics(drawn)[0]
    return min(0, found[0]) if found else 0


@lru_cache(maxsize=_WORDS_KEPT)
def _word(text: str, style: str, size: float, colour: Colour, phase: int) -> pygame.Surface:
    """A word as a picture, begun `phase` parts of `_FINE` into the first pixel."""
    wide = math.ceil(_measured(text, style, size) + phase / _FINE + size * 0.18)
    high = line_height(size)
    fine = pygame.Surface((max(1, wide) * _FINE, high * _FINE), pygame.SRCALPHA, 32)
    fine.fill((*colour, 0))
    x = float(phase)
    base = baseline(size) * _FINE
    for face, letters in _runs(text, style):
        if face == "sign":
            heavy = _HEAVY_BOLD if style in (BOLD, BOLD_ITALIC) else _HEAVY
            fine.blit(_sign(letters, size * _FINE, colour, heavy), (round(x), base - round(size * _FINE * 0.9)))
            x += _sign_width(letters, size) * _FINE
        else:
            font = _font(face, max(1, round(size * _FINE)))
            fine.blit(font.render(letters, True, colour), (round(x), base - font.get_ascent()))
            x += font.size(letters)[0]
    made = pygame.transform.smoothscale(fine, (max(1, wide), high))
    # Blending on paper thins letters: drawn over themselves, faintly, their edges are darker.
    again = made.copy()
    again.set_alpha(_DARKER)
    made.blit(again, (0, 0))
    return made


def _sign(letter: str, size: float, colour: Colour, heavy: float) -> pygame.Surface:
    """A sign whose foot stands as among capitals: picture with its baseline 0.9 `size` below the top."""
    found = outline(TEXT_SIGNS[letter])
    assert found is not None
    stands = letter in NOTES.values()
    space = _SIGN_SPACE * size * (0.9 if stands else 1.0)
    # An accidental is centred on the middle of the capitals, a third of the size above the baseline.
    rise = 0.06 if stands else 0.30
    if letter in "♭𝄫":
        rise = 0.20
    left = _air(letter) * size - found.left / 250 * space
    body = sign(TEXT_SIGNS[letter], left, (0.9 - rise) * size, space, hexed(colour), heavy * size)
    return picture(body, math.ceil(_sign_width(letter, size)) + 1, math.ceil(size * LINE))


def wrapped(text: str, style: str, size: float, wide: float) -> list[str]:
    """Text broken between words into lines no wider than `wide`; a single longer word stands alone.

    A note's letter keeps its sign beside it, and no line begins with the dot between two things.
    """
    lines: list[str] = []
    space = _room_for(" ", style, size)
    # Quotes that close in another line than they open are still a pair.
    for paragraph in _BOUND.sub("\u00a0", _quoted(text)).split("\n"):
        current: list[str] = []
        long = 0.0
        for word in paragraph.split(" "):
            more = _room_for(word, style, size)
            if current and long + space + more > wide:
                lines.append(" ".join(current))
                current, long = [word], more
            else:
                long += more + (space if current else 0.0)
                current.append(word)
        lines.append(" ".join(current))
    return lines


def shortened(text: str, style: str, size: float, wide: float) -> str:
    """Text cut to `wide` with an ellipsis; itself when it fits."""
    if width(text, style, size) <= wide:
        return text
    text = _quoted(text)
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if width(text[:middle].rstrip() + "…", style, size) <= wide:
            low = middle
        else:
            high = middle - 1
    return text[:low].rstrip() + "…"
