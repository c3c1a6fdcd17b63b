"""The Desk: what to play today, recent takes, the shelf, and how the chosen piece is to be played."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import pygame

from trainer.journal.errors import JournalError
from trainer.music.keys import Key
from trainer.music.piece import BOTH, HANDS, LEFT, RIGHT
from trainer.music.transpose import OCTAVES, Transposition, by_semitones, interval_between
from trainer.scores.shelf.library import Entry, Shelf, answers
from trainer.window import players
from trainer.window.desk import bringing, deskview, deskwork
from trainer.window.desk.cutoff import CutOff
from trainer.window.desk.erasing import Erasing
from trainer.window.desk.shelving import Shelving, shelve
from trainer.window.desk.todays import play, todays
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.controls import Controls
from trainer.window.screen import Dated, awaited
from trainer.window.strings import say
from trainer.window.workroom import pieces

# What takes long to import and is not needed to draw the first frame is imported where it is used.
if TYPE_CHECKING:
    from trainer.coaching.today.schedule import Suggestion
    from trainer.coaching.work.assignments import Assignment, Progress
    from trainer.journal.values import TakeRow
    from trainer.music.piece import Piece
    from trainer.window.house.house import House
    from trainer.window.wish import Wish

_RECENT = 6


class Desk(Dated):
    """See `screens`: today, recent takes, shelf."""

    key = "f1"
    name = "desk"

    def __init__(self, house: House) -> None:
        super().__init__(house)
        self.cut_off = CutOff(house)
        self.erasing = Erasing(self)
        self.shelving = Shelving(self)
        # Files named when the window was opened, brought once the journal is open.
        self.given: Sequence[str] = ()

    def entered(self) -> None:
        if not hasattr(self, "entries"):
            self._begin()
        self._as_on_stand()
        self.players = players.known(self.house)
        self._renew()
        self.recent = self._recent()
        self.cut_off.look()
        self.erasing.leave()
        if self.house.ready:
            self.reread()

    def new_day(self) -> None:
        self._renew()

    def opened(self) -> None:
        self.entered()
        given, self.given = self.given, ()
        if given:
            self.house.open_files(given)

    def reread(self, path: str = "") -> None:
        """Look for new files on the shelf, elsewhere; then the one at `path` is chosen."""

        def shelved(entries: list[Entry]) -> None:
            self._shelved(entries)
            if path and hasattr(self, "entries"):
                self.show_path(path)

        shelve(self.house, shelved)

    def _begin(self) -> None:
        self.entries: list[Entry] = Shelf().entries
        # The part shown where there is no room for all.
        self.part = 0
        self.filters = dict.fromkeys(deskview.FILTERS, deskview.ANY)
        self.find = ""
        self.chosen = 0
        self.suggestions: list[Suggestion] = []
        self.suggested = 0
        self.took = 0
        # Of the recent takes those that lay in another octave or key as a whole: their figures say nothing.
        self.elsewhere: dict[int, int] = {}
        self.target = 0
        self.octave = 0
        self.practice = 0
        self.hands = 0
        self.reading = ""
        # The path of the sheet printed last.
        self.sheet = ""
        # What lay on the stand when the choice last followed it.
        self._followed: Wish | None = None
        # The list of this day is played, and the minutes that are left of those given; None before.
        self.spare: float | None = None
        # What comes next and does not fit the minutes left.
        self.waiting: Suggestion | None = None
        self.house.focus("shelf")

    def _shelved(self, entries: list[Entry]) -> None:
        if not hasattr(self, "entries"):
            return  # Nobody has been here yet.
        current = self.entry
        self.entries = entries
        if current is not None:
            self._choose_path(current.path)
        self._as_on_stand()
        self._renew()

    def _choose_path(self, path: str) -> None:
        shown = self.shown
        self.chosen = next((at for at, entry in enumerate(shown) if entry.path == path), 0)

    def show_path(self, path: str) -> None:
        """Choose the piece of that file, without the filters where they hide it."""
        if path not in {entry.path for entry in self.shown}:
            self.find, self.filters = "", dict.fromkeys(deskview.FILTERS, deskview.ANY)
        self._choose_path(path)

    def forget(self, path: str) -> None:
        """A file is not on the shelf any more; what stood after it is chosen."""
        self.entries = [entry for entry in self.entries if entry.path != path]
        self.chosen = max(0, min(self.chosen, len(self.shown) - 1))
        self._renew()

    def _as_on_stand(self) -> None:
        """What was put on the stand since, from whatever screen, is chosen here too: the same piece in the same key."""
        wish = self.house.on_stand
        if wish is None or wish is self._followed or wish.name not in {entry.path for entry in self.entries}:
            return
        self._followed = wish
        self.choose(wish.name, wish.plan)

    def choose(self, path: str, move: Transposition) -> None:
        """Choose the piece of that file, to be moved so; what is not on the shelf cannot be chosen."""
        if not hasattr(self, "entries"):
            self._begin()
        if path not in {entry.path for entry in self.entries}:
            return
        self.show_path(path)
        self.target = move.interval.semitones % 12
        ways = [interval_between(move.written, move.target, way) for way in OCTAVES]
        self.octave = ways.index(move.interval) if move.interval in ways else self.octave

    # What is on it

    @property
    def in_hand(self) -> str:
        """The file of the piece chosen here, or put on the stand since; empty before anything is."""
        if not hasattr(self, "entries"):
            return self.house.on_stand.name if self.house.on_stand is not None else ""
        self._as_on_stand()
        # The first piece of the shelf is chosen before anybody chooses.
        touched = self.chosen or self.find or self._followed is not None
        return self.entry.path if self.entry is not None and touched else ""

    @property
    def shown(self) -> list[Entry]:
        """The shelf through its filters."""
        return [
            entry for entry in self.entries
            if all(value in (deskview.ANY, getattr(entry, name)) for name, value in self.filters.items())
            and answers(entry, self.find)
        ]  # fmt: skip

    @property
    def entry(self) -> Entry | None:
        """The piece chosen on the shelf."""
        shown = self.shown
        return shown[min(self.chosen, len(shown) - 1)] if shown else None

    def targets(self, entry: Entry) -> list[Key]:
        """The twelve keys a piece can be played in, from its own upward by semitones."""
        written = Key.parse(entry.key)
        return [by_semitones(written, up).target for up in range(12)]

    def transposition(self, entry: Entry) -> Transposition:
        """What is asked for of a piece."""
        written = Key.parse(entry.key)
        target = self.targets(entry)[self.target % 12]
        return Transposition(written, target, interval_between(written, target, OCTAVES[self.octave]))

    def hands_for(self, entry: Entry) -> tuple[str, ...]:
        """The hands a piece can be played with: of one written for one hand, that one."""
        drill = deskview.WAYS[self.practice] in deskwork.DRILLS
        # A drill is music of its own.
        return HANDS if drill or entry.hands not in (LEFT, RIGHT) else (entry.hands,)

    def asked_hands(self, entry: Entry) -> str:
        """The hands chosen, as far as the piece has them."""
        offered = self.hands_for(entry)
        return HANDS[self.hands] if HANDS[self.hands] in offered else offered[0]

    def choose_hands(self, hands: str) -> None:
        """Both, or one; what was chosen stays for the next piece that has a choice."""
        if self.entry is not None and len(self.hands_for(self.entry)) > 1:
            self.hands = HANDS.index(hands)

    def _renew(self) -> None:
        """Today's list anew; the row that was chosen stays chosen wherever it comes to stand."""
        before = self.suggestions[self.suggested : self.suggested + 1]
        self.suggestions = self._today()
        asked = [(one.title, one.key, one.hands) for one in self.suggestions]
        for one in before:
            if (one.title, one.key, one.hands) in asked:
                self.suggested = asked.index((one.title, one.key, one.hands))

    def _today(self) -> list[Suggestion]:
        found = todays(self.house, self.entries)
        self.spare, self.waiting = found.spare, found.waiting
        return found.offered

    def _recent(self) -> list[TakeRow]:
        self.elsewhere = {}
        journal = self.house.journal
        if journal is None:
            return []
        try:
            journal.flush()
            recent = journal.takes(self.house.player, _RECENT)
            self.elsewhere = journal.elsewhere(recent)
            return recent
        except JournalError as trouble:
            self.house.say(str(trouble))
            return []

    # What is done

    def bring(self, paths: Sequence[str]) -> None:
        """Files of the player's own: keep them on the shelf, and make one that comes alone ready to be played."""
        bringing.bring(self, paths)

    def tell_left_out(self, path: str, before: str = "") -> None:
        """Say what of a file of the player's own is not on the stand, after what was said `before`."""

        def told(said: str) -> None:
            if said:
                self.house.say(f"{before} {said}".strip(), deskwork.LONG_S)

        self.house.workroom.ask(pieces.left_out_at, path, then=told, failed=self.failed)

    def failed(self, trouble: Exception) -> None:
        self.reading = ""
        self.house.unable("desk.unreadable")(trouble)

    def start(self) -> None:
        """The chosen piece, on the stand."""
        entry = self.entry
        if entry is None or self.reading:
            return
        self.reading = entry.title
        moved = self.transposition(entry)
        mode, hands = deskview.WAYS[self.practice], self.asked_hands(entry)
        if mode in deskwork.DRILLS:
            deskwork.start(self, mode, entry, moved, hands)
            return

        def read(piece: Piece) -> None:
            from trainer.window.wish import Wish, written_tempo

            chosen = hands if hands == BOTH or hands in piece.hands else BOTH
            self.play(Wish(piece, moved, chosen, mode, written_tempo(piece), name=entry.path))
            if not entry.bundled:
                self.tell_left_out(entry.path)

        self.house.workroom.ask(pieces.piece_at, entry.path, then=self.once_read(read), failed=self.failed)

    def once_read(self, then: Callable[[Piece], None]) -> Callable[[Piece], None]:
        """What becomes of the piece that is being read."""
        waited = awaited(self.house, then)

        def read(piece: Piece) -> None:
            self.reading = ""
            waited(piece)

        return read

    def choose_sheet(self) -> None:
        """What of the chosen piece is to be printed."""
        if self.entry is not None:
            self.house.go("sheet")

    @property
    def asked(self) -> tuple[Entry, Transposition] | None:
        """The piece chosen on the shelf, and what is asked for of it."""
        return (self.entry, self.transposition(self.entry)) if self.entry is not None else None

    def print_sheet(self, other: tuple[Entry, Transposition] | None = None) -> None:
        """The chosen piece, or another, on paper for its key."""
        if asked := other or self.asked:
            deskwork.print_sheet(self, *asked, self.asked_hands(asked[0]))

    def write_out(self, other: tuple[Entry, Transposition] | None = None) -> None:
        """The chosen piece, or another, in its key for a notation program."""
        if asked := other or self.asked:
            deskwork.write_out(self, *asked)

    def show_sheet(self) -> None:
        """The sheet printed last, as it will come out on paper."""
        deskwork.show_sheet(self)

    def next_player(self) -> None:
        """Another player sits down, with their own list, takes and settings."""
        self.house.switch(players.after(self.house))
        self.took = self.suggested = 0
        self.entered()
        self.house.say(say("setup.switched", player=self.house.player))

    def choose_work(self) -> None:
        """On which terms the chosen piece is to be set as work."""
        if self.entry is not None:
            self.house.go("work")

    def set_work(self, terms: deskwork.Terms = deskwork.WEEK) -> None:
        """The chosen piece, key and hands as work."""
        if self.entry is not None:
            deskwork.set_work(self, self.entry, self.transposition(self.entry), self.asked_hands(self.entry), terms)
            self._renew()

    @property
    def progress(self) -> Progress | None:
        """How far is what is set already of the chosen piece, in the chosen key and for the chosen hands."""
        if self.entry is None:
            return None
        return deskwork.known(self, self.entry, self.transposition(self.entry), self.asked_hands(self.entry))

    @property
    def work(self) -> Assignment | None:
        """What is set, of the row chosen in today's list."""
        return self.suggestions[min(self.suggested, len(self.suggestions) - 1)].work if self.suggestions else None

    def withdraw(self, work: Assignment | None = None) -> None:
        """Take back some work, or that chosen in today's list."""
        taken = work or self.work
        if taken is not None:
            deskwork.withdraw(self, taken)
            self._renew()

    def play(self, wish: Wish) -> None:
        """Put a wish on the stand and go there."""
        from trainer.window.stand.stand import Stand

        self.house.screen_of(Stand).play(wish)

    def suggest(self) -> None:
        """Play what the coach offers."""
        if not self.suggestions:
            return
        play(self.house, self.suggestions[min(self.suggested, len(self.suggestions) - 1)])

    def open_take(self) -> None:
        """A recent take, on the Marked copy."""
        if self.house.journal is None or not self.recent:
            return
        row = self.recent[min(self.took, len(self.recent) - 1)]
        try:
            if not self.house.rounds.show_kept(row.id):
                self.house.say(say("desk.no-take"))
        except JournalError as trouble:
            self.house.say(str(trouble))

    def search(self, text: str) -> None:
        """What is typed to find a piece; the chosen one stays chosen when the line is emptied."""
        chosen = self.entry if not text else None
        self.find = text
        self.chosen = self.shown.index(chosen) if chosen is not None else 0

    def filter(self, name: str, at: int) -> None:
        """Another value of one of the filters."""
        self.filters[name] = list(deskview.FILTERS[name][1])[at]
        self.chosen = 0

    def step_target(self, by: int) -> None:
        """A semitone up or down."""
        self.target = (self.target + by) % 12

    def key_down(self, name: str, event: pygame.event.Event) -> bool:
        # The Desk is where everything begins: escape leads nowhere from here.
        if name == "escape" and self.find:
            self.search("")
        return name == "escape"

    # How it looks

    def lay(self, canvas: Canvas, controls: Controls) -> None:
        deskview.lay(self, canvas, controls)
