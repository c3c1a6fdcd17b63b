"""Plain-text files a teacher can edit: TOML in, TOML out, comments kept, never half written.

TOML 1.0 (toml.io), read and written by tomlkit because it keeps comments and order.
"""

from __future__ import annotations

import os
import re
import tempfile
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import suppress
from datetime import date, datetime
from functools import lru_cache
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.music.pitch import MusicError, shortened

if TYPE_CHECKING:
    from tomlkit import TOMLDocument
    from tomlkit.items import AoT

# In bytes: a thousand assignments.
LARGEST = 200_000
# A key of thousands of parts would keep the quick reader busy for hours.
_MANY_DOTS = re.compile(r"^(?:[^.\n]*\.){30}", re.MULTILINE)
# What a file may not be called by, on one system or another.
_FORBIDDEN = re.compile(r'[\\/:*?"<>|\x00-\x1f]+')
# In bytes, for titles in any letters: with its ending a name may have 255.
_LONGEST_NAME = 180


def read_plain(path: Path, largest: int = LARGEST) -> TOMLDocument | None:
    """A TOML file of at most so many bytes as a document; None when there is none.

    Raises
    ------
    MusicError
        When the file cannot be read or is not TOML, naming the line.
    """
    # The reader of TOML takes a while to load, and mostly there is no file.
    with suppress(OSError):
        if not path.exists():
            return None
    from tomlkit import parse
    from tomlkit.exceptions import ParseError, TOMLKitError

    try:
        if path.exists() and not path.is_file():
            raise MusicError(f"{path.name} cannot be read, for it is not a file: take it away.")
        if path.stat().st_size > largest:
            raise MusicError(f"{path.name} is too large to be written by hand: take the right file.")
        # Some editors put the mark of UTF-8 before it, and some no end of line behind, where blocks are to be added.
        text = path.read_text(encoding="utf-8-sig")
        return parse(text if text.endswith("\n") else f"{text}\n")
    except FileNotFoundError:
        return None
    except ParseError as error:
        said = shortened(str(error).split(" at line")[0], 80).rstrip(".")
        raise MusicError(f"{path.name}, line {error.line}: {said}; mend that line.") from error
    except TOMLKitError as error:
        raise MusicError(f"{path.name} says something twice ({shortened(error, 80).rstrip('.')}): mend it.") from error
    except (UnicodeDecodeError, RecursionError, ValueError) as error:
        if isinstance(error, MusicError):
            raise
        raise MusicError(f"{path.name} is not a plain text file in UTF-8: save it as such.") from error
    except OSError as error:
        raise MusicError(f"{path.name} cannot be read ({error.strerror}): check the folder's permissions.") from error


def blocks(document: TOMLDocument, name: str) -> AoT:
    """The ``[[name]]`` blocks of a document, to be added to; none yet is none, and a list in brackets becomes blocks.

    What is added to a list in brackets as a block would not be TOML any more.
    """
    import tomlkit
    from tomlkit.items import AoT

    rows = document.get(name, ())
    if not isinstance(rows, AoT):
        made = tomlkit.aot()
        for row in rows:
            table = tomlkit.table()
            table.update(row)
            made.append(table)
        document.pop(name, None)
        document[name] = made
    found = document[name]
    assert isinstance(found, AoT)
    return found


def read_remembered(path: Path, largest: int = LARGEST) -> Mapping[str, Any] | None:
    """As `read_plain`, read anew only when the file is another: many ask for it. What is given is not to be changed."""
    try:
        found = path.stat()
    except OSError:
        return read_plain(path, largest)
    return _read_as(path, (found.st_ino, found.st_mtime_ns, found.st_size), largest)


@lru_cache(maxsize=4)
def _read_as(path: Path, made: tuple[int, int, int], largest: int) -> Mapping[str, Any] | None:
    # Twenty times as fast as the reader that keeps comments, which is left to say what is wrong.
    with suppress(OSError, ValueError, RecursionError):
        if made[2] <= largest and path.is_file():
            text = path.read_text(encoding="utf-8-sig")
            if not _MANY_DOTS.search(text):
                return tomllib.loads(text)
    return read_plain(path, largest)


def write_plain(path: Path, text: str, largest: int | None = None) -> None:
    """Write a text file whole or not at all; `MusicError` as in `write_whole`, for what is no text, and for more than
    will be read again.
    """
    try:
        data = text.encode()
    except UnicodeEncodeError as error:
        # Only the name of a file from another system can hold such a thing.
        line = text[: error.start].count("\n")
        said = text.splitlines()[line].encode(errors="replace").decode()
        raise MusicError(f"{path.name} cannot hold {said}, for the name is no text: rename that file.") from error
    if largest is not None and len(data) > largest:
        raise MusicError(f"{path.name} holds as much as it can, and was left as it is: take out what is long over.")
    write_whole(path, data)


def write_whole(path: Path, data: bytes, private: bool = True) -> None:
    """Write a file whole or not at all: aside, flushed to disk, then renamed into place. Of a link to a file elsewhere,
    as in a folder that is kept alike on two computers, that file is written and the link stays.

    A `private` file is readable by its owner only; another has the rights new files have.

    Raises
    ------
    MusicError
        When the folder cannot be written; the old file is then still there.
    """
    aside = ""
    try:
        goal = Path(os.path.realpath(path)) if path.is_symlink() else path
        goal.parent.mkdir(parents=True, exist_ok=True)
        handle, aside = tempfile.mkstemp(prefix=f".{goal.name}.", dir=goal.parent)
        with os.fdopen(handle, "wb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
        if not private:
            mask = os.umask(0)
            os.umask(mask)
            os.chmod(aside, 0o666 & ~mask)
        os.replace(aside, goal)
    except OSError as error:
        with suppress(OSError):
            if aside:
                os.unlink(aside)
        raise MusicError(
            f"{path.name} could not be saved ({error.strerror}): nothing was changed; check space and permissions."
        ) from error


def free(folder: Path, name: str) -> Path:
    """A file of that name in a folder, numbered where there is one already."""
    stem, ending = os.path.splitext(name)
    names = (name if number == 1 else f"{stem} {number}{ending}" for number in count(1))
    return next(folder / one for one in names if not os.path.lexists(folder / one))


def as_name(title: str, after: str = "") -> str:
    """A title as the name of a file; of a long one as much as there is room for before what comes `after` it."""
    return f"{_cut(title, _LONGEST_NAME - len(after.encode()))}{_cut(after, _LONGEST_NAME)}".strip(" .")


def _cut(text: str, most: int) -> str:
    """So many bytes of a text at the most, without what no name may hold."""
    return _FORBIDDEN.sub("-", text).encode(errors="replace")[: max(most, 0)].decode(errors="ignore").rstrip()


class Entry:
    """One table of a plain file, read strictly: what is missing or of the wrong kind is said with its place."""

    def __init__(self, table: Mapping[str, Any], where: str) -> None:
        self.table = table
        self.where = where

    @classmethod
    def each(cls, document: Mapping[str, Any], name: str, where: str) -> Iterator[Entry]:
        """The entries of ``[[name]]`` in order."""
        rows = document.get(name, [])
        if not isinstance(rows, list) or not all(isinstance(row, Mapping) for row in rows):
            raise MusicError(f"{where}: '{name}' must be written as [[{name}]] blocks.")
        for number, row in enumerate(rows, 1):
            yield cls(row, f"{where}, {name} {number}")

    def text(self, name: str, default: str | None = None) -> str:
        """A line of text; without a default it must be there."""
        value = self._value(name, default)
        if not isinstance(value, str):
            raise MusicError(f'{self.where}: {name} must be text in quotes, like {name} = "…".')
        return str(value)

    def number(self, name: str, default: float | None = None, least: float = 0.0, most: float = 1e6) -> float:
        value = self._value(name, default)
        if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= most:
            raise MusicError(f"{self.where}: {name} must be a number from {least:g} to {most:g}.")
        return float(value)

    def day(self, name: str) -> date:
        """A date written like 2027-03-20, without quotes."""
        value = self._value(name, None)
        if isinstance(value, datetime) or not isinstance(value, date):
            raise MusicError(f"{self.where}: {name} must be a date without quotes, like {name} = 2027-03-20.")
        return date(value.year, value.month, value.day)

    def texts(self, name: str, default: tuple[str, ...] = ()) -> tuple[str, ...]:
        """A list of texts, or one text alone."""
        value = self.table.get(name, default)
        values = [value] if isinstance(value, str) else value
        if not isinstance(values, list | tuple) or not all(isinstance(one, str) for one in values):
            raise MusicError(f'{self.where}: {name} must be a list of texts, like {name} = ["…", "…"].')
        return tuple(str(one) for one in values)

    def _value(self, name: str, default: object) -> object:
        value = self.table.get(name, default)
        if value is None:
            raise MusicError(f"{self.where}: {name} is missing; add it.")
        return value
