"""A take that was cut off, by a crash or a power cut: one quiet line on the Desk offers to mark it."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.journal.errors import JournalError
from trainer.journal.values import FINISHED
from trainer.music.keys import Key
from trainer.window.days import day_words
from trainer.window.paint import banner
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.controls import Controls
from trainer.window.strings import key_name, say
from trainer.window.workroom import pieces

if TYPE_CHECKING:
    from trainer.following.marks import Settled
    from trainer.following.timing import Timing
    from trainer.journal.values import TakeRow
    from trainer.session import Summary
    from trainer.window.house.house import House

FINISH_KEY, KEEP_KEY = "f", "u"


class CutOff:
    """The newest take of this player that was cut off, and what can be done with it.

    Parameters
    ----------
    house : House
    """

    def __init__(self, house: House) -> None:
        self.house = house
        self.row: TakeRow | None = None
        self._marking = False

    def look(self) -> None:
        """Look in the journal; to be called when the Desk comes to the front."""
        self.row = None
        journal = self.house.journal
        if journal is None:
            return
        try:
            mine = [row for row in journal.unfinished() if row.player == self.house.player]
        except JournalError as trouble:
            self.house.say(str(trouble))
            return
        self.row = mine[-1] if mine else None

    @property
    def words(self) -> str:
        """Which take it is: piece, key, when it was begun."""
        row = self.row
        if row is None:
            return ""
        key = key_name(Key.parse(row.target), self.house.settings.letters)
        day, time = day_words(row.began.date()), f"{row.began:%H:%M}"
        return say("cut.offer", title=row.title, key=key, day=day, time=time)

    # What is done

    def finish(self) -> None:
        """Mark what was played, as `keyfarer journal finish`, and show it on the Marked copy."""
        journal, row = self.house.journal, self.row
        if journal is None or row is None or self._marking:
            return
        try:
            kept = journal.take(row.id)
        except JournalError as trouble:
            self.house.say(str(trouble))
            return
        self._marking = True
        self.house.say(say("cut.marking"), 60.0)
        # By then another player may have sat down, with a take of their own.
        done = partial(self._marked, row)
        self.house.workroom.ask(pieces.marked_again, kept, self.house.outer_keys, then=done, failed=self._failed)

    def _marked(self, row: TakeRow, found: tuple[Settled, Summary, Timing | None]) -> None:
        self._marking = False
        journal = self.house.journal
        assert journal is not None
        try:
            # Another copy of the program may have marked it meanwhile, and learned from it.
            moved = ""
            if journal.row(row.id).state != FINISHED:
                journal.settle(row.id, *found)
                moved = self.house.rounds.learn_from(row)
            waits = self.house.screen is not None and self.house.screen.name == "desk"
            if self.house.notice is not None and self.house.notice.words == say("cut.marking"):
                self.house.notice = None
            if row.player == self.house.player and waits:
                self.house.rounds.show_kept(row.id)
            elif row.player == self.house.player:
                # Whoever went elsewhere meanwhile is not called away from there.
                moved = f"{say('cut.marked')} {moved}".strip()
            if moved:
                self.house.say(moved)
        except JournalError as trouble:
            self.house.say(str(trouble))

    def keep(self) -> None:
        """Leave it as it is, without marks, as `keyfarer journal keep`; it is not offered again."""
        journal, row = self.house.journal, self.row
        if journal is None or row is None or self._marking:
            return
        try:
            journal.keep(row.id)
            self.house.say(say("cut.kept"))
        except JournalError as trouble:
            self.house.say(str(trouble))
        assert self.house.screen is not None
        self.house.screen.entered()

    def _failed(self, trouble: Exception) -> None:
        self._marking = False
        self.house.unable("cut.unmarked")(trouble)

    # How it looks

    def lay(self, canvas: Canvas, controls: Controls, rect: Rect) -> Rect:
        """Lay the line at the top of `rect`, when there is one; returns the rest."""
        if self.row is None:
            return rect
        ways = (
            banner.Way("cut.finish", say("cut.finish"), FINISH_KEY, self.finish),
            banner.Way("cut.keep", say("cut.keep"), KEEP_KEY, self.keep),
        )
        return banner.lay(canvas, controls, rect, "cut", self.words, ways, low=True)
