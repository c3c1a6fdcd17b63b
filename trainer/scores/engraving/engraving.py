"""Piece to pictures: each system on its own, with the place of every note, staff and bar in it.

verovio lays the music out, resvg_py draws it. verovio is not thread-safe and keeps the interpreter while it works, so
a window asks for pages in a process of its own; pieces, looks and what comes back can all be pickled.
"""

from __future__ import annotations

import json
from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property, lru_cache
from operator import attrgetter
from threading import Lock
from typing import Any

from trainer.music.packed import packed
from trainer.music.passage import passage
from trainer.music.piece import LEFT, Piece
from trainer.scores import cache
from trainer.scores.engraving.breaking import broken, evened, filled, widest
from trainer.scores.engraving.fingerstacks import unstacked
from trainer.scores.engraving.look import MAKE, Look
from trainer.scores.engraving.picturing import picture
from trainer.scores.engraving.svg import systems_of
from trainer.scores.engraving.systems import Place, Staff, System
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.notation.elements import staff_size
from trainer.scores.notation.preparing import VOICE_SIZE, Print

_VEROVIO = Lock()
_DOCUMENTS: deque[tuple[Piece, Print, str]] = deque(maxlen=3)
# A word of middling width that has to find room under every note. For the widest, verovio drives all notes of a bar
# apart but the first, so that equal notes stand unequally; wider syllables draw apart by themselves.
_RIBBON_WORD = "so"
# The finger every printed one is while the piece is laid out.
_ANY_FINGER = 4
# Verovio's way of breaking lines, and of the width what a last system must fill to be drawn out to its end.
_AS_FULL = ("auto", 0.6)
_AS_TOLD = ("line", 0.3)
_AS_ONE = ("none", 0.3)
# Sizes of the words of a song, as shares of the usual, the first that has room.
_WORD_SHARES = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5)
# A bar no wider than this, beside the same bar with the smallest words, is kept wide by its notes.
_AS_WIDE = 1.02
# Left and right of a page, in verovio's units.
_MARGINS = (40, 12)


@dataclass(frozen=True)
class Engraved:
    """A piece laid out in systems.

    Parameters
    ----------
    systems : tuple of System
        From first to last; coordinates are pixels in the system's own picture.
    look : Look
    """

    systems: tuple[System, ...]
    look: Look

    @cached_property
    def places(self) -> dict[int, Place]:
        """Where each note stands, by its index in `Piece.notes`."""
        return {place.note: place for system in self.systems for place in system.notes}

    @cached_property
    def _first_bars(self) -> list[int]:
        return [system.bars[0].bar for system in self.systems]

    @cached_property
    def _found(self) -> dict[int, list[tuple[Fraction, float]]]:
        """Anchors of the systems asked for so far."""
        return {}

    def system_of_bar(self, bar: int) -> int:
        """Index of the system that holds the bar at this index of `Piece.bars`."""
        return max(bisect_right(self._first_bars, bar) - 1, 0)

    def place_at(self, piece: Piece, onset: Fraction) -> tuple[int, float]:
        """System index and x of a place in the music, between notes by proportion; `piece` is the one engraved."""
        bar = piece.bar_index(onset)
        index = self.system_of_bar(bar)
        if index not in self._found:
            self._found[index] = self._anchors(piece, index)
        anchors = self._found[index]
        onsets = [at for at, _ in anchors]
        place = max(min(bisect_right(onsets, onset) - 1, len(anchors) - 2), 0)
        if len(anchors) == 1:
            return index, anchors[0][1]
        (left_at, left), (right_at, right) = anchors[place], anchors[place + 1]
        part = float((onset - left_at) / (right_at - left_at)) if right_at > left_at else 0.0
        return index, left + (right - left) * min(max(part, 0.0), 1.0)

    def _anchors(self, piece: Piece, index: int) -> list[tuple[Fraction, float]]:
        """Onsets with their x in one system: the leftmost full-size head of each moment, and the system's end."""
        system = self.systems[index]
        found: dict[Fraction, float] = {}
        for place in system.notes:
            note = piece.notes[place.note]
            if not note.grace:
                found[note.onset] = min(found.get(note.onset, place.x), place.x)
        last = system.bars[-1]
        end = piece.bars[last.bar].onset + piece.bars[last.bar].length
        found.setdefault(end, last.right)
        first = piece.bars[system.bars[0].bar].onset
        found.setdefault(first, system.music_left)
        return sorted(found.items())

    def png(self, index: int) -> bytes:
        """The picture of one system, PNG with transparent paper; drawn once and kept."""
        return picture(self.systems[index].svg, self.systems[index].width)


def engrave(piece: Piece, look: Look) -> Engraved:
    """Lay the piece out. Slow the first time (about 20 ms a page, more for dense music): call it off the play path."""
    known = kept(piece, look)
    if known is not None:
        return known
    look, piece, fingers = _settled(look, piece)
    drawn = _worded(piece, look) if _is_worded(piece, look) else _shared_out(piece, look)
    engraved = Engraved(unstacked(drawn, piece), look)
    cache.keep(_name(piece, look), _packed(engraved))
    return _fingered(engraved, fingers)


def kept(piece: Piece, look: Look) -> Engraved | None:
    """The piece as it was laid out before and kept on disk; None when it must be laid out."""
    look, piece, fingers = _settled(look, piece)
    found = cache.fetch(_name(piece, look))
    try:
        return None if found is None else _fingered(_unpacked(found, look), fingers)
    except (KeyError, TypeError, ValueError):
        return None  # an entry of another make


def _name(piece: Piece, look: Look) -> str:
    signs = [look.bar_numbers, look.fingers, look.chords, look.words, look.expression, look.ending, look.verse]
    # Verovio's lengths are shares of a staff: twice as large on twice as wide a page they are the same.
    options = [MAKE, look.staff_px, look.ink, sorted(look.colours.items()), *signs]
    return cache.name_for("engraved", json.dumps([packed(piece), options, _options(look, _AS_FULL)]))


def stretch(piece: Piece, look: Look, bars: tuple[int, int], begins: Iterable[int] = ()) -> Engraved:
    """The systems from one bar to another, by their indices, as they stand in the whole piece, from these bars alone;
    broken where they are full or, if told, where systems begin.

    The one that ends with these bars is left out unless the piece ends there: it goes on. So is the first unless the
    piece begins there: it says the meter again. Not where words say how wide bars are, and not for systems that will
    share their bars with the last.
    """
    first, last = bars
    cut = passage(piece, bars)
    before = bisect_left(piece.notes, piece.bars[first].onset, key=attrgetter("onset"))
    line = (index - before for index in piece.voice_line)
    cut = replace(cut, voice_line=tuple(index for index in line if 0 <= index < len(cut.notes)))
    own, colours = (frozenset(i - before for i in look.own), {i - before: one for i, one in look.colours.items()})
    shown, cut, fingers = _settled(replace(look, own=own, colours=colours), cut)
    laid = unstacked(_drawn(cut, shown, frozenset(bar - first for bar in begins if first < bar <= last)), cut)
    kept_ = laid[first > 0 : len(laid) - (last + 1 < len(piece.bars))]
    return Engraved(tuple(one.fingered(fingers).moved(before, first) for one in kept_), in_pixels(look))


def heights(piece: Piece, look: Look) -> list[float]:
    """How tall the systems are, in pixels, before the last of them share their bars: what a piece needs at this size,
    found in less than half the time of `engrave`.
    """
    look, piece, _ = _settled(look, piece)
    laid = _worded(piece, look) if _is_worded(piece, look) else _drawn(piece, look, drawings=False)
    return [system.height for system in laid]


def in_pixels(look: Look) -> Look:
    """A look with staves of whole pixels, as pages are laid out."""
    return replace(look, staff_px=max(4 * round(look.staff_px / 4), 8))


def _settled(look: Look, piece: Piece) -> tuple[Look, Piece, dict[int, int]]:
    """A look in whole pixels; the piece with the fingers it shows, all the same; and which they are, by note.

    A finger takes the same room whichever it is, so that a page with other ones need not be laid out anew.
    """
    look = in_pixels(look)
    shown = piece if look.stacked else _outer_fingers(piece, look.own)
    fingers = {i: note.finger for i, note in enumerate(shown.notes) if note.finger}
    if not fingers:
        return look, shown, fingers
    notes = (replace(note, finger=_ANY_FINGER) if note.finger else note for note in shown.notes)
    return look, replace(shown, notes=tuple(notes)), fingers


def _fingered(engraved: Engraved, fingers: Mapping[int, int]) -> Engraved:
    return Engraved(tuple(system.fingered(fingers) for system in engraved.systems), engraved.look)


def _is_worded(piece: Piece, look: Look) -> bool:
    """Whether the words of a song say how wide its bars are: where syllables have their row, that keeps its height."""
    return look.words and not look.ribbon_px and bool(piece.lyrics or any(singer.words for singer in piece.singers))


def _shared_out(piece: Piece, look: Look) -> tuple[System, ...]:
    """The systems, the last of which share their bars."""
    laid = _drawn(piece, look, drawings=False)
    begins = evened(laid)
    shared = _drawn(piece, look, begins) if begins else ()
    return shared if len(shared) == len(laid) else _drawn(piece, look)


def _worded(piece: Piece, look: Look) -> tuple[System, ...]:
    """The systems of a song, none narrower than its words and notes want.

    Where words make a bar too wide for the page they are smaller, as far as that helps.
    """

    def in_one(share: float) -> System:
        return _drawn(piece, look, words=share, breaking=_AS_ONE)[0]

    line, share = in_one(_WORD_SHARES[0]), _WORD_SHARES[0]
    room = look.width_px - (line.music_left - line.left) - sum(_MARGINS) / 18 * look.staff_px / 4
    if widest(line) > room:
        least = max(room, widest(in_one(_WORD_SHARES[-1])) * _AS_WIDE)
        for share in _WORD_SHARES:
            line = in_one(share)
            if widest(line) <= least:
                break
    return _drawn(piece, look, filled(line, room), words=share)


def _outer_fingers(piece: Piece, own: frozenset[int]) -> Piece:
    """Of the fingers of a chord that of its outer note alone, the right hand's highest, the left hand's lowest; and of
    the notes `own`.
    """
    outer: dict[tuple[str, Fraction], int] = {}
    for note in piece.notes:
        if note.finger and not note.grace:
            place, choose = (note.hand, note.onset), min if note.hand == LEFT else max
            outer[place] = choose(note.midi, outer.get(place, note.midi))
    fewer = (
        note
        if note.grace or i in own or note.midi == outer.get((note.hand, note.onset))
        else replace(note, finger=None)
        for i, note in enumerate(piece.notes)
    )
    return replace(piece, notes=tuple(fewer))


def _drawn(
    piece: Piece,
    look: Look,
    begins: frozenset[int] = frozenset(),
    words: float = 0.0,
    breaking: tuple[str, float] = _AS_FULL,
    drawings: bool = True,
) -> tuple[System, ...]:
    """The systems, broken where they are full or, if told, before these bars; `words`: see `_options`.

    A singer's staff that rests through a system is left out of it, but where the piano's would be, too.
    """
    document = broken(_document(piece, _printing(look, bool(piece.sung))), begins)
    rules = _AS_TOLD if begins else breaking

    def laid(condensed: bool) -> tuple[System, ...]:
        pages = _rendered(document, json.dumps(_options(look, rules, words, condensed)))
        return tuple(systems_of(pages, look.staff_px, look.ink, look.bar_numbers, look.ribbon_px, drawings))

    if look.words and piece.sung:
        found = laid(condensed=True)
        if len({sum(staff.sung is None for staff in system.staves) for system in found}) == 1:
            return found
    return laid(condensed=False)


def _document(piece: Piece, printing: Print) -> str:
    """As MusicXML; the newest are kept, for a page is laid out more than once until its systems are well. Of staves of
    another size only how small the voice's are beside them is another.
    """
    size, printing = printing.voice_size, replace(printing, voice_size=VOICE_SIZE)
    # Whether a line says its octave is no part of what makes two pieces equal, but of its clef.
    same = (
        document for known, printed, document in tuple(_DOCUMENTS)
        if printed == printing and known == piece and known.at_pitch == piece.at_pitch
    )  # fmt: skip
    document = next(same, "")
    if not document:
        document = to_musicxml(piece, printing)
        _DOCUMENTS.append((piece, printing, document))
    return document if size == VOICE_SIZE else document.replace(staff_size(VOICE_SIZE), staff_size(size))


def _printing(look: Look, sung: bool) -> Print:
    space = look.staff_px / 4
    # The voice's lines, too, stand whole pixels apart: else they would be drawn unevenly.
    voice = 100 * int(space * VOICE_SIZE / 100 + 0.5) / space if sung else VOICE_SIZE
    ribbon = _RIBBON_WORD if look.ribbon_px else ""
    shown = look.fingers, look.chords, look.words, look.colours, look.expression, look.ending
    return Print(ribbon, *shown, round(voice), look.verse)


# The newest are kept: where no systems share their bars, what was measured is drawn.
@lru_cache(maxsize=2)
def _rendered(document: str, options: str) -> tuple[str, ...]:
    """verovio's SVG pages; `options` as JSON."""
    import verovio

    with _VEROVIO:
        verovio.enableLog(verovio.LOG_OFF)
        toolkit = verovio.toolkit()
        toolkit.setOptions(json.loads(options))
        if not toolkit.loadData(document):
            raise RuntimeError("verovio did not take the document")  # our own document: a fault of ours
        return tuple(str(toolkit.renderToSVG(page)) for page in range(1, toolkit.getPageCount() + 1))


def _options(look: Look, breaking: tuple[str, float], words: float = 0.0, condensed: bool = False) -> dict[str, Any]:
    """verovio's options; lengths in its units, half a staff space each (9 of its page units).

    `words` of a song are to be so large, as a share of the usual, and no bar is pressed for them; 0 for no such care.
    `condensed`: staves that rest through a system are left out of it.
    """
    space = look.staff_px / 4

    def hairline(spaces: float) -> float:
        """A thickness of whole pixels near so many staff spaces."""
        return max(round(spaces * space), 1) / space * 2

    # Fingerings are sized by the lyrics too, so without a ribbon the lyrics keep their usual size.
    ribbon = min(max(look.ribbon_px / space * 2, 2.0), 8.0) if look.ribbon_px else 4.5
    return {
        "pageWidth": max(round(look.width_px * 18 / space), 100),
        "pageHeight": 60000,
        "adjustPageHeight": True,
        "pageMarginTop": 60,
        "pageMarginBottom": 60,
        "pageMarginLeft": _MARGINS[0],
        "pageMarginRight": _MARGINS[1],
        "breaks": breaking[0],
        # A last bar is not pressed into the system before when it has words.
        "breaksNoWidow": not words,
        "minLastJustification": breaking[1],
        "header": "none",
        "footer": "none",
        "svgFormatRaw": True,
        "svgAdditionalAttribute": ["verse@n", "staff@n", "grpSym@symbol", "fing@startid"],
        "xmlIdSeed": 1,
        "spacingStaff": 10,
        "spacingBraceGroup": 10,
        "spacingBracketGroup": 10,
        "systemDivider": "none",
        "condense": "all" if condensed else "none",
        "condenseFirstPage": True,
        "spacingSystem": 12,
        "spacingNonLinear": 0.55,
        "spacingLinear": 0.28,
        "measureMinWidth": 18,
        "lyricSize": ribbon * (words or 1.0),
        "lyricWordSpace": 2.0 if words else 1.2,
        "lyricTopMinMargin": 2.5,
        "lyricNoStartHyphen": True,
        "barLineWidth": min(hairline(0.16), 0.8),
        "staffLineWidth": min(hairline(0.12), 0.3),
        "stemWidth": min(hairline(0.12), 0.5),
        "fingeringScale": 0.75 / (words or 1.0),
    }


def _packed(engraved: Engraved) -> Any:
    return [system.plain() for system in engraved.systems]


def _unpacked(kept: Any, look: Look) -> Engraved:
    return Engraved(tuple(System.from_plain(system) for system in kept), look)


__all__ = [
    "MAKE", "Engraved", "Look", "Place", "Staff", "System", "engrave", "heights", "in_pixels", "kept", "stretch",
]  # fmt: skip
