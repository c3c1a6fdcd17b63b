"""What goes to and fro between teacher and student as files: what has come, whose it is, and taking it in.

A file of work (``.toml``) goes to the student, a hand-over (``.handover``) with takes comes back. Each is read once:
the journal remembers it by its seal, one written here too, so that it is no news where it was made.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from trainer.coaching.work import fingersalong, work
from trainer.coaching.work.assignments import everything
from trainer.journal import handover
from trainer.journal.errors import JournalError
from trainer.journal.store import Journal
from trainer.journal.values import NOBODY_NAMED
from trainer.music.pitch import MusicError

WORK, PLAYED = "work", "played"
WORK_SUFFIX = ".toml"
# A mail program may call a plain text so.
_TEXTS = (WORK_SUFFIX, ".txt")
# A file of that ending is one of work when it holds this; other programs keep theirs so, too.
_SETS = b"[[assignment]]"
# So many are looked at, the newest, of those with our endings and of all (ours).
_MOST = 200


@dataclass(frozen=True)
class Come:
    """A file that has come.

    Parameters
    ----------
    path : Path
    kind : str
        `WORK` or `PLAYED`.
    names : tuple of str
        Whom it says it is for or of; none for everybody.
    count : int
        Pieces of work, or takes.
    day : date
        When it came.
    ask : bool
        Whether it is not clear who that is here.
    trouble : str
        Why it cannot be taken in, in a sentence; empty when it can.
    """

    path: Path
    kind: str
    names: tuple[str, ...] = ()
    count: int = 0
    day: date = date.min
    ask: bool = False
    trouble: str = ""


@dataclass(frozen=True)
class Taken:
    """A file that was taken in: whose takes, or whom the work is for; how many were new and how many here already.

    `back` is how many pieces of work were withdrawn, `music` the pieces put on the shelf, `missing` those that are
    asked for and not there, `fingers` how many are the teacher's now, `moved` the takes that were
    somebody else's before.
    """

    kind: str
    player: str
    fresh: int
    known: int
    back: int = 0
    music: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    fingers: int = 0
    moved: int = 0


def ours_in(path: str) -> list[Path]:
    """A file that is one of the two, or such files in a folder."""
    place = Path(path)
    try:
        inside = sorted(place.iterdir()) if place.is_dir() else [place]
    except OSError:
        inside = []
    return [one for one in inside if kind_of(one)]


def kind_of(path: Path) -> str:
    """Which of the two a file is, by what is in it; empty for any other."""
    if handover.is_hand_over(path) or path.suffix.lower() == handover.SUFFIX:
        return PLAYED
    if path.suffix.lower() not in _TEXTS:
        return ""
    try:
        with open(path, "rb") as file:
            return WORK if _SETS in file.read(work.GIVEN_LARGEST) else ""
    except OSError:
        return ""


def found(journal: Journal, folders: Iterable[Path], here: Sequence[str]) -> list[Come]:
    """Files in some folders that were not read here before, the newest first; `here` is who is known here."""
    listed: dict[str, Come] = {}
    for path in _newest(folders):
        kind = kind_of(path)
        if not kind or path.parent == journal.path.parent:
            continue
        seal = _seal(journal, path, kind)
        # One that came twice, by mail and on a stick, is one.
        if seal and (seal in listed or handover.is_read(journal, seal)):
            continue
        listed[seal or str(path)] = look(journal, path, here)
    return list(listed.values())


def _newest(folders: Iterable[Path]) -> list[Path]:
    """Files with the endings of ours, and the newest of the others: a mail or messenger may have given another."""
    places: dict[Path, float] = {}
    for folder in folders:
        try:
            places |= {path.resolve(): path.stat().st_mtime for path in folder.iterdir() if path.is_file()}
        except OSError:
            continue
    newest = sorted(places, key=lambda path: -places[path])
    own = [path for path in newest if path.suffix.lower() in (handover.SUFFIX, WORK_SUFFIX)][:_MOST]
    return sorted({*own, *newest[:_MOST]}, key=lambda path: -places[path])


def look(journal: Journal, path: Path, here: Sequence[str]) -> Come:
    """What a file is, before it is taken in."""
    kind = kind_of(path) or WORK
    try:
        day = date.fromtimestamp(path.stat().st_mtime)
    except (OSError, OverflowError, ValueError):
        day = date.today()
    try:
        if kind == PLAYED:
            head = handover.head_of(journal, path)
            ask = not head.known_as and _is_doubtful(journal, head.player, here)
            return Come(path, kind, (head.known_as or head.player,), head.takes, day, ask)
        given = work.read_file(path)
        names = tuple(dict.fromkeys(name for one in given for name in one.players))
        strange = bool(names) and not set(names) & set(here)
        mine = [name for name in here if name != NOBODY_NAMED or name in journal.players()]
        return Come(path, kind, names, sum(one.withdrawn is None for one in given), day, strange and len(mine) > 1)
    except (JournalError, MusicError) as why:
        return Come(path, kind, (), 0, day, trouble=str(why))


def _is_doubtful(journal: Journal, name: str, here: Sequence[str]) -> bool:
    """Whether takes of somebody new to the journal may be those of somebody it has, or bear no name of their own.

    Who has work set here and no takes yet is meant by the very name.
    """
    if name == NOBODY_NAMED or name in journal.players():
        return True
    return name not in here and any(alike(name, one) for one in here)


def alike(one: str, other: str) -> bool:
    """Whether two names begin with the same word, as a first name alone does; sisters are two.

    >>> alike("Ada", "Ada Winter"), alike("Tilda Winter", "Ada Winter")
    (True, False)
    """
    return one.casefold().split()[:1] == other.casefold().split()[:1]


def free_name(name: str, here: Iterable[str]) -> str:
    """A name nobody has yet: ``Ada``, else ``Ada B.``, ``Ada C.``."""
    taken = set(here)
    letters = iter("BCDEFGHIJKLMNOPQRSTUVWXYZ")
    wanted = name
    while wanted in taken:
        wanted = f"{name} {next(letters, str(len(taken)))}."
    return wanted


def take(
    journal: Journal, path: Path, called: str | None = None, same_as: str | None = None, playing: str = ""
) -> Taken:
    """Take in one file: all of it or nothing, and each take and piece of work only once.

    Parameters
    ----------
    called : str, optional
        Of takes what a new player is to be called here; of work who in this journal it is for.
    same_as : str, optional
        Of takes who in this journal that is. Either answer puts right one that was given before.
    playing : str, optional
        Who plays here now; no name, and whoever plays without one.

    Raises
    ------
    JournalError, MusicError
        When it cannot be taken in, as `journal.handover.take_in` and `coaching.work.work.given_here`.
    """
    if kind_of(path) == PLAYED:
        taken = handover.take_in(journal, path, called, same_as)
        return Taken(PLAYED, taken.player, taken.fresh, taken.known, moved=taken.moved)
    whom = same_as or called
    # For whom it is must be clear, and what is set here must be in order, before anything is kept.
    work.given_here(journal, path, whom)
    fingers = work.fingers_in(path)
    everything(journal.path.parent)
    music = work.keep_music(path)
    # With its music on the shelf.
    given = work.given_here(journal, path, whom)
    # Before the work, since it is refused where fingers.toml is wrong.
    laid = fingersalong.take_up(journal.path.parent, fingers, given, _here(journal, whom, playing))
    fresh, known = work.take_up(journal, given)
    back = work.withdraw_given(journal, given)
    asked = [one for one in given if one.withdrawn is None]
    handover.note_read(journal, _seal_of(path))
    names = dict.fromkeys(name for one in given for name in one.players)
    return Taken(WORK, ", ".join(names), fresh, known, back, tuple(music), tuple(work.absent(asked)), laid)


def _here(journal: Journal, whom: str | None, playing: str) -> Callable[[str], str]:
    """Who a student is here: who was said, who bears that name, the only player, or whoever will play."""
    players = journal.players()
    otherwise = players[0] if len(players) == 1 else playing
    return lambda name: whom or (name if name in players else otherwise)


def give(journal: Journal, path: Path, player: str) -> work.Given:
    """Write the work set for a player to a file, as `coaching.work.work.give`; it is no news where it was made."""
    given = work.give(journal, path, player)
    handover.note_read(journal, _seal_of(path))
    return given


def set_for(folder: Path, players: Iterable[str]) -> tuple[int, int]:
    """How many pieces of work are set for some players, each by itself, and how many were withdrawn; `MusicError` for a
    broken file.
    """
    set_ = everything(folder)
    theirs = [one for player in players for one in set_ if one.is_for(player)]
    back = sum(one.withdrawn is not None for one in theirs)
    return len(theirs) - back, back


def _seal(journal: Journal, path: Path, kind: str) -> str:
    """What a file is remembered by; empty for one that cannot be read."""
    try:
        return handover.head_of(journal, path).seal if kind == PLAYED else _seal_of(path)
    except (JournalError, OSError):
        return ""


def _seal_of(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
