"""A take begun by playing on after the end of another: what is no playing of the piece leaves that one where it was."""

from __future__ import annotations

from trainer.following.outside import is_other_music
from trainer.window.practice import FEWEST, Practice


class PlayedOn(Practice):
    """The same wish once more, nobody having asked for it.

    Parameters
    ----------
    before : Practice
        The take that had come to its end.

    Attributes
    ----------
    before : Practice or None
        None once another take is asked for.
    """

    def __init__(self, before: Practice) -> None:
        super().__init__(before.wish, before.minor, before.make_record, before.compass)
        self.pedals = before.pedals
        self.before: Practice | None = before

    @property
    def stray(self) -> bool:
        """Whether it will not be kept: a few keys, or other music, after the end of a take."""
        return super().stray or self._is_other_music

    @property
    def _is_other_music(self) -> bool:
        if self.before is None or self.settled is not None or not self.presses:
            return False
        return is_other_music(self.session.written, self.session.so_far())

    def again(self) -> None:
        super().again()
        self.before = None


def why_stray(practice: Practice) -> str:
    """Why what was played is not kept, by its word in the strings."""
    return "stand.strange" if len(practice.presses) >= FEWEST else "stand.stray"
