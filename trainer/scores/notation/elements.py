"""Single elements of MusicXML 4.0 to plain values and back, with the tables both ways share."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from fractions import Fraction

from trainer.music import chordsymbol
from trainer.music.keys import MAX_ACCIDENTALS, Key, mode_named
from trainer.music.piece import LEFT, UNSHOWN, Bar, Note
from trainer.music.pitch import Interval, SpelledPitch
from trainer.scores.notation.notating import Accidental, Chord
from trainer.scores.notation.notevalues import VALUES
from trainer.scores.notation.unfolding import Signs
from trainer.scores.notation.written import FREE, Meter

ACCIDENTALS = {
    -3: "triple-flat", -2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp", 3: "triple-sharp",
}  # fmt: skip
# Kinds of chord symbols as MusicXML names them, by what is printed after the root.
KINDS = {
    "": "major", "m": "minor", "7": "dominant", "maj7": "major-seventh", "m7": "minor-seventh", "dim": "diminished",
    "dim7": "diminished-seventh", "aug": "augmented", "m7b5": "half-diminished", "6": "major-sixth",
    "m6": "minor-sixth", "sus4": "suspended-fourth", "sus2": "suspended-second", "9": "dominant-ninth",
    "maj9": "major-ninth", "m9": "minor-ninth", "5": "power", "aug7": "augmented-seventh", "m(maj7)": "major-minor",
    "11": "dominant-11th", "maj11": "major-11th", "m11": "minor-11th", "13": "dominant-13th", "maj13": "major-13th",
    "m13": "minor-13th",
}  # fmt: skip
# A root of a chord further from its letter than a triple sharp or flat is a mistake of the file.
_MOST_ALTERED = 3
# Meters by the symbol that may stand for them.
_SYMBOLS = {"common": ((4, 4),), "cut": ((2, 2), (4, 4), (4, 2))}
_UNITS = (1, 2, 4, 8, 16, 32, 64)
# By whether a syllable is joined to the one before and to the next.
_SYLLABIC = {(False, False): "single", (False, True): "begin", (True, True): "middle", (True, False): "end"}
# The last is no kind of the standard; the reader of ABC writes it.
KIND_TEXT = {**{kind: text for text, kind in KINDS.items()}, "suspended-fourth-seventh": "7sus4"}


def number(text: str) -> Fraction:
    """A plain decimal; exponents are refused, since one short word of them can fill the memory."""
    if not re.fullmatch(r"-?\d{1,9}(\.\d{1,9})?", text.strip()):
        raise ValueError("not a number")
    return Fraction(text.strip())


def integer(text: str | None) -> int | None:
    try:
        return int((text or "").strip())
    except ValueError:
        return None


def decimal(text: str | None) -> float | None:
    try:
        return float((text or "").strip())
    except ValueError:
        return None


def signature(key: ET.Element) -> tuple[int, str]:
    """Sharps (flats negative) and the mode, empty when the file says none."""
    fifths = integer(key.findtext("fifths"))
    if fifths is None:
        alters = [int(float(alter.text or 0)) for alter in key.iterfind("key-alter")]
        fifths = sum(1 for alter in alters if alter > 0) - sum(1 for alter in alters if alter < 0)
    if abs(fifths) > MAX_ACCIDENTALS:
        fifths = (fifths + 6) % 12 - 6  # the same keys of the piano, and a signature there is
    return fifths, mode_named(key.findtext("mode") or "")


def transposition(change: ET.Element) -> Interval:
    """From what a part writes to what sounds."""
    octaves = integer(change.findtext("octave-change")) or 0
    steps = integer(change.findtext("diatonic"))
    semitones = int(float(change.findtext("chromatic") or 0))
    plain = by_halves(semitones)
    return Interval((plain.steps if steps is None else steps) + 7 * octaves, semitones + 12 * octaves)


def by_halves(semitones: int) -> Interval:
    """The interval a number of semitones is usually written as."""
    octaves, within = divmod(abs(semitones), 12)
    steps = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)[within] + 7 * octaves
    return Interval(-steps if semitones < 0 else steps, semitones)


def sounding_key(fifths: int, interval: Interval) -> tuple[int, Interval]:
    """The signature that sounds where `fifths` is written, and the interval spelled to suit it."""
    moved = fifths + interval.fifths
    if abs(moved) <= MAX_ACCIDENTALS:
        return moved, interval
    simpler = (moved + 6) % 12 - 6
    return simpler, interval + Interval((moved - simpler) // 12, 0)


def meter(time: ET.Element) -> Meter | None:
    """Beats, unit and symbol; of a meter of several (3+2/8, 2/4 + 3/8) all beats in the shortest unit."""
    if time.find("senza-misura") is not None:
        return FREE
    parts = []
    for beats, unit in zip(time.findall("beats"), time.findall("beat-type"), strict=False):
        parts.append((sum(int(n) for n in re.findall(r"\d+", beats.text or "")), integer(unit.text)))
    units = [unit for _, unit in parts if unit in _UNITS]
    if not parts or len(units) < len(parts):
        return None
    shortest = max(units)
    counted = sum(beats * (shortest // unit) for (beats, _), unit in zip(parts, units, strict=True))
    hidden = time.get("print-object") == "no"
    return metered(counted, shortest, UNSHOWN if hidden else time.get("symbol", ""))


def metered(beats: int, unit: int, symbol: str = "") -> Meter | None:
    """A meter, with its symbol where that may stand for it; None where there is no such meter."""
    fits = symbol == UNSHOWN or (beats, unit) in _SYMBOLS.get(symbol, ())
    return Meter(beats, unit, symbol if fits else "") if beats and unit in _UNITS else None


def quarters_a_minute(element: ET.Element) -> float | None:
    unit = VALUES.get((element.findtext("beat-unit") or "").strip())
    found = re.search(r"\d+(?:\.\d+)?", element.findtext("per-minute") or "")
    if unit is None or not found:
        return None
    dots = len(element.findall("beat-unit-dot"))
    tempo = float(found[0]) * float(unit * (2 - Fraction(1, 2**dots)))
    return tempo if 4 <= tempo <= 999 else None


def read_words(text: str, signs: Signs) -> None:
    plain = re.sub(r"[^a-z ]", "", re.sub(r"\bd\. +(?=[cs]\b)", "d", text.lower())).strip()
    if re.match(r"(dc|da capo)\b", plain):
        signs.da_capo = True
    elif re.match(r"(ds|dal segno)\b", plain):
        signs.dal_segno = True
    elif plain == "fine":
        signs.fine = True
    elif re.match(r"(to|al) coda\b", plain):
        signs.to_coda = True
    elif plain == "coda":
        signs.coda = True


def lyrics_of(note: ET.Element) -> dict[int, str]:
    """The syllable under a note in each verse, by number."""
    found: dict[int, str] = {}
    for lyric in note.iterfind("lyric"):
        # Written "2", or "part1verse2".
        numbers = re.findall(r"\d+", lyric.get("number", "1"))
        # Two syllables sung on one note are parted by an elision.
        parts = [
            (piece.text or "" if piece.tag == "text" else " ") for piece in lyric if piece.tag in ("text", "elision")
        ]
        text = "".join(parts).strip()
        if text:
            # The word goes on if the last of them does.
            joined = [said.text for said in lyric.iterfind("syllabic")][-1:] in (["begin"], ["middle"])
            found.setdefault(int(numbers[-1][:4]) if numbers else 1, text + "-" if joined else text)
    return found


def chord_symbol(element: ET.Element) -> str:
    def named(step: str | None, alter: str | None) -> str:
        amount = int(float(alter or 0))
        if abs(amount) > _MOST_ALTERED:
            raise ValueError("no such alteration")
        return (step or "").strip() + ("#" * amount if amount > 0 else "b" * -amount)

    root = named(element.findtext("root/root-step"), element.findtext("root/root-alter"))
    kind = element.find("kind")
    if not root or kind is None or (kind.text or "") == "none":
        return ""
    known, text = KIND_TEXT.get((kind.text or "").strip()), kind.get("text")
    # With symbols the text is what follows them: the 7 of a half-diminished chord.
    plain = text if known is None or kind.get("use-symbols") != "yes" else None
    suffix = plain if plain is not None else known or ""
    for degree in element.iterfind("degree"):
        if plain is not None and degree.get("print-object") == "no":
            continue  # the text says it
        said = _degree(degree)
        suffix += said if said not in suffix.replace("omit", "no") else ""
    bass = named(element.findtext("bass/bass-step"), element.findtext("bass/bass-alter"))
    return root + suffix.strip() + (f"/{bass}" if bass else "")


def _degree(element: ET.Element) -> str:
    """A note of a chord added, altered or left out, as it is printed after the kind: ``b5``, ``add9``, ``no3``."""
    number, alter = integer(element.findtext("degree-value")), element.findtext("degree-alter") or "0"
    if number is None or not 1 <= number <= 13:
        return ""
    if element.findtext("degree-type") == "subtract":
        return f"no{number}"
    sign = {-1: "b", 1: "#"}.get(int(float(alter)))
    return f"{sign or 'add'}{number}"


def write_pitch(element: ET.Element, note: Note) -> None:
    pitch = ET.SubElement(element, "pitch")
    ET.SubElement(pitch, "step").text = note.pitch.letter
    if note.pitch.alteration:
        ET.SubElement(pitch, "alter").text = str(note.pitch.alteration)
    ET.SubElement(pitch, "octave").text = str(note.pitch.octave)


def write_key(attributes: ET.Element, key: Key) -> None:
    element = ET.SubElement(attributes, "key")
    ET.SubElement(element, "fifths").text = str(key.signature)
    ET.SubElement(element, "mode").text = key.full_mode


def write_meter(attributes: ET.Element, bar: Bar) -> None:
    shown = {"print-object": "no"} if bar.symbol == UNSHOWN else {"symbol": bar.symbol} if bar.symbol else {}
    time = ET.SubElement(attributes, "time", shown)
    ET.SubElement(time, "beats").text = str(bar.meter[0])
    ET.SubElement(time, "beat-type").text = str(bar.meter[1])


def write_clef(attributes: ET.Element, letter: str, staff: int | None, octave_below: bool) -> None:
    clef = ET.SubElement(attributes, "clef")
    if staff is not None:
        clef.set("number", str(staff))
    ET.SubElement(clef, "sign").text = letter
    ET.SubElement(clef, "line").text = {"G": "2", "F": "4"}[letter]
    if octave_below:
        ET.SubElement(clef, "clef-octave-change").text = "-1"


def write_octave(measure: ET.Element, way: str, staff: int | None, above: bool) -> None:
    """A bracket of 8va (`above`) or 8vb begins (`way` is ``down`` or ``up``), or ends (``stop``)."""
    direction = ET.SubElement(measure, "direction", placement="above" if above else "below")
    kind = ET.SubElement(direction, "direction-type")
    ET.SubElement(kind, "octave-shift", type=way, number=str(staff or 1), size="8")
    if staff:
        ET.SubElement(direction, "staff").text = str(staff)


def write_tempo(measure: ET.Element, tempo: float, offset: int) -> None:
    direction = ET.SubElement(measure, "direction", placement="above")
    metronome = ET.SubElement(ET.SubElement(direction, "direction-type"), "metronome")
    metronome.set("print-object", "no")
    ET.SubElement(metronome, "beat-unit").text = "quarter"
    ET.SubElement(metronome, "per-minute").text = f"{tempo:g}"
    if offset:
        ET.SubElement(direction, "offset").text = str(offset)
    ET.SubElement(direction, "sound", tempo=f"{tempo:.10g}")


def write_finger(notations: ET.Element, note: Note) -> None:
    if note.finger:
        fingering = ET.SubElement(ET.SubElement(notations, "technical"), "fingering")
        fingering.text = str(note.finger)
        fingering.set("placement", "below" if note.hand == LEFT else "above")


def write_value(element: ET.Element, chord: Chord, accidental: Accidental | None = None) -> None:
    value = chord.value
    ET.SubElement(element, "type").text = value.name
    for _ in range(value.dots):
        ET.SubElement(element, "dot")
    if accidental is not None:
        write_accidental(element, accidental)
    if value.tuplet != (1, 1):
        change = ET.SubElement(element, "time-modification")
        ET.SubElement(change, "actual-notes").text = str(value.tuplet[0])
        ET.SubElement(change, "normal-notes").text = str(value.tuplet[1])


def write_bracket(parts: ET.Element, count: int, shown: bool) -> None:
    """Put the first parts of a list into one bracket; one not `shown` is angular, and no drawing has it (`svg`):
    the engraver leaves resting staves out only where there is a group besides the piano's.
    """
    parts.insert(count, ET.Element("part-group", type="stop", number="1"))
    group = ET.Element("part-group", type="start", number="1")
    ET.SubElement(group, "group-symbol").text = "bracket" if shown else "square"
    parts.insert(0, group)


def write_looked_at(part: ET.Element, prefix: str, size: float) -> None:
    """Make a part a small one that is only looked at: the piano's notes are known to the page by their ids."""
    for note in part.iter("note"):
        if "id" in note.attrib:
            note.set("id", prefix + note.get("id", ""))
    details = ET.SubElement(next(part.iter("attributes")), "staff-details")
    details.append(ET.fromstring(staff_size(size)))


def staff_size(size: float) -> str:
    """How large a staff is beside the others, as it stands in the document."""
    return f"<staff-size>{size:g}</staff-size>"


def write_accidental(element: ET.Element, accidental: Accidental) -> None:
    written = ET.SubElement(element, "accidental")
    written.text = ACCIDENTALS[accidental.alteration]
    if accidental.courtesy:
        written.set("cautionary", "yes")


def write_tuplet(note: ET.Element, chord: Chord) -> None:
    notations = ET.Element("notations")
    write_tuplet_marks(notations, chord)
    if len(notations):
        note.append(notations)


def write_tuplet_marks(notations: ET.Element, chord: Chord) -> None:
    if chord.tuplet_start:
        bracket = "yes" if chord.tuplet_bracket else "no"
        ET.SubElement(notations, "tuplet", type="start", number="1", bracket=bracket)
    if chord.tuplet_stop:
        ET.SubElement(notations, "tuplet", type="stop", number="1")


def write_lyric(element: ET.Element, text: str, number: int = 1, joined: bool = False, held: bool = False) -> None:
    """A syllable; one that ends with a hyphen is joined to the next, `joined` to the one before; after one that is
    `held` over more heads a line is drawn.
    """
    goes_on = len(text) > 1 and text.endswith("-")
    lyric = ET.SubElement(element, "lyric", number=str(number))
    ET.SubElement(lyric, "syllabic").text = _SYLLABIC[joined, goes_on]
    ET.SubElement(lyric, "text").text = text[:-1] if goes_on else text
    if held:
        ET.SubElement(lyric, "extend")


def write_harmony(measure: ET.Element, text: str, offset: int) -> None:
    symbol = chordsymbol.parse(text)
    if symbol is None:
        return
    harmony = ET.SubElement(measure, "harmony")
    _write_root(harmony, "root", symbol.root)
    kind = ET.SubElement(harmony, "kind", text=symbol.quality)
    kind.text = KINDS.get(symbol.quality, "other")
    if symbol.bass:
        _write_root(harmony, "bass", symbol.bass)
    if offset:
        ET.SubElement(harmony, "offset").text = str(offset)


def _write_root(harmony: ET.Element, what: str, pitch: SpelledPitch) -> None:
    element = ET.SubElement(harmony, what)
    ET.SubElement(element, f"{what}-step").text = pitch.letter
    if pitch.alteration:
        ET.SubElement(element, f"{what}-alter").text = str(pitch.alteration)
