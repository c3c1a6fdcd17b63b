"""A settled take turned on its side, as `trainer.journal.tally` counts it: one array a property."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trainer.following.marks import Settled
from trainer.listening.press import Press

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

NO_NOTE = -1


@dataclass(frozen=True, slots=True)
class Columns:
    """Presses that count and their final marks.

    Parameters
    ----------
    times : array (presses,)
        Seconds.
    notes : array (presses,)
        Index of the note each press was meant for, `NO_NOTE` for none.
    causes : sequence of str
    offsets : array (presses,)
        Semitones from the expected pitch.
    missed : sequence of int
        Notes nobody played.
    elsewhere : bool
        All of it lay in another octave or key than asked for: its slips are one, and say nothing of any note.
    """

    times: NDArray[np.float64]
    notes: NDArray[np.int64]
    causes: Sequence[str]
    offsets: NDArray[np.int64]
    missed: Sequence[int]
    elsewhere: bool = False

    def __post_init__(self) -> None:
        if not len(self.times) == len(self.notes) == len(self.causes) == len(self.offsets):
            raise ValueError("presses and marks do not go together")

    def part(self, first: int, end: int) -> Columns:
        """The presses from one to before another."""
        within = slice(first, end)
        return replace(
            self,
            times=self.times[within],
            notes=self.notes[within],
            causes=self.causes[within],
            offsets=self.offsets[within],
        )


def columns_of(presses: Sequence[Press], settled: Settled) -> Columns:
    """The columns of a take that has just been settled."""
    import numpy as np

    marks = settled.counted
    return Columns(
        np.array([press.at for press in presses[settled.within]], float),
        np.array([NO_NOTE if mark.note is None else mark.note for mark in marks], np.int64),
        [mark.cause for mark in marks],
        np.array([mark.offset for mark in marks], np.int64),
        settled.missed,
        settled.shift != 0,
    )
