"""Takes that were cut off or set aside come into the journal whole, and the path learns from them."""

from __future__ import annotations

import contextlib

from trainer.coaching.path.cells import learn
from trainer.following.marks import Settled
from trainer.following.timing import Timing
from trainer.hands.keyboard import ANY, Compass
from trainer.journal import comingback, files
from trainer.journal.errors import JournalError
from trainer.journal.store import Journal
from trainer.journal.unlearned import noted
from trainer.journal.values import Summary, TakeRow
from trainer.music.pitch import MusicError


def finish(
    journal: Journal, number: int, settled: Settled, summary: Summary, timing: Timing | None, compass: Compass
) -> None:
    """As `Journal.settle`; the path learns in the same step: marked and never learned from, a take is lost to it."""
    with journal.changing():
        journal.settle(number, settled, summary, timing)
        learn(journal, number, compass=compass)


def take_back(journal: Journal, compass: Compass = ANY) -> comingback.Back:
    """As `trainer.journal.comingback.take_back`; the path learns from what is new as on the day it was played.

    Parameters
    ----------
    compass : (float, float)
        The lowest and the highest key of the player's keyboard.
    """

    def told(number: int) -> None:
        try:
            learn(journal, number, compass=compass)
        except MusicError:
            # The path cannot be read: once it can, it learns from what is noted (`unlearned`).
            return
        except JournalError as why:
            # A take that cannot be read is told where it is asked for; what cannot be written is tried again, whole.
            if isinstance(why.__cause__, files.DATABASE_ERRORS):
                raise

    return comingback.take_back(journal, told)


def unlearned(journal: Journal) -> list[TakeRow]:
    """The takes the path has still to learn from, as they were played; none where the journal cannot say."""
    found = []
    with contextlib.suppress(JournalError):
        for number in noted(journal):
            with contextlib.suppress(JournalError):
                found.append(journal.row(number))
    return found
