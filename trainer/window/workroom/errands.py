"""Jobs of the second process between teacher and student: files written, found, looked at, taken in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from trainer import folders
from trainer.coaching.work import handing
from trainer.coaching.work.assignments import everything
from trainer.coaching.work.handing import Come, Taken
from trainer.journal import files
from trainer.journal.errors import JournalError
from trainer.journal.handover import SUFFIX, hand_over
from trainer.journal.store import Journal
from trainer.music.pitch import MusicError
from trainer.scores.plain import as_name
from trainer.window.sheetfolder import folder_of

# A backup no older than this is good enough before files are taken in.
_BACKED_UP_S = 600.0


@dataclass(frozen=True)
class Asked:
    """A file to take in, and the answer to whose it is: a new name here, or somebody who is here; neither for none."""

    path: Path
    called: str | None = None
    same_as: str | None = None


@dataclass(frozen=True)
class Out:
    """What was written: the files, how much is in them, the pieces there was no room for in them, and how many fingers
    go along.
    """

    files: tuple[Path, ...]
    count: int
    left: tuple[Path, ...] = ()
    fingers: int = 0


def come(journal: str, sheets: str, here: Sequence[str]) -> list[Come]:
    """What lies where files come to: among the downloads, on the desktop, in the folder for sheets."""
    places = [folders.downloads(), folders.desktop(), folders.sheets()]
    if sheets:
        places.append(Path(sheets))
    with Journal(journal, strict=True) as kept:
        return handing.found(kept, places, here)


def looked_at(journal: str, paths: Sequence[Path], here: Sequence[str]) -> list[Come]:
    """What some files are."""
    with Journal(journal, strict=True) as kept:
        return [handing.look(kept, path, here) for path in paths]


def taken_in(journal: str, asked: Sequence[Asked], playing: str) -> list[Taken | str]:
    """Every file by itself: what came of it, or in a sentence why it was refused; `playing` is who plays here."""
    told: list[Taken | str] = []
    with Journal(journal, strict=True) as kept:
        if kept.takes(limit=1):
            files.back_up(kept.path, unless_younger_s=_BACKED_UP_S)
        for one in asked:
            try:
                told.append(handing.take(kept, one.path, one.called, one.same_as, playing))
            except (JournalError, MusicError) as why:
                told.append(str(why))
    return told


def played_out(journal: str, player: str, everything_: bool, sheets: str) -> Out:
    """A hand-over of a player's takes, beside the sheets, under a name of its own."""
    place, again = folder_of(sheets), 1
    while (path := place / f"{as_name(player, _dated(again))}{SUFFIX}").exists():
        again += 1
    with Journal(journal, strict=True) as kept:
        made = hand_over(kept, player, path, everything=everything_)
    return Out((made.path,), made.takes)


def work_out(journal: str, players: Sequence[str], sheets: str) -> Out:
    """The work set for some players, a file for each beside the sheets; who has none gets none."""
    place = folder_of(sheets)
    made, count, fingers = [], 0, 0
    left: dict[Path, None] = {}
    with Journal(journal, strict=True) as kept:
        set_ = everything(kept.path.parent)
        for player in players:
            if not any(one.is_for(player) for one in set_):
                continue
            path = place / f"{as_name(f'Work for {player}', _dated())}{handing.WORK_SUFFIX}"
            given = handing.give(kept, path, player)
            count += given.pieces
            fingers += given.fingers
            made.append(path)
            left |= dict.fromkeys(given.left)
    return Out(tuple(made), count, tuple(left), fingers)


def _dated(again: int = 1) -> str:
    return f" {date.today()}{f' ({again})' if again > 1 else ''}"
