"""Keys: the twenty-four keys round the circle of fifths, one of them closely, and how everything grew over weeks."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING

from trainer.journal.errors import JournalError
from trainer.journal.tally import canonical
from trainer.music.compass import LEVELS
from trainer.music.keys import Key
from trainer.music.piece import BOTH, Piece
from trainer.music.pitch import MusicError
from trainer.music.transpose import plan
from trainer.scores.shelf.library import Entry, Shelf
from trainer.window import players
from trainer.window.desk.shelving import shelve
from trainer.window.desk.todays import play, todays
from trainer.window.keys import keysview
from trainer.window.keys.circle import FREE
from trainer.window.keys.growth import Point
from trainer.window.keys.keyfacts import Found, read
from trainer.window.masthead import Link
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.controls import Controls
from trainer.window.screen import Dated, awaited
from trainer.window.strings import say
from trainer.window.studio import lessonpage
from trainer.window.workroom import pieces

if TYPE_CHECKING:
    from trainer.coaching.today.schedule import Suggestion
    from trainer.listening.press import Event
    from trainer.window.house.house import House
    from trainer.window.wish import Wish


class Keys(Dated):
    """See `screens`: the circle, the chosen key, sight speed and cost of transposing."""

    key = "f2"
    name = "keys"

    def __init__(self, house: House) -> None:
        super().__init__(house)
        self.chosen = Key.parse("C")
        # What lay on the stand when it was looked last.
        self._followed: Wish | None = None
        # The view shown where there is no room for all, see `keysview.VIEWS`.
        self.view = 0
        self.found = Found()
        self.entries: list[Entry] = []
        self.today: list[Suggestion] = []
        # Whether others play here, too.
        self.several = False
        self.down: frozenset[int] = frozenset()

    def entered(self) -> None:
        self.entries = Shelf().entries
        self.found = Found()
        self.down = frozenset()
        wish = self.house.on_stand
        if wish is not None and wish is not self._followed:
            # What is played now is looked at first.
            self._followed, self.chosen = wish, Key.parse(canonical(wish.plan.target))
        journal = self.house.journal
        if journal is not None:
            try:
                self.found = read(journal, self.house.player, datetime.now().astimezone(), self.house.settings.minor)
                self.several = len(players.known(self.house)) > 1
            except (JournalError, MusicError) as trouble:
                self.house.say(str(trouble))
        self.today = todays(self.house, self.entries).offered
        if not self.entries:
            shelve(self.house, self._shelved)
        self.house.focus("circle")

    def _shelved(self, entries: list[Entry]) -> None:
        self.entries = entries
        self.today = todays(self.house, entries).offered

    def opened(self) -> None:
        self.entered()

    def new_day(self) -> None:
        self.entered()

    def heard(self, event: Event) -> None:
        from trainer.listening.press import Press, Release

        if isinstance(event, Press):
            self.down |= {event.pitch}
        elif isinstance(event, Release):
            self.down -= {event.pitch}

    # What is known

    def history(self, key: Key) -> list[Point]:
        """Share of notes right in a key, week by week, with its band."""
        journal = self.house.journal
        if journal is None:
            return []
        if key.short not in self.found.history:
            from trainer.journal.summary import by_week

            points = []
            try:
                for day, week in by_week(journal, self.house.player, key=key.short).items():
                    if week.accuracy is not None:
                        points.append(Point(day, week.accuracy, week.band))
            except JournalError as trouble:
                self.house.say(str(trouble))
            self.found.history[key.short] = points
        return self.found.history[key.short]

    @property
    def due(self) -> Suggestion | None:
        """What today's list asks for first in the chosen key; its five fingers have a button of their own."""
        from trainer.coaching.today.schedule import SIGHT

        return next(
            (
                one for one in self.today
                if canonical(one.key) == canonical(self.chosen) and one.kind != SIGHT and not one.pattern
            ),
            None,
        )  # fmt: skip

    def entry_for(self, key: Key) -> Entry | None:
        """A piece for a key: of the lowest level not yet free in it, played least in it so far."""
        below = [at for at in range(len(LEVELS)) if self.found.state(key.short, at) != FREE]
        for at in below:
            fits = [
                entry for entry in self.entries
                if entry.level == LEVELS[at] and entry.mode == key.mode
                and Key.parse(entry.key).tonic.pitch_class != key.tonic.pitch_class
            ]  # fmt: skip
            if fits:
                return min(fits, key=lambda one: (self.found.played[one.title, key.short], one.hands != BOTH))
        return None

    # What is done

    def choose(self, key: Key) -> None:
        self.chosen = key

    def start(self) -> None:
        """What is due in the chosen key on the stand, else a fitting piece, else its five-finger pattern."""
        if self.due is not None:
            play(self.house, self.due)
            return
        entry, key = self.entry_for(self.chosen), self.chosen
        if entry is None:
            self.pattern("pentascale")
            return

        def made(piece: Piece) -> None:
            from trainer.window.stand.stand import Stand
            from trainer.window.wish import Wish, written_tempo

            stand = self.house.screen_of(Stand)
            stand.play(Wish(piece, plan(piece.key, key.short), tempo=written_tempo(piece), name=entry.path))

        then, failed = awaited(self.house, made), self.house.unable("desk.unreadable")
        self.house.workroom.ask(pieces.piece_at, entry.path, then=then, failed=failed)

    def pattern(self, kind: str) -> None:
        self.house.rounds.play_pattern(kind, self.chosen, BOTH)

    def turn_to(self, at: int) -> None:
        self.view = at

    @property
    def links(self) -> list[Link]:
        """What else can be done here: the page for the lesson, handing over; where several play, everybody's too."""
        lesson = Link("keys.lesson", say("keys.lesson"), "l", partial(lessonpage.print_page, self.house, False))
        handing = Link("keys.handing", say("keys.handing"), "i", partial(self.house.go, "handing"))
        if not self.several:
            return [lesson, handing]
        return [
            lesson, Link("keys.studio", say("keys.studio"), "u", partial(self.house.go, "studio")), handing,
            Link("player", say("keys.player"), "y", self.next_player),
            Link("everybody", say("keys.everybody"), "a", self.print_all),
        ]  # fmt: skip

    def next_player(self) -> None:
        """The keys of the next who plays here, who sits here from now on."""
        self.house.switch(players.after(self.house))
        self.entered()

    def print_all(self) -> None:
        """The studio's page and everybody's, on paper."""
        lessonpage.print_page(self.house, True)

    def show_page(self) -> None:
        lessonpage.show_page(self.house)

    # How it looks

    def lay(self, canvas: Canvas, controls: Controls) -> None:
        keysview.lay(self, canvas, controls)
        if not self.several:
            # It is not offered to who plays alone; a teacher who looks for it is told how students come.
            controls.order("studio", "u", partial(self.house.go, "studio"))
