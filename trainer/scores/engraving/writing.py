"""Piece to MusicXML 4.0: clean, two staves (or one), every note with its id.

The document follows the MusicXML 4.0 schema (W3C Music Notation Community Group, 2021): order of elements within
`note`, `attributes` and `identification` as there.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from trainer.music.piece import LEFT, RIGHT, Bar, Note, Piece
from trainer.scores.engraving.fingerstacks import stack_fingers
from trainer.scores.notation.choir import is_choir, lines_above, staves_above
from trainer.scores.notation.clefs import clef_changes
from trainer.scores.notation.elements import (
    write_accidental,
    write_bracket,
    write_clef,
    write_finger,
    write_harmony,
    write_key,
    write_looked_at,
    write_lyric,
    write_meter,
    write_octave,
    write_pitch,
    write_tempo,
    write_tuplet,
    write_tuplet_marks,
    write_value,
)
from trainer.scores.notation.expressing import (
    CUE,
    is_fermata_under,
    join_tremolos,
    slurs_of,
    write_direction,
    write_playing,
)
from trainer.scores.notation.notating import Accidental, Accidentals, Chord, voice_in_bar
from trainer.scores.notation.octaves import passages
from trainer.scores.notation.ornaments import write_ornaments, write_rolled, write_tremolo
from trainer.scores.notation.preparing import (
    Print,
    by_bar,
    divisions_of,
    is_tenors,
    said_in,
    spread,
    staves_of,
    stems_apart,
    tied_name,
    unique_names,
    voices_by_staff,
)
from trainer.scores.notation.verses import rows_of, write_words
from trainer.scores.notation.written import LEFT_VOICES


def to_musicxml(piece: Piece, printing: Print | None = None) -> str:
    """The piece as a MusicXML 4.0 document, unfolded.

    Every note keeps its own id; a note that comes again in a repeat gets ``-2``, ``-3`` appended. With `printing`
    the note at index *i* of `Piece.notes` has the id ``k<i>`` instead, and part name, tempo and words are left out.
    """
    return _Writer(piece, printing).document()


class _Writer:
    def __init__(self, piece: Piece, printing: Print | None, sings: bool = False) -> None:
        self.piece = piece
        self.printing = printing
        self.colours = printing.colours if printing else {}
        self.names = unique_names(piece.notes, by_index=printing is not None)
        self.used = set(self.names)
        self.fingers = printing is None or printing.fingers
        self.bars = piece.bars or (Bar(1, Fraction(0), piece.length or Fraction(4)),)
        self.staves = staves_of(piece)
        self.divisions = divisions_of(piece, self.bars)
        chords = piece.chords if printing is None or printing.chords else ()
        self.chords = by_bar(self.bars, ((word.onset, word.text) for word in chords))
        self.expressed = printing is None or printing.expression
        self.sings = sings
        self.directions = said_in(self.bars, piece.directions if self.expressed else (), self.staves)
        self.slurs = slurs_of(piece) if self.expressed else {}
        self.tempi = by_bar(self.bars, () if printing else piece.tempi or ((Fraction(0), piece.tempo),))
        # A page shows a key that changes within a bar from the next bar on, with accidentals until then: the engraver
        # knows no signature within a bar. A file says it where it changes.
        changes = () if printing else tuple((change.onset, change.key) for change in piece.keys)
        within = by_bar(self.bars, changes)
        self.within = {at: [one for one in found if one[0] > self.bars[at].onset] for at, found in within.items()}
        self.accidentals = {staff: Accidentals() for staff in self.staves}
        self.tenor = is_tenors(piece)
        self.clefs = {1: {self.bars[0].onset: "G"}} if self.tenor else {
            staff: clef_changes(self.bars, [n for n in piece.notes if self._staff(n) == staff], home)
            for staff, home in self.staves.items()
        }  # fmt: skip
        voiced = [(self._voice(note), note) for note in piece.notes]
        self.octaves = {} if self.tenor else {
            (staff, one.voice, place, place == one.start): one.down for staff, turns in self.clefs.items()
            for one in passages(self.bars, [one for one in voiced if self._staff(one[1]) == staff], turns)
            for place in (one.start, one.end)
        }  # fmt: skip
        self.sounding, self.graces = spread(piece.notes, [voice for voice, _ in voiced], self.bars)
        self.shown: dict[tuple[int, Fraction], Accidental] = {}
        self.stems: dict[int, str] = {}
        self.grace_bars: dict[int, list[tuple[int, Fraction]]] = defaultdict(list)
        for place in self.graces:
            self.grace_bars[piece.bar_index(place[1]) if piece.bars else 0].append(place)
        self.rows = rows_of(piece, printing)
        self.ribboned: set[tuple[int, Fraction]] = set()

    def document(self) -> str:
        piece = self.piece
        root = ET.Element("score-partwise", version="4.0")
        if piece.title:
            ET.SubElement(ET.SubElement(root, "work"), "work-title").text = piece.title
        about = ET.SubElement(root, "identification")
        for kind, name in (("composer", piece.composer), ("lyricist", piece.poet)):
            if name:
                ET.SubElement(about, "creator", type=kind).text = name
        if piece.licence:
            ET.SubElement(about, "rights").text = piece.licence
        ET.SubElement(ET.SubElement(about, "encoding"), "software").text = "Keyfarer"
        if piece.source:
            ET.SubElement(about, "source").text = piece.source
        if piece.origin:
            more = ET.SubElement(about, "miscellaneous")
            ET.SubElement(more, "miscellaneous-field", name="origin").text = piece.origin
        part = ET.SubElement(ET.SubElement(root, "part-list"), "score-part", id="P1")
        if self.printing:
            ET.SubElement(part, "part-name", {"print-object": "no"})
        else:
            names: dict[tuple[str, ...], str] = {(LEFT,): "Left hand", (RIGHT,): "Right hand"}
            ET.SubElement(part, "part-name").text = names.get(piece.hands, "Piano")
        if piece.sung and (self.printing is None or self.printing.words):
            self._voices_above(root)
        self._part(root, "P1")
        if self.printing:
            stack_fingers(root)
        ET.indent(root, " ")
        return (
            '<?xml version="1.0" encoding="UTF-8"?>\n'
            '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
            '"http://www.musicxml.org/dtds/partwise.dtd">\n' + ET.tostring(root, encoding="unicode") + "\n"
        )

    def _part(self, root: ET.Element, name: str) -> ET.Element:
        part = ET.SubElement(root, "part", id=name)
        for index, bar in enumerate(self.bars):
            self._measure(part, index, bar)
        return part

    def _voices_above(self, root: ET.Element) -> None:
        """Who sings, over the piano's part: in a file everybody's, on a page smaller staves with their words; over the
        first of these stand the chord symbols.
        """
        printing = self.printing
        parts = root.find("part-list")
        assert parts is not None
        staves = staves_above(self.piece) if printing else lines_above(self.piece)
        for number, line in enumerate(staves):
            own = printing and replace(printing, ribbon="", colours={}, chords=printing.chords and not number)
            listed = ET.Element("score-part", id=f"V{number}")
            name = ET.SubElement(listed, "part-name", {"print-object": "no"} if printing else {})
            parts.insert(number, listed)
            part = _Writer(line, own, sings=True)._part(root, f"V{number}")
            if printing:
                write_looked_at(part, f"v{number}", printing.voice_size)
            else:
                name.text = line.title or "Voice"
        if printing:
            write_bracket(parts, len(staves), shown=len(staves) > 1 and is_choir(self.piece))
            self.chords = {}

    def _staff(self, note: Note) -> int:
        return min(note.staff, 2) if len(self.staves) == 2 else 1

    def _voice(self, note: Note) -> int:
        return note.voice + (LEFT_VOICES if note.hand == LEFT and len(self.staves) == 2 else 0)

    def _measure(self, parent: ET.Element, index: int, bar: Bar) -> None:
        full = Fraction(4 * bar.meter[0], bar.meter[1])
        implied = {} if bar.length == full else {"implicit": "yes"}
        measure = ET.SubElement(parent, "measure", {"number": str(bar.number), **implied})
        self._attributes(measure, index, bar)
        for onset, tempo in self.tempi.get(index, ()):
            write_tempo(measure, tempo, self._ticks(onset - bar.onset))
        for onset, text in self.chords.get(index, ()):
            write_harmony(measure, text, self._ticks(onset - bar.onset))
        for onset, text, staff in self.directions.get(index, ()):
            write_direction(measure, text, self._ticks(onset - bar.onset), staff, self.sings)
        voices = {*self.sounding[index], *(voice for voice, _ in self.grace_bars.get(index, ()))}
        home = voices_by_staff(voices, self.staves)
        places = [(staff, voice) for staff in self.staves for voice in sorted(home[staff])]
        small = self.grace_bars.get(index, [])
        written = {voice: voice_in_bar(bar, self.sounding[index].get(voice, ()), [on for v, on in small if v == voice])
                   for _, voice in places}  # fmt: skip
        for chords in written.values():
            join_tremolos(chords, self.piece.notes)
        self._choose_accidentals(index, bar, written)
        on = {voice: {self._staff(self.piece.notes[i]) for chord in chords for i in chord.notes}
              for voice, chords in written.items()}  # fmt: skip
        self.stems = stems_apart(home, on)
        turned: set[tuple[int, Fraction]] = set()
        end = bar.onset + bar.length
        for staff, voice in places:
            if (staff, voice) != places[0]:
                backup = ET.SubElement(measure, "backup")
                ET.SubElement(backup, "duration").text = str(self._ticks(bar.length))
            for chord in written[voice]:
                if bar.onset < chord.onset in self.clefs[staff] and (staff, chord.onset) not in turned:
                    turned.add((staff, chord.onset))
                    self._clef(ET.SubElement(measure, "attributes"), staff, chord.onset)
                self._octave(measure, chord.onset, voice, staff, begins=True)
                self._chord(measure, chord, voice, staff, voice != min(home[staff]))
                self._octave(measure, chord.onset + chord.length, voice, staff, begins=False)
            # In long pieces the engraver sets one written after the barline before the last notes of this bar.
            if self.printing and end in self.clefs[staff] and voice == min(home[staff]):
                self._clef(ET.SubElement(measure, "attributes"), staff, end)
            if index == len(self.bars) - 1:
                self._graces(measure, self.graces.get((voice, end), ()), voice)
        if index == len(self.bars) - 1 and (self.printing is None or self.printing.ending):
            ET.SubElement(ET.SubElement(measure, "barline", location="right"), "bar-style").text = "light-heavy"

    def _choose_accidentals(self, at: int, bar: Bar, written: dict[int, list[Chord]]) -> None:
        """Decide the printed accidentals of a bar in the order they are read, all voices of a staff together."""
        for state in self.accidentals.values():
            state.new_bar(self.piece.key_at(bar.onset))
        keys = list(self.within.get(at, ()))
        met = [(place[1], False, index, False) for place in self.grace_bars.get(at, ()) for index in self.graces[place]]
        for chords in written.values():
            for chord in chords:
                met += [(chord.onset, True, index, tie[0]) for index, tie in zip(chord.notes, chord.ties, strict=True)]
        self.shown = {}
        for onset, _, index, tied in sorted(met):
            while keys and keys[0][0] <= onset:
                for state in self.accidentals.values():
                    state.new_signature(keys[0][1])
                del keys[0]
            note = self.piece.notes[index]
            needed = self.accidentals[self._staff(note)].needed(note.pitch, tied)
            if needed:
                self.shown[index, onset] = needed

    def _ticks(self, length: Fraction) -> int:
        return int(length * self.divisions)

    def _attributes(self, measure: ET.Element, index: int, bar: Bar) -> None:
        before = self.bars[index - 1] if index else None
        made = ET.Element("attributes")
        if before is None:
            ET.SubElement(made, "divisions").text = str(self.divisions)
        key = self.piece.key_at(bar.onset)
        if before is None or key != self.piece.key_at(before.onset):
            write_key(made, key)
        if before is None or (before.meter, before.symbol) != (bar.meter, bar.symbol):
            write_meter(made, bar)
        if before is None and len(self.staves) > 1:
            ET.SubElement(made, "staves").text = str(len(self.staves))
        for staff in self.staves:
            if before is None or (bar.onset in self.clefs[staff] and not self.printing):
                self._clef(made, staff, bar.onset)
        if len(made):
            measure.append(made)
        for onset, key in self.within.get(index, ()):
            ticks = str(self._ticks(onset - bar.onset))
            ET.SubElement(ET.SubElement(measure, "forward"), "duration").text = ticks
            write_key(ET.SubElement(measure, "attributes"), key)
            ET.SubElement(ET.SubElement(measure, "backup"), "duration").text = ticks

    def _clef(self, attributes: ET.Element, staff: int, onset: Fraction) -> None:
        write_clef(attributes, self.clefs[staff][onset], staff if len(self.staves) > 1 else None, self.tenor)

    def _octave(self, measure: ET.Element, place: Fraction, voice: int, staff: int, begins: bool) -> None:
        if (down := self.octaves.get((staff, voice, place, begins))) is not None:
            way = ("down" if down else "up") if begins else "stop"
            write_octave(measure, way, staff if len(self.staves) > 1 else None, down)

    def _chord(self, measure: ET.Element, chord: Chord, voice: int, staff: int, below: bool) -> None:
        self._graces(measure, self.graces.get((voice, chord.onset), ()), voice)
        if not chord.notes:
            self._rest(measure, chord, voice, staff, below)
            return
        order = sorted(range(len(chord.notes)), key=lambda place: self.piece.notes[chord.notes[place]].midi)
        bar = self.sounding[self.piece.bar_index(chord.onset)]
        under = self.expressed and is_fermata_under(self.piece.notes, bar, chord, voice)
        for number, place in enumerate(order):
            self._note(measure, chord, place, voice, number > 0, under)

    def _rest(self, measure: ET.Element, chord: Chord, voice: int, staff: int, below: bool) -> None:
        """A rest; those of the voices `below` the first of a staff are understood."""
        note = ET.SubElement(measure, "note")
        if below:
            note.set("print-object", "no")
        rest = ET.SubElement(note, "rest")
        length = chord.length
        if chord.whole_bar:
            rest.set("measure", "yes")
            length = (self.piece.bar_at(chord.onset) if self.piece.bars else self.bars[0]).length
        ET.SubElement(note, "duration").text = str(self._ticks(length))
        ET.SubElement(note, "voice").text = str(voice)
        if not chord.whole_bar:
            write_value(note, chord)
        if len(self.staves) > 1:
            ET.SubElement(note, "staff").text = str(staff)
        write_tuplet(note, chord)

    def _note(self, measure: ET.Element, chord: Chord, place: int, voice: int, chained: bool, below: bool) -> None:
        index = chord.notes[place]
        note = self.piece.notes[index]
        tied_from, tied_on = chord.ties[place]
        element = ET.SubElement(measure, "note", id=self._name(index, tied_from))
        self._colour(element, index)
        if CUE in note.signs:
            ET.SubElement(element, "cue")
        if chained:
            ET.SubElement(element, "chord")
        write_pitch(element, note)
        ET.SubElement(element, "duration").text = str(self._ticks(chord.length))
        ties = [kind for there, kind in ((tied_from, "stop"), (tied_on, "start")) if there]
        for kind in ties if CUE not in note.signs else ():  # small notes have no sound to be tied
            ET.SubElement(element, "tie", type=kind)
        ET.SubElement(element, "voice").text = str(voice)
        write_value(element, chord, self.shown.get((index, chord.onset)))
        if voice in self.stems and not chained:
            ET.SubElement(element, "stem").text = self.stems[voice]
        if len(self.staves) > 1:
            ET.SubElement(element, "staff").text = str(self._staff(note))
        if not chained:
            for level, word in enumerate(chord.beams, start=1):
                ET.SubElement(element, "beam", number=str(level)).text = word
        notations = ET.Element("notations")
        for kind in ties:
            ET.SubElement(notations, "tied", type=kind)
        if not chained:
            write_tuplet_marks(notations, chord)
        if not tied_from:
            self._signs(notations, note)
        said = () if chained else [self.piece.notes[at] for at in chord.notes]
        if not tied_from:
            write_tremolo(notations, said, chord.tremolo)
        if self.expressed:
            write_playing(notations, said, self.slurs.get(index, ()), not tied_from, not tied_on, below)
        if len(notations):
            element.append(notations)
        spot = (self._staff(note), chord.onset)
        # A hand's row of syllables lies under its own staff: a note that crosses over has no say where.
        free = spot not in self.ribboned and spot[0] == (2 if voice > LEFT_VOICES else 1)
        if self.printing and self.printing.ribbon and free and not tied_from:
            self.ribboned.add(spot)
            write_lyric(element, self.printing.ribbon)
        if not chained:
            write_words(element, self.rows, chord.onset, chord.notes)

    def _graces(self, measure: ET.Element, group: Sequence[int], voice: int) -> None:
        """Grace notes before one onset: a single one is struck through, several are beamed sixteenths."""
        last = len(group) - 1
        for number, index in enumerate(group):
            note = self.piece.notes[index]
            element = ET.SubElement(measure, "note", id=self._name(index, False))
            self._colour(element, index)
            ET.SubElement(element, "grace", slash="no" if last else "yes")
            write_pitch(element, note)
            ET.SubElement(element, "voice").text = str(voice)
            ET.SubElement(element, "type").text = "16th" if last else "eighth"
            if (index, note.onset) in self.shown:
                write_accidental(element, self.shown[index, note.onset])
            if len(self.staves) > 1:
                ET.SubElement(element, "staff").text = str(self._staff(note))
            for level in ("1", "2") if last else ():
                word = {0: "begin", last: "end"}.get(number, "continue")
                ET.SubElement(element, "beam", number=level).text = word
            notations = ET.Element("notations")
            self._signs(notations, note)
            write_playing(notations, (), self.slurs.get(index, ()))
            if len(notations):
                element.append(notations)

    def _signs(self, notations: ET.Element, note: Note) -> None:
        """The note's ornaments, and its finger where fingers are wished."""
        write_ornaments(notations, note)
        if self.fingers:
            write_finger(notations, note)
        write_rolled(notations, note)

    def _colour(self, element: ET.Element, index: int) -> None:
        if index in self.colours:
            element.set("color", self.colours[index])

    def _name(self, index: int, tied: bool) -> str:
        name = self.names[index]
        return tied_name(name, self.used) if tied else name
