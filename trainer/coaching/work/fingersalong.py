"""A student's fingers on their way inside the file of work: what was agreed at the teacher's piano stands at home.

Blocks like those of ``fingers.toml``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.coaching.own import ownfingers
from trainer.coaching.own.ownfingers import Line
from trainer.hands.own import objection
from trainer.music.keys import Key
from trainer.music.piece import Piece
from trainer.scores.plain import Entry, read_plain

if TYPE_CHECKING:
    from trainer.coaching.work.assignments import Assignment

BLOCK = "fingers"


@dataclass(frozen=True)
class Fingers:
    """A student's fingers for a piece in a key, for one hand, as they came."""

    player: str
    title: str
    key: Key
    hand: str
    lines: tuple[Line, ...]


def of_student(folder: Path, player: str, asked: Iterable[Assignment]) -> list[dict[str, Any]]:
    """Blocks for the fingers said for a student in the pieces asked for."""
    asked = list(asked)
    return [
        {"player": player, **{name: entry.table[name] for name in ("piece", "key", "hand", "notes")}}
        for entry in Entry.each(read_plain(folder / ownfingers.FILE) or {}, BLOCK, ownfingers.FILE)
        if ownfingers.is_by(entry, player) and any(one.is_of(entry.text("piece")) for one in asked)
    ]


def read(document: Mapping[str, Any], where: str) -> list[Fingers]:
    """The fingers in a teacher's file.

    Raises
    ------
    MusicError
        Saying which entry is wrong.
    """
    return [
        Fingers(entry.text("player"), entry.text("piece"), *ownfingers.said(entry))
        for entry in Entry.each(document, BLOCK, where)
    ]


def take_up(folder: Path, came: Iterable[Fingers], given: Iterable[Assignment], who: Callable[[str], str]) -> int:
    """Keep those for the work given, where its piece is on the shelf; how many are new. `who` says who a name is here.

    They hold in place of what was said of the same notes before, and of what cannot stand beside them in a chord: the
    teacher's is the later word.
    """
    from trainer.scores.reading import read as piece_in
    from trainer.scores.shelf.library import find

    came, fresh = list(came), 0
    for one in given:
        theirs = [fingers for fingers in came if one.is_of(fingers.title)]
        if one.withdrawn is None and one.written is not None and theirs:
            piece = piece_in(find(one.piece))
            fresh += sum(_keep(folder, piece, fingers, who(fingers.player)) for fingers in theirs)
    return fresh


def _keep(folder: Path, piece: Piece, came: Fingers, player: str) -> int:
    said = dict(ownfingers.load(folder, piece, player).of(came.key))
    wanted = {note: line.finger for line in came.lines for note in tuple(line.notes(piece, came.hand))[:1]}
    away: dict[int, int] = {}
    up = ownfingers.above(piece, came.key)
    new: dict[int, int] = {}
    for note, finger in wanted.items():
        if said.get(note) == finger:
            continue
        against = objection(piece, note, finger, said, up)
        while against is not None and against.other is not None and against.other not in wanted:
            away[against.other] = 0
            del said[against.other]
            against = objection(piece, note, finger, said, up)
        if against is None:
            said[note] = new[note] = finger
    if new:
        ownfingers.keep_all(folder, piece, came.key, away | new, player)
    return len(new)
