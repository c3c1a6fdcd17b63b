"""What one take adds to the counts that figures are read from.

Counts are kept by week, target key, facet and value, so that ten years of playing are read from a small table. The
facets:

``degree``    the degree of the note meant (``4``, ``♯4``; ``♭7`` against natural minor is written as it is)
``interval``  the melodic step into the note, from the note before it in the same hand and voice (``+m3``)
``hand``      ``right`` or ``left``
``cause``     the code of the final mark, ``missed`` included
``distance``  fifths between the written and the target key, ``0`` to ``6``
``habit``     slips of one kind on one degree: ``4|signature|+1`` is degree 4, key signature forgotten, a semitone high

A take that lay altogether in another octave or key is counted nowhere here: it is one slip, not one a note.

For each there are four numbers: ``n`` notes asked or presses, ``right`` of them right, and of those that could be
timed (``timed``) the sum of ``late``: the natural logarithm of how much longer the way to this note took than the
pulse of the take gives it. ``exp(late / timed)`` is then a factor: 1.3 = thirty in a hundred more time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from trainer.music.keys import TWENTY_FOUR, Key
from trainer.music.piece import RIGHT, Note, Piece
from trainer.music.solfege import degree_label

# A wait this many times the pulse is a stop, not a slow note; it would drown the rest (our choice).
LONGEST_LATE = 8.0
_NAMES = {(key.mode, key.tonic.pitch_class): key.short for key in TWENTY_FOUR}
# Each facet and what its values look like; a row of another form is damaged.
_DEGREE = "[♯♭]*[1-7]"
FACETS = {
    "degree": _DEGREE,
    "interval": r"[+-][PMmAd]+\d+",
    "hand": "right|left",
    "cause": "[a-z-]+",
    "distance": "[0-6]",
    "habit": rf"{_DEGREE}\|[a-z-]+\|[+-]\d+",
}


@dataclass(slots=True)
class Count:
    """The four numbers of a facet's value."""

    n: int = 0
    right: int = 0
    timed: int = 0
    late: float = 0.0


@dataclass(frozen=True)
class TakeFacts:
    """What is counted of a take.

    Parameters
    ----------
    counts : dict of (facet, value) to Count
    quarters : float
        Music got through, rightly or not: quarter notes from each moment answered to the next of the hands that play,
        the furthest left out.
    pace : float or None
        Those quarters a minute of playing, stops and restarts included; None when too little was played.
    """

    counts: dict[tuple[str, str], Count] = field(default_factory=dict)
    quarters: float = 0.0
    pace: float | None = None


def canonical(key: Key) -> str:
    """One name for each of the twenty-four keys of the piano, as on the circle of fifths; a church mode counts as the
    major or minor key on its tonic.

    >>> canonical(Key.parse("Gb")), canonical(Key.parse("d#")), canonical(Key.parse("Db"))
    ('F#', 'eb', 'Db')
    >>> canonical(Key.parse("Cb lydian"))
    'B'
    """
    return _NAMES[key.mode, key.tonic.pitch_class]


class PieceLabels:
    """Degree and arriving interval of every note of a piece, worked out once a piece."""

    def __init__(self, piece: Piece) -> None:
        import numpy as np

        self.piece = piece
        keys = [piece.key] if len(piece.keys) == 1 else None
        self.degrees = [degree_label(n.pitch, keys[0] if keys else piece.key_at(n.onset)) for n in piece.notes]
        self.intervals = _intervals(piece.notes)
        self.hands = [note.hand for note in piece.notes]
        self.hand_of = np.array([hand == RIGHT for hand in self.hands])
        # NaN: a note that may be left out says nothing about time.
        self.asked_onsets = np.array([np.nan if note.optional else float(note.onset) for note in piece.notes])
        self.moment_of = np.array(piece.moment_of, np.int64)
        self.moment_onsets = np.array([float(moment.onset) for moment in piece.moments])

    def facet(self, name: str) -> list[str]:
        """The value of ``degree``, ``interval`` or ``hand`` of every note."""
        return {"degree": self.degrees, "interval": self.intervals, "hand": self.hands}[name]


def _intervals(notes: Sequence[Note]) -> list[str]:
    before: dict[tuple[str, int], Note] = {}
    found = []
    for note in notes:
        line = note.hand, note.voice
        last = before.get(line)
        # Notes of one chord have no way between them.
        found.append((note.pitch - last.pitch).short if last is not None and last.onset < note.onset else "")
        before[line] = note
    return found
