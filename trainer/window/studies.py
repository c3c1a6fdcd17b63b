"""Jobs of the second process that look into a piece: its chords, drills made from it, its sheet. Nothing here draws."""

from __future__ import annotations

import re
import secrets
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.music.piece import Piece
from trainer.music.transpose import Transposition

if TYPE_CHECKING:
    from trainer.scores.harmony import Correction, Harmony
    from trainer.window.settings import Settings

# What a file may not be called by, on one system or another.
_FORBIDDEN = re.compile(r'[\\/:*?"<>|\x00-\x1f]+')
_LONGEST_NAME = 120


def chords_of(piece: Piece, folder: str) -> tuple[Harmony, ...]:
    """The chords of a piece, the player's own corrections (``harmony.toml`` in the folder) above what is found."""
    from trainer.coaching import corrections
    from trainer.scores.harmony import harmonies

    return harmonies(piece, corrections.load(Path(folder), piece))


def chords_with(piece: Piece, folder: str, change: Correction) -> tuple[Harmony, ...]:
    """Keep a correction of the player's (with an empty figure: take it away); the chords as they are then."""
    from trainer.coaching import corrections

    corrections.keep(Path(folder), piece, change)
    return chords_of(piece, folder)


def skeleton_at(path: str, folder: str) -> Piece:
    """Only the harmony of the piece in a file: bass and close chords; no symbols, which would name the written key."""
    from trainer.scores.harmony import skeleton
    from trainer.scores.reading import read

    piece = read(path)
    return replace(skeleton(piece, chords_of(piece, folder)), chords=())


def clef_line(move: Transposition, hand: str) -> Piece:
    """A fresh line to be read in the clef that a move asks for."""
    from trainer.coaching.clefdrill import clef_drill

    return clef_drill(move, secrets.randbelow(2**31), hand=hand)[1]


def printed(path: str, move: Transposition, folder: str, wished: Settings) -> str:
    """Set a piece on paper for one key, with what the settings name of a sheet; the path of the PDF.

    `folder` is the journal's, where corrected chords are kept.
    """
    from trainer.coaching.sheets import Wishes, sheet
    from trainer.scores.printing import save
    from trainer.scores.reading import read
    from trainer.window.sheetfolder import folder_of

    into = folder_of(wished.sheets)
    piece = read(path)
    wishes = Wishes(
        wished.sheet_syllables, wished.sheet_answers, wished.sheet_blank, wished.minor, wished.hand_size, wished.paper,
        chords_of(piece, folder) if wished.sheet_chords else (),
    )  # fmt: skip
    name = _FORBIDDEN.sub("-", f"{piece.title} - {move.target.name}")[:_LONGEST_NAME].strip(" .")
    place = into / f"{name}.pdf"
    save(sheet(piece, (move,), wishes), place, wished.paper)
    return str(place)
