"""Where a staff is written an octave nearer than it sounds: under 8va, over 8vb."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

from trainer.music.piece import Bar, Note
from trainer.scores.notation.clefs import clefs_at, ledger_lines

# Ledger lines every note of such a passage has, over the treble clef and under the bass clef, and the farthest at
# least. Pianists read low notes by their ledger lines longer than high ones.
_ALL = {"G": 2, "F": -1}
_FARTHEST = 5
# In quarters; a longer rest ends a passage.
_REST = 2


class Passage(NamedTuple):
    """From where to where a voice is written lower (`down`, 8va) or higher than it sounds."""

    start: Fraction
    end: Fraction
    down: bool
    voice: int


def passages(bars: Sequence[Bar], notes: Iterable[tuple[int, Note]], changes: Mapping[Fraction, str]) -> list[Passage]:
    """Those of one staff, in order.

    Only where the voice has the staff to itself in all its bars: the engraver moves whatever stands there.

    Parameters
    ----------
    notes : iterable of (voice, Note)
        Those that stand on the staff.
    changes : mapping
        The staff's clefs, as `clefs.clef_changes` gives them.
    """
    notes = list(notes)
    steps = [note.pitch.steps for _, note in notes]
    if not steps or (ledger_lines(max(steps), "G") < _FARTHEST and ledger_lines(min(steps), "F") > -_FARTHEST):
        return []
    onsets = [bar.onset for bar in bars]
    voices: dict[int, set[int]] = defaultdict(set)
    chords: dict[Fraction, list[Note]] = defaultdict(list)
    owner: dict[Fraction, int] = {}
    for voice, note in notes:
        last = bisect_left(onsets, note.end) if note.length else bisect_right(onsets, note.onset)
        for bar in range(bisect_right(onsets, note.onset) - 1, last):
            voices[bar].add(voice)
        chords[note.onset].append(note)
        owner[note.onset] = voice
    places = sorted(chords)
    clef = dict(zip(places, clefs_at(changes, places), strict=True))
    runs: list[list[Fraction]] = []
    before = ""
    until = Fraction(0)
    for onset in places:
        bar = bisect_right(onsets, onset) - 1
        far = all(_lies_far(note, clef[onset]) for note in chords[onset])
        side = clef[onset] if len(voices[bar]) == 1 and far else ""
        if side and side == before and onset - until <= _REST and owner[onset] == owner[runs[-1][-1]]:
            runs[-1].append(onset)
        elif side:
            runs.append([onset])
        before, until = side, max(note.end for note in chords[onset])
    following = dict(zip(places, [*places[1:], None], strict=True))
    found = []
    for run in runs:
        members = [note for onset in run for note in chords[onset]]
        end, then = max(note.end for note in members), following[run[-1]]
        alone = all(len(voices[bar]) == 1 for bar in range(bisect_right(onsets, run[0]) - 1, bisect_left(onsets, end)))
        far = any(abs(ledger_lines(note.pitch.steps, clef[note.onset])) >= _FARTHEST for note in members)
        if far and alone and (then is None or end <= then) and end > run[-1]:
            found.append(Passage(run[0], end, clef[run[0]] == "G", owner[run[0]]))
    return found


def _lies_far(note: Note, clef: str) -> bool:
    lines, least = ledger_lines(note.pitch.steps, clef), _ALL[clef]
    return lines >= least if least > 0 else lines <= least
