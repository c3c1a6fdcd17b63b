"""The player's own shelf at the Desk: pieces taken off it and put back, and why files that came are not on it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.music.pitch import MusicError
from trainer.window.desk.deskwork import LONG_S
from trainer.window.paint import banner
from trainer.window.places import home
from trainer.window.strings import say
from trainer.window.workroom import pieces

if TYPE_CHECKING:
    from pygame import Rect

    from trainer.scores.shelf.library import Entry
    from trainer.window.desk.desk import Desk
    from trainer.window.house.house import House
    from trainer.window.paint.canvas import Canvas
    from trainer.window.paint.controls import Controls

OFF_KEY, BACK_KEY, NEXT_KEY, AWAY_KEY = "delete", "ctrl z", "a", "x"


def shelve(house: House, then: Callable[[list[Entry]], None]) -> None:
    """Read the shelf anew, elsewhere; what of it cannot be read the Desk tells as long as it is so."""

    def tell(trouble: str) -> None:
        before, house.shelf_trouble = house.shelf_trouble, trouble
        if trouble and trouble != before:
            house.say(trouble, LONG_S)

    def go_on(before: int = 0) -> None:
        def read(found: tuple[list[Entry], str, int]) -> None:
            entries, trouble, waiting = found
            tell(trouble)
            if not waiting:
                then(entries)
            elif waiting < before or not before:
                go_on(waiting)
            else:
                # Where nothing of it can be kept on disk each turn would begin anew.
                house.workroom.ask(pieces.shelved, True, then=read, failed=failed)

        house.workroom.ask(pieces.shelved, then=read, failed=failed)

    def failed(_: Exception) -> None:
        tell(say("desk.shelf.unread"))

    go_on()


@dataclass
class Shelving:
    """What was taken off the shelf since the program began, and what came and is not on it.

    Parameters
    ----------
    desk : Desk
    """

    desk: Desk
    # Of each its title and where it lies now, the last one last.
    gone: list[tuple[str, Path]] = field(default_factory=list)
    # A sentence for each file that was not brought, and which of them is shown.
    left: list[str] = field(default_factory=list)
    shown: int = 0

    @property
    def own(self) -> bool:
        """Whether the piece chosen is one of the player's own, that can leave the shelf."""
        return self.desk.entry is not None and not self.desk.entry.bundled

    # Off, and back

    def take_off(self) -> None:
        """Take the piece chosen off the shelf; one quiet line says what undoes it."""
        from trainer.scores.shelf import offshelf

        desk, entry = self.desk, self.desk.entry
        if entry is None or entry.bundled:
            return

        def done(place: Path) -> None:
            self.gone.append((entry.title, place))
            said = say("desk.off.done", title=entry.title, folder=home(place.parent))
            if self._is_set(entry.path):
                said = say("desk.off.set", said=said)
            desk.house.say(said, LONG_S)

        def failed(trouble: Exception) -> None:
            desk.failed(trouble)
            desk.reread(entry.path)

        desk.forget(entry.path)
        desk.house.workroom.keep(offshelf.take_off, entry.path, then=done, failed=failed)

    def put_back(self) -> None:
        """Put back what was taken off last."""
        from trainer.scores.shelf import offshelf

        if not self.gone:
            return
        desk = self.desk
        title, place = self.gone.pop()

        def done(goal: Path) -> None:
            desk.house.say(say("desk.off.back", title=title), LONG_S)
            desk.reread(str(goal))

        desk.house.workroom.keep(offshelf.put_back, place, then=done, failed=desk.failed)

    def _is_set(self, path: str) -> bool:
        """Whether the piece is set as work for somebody here."""
        from trainer.coaching.work.assignments import load

        try:
            return any(one.piece == path for one in load(self.desk.house.journal_file.parent))
        except MusicError:  # a file of work that cannot be read is told on the Desk
            return False

    # What came and is not there

    def tell(self, left: list[str]) -> None:
        """Say at the Desk, from now on, why some files are not on the shelf."""
        self.left, self.shown = left, 0

    def next_left(self) -> None:
        """The next of them."""
        self.shown = (self.shown + 1) % max(1, len(self.left))

    def put_away(self) -> None:
        """Say it no more."""
        self.tell([])

    def lay(self, canvas: Canvas, controls: Controls, rect: Rect) -> Rect:
        """Lay the line at the top of `rect`, when there is one; returns the rest."""
        if not self.left:
            return rect
        at, of = self.shown + 1, len(self.left)
        words = say("desk.left" if of == 1 else "desk.left.several", at=at, of=of, why=self.left[self.shown])
        ways = [banner.Way("left.away", say("desk.left.away"), AWAY_KEY, self.put_away)]
        if of > 1:
            ways.insert(0, banner.Way("left.next", say("desk.left.next"), NEXT_KEY, self.next_left))
        return banner.lay(canvas, controls, rect, "left", words, ways)
