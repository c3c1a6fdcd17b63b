"""All students at a glance: who played since the last lesson, what of the work set is done, and where to look."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from statistics import fmean

from trainer.coaching.progress.habits import habits
from trainer.coaching.progress.sides import SIDES_DAYS, sides
from trainer.coaching.work.assignments import DONE, LATE, Assignment, Progress
from trainer.coaching.work.work import work_of
from trainer.journal.store import Journal
from trainer.journal.take import EPOCH_ORDINAL
from trainer.journal.values import FINISHED, TakeRow
from trainer.music.solfege import LA_BASED

# From one lesson to the next.
_SINCE_DAYS = 7
# So many pieces that are late are named.
_TOLD = 3


@dataclass(frozen=True)
class Student:
    """One student since a day.

    Parameters
    ----------
    last : date or None
        When something was last played; None for never.
    days, takes : int
        Days on which they played, and takes.
    minutes : float
        Of playing.
    right : float or None
        Mean share of notes right, 0 to 1, of takes in their key and octave; None where there is none.
    done, work : int
        Pieces of work that are done, of those set.
    look : str
        Where to look, in words: what is late, else the costliest habit, else what is harder; empty for nothing.
    """

    player: str
    last: date | None
    days: int
    minutes: float
    takes: int
    right: float | None
    done: int
    work: int
    look: str


def last_lesson(today: date, given: date | None = None) -> date:
    """The day a page looks back to: the one given, else a week ago.

    A clock that was ahead, or a slip of the pen, may name a day that is still to come: that is today.
    """
    return min(given or today - timedelta(days=_SINCE_DAYS), today)


def students(
    journal: Journal,
    players: Sequence[str],
    now: datetime,
    since: date | None = None,
    assignments: Sequence[Assignment] = (),
    minor: str = LA_BASED,
) -> list[Student]:
    """Some players, in their order; who has work set and has not played yet may be among them.

    Parameters are those of `coaching.paper.lesson.lesson`.
    """
    start = last_lesson(now.date(), since)
    return [_student(journal, player, now.date(), start, assignments, minor) for player in players]


def _student(
    journal: Journal, player: str, today: date, start: date, assignments: Sequence[Assignment], minor: str
) -> Student:
    rows = takes_since(journal, player, start)
    last = journal.rows("p.name = ? ORDER BY t.began DESC LIMIT 1", (player,))
    mine = work_of(journal, player, assignments, today)
    return Student(
        player, last[0].began.date() if last else None, len({row.began.date() for row in rows}), minutes_of(rows),
        len(rows), accuracy_of(journal, rows), sum(one.state == DONE for one in mine), len(mine),
        _look(journal, player, today, start, mine, minor),
    )  # fmt: skip


def _look(journal: Journal, player: str, today: date, start: date, mine: Sequence[Progress], minor: str) -> str:
    late = [one for one in mine if one.state == LATE]
    if late:
        more = f" and {len(late) - _TOLD} more" if len(late) > _TOLD else ""
        return f"late: {', '.join(map(_late, late[:_TOLD]))}{more}"
    worst = habits(journal, player, today, days=max((today - start).days, 1), minor=minor)[:1]
    if worst:
        return worst[0].sentence
    weaker = sides(journal, player, min(start, today - timedelta(days=SIDES_DAYS)))[:1]
    return weaker[0].sentence if weaker else ""


def _late(found: Progress) -> str:
    """A title, without what stands in brackets, and how far it is."""
    title = found.assignment.title.split(" (")[0]
    return f"{title} ({found.detail})" if found.detail else title


def takes_since(journal: Journal, player: str, start: date) -> list[TakeRow]:
    """Finished takes since a day, oldest first."""
    day = start.toordinal() - EPOCH_ORDINAL
    return journal.rows("p.name = ? AND t.day >= ? AND t.state = ? ORDER BY t.began", (player, day, FINISHED))


def minutes_of(rows: Sequence[TakeRow]) -> float:
    """Minutes of playing."""
    return sum(row.seconds or 0.0 for row in rows) / 60


def accuracy_of(journal: Journal, rows: Sequence[TakeRow]) -> float | None:
    """Mean share of notes right, of takes that lay in their key and octave; None where there are none."""
    elsewhere = journal.elsewhere(rows)
    here = [row.accuracy or 0.0 for row in rows if row.id not in elsewhere]
    return fmean(here) if here else None
