"""The slips worth a lesson: those that come most often in the newest takes, each spoken of once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

from trainer.following.marks import (
    AS_WRITTEN,
    BRUSHED,
    DISPLACED,
    EXTRA,
    MISSED,
    OCTAVE,
    REPEATED,
    RIGHT,
    Mark,
)
from trainer.following.stretches import gone_past
from trainer.following.words import say, say_missed
from trainer.journal.errors import JournalError
from trainer.journal.store import Journal
from trainer.journal.values import KeptTake, TakeRow
from trainer.music.names import ENGLISH
from trainer.music.piece import Piece
from trainer.music.solfege import LA_BASED
from trainer.music.transpose import Transposition, transposed

# Newest takes read for slips; a week holds fewer.
MOST_TAKES = 60
SLIPS = 3
# Slips that say little about understanding weigh less (ours).
_WEIGHTS = {BRUSHED: 0.3, REPEATED: 0.3, EXTRA: 0.0, MISSED: 0.7}


@dataclass(frozen=True)
class Slip:
    """A slip worth the lesson: where, how often, out of how many takes, and in words.

    `note` is an index into the piece as written; `cause` and `offset` as in the marks. `others` counts the further bars
    with the same slip: the same degree taken for the same other, or a hand that lay as far off.
    """

    piece: Piece
    move: Transposition
    note: int
    cause: str
    offset: int
    times: int
    takes: int
    words: str
    weight: float
    others: int = 0


def slips(
    journal: Journal, rows: Sequence[TakeRow], most: int = SLIPS, minor: str = LA_BASED, letters: str = ENGLISH
) -> list[Slip]:
    """The slips that come most often in the newest takes, at most one in a bar of a piece, costliest first."""
    kept = []
    for row in rows[-MOST_TAKES:]:
        with suppress(JournalError):  # one damaged take must not cost the whole report
            kept.append(journal.take(row.id))
    groups: dict[tuple[str, str], list[KeptTake]] = defaultdict(list)
    for take in kept:
        groups[take.row.piece_key, take.row.target].append(take)
    found = [slip for takes in groups.values() for slip in _counted(takes, minor, letters)]
    found.sort(key=lambda slip: (-slip.weight, slip.note))
    chosen: list[Slip] = []
    places: set[tuple[str, int]] = set()
    bars: dict[tuple[object, ...], set[int]] = defaultdict(set)
    for slip in found:
        bar = slip.piece.bar_index(slip.piece.notes[slip.note].onset)
        if not bars[_kind(slip)] and (slip.piece.title, bar) not in places and len(chosen) < most:
            places.add((slip.piece.title, bar))
            chosen.append(slip)
        bars[_kind(slip)].add(bar)
    return [replace(slip, others=len(bars[_kind(slip)]) - 1) for slip in chosen]


def _kind(slip: Slip) -> tuple[object, ...]:
    """What makes two slips the same one, to be spoken of once."""
    pitch = slip.piece.notes[slip.note].pitch
    which = () if slip.cause in (AS_WRITTEN, DISPLACED, OCTAVE) else (pitch.letter, pitch.alteration)
    # Notes struck again, brushed or left out are each a matter of their place.
    where = (slip.note,) if slip.cause in (REPEATED, BRUSHED, MISSED) else ()
    return slip.piece.title, slip.move.target.name, slip.cause, slip.offset, *which, *where


def _counted(takes: Sequence[KeptTake], minor: str, letters: str) -> list[Slip]:
    """Slips of takes of one piece in one key, by note, cause and distance."""
    piece, move = takes[-1].piece, takes[-1].plan
    expected = transposed(piece, move.interval)
    counts: dict[tuple[int, str, int], int] = defaultdict(int)
    for take in takes:
        assert take.settled is not None
        marks = (take.settled.as_told(mark) for mark in take.settled.counted if not take.settled.is_of_all(mark))
        said = {(mark.note, mark.cause, mark.offset) for mark in marks if mark.note is not None}
        past = {note for _, notes in gone_past(take.piece, take.settled) for note in notes}
        said |= {(note, MISSED, 0) for note in take.settled.missed if note not in past}
        for note, cause, offset in said:
            if note is not None and cause != RIGHT:
                counts[note, cause, offset] += 1
    found = []
    for (note, cause, offset), times in counts.items():
        weight = times * _WEIGHTS.get(cause, 1.0)
        if weight <= 0:
            continue
        if cause == MISSED:
            words = say_missed(note, piece, expected, minor=minor, language=letters)
        else:
            words = say(Mark(0, note, cause, offset=offset), piece, expected, minor=minor, language=letters)
        found.append(Slip(piece, move, note, cause, offset, times, len(takes), words, weight))
    return found
