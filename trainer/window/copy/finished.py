"""A take at its end, as the Marked copy shows it: played just now, or out of the journal."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

from trainer.following.marks import HESITATED, RIGHT, Settled
from trainer.following.outside import bounded
from trainer.following.reach import Reach, reach
from trainer.following.timing import Timing, timing
from trainer.hands.keyboard import ANY, Compass
from trainer.journal.values import LOOP, PATTERN, PIECE, KeptTake, TakeRow
from trainer.listening.press import Event, Press
from trainer.music.piece import Piece
from trainer.music.transpose import Transposition, transposed
from trainer.session import Record
from trainer.window.practice import Practice
from trainer.window.wish import Wish


@dataclass(frozen=True)
class Finished:
    """A take at its end, as the Marked copy shows it; notes are counted in `piece`.

    Parameters
    ----------
    piece : Piece
        The whole piece, as written.
    presses : tuple of Press
    events : tuple of Event
        Presses, releases and pedals.
    settled : Settled
    timing : Timing
    right : int
        Presses that were right, of those that count.
    seconds : float
    part : bool
        Whether `piece` holds the notes of some bars alone, as a loop is kept.
    kind : str
        What it was played for, as in `Wish`.
    compass : (float, float)
        The lowest and the highest key of the player's keyboard.
    verse : int or None
        Which verse of a song lay on the page, by its row from 1; None where that is not known.
    start : int
        Index of the bar it was to begin at.
    record : Record, TakeRow or None
        Of the journal, which numbers it; of a take played just now as soon as it is written.
    """

    piece: Piece
    plan: Transposition
    hands: str
    mode: str
    tempo: float | None
    presses: tuple[Press, ...]
    events: tuple[Event, ...]
    settled: Settled
    timing: Timing
    right: int
    seconds: float
    glimpsed: bool = False
    loop: tuple[int, int] | None = None
    name: str = ""
    part: bool = False
    kind: str = PIECE
    compass: Compass = ANY
    verse: int | None = None
    start: int = 0
    record: Record | TakeRow | None = field(default=None, compare=False, repr=False)

    @property
    def number(self) -> int | None:
        """Its number in the journal; None where it is not there, or not yet."""
        return getattr(self.record, "id", None)

    @cached_property
    def wish(self) -> Wish:
        """The same once more, all of it."""
        return Wish(self.piece, self.plan, self.hands, self.mode, self.tempo or 72.0, name=self.name, kind=self.kind)

    @cached_property
    def expected(self) -> Piece:
        return transposed(self.piece, self.plan.interval)

    @cached_property
    def reach(self) -> Reach | None:
        """How far it went in the whole piece; None when no press was meant for a note."""
        found = reach(self.piece, self.plan, self.hands, self.settled, self.compass)
        return replace(found, is_whole=False) if found is not None and self.part else found

    @property
    def right_as_it_lay(self) -> int:
        """Presses that were right: in a take that lay elsewhere as a whole, those that were so there."""
        return self.settled.right_as_it_lay if self.settled.shift else self.right

    @property
    def is_most(self) -> bool:
        """Whether most of the piece was played: less says nothing of the rest."""
        return self.reach is not None and self.reach.is_most and not self.part

    @property
    def is_whole(self) -> bool:
        """Whether all of the piece was played with the hands asked for: only then there is somewhere to go on to."""
        return self.is_most and self.reach is not None and self.reach.is_whole


def finished(practice: Practice) -> Finished | None:
    """A practice's take at its end; None when nothing was played."""
    session, wish = practice.session, practice.wish
    if session.settled is None or session.summary is None or session.timing is None:
        return None
    settled = replace(
        session.settled,
        marks=tuple(practice.whole(mark) for mark in session.settled.marks),
        missed=tuple(practice.whole_missed(session.settled)),
        moves=tuple(practice.whole_moves(session.settled.moves)),
    )
    summary = session.summary
    return Finished(
        wish.piece,
        wish.plan,
        wish.hands,
        wish.mode,
        wish.tempo,
        tuple(practice.presses),
        tuple(practice.events),
        settled,
        session.timing,
        summary.right,
        summary.seconds,
        practice.glimpsed,
        wish.loop,
        wish.name,
        kind=wish.kind,
        compass=practice.compass,
        verse=getattr(practice.record, "verse", None),
        start=wish.start,
        record=practice.record,
    )


def of_kept(kept: KeptTake, compass: Compass = ANY) -> Finished | None:
    """A take out of the journal, on a keyboard of that compass; None when it was cut off and never marked."""
    if kept.settled is None:
        return None
    row = kept.row
    measured = timing(kept.piece, kept.presses[kept.settled.within], kept.settled.counted)
    # Kept before waits were told beyond what was due, they are told so all the same.
    beyond = {(wait.note, round(wait.at, 3)): wait.beyond for wait in measured.hesitations}
    moves = tuple(
        replace(move, seconds=beyond.get((move.goal, round(move.at, 3)), move.seconds))
        if move.kind == HESITATED
        else move
        for move in kept.settled.moves
    )
    return Finished(
        kept.piece,
        kept.plan,
        row.hands,
        row.mode,
        row.tempo,
        kept.presses,
        kept.events,
        replace(kept.settled, moves=moves),
        measured,
        row.right or 0,
        row.seconds or 0.0,
        row.glimpsed,
        part=row.kind == LOOP,
        kind=PATTERN if row.kind == PATTERN else PIECE,
        compass=compass,
        verse=row.verse,
        record=row,
    )


def in_earnest(take: Finished) -> Finished:
    """A take without its false start and without other music after its end: what its player is to be told about."""
    settled = take.settled if take.settled.span else bounded(take.piece, take.presses, take.settled)
    if settled.span is None:
        return take
    first, _ = settled.span
    presses = take.presses[settled.within]
    kept = tuple(replace(mark, press=mark.press - first) for mark in settled.counted)
    moves = tuple(move for move in settled.moves if not first or move.at > presses[0].at)
    whole = take.timing
    measured = replace(
        timing(take.piece, presses, kept),
        against_click_s=whole.against_click_s,
        early=whole.early,
        late=whole.late,
        elsewhere=whole.elsewhere,
    )
    return replace(
        take,
        presses=presses,
        settled=replace(settled, marks=kept, moves=moves, span=None),
        timing=measured,
        right=sum(mark.cause == RIGHT for mark in kept),
        seconds=presses[-1].at - presses[0].at,
    )
