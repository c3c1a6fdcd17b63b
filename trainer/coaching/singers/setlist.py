"""Set lists: occasions with their songs, singers and keys; how ready each song is; what to practise until then.

Kept as ``setlist.toml`` in the journal's folder, a plain file a musician can edit::

    [[singer]]
    name = "Ida Holm"
    voice = "mezzo-soprano"          # optional
    tessitura = "B3-D5"              # concert pitch; optional when the voice is given

    [[occasion]]
    name = "Evening of songs"
    date = 2027-03-20

    [[occasion.song]]
    piece = "aura-lee"               # as on the shelf, or a file
    title = "Aura Lee"
    singer = "Ida Holm"              # optional
    key = "Eb"                       # a key, a number of semitones or an interval, as in commands
    move = "-P5"                     # optional: where the key alone would be sought in another octave
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from trainer.coaching.singers.voices import Span, Voice, voice
from trainer.music.keys import Key
from trainer.music.pitch import MusicError
from trainer.music.transpose import Transposition, plan
from trainer.scores.plain import LARGEST, Entry, blocks, read_plain, write_plain

if TYPE_CHECKING:
    from tomlkit.items import Table

FILE = "setlist.toml"
# Readiness: how many of the newest takes count, how fast an old take fades, and what the words mean (all ours).
NEWEST = 3
HALF_AFTER_DAYS = 30.0
WORDS = ((0.9, "ready"), (0.75, "nearly there"), (0.4, "under way"), (0.0, "to be begun"))
# Practice is dealt out in pieces of this many minutes, for at most so many songs a day.
MINUTES_EACH = 5
SONGS_A_DAY = 3
# How much of the time given for a day the songs of an occasion take.
SHARE = 0.5


@dataclass(frozen=True)
class Singer:
    """A singer: name, tessitura in concert pitch, voice type when known."""

    name: str
    tessitura: Span
    voice: Voice | None = None


@dataclass(frozen=True)
class Song:
    """A song: the piece as the shelf knows it, its title, the wished key (as in commands), the singer, and the way to
    that key where it is not the nearest.
    """

    piece: str
    title: str
    key: str
    singer: str = ""
    move: str = ""


def way_to(written: Key, key: str, move: str = "") -> Transposition:
    """The move from the written key to a song's, by its own way where that leads there.

    Raises
    ------
    MusicError
        When key or move cannot be read.
    """
    nearest = plan(written, key)
    own = plan(written, move) if move else nearest
    return own if own.target == nearest.target else nearest


def own_way(chosen: Transposition) -> str:
    """The move of a key that was chosen, as a set list keeps it: empty where it is the nearest.

    >>> own_way(plan(Key.parse("G"), "-P5")), own_way(plan(Key.parse("G"), "+P4"))
    ('-P5', '')
    """
    nearest = plan(chosen.written, chosen.target.short)
    return "" if nearest.interval == chosen.interval else chosen.interval.short


@dataclass(frozen=True)
class Occasion:
    """A concert, a service, a lesson: name, date, songs in order."""

    name: str
    date: date
    songs: tuple[Song, ...] = ()


@dataclass(frozen=True)
class SetLists:
    """Everything in the file."""

    singers: tuple[Singer, ...] = ()
    occasions: tuple[Occasion, ...] = ()

    def singer(self, name: str) -> Singer | None:
        return next((one for one in self.singers if one.name == name), None)

    def next(self, today: date) -> Occasion | None:
        """The nearest occasion not yet past."""
        return min((o for o in self.occasions if o.date >= today), key=lambda o: o.date, default=None)


class Taken(Protocol):
    """What readiness asks of a take in the journal (`journal.values.TakeRow` has it)."""

    @property
    def title(self) -> str: ...
    @property
    def target(self) -> str: ...
    @property
    def began(self) -> datetime: ...
    @property
    def accuracy(self) -> float | None: ...
    @property
    def is_most(self) -> bool: ...
    @property
    def cost(self) -> float | None: ...


@dataclass(frozen=True)
class Readiness:
    """How ready a song is in its key: 0 to 1, takes counted, the last one, in words."""

    song: Song
    share: float
    takes: int
    last: date | None

    @property
    def words(self) -> str:
        return next(words for least, words in WORDS if self.share >= least)


@dataclass(frozen=True)
class Task:
    """Practise a song for some minutes."""

    song: Song
    minutes: int


@dataclass(frozen=True)
class Day:
    """One day before an occasion: what to practise; `whole` means the set in order, once, without stopping."""

    date: date
    tasks: tuple[Task, ...]
    whole: bool = False


def load(folder: Path) -> SetLists:
    """Read the set lists of a journal folder; none yet is an empty one.

    Raises
    ------
    MusicError
        Saying which entry is wrong and how it should be.
    """
    document = read_plain(folder / FILE)
    if document is None:
        return SetLists()
    singers = tuple(_singer(entry) for entry in Entry.each(document, "singer", FILE))
    occasions = tuple(
        Occasion(
            entry.text("name"),
            entry.day("date"),
            tuple(_song(song) for song in Entry.each(entry.table, "song", entry.where)),
        )
        for entry in Entry.each(document, "occasion", FILE)
    )
    return SetLists(singers, occasions)


def _singer(entry: Entry) -> Singer:
    kind = voice(entry.text("voice")) if "voice" in entry.table else None
    if "tessitura" in entry.table:
        return Singer(entry.text("name"), Span.parse(entry.text("tessitura")), kind)
    if kind is None:
        raise MusicError(f'{entry.where}: say tessitura = "D4-D5" or voice = "mezzo-soprano".')
    return Singer(entry.text("name"), kind.tessitura, kind)


def _song(entry: Entry) -> Song:
    from trainer.scores.shelf.library import at_home

    piece = entry.text("piece")
    return Song(
        at_home(piece), entry.text("title", piece), entry.text("key"), entry.text("singer", ""), entry.text("move", "")
    )


def save(folder: Path, lists: SetLists) -> None:
    """Write the set lists; comments, and entries that have not changed, stay as they stand in the file.

    Raises
    ------
    MusicError
        When the file that is there cannot be read, or the folder cannot be written; then nothing is changed.
    """
    import tomlkit

    known = load(folder)
    document = read_plain(folder / FILE)
    if document is None:
        document = tomlkit.document()
        for line in _HEAD:
            document.add(tomlkit.comment(line))
    for name, before, rows in (
        ("singer", known.singers, [(one, _singer_row(one)) for one in lists.singers]),
        ("occasion", known.occasions, [(one, _occasion_row(one)) for one in lists.occasions]),
    ):
        standing = dict(zip(before, blocks(document, name), strict=True))
        tables = tomlkit.aot()
        for one, row in rows:
            tables.append(standing.get(one, row))
        document.pop(name, None)
        if rows:
            document[name] = tables
    # Each time a block is put back it brings an empty line.
    write_plain(folder / FILE, re.sub(r"\n{3,}", "\n\n", tomlkit.dumps(document)), LARGEST)


_HEAD = (
    "Set lists: singers, and occasions with their songs. You may edit this file.",
    'Keys are written as in commands: "Eb", "f#", "-3" or "-m3". Tessituras are concert pitch.',
)


def _singer_row(one: Singer) -> Table:
    import tomlkit

    row = tomlkit.table()
    row["name"] = one.name
    if one.voice:
        row["voice"] = one.voice.name
    row["tessitura"] = f"{one.tessitura.low.name}-{one.tessitura.high.name}"
    return row


def _occasion_row(occasion: Occasion) -> Table:
    import tomlkit

    row = tomlkit.table()
    row["name"], row["date"] = occasion.name, occasion.date
    songs = tomlkit.aot()
    for song in occasion.songs:
        sung = tomlkit.table()
        sung["piece"], sung["title"], sung["key"] = song.piece, song.title, song.key
        if song.singer:
            sung["singer"] = song.singer
        if song.move:
            sung["move"] = song.move
        songs.append(sung)
    if occasion.songs:
        row["song"] = songs
    return row


def readiness(song: Song, takes: Iterable[Taken], today: date, written: Key | None = None) -> Readiness:
    """How ready a song is, from the journal's takes of it in its key.

    Of the newest three finished takes in that key: accuracy, divided by the cost of transposing where it is above 1,
    fading by half every thirty days; a song with fewer takes counts the missing ones as nothing.

    Parameters
    ----------
    takes : iterable
        Any takes; those of other pieces and keys, and of a part of the piece, are passed over. In any order.
    written : Key, optional
        The song's written key, needed when its wish is a number of semitones or an interval.
    """
    wanted = _target(song, written)
    mine = sorted(
        (
            t
            for t in takes
            if t.title.casefold() == song.title.casefold()
            and t.accuracy is not None
            and t.is_most
            and _same(t.target, wanted)
        ),
        key=lambda t: t.began,
        reverse=True,
    )
    share = 0.0
    for take in mine[:NEWEST]:
        days = max((today - take.began.date()).days, 0)
        share += (take.accuracy or 0.0) / max(take.cost or 1.0, 1.0) * 0.5 ** (days / HALF_AFTER_DAYS) / NEWEST
    return Readiness(song, round(share, 3), len(mine), mine[0].began.date() if mine else None)


def _target(song: Song, written: Key | None) -> Key:
    if written is not None:
        return plan(written, song.key).target
    return Key.parse(song.key)


def _same(short: str, wanted: Key) -> bool:
    key = Key.parse(short)
    return key.mode == wanted.mode and key.tonic.pitch_class == wanted.tonic.pitch_class


def share_of(minutes: float) -> int:
    """Of a day's minutes those that its songs take: half, and never less than one piece of them.

    >>> share_of(30), share_of(5)
    (15, 5)
    """
    return max(round(minutes * SHARE), MINUTES_EACH)


def until(occasion: Occasion, ready: Sequence[Readiness], today: date, minutes_a_day: int) -> tuple[Day, ...]:
    """What to practise on each day before an occasion: the least ready songs get the most time.

    The last day is one whole run of the set in order; days of rest are the player's to take.
    """
    days = (occasion.date - today).days
    need = {one.song: 1.1 - min(one.share, 1.0) for one in ready}
    dealt = dict.fromkeys(need, 0)
    rows: list[Day] = []
    for number in range(days):
        when = today + timedelta(days=number)
        if number == days - 1:
            rows.append(Day(when, tuple(Task(song, 0) for song in occasion.songs), whole=True))
            break
        tasks: dict[Song, int] = {}
        left = minutes_a_day
        while left >= MINUTES_EACH and need:
            song = max(need, key=lambda s: need[s] / (dealt[s] + MINUTES_EACH))
            if song not in tasks and len(tasks) == SONGS_A_DAY:
                song = max(tasks, key=lambda s: need[s] / (dealt[s] + MINUTES_EACH))
            tasks[song] = tasks.get(song, 0) + MINUTES_EACH
            dealt[song] += MINUTES_EACH
            left -= MINUTES_EACH
        rows.append(Day(when, tuple(Task(song, minutes) for song, minutes in tasks.items())))
    return tuple(rows)


def demo(today: date) -> SetLists:
    """An invented concert with invented singers, six weeks from today."""
    ida = Singer("Ida Holm", Span.parse("B3-D5"), voice("mezzo-soprano"))
    jonas = Singer("Jonas Reed", Span.parse("D3-D4"), voice("baritone"))
    songs = (
        Song("aura-lee", "Aura Lee", "A", ida.name),
        Song("greensleeves", "Greensleeves", "e", jonas.name),
        Song("lightly-row", "Lightly Row (Hänschen klein)", "G", ida.name),
    )
    return SetLists((ida, jonas), (Occasion("Evening of songs, Mill Lane hall", today + timedelta(days=42), songs),))
