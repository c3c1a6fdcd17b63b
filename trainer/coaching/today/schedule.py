"""What to play today: a teacher's work, what is due, one new key, a warm-up, the set list when an occasion is near.

Time that is left goes to keys that are still being opened, those played least today first, to a reading at sight, to
further new keys as long as not too many are being opened, and to keys whose time is half over.

Never more than the minutes the player has. What does not fit stays due and comes first tomorrow, so nothing is lost
when days are missed; and missed days are not added up, because only so many minutes are asked for.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cached_property

from trainer.coaching.path import memory
from trainer.coaching.path.cells import Cell, cells, help_for, states
from trainer.coaching.path.path import FREE, HOLDING, OPENING, Place, Route, load, next_places
from trainer.coaching.singers.setlist import Occasion, Task, readiness, share_of, until
from trainer.coaching.today.allotting import Allotment
from trainer.coaching.today.minutes import AWAY_DAYS, comes_back
from trainer.coaching.today.reasons import when_due
from trainer.coaching.today.repertoire import MOST_A_DAY, TEMPO_SHARE, Offer, Repertoire, target_of
from trainer.coaching.today.waiting import asked_of, held_up, in_parts, longest_stuck, state_of
from trainer.coaching.work.assignments import DONE, Assignment, Progress
from trainer.coaching.work.work import asked, in_order, work_of
from trainer.journal.store import Journal
from trainer.journal.tally import canonical
from trainer.music.compass import TRICHORD
from trainer.music.keys import Key
from trainer.music.piece import BOTH, HANDS
from trainer.music.solfege import HELPS

WARM_UP, DUE, NEW_KEY, GO_ON, SET_LIST, SIGHT = "warm-up", "due", "new", "go on", "set list", "sight"
SET_WORK, HOME, AHEAD = "set work", "as written", "ahead"

# Minutes (ours): a take lasts its music at the asked tempo and a little more, is played twice, and needs a start.
SLACK = 1.3
TAKES_EACH = 2
START_MINUTES = 0.5
WARM_UP_MINUTES = 2.0
SIGHT_MINUTES = 2.0
# A warm-up only when there is time for something after it, and when the hands have rested so long.
WARM_UP_FROM = 6.0
RESTED_MINUTES = 60.0
# Tunes in one key on one day, `MOST_A_DAY` takes of each, after which going on is left to the next day.
TUNES_A_DAY = 2
# How near an occasion must be for its songs.
NEAR_DAYS = 7
# How much of the time work set by a teacher takes at most, and a piece whose length is not known.
SET_WORK_SHARE = 0.6
UNKNOWN_MINUTES = 3.0
# Prima vista on the list when the last is this long ago, for players with a key that holds.
SIGHT_EVERY_DAYS = 3
# A fresh piece: eight bars of four, at an easy pace.
FRESH_QUARTERS, FRESH_TEMPO = 32.0, 60.0


@dataclass(frozen=True, slots=True)
class Suggestion:
    """One thing to play.

    Parameters
    ----------
    kind : str
        ``warm-up``, ``set work``, ``due``, ``as written``, ``new``, ``go on``, ``ahead``, ``set list`` or ``sight``.
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
    work : Assignment or None
        What is set, of set work.
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
    work: Assignment | None = None


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
        What the player gives, what was played today already taken off: see `trainer.coaching.today.minutes`.
    now : datetime
        With its time zone.
    shelf : sequence of Offer
        The pieces there are; without one that fits, a pattern or a fresh piece is suggested.
    occasion : Occasion, optional
        The next one, from `trainer.coaching.singers.setlist`.
    assignments : sequence of Assignment
        What is set, for whomever, from `trainer.coaching.work.assignments`.
    hands : sequence of str
        The choices of hands the player practises.
    """
    path = route or load(journal.path.parent)
    known = cells(journal, player, now.date())
    plan = _Plan(journal, player, now, shelf, known, path)
    day = Allotment(minutes)
    songs: list[Suggestion] = []
    if occasion is not None and 0 <= (occasion.date - now.date()).days <= NEAR_DAYS:
        songs = day.fitting(plan.songs(occasion, minutes), share_of(minutes))
    wanted = plan.work(assignments)
    # What is set is never kept off the list by its length alone: it is played once where twice would be too long.
    work = day.fitting(wanted, max(minutes * SET_WORK_SHARE, 5.0)) or day.first(map(once, wanted))
    # What a song or a teacher's piece asks for today is not asked for a second time.
    plan.listed = {Place(s.level, canonical(s.key), s.hands) for s in (*songs, *work)}
    due = [plan.for_cell(cell, DUE) for cell in plan.due(hands)]
    places = [place for place in next_places(states(list(known.values())), path, hands) if place not in plan.listed]
    # The first day after weeks away is for what is sure: nothing new and no test until what is due is played.
    eased = bool(due) and plan.being_opened < len(known) and comes_back(journal, player, now)
    places = [] if eased else places[: path.rules.most_opening - plan.being_opened]
    new = [plan.for_place(place, places[:at]) for at, place in enumerate(places)]
    fresh, later = new[:1], new[1:]
    opening = [plan.for_cell(cell, GO_ON) for cell in plan.opening(hands)]
    firsts = [*work[:1], *due[:1], *fresh, *songs, *opening[:1]]
    warm: list[Suggestion] = []
    one_hand = path.only_hand(hands)
    if firsts and plan.rested_minutes >= RESTED_MINUTES and minutes >= WARM_UP_FROM:
        warm = day.fitting([plan.warm_up(firsts[0].key, one_hand or plan.repertoire.together(firsts[0].hands))])
    # A new key has its place even when much is due: otherwise a player with a full list would never open one.
    keep = day.fitting(fresh, day.left if not due else day.left / 2)
    first = day.fitting(due)
    sight = day.fitting([] if eased else plan.sight())
    more = day.fitting(opening)
    home = day.fitting(plan.home(keep))
    # One that is left for another day keeps its place before those behind it.
    further = day.in_a_row(later if keep else [])
    ahead = day.fitting([plan.for_cell(cell, AHEAD) for cell in plan.ahead(hands)])
    played = [*work, *plan.told(first), *home, *keep, *sight, *plan.told(more), *further, *ahead, *songs]
    held = longest_stuck([Place(s.level, canonical(s.key), s.hands) for s in played if s.kind in (DUE, GO_ON)], known)
    if warm and held:
        warm = [plan.warm_up(held, one_hand or BOTH, "to make the position sure first")]
    # Nor is what is due, where the list would be empty.
    return [*warm, *played] or plan.told(day.first(map(once, due)))


def waiting(listed: Sequence[Suggestion]) -> Suggestion | None:
    """Of the list of a longer day, what asks for the fewest minutes of what a teacher wants, is due, new or opening."""
    real = [one for one in listed if one.kind not in (WARM_UP, SIGHT, HOME)]
    return min(real, key=lambda one: one.minutes, default=None)


def page_key(target: Key) -> Key:
    """An easy written key for a fresh piece that is to be played in `target`: no accidentals, or one sharp."""
    plain = Key.from_signature(0, target.mode)
    return plain if canonical(plain) != canonical(target) else Key.from_signature(1, target.mode)


def once(suggestion: Suggestion) -> Suggestion:
    """The same played once, where there is no time to play it twice."""
    minutes = round(START_MINUTES + (suggestion.minutes - START_MINUTES) / TAKES_EACH, 1)
    return replace(suggestion, minutes=minutes, why=f"{suggestion.why.rstrip('.')}. Once through")


def _minutes(quarters: float, tempo: float) -> float:
    """How long a piece takes with its start and its takes."""
    return round(START_MINUTES + TAKES_EACH * SLACK * quarters / tempo, 1)


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
        self.journal, self.player, self.now = journal, player, now
        self.shelf, self.known, self.path = shelf, known, path
        self.repertoire = Repertoire(journal, player, shelf, now.date())
        self.begins: Cell | None = None
        self.listed: set[Place] = set()
        self.being_opened = sum(cell.state == OPENING for cell in known.values())
        self.held_up = held_up(known.values(), path.rules)

    @cached_property
    def rested_minutes(self) -> float:
        """How long ago something was played; who has been playing is warm."""
        last = self.journal.ask(
            "SELECT max(began + ifnull(seconds, 0)) FROM take WHERE player = (SELECT id FROM player WHERE name = ?) "
            "AND began <= ?",
            (self.player, self.now.timestamp()),
        )[0][0]
        return math.inf if last is None else (self.now.timestamp() - last) / 60

    def _open_to(self, hands: Sequence[str]) -> list[Cell]:
        """Cells of these hands that are not on the list already."""
        return [c for c in self.known.values() if c.place.hands in hands and c.place not in self.listed]

    def due(self, hands: Sequence[str]) -> list[Cell]:
        """Due cells, the one most likely forgotten first; after weeks away what the hands know best before it."""
        found = [c for c in self._open_to(hands) if c.due and c.due <= self.now.date()]
        sure = [c for c in found if c.state in (HOLDING, FREE)] if self.rested_minutes >= AWAY_DAYS * 1440 else []
        recall = {cell.place: memory.recall(cell.card, self.now) for cell in found}
        self.begins = max(sure, key=lambda cell: (cell.state == FREE, recall[cell.place]), default=None)
        return sorted(found, key=lambda cell: (cell is not self.begins, recall[cell.place], cell.place))

    def opening(self, hands: Sequence[str]) -> list[Cell]:
        """Cells being opened that are not due: those played least today first, of them the least sure."""
        found = [c for c in self._open_to(hands) if c.state == OPENING and c.recent]
        waiting = [cell for cell in found if cell.due and cell.due > self.now.date()]
        takes = {cell.place: self.repertoire.takes_today(cell.place) for cell in waiting}
        fresh = [cell for cell in waiting if takes[cell.place] < MOST_A_DAY * TUNES_A_DAY]
        return sorted(fresh, key=lambda cell: (takes[cell.place], cell.recent[-1].accuracy, cell.place))

    def ahead(self, hands: Sequence[str]) -> list[Cell]:
        """Cells that hold and are not due, when half of the time up to then is over; the likeliest forgotten first."""
        found = [c for c in self._open_to(hands) if c.state in (HOLDING, FREE) and c.due and c.recent]
        today_ = (self.now.date() - date(1970, 1, 1)).days

        def is_half_over(cell: Cell) -> bool:
            waits = (cell.due or self.now.date()) - self.now.date()
            return 0 < waits.days <= today_ - cell.recent[-1].day

        return sorted(filter(is_half_over, found), key=lambda cell: (memory.recall(cell.card, self.now), cell.place))

    def for_cell(self, cell: Cell, kind: str) -> Suggestion:
        went = f"{cell.recent[-1].accuracy:.0%} right last time" if cell.recent else ""
        why = went if kind == GO_ON else when_due(cell, self.now.date())
        why += ", a sure beginning" if cell is self.begins else ""
        held = asked_of(cell, self.path.rules)
        why += f"; {held.words}" if held.words else ""
        one = self._suggestion(cell.place, kind, f"{state_of(cell)}, {why}", cell.state, held.faster)
        is_slowest = self.repertoire.is_slowest(one.name, one.tempo)
        return replace(one, why=in_parts(one.why, self.path.rules)) if is_slowest else one

    def told(self, listed: Sequence[Suggestion]) -> list[Suggestion]:
        """These, the first key that is being opened with why no new one comes; said once."""
        found = []
        for one in listed:
            cell = self.known.get(Place(one.level, canonical(one.key), one.hands))
            if self.held_up and cell is not None and cell.state == OPENING:
                one, self.held_up = replace(one, why=f"{one.why}; {self.held_up}"), ""
            found.append(one)
        return found

    def for_place(self, place: Place, before: Sequence[Place] = ()) -> Suggestion:
        """A new place; `before` are those the list opens before it."""
        return self._suggestion(place, NEW_KEY, f"{self._new(place, before)}: {self.path.reason(place)}", OPENING)

    def home(self, fresh: Sequence[Suggestion]) -> list[Suggestion]:
        """The pieces of new keys that these hands have not played as they are written yet."""
        found = []
        for one in fresh:
            offer = next((offer for offer in self.shelf if offer.name == one.name), None)
            if offer is not None and not self.repertoire.is_read(offer, one.hands):
                tempo = self.repertoire.tempo(offer, Place(one.level, canonical(offer.written), one.hands), HOLDING)
                why = "as written first, to know what transposing costs"
                length = _minutes(offer.quarters, tempo)
                found.append(replace(one, kind=HOME, key=offer.written, why=why, minutes=length, tempo=tempo))
        return found

    def _new(self, place: Place, before: Sequence[Place]) -> str:
        """What is new about a place: the key itself, the hand, or how far the piece reaches."""
        levels = {known.level for known in (*self.known, *before) if known.key == place.key}
        if not levels:
            return "a new key"
        if place.level not in levels:
            return f"a known key, {place.level} now"
        return "both hands together now" if place.hands == BOTH else f"the {place.hands} hand now"

    def _suggestion(self, place: Place, kind: str, why: str, state: str, faster: int = 1) -> Suggestion:
        key = Key.parse(place.key)
        shown = help_for(self.journal, self.player, place, self.known)
        offer = self.repertoire.piece_for(place, key, state)
        if offer is None:
            quarters, title = FRESH_QUARTERS, f"A fresh {place.level} piece"
            asked = float(round(FRESH_TEMPO * TEMPO_SHARE.get(state, TEMPO_SHARE[OPENING])))
        else:
            quarters, title = offer.quarters, offer.title
            asked = self.repertoire.tempo(offer, place, state, faster < 0, faster == 0)
            if kind == GO_ON and not self.repertoire.is_known(offer, place):
                why = f"{state}, another tune in this key"
        return Suggestion(
            kind, title, key, place.level, place.hands, why, _minutes(quarters, asked), offer.name if offer else "",
            tempo=asked, help=shown, written=None if offer else page_key(key),
        )  # fmt: skip

    def work(self, assignments: Sequence[Assignment]) -> list[Suggestion]:
        """What a teacher set and is not done, one key of each, what is late or wanted first before the rest."""
        today_ = self.now.date()
        undone = [one for one in work_of(self.journal, self.player, assignments, today_) if one.state != DONE]
        return [self._for_work(one, today_) for one in in_order(undone) if one.wanted]

    def _for_work(self, found: Progress, today_: date) -> Suggestion:
        one = found.assignment
        in_key = found.wanted[0]
        offer = next((offer for offer in self.shelf if one.is_of(offer.title)), None)
        tempo = one.tempo * (offer.beat if offer else 1.0) if one.tempo else None
        minutes, shown = UNKNOWN_MINUTES, one.help
        if offer is not None:
            quarters_a_minute = tempo or offer.tempo * TEMPO_SHARE[OPENING]
            minutes = _minutes(offer.quarters, quarters_a_minute)
            place = Place(offer.level, canonical(in_key.key), one.hands)
            # Never more help than the work allows.
            shown = max(one.help, help_for(self.journal, self.player, place, self.known), key=HELPS.index)
        why = asked(found, in_key, today_)
        if offer is None and one.written is None:
            why = f"{why.rstrip('.')}. Its music is not on the shelf here"
        return Suggestion(
            SET_WORK, one.title, in_key.key, offer.level if offer else "", one.hands, why, minutes,
            offer.name if offer else one.piece, tempo=tempo, help=shown, work=one,
        )  # fmt: skip

    def warm_up(self, key: Key, hands: str, why: str = "to find the position of the first key") -> Suggestion:
        return Suggestion(
            WARM_UP, f"Five fingers in {key.name}", key, TRICHORD, hands, why, WARM_UP_MINUTES, pattern="pentascale",
            written=key,
        )  # fmt: skip

    def songs(self, occasion: Occasion, minutes: float) -> list[Suggestion]:
        """What the set list asks for today, the least ready songs with most of the time."""
        today_ = self.now.date()
        days = (occasion.date - today_).days
        when = "today" if days == 0 else "tomorrow" if days == 1 else f"in {days} days"
        takes = self.journal.takes(self.player, limit=500)
        by_title = {offer.title.casefold(): offer for offer in self.shelf}
        written = {title: offer.written for title, offer in by_title.items()}
        # An interval leads nowhere from a piece that is not on the shelf.
        keys = {song: target_of(song.key, by_title.get(song.title.casefold())) for song in occasion.songs}
        occasion = replace(occasion, songs=tuple(song for song in occasion.songs if keys[song]))
        ready = [readiness(song, takes, today_, written.get(song.title.casefold())) for song in occasion.songs]
        plan = until(occasion, ready, today_, share_of(minutes))
        tasks = plan[0].tasks if plan else tuple(Task(song, 0) for song in occasion.songs)
        words = {one.song: one.words for one in ready}
        found = []
        for task in tasks:
            offer = by_title.get(task.song.title.casefold())
            key = keys[task.song]
            assert key is not None
            length = task.minutes or (SLACK * offer.quarters / offer.tempo if offer else 3.0)
            why = f"{occasion.name} is {when}; {words.get(task.song, 'to be begun')}"
            level, hands = (offer.level, offer.hands) if offer else ("", BOTH)
            found.append(Suggestion(
                SET_LIST, task.song.title, key, level, hands, why, round(float(length), 1), task.song.piece,
                move=task.song.move,
            ))  # fmt: skip
        return found

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
                self._suggestion(cell.place, SIGHT, why, FREE), title="Prima vista", name="", minutes=SIGHT_MINUTES,
                tempo=None, help=HELPS[-1],
            )
        ]  # fmt: skip
