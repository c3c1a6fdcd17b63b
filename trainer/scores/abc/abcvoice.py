"""One voice of an ABC tune, bar by bar: notes, chords, rests, tuplets, graces, repeats, words. See `abctune`."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction

from trainer.music.chordsymbol import parse as parse_symbol
from trainer.music.chordsymbol import transposed_symbol
from trainer.music.pitch import Interval, MusicError, SpelledPitch
from trainer.scores.abc import abcfields as fields
from trainer.scores.abc.abcslurs import Slurs
from trainer.scores.notation.elements import read_words, sounding_key
from trainer.scores.notation.expressing import DYNAMICS, words_of
from trainer.scores.notation.ornaments import adorned
from trainer.scores.notation.written import FREE, LEFT_VOICES, Meter, Written, WrittenBar

# How far an accidental reaches within its bar: to its letter in every octave (the standard's rule where a tune says
# nothing), in its own octave, or to no other note.
PITCH, OCTAVE, NOT = "pitch", "octave", "not"
_MOST_NOTES = 20_000
_FINEST = 10_080
_LONGEST_REST = 200
_LENGTH = r"\d{0,5}/{0,5}\d{0,5}"
_NOTE = re.compile(rf"(\^\^?/?|__?/?|=)?([A-Ga-g])([,']*)({_LENGTH})(-?)")
# Nothing that opens may hold its own opening sign: a search for the end that is not there would go over the whole line
# again and again.
TOKEN = re.compile(
    rf"""(?P<quoted>"[^"]*")
    |(?P<slur>\.?\((?!\d)|\))
    |(?P<sign>![^!\s|\[\]]+!|\+[A-Za-z.()]+\+|[.~HLMOPSTuv](?=[^|]))
    |(?P<inline>\[[A-Za-z]:[^][]*\])
    |(?P<bar>:*(?:\[\||\|\]|\.?\|)+:*|::+)
    |\[(?P<ending>\d[\d,-]*)
    |\((?P<tuplet>\d)(?::(?P<into>\d?))?(?::(?P<over>\d?))?
    |\{{/?(?P<grace>[^{{}}]*)\}}
    |\[(?P<chord>[^][|]*)\](?P<times>{_LENGTH})(?P<tied>-?)
    |(?P<note>(?:\^\^?/?|__?/?|=)?[A-Ga-g][,']*{_LENGTH}-?)
    |(?P<rest>[zxZX])(?P<long>{_LENGTH})
    |(?P<broken>>+|<+)
    |(?P<layer>&)""",
    re.VERBOSE,
)
_TUPLETS = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
_JUMPS = {"D.C.": "dc", "D.S.": "ds", "dacapo": "dc", "dacoda": "to coda", "fine": "fine"}


@dataclass
class _Struck:
    """The last notes, chord or rest: `>` and `<` change it after the fact."""

    notes: list[Written] = field(default_factory=list)
    length: Fraction = Fraction(0)


class Voice:
    """One voice while it is read: what stands until changed, and its bars."""

    def __init__(self, head: dict[str, str], file: str, carry: str = PITCH) -> None:
        self.file = file
        self.count = 0
        self.name = self.clef = ""
        self.octaves = 0
        self.asked = self.moved = Interval(0, 0)  # as the field says it, and spelled to suit the key
        self.at_pitch = False
        self.meter = fields.meter(head.get("M", ""))
        self.unit = fields.unit(head.get("L", "")) or fields.unit_of(self.meter)
        self.key = fields.key(head.get("K", ""))
        self.bars: list[WrittenBar] = []
        self.bar = WrittenBar(0, meter=self.meter)
        self.at = Fraction(0)
        self.layer = 1
        self.carry = carry
        self.accidentals: dict[str, int] = {}
        self.ties: dict[int, dict[str, SpelledPitch]] = {}  # of each layer
        self.ending: tuple[int, ...] = ()
        self.next_meter: Meter | None = None
        self.struck = _Struck()
        self.broken, self.tuplet = Fraction(1), (Fraction(1), 0)
        self.ornament = ""
        self.finger: int | None = None
        self.signs: list[str] = []  # of the next note
        self.slurs = Slurs()
        self.last: Written | None = None
        self.unsung: list[tuple[WrittenBar, Fraction]] = []
        self.sung: list[tuple[WrittenBar, Fraction]] = []
        self.verse = 0
        self.change("Q", head.get("Q", ""))
        self.describe("K:" + head.get("K", ""))
        self._stand()

    def describe(self, text: str) -> None:
        """Clef, octave, transposition and name from a field of the key or of the voice."""
        sign, octaves = fields.clef(text if text[1:2] == ":" else f"V:{text}")
        self.clef = sign or self.clef
        self.octaves = octaves or self.octaves
        self.at_pitch |= re.search(r"(?:treble|clef=G2?)[+-]8", text) is not None
        named = re.search(r'\b(?:name|nm)="([^"]*)"', text)
        self.name = fields.plain(named[1]) if named else self.name
        asked = fields.transposition(text)
        if asked is not None and asked != self.asked:
            self.asked = asked
            self.at_pitch |= asked != Interval(0, 0)
            self._stand()

    def _stand(self) -> None:
        """From here on the music stands in the key that sounds where the field's is written."""
        fifths, self.moved = sounding_key(self.key.fifths, self.asked)
        if self.bar.keys and self.bar.keys[-1][0] == self.at:
            self.bar.keys.pop()
        self.bar.keys.append((self.at, fifths, self.key.mode))

    def usual_clef(self) -> str:
        """Where no clef is named: the bass clef for a line below middle C."""
        heights = [note.pitch.midi for bar in self.bars for note in bar.notes]
        return "F" if heights and sum(heights) / len(heights) < 60 else "G"

    def change(self, letter: str, text: str) -> None:
        """A field of the head or among the notes."""
        if letter == "K":
            self.key = fields.key(text)
            self.describe(f"K:{text}")
            self._stand()
            self.accidentals.clear()
        elif letter == "M":
            self.meter = fields.meter(text)
            shown = FREE if text.strip().lower() == "none" else self.meter
            if self.at:
                self.next_meter = shown
            else:
                self.bar.meter = shown
        elif letter == "L":
            self.unit = fields.unit(text) or self.unit
        elif letter == "Q":
            quarters = fields.tempo(text, self.unit)
            if quarters:
                self.bar.tempi.append((self.at, quarters))

    def take(self, token: re.Match[str]) -> None:
        if token["quoted"]:
            self._words(token["quoted"][1:-1])
        elif token["slur"] == ")":
            self.slurs.end(self.last)
        elif token["slur"]:
            self.slurs.begin()
        elif token["sign"]:
            self._sign(token["sign"])
        elif token["ending"]:
            self._ending(token["ending"])
        elif token["tuplet"]:
            count = int(token["tuplet"])
            compound = self.meter is not None and self.meter[1] >= 8 and self.meter[0] % 3 == 0
            into = int(token["into"] or 0) or _TUPLETS.get(count, 3 if compound else 2)
            self.tuplet = (Fraction(into, max(count, 1)), int(token["over"] or 0) or count)
        elif token["grace"] is not None:
            for written in _notes(token["grace"]):
                self.bar.notes.append(self._written(written, Fraction(0), grace=True))
        elif token["chord"] is not None:
            self._strike(_notes(token["chord"]), token["times"], token["tied"])
            self._inside(token["chord"])
        elif token["note"]:
            self._strike(_NOTE.findall(token["note"]), "", "")
        elif token["rest"] in ("Z", "X") and token["rest"]:
            self._rests(_times(token["long"]))
        elif token["rest"]:
            self.ornament, self.finger, self.signs = "", None, []
            self._move(self._length(token["long"]), [])
        elif token["broken"]:
            self._dot(token["broken"])
        elif self.at:
            self.bar.length = max(self.bar.length, self.at)
            self.at, self.struck, self.layer = Fraction(0), _Struck(), min(self.layer + 1, LEFT_VOICES)

    def _words(self, text: str) -> None:
        """A chord symbol; an annotation may send the player elsewhere."""
        symbol = fields.plain(text)
        if parse_symbol(symbol) is not None:
            sounding = transposed_symbol(symbol, self.moved) if self.moved.semitones else symbol
            self.bar.chords.append((self.at, sounding))
        else:
            said = symbol.lstrip("^_<>@")
            read_words(said, self.bar.signs)
            self._direct(words_of(said))

    def _direct(self, said: str) -> None:
        if said:
            self.bar.directions.append((self.at, (said, "")))

    def _inside(self, chord: str) -> None:
        """Fingers, signs and slurs of a chord's single notes."""
        notes = iter(self.struck.notes)
        begun: list[Written] = []
        waiting, note = 0, self.last
        for token in TOKEN.finditer(chord):
            if token["sign"]:
                self._sign(token["sign"])
            elif token["slur"] == ")":
                self.slurs.end(note)
            elif token["slur"]:
                waiting += 1
            elif token["note"]:
                note = next(notes)
                note.finger, given = self.finger or note.finger, (note.ornament, note.signs)
                note.ornament, note.signs = adorned(*given, self.ornament, self.signs)
                self.ornament, self.finger, self.signs = "", None, []
                begun, waiting = begun + [note] * waiting, 0
        self.slurs.within(begun)

    def _sign(self, sign: str) -> None:
        name = sign.strip("!+") or sign
        if name in fields.ORNAMENTS:
            self.ornament, self.signs = adorned(self.ornament, self.signs, *fields.ornament(name))
        elif name in fields.SIGNS:
            self.signs.append(fields.SIGNS[name])
        elif name in fields.HAIRPINS or name in DYNAMICS:
            self._direct(fields.HAIRPINS.get(name, name))
        elif name in ("1", "2", "3", "4", "5"):
            self.finger = int(name)
        elif name in ("segno", "S"):
            self.bar.signs.segno = True
        elif name in ("coda", "O"):
            # At the start of a bar it is the coda; within it, it sends the player there.
            self.bar.signs.coda |= not self.at
            self.bar.signs.to_coda |= bool(self.at)
        elif jump := _JUMPS.get(name) or _JUMPS.get(name[:4]):  # as of D.C.alfine
            # Nobody is sent back by the beginning of a bar: there the bar before is meant.
            before = name != "fine" and not self.at and bool(self.bars)
            read_words(jump, (self.bars[-1] if before else self.bar).signs)

    def _strike(self, found: list[tuple[str, ...]], times: str, tied: str) -> None:
        if not found:
            return
        whole = _times(times)
        lengths = [self._length(one[3]) * whole for one in found]
        ties = self.ties.pop(self.layer, {})
        notes = [self._written(one, length, ties) for one, length in zip(found, lengths, strict=True)]
        for note, one in zip(notes, found, strict=True):
            if one[4] or tied:
                note.tie_start = True
                self.ties.setdefault(self.layer, {})[one[1] + one[2]] = note.pitch
        notes[0].ornament, notes[0].signs = self.ornament, self.signs
        max(notes, key=lambda note: note.pitch.midi).finger = self.finger  # it is drawn over the chord
        self.ornament, self.finger, self.signs = "", None, []
        self.last = notes[0]
        self.slurs.come(self.last)
        self.bar.notes += notes
        if self.layer == 1:
            self.unsung.append((self.bar, self.at))
        self._move(lengths[0], notes)

    def _length(self, text: str) -> Fraction:
        return self.unit * _times(text)

    def _move(self, length: Fraction, notes: list[Written]) -> None:
        """Go on by a note or rest, shortened or drawn out by the tuplet or broken rhythm it stands in."""
        by, left = self.tuplet
        factor = (by if left else 1) * self.broken
        self.tuplet, self.broken = (by, max(left - 1, 0)), Fraction(1)
        for note in notes:
            note.length *= factor
        self.struck = _Struck(notes, length * factor)
        self.at += length * factor
        if self.at.denominator > _FINEST or self.at > _LONGEST_REST * 100:
            raise MusicError(
                f"'{self.file}' is ABC with a length near bar {len(self.bars) + 1} that cannot be counted: "
                "look at that bar in the program it comes from."
            )

    def _dot(self, broken: str) -> None:
        half = Fraction(1, 2 ** min(len(broken), 4))
        before, self.broken = (2 - half, half) if broken[0] == ">" else (half, 2 - half)
        self.at += self.struck.length * (before - 1)
        for note in self.struck.notes:
            note.length *= before
        self.struck = _Struck()

    def _rests(self, count: Fraction) -> None:
        full = Fraction(4 * self.meter[0], self.meter[1]) if self.meter else Fraction(4)
        for number in range(min(max(int(count), 1), _LONGEST_REST)):
            if number:
                self.close()
            self.at += full

    def _written(
        self, found: tuple[str, ...], length: Fraction, ties: dict[str, SpelledPitch] | None = None,
        grace: bool = False,
    ) -> Written:  # fmt: skip
        sign, letter, marks = found[:3]
        tied = (ties or {}).get(letter + marks)
        octave = 4 + letter.islower() + marks.count("'") - marks.count(",") + self.octaves
        letter = letter.upper()
        standing = f"{letter}{octave}" if self.carry == OCTAVE else letter
        alteration = self.accidentals.get(standing, self.key.altered.get(letter, 0))
        if sign:
            alteration = fields.ALTERATIONS[sign]
            if self.carry != NOT:
                self.accidentals[standing] = alteration
        pitch = SpelledPitch(letter, alteration, octave) + self.moved if tied is None or sign else tied
        if not 0 <= pitch.midi <= 127:
            raise MusicError(f"'{self.file}' is ABC with a note that no piano has: check its octaves.")
        self.count += 1
        if self.count > _MOST_NOTES:
            raise MusicError(f"'{self.file}' holds more than {_MOST_NOTES} notes: save one tune alone.")
        return Written("", pitch, self.at, length, 1, str(self.layer), grace=grace, tie_stop=tied == pitch)

    def bar_line(self, sign: str, ending: str) -> None:
        start, end = len(sign) - len(sign.rstrip(":")), len(sign) - len(sign.lstrip(":"))
        if sign.strip(":") == "":
            start = end = 1
        if end:
            signs = (self.bar if self._begun or not self.bars else self.bars[-1]).signs
            signs.end, signs.times = True, max(2, min(end + 1, 8))
        if self._begun:
            self.close()
        if start or end or sign.strip(":") not in ("|", ".|"):
            self.ending = self.bar.signs.ending = ()
        self.bar.signs.start |= bool(start)
        if ending:
            self._ending(ending)

    @property
    def next_bar(self) -> int:
        """The place of the bar that begins next."""
        return len(self.bars) + self._begun

    @property
    def _begun(self) -> bool:
        return bool(self.at or self.bar.length or self.bar.notes)

    def _ending(self, text: str) -> None:
        numbers: list[int] = []
        for first, last in re.findall(r"(\d{1,2})(?:-(\d{1,2}))?", text):
            numbers += range(int(first), min(int(last or first), int(first) + 8) + 1)
        if self._begun and self.at:
            self.close()
        self.ending = self.bar.signs.ending = tuple(numbers) or (1,)
        self.bar.signs.new_ending = True

    def close(self) -> None:
        """End the bar and begin the next."""
        if not self._begun:
            return
        bar = self.bar
        bar.length = max(bar.length, self.at)
        bar.sounding = bar.length
        full = Fraction(4 * self.meter[0], self.meter[1]) if self.meter else bar.length
        before = self.bars[-1] if self.bars else None
        if before is None:
            bar.number = 0 if bar.length < full else 1
        else:
            # What a repeat sign or a double bar parts is still one bar.
            joined = before.number and max(before.length, bar.length) < full and before.length + bar.length == full
            bar.number = before.number + (0 if joined else 1)
        self.bars.append(bar)
        self.bar = WrittenBar(0, meter=self.next_meter)
        self.bar.signs.ending = self.ending
        self.next_meter = None
        self.at, self.struck, self.layer = Fraction(0), _Struck(), 1
        self.accidentals.clear()

    def finish(self) -> None:
        """End the last bar; a jump written after its barline belongs to it."""
        self.close()
        if self.bars:
            last, after = self.bars[-1].signs, self.bar.signs
            last.da_capo |= after.da_capo
            last.dal_segno |= after.dal_segno
            last.fine |= after.fine

    def put_under(self, said: list[str]) -> None:
        """Words under the notes since the last words; a further line of words is the next verse of the same notes."""
        if self.unsung:
            self.verse, self.sung, self.unsung = 1, self.unsung, []
        else:
            self.verse += 1
        notes = self.sung
        place = 0
        for text in said:
            if text == "|":
                here = notes[place - 1][0] if place else None
                while here is not None and place < len(notes) and notes[place][0] is here:
                    place += 1
            elif place < len(notes):
                if text:
                    bar, onset = notes[place]
                    bar.lyrics.setdefault(self.verse, []).append((onset, text))
                place += 1


def _notes(text: str) -> list[tuple[str, ...]]:
    """The notes in brackets; the names of signs are no notes."""
    return [found for token in TOKEN.finditer(text) if token["note"] for found in _NOTE.findall(token["note"])]


def _times(text: str) -> Fraction:
    """A length after a note: ``3``, ``/``, ``//``, ``3/2``."""
    ((number, slashes, below),) = re.findall(r"^(\d*)(/*)(\d*)$", text)
    under = int(below) if below and slashes else 2 ** len(slashes)
    return Fraction(int(number or 1), under or 1)
