"""How many syllables are shown: what the player's practice has come to, or what they hold."""

from __future__ import annotations

import contextlib
from dataclasses import replace
from typing import TYPE_CHECKING

from trainer.journal.errors import JournalError
from trainer.journal.tally import canonical
from trainer.music.keys import Key
from trainer.music.pitch import MusicError
from trainer.music.solfege import HELPS
from trainer.window.strings import key_in, say

if TYPE_CHECKING:
    from trainer.coaching.path.cells import Learned
    from trainer.coaching.path.path import Place
    from trainer.music.piece import Piece
    from trainer.window.house.house import House
    from trainer.window.wish import Wish


class Helping:
    """The help on the Stand. Without a journal it is what is set; with one, the coach lets it fade, unless it is held.

    Parameters
    ----------
    house : House
    """

    def __init__(self, house: House) -> None:
        self.house = house
        self._shown: str | None = None
        self._asked: tuple[object, ...] = ()
        # What the next take begins with, after the coach has learned from the last.
        self._next: str | None = None
        # The place of the take begun last.
        self._place: Place | None = None
        self._suggested: tuple[Piece, str] | None = None
        # Whether it is held, and by whom; looked up again for every take, not for every frame.
        self._holding: tuple[str, str] | None = None

    @property
    def shown(self) -> str:
        """One of `HELPS`."""
        return self._shown or self.house.settings.help

    @property
    def held(self) -> bool:
        """Whether the player holds the help, in every key and piece."""
        return bool(self.held_at)

    @property
    def held_at(self) -> str:
        """The help the player holds; empty where it fades by itself."""
        journal, player = self.house.journal, self.house.player
        if journal is None:
            return ""
        if self._holding is None or self._holding[0] != player:
            found: list[tuple[str, ...]] = []
            with contextlib.suppress(JournalError):
                found = journal.ask("SELECT held FROM player WHERE name = ?", (player,))
            held = str(found[0][0] or "") if found else ""
            self._holding = (player, held if held in HELPS else "")
        return self._holding[1]

    def suggest(self, piece: Piece, shown: str) -> None:
        """What the coach offers for a piece about to be put on the stand."""
        self._suggested = (piece, shown)

    def for_take(self, wish: Wish) -> str:
        """The help a take about to begin is played with."""
        from trainer.coaching.path.path import Place

        self._holding = None
        hands = wish.piece.hands[0] if len(wish.piece.hands) == 1 else wish.hands
        asked = (self.house.player, wish.piece, wish.plan.target, hands)
        self._place = Place(wish.level, canonical(wish.plan.target), hands)
        if asked != self._asked:
            self._shown = self._first(wish, hands)
            self._asked = asked
        elif self._next is not None:
            self._shown = self._next
        self._next = None
        return self.shown

    def _first(self, wish: Wish, hands: str) -> str | None:
        """What a piece newly put on the stand begins with; None: as it is set."""
        from trainer.coaching.path.cells import help_for
        from trainer.coaching.path.path import Place

        journal, player = self.house.journal, self.house.player
        if journal is None or self.house.rounds.demonstrating:
            return None
        suggested, self._suggested = self._suggested, None
        if suggested is not None and suggested[0] is wish.piece and not self.held:
            return suggested[1]
        place: Place | None = None
        if wish.plan.interval.semitones or wish.plan.interval.steps:
            place = Place(wish.level, canonical(wish.plan.target), hands)
        try:
            if place is None and not self.held:
                return None
            # What is held counts in any place.
            return help_for(journal, player, place or Place("", "", ""))
        except (JournalError, MusicError):
            return None

    def learned(self, found: Learned) -> str:
        """A take moved the help of its place: the next one begins so. Gives the line to say, empty for none."""
        place, letters = Key.parse(found.before.place.key), self.house.settings.letters
        if found.before.help == found.after.help:
            return key_in(found.words, place, letters)
        if self.held:
            return key_in(replace(found, after=replace(found.after, help=found.before.help)).words, place, letters)
        # Of a take learned from late, another piece may be on the stand by now.
        if found.before.place == self._place:
            here, goal = HELPS.index(self.shown), HELPS.index(found.after.help)
            fewer = goal > HELPS.index(found.before.help)
            # What the player chose by hand meanwhile is never turned round: fewer stays fewer.
            self._next = HELPS[max(here, goal) if fewer else min(here, goal)]
        return key_in(found.words, place, letters)

    def step(self) -> str:
        """The next of `HELPS`, by the player's hand; where it is held, held so from now on."""
        self._shown = HELPS[(HELPS.index(self.shown) + 1) % len(HELPS)]
        self._next = None
        self.house.change(help=self._shown)
        if not self.held:
            return say(f"help.{self._shown}")
        self._hold(self._shown)
        return say("help.still", help=say(f"help.{self._shown}"))

    def hold(self) -> str:
        """Keep the help as it is, or let it fade again; gives what to say."""
        return self.hold_at("" if self.held else self.shown)

    def hold_at(self, shown: str) -> str:
        """Hold one of `HELPS` from now on, or let help fade again with an empty text; gives what to say."""
        if self.house.journal is None:
            return say("help.no-journal")
        if not shown:
            return self._hold("") or say("help.let")
        self._next = None
        self._shown = shown
        return self._hold(shown) or say("help.held", help=say(f"help.{shown}"))

    def _hold(self, shown: str) -> str:
        """Tell the journal; gives what went wrong, else empty."""
        from trainer.coaching.path.cells import hold_help

        assert self.house.journal is not None
        self._holding = None
        try:
            hold_help(self.house.journal, self.house.player, shown)
        except JournalError as trouble:
            return str(trouble)
        return ""
