"""Files of the player's own, dropped on the window or named when it is opened: kept on the shelf; one is played."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.journal.errors import JournalError
from trainer.music.counted import many
from trainer.music.keys import Key
from trainer.music.pitch import Interval, MusicError
from trainer.music.transpose import Transposition, plan
from trainer.window.desk.deskwork import LONG_S
from trainer.window.places import home
from trainer.window.strings import say
from trainer.window.workroom.workroom import told

if TYPE_CHECKING:
    from trainer.music.piece import Piece
    from trainer.scores.shelf.books import Tune
    from trainer.scores.shelf.keeping import Brought
    from trainer.window.desk.desk import Desk
    from trainer.window.house.house import House

# So many names of files stand in one line.
_NAMED = 3


def bring(desk: Desk, paths: Sequence[str]) -> None:
    """Keep files on the shelf. One alone is played; several, or the tunes of a book, fill the shelf, and the Desk says
    why some did not.
    """
    from trainer.scores.shelf.keeping import unfolded

    if len(paths) == 1:
        desk.house.say(say("desk.reading", name=Path(paths[0]).name))

    def listed(found: list[str | Tune]) -> None:
        if len(found) == 1 and isinstance(found[0], str):
            _bring_one(desk, found[0])
        else:
            _Several(desk, deque(found), len(found)).begin()

    desk.house.workroom.ask(unfolded, tuple(paths), then=listed, failed=desk.failed)


def _bring_one(desk: Desk, path: str) -> None:
    """Read a file, keep it on the shelf and play it: in the key it was played in last, else as written."""
    from trainer.scores.shelf.keeping import brought

    desk.reading = Path(path).name
    desk.house.say(say("desk.reading", name=desk.reading))

    def read(found: Brought) -> None:
        from trainer.window.wish import Wish, written_tempo

        piece = found.piece
        desk.reading = ""
        desk.house.notice = None
        desk.play(Wish(piece, last_played(desk.house, piece), tempo=written_tempo(piece), name=found.path))
        tell_kept(desk, path, found)

    desk.house.workroom.ask(brought, path, then=read, failed=desk.failed)


def tell_kept(desk: Desk, path: str, found: Brought) -> None:
    """Say where a file lies from now on, and what of it is not on the stand."""
    said = _kept(path, found)
    if said:
        desk.house.say(said, LONG_S)
    if found.older:
        desk.shelving.gone.append((found.piece.title, Path(found.older)))
    if found.is_new:
        desk.reread()
    desk.tell_left_out(found.path, said)


@dataclass
class _Several:
    """Files on their way to the shelf, one after the other: whoever plays meanwhile waits for one of them at most."""

    desk: Desk
    waiting: deque[str | Tune]
    count: int
    # The folder of each that is new, and where the first lies that is there now.
    new: list[str] = field(default_factory=list)
    first: str = ""
    newer: int = 0
    known: int = 0
    # How many of them are tunes of a book.
    tunes: int = 0
    # Of each that is not on the shelf its name and why.
    left: list[tuple[str, str]] = field(default_factory=list)

    def begin(self) -> None:
        house = self.desk.house
        # Who plays is not led away.
        if house.screen is None or house.screen.name != "stand":
            house.go("desk")
        self._next()

    def _next(self) -> None:
        from trainer.scores.shelf.keeping import brought, name_of

        if not self.waiting:
            self._told()
            return
        what = self.waiting.popleft()
        self.tunes += not isinstance(what, str)
        name, at = name_of(what), self.count - len(self.waiting)
        self.desk.house.say(say("desk.reading.several", name=name, at=at, of=self.count))

        def read(found: Brought) -> None:
            if found.fault:
                self.left.append((name, _not_kept(name, found)))
            else:
                self.first = self.first or found.path
                if found.older:
                    self.newer += 1
                    self.desk.shelving.gone.append((found.piece.title, Path(found.older)))
                elif found.is_new:
                    self.new.append(os.path.dirname(found.path))
                else:
                    self.known += 1
            self._next()

        def failed(trouble: Exception) -> None:
            self.left.append((name, told(trouble, "desk.unreadable")))
            self._next()

        self.desk.house.workroom.ask(brought, what, then=read, failed=failed)

    def _told(self) -> None:
        desk, left = self.desk, [name for name, _ in self.left]
        counts = {"new" if left else "new.in": len(self.new), "newer": self.newer}
        counts |= {"known": self.known, "left": len(left)}
        folder = home(Path(os.path.commonpath(self.new))) if self.new else ""
        what = [say(f"desk.came.{name}", count=count, folder=folder) for name, count in counts.items() if count]
        came = [many(count, of) for count, of in ((self.count - self.tunes, "file"), (self.tunes, "tune")) if count]
        said = say("desk.came", files=" and ".join(came), what=", ".join(what))
        if left:
            names = ", ".join(left[:_NAMED])
            if len(left) > _NAMED:
                names = say("desk.came.more", names=names, count=len(left) - _NAMED)
            said = say("desk.came.which", said=said, names=names)
        desk.house.say(said, LONG_S)
        desk.shelving.tell([why for _, why in self.left])
        if self.first:
            desk.reread(self.first)


def last_played(house: House, piece: Piece) -> Transposition:
    """How the player moved a piece when they played it last, under whatever name; as written where they never did."""
    from trainer.journal.packing import piece_key

    here = plan(piece.key, "+0")
    if house.journal is None:
        return here
    try:
        asked = "p.name = ? AND m.key = ? ORDER BY t.id DESC LIMIT 1"
        for row in house.journal.rows(asked, (house.player, piece_key(piece))):
            return Transposition(piece.key, Key.parse(row.target), Interval.parse(row.interval))
    except (JournalError, MusicError, ValueError):  # what cannot be told of a damaged row is not asked for
        return here
    return here


def _kept(path: str, found: Brought) -> str:
    """Where a file dropped lies from now on, in a sentence; empty where it was dropped from there."""
    from trainer.scores.shelf.library import own_folder

    name, folder = Path(path).name, home(own_folder())
    if found.fault:
        return _not_kept(name, found)
    if found.older:
        return say("desk.kept.newer", name=name, title=found.piece.title)
    if found.is_new:
        kept = Path(found.path).name
        return (
            say("desk.kept", name=name, folder=folder)
            if kept == name
            else say("desk.kept.as", name=name, folder=folder, kept=kept)
        )
    return (
        say("desk.kept.before", name=name, title=found.piece.title)
        if Path(found.path).resolve() != Path(path).resolve()
        else ""
    )


def _not_kept(name: str, found: Brought) -> str:
    from trainer.scores.shelf.library import own_folder

    return say("desk.not-kept", name=name, folder=home(own_folder()), why=found.fault.lower())
