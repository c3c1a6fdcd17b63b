"""One note of the page is framed: how the frame goes on, back, to the other hand, and to where is clicked or played."""

from __future__ import annotations

from bisect import bisect_right
from fractions import Fraction
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.hands.own import struck_together
from trainer.listening.press import Event, Press
from trainer.music.piece import BOTH, LEFT, RIGHT
from trainer.window.page.music import System
from trainer.window.stand.amending import Amending
from trainer.window.wish import Wish

if TYPE_CHECKING:
    from trainer.window.stand.stand import Stand

# Staff spaces from a head within which a click means it.
_NEAR = 2.2


class Framing(Amending):
    """What is put right of one note at a time."""

    def __init__(self, stand: Stand) -> None:
        super().__init__(stand)
        self.note = 0
        # What each hand strikes, worked out once.
        self._struck: dict[str, list[list[int]]] = {}
        # The systems in sight with their corners, and the room they stand in.
        self._seen: dict[int, tuple[System, tuple[int, int]]] = {}
        self._room = Rect(0, 0, 0, 0)

    def leave(self) -> None:
        super().leave()
        self._seen = {}

    def _moments(self, hand: str) -> list[list[int]]:
        """The notes of a hand that is asked for, in order: those struck together, from low to high."""
        if hand in self._struck or self._wish.hands not in (BOTH, hand):
            return self._struck.get(hand, [])
        notes = self._piece.notes
        found = struck_together(self._piece, (i for i, note in enumerate(notes) if note.hand == hand))
        return self._struck.setdefault(hand, [sorted(one, key=lambda i: notes[i].midi) for one in found])

    @property
    def _wish(self) -> Wish:
        assert self._stand.practice is not None
        return self._stand.practice.wish

    @property
    def _hand(self) -> str:
        return self._piece.notes[self.note].hand

    @property
    def onset(self) -> Fraction:
        return self._piece.notes[self.note].onset

    def _go(self, note: int) -> None:
        self.note = note
        self._stand.house.notice = None

    def _outer(self, moment: list[int]) -> int:
        """What is framed of a chord first: its outer note, which a page names when it names one."""
        return moment[-1 if self._piece.notes[moment[0]].hand == RIGHT else 0]

    def _to(self, hand: str, onset: Fraction) -> None:
        """To what a hand strikes at an onset, or next after it."""
        moments = self._moments(hand)
        at = next((at for at, one in enumerate(moments) if self._piece.notes[one[0]].onset >= onset), len(moments) - 1)
        self._go(self._outer(moments[at]))

    def step(self, by: int) -> None:
        """To the note the hand strikes next, or before; along a chord's edge."""
        moments = self._moments(self._hand)
        at = next(at for at, one in enumerate(moments) if self.note in one)
        to = moments[max(0, min(len(moments) - 1, at + by))]
        if to is not moments[at]:
            self._go(self._outer(to))

    def bar(self, by: int) -> None:
        """To the hand's first note of the next bar that has one, or of the one before."""
        piece, moments = self._piece, self._moments(self._hand)
        bars = [piece.bar_index(piece.notes[one[0]].onset) for one in moments]
        here = piece.bar_index(self.onset)
        to = [bar for bar in bars if (bar > here if by > 0 else bar < here)]
        if to:
            self._go(self._outer(moments[bars.index(min(to) if by > 0 else max(to))]))

    def up(self, by: int) -> None:
        """Through the notes of both hands struck together, from low to high; past them to the other hand."""
        together = [moment for hand in (LEFT, RIGHT) for moment in self._moments(hand) if self._is_here(moment)]
        order = sorted((i for moment in together for i in moment), key=lambda i: self._piece.notes[i].midi)
        at = order.index(self.note) + by
        if 0 <= at < len(order):
            self._go(order[at])
        elif self._hand == (LEFT if by > 0 else RIGHT):
            self.other()

    def _is_here(self, moment: list[int]) -> bool:
        first, here = self._piece.notes[moment[0]], self._piece.notes[self.note]
        return self.note in moment or (first.onset == here.onset and not first.grace and not here.grace)

    def other(self) -> None:
        """To the other hand, at the same place."""
        hand = LEFT if self._hand == RIGHT else RIGHT
        moments = self._moments(hand)
        if moments:
            onsets = [self._piece.notes[one[0]].onset for one in moments]
            self._go(self._outer(moments[max(0, bisect_right(onsets, self.onset) - 1)]))

    def played(self, event: Event) -> None:
        """The next note that is played with this key, in the hand that is framed first; else the first one."""
        if not isinstance(event, Press):
            return
        wish = self._wish
        found = [i for i, one in enumerate(wish.expected.notes) if one.midi == event.pitch and i != self.note]
        found = [i for i in found if wish.hands in (BOTH, self._piece.notes[i].hand)]
        if found:
            notes = self._piece.notes
            self._go(
                min(found, key=lambda i: (notes[i].onset < self.onset, notes[i].onset, notes[i].hand != self._hand))
            )

    def clicked(self, point: tuple[int, int]) -> bool:
        """A click on a head frames its note."""
        best, least = None, 0.0
        for system, corner in self._seen.values():
            for note, (x, y) in system.heads.items():
                away = ((point[0] - corner[0] - x) ** 2 + (point[1] - corner[1] - y) ** 2) ** 0.5 / system.space
                if away < _NEAR and (best is None or away < least) and self._moments(self._piece.notes[note].hand):
                    best, least = note, away
        if best is not None:
            self._go(best)
        return best is not None
