"""How far a take went in its piece."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from trainer.following.marks import ONE_HAND, Settled
from trainer.hands.keyboard import ANY, Compass
from trainer.music.piece import BOTH, LEFT, RIGHT, Piece
from trainer.music.transpose import Transposition

# Less than this share of a piece says nothing of the rest (ours).
MOST = 0.75


@dataclass(frozen=True, slots=True)
class Reach:
    """From where to where a take went.

    Parameters
    ----------
    first, last : int
        Indices in `Piece.bars`.
    share : float
        Of the notes asked for those between the first and the last moment reached, 0-1; 0 when a hand that was asked
        for was silent. Printed notes are counted: who does not take a repeat has played the piece all the same.
    is_whole : bool
        Whether it went from the first bar with notes to the last, those of a silent hand aside; a repeat need not be
        taken.
    """

    first: int
    last: int
    share: float
    is_whole: bool

    @property
    def is_most(self) -> bool:
        """Whether most of the piece was played."""
        return self.share >= MOST


def _share(piece: Piece, within: list[int], asked: list[int]) -> float:
    # A note heard again in a repeat keeps its id.
    played, all_ = ({piece.notes[index].id for index in some} for some in (within, asked))
    return len(played) / len(all_)


def hands_played(piece: Piece, settled: Settled) -> set[str]:
    """The hands that played in a take: where it was found that one did, that one, whatever strayed to the other."""
    found = Counter(piece.notes[mark.note].hand for mark in settled.marks if mark.note is not None)
    alone = any(one.kind == ONE_HAND for one in settled.findings)
    return {hand for hand, _ in found.most_common(1 if alone else None)}


def reach(piece: Piece, plan: Transposition, hands: str, settled: Settled, compass: Compass = ANY) -> Reach | None:
    """How far a settled take went; None when no press was meant for a note.

    Parameters
    ----------
    hands : str
        Those asked for.
    compass : (float, float)
        The lowest and the highest key of the player's keyboard: notes beyond are not asked for, unless the take itself
        says that there was a key for them.
    """
    lowest, highest = (end - plan.interval.semitones for end in compass)
    tied = {mark.note for mark in settled.marks if mark.note is not None}
    told = tied.union(settled.missed)
    asked = [
        index for index, note in enumerate(piece.notes)
        if hands in (BOTH, note.hand) and not note.optional and not note.grace
        and (lowest <= note.midi <= highest or index in told)
    ]  # fmt: skip
    if not tied or not asked:
        return None
    low, high = (piece.notes[end].onset for end in (min(tied), max(tied)))
    within = [index for index in asked if low <= piece.notes[index].onset <= high]
    # On a key that both hands have at once one of them is enough.
    right, left = (
        {(piece.notes[at].onset, piece.notes[at].midi) for at in within if piece.notes[at].hand == hand}
        for hand in (RIGHT, LEFT)
    )
    own = {hand for hand, keys in ((RIGHT, right - left), (LEFT, left - right)) if keys}
    silent = own - hands_played(piece, settled)
    # A silent hand that has the upbeat or the last bar for itself makes the other's take no shorter.
    theirs = [index for index in asked if piece.notes[index].hand not in silent]
    first, last = (piece.bar_index(onset) for onset in (low, high))
    share = 0.0 if silent else _share(piece, within, asked)
    # Of each bar on the page something, whichever time round.
    heard = {piece.notes[index].id for index in within}
    printed: dict[int, set[str]] = {}
    for index in theirs:
        printed.setdefault(piece.bar_index(piece.notes[index].onset), set()).add(piece.notes[index].id)
    whole = all(not heard.isdisjoint(ids) for bar, ids in printed.items() if not first <= bar <= last)
    return Reach(first, last, share, whole)
