"""Books of tunes among the files of the player's own: each tune is a piece of its own in a folder called as the book.

One piece is one file all through the house (it is set, handed over, taken off and put back as one), so the tunes of a
book are written out, and the book itself is no piece.
"""

from __future__ import annotations

import os
import re
from contextlib import suppress
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from trainer.music.pitch import MusicError, shortened
from trainer.scores import guarding
from trainer.scores.abc import abcbook
from trainer.scores.plain import free, write_whole
from trainer.scores.shelf.musicfiles import ENDINGS, moved, music_files

# Files that bear the ending of another kind of music are not opened to see whether they are books.
_OTHERS = tuple(ending for ending in ENDINGS if ending != ".abc")
_BEGUN = re.compile(rb"[\r\n]X:")
# Ours: the largest books in circulation have a few thousand, and more than that would bury the shelf.
_MOST = 5_000


class Tune(NamedTuple):
    """One tune of a book.

    Parameters
    ----------
    book : str
        The file it stands in.
    at, of : int
        Its index there, and how many there are.
    called : str
        As it is called when it cannot be read: ``evening.abc, X:12 Morning``.
    name : str
        As its file is called on the shelf: ``012 Morning.abc``.
    """

    book: str
    at: int
    of: int
    called: str
    name: str


def tunes_in(path: str | Path) -> list[Tune]:
    """The tunes of a book in their order; none of a file of one piece, or of one that cannot be read.

    Raises
    ------
    MusicError
        When there are too many for a shelf.
    """
    place = Path(path)
    if place.name.lower().endswith(_OTHERS) or not os.path.isfile(place):
        return []
    book = _opened(place)
    of = len(book.tunes) if book is not None else 0
    if book is None or of < 2:
        return []
    if of > _MOST:
        raise MusicError(f"'{place.name}' holds {of} tunes, more than {_MOST}: save it as several books.")
    found = []
    for at, tune in enumerate(book.tunes):
        title = shortened(abcbook.title_of(tune))
        called = f"{place.name}, X:{shortened(abcbook.number_of(tune))} {title}".rstrip()
        found.append(Tune(str(place), at, of, called, abcbook.file_name(at, of, title or f"{place.stem} {at + 1}")))
    return found


def alone(tune: Tune) -> bytes:
    """A tune of a book as a file of its own.

    Raises
    ------
    MusicError
        When the book has been changed meanwhile.
    """
    place = Path(tune.book)
    book = _opened(place)
    if book is None or len(book.tunes) != tune.of:
        raise MusicError(f"'{place.name}' was changed while it was read: bring it once more.")
    return book.alone(tune.at, place.stem).encode(errors="replace")


def folder_of(book: str | Path, shelf: Path) -> Path:
    """Where the tunes of a book lie on a shelf: beside it where it lies there itself."""
    place = Path(book).absolute()
    name = place.stem.lstrip(".") or "book"
    if not place.is_relative_to(shelf):
        return shelf / name
    return place.with_name(name if name != place.name else f"{name} tunes")


def older(tune: Tune, shelf: Path) -> Path | None:
    """The file of a tune as it stood in an earlier copy of the book: called alike and not in the book any more."""
    alike = abcbook.named_alike(tune.name)
    found = [one for one in music_files(folder_of(tune.book, shelf)) if abcbook.named_alike(one.name) == alike]
    if not found:
        return None
    now = {alone(one) for one in tunes_in(tune.book)}
    gone = [one for one in found if Path(one.path).read_bytes() not in now]
    # Of two tunes of one title the one that stood in the same place.
    return Path(min(gone, key=lambda one: (one.name != tune.name, one.name)).path) if gone else None


def lay_out(book: str | Path, shelf: Path, off: Path, *others: Path) -> int:
    """Put the tunes of a book that lies on a shelf beside it, those that lie neither there nor in one of the others nor
    `off` it. What a tune of an earlier copy of the book has become takes its place, unless its file is the newer one.

    Returns how many tunes it has; 0 of what is no book.

    Raises
    ------
    MusicError
        When there are too many, or they cannot be written.
    """
    tunes = tunes_in(book)
    there = _contents(shelf, off, *others) if tunes else set()
    for tune in tunes:
        data = alone(tune)
        if data in there:
            continue
        goal = older(tune, shelf)
        if goal is None:
            goal = free(folder_of(book, shelf), tune.name)
        elif goal.stat().st_mtime_ns > os.stat(book).st_mtime_ns:
            # Somebody has put it right by hand.
            continue
        else:
            moved(goal, shelf, off, "stays on the shelf")
        write_whole(goal, data, private=False)
    return len(tunes)


def _contents(*folders: Path) -> set[bytes]:
    """What the ABC files of some folders hold."""
    found = set()
    for entry in (one for folder in folders for one in music_files(folder) if one.name.lower().endswith(".abc")):
        with suppress(OSError):
            found.add(Path(entry.path).read_bytes())
    return found


def _opened(place: Path) -> abcbook.Book | None:
    try:
        found = place.stat()
    except OSError:
        return None
    return _opened_as(place, (found.st_ino, found.st_mtime_ns, found.st_size))


# One tune after the other is asked for.
@lru_cache(maxsize=1)
def _opened_as(place: Path, made: tuple[int, int, int]) -> abcbook.Book | None:
    try:
        data = guarding.load(place)
        if not _BEGUN.search(data):
            return None
        content = guarding.recognise(data, place.name)
    except MusicError:
        return None
    return abcbook.split(content.text) if content.kind == guarding.ABC else None
