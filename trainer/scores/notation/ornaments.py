"""Ornaments: from what a file calls them to what a note keeps of them, and back to their signs.

A note has one ornament, the last that stands at it (`Note.ornament`); its signs say what that leaves open, and name all
of them where there are several.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Sequence

from trainer.music.piece import Note
from trainer.scores.notation.elements import integer

# Ornaments by what the file calls them, and the sign each kind is written with.
ORNAMENTS = {
    "trill-mark": "trill", "wavy-line": "trill", "shake": "trill", "mordent": "mordent", "inverted-mordent": "mordent",
    "turn": "turn", "inverted-turn": "turn", "delayed-turn": "turn", "delayed-inverted-turn": "turn",
    "vertical-turn": "turn", "haydn": "turn", "schleifer": "turn", "tremolo": "tremolo",
}  # fmt: skip
# Those of the table that have the same sign turned over: without its stroke, upside down.
INVERTED = ("inverted-mordent", "inverted-turn", "delayed-inverted-turn")
MOST_STROKES = 5
USUAL_STROKES = 3
_ROLLED = "arpeggiate"
_SIGNS = {"trill": "trill-mark", "mordent": "mordent", "turn": "turn", "arpeggio": _ROLLED}
_NAMES = frozenset((*_SIGNS.values(), *INVERTED))


def ornament_signs(sign: ET.Element) -> list[str]:
    """What a note's ornament leaves open: which of two signs it is (``inverted-mordent``); how many strokes a tremolo
    has (``/`` each), and which end of one between two notes it is (``tremolo-start``, ``tremolo-stop``).
    """
    if sign.tag == "tremolo":
        kind = sign.get("type", "single")
        strokes = min(max(integer(sign.text) or USUAL_STROKES, 1), MOST_STROKES)
        return ["/" * strokes, *([f"tremolo-{kind}"] if kind in ("start", "stop") else [])]
    return [sign.tag] if sign.tag in INVERTED else []


def adorned(ornament: str, signs: Sequence[str], kind: str, own: Sequence[str]) -> tuple[str, list[str]]:
    """The ornament and the signs of a note that has them already and takes another, if any, with signs of its own.

    >>> adorned("", ["staccato"], "turn", []), adorned("turn", ["staccato"], "mordent", ["inverted-mordent"])
    (('turn', ['staccato']), ('mordent', ['staccato', 'turn', 'inverted-mordent']))
    """
    if not kind:
        return ornament, [*signs, *own]
    names = list(dict.fromkeys((*_names(ornament, signs), *_names(kind, own))))
    rest = [sign for sign in (*signs, *own) if sign not in _NAMES]
    return kind, rest if names == [_SIGNS.get(kind)] else rest + names


def _names(ornament: str, signs: Sequence[str]) -> list[str]:
    """The signs an ornament is written with, in order; a tremolo's strokes are none of them."""
    own = [_SIGNS[ornament]] if ornament in _SIGNS else []
    return [sign for sign in signs if sign in _NAMES] or own


def write_ornaments(notations: ET.Element, note: Note) -> None:
    """The signs of the note's ornaments, but for what `write_tremolo` and `write_rolled` write."""
    names = [name for name in _names(note.ornament, note.signs) if name != _ROLLED]
    if note.ornament and names:
        group = ET.SubElement(notations, "ornaments")
        for name in names:
            ET.SubElement(group, name)


def write_rolled(notations: ET.Element, note: Note) -> None:
    if note.ornament and _ROLLED in _names(note.ornament, note.signs):
        ET.SubElement(notations, _ROLLED)


def write_tremolo(notations: ET.Element, notes: Sequence[Note], end: str) -> None:
    """The strokes of a chord that is repeated; `end` of a tremolo between two: ``start`` or ``stop``."""
    strokes = next((len(sign) for note in notes for sign in note.signs if sign[0] == "/"), 0)
    if strokes or any(note.ornament == "tremolo" for note in notes):
        group = ET.SubElement(notations, "ornaments")
        ET.SubElement(group, "tremolo", type=end or "single").text = str(strokes or USUAL_STROKES)
