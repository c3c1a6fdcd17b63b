"""The row of chords under a system: degree and function, the same in every key; a song's symbols in the key to play."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from pygame import Rect

from trainer.music.chordsymbol import transposed_symbol
from trainer.music.piece import Piece
from trainer.music.pitch import Interval
from trainer.scores.harmony import Correction, Harmony, corrected
from trainer.window.page.music import Score
from trainer.window.paint import fonts
from trainer.window.paint.canvas import OVER, Canvas

# Of the window's height: the text of the row; of that, the height of the row and the air between neighbours.
SIZE = 1 / 38
_ROW = 1.35
_APART = 0.4
_WORD = 0.86
_RAISED = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")
_LOWERED = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")
_FIGURES = re.compile(r"(\d)(\d?)")
# Chords as they are found, and what the player has said of them.
Found = tuple[tuple[Harmony, ...], tuple[Correction, ...]]


def height(window_height: int) -> int:
    """Pixels the row takes under a system."""
    return round(window_height * SIZE * _ROW)


def stacked(sign: str) -> str:
    """A numeral with its figures as they are printed, the upper raised and the lower below.

    >>> stacked("V65/V"), stacked("vii°7"), stacked("ii6"), stacked("♭VI")
    ('V⁶₅/V', 'vii°⁷', 'ii⁶', '♭VI')
    """
    return _FIGURES.sub(lambda found: found[1].translate(_RAISED) + found[2].translate(_LOWERED), sign)


@dataclass(frozen=True, slots=True)
class Entry:
    """One chord of the row.

    Parameters
    ----------
    symbol : str
        The chord by name in the key to play, for a song with printed symbols; else empty.
    degree, function : str
    x : float
        In pixels of the system's picture.
    own : bool
        Said by the player: underlined.
    """

    symbol: str
    degree: str
    function: str
    x: float
    own: bool = False


def entries(score: Score, found: Sequence[Harmony], at: int, interval: Interval) -> list[Entry]:
    """The chords of one system, from left to right."""
    named = bool(score.piece.chords)
    row = []
    for chord in (one for one in found if score.holds(one.onset)):
        system, x = score.engraved.place_at(score.piece, chord.onset)
        if system == at:
            symbol = transposed_symbol(chord.symbol, interval) if named else ""
            row.append(Entry(symbol, stacked(chord.numeral.sign), chord.numeral.function, x, chord.corrected))
    return row


class Chords:
    """The chords of the piece on the stand, asked for once a piece and never waited for.

    Parameters
    ----------
    ask : callable
        Given a piece and what to call with its chords as they are found and what the player has said of them.
    """

    def __init__(self, ask: Callable[[Piece, Callable[[Found], None]], None]) -> None:
        self._ask = ask
        self._piece: Piece | None = None
        # As they are found, without what the player has said of them.
        self._plain: tuple[Harmony, ...] = ()
        self.found: tuple[Harmony, ...] | None = None

    def of(self, piece: Piece) -> tuple[Harmony, ...]:
        """The chords as far as they are known: none until they have been found."""
        if self._piece is not piece:
            self._piece, self.found = piece, None

            def done(found: Found) -> None:
                if self._piece is piece:
                    self._plain = found[0]
                    self.put(piece, found[1])

            self._ask(piece, done)
        return self.found or ()

    def put(self, piece: Piece, said: Sequence[Correction]) -> None:
        """All that the player has said of the chords stands above what was found."""
        if self._piece is piece:
            self.found = corrected(self._plain, said)


def _letter(function: str) -> str:
    """A function by its letter, T, S or D, where its word has no room; an applied chord has none."""
    return "" if " " in function else function[:1].upper()


def lay(canvas: Canvas, at: int, row: Sequence[Entry], corner: tuple[int, int], size: tuple[int, int]) -> None:
    """Lay the row under a system's picture of some size; a word of function only where it has room."""
    text = canvas.size[1] * SIZE / canvas.unit
    pixels = canvas.size[1] * SIZE
    top, high = corner[1] + size[1], height(canvas.size[1])
    edge = corner[0]
    for number, one in enumerate(row):
        left = max(round(corner[0] + one.x - pixels * 0.4), edge)
        following = row[number + 1].x if number + 1 < len(row) else size[0]
        right = round(corner[0] + following - pixels * (0.4 + _APART))
        parts = [("symbol", one.symbol, fonts.BOLD, 1.0, "ink"), ("degree", one.degree, fonts.ROMAN, 1.0, "ink"),
                 ("function", one.function, fonts.ITALIC, _WORD, "graphite")]  # fmt: skip
        for name, words, style, share, tone in parts:
            wide = canvas.width(words, style, text * share) if words else 0
            optional = name == "function" or (name == "degree" and bool(one.symbol))
            if name == "function" and left + wide > right:
                words, wide = _letter(words), canvas.width(_letter(words), style, text * share)
            if not words or (optional and left + wide > right):
                continue
            place = Rect(left, top, wide + 2, high)
            canvas.words(f"chord.{at}.{number}.{name}", place, words, style=style, size=text * share, colour=tone,
                         least=1.0)  # fmt: skip
            if name == "degree" and one.own:
                line = Rect(left, top + round(high * 0.92), wide, max(2, round(pixels * 0.07)))
                canvas.fill(f"chord.{at}.{number}.own", line, "blue", OVER)
            left += wide + round(pixels * _APART)
        edge = left
