"""The ribbon of syllables under each staff: aligned to the heads, never over notes, slurs or ledger lines.

Where the ink of the engraving is, is asked of the picture itself: a line of syllables lies in the first row of pixels
that is free for all of them, and a syllable that still meets ink moves on its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy
from numpy.typing import ArrayLike, NDArray
from pygame import Rect

from trainer.music.piece import LEFT, Piece
from trainer.music.solfege import HELPS, degree_label, do_of, syllable
from trainer.scores.engraving.drawing import drawn_apart
from trainer.window.paint import fonts
from trainer.window.strings import letter_name

ALL, FIRST_OF_BAR, ONLY_DO, _ = HELPS

# Of the text size: least air between neighbours (that between words, so that two are not read as one), air for which
# they draw apart, and how far a syllable may leave its head for it.
_APART, _WISHED = 0.26, 0.32
_ASIDE = 0.24
# Sizes tried for a bar whose syllables have not that air, before any is left out (ours).
_SHARES = (0.94, 0.88, 0.82, 0.76)
# In a system the smallest are so much of the largest at least: a reader takes them for one size (ours).
_EVEN = 0.88
# Pixels that rounding may take.
_HAIR = 0.01
# Of the text size: height of a syllable's box, and of its letters above the baseline.
HEIGHT = 0.94
RISE = 0.72

Mask = numpy.ndarray[tuple[int, int], numpy.dtype[numpy.bool_]]


@dataclass(frozen=True, slots=True)
class Syllable:
    """One syllable under a staff, before it has a place: note, words, whether it is do, centre of its head, text size
    in pixels.
    """

    note: int
    text: str
    is_do: bool
    x: float
    size: float


@dataclass(frozen=True, slots=True)
class Placed:
    """A syllable on the page: note, words, whether it is do, its box in pixels of the system's picture, as high as its
    line is, and its own text size.
    """

    note: int
    text: str
    is_do: bool
    rect: Rect
    size: float


def words(piece: Piece, expected: Piece, index: int, syllables: str, letters: str) -> tuple[str, bool]:
    """What the ribbon says of a note, and whether the note is do."""
    note = piece.notes[index]
    key = piece.key_at(note.onset)
    minor = "do" if syllables == "do" else "la"
    do = do_of(key, minor)
    is_do = (note.pitch.fifths - do.fifths) == 0
    if syllables == "numbers":
        return degree_label(note.pitch, key), is_do
    if syllables == "letters":
        return letter_name(expected.notes[index].pitch, letters), is_do
    return syllable(note.pitch, key, minor), is_do


def chosen(piece: Piece, notes: Sequence[int], help_level: str) -> list[int]:
    """Of the notes on one staff of a system, those that get a syllable: one a moment and hand, as far as help goes.

    Of a chord the right hand's highest and the left hand's lowest note is named; ties and grace notes are not.
    """
    by_onset: dict[object, list[int]] = {}
    for index in notes:
        if not piece.notes[index].grace:
            by_onset.setdefault(piece.notes[index].onset, []).append(index)
    named = []
    for together in by_onset.values():
        lowest = piece.notes[together[0]].hand == LEFT
        named.append((min if lowest else max)(together, key=lambda i: piece.notes[i].midi))
    if help_level == FIRST_OF_BAR:
        seen: set[int] = set()
        first = []
        for index in named:
            bar = piece.bar_index(piece.notes[index].onset)
            if bar not in seen:
                seen.add(bar)
                first.append(index)
        return first
    return named if help_level in (ALL, ONLY_DO) else []


def _wide(one: Syllable) -> float:
    return fonts.width(one.text, fonts.ITALIC, one.size)


def _touch(before: Syllable, after: Syllable) -> bool:
    """Whether two neighbours lie so close that they read as one word."""
    air = max(before.size, after.size) * _APART
    return after.x - before.x < (_wide(before) + _wide(after)) / 2 + air - _HAIR


def _spread(line: list[Syllable], size: float) -> list[Syllable]:
    """Neighbours that could be read as one word draw apart, each by a little: so the closest notes keep theirs."""
    widths = [_wide(one) for one in line]
    places = drawn_apart([one.x for one in line], widths, size * _WISHED, size * _ASIDE)
    return [replace(one, x=x) for one, x in zip(line, places, strict=True)]


def shrunk(line: list[Syllable], size: float, piece: Piece) -> list[Syllable]:
    """Bars in which neighbours would read as one word though they draw apart have theirs in smaller letters."""
    bars = [piece.bar_index(piece.notes[one.note].onset) for one in line]
    for share in _SHARES:
        apart = _spread(line, size)
        tight = {bars[end] for at in range(len(line) - 1) if _touch(*apart[at : at + 2]) for end in (at, at + 1)}
        line = [replace(one, size=share * size) if bar in tight else one for one, bar in zip(line, bars, strict=True)]
    return line


def evened(lines: Sequence[list[Syllable]]) -> list[list[Syllable]]:
    """The lines of one system, the large hardly larger than the small: else one bar looks louder than the next."""
    most = min((one.size for line in lines for one in line), default=0.0) / _EVEN
    return [[replace(one, size=min(one.size, most)) for one in line] for line in lines]


def thinned(line: list[Syllable], size: float, piece: Piece) -> list[Syllable]:
    """Syllables that would touch their neighbour draw apart or leave, off the beat first; do stays.

    `size` is the text size of the line in pixels.
    """

    def weight(one: Syllable) -> int:
        beat = piece.beat_at(piece.notes[one.note].onset)
        return (2 if one.is_do else 0) + (2 if beat == 1 else 1 if beat.denominator == 1 else 0)

    kept: list[Syllable] = []
    for one in _spread(line, size):
        while kept and _touch(kept[-1], one) and weight(kept[-1]) < weight(one):
            kept.pop()
        if not kept or not _touch(kept[-1], one):
            kept.append(one)
    return kept


def placed(line: list[Syllable], mask: Mask, top: int, floor: int, baseline: float, size: float) -> list[Placed]:
    """Give every syllable a box in the picture.

    Parameters
    ----------
    mask : array (width, height) of bool
        Where the picture has ink.
    top, floor : int
        Rows between which the line may lie.
    baseline : float
        Where the engraver kept room for the line.
    size : float
        Text size of the line in pixels.
    """
    if not line:
        return []
    high = box_height(size)
    spans = []
    for one in line:
        half = _wide(one) / 2
        spans.append((max(0, int(one.x - half)), min(mask.shape[0], int(one.x + half) + 1)))
    inked = [mask[left:right].any(axis=0) for left, right in spans]
    rows = range(top, max(top + 1, floor - high + 1))
    filled = numpy.stack([_window(rows_inked, high) for rows_inked in inked])
    wished = round(baseline - size * RISE)
    free = [int(filled[:, row].sum()) if row < filled.shape[1] else len(line) for row in rows]
    row = min(rows, key=lambda r: (free[r - top], abs(r - wished)))
    found: list[Placed] = []
    for number, (one, (left, right), blocked) in enumerate(zip(line, spans, filled, strict=True)):
        own, aside = row, 0
        if row < blocked.shape[0] and blocked[row]:
            air = round(one.size * _APART)
            before = found[-1].rect.right + air if found else 0
            after = spans[number + 1][0] - air if number + 1 < len(spans) else mask.shape[0]
            own, aside = _own_place(mask, (left, right), (before, after), rows, row, high, size)
        found.append(Placed(one.note, one.text, one.is_do, Rect(left + aside, own, right - left, high), one.size))
    return found


def box_height(size: float) -> int:
    """Pixels a syllable takes from the top of its tall letters to the foot of its tails."""
    return round(size * HEIGHT)


def _own_place(
    mask: Mask, span: tuple[int, int], between: tuple[int, int], rows: range, row: int, high: int, size: float
) -> tuple[int, int]:
    """The free place nearest to the line's row: another row, or a little to the side. The line's own when none is.

    To the side it goes only as far as the syllables `between` which it stands.
    """
    left, right = span
    step = max(1, round(size * 0.12))
    for aside in (0, step, -step, 2 * step, -2 * step, 3 * step, -3 * step):
        if aside and not (between[0] <= left + aside and right + aside <= between[1]):
            continue
        blocked = _window(mask[max(0, left + aside) : right + aside].any(axis=0), high)
        near = sorted((r for r in rows if r < blocked.shape[0] and not blocked[r]), key=lambda r: abs(r - row))
        if near and (aside == 0 or abs(near[0] - row) < high):
            return near[0], aside
    return row, 0


def _window(inked: ArrayLike, high: int) -> NDArray[numpy.bool_]:
    """For every row, whether any of the `high` rows from it on has ink."""
    sums = numpy.concatenate(([0], numpy.cumsum(inked)))
    found: NDArray[numpy.bool_] = sums[high:] > sums[:-high]
    return found
