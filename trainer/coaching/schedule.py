"""What to play today: a teacher's work, what is due, one new key, a warm-up, the set list when an occasion is near.

Time that is left goes to keys that are still being opened, the least sure first, and to a reading at sight.

Never more than the minutes the player has. What does not fit stays due and comes first tomorrow, so nothing is lost
when days are missed; and missed days are not added up, because only so many minutes are asked for.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.coaching import memory
from trainer.coaching.assignments import DONE, Assignment, Progress
from trainer.coaching.cells import Cell, cells, help_for, states
from trainer.coaching.path import FREE, HELPS, HOLDING, OPENING, Place, Route, load, next_places
from trainer.coaching.setlist import Occasion, Task, readiness, share_of, until
from trainer.coaching.work import asked, work_of
from trainer.journal.store import Journal
from trainer.journal.tally import canonical
from trainer.music.compass import TRICHORD
from trainer.music.keys import Key
from trainer.music.piece import BOTH, HANDS, Bar

if TYPE_CHECKING:
    from trainer.scores.library import Entry

WARM_UP, DUE, NEW_KEY, GO_ON, SET_LIST, SIGHT = "warm-up", "due", "new", "go on", "set list", "sight"
SET_WORK = "set work"

# Minutes (ours): a take lasts its music at the asked tempo and a little more, is played twice, and needs a start.
SLACK = 1.3
TAKES_EACH = 2
START_MINUTES = 0.5
WARM_UP_MINUTES = 2.0
SIGHT_MINUTES = 2.0
# A warm-up only when there is time for something after it.
WARM_UP_FROM = 6.0
# How near an occasion must be for its songs.
NEAR_DAYS = 7
# How much of the time work set by a teacher takes at most, and a piece whose length is not known.
SET_WORK_SHARE = 0.6
UNKNOWN_MINUTES = 3.0
# Prima vista on the list when the last is this long ago, for players with a key that holds.
SIGHT_EVERY_DAYS = 3
# Part of the piece's own tempo that is asked for, by the state of the cell.
TEMPO_SHARE = {OPENING: 0.7, HOLDING: 0.85, FREE: 1.0}

# The shelf's index does not hold tempi: a moderate walking pace.
USUAL_TEMPO = 72.0
# A fresh piece: eight bars of four, at an easy pace.
FRESH_QUARTERS, FRESH_TEMPO = 32.0, 60.0


@dataclass(frozen=True, slots=True)
class Offer:
    """A piece of the shelf, as the schedule looks at it: quarters long, tempo and felt beat in quarters, its notes."""

    name: str
    title: str
    written: Key
    level: str
    hands: str
    quarters: float
    tempo: float
    beat: float = 1.0
    notes: int = 0


def offers(entries: Iterable[Entry]) -> list[Offer]:
    """The readable pieces of a shelf, from `trainer.scores.library.Shelf.entries`."""
    found = []
    for entry in entries:
        beats, unit = (int(part) for part in (entry.meter or "4/4").split("/"))
        quarters = entry.bars * 4 * beats / unit
        key = Key.parse(entry.key)
        beat = float(Bar(1, Fraction(0), Fraction(0), (beats, unit)).beat_quarters)
        about = (entry.path, entry.title, key, entry.level, entry.hands)
        found.append(Offer(*about, quarters, USUAL_TEMPO, beat, entry.notes))
    return found


@dataclass(frozen=True, slots=True)
class Suggestion:
    """One thing to play.

    Parameters
    ----------
    kind : str
        ``warm-up``, ``set work``, ``due``, ``new``, ``go on``, ``set list`` or ``sight``.
    name : str
        The piece on the shelf; empty when `pattern` is set, or when a fresh piece of `level` is to be composed.
    pattern : str
        A kind of pattern, or empty.
    key : Key
        The target key.
    move : str
        The way to the key as an interval, where a set list asks for another than the nearest; else empty.
    written : Key or None
        The key on the page, where the piece does not say it: of a fresh piece, which is composed in it.
    tempo : float or None
        Asked tempo, quarters a minute; None: the player's own.
    why : str
        One line.
    """

    kind: str
    title: str
    key: Key
    level: str
    hands: str
    why: str
    minutes: float
    name: str = ""
    pattern: str = ""
    tempo: float | None = None
    help: str = HELPS[0]
    written: Key | None = None
    move: str = ""


def today(
    journal: Journal,
    player: str,
    minutes: float,
    now: datetime,
    *,
    shelf: Sequence[Offer] = (),
    occasion: Occasion | None = None,
    assignments: Sequence[Assignment] = (),
    hands: Sequence[str] = HANDS,
    route: Route | None = None,
) -> list[Suggestion]:
    """Today's list, in the order to play it; its minutes add up to `minutes` at most.

    Parameters
    ----------
    minutes : float
        What the player gives, what was played today already taken off: see `trainer.coaching.minutes`.
    now : datetime
        With its time zone.
    shelf : sequence of Offer
        The pieces there are; without one that fits, a pattern or a fresh piece is suggested.
    occasion : Occasion, optional
        The next one, from `trainer.coaching.setlist`.
    assignments : sequence of Assignment
        What is set, for whomever, from `trainer.coaching.assignments`.
    hands : sequence of str
        The choices of hands the player practises.
    """
    path = route or load(journal.path.parent)
    known = cells(journal, player)
    plan = _Plan(journal, player, now, shelf, known, path)
    left = minutes
    songs: list[Suggestion] = []
    if occasion is not None and 0 <= (occasion.date - now.date()).days <= NEAR_DAYS:
        songs = _fitted(plan.songs(occasion, minutes), min(left, share_of(minutes)))
        left -= _sum(songs)
    work = _fitted(plan.work(assignments), min(left, max(minutes * SET_WORK_SHARE, 5.0)))
    left -= _sum(work)
    due = [plan.for_cell(cell, DUE) for cell in plan.due(hands)]
    fresh = [plan.for_place(place) for place in next_places(states(list(known.values())), path, hands)[:1]]
    opening = [plan.for_cell(cell, GO_ON) for cell in plan.opening(hands)]
    keys = [s.key for s in (*work[:1], *due[:1], *fresh, *songs, *opening[:1])]
    warm = [plan.warm_up(keys[0])] if keys and minutes >= WARM_UP_FROM and left >= WARM_UP_MINUTES else []
    left -= _sum(warm)
    # A new key has its place even when much is due: otherwise a player with a full list would never open one.
    keep = _fitted(fresh, left if not due else left / 2)
    first = _fitted(due, left - _sum(keep))
    left -= _sum(first) + _sum(keep)
    sight = _fitted(plan.sight(), left)
    more = _fitted(opening, left - _sum(sight))
    return [*warm, *work, *first, *keep, *more, *songs, *sight]


def page_key(target: Key) -> Key:
    """An easy written key for a fresh piece that is to be played in `target`: no accidentals, or one sharp."""
    plain = Key.from_signature(0, target.mode)
    return plain if canonical(plain) != canonical(target) else Key.from_signature(1, target.mode)


def _sum(suggestions: Iterable[Suggestion]) -> float:
    return sum(s.minutes for s in suggestions)


def _fitted(suggestions: Iterable[Suggestion], minutes: float) -> list[Suggestion]:
    """In order, those that fit; a long one is passed over for a shorter one behind it."""
    found: list[Suggestion] = []
    for suggestion in suggestions:
        if suggestion.minutes <= minutes + 1e-9:
            found.append(suggestion)
            minutes -= suggestion.minutes
    return found


class _Plan:
    def __init__(
        self,
        journal: Journal,
        player: str,
        now: datetime,
        shelf: Sequence[Offer],
        known: dict[Place, Cell],
        path: Route,
    ) -> None:
        self.journal, self.player, self.now, self.shelf, self.known, self.path = (
            journal,
            player,
            now,
            shelf,
            known,
            path,
        )
        rows = journal.ask(
            "SELECT m.title, t.key, t.hands, max(t.day), count(*) FROM take t JOIN piece m ON m.id = t.piece "
            "WHERE t.player = (SELECT id FROM player WHERE name = ?) AND t.day > ? GROUP BY m.title, t.key, t.hands",
            (player, (now.date() - date(1970, 1, 1)).days - 60),
        )
        self.played = {(title, key, hands): (day, takes) for title, key, hands, day, takes in rows}

    def due(self, hands: Sequence[str]) -> list[Cell]:
        """Due cells, the one most likely forgotten first."""
        found = [c for c in self.known.values() if c.due and c.due <= self.now.date() and c.place.hands in hands]
        return sorted(found, key=lambda cell: (memory.recall(cell.card, self.now), cell.place))

    def opening(self, hands: Sequence[str]) -> list[Cell]:
        """Cells being opened that are not due, the least sure first."""
        found = [c for c in self.known.values() if c.state == OPENING and c.recent and c.place.hands in hands]
        waiting = [cell for cell in found if cell.due and cell.due > self.now.date()]
        return sorted(waiting, key=lambda cell: (cell.recent[-1].accuracy, cell.place))

    def for_cell(self, cell: Cell, kind: str) -> Suggestion:
        late = (self.now.date() - cell.due).days if cell.due else 0
        if kind == GO_ON:
            why = f"{cell.recent[-1].accuracy:.0%} right last time"
        else:
            why = {0: "due today", 1: "due since yesterday"}.get(late, f"due for {late} days")
        return self._suggestion(cell.place, kind, f"{cell.state}, {why}", cell.state)

    def for_place(self, place: Place) -> Suggestion:
        return self._suggestion(place, NEW_KEY, f"{self._new(place)}: {self.path.reason(place)}", OPENING)

    def _new(self, place: Place) -> str:
        """What is new about a place: the key itself, the hand, or how far the piece reaches."""
        levels = {known.level for known in self.known if known.key == place.key}
        if not levels:
            return "a new key"
        if place.level not in levels:
            return f"a known key, {place.level} now"
        return "both hands together now" if place.hands == BOTH else f"the {place.hands} hand now"

    def _suggestion(self, place: Place, kind: str, why: str, state: str) -> Suggestion:
        key = Key.parse(place.key)
        shown = help_for(self.journal, self.player, place, self.known)
        offer = self._piece_for(place, key, state)
        share = TEMPO_SHARE.get(state, TEMPO_SHARE[OPENING])
        if offer is None:
            tempo, quarters, title = FRESH_TEMPO, FRESH_QUARTERS, f"A fresh {place.level} piece"
        else:
            tempo, quarters, title = offer.tempo, offer.quarters, offer.title
        asked = round(tempo * share)
        length = START_MINUTES + TAKES_EACH * SLACK * quarters / asked
        return Suggestion(
            kind, title, key, place.level, place.hands, why, round(length, 1), offer.name if offer else "",
            tempo=float(asked), help=shown, written=None if offer else page_key(key),
        )  # fmt: skip

    def _piece_for(self, place: Place, key: Key, state: str) -> Offer | None:
        """A piece of this level, mode and hands that is not written in the key.

        While a key is being opened it stays with the piece these hands played last, at first the one with the fewest
        notes; afterwards the piece played least, and longest ago, comes next.
        """
        fits = [
            offer
            for offer in self.shelf
            if offer.level == place.level
            and offer.written.mode == key.mode
            and canonical(offer.written) != place.key
            and (offer.hands in (place.hands, BOTH))
        ]

        def worn(offer: Offer) -> tuple[int, int]:
            day, takes = self.played.get((offer.title, place.key, place.hands), (0, 0))
            return (-day, takes) if state == OPENING else (takes, day)

        return min(fits, key=lambda offer: (worn(offer), offer.notes, offer.name), default=None)

    def work(self, assignments: Sequence[Assignment]) -> list[Suggestion]:
        """What a teacher set and is not done, one key of each, what is late or wanted first before the rest."""
        today_ = self.now.date()
        undone = [one for one in work_of(self.journal, self.player, assignments, today_) if one.state != DONE]
        undone.sort(key=lambda one: one.assignment.by or date.max)
        return [self._for_work(one, today_) for one in undone]

    def _for_work(self, found: Progress, today_: date) -> Suggestion:
        one = found.assignment
        in_key = next(key for key in found.keys if key.done is None)
        offer = next((offer for offer in self.shelf if one.is_of(offer.title)), None)
        tempo = one.tempo * (offer.beat if offer else 1.0) if one.tempo else None
        minutes, shown = UNKNOWN_MINUTES, one.help
        if offer is not None:
            quarters_a_minute = tempo or offer.tempo * TEMPO_SHARE[OPENING]
            minutes = START_MINUTES + TAKES_EACH * SLACK * offer.quarters / quarters_a_minute
            place = Place(offer.level, canonical(in_key.key), one.hands)
            # Never more help than the work allows.
            shown = max(one.help, help_for(self.journal, self.player, place, self.known), key=HELPS.index)
        return Suggestion(
            SET_WORK, one.title, in_key.key, offer.level if offer else "", one.hands, asked(found, in_key, today_),
            round(minutes, 1), offer.name if offer else one.piece, tempo=tempo, help=shown,
        )  # fmt: skip

    def warm_up(self, key: Key) -> Suggestion:
        return Suggestion(
            WARM_UP, f"Five fingers in {key.name}", key, TRICHORD, BOTH, "to find the position of the first key",
            WARM_UP_MINUTES, pattern="pentascale", written=key,
        )  # fmt: skip

    def songs(self, occasion: Occasion, minutes: float) -> list[Suggestion]:
        """What the set list asks for today, the least ready songs with most of the time."""
        today_ = self.now.date()
        days = (occasion.date - today_).days
        when = "today" if days == 0 else "tomorrow" if days == 1 else f"in {days} days"
        takes = self.journal.takes(self.player, limit=500)
        by_title = {offer.title.casefold(): offer for offer in self.shelf}
        ready = [readiness(song, takes, today_, self._written(song.title, by_title)) for song in occasion.songs]
        plan = until(occasion, ready, today_, share_of(minutes))
        tasks = plan[0].tasks if plan else tuple(Task(song, 0) for song in occasion.songs)
        words = {one.song: one.words for one in ready}
        found = []
        for task in tasks:
            offer = by_title.get(task.song.title.casefold())
            key = self._target(task.song.key, offer)
            if key is None:
                continue
            length = task.minutes or (SLACK * offer.quarters / offer.tempo if offer else 3.0)
            why = f"{occasion.name} is {when}; {words.get(task.song, 'to be begun')}"
            found.append(
                Suggestion(
                    SET_LIST,
                    task.song.title,
                    key,
                    offer.level if offer else "",
                    offer.hands if offer else BOTH,
                    why,
                    round(float(length), 1),
                    task.song.piece,
                    move=task.song.move,
                )
            )
        return found

    def _written(self, title: str, by_title: dict[str, Offer]) -> Key | None:
        offer = by_title.get(title.casefold())
        return offer.written if offer else None

    def _target(self, wish: str, offer: Offer | None) -> Key | None:
        from trainer.music.pitch import MusicError
        from trainer.music.transpose import plan

        try:
            return plan(offer.written, wish).target if offer else Key.parse(wish)
        except MusicError:
            return None

    def sight(self) -> list[Suggestion]:
        """A short prima vista, when a key holds and the last is some days ago."""
        holds = [c for c in self.known.values() if c.state in (HOLDING, FREE)]
        if not holds:
            return []
        last = self.journal.ask(
            "SELECT max(day) FROM sight WHERE player = (SELECT id FROM player WHERE name = ?)", (self.player,)
        )[0][0]
        if last is not None and (self.now.date() - date(1970, 1, 1) - timedelta(days=last)).days < SIGHT_EVERY_DAYS:
            return []
        cell = min(holds, key=lambda c: (c.state != FREE, c.place))
        why = "at sight, to hear how far it has come" if last is not None else "a first reading at sight"
        return [
            replace(
                self._suggestion(cell.place, SIGHT, why, FREE),
                title="Prima vista",
                name="",
                minutes=SIGHT_MINUTES,
                tempo=None,
                help=HELPS[-1],
            )
        ]
