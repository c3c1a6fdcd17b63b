"""The pieces there are, as the coach looks at them, and which of them comes next in a key, and how fast."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from statistics import median
from typing import TYPE_CHECKING

from trainer.coaching.path.path import FREE, HOLDING, OPENING, Place
from trainer.journal.reading import TITLE
from trainer.journal.store import Journal
from trainer.journal.tally import canonical
from trainer.journal.values import FINISHED
from trainer.music.keys import Key
from trainer.music.piece import BOTH, LEFT, RIGHT, Bar
from trainer.music.pitch import MusicError
from trainer.music.transpose import plan

if TYPE_CHECKING:
    from trainer.scores.shelf.library import Entry

# How far back a piece counts as played.
MEMORY_DAYS = 60
# All of what follows is ours. Part of the piece's own tempo that is asked for, by the state of the cell.
TEMPO_SHARE = {OPENING: 0.7, HOLDING: 0.85, FREE: 1.0}
# Who plays slower than that is asked for a little more than their last pace here, but for no less than this part.
FASTER, SLOWEST_SHARE = 1.1, 0.4
# A player's own pace beside the pieces' is the middle one of so many takes, told from so many on.
USUAL_TAKES, FEWEST_TAKES = 8, 4
# Who played faster and this well is asked for what they played; who played this badly, for a little less than that.
SURE, UNSURE, SLOWER = 0.9, 0.75, 0.9
# So many takes of a tune in a key on one day, and so many in all while it is being opened; then another has its turn.
MOST_A_DAY = 6
STUCK_TAKES = 12
# One tune opens so many keys; then another has its turn.
KEYS_A_TUNE = 3
# An accidental of the page's signature is as much to read as so many notes.
SIGN_NOTES = 8


@dataclass(frozen=True, slots=True)
class Offer:
    """A piece of the shelf, as the schedule looks at it: quarters long, tempo and felt beat in quarters, its notes.

    `lines` are the hands that have something to say alone, and not only a tone or two under the other.
    """

    name: str
    title: str
    written: Key
    level: str
    hands: str
    quarters: float
    tempo: float
    beat: float = 1.0
    notes: int = 0
    lines: tuple[str, ...] = (RIGHT, LEFT)


def offers(entries: Iterable[Entry]) -> list[Offer]:
    """The readable pieces of a shelf, from `trainer.scores.shelf.library.Shelf.entries`."""
    found = []
    for entry in entries:
        beats, unit = (int(part) for part in (entry.meter or "4/4").split("/"))
        quarters = entry.bars * 4 * beats / unit
        key = Key.parse(entry.key)
        beat = float(Bar(1, Fraction(0), Fraction(0), (beats, unit)).beat_quarters)
        about = (entry.path, entry.title, key, entry.level, entry.hands)
        found.append(Offer(*about, quarters, entry.tempo, beat, entry.notes, tuple(entry.lines.split())))
    return found


def target_of(wish: str, offer: Offer | None) -> Key | None:
    """The key a wish for a piece leads to; None where it cannot be understood."""
    with suppress(MusicError):
        return plan(offer.written, wish).target if offer else Key.parse(wish)
    return None


class Repertoire:
    """The shelf, and what of it a player has played lately."""

    def __init__(self, journal: Journal, player: str, shelf: Sequence[Offer], now: date) -> None:
        self.shelf = shelf
        day = (now - date(1970, 1, 1)).days
        who = "t.player = (SELECT id FROM player WHERE name = ?) AND t.day > ?"
        rows = journal.ask(
            f"SELECT {TITLE}, t.key, t.hands, t.interval = '+P1', max(t.day), count(*), sum(t.day = ?) "
            f"FROM take t JOIN piece m ON m.id = t.piece WHERE {who} GROUP BY 1, t.key, t.hands",
            (day, player, day - MEMORY_DAYS),
        )
        self._played = {(title, key, hands): found for title, key, hands, _, *found in rows}
        # Pieces and hands that were read as they are written, and how many other keys they were played in.
        self._written = {(title, hands) for title, _, hands, home, *_ in rows if home}
        self._keys = Counter((title, hands) for title, _, hands, home, *_ in rows if not home)
        paces = journal.ask(
            f"SELECT {TITLE}, t.key, t.hands, t.pace, t.accuracy FROM take t JOIN piece m ON m.id = t.piece "
            f"WHERE {who} AND t.state = ? AND t.pace > 0 ORDER BY t.began",
            (player, day - MEMORY_DAYS, FINISHED),
        )
        self._paces = {(title, key, hands): (pace, accuracy or 0.0) for title, key, hands, pace, accuracy in paces}
        tempos = {offer.title: offer.tempo for offer in shelf}
        shares = [pace / tempos[title] for title, _, _, pace, _ in paces if title in tempos][-USUAL_TAKES:]
        self._usual = median(shares) if len(shares) >= FEWEST_TAKES else 1.0

    def piece_for(self, place: Place, key: Key, state: str) -> Offer | None:
        """A piece of this level, mode and hands that is not written in the key.

        While a key is being opened it stays with the piece these hands played last there, but for `MOST_A_DAY` takes
        a day and `STUCK_TAKES` in all: then another tune may help. At first comes the easiest page, until it has opened
        `KEYS_A_TUNE` keys. Once the key holds, the piece played least comes next, and longest ago.
        """

        def worn(offer: Offer) -> tuple[int, ...]:
            day, takes, now = self._played.get((offer.title, place.key, place.hands), (0, 0, 0))
            opening = now // MOST_A_DAY, takes // STUCK_TAKES, -day, takes
            return opening if state == OPENING else (takes, day)

        def page(offer: Offer) -> tuple[int, int, str]:
            turns = self._keys[offer.title, place.hands] // KEYS_A_TUNE
            return turns, offer.notes + SIGN_NOTES * abs(offer.written.signature), offer.name

        fits = (offer for offer in self.shelf if _fits(offer, place, key))
        found = min(fits, key=lambda offer: (worn(offer), page(offer)), default=None)
        if found is not None and not self.is_known(found, place):
            # Chosen counts as played, so that one list does not ask for one tune in every key.
            self._keys[found.title, place.hands] += 1
        return found

    def takes_today(self, place: Place) -> int:
        """Takes of this day at a place, in any piece of the shelf."""
        titles = {offer.title for offer in self.shelf if offer.level == place.level}
        return sum(self._played.get((title, place.key, place.hands), (0, 0, 0))[2] for title in titles)

    def is_known(self, offer: Offer, place: Place) -> bool:
        """Whether these hands have played the piece in this key."""
        return (offer.title, place.key, place.hands) in self._played

    def is_read(self, offer: Offer, hands: str) -> bool:
        """Whether these hands have played the piece as it is written."""
        return (offer.title, hands) in self._written

    def together(self, hands: str) -> str:
        """With which hands what is played with `hands` is prepared: both, once this player plays with both."""
        return BOTH if any(played == BOTH for *_, played in self._played) else hands

    def tempo(self, offer: Offer, place: Place, state: str, slower: bool = False, steady: bool = False) -> float:
        """What is asked for, quarters a minute: by the state of the cell, and by the pace of the last take here.

        Where these hands have not played the piece in this key yet their own usual pace says what is slow enough.
        `slower`: less than that pace, however it went; `steady`: no more than it, where it went well.
        """
        asked = offer.tempo * TEMPO_SHARE.get(state, TEMPO_SHARE[OPENING])
        here = self._paces.get((offer.title, place.key, place.hands))
        if here is None:
            usual = self._usual * (1.0 if slower else FASTER)
            asked = min(asked, offer.tempo * max(usual, SLOWEST_SHARE))
        pace, accuracy = here or (asked, SURE)
        if slower or accuracy < UNSURE or pace < asked:
            pace *= SLOWER if slower or accuracy < UNSURE else 1.0 if steady else FASTER
            asked = min(asked, max(pace, offer.tempo * SLOWEST_SHARE))
        elif accuracy >= SURE:
            asked = max(asked, min(pace, offer.tempo))
        return float(round(asked))

    def is_slowest(self, name: str, tempo: float | None) -> bool:
        """Whether a piece is not asked for more slowly than so."""
        return any(one.name == name and tempo == round(one.tempo * SLOWEST_SHARE) for one in self.shelf)


def _fits(offer: Offer, place: Place, key: Key) -> bool:
    """Whether a piece can be played at a place: a hand alone only where it has a line of its own."""
    hands = offer.hands == place.hands or (offer.hands == BOTH and place.hands in (BOTH, *offer.lines))
    like = offer.level == place.level and offer.written.mode == key.mode
    return like and hands and canonical(offer.written) != place.key
