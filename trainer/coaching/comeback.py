"""Takes that were set aside come back into the journal, and the path learns from them."""

from __future__ import annotations

import contextlib

from trainer.coaching.cells import learn
from trainer.following.ground import ANY, Compass
from trainer.journal import aside
from trainer.journal.errors import JournalError
from trainer.journal.store import Journal
from trainer.music.pitch import MusicError


def take_back(journal: Journal, compass: Compass = ANY) -> aside.Back:
    """As `trainer.journal.aside.take_back`; the path learns from what is new as on the day it was played.

    Parameters
    ----------
    compass : (float, float)
        The lowest and the highest key of the player's keyboard.
    """
    back = aside.take_back(journal)
    for number in back.fresh:
        # A take that cannot be read is told where it is asked for.
        with contextlib.suppress(JournalError, MusicError):
            learn(journal, number, compass=compass)
    return back
