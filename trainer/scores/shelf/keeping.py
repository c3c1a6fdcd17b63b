"""Music the player brings along, kept among their own pieces so that it is there the next day."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import NamedTuple

from trainer.music.likeness import in_common
from trainer.music.piece import Piece
from trainer.music.pitch import MusicError
from trainer.scores import guarding
from trainer.scores.plain import free, write_whole
from trainer.scores.reading import read, read_bytes
from trainer.scores.shelf import books
from trainer.scores.shelf.books import Tune, tunes_in
from trainer.scores.shelf.library import bundled_folder, own_folder, plain
from trainer.scores.shelf.musicfiles import ENDINGS, music_files
from trainer.scores.shelf.offshelf import off_folder, put_back, take_off

# What a file whose name has no ending of music is called: the shelf looks at those that have one.
_ENDINGS = {guarding.MUSICXML: ".musicxml", guarding.MIDI: ".mid", guarding.ABC: ".abc", guarding.HUMDRUM: ".krn"}

# Of an earlier export of a piece at least so much stays as it was (ours): other music of one name shares little.
_SAME = 0.5


class Brought(NamedTuple):
    """A piece out of a file of the player's, and where it lies from now on.

    Parameters
    ----------
    piece : Piece
        As it is called where it lies.
    path : str
        On the shelf; where it came from when it could not be kept.
    is_new : bool
        It came to the shelf now.
    fault : str
        Why it could not be kept, as the system says it; empty when it lies on the shelf.
    older : str
        Where the earlier export lies, off the shelf, whose place it has taken; empty when there was none.
    """

    piece: Piece
    path: str
    is_new: bool = False
    fault: str = ""
    older: str = ""


def brought(what: str | Path | Tune) -> Brought:
    """Read a file, or a tune of a book, and keep it among the player's own pieces, unless it or the same content lies
    on the shelf.

    Nothing is ever written over: beside another piece of the same name it takes a number. An earlier export of the same
    piece is taken off the shelf, and the new one has its place. What was taken off is put back where it lay.

    Raises
    ------
    MusicError
        In one sentence, when it cannot be read; it is not kept then.
    """
    if isinstance(what, Tune):
        data = books.alone(what)
        piece = read_bytes(data, what.name, called=what.called)
        folder, find_older = books.folder_of(what.book, own_folder()), partial(books.older, what, own_folder())
        return _kept(Path(what.book), data, folder, what.name, piece, find_older)
    place = Path(what)
    if os.path.isdir(place):
        raise MusicError(f"The folder '{place.name}' holds no music: bring files of {guarding.KINDS}.")
    tunes_in(place)
    piece = read(place)
    data = guarding.load(place)
    name = _name(place, data)
    return _kept(place, data, own_folder(), name, piece, partial(_older, name, piece))


def _kept(
    place: Path, data: bytes, folder: Path, name: str, piece: Piece, find_older: Callable[[], Path | None]
) -> Brought:
    """Keep some music, that was read from `place`, in a folder of the shelf, or in the place of an older copy."""
    there = _same(place, data, own_folder(), bundled_folder())
    if there is not None:
        return Brought(read(there), there)
    aside = None
    try:
        older = find_older()
        aside = take_off(older) if older is not None else None
        before = _same(place, data, off_folder())
        if before is not None:
            goal = put_back(before)
            # In whose place it comes, that file's name is what work and lists know it by.
            goal = goal.replace(older) if older is not None else goal
        else:
            goal = older or free(folder, name)
            write_whole(goal, data, private=False)
    except (MusicError, OSError) as refusal:
        if aside is not None:
            with suppress(MusicError):
                put_back(aside)
        why = refusal.__cause__ or refusal
        return Brought(piece, str(place), fault=getattr(why, "strerror", None) or str(refusal))
    # Music without a title is called as its file is.
    found = piece if goal.name in (name, place.name) else read(goal)
    return Brought(found, str(goal), is_new=True, older=str(aside or ""))


def _older(name: str, piece: Piece) -> Path | None:
    """An earlier export of a piece on the shelf: a file of the same name and title, at least half of it the same."""
    for entry in music_files(own_folder()):
        if entry.name.lower() == name.lower():
            with suppress(MusicError):
                known = read(entry.path)
                if plain(known.title) == plain(piece.title) and in_common(known, piece) >= _SAME:
                    return Path(entry.path)
    return None


def unfolded(paths: Iterable[str]) -> list[str | Tune]:
    """Some files, of each folder the music files below it in the order of their names, of each book its tunes.

    A book of too many stays a file, and `brought` refuses it.
    """
    found: list[str | Tune] = []
    for path in paths:
        inside = sorted(one.path for one in music_files(Path(path))) if os.path.isdir(path) else []
        for one in inside or [path]:
            tunes: list[Tune] = []
            with suppress(MusicError):
                tunes = tunes_in(one)
            found += tunes or [one]
    return found


def name_of(what: str | Path | Tune) -> str:
    """What is brought, as it is called in a sentence."""
    return what.called if isinstance(what, Tune) else Path(what).name


def _same(place: Path, data: bytes, *folders: Path) -> str | None:
    """The file of some folders that holds the same, itself where it is one; None when there is none."""
    found = None
    for folder in folders:
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
