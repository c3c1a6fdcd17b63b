"""What is read back from the journal, as plain values."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta, timezone
from typing import Protocol

from trainer.following.marks import Mark, Settled
from trainer.following.reach import MOST
from trainer.listening.press import Event, Press
from trainer.music.keys import Key
from trainer.music.piece import Piece
from trainer.music.transpose import Transposition

# How a take stands.
PLAYING = "playing"  # being played, or cut off before its end
FINISHED = "finished"  # marked
KEPT = "kept"  # cut off and kept as it is, unmarked

# What a take was played for.
PIECE = "piece"
LOOP = "loop"  # bars of a piece, round and round, that are less than most of it
PATTERN = "pattern"
SIGHT = "sight"

NOBODY_NAMED = "Player"


class Summary(Protocol):
    """The figures of a take, as the session works them out."""

    @property
    def right(self) -> int: ...
    @property
    def played(self) -> int: ...
    @property
    def written(self) -> int: ...
    @property
    def accuracy(self) -> float: ...
    @property
    def pulse_bpm(self) -> float | None: ...
    @property
    def seconds(self) -> float: ...
    @property
    def share(self) -> float | None: ...


@dataclass(frozen=True, slots=True)
class TakeRow:
    """One line of the list of takes.

    Parameters
    ----------
    began : datetime
        With the time zone the take was played in.
    written, target : str
        Keys as spelled, short (``G``, ``eb``); `key` is the target under its one name of twenty-four.
    accuracy, pulse, seconds, pace, cost : float or None
        None until the take is finished. `pace` is quarters of music a minute, `cost` the cost of transposing
        (None also in the written key, and where the player has not played the piece in it).
    verse : int or None
        Of a song, which of its verses lay on the page, by its row from 1.
    share : float or None
        How far it went in its piece, 0 where a hand asked for was silent; None in takes of before format 4.
    """

    id: int
    player: str
    title: str
    piece_key: str
    began: datetime
    written: str
    target: str
    key: str
    interval: str
    level: str
    hands: str
    mode: str
    tempo: float | None
    help: str
    glimpsed: bool
    kind: str
    state: str
    right: int | None
    played: int | None
    notes: int
    missed: int | None
    accuracy: float | None
    pulse: float | None
    seconds: float | None
    pace: float | None
    cost: float | None
    steadiness: float | None
    hesitations: int | None
    verse: int | None = None
    share: float | None = None

    @property
    def is_most(self) -> bool:
        """Whether it went through most of the piece with the hands asked for: less is a part of it, however clean.

        In takes of before format 4 keys struck and notes left out add up to most of it. Of a loop the notes are those
        of its bars: it is a part by its kind.
        """
        if self.share is not None:
            return self.kind != LOOP and self.share >= MOST
        return self.kind != LOOP and (self.played or 0) + (self.missed or 0) >= MOST * self.notes


EPOCH = date(1970, 1, 1)


def local(began: float, zone: int) -> datetime:
    """Unix seconds and minutes east of Greenwich as a time with its zone.

    Raises
    ------
    OverflowError, ValueError
        When there is no such time or zone, as in a damaged row.
    """
    return datetime.fromtimestamp(began, timezone(timedelta(minutes=zone)))


@dataclass(frozen=True)
class KeptTake:
    """Everything the journal holds of a take; `settled` is None until it was finished."""

    row: TakeRow
    piece: Piece
    plan: Transposition
    events: tuple[Event, ...]
    first: tuple[Mark, ...]
    settled: Settled | None

    @property
    def presses(self) -> tuple[Press, ...]:
        return tuple(event for event in self.events if isinstance(event, Press))

    @property
    def written(self) -> Key:
        return self.plan.written

    @property
    def target(self) -> Key:
        return self.plan.target
