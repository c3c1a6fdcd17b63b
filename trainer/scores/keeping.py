"""Music the player brings along, kept among their own pieces so that it is there the next day."""

from __future__ import annotations

import os
from itertools import count
from pathlib import Path
from typing import NamedTuple

from trainer.music.piece import Piece
from trainer.music.pitch import MusicError
from trainer.scores import guarding
from trainer.scores.library import ENDINGS, bundled_folder, music_files, own_folder
from trainer.scores.plain import write_whole
from trainer.scores.reading import read

# What a file whose name has no ending of music is called: the shelf looks at those that have one.
_ENDINGS = {guarding.MUSICXML: ".musicxml", guarding.MIDI: ".mid", guarding.ABC: ".abc", guarding.HUMDRUM: ".krn"}


class Brought(NamedTuple):
    """A piece out of a file of the player's, and where it lies from now on.

    Parameters
    ----------
    piece : Piece
    path : str
        On the shelf; where it came from when it could not be kept.
    is_new : bool
        It was copied to the shelf now.
    fault : str
        Why it could not be kept, as the system says it; empty when it lies on the shelf.
    """

    piece: Piece
    path: str
    is_new: bool = False
    fault: str = ""


def brought(path: str | Path) -> Brought:
    """Read a file and keep it among the player's own pieces, unless it or the same content lies on the shelf.

    Nothing is ever written over: beside another piece of the same name it takes a number.

    Raises
    ------
    MusicError
        In one sentence, when it cannot be read; it is not kept then.
    """
    place = Path(path)
    piece = read(place)
    data = guarding.load(place)
    there = _on_shelf(place, data)
    if there is not None:
        return Brought(piece, there)
    goal = _free(own_folder(), _name(place, data))
    try:
        write_whole(goal, data, private=False)
    except MusicError as refusal:
        why = refusal.__cause__
        return Brought(piece, str(path), fault=getattr(why, "strerror", None) or str(refusal))
    return Brought(piece, str(goal), is_new=True)


def _on_shelf(place: Path, data: bytes) -> str | None:
    """The file of the shelf that holds the same, itself where it is one; None when there is none."""
    found = None
    for folder in (own_folder(), bundled_folder()):
        for entry in music_files(folder):
            try:
                if entry.stat().st_size != len(data) or Path(entry.path).read_bytes() != data:
                    continue
                if os.path.samefile(entry.path, place):
                    return entry.path
            except OSError:  # gone meanwhile, or not to be read
                continue
            found = found or entry.path
    return found


def _name(place: Path, data: bytes) -> str:
    """What the file is called on the shelf: as before, with an ending of music and in sight."""
    name = place.name.lstrip(".")
    if name.lower().endswith(ENDINGS):
        return name
    packed = data[:2] == b"PK"
    ending = ".mxl" if packed else _ENDINGS[guarding.recognise(data, place.name).kind]
    return f"{Path(name).stem or 'piece'}{ending}"


def _free(folder: Path, name: str) -> Path:
    """A file of that name, numbered where there is one already."""
    stem, ending = os.path.splitext(name)
    names = (name if number == 1 else f"{stem} {number}{ending}" for number in count(1))
    return next(folder / one for one in names if not os.path.lexists(folder / one))
