"""The path learns from takes: at once where it can, else later, and from none twice."""

from __future__ import annotations

import contextlib
import math
import time
from typing import TYPE_CHECKING

from trainer.hands.keyboard import Compass
from trainer.journal import files, unlearned
from trainer.journal.errors import JournalError
from trainer.journal.values import TakeRow
from trainer.music.pitch import MusicError
from trainer.session import Record
from trainer.window.rounds.helping import Helping

if TYPE_CHECKING:
    from trainer.window.house.house import House

# While another program is at the journal, it is tried again so often.
AGAIN_S = 0.5
# How long for at the end of the program.
CLOSING_S = 1.5


class Learning:
    """What the path has still to learn from, and what is shown for it."""

    def __init__(self, house: House) -> None:
        self.house = house
        self.helping = Helping(house)
        # Takes the path has not learned from yet, each with the compass of its keyboard and whether the journal has it
        # noted as one; when it is tried again.
        self.unlearned: list[tuple[Record | TakeRow, Compass, bool]] = []
        self._again_at = 0.0

    def learn_from(self, kept: TakeRow) -> str:
        """Let the coach learn from a take that was cut off and is marked now; as `catch_up`."""
        self.unlearned.append((kept, self.house.outer_keys, True))
        return self.catch_up()

    def resume(self) -> None:
        """What the path has not learned from when the program ended, or could not while its file was broken, waits."""
        from trainer.coaching.path.comeback import unlearned as waiting

        if self.house.journal is not None:
            self.unlearned += [(row, self.house.outer_keys, True) for row in waiting(self.house.journal)]

    def catch_up(self) -> str:
        """Let the coach learn from the takes the journal holds by now, in their order; the line of the last of them.

        While the journal cannot be written they wait: `is_behind` says when it is worth trying again. While the path
        cannot be read they wait for the next take, or the next start.
        """
        from trainer.coaching.path.cells import learn

        journal, said = self.house.journal, ""
        while journal is not None and self.unlearned:
            self._again_at = time.monotonic() + AGAIN_S
            # The coach looks at the take as it is kept.
            if not journal.flush():
                break
            record, compass, once = self.unlearned[0]
            number = getattr(record, "id", None)
            try:
                learned = learn(journal, number, compass=compass, once=once) if number is not None else None
            except MusicError as trouble:
                said, self._again_at = str(trouble), math.inf
                break
            except JournalError as trouble:
                if files.trouble_of(trouble.__cause__ or trouble) in (files.LOCKED, files.FULL, files.READ_ONLY):
                    break
                # Of a take that is gone, or cannot be read, nothing is learned later either.
                said, learned = str(trouble), None
                with contextlib.suppress(JournalError), journal.changing(journal.wait_s) as db:
                    unlearned.strike(db, number or 0)
            self.unlearned.pop(0)
            said = self.helping.learned(learned) if learned is not None else said
        return said

    def close(self) -> None:
        """The program ends: a journal that another program is at has a moment more."""
        until = time.monotonic() + CLOSING_S
        self.catch_up()
        while self.unlearned and self._again_at < math.inf and time.monotonic() < until:
            time.sleep(AGAIN_S / 5)
            self.catch_up()

    @property
    def is_behind(self) -> bool:
        """Whether takes wait to be learned from, and it is time to try again."""
        return bool(self.unlearned) and time.monotonic() >= self._again_at
