"""Again, next and stop from the piano itself: the lowest and the highest key, and the soft pedal.

Never mistaken for playing: a key steers only where the piece does not come near it, when it is struck alone, after a
pause. While a key steers, the session does not hear it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from trainer.listening.press import Event, Pedal, Press, Release
from trainer.music.piece import Piece

AGAIN = "again"
NEXT = "next"
STOP = "stop"
# A key steers only this many semitones beyond the notes of the piece, so that no displaced hand gets there.
APART = 7
# And only after this much silence.
PAUSE_S = 0.35
# A string rings no longer: a key that seems down so long after the last stroke was let go, and that was lost (ours).
RINGS_S = 12.0
# Half of the soft pedal's way is down, and it is up again only below a quarter: one that tells every step of its way
# trembles about the half as it goes down slowly (ours).
_PEDAL_DOWN, _PEDAL_UP = 64, 32


@dataclass
class Steering:
    """Listens beside the session.

    Parameters
    ----------
    lowest, highest : int
        The outermost keys of the player's piano.
    expected : Piece or None
        What is being played.
    """

    lowest: int
    highest: int
    expected: Piece | None = None
    _down: set[int] = field(default_factory=set)
    _silent: set[int] = field(default_factory=set)
    _last: float = float("-inf")
    _pedal: bool = False

    @property
    def keys(self) -> dict[int, str]:
        """The keys that steer now."""
        found = {self.lowest: AGAIN, self.highest: NEXT}
        if self.expected is not None and self.expected.notes:
            pitches = [note.midi for note in self.expected.notes]
            if min(pitches) - self.lowest < APART:
                del found[self.lowest]
            if self.highest - max(pitches) < APART:
                del found[self.highest]
        return found

    def hear(self, event: Event) -> tuple[str, bool]:
        """What an event asks for (empty for nothing), and whether the session should hear it."""
        if isinstance(event, Press):
            alone = self._is_quiet(event.at)
            self._down.add(event.pitch)
            wish = self.keys.get(event.pitch, "") if alone else ""
            if wish:
                self._silent.add(event.pitch)
                return wish, False
            self._last = event.at
            return "", True
        if isinstance(event, Release):
            self._down.discard(event.pitch)
            if event.pitch in self._silent:
                self._silent.discard(event.pitch)
                return "", False
            return "", True
        return self._foot(event)

    def _foot(self, event: Pedal) -> tuple[str, bool]:
        if event.pedal != "soft":
            return "", True
        down = event.value >= (_PEDAL_UP if self._pedal else _PEDAL_DOWN)
        struck = down and not self._pedal
        self._pedal = down
        # A pedal pressed while keys sound belongs to the music.
        return (STOP, False) if struck and self._is_quiet(event.at) else ("", True)

    def _is_quiet(self, at: float) -> bool:
        if at - self._last >= RINGS_S:
            self._down.clear()
        return not self._down and at - self._last >= PAUSE_S
