"""MusicXML text to parts and bars as written, before repeats are unfolded and hands are told apart.

Reads the document itself rather than through a library, because note ids must be kept exactly and a concert score
of ten thousand notes must be there within two seconds. Element meanings: MusicXML 4.0 (W3C, 2021). The tests read
the same files through music21 and compare note for note.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass, field
from fractions import Fraction

from trainer.music.keys import MAX_ACCIDENTALS
from trainer.music.pitch import Interval, MusicError, SpelledPitch
from trainer.scores.notating import VALUES
from trainer.scores.unfolding import Signs
from trainer.scores.writing import KINDS

_ORNAMENTS = {
    "trill-mark": "trill", "wavy-line": "trill", "shake": "trill", "mordent": "mordent", "inverted-mordent": "mordent",
    "turn": "turn", "inverted-turn": "turn", "delayed-turn": "turn", "delayed-inverted-turn": "turn",
    "vertical-turn": "turn", "haydn": "turn", "schleifer": "turn", "tremolo": "tremolo",
}  # fmt: skip
_KIND_TEXT = {kind: text for text, kind in KINDS.items()}
# Times with a finer denominator than any tuplet has are rounding of the program that wrote them.
_FINEST = 10_080
_GRID = 960
_MOST_TAGS = 1_200_000
_TIES = ("start", "stop", "continue")


@dataclass(slots=True)
class Written:
    """One printed note: place and length in quarters from the start of its bar, and what the page says about it."""

    id: str
    pitch: SpelledPitch
    onset: Fraction
    length: Fraction
    staff: int
    voice: str
    finger: int | None = None
    grace: bool = False
    optional: bool = False
    ornament: str = ""
    tie_start: bool = False
    tie_stop: bool = False


@dataclass(slots=True)
class WrittenBar:
    """One printed bar of one part.

    `length` goes to the end of the last note or rest, `sounding` of the last note, `resting` of a rest for the whole
    bar, which some programs write as long as a full bar into a pickup.
    """

    number: int
    implicit: bool = False
    length: Fraction = Fraction(0)
    sounding: Fraction = Fraction(0)
    resting: Fraction = Fraction(0)
    meter: tuple[int, int] | None = None
    keys: list[tuple[Fraction, int, str]] = field(default_factory=list)
    notes: list[Written] = field(default_factory=list)
    chords: list[tuple[Fraction, str]] = field(default_factory=list)
    lyrics: list[tuple[Fraction, str]] = field(default_factory=list)
    tempi: list[tuple[Fraction, float]] = field(default_factory=list)
    signs: Signs = field(default_factory=Signs)


@dataclass(slots=True)
class Part:
    """One part: its name, how many staves, the first clef of each staff, its bars."""

    name: str
    bars: list[WrittenBar] = field(default_factory=list)
    staves: int = 1
    clefs: dict[int, str] = field(default_factory=dict)
    program: int | None = None

    @property
    def has_lyrics(self) -> bool:
        return any(bar.lyrics for bar in self.bars)


@dataclass(slots=True)
class Score:
    """A whole document as written."""

    parts: list[Part]
    title: str = ""
    composer: str = ""
    origin: str = ""
    source: str = ""
    licence: str = ""


def parse(text: str, name: str) -> Score:
    """Read a MusicXML document.

    Raises
    ------
    MusicError
        When it is damaged or holds no part.
    """
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
    names = _Names(root)
    found = []
    for element in root.findall("part"):
        part = parts.get(element.get("id", ""), Part(""))
        _PartReader(part, names, name).read(element)
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
        program = _int(element.findtext("midi-instrument/midi-program"))
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
        if creator.get("type", "composer") == "composer" and creator.text:
            score.composer = " ".join(creator.text.split())
            break
    score.licence = text("identification/rights")
    score.source = text("identification/source")
    for extra in root.iterfind("identification/miscellaneous/miscellaneous-field"):
        if extra.get("name") == "origin":
            score.origin = " ".join((extra.text or "").split())


class _Names:
    """Ids of notes: the file's own, and for notes without one n1, n2 … in document order, never one in use."""

    def __init__(self, root: ET.Element) -> None:
        ids = [element.get("id") for element in root.iter("note")]
        self._taken = {name for name in ids if name}
        self._used: set[str] = set()
        self._count = 0

    def name(self, given: str | None) -> str:
        self._count += 1
        if given and given not in self._used:
            self._used.add(given)
            return given
        number = self._count
        while f"n{number}" in self._taken or f"n{number}" in self._used:
            number += 1
        self._used.add(f"n{number}")
        return f"n{number}"


class _PartReader:
    """Walks the bars of one part; what stands until changed is kept here."""

    def __init__(self, part: Part, names: _Names, file: str) -> None:
        self.part = part
        self.names = names
        self.file = file
        self.divisions = Fraction(1)
        self.transpose = Interval(0, 0)
        self.ending: tuple[int, ...] = ()
        self.wavy = False
        self.pitches: dict[tuple[str, str, str], SpelledPitch] = {}

    def read(self, element: ET.Element) -> None:
        before = 0
        for measure in element.findall("measure"):
            try:
                bar = self._bar(measure, before)
            except (ValueError, ZeroDivisionError, TypeError, OverflowError) as error:
                if isinstance(error, MusicError):
                    raise
                number = measure.get("number", "?")
                raise MusicError(
                    f"'{self.file}' has something in bar {number} that cannot be read: open it in a notation "
                    "program, look at that bar and export it again."
                ) from None
            self.part.bars.append(bar)
            before = bar.number

    def _bar(self, measure: ET.Element, before: int) -> WrittenBar:
        printed = re.search(r"\d+", measure.get("number", ""))
        plain = printed and measure.get("number", "").strip() == printed[0]
        bar = WrittenBar(int(printed[0]) if printed and plain and len(printed[0]) < 8 else before)
        bar.implicit = measure.get("implicit") == "yes"
        bar.signs.ending = self.ending
        exact = Fraction(0)  # where we are, in true values
        raw = Fraction(0)  # where the file's rounded durations say we are
        known = {raw: exact}
        last = exact
        for child in measure:
            tag = child.tag
            if tag == "note":
                chained = child.find("chord") is not None
                duration, length = self._lengths(child)
                at = last if chained else exact
                self._note(child, bar, at, length)
                if chained:
                    continue
                last = exact
                raw += duration
                exact = known.setdefault(raw, exact + length)
                rest = child.find("rest")
                if rest is not None and rest.get("measure") == "yes":
                    bar.resting = max(bar.resting, exact)
                    continue
            elif tag == "backup":
                raw = max(raw - self._quarters(child.findtext("duration")), Fraction(0))
                exact = known.get(raw, raw)
            elif tag == "forward":
                raw += self._quarters(child.findtext("duration"))
                exact = known.get(raw, raw)
            elif tag == "attributes":
                self._attributes(child, bar, exact)
            elif tag == "direction":
                self._direction(child, bar, exact + self._quarters(child.findtext("offset") or "0"))
            elif tag == "sound":
                self._sound(child, bar, exact)
            elif tag == "harmony":
                symbol = _chord_symbol(child)
                if symbol:
                    bar.chords.append((exact + self._quarters(child.findtext("offset") or "0"), symbol))
            elif tag == "barline":
                self._barline(child, bar)
            if tag != "backup":
                bar.length = max(bar.length, exact)
        return bar

    def _quarters(self, text: str | None) -> Fraction:
        length = _number(text or "0") / self.divisions
        return length if length.denominator <= _FINEST else length.limit_denominator(_GRID)

    def _lengths(self, note: ET.Element) -> tuple[Fraction, Fraction]:
        """The duration as the file counts it and the true length it rounds (a triplet in divisions of four)."""
        if note.find("grace") is not None:
            return Fraction(0), Fraction(0)
        duration = self._quarters(note.findtext("duration"))
        if duration < 0:
            raise ValueError("negative duration")
        name = note.findtext("type")
        if name is None or name not in VALUES:
            return duration, duration
        nominal = VALUES[name] * (2 - Fraction(1, 2 ** min(len(note.findall("dot")), 4)))
        change = note.find("time-modification")
        if change is not None:
            actual, normal = _int(change.findtext("actual-notes")), _int(change.findtext("normal-notes"))
            if actual and normal:
                nominal = nominal * normal / actual
        rounded = (nominal * self.divisions).denominator != 1 and abs(nominal - duration) * self.divisions <= 1
        return duration, nominal if rounded else duration

    def _note(self, element: ET.Element, bar: WrittenBar, onset: Fraction, length: Fraction) -> None:
        pitch = element.find("pitch")
        if pitch is None:
            return
        written = Written(
            id=self.names.name(element.get("id")),
            pitch=self._pitch(pitch),
            onset=onset,
            length=length,
            staff=_int(element.findtext("staff")) or 1,
            voice=(element.findtext("voice") or "1").strip(),
            grace=element.find("grace") is not None,
            optional=element.find("cue") is not None or element.get("print-object") == "no",
        )
        ties = {tie.get("type") for tie in element.iterfind("tie")}
        notations = element.findall("notations")
        for notation in notations:
            ties |= {tie.get("type") for tie in notation.iterfind("tied") if tie.get("type") in _TIES}
            self._notation(notation, written)
        if self.wavy and not written.ornament:
            written.ornament = "trill"
        written.tie_start = bool(ties & {"start", "continue"})
        written.tie_stop = bool(ties & {"stop", "continue"})
        if element.find("lyric") is not None:
            text = _lyric(element)
            if text:
                bar.lyrics.append((onset, text))
        self.part.staves = max(self.part.staves, written.staff)
        bar.sounding = max(bar.sounding, onset + length)
        bar.notes.append(written)

    def _pitch(self, element: ET.Element) -> SpelledPitch:
        parts = (element.findtext("step") or "", element.findtext("alter") or "0", element.findtext("octave") or "")
        found = self.pitches.get(parts)
        if found is None:
            letter = parts[0].strip().upper()
            if letter not in "ABCDEFG" or len(letter) != 1:
                raise ValueError("step")
            # Quarter tones have no key of their own: the nearer semitone toward natural is meant.
            written = SpelledPitch(letter, int(float(parts[1])), int(parts[2]))
            found = written + self.transpose
            if not 0 <= found.midi <= 127 or abs(found.alteration) > 3:
                raise ValueError("no such key")
            self.pitches[parts] = found
        return found

    def _notation(self, notation: ET.Element, written: Written) -> None:
        for ornaments in notation.iterfind("ornaments"):
            for sign in ornaments:
                if sign.tag == "wavy-line" and sign.get("type") == "stop":
                    self.wavy = False
                    written.ornament = written.ornament or "trill"
                elif sign.tag in _ORNAMENTS and (sign.tag != "wavy-line" or not written.ornament):
                    written.ornament = _ORNAMENTS[sign.tag]
                    if sign.tag == "wavy-line" and sign.get("type") == "start":
                        self.wavy = True
        if notation.find("arpeggiate") is not None and not written.ornament:
            written.ornament = "arpeggio"
        fingering = notation.findtext("technical/fingering")
        digit = re.search(r"[1-5]", fingering or "")
        if digit:
            written.finger = int(digit[0])

    def _attributes(self, element: ET.Element, bar: WrittenBar, at: Fraction) -> None:
        divisions = element.findtext("divisions")
        if divisions is not None:
            self.divisions = _number(divisions)
            if self.divisions <= 0:
                raise ValueError("divisions")
        key = element.find("key")
        if key is not None:
            bar.keys.append((at, *_signature(key)))
        time = element.find("time")
        if time is not None and time.find("senza-misura") is None and bar.meter is None:
            bar.meter = _meter(time)
        self.part.staves = max(self.part.staves, _int(element.findtext("staves")) or 1)
        for clef in element.iterfind("clef"):
            self.part.clefs.setdefault(_int(clef.get("number")) or 1, (clef.findtext("sign") or "G").strip())
        change = element.find("transpose")
        if change is not None:
            octaves = _int(change.findtext("octave-change")) or 0
            steps = _int(change.findtext("diatonic"))
            semitones = int(float(change.findtext("chromatic") or 0))
            if steps is None:
                sign = -1 if semitones < 0 else 1
                steps = sign * (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)[abs(semitones) % 12] + sign * 7 * (
                    abs(semitones) // 12
                )
            self.transpose = Interval(steps + 7 * octaves, semitones + 12 * octaves)
            self.pitches.clear()

    def _direction(self, element: ET.Element, bar: WrittenBar, at: Fraction) -> None:
        sound = element.find("sound")
        if sound is not None:
            self._sound(sound, bar, at)
        for kind in element.iterfind("direction-type"):
            for sign in kind:
                if sign.tag == "segno":
                    bar.signs.segno = True
                elif sign.tag == "coda":
                    # At the start of a bar it is the coda; at the end it sends the player there.
                    if at == 0:
                        bar.signs.coda = True
                    else:
                        bar.signs.to_coda = True
                elif sign.tag == "metronome" and (sound is None or not sound.get("tempo")):
                    tempo = _metronome(sign)
                    if tempo:
                        bar.tempi.append((at, tempo))
                elif sign.tag == "words":
                    _words(sign.text or "", bar.signs)

    def _sound(self, element: ET.Element, bar: WrittenBar, at: Fraction) -> None:
        signs = bar.signs
        tempo = _float(element.get("tempo"))
        if tempo and 4 <= tempo <= 999:
            bar.tempi.append((at, tempo))
        signs.da_capo |= element.get("dacapo") == "yes"
        signs.dal_segno |= element.get("dalsegno") is not None
        signs.segno |= element.get("segno") is not None
        signs.coda |= element.get("coda") is not None
        signs.to_coda |= element.get("tocoda") is not None
        signs.fine |= element.get("fine") is not None

    def _barline(self, element: ET.Element, bar: WrittenBar) -> None:
        signs = bar.signs
        repeat = element.find("repeat")
        if repeat is not None:
            if repeat.get("direction") == "forward":
                signs.start = True
            else:
                signs.end = True
                signs.times = min(max(_int(repeat.get("times")) or 2, 2), 8)
        ending = element.find("ending")
        if ending is not None:
            numbers = tuple(int(n) for n in re.findall(r"\d+", ending.get("number") or "")) or (1,)
            if ending.get("type") == "start":
                self.ending = numbers
                signs.ending = numbers
                signs.new_ending = True
            else:
                signs.ending = signs.ending or numbers
                self.ending = ()
        signs.segno |= element.get("segno") is not None or element.find("segno") is not None
        signs.coda |= element.get("coda") is not None or element.find("coda") is not None


def _number(text: str) -> Fraction:
    """A plain decimal; exponents are refused, since one short word of them can fill the memory."""
    if not re.fullmatch(r"-?\d{1,9}(\.\d{1,9})?", text.strip()):
        raise ValueError("not a number")
    return Fraction(text.strip())


def _int(text: str | None) -> int | None:
    try:
        return int((text or "").strip())
    except ValueError:
        return None


def _float(text: str | None) -> float | None:
    try:
        return float((text or "").strip())
    except ValueError:
        return None


def _signature(key: ET.Element) -> tuple[int, str]:
    """Sharps (flats negative) and the mode as written, empty when the file says none."""
    fifths = _int(key.findtext("fifths"))
    if fifths is None:
        alters = [int(float(alter.text or 0)) for alter in key.iterfind("key-alter")]
        fifths = sum(1 for alter in alters if alter > 0) - sum(1 for alter in alters if alter < 0)
    while abs(fifths) > MAX_ACCIDENTALS:
        fifths += 12 if fifths < 0 else -12
    mode = (key.findtext("mode") or "").strip().lower()
    return fifths, mode if mode in ("major", "minor") else ""


def _meter(time: ET.Element) -> tuple[int, int] | None:
    beats = sum(int(n) for n in re.findall(r"\d+", time.findtext("beats") or ""))
    unit = _int(time.findtext("beat-type"))
    return (beats, unit) if beats and unit and unit in (1, 2, 4, 8, 16, 32, 64) else None


def _metronome(element: ET.Element) -> float | None:
    unit = VALUES.get((element.findtext("beat-unit") or "").strip())
    found = re.search(r"\d+(?:\.\d+)?", element.findtext("per-minute") or "")
    if unit is None or not found:
        return None
    dots = len(element.findall("beat-unit-dot"))
    tempo = float(found[0]) * float(unit * (2 - Fraction(1, 2**dots)))
    return tempo if 4 <= tempo <= 999 else None


def _words(text: str, signs: Signs) -> None:
    plain = re.sub(r"[^a-z ]", "", text.lower()).strip()
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


def _lyric(note: ET.Element) -> str:
    lyric = next((one for one in note.iterfind("lyric") if one.get("number", "1") in ("1", "part1verse1")), None)
    if lyric is None:
        return ""
    text = "".join(piece.text or "" for piece in lyric.iterfind("text")).strip()
    return text + "-" if text and lyric.findtext("syllabic") in ("begin", "middle") else text


def _chord_symbol(element: ET.Element) -> str:
    def named(step: str | None, alter: str | None) -> str:
        amount = int(float(alter or 0))
        return (step or "").strip() + ("#" * amount if amount > 0 else "b" * -amount)

    root = named(element.findtext("root/root-step"), element.findtext("root/root-alter"))
    kind = element.find("kind")
    if not root or kind is None or (kind.text or "") == "none":
        return ""
    text = kind.get("text")
    suffix = text if text is not None else _KIND_TEXT.get((kind.text or "").strip(), "")
    bass = named(element.findtext("bass/bass-step"), element.findtext("bass/bass-alter"))
    return root + suffix.strip() + (f"/{bass}" if bass else "")
