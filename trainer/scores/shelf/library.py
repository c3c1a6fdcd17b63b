"""The shelf: the bundled pieces and the player's own, indexed so that it opens at once."""

from __future__ import annotations

import difflib
import errno
import json
import os
import re
import unicodedata
from collections.abc import Callable, Iterable
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from trainer import folders
from trainer.music.compass import compass, level, lines
from trainer.music.piece import BOTH, Piece
from trainer.music.pitch import MusicError
from trainer.scores import cache
from trainer.scores.shelf.moved import moved_to
from trainer.scores.shelf.musicfiles import ENDINGS, TAKEN_OFF, music_files

_INDEX = "shelf"
_OWN = "pieces"
_KEEP_EVERY = 250
# Raised whenever an entry means something else than before.
_MAKE = 5
_WORDS = re.compile(r"[^\W_]+")


class Entry(NamedTuple):
    """One piece on the shelf, or a file that cannot be read.

    Parameters
    ----------
    path : str
    bundled : bool
    title, composer : str
    level : str
        One of `trainer.music.compass.LEVELS`.
    hands : str
        ``both``, ``right`` or ``left``.
    mode, key, meter : str
        ``major``; ``Eb``; ``3/4``.
    compass : str
        Interval from the lowest to the highest note of the upper hand, ``+M6``.
    bars, printed, notes : int
        Bars as they are played, repeats and pickup included; bars as they are numbered on the page.
    tempo : float
        Its own, quarters a minute.
    lines : str
        The hands that play a line of their own, with a space between.
    fault : str
        Why the file cannot be read, in one sentence; empty when it can.
    size, changed : int
        Bytes, and nanoseconds of the last change: what the entry was read from.
    song : str
        ``song`` where it has words or a voice over the piano, ``song duet``, ``song choir``; else empty.
    tunes : int
        Of a book of tunes how many it has; they lie beside it, and it is no piece itself. Else 0.
    """

    path: str
    bundled: bool
    title: str
    composer: str = ""
    level: str = ""
    hands: str = ""
    mode: str = ""
    key: str = ""
    meter: str = ""
    compass: str = ""
    bars: int = 0
    printed: int = 0
    notes: int = 0
    tempo: float = 0.0
    lines: str = ""
    fault: str = ""
    size: int = 0
    changed: int = 0
    song: str = ""
    tunes: int = 0

    @property
    def sung(self) -> str:
        """``song``, ``duet`` or ``choir``; empty where nothing is sung."""
        return self.song.rpartition(" ")[2]


def bundled_folder() -> Path:
    """Where the pieces that come along lie: beside the checkout, or inside the installed package."""
    import trainer

    package = Path(trainer.__file__).resolve().parent
    inside = package / "exercises"
    return inside if inside.is_dir() else package.parent / "exercises"


def own_folder() -> Path:
    """The player's own pieces."""
    return folders.data() / _OWN


class Shelf:
    """All pieces there are.

    Parameters
    ----------
    folders : iterable of Path
        The player's own folders; `own_folder()` when not given.

    Attributes
    ----------
    entries : list of Entry
        Readable pieces, by level and title; then the player's own that lie in folders, such as the tunes of a book,
        folder by folder in the order of their names.
    faults : list of Entry
        Files that cannot be read, each with its sentence.
    waiting : int
        Files not read yet; `refresh` reads them, and those that have changed.
    trouble : str
        Which folder cannot be read and why, in a sentence; empty when all can.
    """

    def __init__(self, folders: Iterable[Path] | None = None) -> None:
        self.folders = [own_folder()] if folders is None else list(folders)
        self.entries: list[Entry] = []
        self.faults: list[Entry] = []
        self._unread: list[tuple[str, bool]] = []
        self._known: dict[str, Entry] = _kept()
        self._look()

    @property
    def waiting(self) -> int:
        return len(self._unread)

    def _look(self, closely: bool = False) -> None:
        """Compare what is in the folders with what is known of it; closely also by size and time of change."""
        self._present: dict[str, Entry] = {}
        self._unread = []
        self._closed: list[str] = []
        self.trouble = ""
        bundled = bundled_folder()
        if not os.path.lexists(bundled):
            self._refused(str(bundled), FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT)))
        for folder in (bundled, *self.folders):
            for found in music_files(folder, self._refused):
                known = self._known.get(found.path)
                if known is not None and not (closely and _changed(found, known)):
                    self._present[found.path] = known
                else:
                    self._unread.append((found.path, folder == bundled))
        self._arrange()

    def _refused(self, folder: str, why: OSError) -> None:
        """A folder that is there cannot be read."""
        said = f"The folder {folder} cannot be read ({(why.strerror or str(why)).lower()}), so its pieces are not here"
        self.trouble = self.trouble or f"{said}: see to its rights, or connect the drive it lies on."
        self._closed.append(folder)

    def _arrange(self) -> None:
        order = {"trichord": 0, "pentachord": 1, "hexachord": 2, "open": 3}
        found = self._present.values()

        def place(entry: Entry) -> tuple[str, int, str]:
            folder = folder_of(entry)
            return (folder, 0, entry.path) if folder else ("", order.get(entry.level, 4), entry.title)

        self.entries = sorted((e for e in found if not e.fault and not e.tunes), key=place)
        self.faults = sorted((e for e in found if e.fault), key=lambda e: e.path)

    def refresh(self, progress: Callable[[int, int], bool | None] | None = None) -> bool:
        """Read what is new or changed.

        Parameters
        ----------
        progress : callable of (done, total)
            Called after every file; return False to stop. What is read by then is kept.

        Returns
        -------
        bool
            Whether everything was read.
        """
        self._look(closely=True)
        # What lies in a folder that cannot be read need not be gone.
        absent = (path for path in self._known if path not in self._present and not os.path.lexists(path))
        gone = [path for path in absent if not any(Path(path).is_relative_to(one) for one in self._closed)]
        for path in gone:
            del self._known[path]
        asked = [path for path, _ in self._unread]
        finished = self._read(progress, bool(gone))
        if finished and any(self._present[path].tunes for path in asked):
            # Its tunes lie there now.
            self._look(closely=True)
            finished = self._read(progress)
        return finished

    def _read(self, progress: Callable[[int, int], bool | None] | None, forgot: bool = False) -> bool:
        jobs = self._unread
        total = len(jobs)
        finished = True
        for done, (path, bundled) in enumerate(jobs, start=1):
            entry = _looked_at(path, bundled)
            self._present[entry.path] = self._known[entry.path] = entry
            if done % _KEEP_EVERY == 0:
                _keep(self._known)
            if progress is not None and progress(done, total) is False and done < total:
                finished = False
                break
        self._unread = [job for job in jobs if job[0] not in self._present]
        if total or forgot:
            _keep(self._known)
            cache.tidy()
        self._arrange()
        return finished


def answers(entry: Entry, words: str) -> bool:
    """Whether all the words stand in title, composer or file name; capitals, accents and punctuation do not count.

    Music that is sung answers to *song* too, for two to *duet*, for more to *choir*, the player's own to *yours* and
    to the name of the folder it lies in, which for a tune of a book is the book's. The ending of the file's name does
    not count: every piece would answer to it.
    """
    own = "" if entry.bundled else f"yours {os.path.basename(folder_of(entry))}"
    asked = plain(f"{entry.title} {entry.composer} {Path(entry.path).stem} {entry.song} {own}")
    return all(word in asked for word in plain(words).split())


def folder_of(entry: Entry) -> str:
    """The folder of the player's own that a piece lies in; empty for what lies on the shelf itself."""
    folder = "" if entry.bundled else os.path.dirname(entry.path)
    return "" if os.path.basename(folder) == _OWN else folder


def _looked_at(path: str, bundled: bool) -> Entry:
    """As `describe`; the tunes of a book are put beside it first."""
    from trainer.scores.shelf.books import lay_out

    entry, fault = describe(path, bundled), ""
    try:
        shelf = own_folder()
        tunes = 0 if bundled else lay_out(path, shelf, shelf.with_name(TAKEN_OFF), bundled_folder())
    except (MusicError, OSError) as refusal:
        tunes, fault = 0, str(refusal)
    return entry._replace(title=Path(path).stem, fault=fault, tunes=tunes) if tunes or fault else entry


def describe(path: str, bundled: bool = False) -> Entry:
    """Read one file and say what it is. A file that cannot be read gives an entry with its fault."""
    from trainer.scores.reading import read

    size = changed = 0
    try:
        stat = os.stat(path)
        size, changed = stat.st_size, stat.st_mtime_ns
        piece = read(path)
    except (MusicError, OSError) as refusal:
        return Entry(path, bundled, Path(path).stem, fault=str(refusal), size=size, changed=changed)
    except (Exception, RecursionError) as error:  # one bad file must not take the shelf down
        said = f"'{Path(path).name}' cannot be read ({type(error).__name__}): export it again as MusicXML."
        return Entry(path, bundled, Path(path).stem, fault=said, size=size, changed=changed)
    hands = piece.hands
    span = compass(piece.only_hand(hands[0]).notes)
    return Entry(
        path=path,
        bundled=bundled,
        title=piece.title,
        composer=piece.composer,
        level=level(piece),
        hands=BOTH if len(hands) == 2 else hands[0],
        mode=piece.key.mode,
        key=piece.key.short,
        meter=f"{piece.bars[0].meter[0]}/{piece.bars[0].meter[1]}",
        compass=span.interval.short if span else "",
        bars=len(piece.bars),
        printed=piece.printed_bars,
        notes=len(piece.notes),
        tempo=piece.tempo,
        lines=" ".join(lines(piece)),
        size=size,
        changed=changed,
        song=_song(piece),
    )


def _song(piece: Piece) -> str:
    if len(piece.singers) > 1:
        return "song duet" if len(piece.singers) == 2 else "song choir"
    return "song" if piece.sung or piece.lyrics else ""


def find(name: str | Path) -> Path:
    """The file meant by a path, a file's stem or a title; capitals, accents and punctuation do not count.

    Raises
    ------
    MusicError
        When nothing is called so, with the nearest names.
    """
    if not str(name).strip():
        raise MusicError("No piece is named: name one as the Desk shows it, or give a path.")
    given = Path(name)
    folder = False
    try:
        if given.is_file():
            return given
        folder = given.is_dir()
    except (OSError, ValueError):  # a name no file system takes
        pass
    if folder:
        raise MusicError(f"'{name}' is a folder: name one piece in it.")
    if (here := moved_to(str(name), own_folder())) is not None:
        return here
    wanted = plain(re.sub(r"\.(musicxml|xml|mxl|midi?|abc|krn)$", "", given.name, flags=re.IGNORECASE))
    stems: dict[str, str] = {}
    for place in (bundled_folder(), own_folder()):
        for entry in music_files(place):
            stems.setdefault(plain(entry.name.rpartition(".")[0]), entry.path)
        if wanted in stems:
            break
    looks_like_path = given.suffix.lower() in ENDINGS or len(given.parts) > 1
    if not looks_like_path or (given.suffix.lower() in ENDINGS and len(given.parts) == 1):
        if wanted in stems:
            return Path(stems[wanted])
        titles = _titles()
        if wanted in titles:
            return Path(titles[wanted])
        stems = {**titles, **stems}
        within = {path for stem, path in stems.items() if wanted and f" {wanted} " in f" {stem} "}
        if len(within) == 1:
            return Path(within.pop())
    if len(given.parts) > 1:
        raise MusicError(f"There is no file '{name}': check the folder and the name.")
    near = [stem for stem in stems if wanted and wanted in stem][:3]
    near = near or difflib.get_close_matches(wanted, stems, n=3, cutoff=0.5)
    names = [f"'{Path(stems[one]).stem}'" for one in near]
    did = f"did you mean {' or '.join(dict.fromkeys(names))}?"
    hint = did if names else "name one as the Desk shows it, or give a path."
    raise MusicError(f"There is no piece '{name}': {hint}")


def at_home(name: str) -> str:
    """A piece as a plain file names it, with one of the player's own by where it lies here (`moved`)."""
    try:
        here = None if Path(name).is_file() else moved_to(name, own_folder())
    except (OSError, ValueError):  # a name no file system takes
        here = None
    return name if here is None else str(here)


def _titles() -> dict[str, str]:
    shelf = Shelf()
    shelf.refresh()
    return {plain(entry.title): entry.path for entry in reversed(shelf.entries)}


@lru_cache(maxsize=50_000)
def plain(text: str) -> str:
    """Letters and digits only, without accents or capitals, single spaces.

    >>> plain("Ah!  vous dirai-je, Maman")
    'ah vous dirai je maman'
    """
    if not text.isascii():
        text = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode() or text
    return " ".join(_WORDS.findall(text.lower()))


def _changed(found: os.DirEntry[str], known: Entry) -> bool:
    try:
        stat = found.stat()
    except OSError:
        return True
    return (stat.st_size, stat.st_mtime_ns) != (known.size, known.changed)


def _kept() -> dict[str, Entry]:
    try:
        rows = json.loads(cache.fetch_bytes(_INDEX))
        if rows.pop("make") != [_MAKE, cache.VERSION]:
            return {}
        return {row[0]: Entry._make(row) for row in rows["entries"]}
    except (ValueError, KeyError, TypeError, AttributeError):
        return {}


def _keep(known: dict[str, Entry]) -> None:
    rows = {"make": [_MAKE, cache.VERSION], "entries": list(known.values())}
    text = json.dumps(rows, separators=(",", ":"), ensure_ascii=False)
    # The name of a file need not be text; json reads it back in the same way.
    cache.keep_bytes(_INDEX, text.encode(errors="surrogatepass"))
