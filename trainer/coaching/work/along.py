"""Pieces of a teacher's own on their way to a student, inside the file of work that asks for them: one file to send.

Each is a block of its own, which a copy of the program that does not know it passes over::

    [[music]]
    name = "evening song.musicxml"
    data = "eNqVVk1v2zAM..."        # the file, packed with zlib, in base64
"""

from __future__ import annotations

import base64
import binascii
import tempfile
import zlib
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.music.pitch import MusicError, shortened
from trainer.scores.plain import Entry, write_whole

if TYPE_CHECKING:
    from trainer.coaching.work.assignments import Assignment

BLOCK = "music"
# Bytes of music, packed, that go along in one file: a dozen long pieces (ours). What is larger is given by itself.
MOST = 600_000
# In bytes; as much as a file of music may be.
_LARGEST = 24_000_000


def own_music(assignments: Iterable[Assignment]) -> list[Path]:
    """The files of pieces that are set and do not come along, which a student needs too."""
    from trainer.scores.shelf.library import bundled_folder, find

    found: dict[Path, None] = {}
    for one in assignments:
        with suppress(MusicError):
            found[find(one.piece).resolve()] = None
    return [path for path in found if not path.is_relative_to(bundled_folder().resolve())]


def packed(files: Iterable[Path]) -> tuple[list[dict[str, str]], list[Path]]:
    """Blocks for the files that go along, and the files there is no room for or that cannot be read."""
    rows: list[dict[str, str]] = []
    left, room = [], MOST
    for path in files:
        try:
            data = zlib.compress(path.read_bytes(), 9)
        except OSError:
            left.append(path)
            continue
        if len(data) > room:
            left.append(path)
            continue
        room -= len(data)
        rows.append({"name": f"{_called(path)}{path.suffix}", "data": base64.b64encode(data).decode()})
    return rows, left


def named_for_student(one: Assignment) -> Assignment:
    """A piece of the teacher's own is named by its file alone: its place on this computer is nothing to another."""
    from trainer.scores.shelf.library import find

    with suppress(MusicError):
        if own_music([one]) and (called := _called(find(one.piece))) != one.piece:
            return replace(one, piece=called)
    return replace(one, piece=Path(one.piece).stem) if len(Path(one.piece).parts) > 1 else one


def _called(path: Path) -> str:
    """What a piece is called at the student's, where one that comes along may bear the name of the file."""
    from trainer.scores.shelf.library import bundled_folder, plain

    bundled = {plain(one.stem) for one in bundled_folder().rglob("*.musicxml")}
    return f"{path.stem} (own)" if plain(path.stem) in bundled else path.stem


def keep(document: Mapping[str, Any], where: str) -> list[str]:
    """Put the music in a teacher's file among the player's own pieces; the names of what is new.

    A piece of that name that is there already and differs stays beside it, off the shelf.

    Raises
    ------
    MusicError
        When a piece cannot be read or written; then none is kept.
    """
    from trainer.scores.shelf.library import own_folder

    found = [(entry, *_unpacked(entry)) for entry in Entry.each(document, BLOCK, where)]
    fresh = []
    for entry, name, data in found:
        _look(entry, name, data)
    for _, name, data in found:
        place = own_folder() / name
        with suppress(OSError):
            if place.read_bytes() == data:
                continue
            _aside(place)
        write_whole(place, data)
        fresh.append(name)
    return fresh


def _unpacked(entry: Entry) -> tuple[str, bytes]:
    from trainer.scores.shelf.musicfiles import ENDINGS

    name = entry.text("name")
    # A name and nothing else: it must not lead out of the folder.
    if Path(name).name != name or name.startswith(".") or "\\" in name or Path(name).suffix.lower() not in ENDINGS:
        raise MusicError(f"{entry.where}: '{shortened(name)}' is no name of a file of music.")
    try:
        opener = zlib.decompressobj()
        data = opener.decompress(base64.b64decode(entry.text("data"), validate=True), _LARGEST)
        whole = opener.eof and not opener.unconsumed_tail
    except (binascii.Error, ValueError, zlib.error):
        whole = False
    if not whole:
        raise MusicError(f"{entry.where}: '{shortened(name)}' is damaged: ask your teacher to send the file again.")
    return name, data


def _look(entry: Entry, name: str, data: bytes) -> None:
    """Refuse what cannot be read as music, before anything is kept."""
    from trainer.scores.reading import read

    with tempfile.TemporaryDirectory() as folder:
        trial = Path(folder) / name
        trial.write_bytes(data)
        try:
            read(trial)
        except MusicError as why:
            raise MusicError(f"{entry.where}: {why}") from why


def _aside(place: Path) -> None:
    """Another piece of the same name, of an earlier file perhaps, is put off the shelf and not lost."""
    again = 1
    while (beside := place.with_name(f"{place.name}.before-{date.today()}{f'-{again}' if again > 1 else ''}")).exists():
        again += 1
    place.rename(beside)
