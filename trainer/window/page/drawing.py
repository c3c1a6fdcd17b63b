"""The ink of the systems that are not drawn yet: asked for a few at a time, what is to be seen next first.

So a page of thirty systems is there when its first ones are, and the others come while they are played.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from trainer.window.workroom import jobs
from trainer.window.workroom.inking import Ink
from trainer.window.workroom.workroom import told

if TYPE_CHECKING:
    from trainer.window.house.house import House
    from trainer.window.page.music import Score

# Systems drawn by one job: each takes some 100 ms, and whoever skips waits for one job at most.
_AT_ONCE = 2


class Drawing:
    """Draws what is missing of a score.

    Parameters
    ----------
    house : House
    score : Score
    place : str
        What on the screen it is for: of two that wait for the same place only the newer is drawn.
    near : callable
        The index of the system that is looked at; None when the score is not wanted any more.
    come : callable
        Called with the indices of the systems whose ink has come.
    """

    def __init__(
        self,
        house: House,
        score: Score,
        place: str,
        near: Callable[[], int | None],
        come: Callable[[list[int]], None],
    ) -> None:
        self._house = house
        self._score = score
        self._place = place
        self._near = near
        self._come = come
        self._missing = {at for at, system in enumerate(score.systems) if system.ink is None}
        self._asked = False

    def go_on(self) -> None:
        """Ask for what comes next; once begun it goes on by itself."""
        while self._missing and not self._asked:
            near = self._near()
            if near is None:
                return
            # It and the next, the one before it, on to the end, and then what lies before, backwards.
            self._ask(sorted(self._missing, key=lambda at: (at < near - 1, abs(2 * (at - near) - 1)))[:_AT_ONCE])

    def _ask(self, these: list[int]) -> None:
        def done(ink: list[Ink]) -> None:
            for at, one in zip(these, ink, strict=True):
                self._score.systems[at].ink = one
            self._asked = False
            self._missing.difference_update(these)
            self._come(these)
            self.go_on()

        def failed(trouble: Exception) -> None:
            self._missing.clear()
            self._house.say(told(trouble, "stand.not-engraved"))

        self._asked = True
        systems = [self._score.engraved.systems[at] for at in these]
        self._house.workroom.ask(jobs.drawn, systems, then=done, failed=failed, place=self._place)
