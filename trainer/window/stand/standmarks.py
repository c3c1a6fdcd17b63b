"""The pencil on the Stand's page: what has been said of the take in hand, drawn as the player goes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from trainer.following.marks import Mark, Move
from trainer.listening.press import Press
from trainer.window.page.marking import Marking, of_notes
from trainer.window.page.music import Score
from trainer.window.page.sheetmusic import Ribbons
from trainer.window.paint.theme import hexed

if TYPE_CHECKING:
    from trainer.window.house.house import House
    from trainer.window.practice import Practice


class Marks:
    """The marks of one take on one engraving.

    Attributes
    ----------
    marking : Marking
        What the pencil draws.
    """

    def __init__(self, house: House, practice: Practice, score: Score, ribbons: Ribbons) -> None:
        self._practice = practice
        self._tone = hexed(house.theme["blue"])
        self._moves_drawn = 0
        self.marking = Marking(
            score,
            practice.wish.expected,
            self._tone,
            house.settings.letters,
            lambda at: [one.rect for one in ribbons.of(at)],
            practice.wish.hands,
        )
        settled = practice.settled
        if settled is None:
            whole = practice.session.whole if practice.marks else None
            pairs = zip(practice.marks, practice.presses, strict=True)
            said = [(whole.as_told(mark), press) for mark, press in pairs if whole and not whole.is_of_all(mark)]
        else:
            told = of_notes(practice.session.written, practice.presses, settled)
            said = [(practice.whole(mark), press) for mark, press in told]
        for mark, press in said:
            self.marking.add(mark, press)
        # A take that has not begun is not made for its marks: re-keying shows the page first.
        moves = settled.moves if settled is not None else practice.session.moves if practice.presses else ()
        self._draw_moves(moves)
        if settled is not None:
            for note in practice.whole_missed(settled):
                self.marking.missed(note)

    def mark(self, mark: Mark, press: Press) -> None:
        """Draw what was just said of a press, and where the player has gone."""
        session = self._practice.session
        if not session.whole.is_of_all(mark):
            self.marking.add(session.whole.as_told(mark), press)
        self._draw_moves(session.moves)

    def in_tone(self, colour: str) -> bool:
        """Whether they are drawn in that colour."""
        return self._tone == colour

    def _draw_moves(self, moves: Sequence[Move]) -> None:
        for move in self._practice.whole_moves(moves[self._moves_drawn :]):
            self.marking.move(move)
        self._moves_drawn = len(moves)
