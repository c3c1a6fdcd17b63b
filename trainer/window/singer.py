"""Singer: which key suits tonight's singer, the set list, a warm-up made from it, and playing from another's part."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pygame

from trainer.coaching import setlist
from trainer.coaching.instruments import INSTRUMENTS, Concert, Written, part_for, playing_from
from trainer.coaching.setlist import Occasion, Readiness, SetLists, Singer, Song
from trainer.coaching.voices import VOICES, Span, Voice
from trainer.journal.errors import JournalError
from trainer.listening.press import Event, Press
from trainer.music.keys import Key
from trainer.music.piece import Piece
from trainer.music.pitch import MusicError, SpelledPitch
from trainer.music.transpose import Transposition
from trainer.scores.library import Entry, Shelf
from trainer.window import jobs, singerview
from trainer.window.canvas import Canvas
from trainer.window.controls import Controls
from trainer.window.screen import Screen
from trainer.window.strings import say

# What takes long to import and is not needed to draw the first frame is imported where it is used.
if TYPE_CHECKING:
    from trainer.coaching.accompany import Suits
    from trainer.coaching.warmup import Step
    from trainer.window.house import House
    from trainer.window.singing import Opened, Suited

KEYS, SET_LIST, WARM_UP, PART = "keys", "setlist", "warmup", "part"
PAGES = (KEYS, SET_LIST, WARM_UP, PART)
MINUTES = (3, 5, 8, 10, 15, 20)
# The nearest and the farthest end of an own tessitura.
LOWEST, HIGHEST = 36, 88
# An occasion made here is so many days off; its day is changed in the file.
_OFF_DAYS = 28
_LETTERS = {0: "C", 1: "C#", 2: "D", 3: "Eb", 4: "E", 5: "F", 6: "F#", 7: "G", 8: "Ab", 9: "A", 10: "Bb", 11: "B"}
# Those whose part does not say what sounds, first; the others follow as they stand in the table.
PLAYERS = sorted(INSTRUMENTS, key=lambda one: one.sounds.fifths == 0)

_USUAL_PLAYER = "clarinet in B flat"


def pitch_of(midi: int) -> SpelledPitch:
    """A key of the piano as a pitch, spelled as singers' ranges usually are."""
    return SpelledPitch.parse(f"{_LETTERS[midi % 12]}{midi // 12 - 1}")


class SingerScreen(Screen):
    """See `screens`: singer's tessitura and voice line, keys that fit, set list, warm-up."""

    key = "f3"
    name = "singer"

    def __init__(self, house: House) -> None:
        super().__init__(house)
        self.entries: list[Entry] = []
        self.find = ""
        self.song = 0
        self.lists = SetLists()
        self.singer = 0
        # The singer's own tessitura, when it was set here.
        self.own: Span | None = None
        # Waiting for the singer's lowest and highest note on the piano; the notes heard so far.
        self.listening = False
        self.heard_pitches: list[int] = []
        self.page = 0
        self.part = 0
        self.suited: Suited | None = None
        self.at = 0
        self._asked: tuple[object, ...] | None = None
        self._busy = False
        self.ready: list[Readiness] = []
        self.listed = 0
        self.minutes = 2
        self.steps: tuple[Step, ...] = ()
        self.step = 0
        self._warmed: tuple[object, ...] | None = None
        self.instrument = next(at for at, one in enumerate(PLAYERS) if one.name == _USUAL_PLAYER)

    # Coming in

    def entered(self) -> None:
        if not self.entries:
            self.entries = [entry for entry in Shelf().entries if entry.notes]
            if not self.entries:
                self.house.workroom.ask(jobs.shelved, then=self._shelved, failed=self._failed)
            self.house.focus("songs")
        self.read()
        self.consider()

    def opened(self) -> None:
        self.read()

    def left(self) -> None:
        self.listening = False

    def _shelved(self, entries: list[Entry]) -> None:
        self.entries = entries
        self.consider()

    @property
    def folder(self) -> Path:
        """Where the set list lies: beside the journal."""
        from trainer.journal import files

        journal = self.house.journal
        return journal.path.parent if journal is not None else files.home()

    def read(self) -> None:
        """The set lists, and how ready their songs are."""
        from trainer.coaching.tonight import ready

        self.ready = []
        try:
            self.lists = setlist.load(self.folder)
            if self.house.journal is not None and self.occasion is not None:
                self.ready = ready(self.house.journal, self.house.player, self.occasion, date.today())
        except (MusicError, JournalError) as trouble:
            self.house.say(str(trouble))
        self._warmed = None
        self._warm_again()

    # What is chosen

    @property
    def occasion(self) -> Occasion | None:
        """The nearest occasion not yet past."""
        return self.lists.next(date.today())

    @property
    def shown(self) -> list[Entry]:
        """The shelf by the words typed."""
        words = self.find.casefold().split()
        return [
            entry for entry in self.entries
            if all(word in f"{entry.title} {entry.composer}".casefold() for word in words)
        ]  # fmt: skip

    @property
    def entry(self) -> Entry | None:
        shown = self.shown
        return shown[min(self.song, len(shown) - 1)] if shown else None

    @property
    def singers(self) -> list[tuple[str, Span, Voice | None]]:
        """Those of the set list, then the voice types: name, tessitura, type."""
        known = [(one.name, one.tessitura, one.voice) for one in self.lists.singers]
        return known + [(kind.name, kind.tessitura, kind) for kind in VOICES]

    @property
    def who(self) -> tuple[str, Span, Voice | None]:
        """The singer as chosen; with an own tessitura the voice type's table has no say."""
        name, span, kind = self.singers[min(self.singer, len(self.singers) - 1)]
        return (name, span, kind) if self.own is None else (name, self.own, None)

    @property
    def best(self) -> Suits | None:
        """The key chosen among those that suit."""
        if self.suited is None or not self.suited.keys:
            return None
        return self.suited.keys[min(self.at, len(self.suited.keys) - 1)]

    def consider(self) -> None:
        """Ask which keys suit, unless that is known; while one question is out, only the last one after it is kept."""
        from trainer.window import singing

        entry = self.entry
        if entry is None:
            self.suited, self._asked = None, None
            return
        _, span, kind = self.who
        asked = (entry.path, span, kind)
        if asked == self._asked:
            return
        self._asked, self.suited, self.at = asked, None, 0
        if self._busy:
            return
        self._busy = True

        def done(found: Suited) -> None:
            self._busy = False
            if self._asked == asked:
                self.suited = found
                self._warm_again()
            else:
                self._ask_again()

        def failed(trouble: Exception) -> None:
            self._busy = False
            if self._asked == asked:
                self._failed(trouble)
            else:
                self._ask_again()

        self.house.workroom.ask(singing.suited, entry.path, span, kind, then=done, failed=failed)

    def _ask_again(self) -> None:
        self._asked = None
        self.consider()

    def _failed(self, trouble: Exception) -> None:
        self.house.say(str(trouble) if isinstance(trouble, MusicError) else say("desk.unreadable"))

    # What is done

    def pick_song(self, at: int) -> None:
        self.song = at
        self.consider()

    def search(self, text: str) -> None:
        self.find = text
        self.song = 0
        self.consider()

    def pick_singer(self, at: int) -> None:
        self.singer = at
        self.own = None
        self.consider()

    def set_end(self, low: bool, by: int) -> None:
        """Move an end of the tessitura by semitones."""
        _, span, _ = self.who
        if low:
            ends = (min(max(span.low.midi + by, LOWEST), span.high.midi - 1), span.high.midi)
        else:
            ends = (span.low.midi, max(min(span.high.midi + by, HIGHEST), span.low.midi + 1))
        self.own = Span(*(pitch_of(midi) for midi in ends))
        self.consider()

    def listen(self) -> None:
        """Take the singer's lowest and highest note from the piano; again to leave it."""
        self.listening = not self.listening
        self.heard_pitches = []

    def heard(self, event: Event) -> None:
        if not self.listening or not isinstance(event, Press) or event.pitch in self.heard_pitches:
            return
        self.heard_pitches.append(event.pitch)
        if len(self.heard_pitches) == 2:
            self.listening = False
            self.own = Span(*(pitch_of(midi) for midi in sorted(self.heard_pitches)))
            self.consider()

    @property
    def plays(self) -> bool:
        return self.listening

    def turn_to(self, at: int) -> None:
        self.page = at
        if PAGES[at] == WARM_UP:
            self.warm()

    def to_part(self, at: int) -> None:
        """Where there is no room for all: song, singer and staff stand before the pages."""
        self.part = at
        self.turn_to(max(0, at - singerview.BEFORE_PAGES))

    def pick_key(self, at: int) -> None:
        self.at = at

    def start(self) -> None:
        """The song in the chosen key, on the stand."""
        if self.suited is not None and self.best is not None:
            self._to_stand(self.suited.piece, self.best.transposition)

    def _to_stand(self, piece: Piece, move: Transposition) -> None:
        from trainer.window.practice import Wish, written_tempo

        self.house.rounds.stand().play(Wish(piece, move, tempo=written_tempo(piece)))

    # The set list

    def put_down(self) -> None:
        """The song, its singer and the chosen key onto the set list."""
        entry, best = self.entry, self.best
        if entry is None or best is None:
            return
        name, span, kind = self.who
        singers = self.lists.singers
        if name not in [one.name for one in singers] and name not in [one.name for one in VOICES]:
            singers = (*singers, Singer(name, span, kind))
        named = name if name in [one.name for one in singers] else ""
        occasion = self.occasion or Occasion(say("singer.occasion"), date.today() + timedelta(days=_OFF_DAYS))
        stem = Path(entry.path).stem if entry.bundled else entry.path
        song = Song(stem, entry.title, best.key.short, named)
        kept = tuple(one for one in occasion.songs if one.title != song.title)
        self._keep(replace(occasion, songs=(*kept, song)), singers)
        self.house.say(say("singer.put", title=entry.title, occasion=occasion.name))

    def strike(self) -> None:
        """Take the chosen song off the set list."""
        occasion = self.occasion
        if occasion is None or not occasion.songs:
            return
        at = min(self.listed, len(occasion.songs) - 1)
        self._keep(replace(occasion, songs=occasion.songs[:at] + occasion.songs[at + 1 :]), self.lists.singers)

    def _keep(self, occasion: Occasion, singers: tuple[Singer, ...]) -> None:
        known = self.occasion
        others = tuple(one for one in self.lists.occasions if one is not known)
        try:
            setlist.save(self.folder, SetLists(singers, (*others, occasion)))
        except MusicError as trouble:
            self.house.say(str(trouble))
        self.read()

    def invent(self) -> None:
        """An invented concert, to try it with."""
        try:
            setlist.save(self.folder, setlist.demo(date.today()))
        except MusicError as trouble:
            self.house.say(str(trouble))
        self.read()

    def pick_listed(self, at: int) -> None:
        self.listed = at

    def start_listed(self) -> None:
        """The chosen song of the set list in its key, on the stand."""
        from trainer.window import singing

        occasion = self.occasion
        if occasion is None or not occasion.songs:
            return
        song = occasion.songs[min(self.listed, len(occasion.songs) - 1)]

        def done(found: list[Opened]) -> None:
            one = found[0]
            if one.piece is not None and one.move is not None:
                self._to_stand(one.piece, one.move)
            else:
                self.house.say(one.fault)

        self.house.workroom.ask(singing.opened, [song], then=done, failed=self._failed)

    # The warm-up

    @property
    def warm_songs(self) -> tuple[Song, ...]:
        """What is warmed up for: the set list, else the song in the key chosen for the singer."""
        occasion = self.occasion
        if occasion is not None and occasion.songs:
            return occasion.songs
        entry, best = self.entry, self.best
        return (Song(entry.path, entry.title, best.key.short),) if entry and best else ()

    def set_minutes(self, at: int) -> None:
        self.minutes = at
        self.warm()

    def warm(self) -> None:
        """Ask for the steps, unless they are known or being worked out."""
        from trainer.window import singing

        songs = self.warm_songs
        asked = (songs, self.minutes)
        if asked == self._warmed:
            return
        self._warmed = asked
        self.steps, self.step = (), 0
        if songs:
            self.house.workroom.ask(singing.opened, list(songs), then=self._warm, failed=self._failed)

    def _warm_again(self) -> None:
        """What the warm-up is made from may have changed."""
        if PAGES[self.page] == WARM_UP:
            self.warm()

    def _warm(self, found: list[Opened]) -> None:
        from trainer.coaching.tonight import slips_by_bar
        from trainer.coaching.warmup import Tonight
        from trainer.window import singing

        journal = self.house.journal
        tonight = []
        for one in found:
            if one.piece is None or one.move is None:
                self.house.say(f"{one.song.title}: {one.fault}")
                continue
            try:
                slips = slips_by_bar(journal, self.house.player, one.piece, one.move.target) if journal else {}
            except JournalError as trouble:
                self.house.say(str(trouble))
                slips = {}
            tonight.append(Tonight(one.piece, one.move, slips))

        def done(steps: tuple[Step, ...]) -> None:
            self.steps = steps

        if tonight:
            self.house.workroom.ask(singing.warmed, tonight, MINUTES[self.minutes], then=done, failed=self._failed)

    def pick_step(self, at: int) -> None:
        self.step = at

    def start_steps(self) -> None:
        """The steps from the chosen one on, one after another on the stand."""
        from trainer.music.transpose import plan
        from trainer.window.practice import Wish, written_tempo

        row = []
        for step in self.steps[self.step :]:
            move = step.transposition or plan(step.piece.key, "+0")
            row.append((Wish(step.piece, move, tempo=written_tempo(step.piece)), step.words))
        if row:
            self.house.rounds.play_row(row)

    # From another's part

    def pick_instrument(self, at: int) -> None:
        self.instrument = at

    @property
    def from_part(self) -> Transposition | None:
        """The move that plays the song's page as the chosen instrument would sound from it."""
        entry = self.entry
        if entry is None:
            return None
        return playing_from(Written(Key.parse(entry.key), PLAYERS[self.instrument]))

    @property
    def part_for_best(self) -> Key | None:
        """What the instrument reads when it joins in the key chosen for the singer."""
        return part_for(Concert(self.best.key), PLAYERS[self.instrument]).value if self.best else None

    def start_part(self) -> None:
        move = self.from_part
        if self.suited is not None and move is not None:
            self._to_stand(self.suited.piece, move)

    # How it looks

    def lay(self, canvas: Canvas, controls: Controls) -> None:
        singerview.lay(self, canvas, controls)

    def key_down(self, name: str, event: pygame.event.Event) -> bool:
        if name == "escape" and self.listening:
            self.listening = False
            return True
        return False
