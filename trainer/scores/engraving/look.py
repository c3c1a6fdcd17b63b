"""How a page is to look."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

# Raised whenever the same piece and look would come out differently.
MAKE = 45


@dataclass(frozen=True)
class Look:
    """How a page is to look.

    Parameters
    ----------
    width_px : int
        Width of a system.
    staff_px : float
        Height of a staff, outer line to outer line; taken to the nearest multiple of 4, so that every line falls on
        whole pixels.
    ink : str
        ``#RRGGBB`` of everything drawn; the paper is transparent.
    ribbon_px : float
        Height of the syllable text that must find room under each staff; 0 for none.
    fingers, chords, words, bar_numbers : bool
        The words are those of a song; where its melody is not played, the voice's staff comes with them.
    expression : bool
        Slurs, articulations, fermatas, dynamics.
    colours : dict of note index to ``#RRGGBB``
    ending : bool
        Close with the final barline; not for a passage.
    stacked : bool
        Print the fingers of all notes of a chord; else only that of its outer note, so that systems are less tall.
    verse : int
        Of the verses under the same music, by their rows from 1; 0 for all.
    own : set of note index
        Notes whose finger is printed whatever else of a chord is.
    """

    width_px: int
    staff_px: float
    ink: str = "#1F1B16"
    ribbon_px: float = 0.0
    fingers: bool = True
    chords: bool = True
    words: bool = False
    bar_numbers: bool = True
    expression: bool = False
    colours: Mapping[int, str] = field(default_factory=dict)
    ending: bool = True
    stacked: bool = True
    verse: int = 1
    own: frozenset[int] = frozenset()
