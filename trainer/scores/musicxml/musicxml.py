"""MusicXML text to parts and bars as written, before repeats are unfolded and hands are told apart.

Reads the document itself rather than through a library, because note ids must be kept exactly and a concert score
of ten thousand notes must be there within two seconds. Element meanings: MusicXML 4.0 (W3C, 2021). The tests read
the same files through music21 and compare note for note.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

from trainer.music.pitch import MusicError
from trainer.scores.musicxml.barreading import Names, PartReader
from trainer.scores.notation.elements import integer
from trainer.scores.notation.written import Part, Score

_MOST_TAGS = 450_000
# Twice a concert movement; rests count too.
_MOST_NOTES = 20_000


def parse(text: str, name: str) -> Score:
    """Read a MusicXML document.

    Raises
    ------
    MusicError
        When it is damaged or holds no part.
    """
    notes = len(re.findall(r"<(?:\w+:)?note[\s>]", text))
    if notes > _MOST_NOTES:
        raise MusicError(f"'{name}' holds {notes} notes, at most {_MOST_NOTES}: save one movement alone.")
    if text.count("<") > 2 * _MOST_TAGS:
        raise MusicError(f"'{name}' is too large: save one piece alone.")
    try:
        # The text is decoded already: what the declaration says of bytes no longer holds.
        root = ET.fromstring(re.sub(r"^\s*<\?xml.*?\?>", "", text, count=1, flags=re.DOTALL))
    except (ET.ParseError, ValueError) as error:
        place = getattr(error, "position", (0, 0))[0]
        where = f" near line {place}" if place else ""
        raise MusicError(f"'{name}' is damaged{where}: export it again as MusicXML.") from None
    if root.tag.startswith("{"):
        for element in root.iter():
            element.tag = element.tag.rsplit("}", 1)[-1]
    if root.tag == "score-timewise":
        _partwise(root)
    parts = _part_list(root)
    names = Names(root)
    found = []
    for element in root.findall("part"):
        part = parts.get(element.get("id", ""), Part(""))
        PartReader(part, names, name).read(element)
        found.append(part)
    if not found:
        raise MusicError(f"'{name}' holds no part to play: export the score itself.")
    score = Score(found)
    _about(root, score)
    return score


def _partwise(root: ET.Element) -> None:
    """Turn bars holding parts into parts holding bars."""
    parts: dict[str, ET.Element] = {}
    for measure in root.findall("measure"):
        for part in measure.findall("part"):
            label = part.get("id", "")
            if label not in parts:
                parts[label] = ET.SubElement(root, "part", id=label)
            inner = ET.SubElement(parts[label], "measure", dict(measure.attrib))
            inner.extend(list(part))
        root.remove(measure)


def _part_list(root: ET.Element) -> dict[str, Part]:
    found = {}
    for element in root.iterfind("part-list/score-part"):
        program = integer(element.findtext("midi-instrument/midi-program"))
        sound = element.findtext("score-instrument/instrument-sound") or ""
        words = [element.findtext("part-name") or "", element.findtext("score-instrument/instrument-name") or "", sound]
        part = Part(" ".join(" ".join(words).split()), program=program)
        found[element.get("id", "")] = part
    return found


def _about(root: ET.Element, score: Score) -> None:
    def text(path: str) -> str:
        return " ".join((root.findtext(path) or "").split())

    score.title = text("work/work-title") or text("movement-title")
    if not score.title:
        for credit in root.iterfind("credit"):
            if (credit.findtext("credit-type") or "") == "title":
                score.title = " ".join((credit.findtext("credit-words") or "").split())
                break
    for creator in root.iterfind("identification/creator"):
        name, kind = " ".join((creator.text or "").split()), creator.get("type", "composer")
        if kind == "composer":
            score.composer = score.composer or name
        elif kind in ("lyricist", "poet"):
            score.poet = score.poet or name
    score.licence = text("identification/rights")
    score.source = text("identification/source")
    for extra in root.iterfind("identification/miscellaneous/miscellaneous-field"):
        if extra.get("name") == "origin":
            score.origin = " ".join((extra.text or "").split())
