"""A file of the player's own, dropped on the window: kept on the shelf, and put on the stand."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trainer.journal.errors import JournalError
from trainer.music.keys import Key
from trainer.music.pitch import Interval, MusicError
from trainer.music.transpose import Transposition, plan
from trainer.window.deskwork import LONG_S
from trainer.window.places import home
from trainer.window.strings import say

if TYPE_CHECKING:
    from trainer.music.piece import Piece
    from trainer.scores.keeping import Brought
    from trainer.window.desk import Desk
    from trainer.window.house import House


def bring(desk: Desk, path: str) -> None:
    """Read a file, keep it on the shelf and play it: in the key it was played in last, else as written."""
    from trainer.scores.keeping import brought

    desk.reading = Path(path).name
    desk.house.say(say("desk.reading", name=desk.reading))

    def read(found: Brought) -> None:
        from trainer.window.practice import Wish, written_tempo

        piece = found.piece
        desk.reading = ""
        desk.house.notice = None
        desk.play(Wish(piece, last_played(desk.house, piece), tempo=written_tempo(piece), name=found.path))
        said = _kept(path, found)
        if said:
            desk.house.say(said, LONG_S)
        if found.is_new:
            desk.reread()
        desk.tell_left_out(found.path, said)

    desk.house.workroom.ask(brought, path, then=read, failed=desk.failed)


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
    from trainer.scores.library import own_folder

    name, folder = Path(path).name, home(own_folder())
    if found.fault:
        return say("desk.not-kept", name=name, folder=folder, why=found.fault.lower())
    if found.is_new:
        kept = Path(found.path).name
        return (
            say("desk.kept", name=name, folder=folder)
            if kept == name
            else say("desk.kept.as", name=name, folder=folder, kept=kept)
        )
    return say("desk.kept.before", name=name) if Path(found.path).resolve() != Path(path).resolve() else ""
