"""Sheets for a student's stand: the piece as written with the keys to play it in, answers, and staves to write on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from trainer.coaching.paper.cards import BRASS, FACE, GRAPHITE, five_finger_card
from trainer.coaching.path.path import Route
from trainer.hands.changes import Changes, changes, refingered, served
from trainer.hands.own import NOBODYS, OwnFingers
from trainer.hands.position import CAUTION, MEDIUM, five_finger
from trainer.hands.why import PIANO, beyond, signature_words
from trainer.music.compass import HEXACHORD, LEVELS, OPEN, PENTACHORD, TRICHORD, level
from trainer.music.counted import many
from trainer.music.keys import Key
from trainer.music.piece import BOTH, LEFT, RIGHT, Piece
from trainer.music.solfege import LA_BASED, syllable
from trainer.music.transpose import Transposition, plan, transposed
from trainer.scores.composing.patterns import pattern
from trainer.scores.engraving.drawing import drawn_apart, laid_over, numeral_drawn, without_notes
from trainer.scores.engraving.engraving import Engraved, Look, engrave
from trainer.scores.engraving.systems import System
from trainer.scores.harmony import Harmony
from trainer.scores.paper.printing import (
    GUTTER_MM,
    MUSIC_GAP_MM,
    STAFF_MM,
    Block,
    Boxes,
    Columns,
    Document,
    Heading,
    Music,
    NewPage,
    Picture,
    Text,
    Together,
    text_height_mm,
    text_width_mm,
)

FOOT = "Keyfarer · a teacher's word stands above this sheet"
# Pixels of a staff in the engraver's picture; only proportions matter on paper.
_STAFF_PX = 40
_RIBBON_PX, _SYLLABLE_PX = 26, 19
# Advance widths of the letters of the syllables in em, from the metrics of the face (STIXGeneralItalic.ttf, hmtx); the
# air between two words, and how far one may leave its head for it.
_WIDE = {"a": 0.501, "d": 0.5, "e": 0.444, "f": 0.278, "i": 0.278, "l": 0.278, "m": 0.722, "o": 0.5, "r": 0.389,
         "s": 0.389, "t": 0.278}  # fmt: skip
_APART, _ASIDE = 0.2, 0.3
_NUMERALS_PX = 26
_CARD_MM = 62.0
_BOOKLET_CARD_MM = 40.0
# Staves to be written on by hand are larger; the answer beside them stands alike.
_WRITING_MM = 9.0
# Room between them for ledger lines and second thoughts, less of it where that spares a page.
_WRITING_GAPS_MM = (8.0, 6.5, 5.0, 3.5)
# Sizes tried until the last line is not left short, the usual one first; not for pieces of many lines.
_SIZES = (1.0, 0.94, 1.06, 0.89, 1.12)
_FULL = 0.6
_MOST_LINES = 12
# Larger ones tried first for tunes within five fingers, as in beginners' books (common practice, no source).
_BEGINNERS = (1.32, 1.26, 1.2, 1.14, 1.08)
# What a title and the section of a key take of a page, the caution too.
_HEADING_MM, _SECTION_MM, _CAUTION_MM = 17.0, 73.0, 14.0
# What is played in each key of the path without a piece.
_PATTERNS = {TRICHORD: "trichord", PENTACHORD: "pentascale", HEXACHORD: "cadence", OPEN: "scale-one-octave"}
_PATTERN_STAFF_MM = 6.2
_SPOTS = 6
_INK = "#000000"


@dataclass(frozen=True)
class Wishes:
    """What a sheet is to hold.

    Parameters
    ----------
    syllables : bool
        Print movable-do syllables under the written music.
    harmony : tuple of Harmony
        Print these chords under the written music, by degree; they hold in every key.
    answers, blank : bool
        Add the transposed engraving; add staves to write it on.
    minor : str
        Which syllables minor takes, ``la`` or ``do``.
    hand_size, paper : str
    work : str
        What is set in the first key, in a sentence; empty for none.
    own : OwnFingers
        Fingers of the player's own.
    """

    syllables: bool = False
    answers: bool = False
    blank: bool = False
    minor: str = LA_BASED
    hand_size: str = MEDIUM
    paper: str = "a4"
    harmony: tuple[Harmony, ...] = ()
    work: str = ""
    own: OwnFingers = NOBODYS


_PLAIN = Wishes()


def sheet(piece: Piece, moves: Sequence[Transposition], wishes: Wishes = _PLAIN) -> Document:
    """The sheet of a piece for some keys: the page as written, one section a key, then what else was wished."""
    works = [_Work.of(piece, move, wishes) for move in moves]
    room = text_height_mm(wishes.paper) - _HEADING_MM - len(works) * _SECTION_MM - _CAUTION_MM
    sections = _cautioned([_section(work, "" if at else wishes.work) for at, work in enumerate(works)])
    blocks = [*_page(piece, wishes, room), *sections]
    if wishes.blank:
        blocks += _pages([_writing(work, wishes) for work in works], wishes.paper)
    if wishes.answers:
        blocks += _pages([_answer(work, wishes) for work in works], wishes.paper)
    return Document(piece.title, tuple(blocks), FOOT)


def _cautioned(blocks: Sequence[Block]) -> list[Block]:
    """With the caution at the end, on the page of the key that stands last: it never takes a page of its own."""
    *others, last = blocks
    if isinstance(last, Together):
        return [*others, Together((*last.blocks, Text(CAUTION, "note")))]
    return [*blocks, Text(CAUTION, "note")]


def _page(piece: Piece, wishes: Wishes, room: float = 0.0) -> list[Block]:
    piece = served(piece, piece, wishes.hand_size, wishes.own)
    return music_of(piece, f"written in {piece.key.name}", wishes, room)


def music_of(piece: Piece, beside: str, wishes: Wishes = _PLAIN, room: float = 0.0) -> list[Block]:
    """A piece as it is, headed by its title, with syllables and chords where they are wished."""
    engraved = _engraved(piece, wishes.paper, _RIBBON_PX if wishes.syllables else 0, room=room)
    systems = tuple(
        laid_over(system, _written_in(piece, engraved, index, wishes), _NUMERALS_PX if wishes.harmony else 0)
        for index, system in enumerate(engraved.systems)
    )
    by = ", ".join(part for part in (piece.by, beside) if part)
    return [Heading(piece.title, 1, by), Music(systems)]


def _look(paper: str, ribbon: int = 0, staff_mm: float = STAFF_MM) -> Look:
    width = round(text_width_mm(paper) / staff_mm * _STAFF_PX)
    return Look(width_px=width, staff_px=_STAFF_PX, ink=_INK, ribbon_px=ribbon, words=True, expression=True,
                verse=0)  # fmt: skip


def _engraved(piece: Piece, paper: str, ribbon: int = 0, staff_mm: float = STAFF_MM, room: float = 0.0) -> Engraved:
    """Engraved for the width of the page; a slightly other size is taken where it spares a short last line.

    A tune within five fingers is as large as beginners' books have it, where its lines hold equally many bars and take
    no more than `room` mm.
    """
    for size in _BEGINNERS if room > 0 and level(piece) in (TRICHORD, PENTACHORD) else ():
        engraved = engrave(piece, _look(paper, ribbon, staff_mm * size))
        alike = len({sum(piece.bars[one.bar].number > 0 for one in system.bars) for system in engraved.systems}) == 1
        if alike and _is_full(engraved) and _height_mm(engraved.systems, paper, MUSIC_GAP_MM) - _HEADING_MM <= room:
            return engraved
    first: Engraved | None = None
    for size in _SIZES:
        engraved = engrave(piece, _look(paper, ribbon, staff_mm * size))
        if _is_full(engraved) or not 1 < len(engraved.systems) <= _MOST_LINES:
            return engraved
        first = first or engraved
    assert first is not None
    return first


def _is_full(engraved: Engraved) -> bool:
    """Whether the last line is not left short."""
    last = engraved.systems[-1]
    return last.bars[-1].right > _FULL * last.width


def _pages(works: Sequence[tuple[Heading, Music, float]], paper: str) -> list[Block]:
    """Headed music, as many keys to a page as there is room for whole; a long one begins a page and goes on."""
    blocks: list[Block] = []
    left = 0.0
    for heading, music, height in works:
        if height > left:
            blocks.append(NewPage())
            left = text_height_mm(paper)
        blocks += [heading, music]
        left -= height
    return blocks


def _height_mm(systems: Sequence[System], paper: str, gap: float) -> float:
    """How much of a page a heading and these systems take."""
    width = text_width_mm(paper)
    return _HEADING_MM + sum(system.height / system.width * width + gap for system in systems)


def _written_in(piece: Piece, engraved: Engraved, index: int, wishes: Wishes) -> list[str]:
    """What is written into one system: syllables under each staff, numerals under all of it."""
    system = engraved.systems[index]
    parts = _syllables(piece, system, wishes.minor) if wishes.syllables else []
    edge = 0.0
    for chord in wishes.harmony:
        at, x = engraved.place_at(piece, chord.onset)
        if at == index:
            # A numeral gives way to the one before it.
            left = max(x - 6, edge)
            said, width = numeral_drawn(chord.numeral.sign)
            edge = left + width + 5
            parts.append(
                f'<text x="{left:.1f}" y="{system.height + _NUMERALS_PX - 12:.1f}" font-family="{FACE}" '
                f'font-size="19" fill="{_INK}">{said}</text>'
            )
    return parts


def _syllables(piece: Piece, system: System, minor: str) -> list[str]:
    """The syllable of the top note of every moment under each staff; do in brass and bold."""
    tops: dict[tuple[int, object], tuple[int, float]] = {}
    for place in system.notes:
        note = piece.notes[place.note]
        at = (place.staff, note.onset)
        if not note.grace and (at not in tops or note.midi > piece.notes[tops[at][0]].midi):
            tops[at] = place.note, place.x
    parts = []
    for number, staff in enumerate(system.staves, start=1):
        if staff.ribbon is None:
            continue
        line = sorted((x, index) for (on, _), (index, x) in tops.items() if on == number)
        notes = [piece.notes[index] for _, index in line]
        words = [syllable(note.pitch, piece.key_at(note.onset), minor) for note in notes]
        widths = [_SYLLABLE_PX * sum(_WIDE.get(letter, 0.5) for letter in word) for word in words]
        air, most = _SYLLABLE_PX * _APART, _SYLLABLE_PX * _ASIDE
        for x, word in zip(drawn_apart([x for x, _ in line], widths, air, most), words, strict=True):
            look = f'fill="{BRASS}" font-weight="bold"' if word == "do" else f'fill="{GRAPHITE}"'
            parts.append(
                f'<text x="{x:.1f}" y="{staff.ribbon:.1f}" font-family="{FACE}" font-style="italic" '
                f'font-size="{_SYLLABLE_PX}" text-anchor="middle" {look}>{escape(word)}</text>'
            )
    return parts


@dataclass(frozen=True)
class _Work:
    """A piece in one of the keys, with what changes under the hands."""

    move: Transposition
    expected: Piece
    found: Changes

    @classmethod
    def of(cls, piece: Piece, move: Transposition, wishes: Wishes) -> _Work:
        expected = transposed(piece, move.interval)
        return cls(move, expected, changes(piece, expected, wishes.hand_size, wishes.own))

    @property
    def answer(self) -> Piece:
        """The piece in the key; printed fingers that no longer serve are replaced."""
        return refingered(self.expected, self.found.told)


def _section(work: _Work, asked: str) -> Block:
    move, expected = work.move, work.expected
    key = move.target
    beside = move.words if move.interval.semitones or move.interval.steps else "as written"
    blocks: list[Block] = [
        Heading(key.name, 2, f"{beside}, {signature_words(key)}"),
        *([Text(asked)] if asked else []),
        Columns(tuple((_card(key, hand),) for hand in (LEFT, RIGHT) if hand in expected.hands)),
        Text(_first_notes(expected)),
    ]
    blocks += [Text(said, "italic") for said in (move.note, beyond(expected, PIANO)) if said]
    blocks += _changed(work.found)
    blocks.append(Boxes("played on"))
    return Together(tuple(blocks))


def _card(key: Key, hand: str, width: float = _CARD_MM) -> Picture:
    position = five_finger(key, hand)
    return Picture(five_finger_card(position), width, f"{hand.capitalize()} hand: {position.words}")


def _first_notes(expected: Piece) -> str:
    said = []
    for hand in expected.hands:
        notes = [note for note in expected.notes if note.hand == hand]
        first = [note.pitch for note in notes if note.onset == notes[0].onset]
        # Two voices may begin on one key.
        names = " and ".join(dict.fromkeys(f"{pitch.sign_name}{pitch.octave}" for pitch in first))
        bar = expected.bar_at(notes[0].onset).number
        later = "" if notes[0].onset == expected.notes[0].onset else f" (bar {bar})"
        said.append(f"{hand} hand {names}{later}")
    return f"First notes: {', '.join(said)}."


def _changed(found: Changes) -> list[Block]:
    if not found.changed:
        return [Text("The fingers stay as in the written key.", "small")]
    lines: list[str] = []
    for spot in found.spots:
        bars = spot.where[0].upper() + spot.where[1:]
        stop = "" if spot.why.endswith("…") else "."
        lines.append(f"{bars}, {spot.hand} hand: {spot.why}{stop}")
    # What is repeated changes alike each time, and is said once.
    lines = list(dict.fromkeys(lines))
    more = len(lines) - _SPOTS
    if more > 0:
        lines[_SPOTS:] = [f"And {many(more, 'more place')}."]
    return [Text("Fingers that change, the costliest first:", "italic"), *(Text(line, "small") for line in lines)]


def _writing(work: _Work, wishes: Wishes) -> tuple[Heading, Music, float]:
    """Wide staves in the target key, with the bars where they stand in the answer."""
    systems = _answered(work, wishes).systems
    name = f"write it out in {work.move.target.name}"
    room = text_height_mm(wishes.paper)
    fits = (gap for gap in _WRITING_GAPS_MM if _height_mm(systems, wishes.paper, gap) <= room)
    gap = next(fits, _WRITING_GAPS_MM[0])
    staves = Music(tuple(without_notes(system) for system in systems), gap_mm=gap)
    return Heading(work.expected.title, 1, name), staves, _height_mm(systems, wishes.paper, gap)


def _answer(work: _Work, wishes: Wishes) -> tuple[Heading, Music, float]:
    systems = _answered(work, wishes).systems
    beside = f"answer: {work.move.target.name}, {work.move.words}"
    music = Music(tuple(system.svg for system in systems))
    return Heading(work.expected.title, 1, beside), music, _height_mm(systems, wishes.paper, MUSIC_GAP_MM)


def _answered(work: _Work, wishes: Wishes) -> Engraved:
    room = text_height_mm(wishes.paper) / 2 - _HEADING_MM  # Two keys share a page.
    return _engraved(work.answer, wishes.paper, staff_mm=_WRITING_MM if wishes.blank else STAFF_MM, room=room)


def booklet(route: Route, piece: Piece | None = None, only: str | None = None, wishes: Wishes = _PLAIN) -> Document:
    """The whole path as a booklet: every key in the order it is opened, with its cards and boxes to date.

    Parameters
    ----------
    piece : Piece, optional
        Printed first and played in every key of its mode on its level's path; without it, five-finger patterns.
    only : str, optional
        One level of the path.
    """
    if piece is not None:
        only = level(piece)
    blocks: list[Block] = []
    if piece is not None:
        blocks += _page(piece, wishes)
    else:
        blocks.append(Heading("The path", 1, f"{only} level" if only else "all levels"))
        blocks.append(Text("Keys in the order they are opened, one after the other. Put a date in a box each time."))
    for name in LEVELS:
        if only is not None and name != only:
            continue
        if piece is None and only is None:
            blocks += [*([NewPage()] if name != LEVELS[0] else []), Heading(f"{name.capitalize()} level", 1)]
        blocks += _stretches(route, name, piece, wishes)
    blocks = _cautioned(blocks)
    title = f"{piece.title}: the path" if piece else "The path"
    return Document(title, tuple(blocks), FOOT)


def _stretches(route: Route, name: str, piece: Piece | None, wishes: Wishes) -> list[Block]:
    by_reason: dict[str, list[Key]] = {}
    for step in route.steps:
        if step.level == name:
            keys = [Key.parse(short) for short in step.keys]
            by_reason.setdefault(step.reason, []).extend(k for k in keys if piece is None or k.mode == piece.key.mode)
    blocks: list[Block] = []
    for reason, keys in by_reason.items():
        fresh = list(dict.fromkeys(keys))
        if not fresh:
            continue
        head = Heading(reason[:1].upper() + reason[1:], 2)
        first, *others = [_entry(key, name, piece, wishes) for key in fresh]
        blocks += [Together((head, first)), *others]
    # The last key of a level does not stand on a page alone.
    return [*blocks[:-2], Together(tuple(blocks[-2:]))] if blocks else []


def _entry(key: Key, name: str, piece: Piece | None, wishes: Wishes) -> Block:
    if piece is not None:
        move = plan(piece.key, key.short)
        beside = f"{move.words}, {signature_words(key)}"
    else:
        beside = signature_words(key)
    columns: list[tuple[Block, ...]] = [(_card(key, hand, _BOOKLET_CARD_MM),) for hand in (LEFT, RIGHT)]
    widths: tuple[float, ...] = ()
    if piece is None:
        # Cards and pattern in one row, so that four keys find room on a page.
        pattern_mm = text_width_mm(wishes.paper) - 2 * (_BOOKLET_CARD_MM + GUTTER_MM)
        look = Look(round(pattern_mm / _PATTERN_STAFF_MM * _STAFF_PX), _STAFF_PX, _INK)
        engraved = engrave(pattern(_PATTERNS[name], key, BOTH), look)
        columns.append((Music(tuple(system.svg for system in engraved.systems)),))
        widths = (_BOOKLET_CARD_MM, _BOOKLET_CARD_MM, pattern_mm)
    return Together((Heading(key.name, 3, beside), Columns(tuple(columns), widths), Boxes("played on", 6)))
