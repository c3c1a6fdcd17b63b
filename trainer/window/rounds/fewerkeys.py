"""A piano of fewer keys than Setup knows of: noticed after several takes, said once, never taken for granted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.hands.keyboard import KEYBOARDS
from trainer.window.stand.stand import Stand
from trainer.window.strings import say

if TYPE_CHECKING:
    from trainer.window.copy.finished import Finished
    from trainer.window.house.house import House

_SMALL = KEYBOARDS[61]  # C2 to C7
# Takes that leave out all that is asked for beyond these keys, and how much that is, before it is said (ours).
_TAKES, _NOTES = 3, 6


class FewerKeys:
    """Whether notes beyond a small piano are never struck, though the music asks for them."""

    def __init__(self, house: House) -> None:
        self._house = house
        # Of each take that left them out how many, since one was struck.
        self._left_out: list[int] = []

    def took(self, take: Finished) -> None:
        """A take has come to its end. One that was typed, or lay elsewhere as a whole, says nothing of the piano."""
        house = self._house
        if house.screen_of(Stand).typing or house.settings.piano_transposes or take.settled.shift:
            return
        if any(_is_beyond(press.pitch) for press in take.presses):
            self._left_out = []
            return
        left_out = sum(_is_beyond(take.expected.notes[note].midi) for note in take.settled.missed)
        self._left_out += [left_out] if left_out else []

    def words(self) -> str:
        """What to say now, and never again; empty when there is nothing."""
        settings = self._house.settings
        if settings.keys <= _SMALL.keys or settings.keys_told:
            return ""
        if len(self._left_out) < _TAKES or sum(self._left_out) < _NOTES:
            return ""
        self._house.change(keys_told=True)
        return say("stand.fewer-keys")


def _is_beyond(pitch: int) -> bool:
    return not _SMALL.lowest <= pitch <= _SMALL.highest
