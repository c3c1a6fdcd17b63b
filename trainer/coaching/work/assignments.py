"""Work set by a teacher: pieces, keys, hands, tempo, help, goal and date; progress comes from the journal by itself.

Kept as ``assignments.toml`` in the journal's folder, a plain file a teacher can edit::

    [[assignment]]
    player = "Ada Winter"            # a name, a list of names, or "all"
    piece = "aura-lee"               # as on the shelf, or a file
    title = "Aura Lee"
    keys = ["Eb", "F#"]              # as in commands
    hands = "both"                   # both, right or left
    tempo = 60                       # least pulse, felt beats a minute; leave it out for any
    help = "do"                      # most help allowed: all, bars, do, none
    goal = 0.9                       # share of presses and notes that must be right
    times = 2                        # how many such takes in each key
    set = 2027-02-06                 # takes before this day do not count
    by = 2027-02-20
    note = "Left hand alone first."
    withdrawn = 2027-02-10           # taken back; the entry stays, for the student's computer to hear of it
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from difflib import get_close_matches
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from trainer.coaching.work.reached import InKey, Taken, in_key
from trainer.music.counted import many
from trainer.music.keys import Key
from trainer.music.names import ENGLISH, key_name
from trainer.music.piece import BOTH, HANDS
from trainer.music.pitch import Interval, MusicError, shortened
from trainer.music.solfege import HELPS
from trainer.music.transpose import plan
from trainer.scores.plain import Entry, blocks, read_plain, read_remembered, write_plain

FILE = "assignments.toml"
# In bytes: a busy studio sets a thousand pieces a year, of 250 bytes, and what is done stays.
LARGEST = 2_000_000
# To see whether a key can be read where the piece is not known.
_ANY = Key.parse("C")
EVERYONE = "all"
EXAMPLE = """\
[[assignment]]
player = "all"            # or a name, or a list of names
piece = "aura-lee"        # as on the shelf, or a file
title = "Aura Lee"
keys = ["Eb", "F#"]
tempo = 60                # least pulse; leave out what is not asked
help = "do"               # most syllables allowed: all, bars, do, none
goal = 0.9
times = 2
by = 2027-02-20
note = "Left hand alone first."
"""
# What an entry may say; `key` for a single one.
_NAMES = (
    "player", "piece", "title", "keys", "key", "hands", "tempo", "help", "goal", "times", "set", "by", "note",
    "withdrawn",
)  # fmt: skip
# The title of a piece, its key and its hand if it has only one, as the shelf has them.
Printed = tuple[str, Key | None, str]
DONE, UNDER_WAY, NOT_BEGUN, LATE = "done", "under way", "not begun", "late"


@dataclass(frozen=True)
class Assignment:
    """One thing set. `players` is empty for everyone; `tempo` None for any; `keys` as wished in commands.

    `known_as`, `written` and `alone` are the title the piece bears itself, its key and its hand if it has only one,
    where the shelf has it; takes of either title count. What was `withdrawn` is not asked for any more.
    """

    piece: str
    title: str
    keys: tuple[str, ...]
    players: tuple[str, ...] = ()
    hands: str = BOTH
    tempo: float | None = None
    help: str = "all"
    goal: float = 0.9
    times: int = 1
    given: date | None = None
    by: date | None = None
    note: str = ""
    withdrawn: date | None = field(default=None, compare=False)
    known_as: str = field(default="", compare=False)
    written: Key | None = field(default=None, compare=False)
    alone: str = field(default="", compare=False)

    def is_of(self, title: str) -> bool:
        """Whether a take of this title is a take of the piece set."""
        return title.casefold() in (self.title.casefold(), self.known_as.casefold())

    def is_with(self, hands: str) -> bool:
        """Whether a take with these hands counts: both hands of a piece for one hand are that hand."""
        return hands == self.hands or (self.hands == BOTH and hands == self.alone)

    def is_for(self, player: str) -> bool:
        return not self.players or player in self.players

    @property
    def words(self) -> str:
        """What is asked, in a line."""
        return self.said(ENGLISH)

    def said(self, letters: str) -> str:
        """What is asked, in a line, keys named as players of that language do."""
        parts = [", ".join(_sign(key, self.written, letters) for key in self.keys)]
        if self.hands != BOTH:
            parts.append(f"{self.hands} hand")
        if self.tempo:
            parts.append(f"at {self.tempo:g} beats a minute or more")
        parts.append(f"{self.goal:.0%} right")
        if self.times > 1:
            each = " in each key" if len(self.keys) > 1 else ""
            parts.append(f"{'twice' if self.times == 2 else f'{self.times} times'}{each}")
        if self.help != "all":
            parts.append({"bars": "syllables once a bar", "do": "only do shown", "none": "no syllables"}[self.help])
        if self.by:
            parts.append(f"by {self.by.day} {self.by:%B}")
        return f"{self.title}: {', '.join(parts)}"


@dataclass(frozen=True)
class Progress:
    """How far an assignment is for one player.

    `keys` are those that can be told: an interval cannot where neither shelf nor takes know the piece.
    """

    assignment: Assignment
    keys: tuple[InKey, ...]
    state: str

    @property
    def wanted(self) -> tuple[InKey, ...]:
        """The keys still to come."""
        return tuple(one for one in self.keys if one.done is None)

    @property
    def share(self) -> float:
        """Goals reached over goals set, 0 to 1."""
        times = self.assignment.times
        return sum(min(one.reached, times) for one in self.keys) / (times * len(self.assignment.keys))

    @property
    def words(self) -> str:
        """``2 of 3 keys done, late``."""
        done = sum(one.done is not None for one in self.keys)
        if self.state == DONE:
            return DONE
        return f"{done} of {many(len(self.assignment.keys), 'key')} done, {self.state}"

    @property
    def detail(self) -> str:
        """What there is to say of the first key under way: ``best 84%``; empty where there is nothing."""
        return next((one.detail for one in self.keys if one.detail), "")

    @property
    def told(self) -> str:
        """`words` and `detail`: ``0 of 1 key done, late: best 84%``."""
        return f"{self.words}: {self.detail}" if self.detail else self.words


def load(folder: Path) -> tuple[Assignment, ...]:
    """The assignments of a journal folder that are not withdrawn, in the file's order; none yet is none.

    Raises
    ------
    MusicError
        As in `everything`.
    """
    return tuple(one for one in everything(folder) if one.withdrawn is None)


def everything(folder: Path) -> tuple[Assignment, ...]:
    """Every assignment of a journal folder, in the file's order.

    Raises
    ------
    MusicError
        Saying which entry is wrong and how it should be.
    """
    document: Mapping[str, Any] = read_remembered(folder / FILE, LARGEST) or {}
    if unknown := [name for name in document if name != "assignment"]:
        raise MusicError(f"{FILE}: '{shortened(unknown[0])}' is unknown; work is written as [[assignment]] blocks.")
    # The shelf is asked for each piece once, however often that is set.
    printed = cache(_as_printed)
    return tuple(read_entry(entry, printed) for entry in Entry.each(document, "assignment", FILE))


def read_entry(entry: Entry, printed: Callable[[str], Printed] | None = None) -> Assignment:
    """One entry of such a file, its piece asked for with `printed`; `MusicError` when it is wrong."""
    for name in entry.table:
        if name not in _NAMES:
            near = get_close_matches(name, _NAMES, 1, 0.75)
            hint = f"did you mean {near[0]}?" if near else f"there are {', '.join(_NAMES)}."
            raise MusicError(f"{entry.where}: '{shortened(name)}' is unknown; {hint}")
    from trainer.scores.shelf.library import at_home

    piece = at_home(entry.text("piece"))
    players = entry.texts("player", (EVERYONE,))
    keys = entry.texts("keys") or entry.texts("key")
    if not keys:
        raise MusicError(f'{entry.where}: keys is missing; add keys = ["Eb"].')
    known_as, written, alone = (printed or _as_printed)(piece)
    for key in keys:
        try:
            plan(written or _ANY, key)
        except MusicError as error:
            raise MusicError(f"{entry.where}: {error}") from error
    hands = _one_of(entry, "hands", BOTH, HANDS)
    if not _has_hands(hands, alone):
        raise MusicError(f'{entry.where}: {known_as} is for the {alone} hand alone; write hands = "{alone}".')
    return Assignment(
        piece=piece,
        title=entry.text("title", known_as or piece),
        known_as=known_as,
        written=written,
        alone=alone,
        keys=keys,
        players=() if EVERYONE in players else players,
        hands=hands,
        tempo=entry.number("tempo", least=10, most=400) if "tempo" in entry.table else None,
        help=_one_of(entry, "help", HELPS[0], HELPS),
        goal=entry.number("goal", 0.9, most=1.0),
        times=int(entry.number("times", 1, least=1, most=100)),
        given=entry.day("set") if "set" in entry.table else None,
        by=entry.day("by") if "by" in entry.table else None,
        note=entry.text("note", ""),
        withdrawn=entry.day("withdrawn") if "withdrawn" in entry.table else None,
    )


def _as_printed(name: str) -> Printed:
    """The title a piece bears itself, its key, and its hand if it has one; nothing where the shelf does not have it."""
    from trainer.scores.shelf import library

    try:
        place = library.find(name)
        found = place.stat()
        return _in_file(place, (found.st_mtime_ns, found.st_size))
    except (MusicError, OSError):
        return "", None, ""


@lru_cache(maxsize=256)
def _in_file(place: Path, made: tuple[int, int]) -> tuple[str, Key, str]:
    """The same of a file; as long as it is the one that was read, it is not read again."""
    from trainer.scores import reading

    piece = reading.read(place)
    return piece.title, piece.key, piece.hands[0] if len(piece.hands) == 1 else ""


def _has_hands(hands: str, alone: str) -> bool:
    """Whether a piece, for `alone` if that is one hand, can be played with these hands: both are those it has."""
    return hands == BOTH or alone in ("", hands)


def _one_of(entry: Entry, name: str, default: str, choices: tuple[str, ...]) -> str:
    value = entry.text(name, default)
    if value not in choices:
        raise MusicError(f"{entry.where}: {name} must be one of {', '.join(choices)}.")
    return value


def add(folder: Path, assignment: Assignment) -> None:
    """Put one more assignment at the end of the file; everything there stays as it is, comments too.

    Raises
    ------
    MusicError
        When the piece has nothing for the hands asked for, or the file there is wrong.
    """
    alone = _as_printed(assignment.piece)[2]
    if not _has_hands(assignment.hands, alone):
        raise MusicError(f"{assignment.title} is for the {alone} hand alone: set it for that hand.")

    load(folder)
    write_plain(folder / FILE, _with(folder / FILE, assignment), LARGEST)


def _with(path: Path, assignment: Assignment) -> str:
    """The text of a file that can be read, and one more assignment."""
    import tomlkit

    rows = tomlkit.aot()
    rows.append(as_table(assignment))
    block = tomlkit.document()
    block["assignment"] = rows
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        text = "# Work set for students. You may edit this file; the journal shows how far it is.\n"
    longer = f"{text}{'' if text.endswith(chr(10)) else chr(10)}\n{tomlkit.dumps(block)}"
    try:
        tomllib.loads(longer)
    except ValueError:
        # A list in brackets, which nothing can be put behind.
        document = read_plain(path, LARGEST)
        assert document is not None
        blocks(document, "assignment").append(rows[0])
        longer = tomlkit.dumps(document)
    return longer


def as_table(one: Assignment) -> Any:
    """An assignment as an entry for the file."""
    import tomlkit

    table = tomlkit.table()
    table.update(_plain(one))
    return table


def _plain(one: Assignment) -> dict[str, Any]:
    value: dict[str, Any] = {
        "player": EVERYONE if not one.players else one.players[0] if len(one.players) == 1 else list(one.players),
        "piece": one.piece, "title": one.title, "keys": list(one.keys), "hands": one.hands, "tempo": one.tempo,
        "help": one.help, "goal": one.goal, "times": one.times, "set": one.given, "by": one.by, "note": one.note,
        "withdrawn": one.withdrawn,
    }  # fmt: skip
    return {name: part for name, part in value.items() if part not in (None, "")}


def progress(one: Assignment, takes: Iterable[Taken], today: date, written: Key | None = None) -> Progress:
    """How far an assignment is, from one player's takes.

    Parameters
    ----------
    takes : iterable
        Of that player, any pieces, in any order; unfinished ones do not count.
    written : Key, optional
        The piece's written key, needed when a key is given as a number of semitones or an interval: where it is not
        known such a key is left out, and the work is not done.
    """
    mine = sorted(
        (t for t in takes if t.accuracy is not None and one.is_of(t.title)
         and (one.given is None or t.began.date() >= one.given) and one.is_with(t.hands)),
        key=lambda t: t.began,
    )  # fmt: skip
    known = [wish for wish in one.keys if written is not None or wish.strip()[:1] not in "+-"]
    keys = tuple(in_key(one, mine, _key(wish, written)) for wish in known)
    if len(keys) == len(one.keys) and all(key.done for key in keys):
        state = DONE
    elif one.by is not None and today > one.by:
        state = LATE
    else:
        state = UNDER_WAY if any(key.tried for key in keys) else NOT_BEGUN
    return Progress(one, keys, state)


def _key(wish: str, written: Key | None) -> Key:
    return plan(written, wish).target if written is not None else Key.parse(wish)


def _sign(wish: str, written: Key | None, letters: str) -> str:
    """A wish for a key as it is said: ``E♭ major``, ``3 semitones lower``, ``down a minor third``, ``as written``.

    Transposing keeps the mode: ``e`` for a piece in major is E major, where the piece is known.
    """
    if wish.lstrip("+-").isdigit() and wish[:1] in "+-":
        semitones = int(wish)
        way = "lower" if semitones < 0 else "higher"
        return f"{many(abs(semitones), 'semitone')} {way}" if semitones else "as written"
    try:
        return Interval.parse(wish).words if wish[:1] in ("+", "-") else key_name(_key(wish, written), letters)
    except MusicError:
        return wish
