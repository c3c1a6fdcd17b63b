"""One line of music of a Humdrum document, a **kern spine with all it splits into, bar by bar. See `humdrum`."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction

from trainer.music.keys import Key
from trainer.scores.humdrum import kern
from trainer.scores.notation.elements import metered, read_words
from trainer.scores.notation.expressing import CUE, LIFTED, PEDAL, words_of
from trainer.scores.notation.written import LEFT_VOICES, Meter, Written, WrittenBar


class Line:
    """A line while it is read: what stands until changed, and its bars. Voices are its layers, from 1."""

    def __init__(self) -> None:
        self.name = self.code = self.part = self.clef = ""
        self.staff: int | None = None
        self.sings = self.at_pitch = self.silent = self.small = False
        self.bars: list[WrittenBar] = []
        self.bar = WrittenBar(0)
        self.fifths = 0
        self.tonic: Key | None = None
        self.meter: Meter | None = None
        self.symbol = ""
        self._counted: Meter | None = None  # as the bars say it
        self.count = 0
        self.verses = 0
        self.last: list[Written] = []  # what the latest row of the document strikes
        self._open: list[tuple[int, Written]] = []
        self._slurs: list[tuple[Written, Written]] = []
        self._trembling: set[int] = set()  # layers in which a tremolo between two notes has begun

    @property
    def called(self) -> str:
        return self.name or self.code or ("Voice" if self.sings else "")

    def interpret(self, word: str, at: Fraction) -> None:
        """A word that says how what follows is to be read; `at` is the place in the bar."""
        fifths, tonic = kern.signature(word), kern.tonic(word)
        meter, symbol = kern.meter(word), kern.symbol(word)
        tempo = re.fullmatch(r"\*MM(\d{1,3}(?:\.\d{1,3})?)", word)
        if fifths is not None:
            self.fifths = fifths
            self._stand(at)
        elif tonic is not None:
            self.fifths = self.fifths if self.bar.keys and self.bar.keys[-1][0] == at else tonic.signature
            self._stand(at, kern.mode_over(self.fifths, tonic))
        elif meter is not None:
            self._count(meter, at)
        elif symbol:
            self.symbol = symbol
            if self.meter is not None:
                self._count(self.meter, at)
        elif tempo and 4 <= float(tempo[1]) <= 999:
            self.bar.tempi.append((at, float(tempo[1])))
        elif word.startswith("*clef"):
            self.clef = self.clef or word[5:6]
            self.at_pitch |= re.search(r"[v^]", word) is not None
            self.silent = word == "*clefX"
        elif word in ("*ped", "*Xped"):
            self.bar.directions.append((at, (PEDAL if word == "*ped" else LIFTED, "")))
        elif word in ("*cue", "*Xcue"):
            self.small = word == "*cue"
        else:
            self._describe(word)

    def _describe(self, word: str) -> None:
        """Who plays, and on which staff."""
        staff, part = re.match(r"\*staff(\d{1,3})", word), re.fullmatch(r"\*part(\d{1,3})", word)
        if staff:
            self.staff = int(staff[1])
        elif part:
            self.part = part[1]
        elif word.startswith('*I"'):
            self.name = " ".join(word[3:].split())
        elif word.startswith("*IC"):
            self.sings = word == "*ICvox"
        elif word.startswith("*ITr"):
            self.at_pitch = True
        elif word.startswith("*I"):
            self.code = kern.instrument(word) or self.code

    def _stand(self, at: Fraction, mode: str = "") -> None:
        self.bar.keys = [one for one in self.bar.keys if one[0] != at] + [(at, self.fifths, mode)]

    def _count(self, meter: Meter, at: Fraction) -> None:
        """From here on the music is counted so; a meter said within a bar begins with the next."""
        self.meter = metered(meter.beats, meter.unit, self.symbol) or meter
        if at == 0:
            self.bar.meter = self.meter

    def take(self, struck: kern.Struck, at: Fraction, layer: int) -> None:
        """What is struck at a place of the bar, in one of the layers of the line."""
        if self.silent:
            return
        layer = min(layer, LEFT_VOICES)
        notes = [
            Written(
                "", head.pitch, at, struck.length, 1, str(layer), grace=struck.grace, ornament=head.ornament,
                signs=list(head.signs), tie_start=head.tie_start, tie_stop=head.tie_stop,
            )
            for head in struck.heads
        ]  # fmt: skip
        for note in notes:
            note.signs = list(dict.fromkeys([*note.signs, *([CUE] if self.small and not note.grace else [])]))
            note.optional = CUE in note.signs
        self.bar.notes += notes
        self.last += notes
        self.count += len(notes)
        if notes:
            self._slur(struck.heads, notes[0], layer)
            self._pair(notes, layer)

    def _pair(self, notes: Sequence[Written], layer: int) -> None:
        """Of two notes alike in their signs one begins a tremolo and the next ends it."""
        first, last = kern.BETWEEN
        if not any(first in note.signs for note in notes):
            self._trembling.discard(layer)
        elif layer not in self._trembling:
            self._trembling.add(layer)
        else:
            self._trembling.discard(layer)
            for note in notes:
                note.signs = [last if sign == first else sign for sign in note.signs]

    def _slur(self, heads: Sequence[kern.Head], note: Written, layer: int) -> None:
        """Slurs of a chord belong to it as a whole, whether one of its heads says them or every one."""
        for _ in range(max(head.closes for head in heads)):
            place = next((at for at in reversed(range(len(self._open))) if self._open[at][0] == layer), -1)
            if self._open:
                first = self._open.pop(place)[1]
                self._slurs += [(first, note)] if first is not note else []
        self._open += [(layer, note)] * max(head.opens for head in heads)

    def finger(self, word: str) -> None:
        """Fingers of a **fing spine for what has just been struck."""
        for note, digit in zip(self.last, re.findall(r"[1-5]", word), strict=False):
            note.finger = int(digit)

    def sing(self, word: str, verse: int, at: Fraction) -> None:
        text = kern.syllable(word)
        if text:
            self.bar.lyrics.setdefault(verse, []).append((at, text))
            self.bar.said.setdefault("1", {}).setdefault(verse, []).append((at, text))

    def direct(self, texts: Sequence[str], at: Fraction) -> None:
        self.bar.directions += [(at, (text, "")) for text in texts]

    def swell(self, hairpin: str, at: Fraction) -> None:
        """A hairpin, if there is one, from a place of the bar to the end of the note that sounds there."""
        end = max((note.onset + note.length for note in self.last), default=at)
        if hairpin and end > at:
            self.direct([hairpin], at)
            self.direct(["!"], end)

    def remark(self, comment: str, at: Fraction) -> None:
        """A comment that is printed: words on how it is played, or on where to go on."""
        text = kern.words_in(comment)
        read_words(text, self.bar.signs)
        self.direct([words_of(text)] if words_of(text) else [], at)

    def close(self, length: Fraction) -> None:
        """End the bar and begin the next."""
        self.bar.length = self.bar.sounding = length
        self.bars.append(self.bar)
        self._counted = self.bar.meter or self._counted
        self.bar = WrittenBar(self.bar.number, meter=None if self.meter == self._counted else self.meter)

    def say_slurs(self) -> None:
        """All slurs in the signs of the notes they begin and end at, once these have their names."""
        for first, last in self._slurs:
            first.signs.append("(")
            last.signs.append(f"){first.id}")
