"""What the journal remembers of each cell, and what one more take changes."""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Sequence
from dataclasses import astuple, dataclass, replace
from datetime import date, datetime

from trainer.coaching.path import memory
from trainer.coaching.path.path import (
    HOLDING,
    NEW,
    STATES,
    Place,
    Played,
    Route,
    counts,
    faded,
    load,
    moved,
)
from trainer.following.reach import reach
from trainer.hands.keyboard import ANY, Compass
from trainer.journal import unlearned
from trainer.journal.errors import JournalError
from trainer.journal.store import Journal
from trainer.journal.take import EPOCH_ORDINAL, player_number
from trainer.journal.values import FINISHED, LOOP, PATTERN, KeptTake, TakeRow
from trainer.music.compass import LEVELS
from trainer.music.keys import TWENTY_FOUR, Key
from trainer.music.piece import HANDS, hands_named
from trainer.music.pitch import MusicError
from trainer.music.solfege import HELPS

_KEYS = frozenset(key.short for key in TWENTY_FOUR)


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell as it stands.

    Parameters
    ----------
    since : int
        Takes that count since the state last changed.
    card : str
        The card of the schedule, as JSON of the ``fsrs`` package; empty before the first review.
    due : date or None
        The day of the next review.
    recent : tuple of Played
        The newest last, at most `Rules.remembered`.
    """

    place: Place
    state: str = NEW
    since: int = 0
    help: str = HELPS[0]
    card: str = ""
    due: date | None = None
    recent: tuple[Played, ...] = ()


@dataclass(frozen=True, slots=True)
class Learned:
    """What a take changed."""

    before: Cell
    after: Cell
    rating: str | None

    @property
    def words(self) -> str:
        """One line when something moved; empty otherwise."""
        said = []
        key, after = self.before.place, self.after
        if self.before.state not in (NEW, after.state):
            fell = STATES.index(after.state) < STATES.index(self.before.state)
            state = f"is {after.state} again" if fell else f"is {after.state} now"
            if after.state == HOLDING:
                state = "still holds, free no longer" if fell else "holds now"
            said.append(f"{Key.parse(key.key).name}, {key.level}, {hands_named(key.hands)}: it {state}.")
        if self.before.help != after.help and self.before.state != NEW:
            less = HELPS.index(after.help) > HELPS.index(self.before.help)
            said.append("Fewer syllables next time." if less else "More syllables next time.")
        return " ".join(said)


def cells(journal: Journal, player: str, today: date | None = None) -> dict[Place, Cell]:
    """Every cell the player has touched; with `today`, as far as it can be believed on that day."""
    rows = journal.ask(
        "SELECT level, key, hands, state, since, help, card, due, recent FROM cell "
        "WHERE player = (SELECT id FROM player WHERE name = ?)",
        (player,),
    )
    found = {}
    for level, key, hands, state, since, shown, card, due, recent in rows:
        place = Place(level, key, hands)
        if level not in LEVELS or key not in _KEYS or hands not in HANDS or state not in STATES or shown not in HELPS:
            continue
        # A damaged row is as if the cell were new.
        with contextlib.suppress(ValueError, TypeError, OverflowError):
            played = tuple(Played(*values) for values in json.loads(recent))
            cell = Cell(place, state, since, shown, card, date.fromordinal(due + EPOCH_ORDINAL), played)
            found[place] = cell if today is None else believed(cell, today)
    return found


def believed(cell: Cell, today: date) -> Cell:
    """A cell whose takes a wrong clock dated later than tomorrow, as played yesterday and due today.

    What it remembers of such a day would else keep it from being asked for, and what is played now from moving it.
    """
    day = today.toordinal() - EPOCH_ORDINAL
    if not cell.recent or cell.recent[-1].day <= day + 1:
        return cell
    recent = tuple(replace(take, day=min(take.day, day - 1)) for take in cell.recent)
    return replace(cell, card="", due=today, recent=recent)


def place_of(row: TakeRow) -> Place | None:
    """The cell a take belongs to; None when it does not transpose, is a pattern or some bars, or has no marks."""
    if row.state != FINISHED or row.kind in (PATTERN, LOOP) or row.interval == "+P1":
        return None
    return Place(row.level, row.key, row.hands)


def learn(
    journal: Journal, number: int, now: datetime | None = None, compass: Compass = ANY, *, once: bool = False
) -> Learned | None:
    """Let one finished take move its cell, its card and its help; to be called once, when the take has ended.

    Parameters
    ----------
    compass : (float, float)
        The lowest and the highest key of the player's keyboard.
    once : bool
        Only while it is noted as still to learn from: another copy of the program may have done so meanwhile.

    Returns
    -------
    Learned or None
        None when the take belongs to no cell, too little of it was played, or all of it lay in another octave or
        key, which says nothing of this one; or when the path has learned from takes of later days already.

    Raises
    ------
    JournalError
        When there is no such take, it is damaged, or the journal cannot be written (its cause says why).
    MusicError
        When the path cannot be read: the take is noted as still to learn from.
    """
    row = journal.row(number)
    place = place_of(row)
    try:
        route = load(journal.path.parent)
    except MusicError:
        # What is played until the path can be read again is learned from then.
        with journal.changing(journal.wait_s) as db:
            unlearned.note_row(db, number)
        raise
    kept = journal.take(number) if place is not None else None
    if place is None or kept is None or (kept.settled is not None and kept.settled.shift):
        with journal.changing(journal.wait_s) as db:
            unlearned.strike(db, number)
        return None
    take = played_of(kept, compass)
    # The clock is right now; it may not have been at an earlier take.
    today = max((now or datetime.now().astimezone()).date(), row.began.date())
    with journal.changing(journal.wait_s) as db:
        # Read in the same step: another copy of the program may be learning just now.
        if not unlearned.strike(db, number) and once:
            return None
        before = cells(journal, row.player, today).get(place, Cell(place))
        learned = after_take(before, take, route, now or row.began)
        if learned is not None:
            _write(db, row.player, learned.after)
    return learned


def played_of(kept: KeptTake, compass: Compass = ANY) -> Played:
    """What a cell remembers of a take."""
    row = kept.row
    day = row.began.date().toordinal() - EPOCH_ORDINAL
    found = reach(kept.piece, kept.plan, row.hands, kept.settled, compass) if kept.settled is not None else None
    share = found.share if found is not None else 0.0
    bars = max(share * len(kept.piece.bars), 1.0)
    return Played(day, row.accuracy or 0.0, share, row.cost, row.help, row.glimpsed, (row.hesitations or 0) / bars)


def after_take(before: Cell, take: Played, route: Route, now: datetime) -> Learned | None:
    """The cell after one more take; None when too little was played for it to count.

    So it is, too, when the hands have played here on a later day: a take that was cut off then, and is marked only now,
    says less than what came after it.
    """
    if not counts(take, route.rules) or (before.recent and take.day < before.recent[-1].day):
        return None
    recent = (*before.recent, take)[-route.rules.remembered :]
    since = before.since + 1
    state = moved(before.state, recent[-since:], route.rules)
    changed = state != before.state and before.state != NEW
    card, due, rating = before.card, before.due, None
    if not before.recent or before.recent[-1].day != take.day:
        # The first take of a day is the review; what follows on that day is practice.
        rating = memory.rating_of(take)
        card, due = memory.reviewed(before.card, rating, now)
    shown = faded(before.help, recent, route.rules)
    after = replace(before, state=state, since=0 if changed else since, help=shown, card=card, due=due, recent=recent)
    return Learned(before, after, rating)


def _write(db: sqlite3.Connection, player: str, cell: Cell) -> None:
    assert cell.due is not None
    place = cell.place
    db.execute(
        "INSERT OR REPLACE INTO cell VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            player_number(db, player), place.level, place.key, place.hands, cell.state, cell.since, cell.help,
            cell.card, cell.due.toordinal() - EPOCH_ORDINAL, json.dumps([astuple(take) for take in cell.recent]),
        ),
    )  # fmt: skip


def help_for(journal: Journal, player: str, place: Place, known: dict[Place, Cell] | None = None) -> str:
    """How many syllables to show: what the player holds, or what the cell has come to."""
    held = journal.ask("SELECT held FROM player WHERE name = ?", (player,))
    if held and held[0][0]:
        return str(held[0][0])
    found = cells(journal, player) if known is None else known
    return found[place].help if place in found else HELPS[0]


def hold_help(journal: Journal, player: str, shown: str) -> None:
    """Keep the help at `shown` until it is let go with an empty text."""
    if shown and shown not in HELPS:
        raise JournalError(f"'{shown}' is no help: {', '.join(HELPS)}.")
    with journal.changing() as db:
        db.execute("UPDATE player SET held = ? WHERE id = ?", (shown, player_number(db, player)))


def states(known: Sequence[Cell]) -> dict[Place, str]:
    """The state of each cell."""
    return {cell.place: cell.state for cell in known}
