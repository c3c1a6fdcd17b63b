"""A take the player does not want to keep: a question at the top of the Desk, then it is gone for good."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pygame import Rect

from trainer.journal.errors import JournalError
from trainer.journal.values import PATTERN
from trainer.music.keys import Key
from trainer.window.days import day_words
from trainer.window.paint import banner
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.controls import Controls
from trainer.window.strings import key_in, key_name, say

if TYPE_CHECKING:
    from trainer.journal.values import TakeRow
    from trainer.window.desk.desk import Desk

# It is asked with one key and done with another: nobody erases by a key struck twice.
ASK_KEY, YES_KEY, NO_KEY = "delete", "d", "escape"


class Erasing:
    """The recent take that is asked about.

    Parameters
    ----------
    desk : Desk
    """

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.row: TakeRow | None = None

    def ask(self) -> None:
        """Ask about the take chosen among the recent ones."""
        desk = self.desk
        self.row = desk.recent[min(desk.took, len(desk.recent) - 1)] if desk.recent else None

    def leave(self) -> None:
        """It stays."""
        self.row = None

    def erase(self) -> None:
        """Erase it, as `keyfarer journal erase --take`: what it added to the figures goes, too."""
        from trainer.journal.erasing import erase_takes

        journal, row, house = self.desk.house.journal, self.row, self.desk.house
        self.row = None
        if journal is None or row is None:
            return
        said = self._named(row)
        try:
            journal.flush()
            erase_takes(journal, [row.id])
        except JournalError as trouble:
            house.say(str(trouble))
            return
        if house.rounds.last is not None and house.rounds.last.number == row.id:
            house.rounds.last = None
        self.desk.entered()
        house.say(say("desk.erase.done", take=said))

    def _named(self, row: TakeRow) -> str:
        """Which take it is: ``Aura Lee in E flat major, today at 19:02``."""
        letters, key = self.desk.house.settings.letters, Key.parse(row.target)
        title = key_in(row.title, key, letters) if row.kind == PATTERN else row.title
        when = {"day": day_words(row.began.date()), "time": f"{row.began:%H:%M}"}
        return say("desk.erase.take", title=title, key=key_name(key, letters), **when)

    def offer(self, controls: Controls) -> None:
        """The recent takes are laid: where they have the focus, the key asks about the chosen one."""
        if self.row is None and controls.focus == "recent":
            controls.order("erase.ask", ASK_KEY, self.ask)

    def lay(self, canvas: Canvas, controls: Controls, rect: Rect) -> Rect:
        """Lay the question at the top of `rect`, when there is one; returns the rest."""
        if self.row is None:
            return rect
        ways = (
            banner.Way("erase.yes", say("desk.erase.yes"), YES_KEY, self.erase),
            banner.Way("erase.no", say("desk.erase.no"), NO_KEY, self.leave),
        )
        words = say("desk.erase.ask", take=self._named(self.row))
        return banner.lay(canvas, controls, rect, "erase", words, ways, low=True)
