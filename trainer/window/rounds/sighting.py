"""A test at sight: reading after reading on the Stand, each looked at for thirty seconds and played once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.coaching.sight.sighttest import Form, Reading, Result, SightTest, compose
from trainer.journal import files
from trainer.journal.errors import JournalError
from trainer.music.transpose import plan
from trainer.session import PRIMA_VISTA
from trainer.window.practice import Practice
from trainer.window.screen import awaited
from trainer.window.strings import key_name, say
from trainer.window.wish import Wish

if TYPE_CHECKING:
    from trainer.journal.store import Journal
    from trainer.music.piece import Piece
    from trainer.window.house.house import House


class Sighting:
    """One test from its first reading to its result. Leaving the Stand ends it; what was played is kept.

    Parameters
    ----------
    house : House
    journal : Journal
    form : Form
        The two-minute or the five-minute one.

    Raises
    ------
    JournalError
        When the journal cannot be read or written.
    """

    def __init__(self, house: House, journal: Journal, form: Form) -> None:
        self.house = house
        self.form = form
        self._journal = journal
        self._test = SightTest(journal, house.player, form)
        self._reading: Reading | None = None
        self.number = 0
        # A reading has been played: the next is to be put on the stand.
        self.due = False
        self._over = False
        # Why the reading before does not count; mostly empty.
        self._amiss = ""

    def go_on(self) -> None:
        """Compose the next reading elsewhere and put it on the stand; without one left, show the result."""
        self.due = False
        reading = self._test.next()
        if reading is None:
            self._show(self._test.result())
            return

        def made(piece: Piece) -> None:
            if not self._over:
                self._put(piece, reading)

        def gone() -> None:
            # Who went elsewhere meanwhile has left the test.
            if not self._over:
                self.house.rounds.leave_sighting()

        self.house.workroom.ask(compose, reading, then=awaited(self.house, made, gone), failed=self._failed)

    def _put(self, piece: Piece, reading: Reading) -> None:
        """A reading on the stand, to be looked at."""
        item = reading.item
        moved = plan(piece.key, "+0" if reading.baseline else item.target.short)
        rounds = self.house.rounds
        # What plays a piece ends the test before it: not this one.
        rounds.sighting = None
        beat = float(piece.bars[0].beat_quarters) if piece.bars else 1.0
        rounds.stand().play(Wish(piece, moved, item.hands, PRIMA_VISTA, item.tempo / beat))
        rounds.sighting = self
        self._reading = reading
        self.number += 1
        words = "sight.baseline" if reading.baseline else "sight.reading"
        key = key_name(item.target, self.house.settings.letters)
        said = say(words, number=self.number, key=key)
        self.house.say(f"{self._amiss} {said}".strip(), reading.look_s)
        self._amiss = ""

    def took(self, practice: Practice) -> None:
        """The reading on the stand has been played."""
        if self._reading is None:
            return
        # What the reading says is read from the journal: it waits longer for that than a frame should.
        held = not self._journal.flush(files.BUSY_S)
        number = getattr(practice.record, "id", None)
        if number is None and not held:
            # What this take holds cannot be kept; that keeps nobody from the next.
            self._passed(say("sight.unkept"))
            return
        try:
            if held or number is None:
                raise JournalError(self._journal.trouble)
            self._test.played(self._reading, number)
        except JournalError as trouble:
            self._failed(trouble)
            return
        self._reading = None
        self.due = True

    def passed(self) -> None:
        """The reading went by and nothing was played: it does not count, and the test goes on."""
        self._passed(say("sight.silent"))

    def _passed(self, amiss: str) -> None:
        if self._reading is not None:
            self._test.silent(self._reading)
            self._reading = None
            self._amiss, self.due = amiss, True

    def leave(self) -> None:
        """The test ends before its end."""
        if not self._over:
            self._over = True
            self.house.say(say("sight.left"))

    def _failed(self, trouble: Exception) -> None:
        self._over = True
        self.house.rounds.sighting = None
        self.house.unable("sight.failed")(trouble)

    def _show(self, result: Result) -> None:
        self._over = True
        self.house.rounds.sighting = None
        self.house.rounds.sight_result = (self.house.player, result)
        self.house.notice = None
        self.house.go("sight")
