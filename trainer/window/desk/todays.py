"""What there is to play today, as the coach offers it: the same list for every screen that asks."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from typing import TYPE_CHECKING

from trainer.journal.errors import JournalError
from trainer.music.pitch import MusicError

# What takes long to import and is not needed to draw the first frame is imported where it is used.
if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.coaching.singers.setlist import Occasion
    from trainer.coaching.today.schedule import Suggestion
    from trainer.coaching.work.assignments import Assignment
    from trainer.scores.shelf.library import Entry
    from trainer.window.house.house import House

# Minutes into which all fits that may come next.
_LONG_DAY = 600


@dataclass(frozen=True)
class Todays:
    """Today's list.

    Parameters
    ----------
    offered : list of Suggestion
        In the order in which it is best played.
    spare : float or None
        The list is played, and so many minutes are left of those given; None before.
    waiting : Suggestion or None
        What comes next and does not fit the minutes left.
    """

    offered: list[Suggestion]
    spare: float | None = None
    waiting: Suggestion | None = None


def todays(house: House, entries: Sequence[Entry]) -> Todays:
    """Today's list of the player, from the pieces of the shelf; empty without a journal, or while the shelf is read."""
    journal = house.journal
    if journal is None:
        return Todays([])
    from trainer.coaching.today.minutes import minutes_left
    from trainer.coaching.today.repertoire import offers
    from trainer.coaching.today.schedule import today, waiting

    player, at, given = house.player, datetime.now().astimezone(), house.settings.minutes
    try:
        work = _work(house)
        if not entries:
            return Todays([])  # The shelf is being read: nothing is offered that is not there yet.
        left = minutes_left(journal, player, given, at)
        asked = partial(
            today, journal, player, now=at, shelf=offers(entries), occasion=_occasion(house), assignments=work
        )
        found = asked(minutes=left)
        if found:
            return Todays(found)
        return Todays([], left if left < given else None, waiting(asked(minutes=_LONG_DAY)))
    except (JournalError, MusicError) as trouble:
        house.say(str(trouble))
        return Todays([])


def _occasion(house: House) -> Occasion | None:
    """The next occasion of the set lists; a file that cannot be understood is told, and today goes on without."""
    from trainer.coaching.singers import setlist

    try:
        return setlist.load(house.journal_file.parent).next(date.today())
    except MusicError as trouble:
        house.say(str(trouble))
        return None


def _work(house: House) -> tuple[Assignment, ...]:
    """What is set; a file that cannot be understood is told, and today goes on without."""
    from trainer.coaching.work import assignments

    try:
        return assignments.load(house.journal_file.parent)
    except MusicError as trouble:
        house.say(str(trouble))
        return ()


def play(house: House, offer: Suggestion) -> None:
    """Put what is offered on the stand; work whose piece is not there says what to do about it."""
    from trainer.window.desk import deskwork

    def absent(trouble: Exception) -> None:
        house.say(deskwork.absent(offer.title), deskwork.LONG_S)

    missing = offer.work is not None and not offer.level and offer.work.written is None
    house.rounds.offer(offer, absent if missing else house.unable("desk.unreadable"))
