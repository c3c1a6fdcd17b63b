"""What an output is sent and an input hears again: over a virtual bus to a synthesizer, or from a piano that answers.

It is nobody's playing: it would stop the model at its first note and be marked as a press.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence

from trainer.listening.clock import now

# So long after it is due a note may come back: cable, driver and a busy machine. No hand strikes a key again so soon.
BACK_S = 0.06
# Stamps of two clocks may lie so far apart.
_AHEAD_S = 0.01

Message = tuple[int, ...]


class Returned:
    """The note-ons of one output that may come back, and when they are due."""

    def __init__(self) -> None:
        self._due: dict[Message, list[float]] = {}
        self._lock = threading.Lock()

    def sent(self, messages: Sequence[tuple[float, Message]]) -> None:
        """Note-ons and when they are, or will be, sent."""
        over = now() - BACK_S
        with self._lock:
            # Mostly nothing comes back: what is over is not kept.
            for message in {one for _, one in messages}:
                self._due[message] = [due for due in self._due.get(message, ()) if due >= over]
            for due, message in messages:
                self._due[message].append(due)

    def cancel(self) -> None:
        """What is still to come is not sent after all."""
        moment = now() + _AHEAD_S
        with self._lock:
            for dues in self._due.values():
                dues[:] = [due for due in dues if due <= moment]

    def is_one(self, message: Message, at: float) -> bool:
        """Whether a message that came in is one that was sent; each comes back once."""
        with self._lock:
            dues = self._due.get(message, [])
            dues[:] = [due for due in dues if at <= due + BACK_S]
            found = next((due for due in dues if due - _AHEAD_S <= at), None)
            if found is not None:
                dues.remove(found)
            return found is not None
