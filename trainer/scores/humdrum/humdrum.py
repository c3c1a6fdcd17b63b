"""A Humdrum document to parts and bars as written: **kern spines that split, join and change places, and what stands
beside them.

Read by our own code because music21 takes seconds for a page, leaves the order of a repeat, dynamics and further verses
out, and refuses what a score of today says. Sources: as in `kern`.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby

from trainer.music.piece import LEFT
from trainer.music.pitch import MusicError
from trainer.scores.humdrum import kern
from trainer.scores.humdrum.kernline import Line
from trainer.scores.notation.parting import names_keyboard
from trainer.scores.notation.unfolding import Signs
from trainer.scores.notation.written import LEFT_VOICES, Part, Score

_MOST_NOTES = 20_000
_MOST_SPINES = 64
_MOST_PASSAGES = 200
_WORDS = ("text", "silbe", "lyrics")
# Staves that one player has: an organ's.
_MOST_STAVES = 3


@dataclass(eq=False, slots=True)
class _Column:
    """A column of the document: one spine, or a layer of one that has split. `end`: until when it sounds."""

    kind: str
    track: int
    line: Line | None = None
    verse: int = 0
    staff: str = ""
    end: Fraction = Fraction(0)


def parse(text: str, name: str) -> Score:
    """Read the first piece of a Humdrum document.

    Raises
    ------
    MusicError
        When it is too long, or a line of it cannot be read.
    """
    document = _Document(name, numbered=re.search(r"^=+\d", text, re.MULTILINE) is not None)
    for row, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        try:
            if not document.read(line):
                break
        except kern.Unreadable as why:
            raise MusicError(
                f"'{name}' is Humdrum with a {why} in line {row} that cannot be read: "
                "look at that line in the program it comes from."
            ) from None
        except MusicError as why:
            raise MusicError(f"'{name}' is Humdrum whose line {row} {why}") from None
    return document.score()


class _Document:
    """The document while its rows are read."""

    def __init__(self, name: str, numbered: bool) -> None:
        self.name = name
        self.numbered = numbered  # its barlines say which bar they begin
        self.about: dict[str, str] = {}
        self.columns: list[_Column] = []
        self.lines: list[Line] = []
        self.tracks = 0
        self.now = self.begun = self.struck = Fraction(0)  # where the next row stands, the bar, and the latest notes
        self.waiting: list[list[tuple[_Column, str]]] = []  # rows beside notes that go on
        self.first: int | None = None
        self.signs = [Signs()]
        self.sections: list[tuple[str, int]] = []
        self.order: list[str] = []

    def read(self, text: str) -> bool:
        """Take a row; False when the piece is over."""
        if text.startswith("!!"):
            said = re.match(r"!!!([^:!]+):(.*)", text)
            if said:
                self.about.setdefault(said[1].strip(), " ".join(html.unescape(said[2]).split()))
            return True
        cells = [cell.strip() for cell in text.split("\t")]
        if not self.columns:
            if cells[0].startswith("**"):
                self.columns = [self._column(cell) for cell in cells]
            return True
        while len(cells) > len(self.columns) and not cells[-1]:
            cells.pop()
        if len(cells) != len(self.columns):
            raise MusicError(
                f"does not have a column for each of {len(self.columns)} spines: look at it where it comes from."
            )
        sign = cells[0][:1]
        if sign == "*":
            self._interpret(cells)
        elif sign == "=":
            self._bar_line(cells)
        elif sign == "!":
            for column, cell in zip(self.columns, cells, strict=True):
                if column.kind == "kern" and column.line:
                    column.line.remark(cell, self.now - self.begun)
        else:
            self._strike(cells)
        return bool(self.columns)

    def _column(self, cell: str) -> _Column:
        """A new spine; what is no music belongs to the music to its left."""
        self.tracks += 1
        if self.tracks > _MOST_SPINES:
            raise MusicError(f"has more than {_MOST_SPINES} spines: export the piano part alone.")
        kind = cell[2:]
        column = _Column("words" if kind in _WORDS else kind, self.tracks)
        if kind == "kern":
            column.line = Line()
            while len(column.line.bars) + 1 < len(self.signs):
                column.line.close(Fraction(0))
            self.lines.append(column.line)
        elif self.lines:
            column.line = self.lines[-1]
            if column.kind == "words":
                column.line.verses += 1
                column.verse = column.line.verses
        return column

    def _interpret(self, cells: list[str]) -> None:
        at = self.now - self.begun
        for column, cell in zip(self.columns, cells, strict=True):
            if cell.startswith("*>") and column is self.columns[0]:
                self._label(cell[2:])
                at = self.now - self.begun
            if column.kind == "kern" and column.line:
                column.line.interpret(cell, at)
            elif cell.startswith("*staff"):
                column.staff = cell[6:]
        if any(cell in ("*^", "*v", "*-", "*+", "*x") or cell.startswith("**") for cell in cells):
            self._arrange(cells)

    def _arrange(self, cells: list[str]) -> None:
        """Spines split, join, end, begin and change places."""
        found: list[_Column] = []
        pairs = list(zip(self.columns, cells, strict=True))
        for (word, track), group in groupby(pairs, key=lambda one: (one[1], one[0].track)):
            those = [column for column, _ in group]
            if word == "*^":
                found += [half for one in those for half in (one, replace(one))]
            elif word == "*v":
                those[0].end = max(one.end for one in those)
                found.append(those[0])
            elif word == "*+":
                found += [side for one in those for side in (one, _Column("", track))]
            elif word.startswith("**"):
                found += [self._column(word) for _ in those]
            elif word != "*-":
                found += those
        crossed = [at for at, cell in enumerate(cells) if cell == "*x"]
        if len(crossed) == 2 and len(found) == len(cells):
            one, other = crossed
            found[one], found[other] = found[other], found[one]
        if len(found) > _MOST_SPINES:
            raise MusicError(f"splits into more than {_MOST_SPINES} spines: export the piano part alone.")
        self.columns = found

    def _label(self, text: str) -> None:
        """A passage begins, or the head says in which order the passages are played."""
        listed = re.fullmatch(r"\[([^\]]*)\]", text)
        if listed:
            self.order = self.order or listed[1].split(",")[:_MOST_PASSAGES]
        elif re.fullmatch(r"[^\[\]]+", text):
            if self.now > self.begun:
                self._close(None)
            self.sections.append((text, len(self.signs) - 1))

    def _strike(self, cells: list[str]) -> None:
        said = [(column, cell) for column, cell in zip(self.columns, cells, strict=True) if cell != kern.NULL]
        beside = [(column, cell) for column, cell in said if column.kind != "kern"]
        if len(beside) == len(said):
            self.waiting += [beside] if beside else []
            return
        self._settle()
        at = self.now - self.begun
        self.struck = self.now
        layers: dict[int, int] = {}
        small = struck = False
        for line in self.lines:
            line.last.clear()
        for column, cell in zip(self.columns, cells, strict=True):
            layers[column.track] = layers.get(column.track, 0) + 1
            if column.kind != "kern" or column.line is None or cell == kern.NULL:
                continue
            found = kern.struck(cell)
            if found is not None:
                struck, small = True, small or found.grace
                column.end = self.now + found.length
                column.line.take(found, at, layers[column.track])
        for column, cell in beside:
            _beside(column, cell, at)
        if sum(line.count for line in self.lines) > _MOST_NOTES:
            raise MusicError(f"is past {_MOST_NOTES} notes: save one movement alone.")
        if struck and not small:
            self.now = min(self._ends(), default=self.now)

    def _settle(self) -> None:
        """What stands beside notes that go on comes at equal distances while they do: two chords to a whole note."""
        first, gaps = max(self.struck, self.begun), len(self.waiting) + 1
        for place, row in enumerate(self.waiting, start=1):
            for column, cell in row:
                _beside(column, cell, first + (self.now - first) * place / gaps - self.begun)
        self.waiting.clear()

    def _ends(self) -> list[Fraction]:
        """When what sounds now comes to its ends."""
        return [column.end for column in self.columns if column.kind == "kern" and column.end > self.now]

    def _bar_line(self, cells: list[str]) -> None:
        word = next((cell for column, cell in zip(self.columns, cells, strict=True) if column.kind == "kern"), "=")
        said = kern.barline(word)
        self._close(said.number, said.ends)
        self.signs[-1].start |= said.starts

    def _close(self, number: int | None, ends: bool = False) -> None:
        """A barline: the bar before it is over, if anything stood in it, and the next one begins."""
        full = next((4 * Fraction(line.meter.beats, line.meter.unit) for line in self.lines if line.meter), None)
        if full and any(end == self.begun + full for end in self._ends()):
            self.now = self.begun + full  # a spine that is short of words does not cut the bar short
        self._settle()
        length = self.now - self.begun
        if ends:
            (self.signs[-1] if length or len(self.signs) == 1 else self.signs[-2]).end = True
        if length == 0 and not any(line.bar.notes for line in self.lines):
            self._number(number)
            return
        if self.first is None:
            self.first = max((number or 2) - 1, 0)
            for line in self.lines:
                line.bar.number = self.first
        for line in self.lines:
            line.close(length)
        self.begun = self.now
        self.signs.append(Signs())
        before = self.lines[0].bars[-1].number if self.lines else 0
        self._number(number if number is not None else before + (not self.numbered))

    def _number(self, number: int | None) -> None:
        if number is not None:
            self.first = number if self.first is None else self.first
            for line in self.lines:
                line.bar.number = number

    def score(self) -> Score:
        if self.now > self.begun or any(line.bar.notes for line in self.lines):
            self._close(None)
        if not any(line.count for line in self.lines):
            raise MusicError(f"'{self.name}' holds no notes to play: choose another file.")
        order = self._passages()
        for line in self.lines:
            for bar, signs in zip(line.bars, self.signs, strict=False):
                own = bar.signs
                bar.signs = Signs() if order else replace(
                    signs, da_capo=own.da_capo, dal_segno=own.dal_segno, fine=own.fine, to_coda=own.to_coda,
                    coda=own.coda,
                )  # fmt: skip
        parts = list(self._parts())
        for number, note in enumerate((note for part in parts for bar in part.bars for note in bar.notes), start=1):
            note.id = f"n{number}"
        for line in self.lines:
            line.say_slurs()
        said = self.about.get
        title = said("OTL") or next((text for key, text in self.about.items() if key.startswith("OTL@")), "")
        composer, poet = (re.sub(r"^([^,]+), ([^,]+)$", r"\2 \1", said(key) or "") for key in ("COM", "LYR"))
        rights = said("YEM") or said("YEC") or ""
        return Score(parts, title or said("OPR") or "", composer, "", said("PPR") or "", rights, order, poet)

    def _passages(self) -> tuple[range, ...]:
        """The passages of the music as the document orders them; without an order its endings are marked instead."""
        bars = len(self.signs) - 1
        starts = [start for _, start in self.sections]
        spans: dict[str, range] = {}
        for (label, start), end in zip(self.sections, [*starts[1:], bars], strict=False):
            spans.setdefault(label, range(start, end))
        if self.order and all(label in spans for label in self.order):
            lead = [range(starts[0])] if starts[0] else []
            return (*lead, *(spans[label] for label in self.order))
        for label, span in spans.items():
            volta = re.fullmatch(r"\D+(\d)", label)
            for at in span if volta else ():
                self.signs[at].ending = (int(volta[1]),) if volta else ()
                self.signs[at].new_ending = at == span.start
        return ()

    def _parts(self) -> Iterator[Part]:
        """From the top of the page, which is the last spine: a player's staves are one part."""
        lines = [line for line in reversed(self.lines) if line.bars]
        for _, group in groupby(lines, key=_player):
            those = list(group)
            staves = _staves(those)
            if max(staves, default=1) <= _MOST_STAVES and (len(those) == 1 or _one_player(those)):
                yield _part(those, staves)
            else:
                yield from (_part([line], [1]) for line in those)


def _beside(column: _Column, cell: str, at: Fraction) -> None:
    """What a spine beside the music says of it."""
    line = column.line
    if line is None:
        return
    if column.kind == "words":
        line.sing(cell, column.verse, at)
    elif column.kind == "dynam":
        line.direct(kern.said(cell), at)
        line.swell(kern.within(cell), at)
    elif column.kind == "fing":
        line.finger(cell)
    elif column.kind == "mxhm" and kern.chord_symbol(cell):
        line.bar.chords.append((at, kern.chord_symbol(cell)))


def _player(line: Line) -> tuple[str, str]:
    return line.part, "" if line.part else line.called


def _one_player(lines: list[Line]) -> bool:
    return bool(lines[0].part) or names_keyboard(lines[0].called)


def _staves(lines: list[Line]) -> list[int]:
    """The staff of each line within its part, from 1 at the top."""
    if any(line.staff is None for line in lines):
        return list(range(1, len(lines) + 1))
    numbers = sorted({line.staff for line in lines if line.staff is not None})
    return [numbers.index(line.staff) + 1 for line in lines if line.staff is not None]


def _part(lines: list[Line], staves: list[int]) -> Part:
    count = max(staves)
    clefs = {staff: line.clef or "G" for staff, line in reversed(list(zip(staves, lines, strict=True)))}
    part = Part(lines[0].called, staves=count, clefs=clefs, at_pitch=any(line.at_pitch for line in lines))
    above: dict[int, int] = {}  # lines that stand on a staff already
    for line, staff in zip(lines, staves, strict=True):
        layer = above.setdefault(staff, 0)
        above[staff] += 1
        for at, bar in enumerate(line.bars):
            names = {own: _voice(staff, layer + int(own), count) for own in map(str, range(1, LEFT_VOICES + 1))}
            for note in bar.notes:
                note.staff, note.voice = staff, names[note.voice]
            bar.said = {names[own]: words for own, words in bar.said.items()}
            if staff > 1:
                bar.directions = [(onset, (text, LEFT)) for onset, (text, _) in bar.directions]
            part.lay(at, bar)
    return part


def _voice(staff: int, layer: int, staves: int) -> str:
    """As most notation programs number them: four to a staff."""
    return str(min(layer, LEFT_VOICES) + (LEFT_VOICES * (staff - 1) if staves > 1 else 0))
