"""The Singer's set list: songs put down for the nearest occasion, how ready they are, and playing them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.coaching.singers import setlist
from trainer.coaching.singers.setlist import Occasion, Readiness, SetLists, Singer, Song
from trainer.journal.errors import JournalError
from trainer.music.pitch import MusicError
from trainer.window.desk.desk import Desk
from trainer.window.desk.deskwork import LONG_S
from trainer.window.places import home
from trainer.window.screen import awaited
from trainer.window.singer.singerwords import voice_named
from trainer.window.strings import say

# What takes long to import and is not needed to draw the first frame is imported where it is used.
if TYPE_CHECKING:
    from trainer.window.singer.singer import SingerScreen
    from trainer.window.workroom.singing import Opened

# An occasion made here is so many days off; its day is changed in the file.
_OFF_DAYS = 28
_LONGEST_NAME = 60


class SetListPage:
    """The set lists of ``setlist.toml``, and the song chosen among those of the nearest occasion.

    Parameters
    ----------
    screen : SingerScreen
        Its song, singer and key are what is put down.
    """

    def __init__(self, screen: SingerScreen) -> None:
        self._screen = screen
        self._house = screen.house
        self.lists = SetLists()
        self.ready: list[Readiness] = []
        self.chosen = 0
        self._gone: tuple[Song, ...] = ()

    @property
    def folder(self) -> Path:
        """Where the set list lies: beside the journal."""
        return self._house.journal_file.parent

    @property
    def occasion(self) -> Occasion | None:
        """The nearest occasion not yet past."""
        return self.lists.next(date.today())

    @property
    def song(self) -> Song | None:
        """The song chosen among those of the occasion."""
        occasion = self.occasion
        if occasion is None or not occasion.songs:
            return None
        return occasion.songs[min(self.chosen, len(occasion.songs) - 1)]

    def read(self) -> None:
        """The set lists, and how ready their songs are."""
        from trainer.coaching.singers.tonight import ready

        self.ready = []
        self._gone = ()
        house = self._house
        try:
            self.lists = setlist.load(self.folder)
            if self.occasion is not None:
                self._gone = tuple(song for song in self.occasion.songs if _is_gone(song))
            if house.journal is not None and self.occasion is not None:
                self.ready = ready(house.journal, house.player, self.occasion, date.today())
        except (MusicError, JournalError) as trouble:
            house.say(str(trouble))

    def is_gone(self, song: Song) -> bool:
        """Whether its file was taken off the shelf, or lies there no more."""
        return song in self._gone

    def pick(self, at: int) -> None:
        self.chosen = at

    def rename(self, name: str) -> None:
        """What the occasion is called."""
        if self.occasion is not None:
            self._keep(replace(self.occasion, name=name[:_LONGEST_NAME]), self.lists.singers)

    def put_off(self, days: int) -> None:
        """Its day, some days later or earlier, never past."""
        occasion = self.occasion
        if occasion is not None:
            day = max(occasion.date + timedelta(days=days), date.today())
            self._keep(replace(occasion, date=day), self.lists.singers)

    def move(self, by: int) -> None:
        """The chosen song earlier or later in the order."""
        occasion, song = self.occasion, self.song
        if occasion is None or song is None:
            return
        at = occasion.songs.index(song)
        to = max(0, min(len(occasion.songs) - 1, at + by))
        songs = [one for one in occasion.songs if one is not song]
        songs.insert(to, song)
        self._keep(replace(occasion, songs=tuple(songs)), self.lists.singers)
        self.chosen = to

    def keep_singer(self, singer: Singer) -> int:
        """A singer of the set list's own, in place of any of that name; which of them it is."""
        names = [one.name for one in self.lists.singers]
        at = names.index(singer.name) if singer.name in names else len(names)
        singers = (*self.lists.singers[:at], singer, *self.lists.singers[at + 1 :])
        self._save(SetLists(singers, self.lists.occasions))
        return at

    def put_down(self) -> None:
        """The song, its singer and the chosen key onto the set list."""
        screen = self._screen
        entry, best = screen.entry, screen.best
        if entry is None or best is None:
            return
        name, span, kind = screen.who
        singers = self.lists.singers
        if name not in [one.name for one in singers] and not voice_named(name):
            singers = (*singers, Singer(name, span, kind))
        named = name if name in [one.name for one in singers] else ""
        occasion = self.occasion or Occasion(say("singer.occasion"), date.today() + timedelta(days=_OFF_DAYS))
        stem = Path(entry.path).stem if entry.bundled else entry.path
        song = Song(stem, entry.title, best.key.short, named, setlist.own_way(best.transposition))
        # Two singers may sing one song, and two songs may have one title.
        kept = tuple(one for one in occasion.songs if (one.piece, one.singer) != (song.piece, song.singer))
        self._keep(replace(occasion, songs=(*kept, song)), singers)
        self._house.say(say("singer.put", title=entry.title, occasion=occasion.name))

    def strike(self) -> None:
        """Take the chosen song off the set list."""
        occasion, song = self.occasion, self.song
        if occasion is not None and song is not None:
            self._keep(replace(occasion, songs=tuple(one for one in occasion.songs if one is not song)),
                       self.lists.singers)  # fmt: skip

    def _keep(self, occasion: Occasion, singers: tuple[Singer, ...]) -> None:
        known = self.occasion
        others = tuple(one for one in self.lists.occasions if one is not known)
        self._save(SetLists(singers, (*others, occasion)))

    def invent(self) -> None:
        """An invented concert, to try it with."""
        self._save(setlist.demo(date.today()))

    def _save(self, lists: SetLists) -> None:
        try:
            setlist.save(self.folder, lists)
        except MusicError as trouble:
            self._house.say(str(trouble))
        self._screen.read()

    def start(self) -> None:
        """The chosen song in its key, on the stand."""
        from trainer.window.workroom import singing

        song = self.song
        if song is None:
            return

        def done(found: list[Opened]) -> None:
            one = found[0]
            if one.piece is not None and one.move is not None:
                self._screen.to_stand(one.piece, one.move)
            else:
                self._house.say(one.fault)

        then = awaited(self._house, done)
        self._house.workroom.ask(singing.opened, [song], then=then, failed=self._screen.failed)

    def print_songs(self) -> None:
        """All songs of the occasion on paper, each in its singer's key; one quiet line says where."""
        from trainer.window.workroom import studies

        house, occasion = self._house, self.occasion
        if occasion is None or not occasion.songs:
            return

        def done(made: tuple[str, list[str]]) -> None:
            path, faults = made
            house.screen_of(Desk).sheet = path
            said = say("singer.list.printed", occasion=occasion.name, path=home(Path(path)))
            told = " ".join([said, *faults])
            house.say(told, LONG_S)

        house.say(say("desk.printing", title=occasion.name), LONG_S)
        given = occasion, str(self.folder), house.settings
        house.workroom.ask(studies.songs_printed, *given, then=done, failed=self._screen.failed)


def _is_gone(song: Song) -> bool:
    """Of a song named otherwise than by its whole path the shelf says so when it is opened."""
    path = Path(song.piece)
    return path.is_absolute() and not path.exists()
