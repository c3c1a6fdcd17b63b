"""One part of a MusicXML document, bar by bar: notes with their ids, attributes, directions, barlines.

Element meanings: MusicXML 4.0 (W3C, 2021).
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from fractions import Fraction

from trainer.music.chordsymbol import transposed_symbol
from trainer.music.piece import LEFT
from trainer.music.pitch import Interval, MusicError, SpelledPitch
from trainer.scores.notation.elements import (
    chord_symbol,
    decimal,
    integer,
    lyrics_of,
    meter,
    number,
    quarters_a_minute,
    read_words,
    signature,
    sounding_key,
    transposition,
)
from trainer.scores.notation.expressing import CUE, Slurs, direction_of, signs_of
from trainer.scores.notation.notevalues import VALUES
from trainer.scores.notation.ornaments import ORNAMENTS, adorned, ornament_signs
from trainer.scores.notation.written import Part, Written, WrittenBar

# Times with a finer denominator than any tuplet has are rounding of the program that wrote them.
_FINEST = 10_080
_GRID = 960
_TIES = ("start", "stop", "continue")


class Names:
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


class PartReader:
    """Walks the bars of one part; what stands until changed is kept here."""

    def __init__(self, part: Part, names: Names, file: str) -> None:
        self.part = part
        self.names = names
        self.file = file
        self.divisions = Fraction(1)
        self.signature: tuple[int, str] | None = None
        self.transpose = Interval(0, 0)
        self.moved = self.transpose  # spelled so that its key can be read
        self.ending: tuple[int, ...] = ()
        self.wavy = False
        self.slurs = Slurs()
        self.hairpins: dict[tuple[str, str | None], str] = {}  # where the latest of each number and staff stands
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
        self._leave_out_tablature()

    def _leave_out_tablature(self) -> None:
        """Where a staff of notes stands beside one of frets, the frets say the same notes again."""
        frets = {staff for staff, sign in self.part.clefs.items() if sign == "TAB"}
        noted = {note.staff for bar in self.part.bars for note in bar.notes} - frets
        if frets and noted:
            for bar in self.part.bars:
                bar.notes = [note for note in bar.notes if note.staff in noted]
            self.part.staves = max(noted)

    def _bar(self, measure: ET.Element, before: int) -> WrittenBar:
        printed = re.search(r"\d+", measure.get("number", ""))
        plain = printed and measure.get("number", "").strip() == printed[0]
        # One that is called X1 is a part of the bar before; where none has a number they are counted.
        uncounted = before + ("number" not in measure.attrib)
        bar = WrittenBar(int(printed[0]) if printed and plain and len(printed[0]) < 8 else uncounted)
        bar.signs.ending = self.ending
        self.slurs.new_bar()
        exact = Fraction(0)  # where we are, in true values
        raw = Fraction(0)  # where the file's rounded durations say we are
        known = {raw: exact}
        last = exact
        for child in measure:
            tag = child.tag
            if tag == "note":
                chained = child.find("chord") is not None
                duration, length, noted = self._lengths(child)
                bar.rounded |= length != noted
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
                raw = max(raw - self._duration(child), Fraction(0))
                exact = known.get(raw, raw)
            elif tag == "forward":
                raw += self._duration(child)
                exact = known.get(raw, raw)
            elif tag == "attributes":
                self._attributes(child, bar, exact)
            elif tag == "direction":
                self._direction(child, bar, exact + self._quarters(child.findtext("offset") or "0"))
            elif tag == "sound":
                self._sound(child, bar, exact)
            elif tag == "harmony":
                symbol = chord_symbol(child)
                if symbol:
                    sounding = transposed_symbol(symbol, self.moved) if self.moved.semitones else symbol
                    bar.chords.append((exact + self._quarters(child.findtext("offset") or "0"), sounding))
            elif tag == "barline":
                self._barline(child, bar)
            if tag != "backup":
                bar.length = max(bar.length, exact)
        return bar

    def _quarters(self, text: str | None) -> Fraction:
        length = number(text or "0") / self.divisions
        return length if length.denominator <= _FINEST else length.limit_denominator(_GRID)

    def _duration(self, element: ET.Element) -> Fraction:
        duration = self._quarters(element.findtext("duration"))
        if duration < 0:
            raise ValueError("negative duration")
        return duration

    def _lengths(self, note: ET.Element) -> tuple[Fraction, Fraction, Fraction | None]:
        """The duration as the file counts it, the true length it rounds (a triplet in divisions of four), and the
        printed one where it is told.
        """
        if note.find("grace") is not None:
            return Fraction(0), Fraction(0), Fraction(0)
        duration = self._duration(note)
        name = note.findtext("type")
        if name is None or name not in VALUES:
            return duration, duration, None
        nominal = VALUES[name] * (2 - Fraction(1, 2 ** min(len(note.findall("dot")), 4)))
        change = note.find("time-modification")
        if change is not None:
            actual, normal = integer(change.findtext("actual-notes")), integer(change.findtext("normal-notes"))
            if actual and normal:
                nominal = nominal * normal / actual
        rounded = (nominal * self.divisions).denominator != 1 and abs(nominal - duration) * self.divisions <= 1
        return duration, nominal if rounded else duration, nominal

    def _note(self, element: ET.Element, bar: WrittenBar, onset: Fraction, length: Fraction) -> None:
        pitch = element.find("pitch")
        # A slash says when to play, and its place on the staff nothing of what.
        if pitch is None or (element.findtext("notehead") or "").strip() == "slash":
            return
        written = Written(
            id=self.names.name(element.get("id")),
            pitch=self._pitch(pitch),
            onset=onset,
            length=length,
            staff=integer(element.findtext("staff")) or 1,
            voice=(element.findtext("voice") or "1").strip(),
            grace=element.find("grace") is not None,
            optional=element.find("cue") is not None or element.get("print-object") == "no",
        )
        written.signs += [CUE] if written.optional and not written.grace else []
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
            for verse, text in lyrics_of(element).items():
                bar.lyrics.setdefault(verse, []).append((onset, text))
                bar.said.setdefault(written.voice, {}).setdefault(verse, []).append((onset, text))
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
            found = written + self.moved
            if not 0 <= found.midi <= 127 or abs(found.alteration) > 3:
                raise ValueError("no such key")
            self.pitches[parts] = found
        return found

    def _notation(self, notation: ET.Element, written: Written) -> None:
        written.signs += signs_of(notation)
        # One that ends here ends before another begins with its number, however the file has them.
        for slur in sorted(notation.iterfind("slur"), key=lambda slur: slur.get("type") == "start"):
            self.slurs.add(slur, written)
        for ornaments in notation.iterfind("ornaments"):
            for sign in ornaments:
                if sign.tag == "wavy-line" and sign.get("type") == "stop":
                    self.wavy = False
                    written.ornament = written.ornament or "trill"
                elif sign.tag in ORNAMENTS and (sign.tag != "wavy-line" or not written.ornament):
                    kind, own = ORNAMENTS[sign.tag], ornament_signs(sign)
                    written.ornament, written.signs = adorned(written.ornament, written.signs, kind, own)
                    if sign.tag == "wavy-line" and sign.get("type") == "start":
                        self.wavy = True
        if notation.find("arpeggiate") is not None:
            before = written.ornament
            kind, written.signs = adorned(before, written.signs, "arpeggio", [])
            written.ornament = before or kind
        fingering = notation.findtext("technical/fingering")
        digit = re.search(r"[1-5]", fingering or "")
        if digit:
            written.finger = int(digit[0])

    def _attributes(self, element: ET.Element, bar: WrittenBar, at: Fraction) -> None:
        divisions = element.findtext("divisions")
        if divisions is not None:
            self.divisions = number(divisions)
            if self.divisions <= 0:
                raise ValueError("divisions")
        self._key(element, bar, at)
        time = element.find("time")
        if time is not None and bar.meter is None:
            bar.meter = meter(time)
        self.part.staves = max(self.part.staves, integer(element.findtext("staves")) or 1)
        for clef in element.iterfind("clef"):
            self.part.at_pitch |= bool(integer(clef.findtext("clef-octave-change")))
            self.part.clefs.setdefault(integer(clef.get("number")) or 1, (clef.findtext("sign") or "G").strip())

    def _key(self, element: ET.Element, bar: WrittenBar, at: Fraction) -> None:
        """Signature and transposition together: a part for a transposing instrument writes both its notes and its key
        away from what sounds.
        """
        key, change = element.find("key"), element.find("transpose")
        if key is None and change is None:
            return
        if key is not None:
            self.signature = signature(key)
        if change is not None:
            self.transpose = transposition(change)
            self.part.at_pitch |= self.transpose != Interval(0, 0)
        self.moved = self.transpose
        self.pitches.clear()
        if self.signature is not None:
            written, mode = self.signature
            fifths, self.moved = sounding_key(written, self.transpose)
            bar.keys = [one for one in bar.keys if one[0] != at] + [(at, fifths, mode)]

    def _direction(self, element: ET.Element, bar: WrittenBar, at: Fraction) -> None:
        sound = element.find("sound")
        if sound is not None:
            self._sound(sound, bar, at)
        under_last = element.get("placement") == "below" and 1 < self.part.staves == integer(element.findtext("staff"))
        place = LEFT if under_last else ""
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
                    tempo = quarters_a_minute(sign)
                    if tempo:
                        bar.tempi.append((at, tempo))
                elif sign.tag == "words":
                    read_words(sign.text or "", bar.signs)
                said = direction_of(sign)
                if said and sign.tag == "wedge":
                    # It ends where it began, whatever its end says of its place.
                    which = sign.get("number", "1"), element.findtext("staff")
                    if sign.get("type") != "stop":
                        self.hairpins[which] = place
                    bar.directions.append((at, (said, self.hairpins.get(which, place))))
                elif said:
                    bar.directions.append((at, (said, place)))

    def _sound(self, element: ET.Element, bar: WrittenBar, at: Fraction) -> None:
        signs = bar.signs
        tempo = decimal(element.get("tempo"))
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
                signs.times = min(max(integer(repeat.get("times")) or 2, 2), 8)
        ending = element.find("ending")
        if ending is not None:
            numbers = tuple(int(n) for n in re.findall(r"\d+", ending.get("number") or "")) or (1,)
            if ending.get("type") == "start":
                self.ending = numbers
                signs.ending = numbers
                signs.new_ending = True
                self.slurs.ending(first=1 in numbers)
            else:
                signs.ending = signs.ending or numbers
                self.ending = ()
                self.slurs.ended()
        signs.segno |= element.get("segno") is not None or element.find("segno") is not None
        signs.coda |= element.get("coda") is not None or element.find("coda") is not None
