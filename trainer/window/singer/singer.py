"""Singer: which key suits tonight's singer, the set list, a warm-up made from it, and playing from another's part."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pygame

from trainer.coaching.singers.choirs import CHOIR
from trainer.coaching.singers.instruments import Concert, Written, part_for, playing_from
from trainer.coaching.singers.setlist import Singer
from trainer.coaching.singers.voices import VOICES, Span, Voice
from trainer.listening.press import Event, Press
from trainer.music.keys import Key
from trainer.music.piece import Piece
from trainer.music.transpose import Transposition, plan
from trainer.scores.shelf.library import Entry, Shelf, answers
from trainer.window.desk.shelving import shelve
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.controls import Controls
from trainer.window.screen import Dated
from trainer.window.singer import singerview
from trainer.window.singer.singerlist import SetListPage
from trainer.window.singer.singersong import InHand
from trainer.window.singer.singerwarm import WarmUpPage
from trainer.window.singer.singerwords import PAGES, PLAYERS, SET_LIST, WARM_UP, pitch_of, voice_named
from trainer.window.strings import say
from trainer.window.workroom.workroom import told

# What takes long to import and is not needed to draw the first frame is imported where it is used.
if TYPE_CHECKING:
    from trainer.coaching.singers.accompany import Suits
    from trainer.window.house.house import House
    from trainer.window.workroom.singing import Suited

# The list the arrows go through on a page; elsewhere it is that of the songs.
_LISTS = {SET_LIST: "listed", WARM_UP: "steps"}
LONGEST_NAME = 40
# The nearest and the farthest end of an own tessitura.
LOWEST, HIGHEST = 36, 88
_USUAL_PLAYER = "clarinet in B flat"


class SingerScreen(Dated):
    """See `screens`: singer's tessitura and voice line, keys that fit, set list, warm-up."""

    key = "f3"
    name = "singer"

    def __init__(self, house: House) -> None:
        super().__init__(house)
        self.entries: list[Entry] = []
        self.find = ""
        self.song = 0
        self.in_hand = InHand(self)
        self.set_list = SetListPage(self)
        self.warm_up = WarmUpPage(self)
        self.singer = 0
        # The singer's own tessitura, when it was set here.
        self.own: Span | None = None
        # Waiting for the singer's lowest and highest note on the piano; the notes heard so far.
        self.listening = False
        self.heard_pitches: list[int] = []
        # The name typed last for a singer whose tessitura was set here.
        self.naming: str | None = None
        self.page = 0
        self.part = 0
        self.suited: Suited | None = None
        # Whose line is looked at, where several sing.
        self.line = 0
        # Why there are no keys for the song.
        self.fault = ""
        self.at = 0
        self._asked: tuple[object, ...] | None = None
        self._busy = False
        # What was ordered while the keys were being weighed, and of which question.
        self._then: tuple[tuple[object, ...] | None, Callable[[], None]] | None = None
        self.instrument = next(at for at, one in enumerate(PLAYERS) if one.name == _USUAL_PLAYER)

    # Coming in

    def entered(self) -> None:
        first = not self.entries
        # The set list names singers: who is chosen must be known before keys are asked for.
        self.read()
        self._shelved(Shelf().entries)
        if not self.entries:
            shelve(self.house, self._shelved)
        if first:
            self.house.focus("songs")

    def opened(self) -> None:
        self.read()

    def left(self) -> None:
        self.listening = False
        self.naming = None
        self._then = None

    def _shelved(self, entries: list[Entry]) -> None:
        """The shelf as it is now; the chosen song stays chosen."""
        chosen = self.entry
        self.entries = self.in_hand.among(entries)
        paths = [entry.path for entry in self.shown]
        if chosen is not None and chosen.path in paths:
            self.song = paths.index(chosen.path)
        self.in_hand.follow()
        self.consider()

    def bring_forward(self, path: str) -> None:
        """Choose a song by its file."""
        if path not in {entry.path for entry in self.shown}:
            self.find = ""
        chosen = [entry.path for entry in self.shown].index(path)
        if chosen != self.song:
            self.song, self.line = chosen, 0

    def read(self) -> None:
        """The set list, and with it what the warm-up is made from."""
        self.set_list.read()
        self.warm_up.forget()
        self.consider()
        self._warm_again()

    def new_day(self) -> None:
        """The next occasion may be another."""
        self.read()

    def _warm_again(self) -> None:
        if PAGES[self.page] == WARM_UP:
            self.warm_up.ask()

    # What is chosen

    @property
    def shown(self) -> list[Entry]:
        """The shelf by the words typed."""
        return [entry for entry in self.entries if answers(entry, self.find)]

    @property
    def entry(self) -> Entry | None:
        shown = self.shown
        return shown[min(self.song, len(shown) - 1)] if shown else None

    @property
    def singers(self) -> list[tuple[str, Span, Voice | None]]:
        """Those of the set list, then the voice types: name, tessitura, type; last a choir, looked at part by part."""
        known = [(one.name, one.tessitura, one.voice) for one in self.set_list.lists.singers]
        part = self.suited.tessitura if self.suited is not None else VOICES[0].tessitura
        return [*known, *((kind.name, kind.tessitura, kind) for kind in VOICES), (CHOIR, part, None)]

    @property
    def is_choir(self) -> bool:
        return self.own is None and self.singer >= len(self.set_list.lists.singers) + len(VOICES)

    @property
    def who(self) -> tuple[str, Span, Voice | None]:
        """The singer as chosen; with an own tessitura the voice type's table has no say."""
        name, span, kind = self.singers[min(self.singer, len(self.singers) - 1)]
        return (name, span, kind) if self.own is None else (name, self.own, None)

    @property
    def singer_names(self) -> list[str]:
        """What each singer is called; one whose tessitura was set here is no voice type, nor quite who was kept."""
        names = [name for name, _, _ in self.singers]
        if self.own is not None:
            at = min(self.singer, len(names) - 1)
            kept = at < len(self.set_list.lists.singers)
            names[at] = say("singer.own.kept", name=names[at]) if kept else say("singer.own")
        return names

    def _set_own(self, low: int, high: int) -> None:
        """A tessitura set here, by its keys; set back to what it was, it is the singer's as chosen."""
        _, span, _ = self.singers[min(self.singer, len(self.singers) - 1)]
        back = (span.low.midi, span.high.midi) == (low, high)
        self.own = None if back else Span(pitch_of(low), pitch_of(high))
        self.consider()

    @property
    def best(self) -> Suits | None:
        """The key chosen among those that suit."""
        if self.suited is None or not self.suited.keys:
            return None
        return self.suited.keys[min(self.at, len(self.suited.keys) - 1)]

    def consider(self) -> None:
        """Ask which keys suit, unless that is known; while one question is out, only the last one after it is kept."""
        from trainer.window.workroom import singing

        entry = self.entry
        if entry is None:
            self.suited, self._asked = None, None
            return
        _, span, kind = self.who
        asked = (entry.path, None if self.is_choir else span, kind, self.line)
        if asked == self._asked:
            return
        self._asked, self.suited, self.at, self.fault = asked, None, 0, ""
        if self._busy:
            return
        self._busy = True

        def done(found: Suited) -> None:
            self._busy = False
            if self._asked == asked:
                self.suited = found
                self._warm_again()
                self._catch_up()
            else:
                self._ask_again()

        def failed(trouble: Exception) -> None:
            self._busy = False
            if self._asked == asked:
                self.fault = told(trouble, "desk.unreadable")
            else:
                self._ask_again()

        self.house.workroom.ask(singing.suited, *asked, then=done, failed=failed)

    def once_known(self, act: Callable[[], None]) -> None:
        """Do something as soon as the keys are weighed; not if the question, or the screen, is another by then."""
        self._then = (self._asked, act)

    def _catch_up(self) -> None:
        then, self._then = self._then, None
        if then is not None and then[0] == self._asked and self.house.screen is self:
            then[1]()

    def _ask_again(self) -> None:
        self._asked = None
        self.consider()

    def failed(self, trouble: Exception) -> None:
        self.house.unable("desk.unreadable")(trouble)

    # What is done

    def pick_song(self, at: int) -> None:
        self.song, self.line = at, 0
        self.consider()

    def other_line(self) -> None:
        """Of a duet or a choir the next one's line."""
        if self.suited is not None:
            kept, self.line = self.at, self.next_line
            self.consider()
            # The keys of a choir are the same for every part.
            self.at = kept if self.is_choir else self.at

    @property
    def next_line(self) -> int:
        return (self.line + 1) % len(self.suited.lines) if self.suited is not None else 0

    def search(self, text: str) -> None:
        """What is typed to find a song; the chosen one stays chosen when the line is emptied."""
        chosen = self.entry if not text else None
        self.find = text
        self.song, self.line = (self.shown.index(chosen), self.line) if chosen is not None else (0, 0)
        self.consider()

    def pick_singer(self, at: int) -> None:
        self.singer = at
        self.own = None
        self.naming = None
        self.consider()

    def name_singer(self) -> None:
        """Begin to name the singer whose tessitura was set here, so that they are kept."""
        name, _, _ = self.who
        self.naming = name if name in [one.name for one in self.set_list.lists.singers] else ""
        self.house.focus("name")

    def type_name(self, name: str) -> None:
        self.naming = name[:LONGEST_NAME]

    def keep_singer(self) -> None:
        """The singer under the name typed, beside the set list from now on."""
        name, (_, span, kind) = (self.naming or "").strip(), self.who
        if not name or voice_named(name):
            self.house.say(say("singer.name.needed"))
            self.house.focus("name")
            return
        self.naming = None
        self.pick_singer(self.set_list.keep_singer(Singer(name, span, kind)))
        self.house.say(say("singer.kept", name=name))

    def set_end(self, low: bool, by: int) -> None:
        """Move an end of the tessitura by semitones."""
        _, span, _ = self.who
        if low:
            ends = (min(max(span.low.midi + by, LOWEST), span.high.midi - 1), span.high.midi)
        else:
            ends = (span.low.midi, max(min(span.high.midi + by, HIGHEST), span.low.midi + 1))
        self._set_own(*ends)

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
            self._set_own(min(self.heard_pitches), max(self.heard_pitches))

    @property
    def plays(self) -> bool:
        return self.listening

    def turn_to(self, at: int) -> None:
        """A page, its list ready for the arrows."""
        self.page = at
        self.house.focus(_LISTS.get(PAGES[at], "songs"))
        self._warm_again()

    def to_part(self, at: int) -> None:
        """Where there is no room for all: song, singer and staff stand before the pages."""
        self.part = at
        self.turn_to(max(0, at - singerview.BEFORE_PAGES))

    def pick_key(self, at: int) -> None:
        self.at = at

    def step_key(self, by: int) -> None:
        """The key before or after the chosen one, as they stand from the left on the staff."""
        if self.suited is not None and self.suited.keys:
            self.at = max(0, min(len(self.suited.keys) - 1, self.at + by))

    def start(self) -> None:
        """The song in the chosen key, on the stand; as soon as the keys are weighed."""
        if self.suited is None and self._busy:
            self.once_known(self.start)
        if self.suited is not None and self.best is not None:
            self.to_stand(self.suited.piece, self.best.transposition, self.entry.path if self.entry is not None else "")

    def choose_sheet(self) -> None:
        """What of the song is to be printed, in the chosen key."""
        from trainer.window.desk.sheetpage import SheetPage

        if self.entry is not None and self.best is not None:
            self.house.screen_of(SheetPage).show_for(self.entry, self.best.transposition)

    def to_stand(self, piece: Piece, move: Transposition, path: str = "") -> None:
        from trainer.window.wish import Wish, written_tempo

        self.house.rounds.stand().play(Wish(piece, move, tempo=written_tempo(piece), name=path))

    # From another's part

    def pick_instrument(self, at: int) -> None:
        self.instrument = at

    @property
    def from_part(self) -> Transposition | None:
        """The move that plays the song's page as the chosen instrument would sound from it: none, where the file says
        how its part sounds, for it is read so.
        """
        entry = self.entry
        if entry is None:
            return None
        if self.in_concert:
            return plan(Key.parse(entry.key), "+0")
        return playing_from(Written(Key.parse(entry.key), PLAYERS[self.instrument]))

    @property
    def in_concert(self) -> bool:
        """Whether the song's file says how a part of it sounds, so that its page stands in concert pitch."""
        return self.suited is not None and self.suited.in_concert

    @property
    def part_for_best(self) -> Key | None:
        """What the instrument reads when it joins in the key chosen for the singer."""
        return part_for(Concert(self.best.key), PLAYERS[self.instrument]).value if self.best else None

    def start_part(self) -> None:
        move = self.from_part
        if self.suited is not None and move is not None:
            self.to_stand(self.suited.piece, move)

    # How it looks

    def lay(self, canvas: Canvas, controls: Controls) -> None:
        singerview.lay(self, canvas, controls)

    def key_down(self, name: str, event: pygame.event.Event) -> bool:
        if name == "escape" and self.listening:
            self.listening = False
            return True
        if name == "escape" and self.find:
            self.search("")
            return True
        return False
