"""An ABC tune to parts and bars as written: voices, repeats, endings, tuplets, graces, chord symbols and words.

Read by our own code because what is said in the fields (every mode, single altered letters, voices within a line, the
words under the notes) must not be lost. Source: the ABC music standard 2.1 (2011), from memory. The tests read the
same tunes through music21 and compare note for note.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise, takewhile

from trainer.music.chordsymbol import from_german, is_german
from trainer.music.piece import LEFT
from trainer.music.pitch import MusicError
from trainer.scores.abc import abcbook
from trainer.scores.abc import abcfields as fields
from trainer.scores.abc.abcvoice import PITCH, TOKEN, Voice
from trainer.scores.notation.expressing import unsaid
from trainer.scores.notation.written import LEFT_VOICES, Part, Score, WrittenBar

_LONGEST_TUNE = 40_000
_MOST_VOICES = 32
_ENDING = re.compile(r"\s*\[?(\d[\d,-]*)")
_FIELD = re.compile(r"([A-Za-z+]):(?![|:])(.*)")
_QUOTED = re.compile(r'"([^"\n]+)"')
_WORDS = re.compile(r"([wW]):(.*)")


def parse(text: str, name: str) -> Score:
    """Read the first tune of an ABC file, and what its head says of all tunes.

    Raises
    ------
    MusicError
        When it is too long, or a bar of it cannot be read.
    """
    book = abcbook.split(text)
    size = len(book.head) + len(book.tunes[0])
    if size > _LONGEST_TUNE:
        raise MusicError(f"'{name}' holds a tune of {size // 1000} kB: save one tune alone, or as MusicXML.")
    tune = _Tune(name, is_german(_QUOTED.findall(book.tunes[0])))
    for line in (*book.head.split("\n"), *book.tunes[0].split("\n")):
        tune.read(line)
    return tune.score()


class _Tune:
    """The tune while its lines are read: the head, and one `Voice` for each voice."""

    def __init__(self, name: str, german: bool) -> None:
        self.name = name
        self.german = german  # its chord symbols are named by German letters
        self.about: dict[str, str] = {}
        # What the head of the file says about all its tunes.
        self.about_all: dict[str, str] = {}
        self.head: dict[str, str] = {}
        self.groups = ""
        self.carry = PITCH
        self.declared: list[str] = []
        self.voices: dict[str, Voice] = {}
        self.voice: Voice | None = None
        self.body = self.over = False
        self.words = ""
        self.sections: list[tuple[str, int]] = []

    def read(self, line: str) -> None:
        found = re.match(r"(?:%%|I:)\s*(?:score|staves)\b(.*)", line)
        if found:
            self.groups = self.groups or found[1]
        found = re.match(r"(?:%%|I:)\s*propagate-accidentals\s+(pitch|octave|not)\b", line)
        if found:
            self.carry = found[1]
        line = re.sub(r"(?<!\\)%.*", "", line).rstrip()
        if not line.strip():
            self.over = self.body and any(voice.bars or voice.at for voice in self.voices.values())
            return
        said = _FIELD.match(line) or _WORDS.match(line)
        if said:
            self._field(said[1], said[2].strip())
        elif self.body and (not self.over or "|" in line):
            self._music(line)

    def _field(self, letter: str, text: str) -> None:
        if letter == "+":
            self.words += " " + text if self.words else ""
            return
        self._put_words()
        if letter == "X":
            self.about_all, self.about = self.about_all | self.about, {}
        elif letter in "TCOS":
            self.about.setdefault(letter, fields.plain(text))
        elif letter == "V" and not self.body:
            self.declared.append(text)
        elif letter == "V":
            self._turn_to(text)
        elif letter == "w":
            self.words = text
        elif not self.body:
            self.head[letter] = text
            self.body = letter == "K"
            if self.body:
                for said in self.declared:
                    self._turn_to(said)
                self.voice = next(iter(self.voices.values()), None)
        elif letter == "P" and "A" <= text[:1] <= "Z":
            self.sections.append((text[:1], self._current().next_bar))
        elif letter in "KLMQ":
            self._current().change(letter, text)

    def _put_words(self) -> None:
        """Words are complete when another line has begun."""
        if self.words:
            self._current().put_under(fields.syllables(self.words))
        self.words = ""

    def _turn_to(self, text: str) -> None:
        known = text.split()
        if not known:
            return
        if known[0] not in self.voices:
            if len(self.voices) == _MOST_VOICES:
                raise MusicError(f"'{self.name}' has more than {_MOST_VOICES} voices: save the piano part alone.")
            self.voices[known[0]] = Voice(self.head, self.name, self.carry)
        self.voice = self.voices[known[0]]
        self.voice.describe(text)

    def _current(self) -> Voice:
        if self.voice is None or not self.voices:
            self._turn_to("1")
        assert self.voice is not None
        return self.voice

    def _music(self, line: str) -> None:
        self._put_words()
        if self.german:
            line = _QUOTED.sub(lambda symbol: f'"{from_german(symbol[1])}"', line)
        place = 0
        while place < len(line):
            token = TOKEN.match(line, place)
            if token is None:
                place += 1
                continue
            place = token.end()
            if token["inline"]:
                self._field(token["inline"][1], token["inline"][3:-1].strip())
                continue
            voice = self._current()
            if token["bar"]:
                ending = _ENDING.match(line, place)
                place = ending.end() if ending else place
                voice.bar_line(token["bar"], ending[1] if ending else "")
            else:
                voice.take(token)

    def score(self) -> Score:
        self._put_words()
        for voice in self.voices.values():
            voice.finish()
        if not any(voice.count for voice in self.voices.values()):
            raise MusicError(f"'{self.name}' holds no notes to play: choose another file.")
        about = {letter: self.about.get(letter, self.about_all.get(letter, "")) for letter in "TCOS"}
        score = Score(self._parts(), about["T"], about["C"], about["O"], about["S"])
        score.order = self._order(score.parts)
        count = 0
        for part in score.parts:
            for bar in part.bars:
                for note in bar.notes:
                    count += 1
                    note.id = f"n{count}"
        for voice in self.voices.values():
            voice.slurs.say()
        return score

    def _order(self, parts: list[Part]) -> tuple[range, ...]:
        """The parts of the tune as its head orders them; what stands before the first of them is played once."""
        bars = max(len(part.bars) for part in parts)
        marked: dict[str, int] = {}
        for label, start in self.sections:
            marked.setdefault(label, start)
        starts = sorted(marked.values())
        asked = [label for label in fields.order_of_parts(self.head.get("P", "")) if label in marked]
        ends = dict(pairwise([*starts, bars]))
        for bar in (bar for start in starts for part in parts for bar in _unbracketed(part.bars[start:])):
            bar.signs.ending = ()
        played = [range(marked[label], ends[marked[label]]) for label in asked]
        return (range(starts[0]), *played) if played else ()

    def _parts(self) -> list[Part]:
        """A part for each voice; two staves in one brace are a keyboard's."""
        left = {name: voice for name, voice in self.voices.items() if voice.bars}
        braces = [
            [re.findall(r"[^\s()]+", staff) for staff in re.findall(r"\([^()]*\)|[^\s()|]+", inside)]
            for inside in re.findall(r"\{([^{}]*)\}", self.groups)
        ]
        parts: list[Part] = []
        for name, voice in left.items():
            brace = next((b for b in braces if any(name in staff for staff in b) and len(b) == 2), None)
            if brace is None:
                clefs = {1: voice.clef or voice.usual_clef()}
                parts.append(Part(voice.name or name, voice.bars, 1, clefs, at_pitch=voice.at_pitch))
            elif name == next((one for staff in brace for one in staff if one in left), ""):
                parts.append(_keyboard([[left[one] for one in staff if one in left] for staff in brace]))
        return parts


def _unbracketed(bars: list[WrittenBar]) -> Iterator[WrittenBar]:
    """The first bars of a part of the tune that an ending before it runs on into, for want of a double bar."""
    return takewhile(lambda bar: bar.signs.ending and not bar.signs.new_ending, bars)


def _keyboard(staves: list[list[Voice]]) -> Part:
    """The voices of two staves as one part."""
    part = Part("", staves=2, clefs={1: "G", 2: "F"})
    for at, voices in enumerate(staves):
        for number, voice in enumerate(voices):
            for place, bar in enumerate(voice.bars):
                for note in bar.notes:
                    note.staff = at + 1
                    note.voice = str(LEFT_VOICES * at + min(number + int(note.voice), LEFT_VOICES))
                if at:
                    bar.directions = [(onset, (text, LEFT)) for onset, (text, _) in bar.directions]
                if number and place < len(part.bars):
                    bar.directions = unsaid(part.bars[place].directions, bar.directions)
                part.lay(place, bar)
    return part
