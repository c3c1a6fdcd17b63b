"""The way off the shelf: a file of the player's own is moved to a folder beside it, and can be put back from there.

Nothing is deleted. Takes of the piece stay, for the journal holds the music of what was played.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from trainer.music.pitch import MusicError
from trainer.scores.shelf.books import tunes_in
from trainer.scores.shelf.library import Entry, Shelf, describe, find, own_folder, plain
from trainer.scores.shelf.musicfiles import TAKEN_OFF, moved, music_files


def off_folder() -> Path:
    """Where files lie that were taken off the shelf: beside it, in folders of the same names."""
    return own_folder().with_name(TAKEN_OFF)


def is_own(path: str | Path) -> bool:
    """Whether a file lies among the player's own pieces."""
    return Path(path).is_relative_to(own_folder())


def take_off(path: str | Path) -> Path:
    """Take a file off the shelf; returns where it lies from now on.

    Raises
    ------
    MusicError
        In one sentence, when it is none of the player's own or its folder cannot be changed; it stays then.
    """
    place = Path(path)
    if not is_own(place):
        raise MusicError(f"'{place.stem}' comes with Keyfarer and stays: only pieces of your own leave the shelf.")
    return moved(place, own_folder(), off_folder(), "stays on the shelf")


def put_back(path: str | Path) -> Path:
    """Put a file that was taken off the shelf where it lay before; returns its place.

    Raises
    ------
    MusicError
        In one sentence, when it is not there any more or the shelf takes no file.
    """
    return moved(Path(path), off_folder(), own_folder(), "stays off the shelf")


def taken_off() -> list[Entry]:
    """What lies off the shelf, by title, a file that cannot be read with its fault; a book is its tunes."""
    found = (one.path for one in music_files(off_folder()) if not _is_book(one.path))
    return sorted(map(describe, found), key=lambda one: one.title)


def _is_book(path: str) -> bool:
    with suppress(MusicError):
        return bool(tunes_in(path))
    return False


def off(name: str) -> Path:
    """The file off the shelf that is meant by a path, a file's name or a title.

    Raises
    ------
    MusicError
        When nothing there is called so, or several files are.
    """
    found = _called(name, taken_off())
    if not found:
        raise MusicError(f"No piece that was taken off the shelf is called '{name}': 'keyfarer shelf' lists them.")
    return _one(name, found)


def on(name: str) -> Path:
    """The file on the shelf that is meant so: of the player's own also one that cannot be read, else as `library.find`.

    Raises
    ------
    MusicError
        When nothing there is called so, or several files are.
    """
    found = _called(name, _own())
    return _one(name, found) if found else find(name)


def whole_book(name: str, place: Path) -> list[Path]:
    """The files of the book, or folder, of that name in the folder of the shelf or the one beside it: what lies in it,
    and the book itself where that lies there; none where a single piece is called so.
    """
    entries = taken_off() if place == off_folder() else _own()
    if _called(name, entries):
        return []
    wanted, files = plain(name), [Path(one.path) for one in music_files(place)]
    inside = sorted(one for one in files if one.parent != place and plain(one.parent.name) == wanted)
    return [*inside, *(one for one in files if plain(one.stem) == wanted)] if inside and wanted else []


def _own() -> list[Entry]:
    shelf = Shelf()
    shelf.refresh()
    return [one for one in (*shelf.entries, *shelf.faults) if not one.bundled]


def _called(name: str, entries: Iterable[Entry]) -> list[Path]:
    """Those whose file or title is called so, one alone where its very path is given."""
    places = {Path(one.path): one.title for one in entries}
    given = Path(name).absolute()
    if given in places:
        return [given]
    wanted = {plain(name)} - {""}
    return [
        place for place, title in places.items() if name == place.name or wanted & {plain(place.stem), plain(title)}
    ]


def _one(name: str, found: list[Path]) -> Path:
    if len(found) > 1:
        files = " or ".join(f"'{one}'" for one in found)
        raise MusicError(f"'{name}' is the name of several: say which, {files}.")
    return found[0]
