"""The way off the shelf: a file of the player's own is moved to a folder beside it, and can be put back from there.

Nothing is deleted. Takes of the piece stay, for the journal holds the music of what was played.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from trainer.music.pitch import MusicError
from trainer.scores.library import Entry, Shelf, describe, find, own_folder, plain
from trainer.scores.musicfiles import TAKEN_OFF, moved, music_files


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
    """What lies off the shelf, by title; a file that cannot be read with its fault."""
    return sorted((describe(one.path) for one in music_files(off_folder())), key=lambda one: one.title)


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
    shelf = Shelf()
    shelf.refresh()
    found = _called(name, [one for one in (*shelf.entries, *shelf.faults) if not one.bundled])
    return _one(name, found) if found else find(name)


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
