"""What one take adds to the counts that figures are read from.

Counts are kept by week, target key, facet and value, so that ten years of playing are read from a small table. The
facets:

``degree``    the degree of the note meant (``4``, ``♯4``; ``♭7`` against natural minor is written as it is)
``interval``  the melodic step into the note, from the note before it in the same hand and voice (``+m3``)
``hand``      ``right`` or ``left``
``cause``     the code of the final mark, ``missed`` included
``distance``  fifths between the written and the target key, ``0`` to ``6``
``habit``     slips of one kind on one degree: ``4|signature|+1`` is degree 4, key signature forgotten, a semitone high

For each there are four numbers: ``n`` notes asked or presses, ``right`` of them right, and of those that could be
timed (``timed``) the sum of ``late``: the natural logarithm of how much longer the way to this note took than the
pulse of the take gives it. ``exp(late / timed)`` is then a factor: 1.3 = thirty in a hundred more time.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from statistics import median

from trainer.following.marks import MISSED, RIGHT, Mark, Settled
from trainer.listening.press import Press
from trainer.music.keys import TWENTY_FOUR, Key
from trainer.music.piece import Note, Piece
from trainer.music.solfege import degree_label

# A wait this many times the pulse is a stop, not a slow note; it would drown the rest (our choice).
LONGEST_LATE = 8.0
_NAMES = {(key.mode, key.signature % 12): key.short for key in TWENTY_FOUR}
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
        Music got through, rightly or not: quarter notes from each moment answered to the next, the furthest left out.
    pace : float or None
        Those quarters a minute of playing, stops and restarts included; None when too little was played.
    """

    counts: dict[tuple[str, str], Count] = field(default_factory=dict)
    quarters: float = 0.0
    pace: float | None = None


def canonical(key: Key) -> str:
    """One name for each of the twenty-four keys of the piano, as on the circle of fifths.

    >>> canonical(Key.parse("Gb")), canonical(Key.parse("d#")), canonical(Key.parse("Db"))
    ('F#', 'eb', 'Db')
    """
    return _NAMES[key.mode, key.signature % 12]


class PieceLabels:
    """Degree and arriving interval of every note of a piece, worked out once a piece."""

    def __init__(self, piece: Piece) -> None:
        self.piece = piece
        keys = [piece.key] if len(piece.keys) == 1 else None
        self.degrees = [degree_label(n.pitch, keys[0] if keys else piece.key_at(n.onset)) for n in piece.notes]
        self.intervals = _intervals(piece.notes)
        self.onsets = [float(note.onset) for note in piece.notes]
        self.moment_onsets = [float(moment.onset) for moment in piece.moments]


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


def facts(labels: PieceLabels, written: Key, target: Key, presses: Sequence[Press], settled: Settled) -> TakeFacts:
    """Count one settled take.

    Parameters
    ----------
    presses : sequence of Press
        One for each of ``settled.marks``.
    """
    counts: dict[tuple[str, str], Count] = defaultdict(Count)
    notes = labels.piece.notes
    distance = str(written.fifths_away(target))
    late = _lateness(labels, presses, settled.marks)

    def add(facet: str, value: str, right: bool, lateness: float | None) -> None:
        if not value:
            return
        count = counts[facet, value]
        count.n += 1
        count.right += right
        if lateness is not None:
            count.timed += 1
            count.late += lateness

    for at, mark in enumerate(settled.marks):
        right = mark.cause == RIGHT
        add("cause", mark.cause, right, late[at])
        if mark.note is None:
            continue
        degree = labels.degrees[mark.note]
        add("degree", degree, right, late[at])
        add("interval", labels.intervals[mark.note], right, late[at])
        add("hand", notes[mark.note].hand, right, late[at])
        add("distance", distance, right, late[at])
        if not right:
            add("habit", f"{degree}|{mark.cause}|{mark.offset:+d}", False, None)
    for missed in settled.missed:
        for facet, value in (
            ("cause", MISSED),
            ("degree", labels.degrees[missed]),
            ("interval", labels.intervals[missed]),
            ("hand", notes[missed].hand),
            ("distance", distance),
            ("habit", f"{labels.degrees[missed]}|{MISSED}|+0"),
        ):
            add(facet, value, False, None)
    quarters, pace = _pace(labels, presses, settled.marks)
    return TakeFacts(dict(counts), quarters, pace)


def _lateness(labels: PieceLabels, presses: Sequence[Press], marks: Sequence[Mark]) -> list[float | None]:
    """For each press, log of the time to it over what the take's own pulse gives; None where that says nothing."""
    onsets, notes = labels.onsets, labels.piece.notes
    ways: list[tuple[int, float]] = []
    last_at, last_onset = 0.0, math.nan
    for at, mark in enumerate(marks):
        if mark.cause != RIGHT or mark.note is None or notes[mark.note].optional:
            continue
        onset = onsets[mark.note]
        if onset == last_onset:
            continue
        span, time = onset - last_onset, presses[at].at - last_at
        if span > 0 and time > 0:
            ways.append((at, time / span))
        last_at, last_onset = presses[at].at, onset
    found: list[float | None] = [None] * len(marks)
    if len(ways) >= 3:
        usual = median(way for _, way in ways)
        for at, way in ways:
            found[at] = math.log(min(max(way / usual, 1 / LONGEST_LATE), LONGEST_LATE))
    return found


def _pace(labels: PieceLabels, presses: Sequence[Press], marks: Sequence[Mark]) -> tuple[float, float | None]:
    moment_of = labels.piece.moment_of
    answered = sorted({moment_of[mark.note] for mark in marks if mark.note is not None})
    onsets = labels.moment_onsets
    quarters = sum(onsets[at + 1] - onsets[at] for at in answered[:-1] if at + 1 < len(onsets))
    seconds = presses[-1].at - presses[0].at if presses else 0.0
    return quarters, 60 * quarters / seconds if seconds > 0 and quarters > 0 else None
