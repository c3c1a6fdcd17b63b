"""Slips that are one thing: a stretch that lay elsewhere, notes gone past in a skip, keys doubled at the octave.

A teacher says each of these once, and where it began and ended, not note by note.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from trainer.following.marks import (
    AS_WRITTEN,
    BRUSHED,
    DISPLACED,
    EXTRA,
    REPEATED,
    RIGHT,
    SKIPPED,
    STEP,
    Mark,
    Move,
    Settled,
)
from trainer.following.model import MODEL
from trainer.listening.press import Press
from trainer.music.piece import BOTH, Piece

# Notes of one hand that lie at one interval and are told as one (ours).
LONG = 5
_STEP = 2  # semitones of a step, at the most
_NEAR = 8  # presses before and after one that may have been struck together with it


@dataclass(frozen=True, slots=True)
class Stretch:
    """Notes that lay one interval off, in one go.

    Parameters
    ----------
    cause : str
        ``as-written``, ``displaced``, or ``step``: a hand one key of the scale off, now a tone and now a semitone.
    offset : int
        Semitones from what was asked for (in a take that lay elsewhere, from what was meant there); of steps 1 or -1.
    hand : str
        ``right`` or ``left``, or ``both`` where both lay so at the same time.
    presses, notes : tuple of int
        Indices of the presses, in order, and in `Piece.notes` of the notes they were meant for.
    """

    cause: str
    offset: int
    hand: str
    presses: tuple[int, ...]
    notes: tuple[int, ...]


def stretches(piece: Piece, settled: Settled) -> tuple[Stretch, ...]:
    """The stretches of a take that lay elsewhere, in the order they began. One odd note within does not end one."""
    found: list[Stretch] = []
    for hand in piece.hands:
        found += _of_hand(piece, settled, hand)
    found = [_with_other_hand(piece, settled, one) for one in found]
    found.sort(key=lambda one: one.presses)
    joined: list[Stretch] = []
    # Those alike follow one another once what overlaps is joined, so that only the latest may go on.
    latest: dict[tuple[str, int], int] = {}
    for one in found:
        at = latest.setdefault((one.cause, one.offset), len(joined))
        if at < len(joined) and one.presses[0] <= joined[at].presses[-1]:
            joined[at] = _both(joined[at], one)
        else:
            latest[one.cause, one.offset] = len(joined)
            joined.append(one)
    return tuple(joined)


def _of_hand(piece: Piece, settled: Settled, hand: str) -> Iterator[Stretch]:
    mine = [
        settled.as_told(mark)
        for mark in settled.marks
        if mark.note is not None and mark.cause not in (BRUSHED, REPEATED) and piece.notes[mark.note].hand == hand
    ]
    run: list[Mark] = []
    strange, uneven, whole = 0, False, True
    for mark in [*mine, None]:
        if mark is not None and run and _is_off(settled, mark):
            alike = mark.offset == run[0].offset and not uneven
            # Steps among right notes are misread one by one, and what lay at one interval for long is no row of steps.
            by_steps = (uneven or len(run) < LONG) and whole and _is_next_step(run[-1], mark)
            if alike or by_steps:
                run.append(mark)
                strange, uneven = 0, not alike
                continue
        strange += 1
        if mark is not None and run and strange < 2 and not uneven:
            whole = False
            continue
        cause = STEP if uneven else Counter(one.cause for one in run).most_common(1)[0][0] if run else RIGHT
        if len(run) >= LONG and (uneven or cause in (AS_WRITTEN, DISPLACED)):
            offset = (1 if run[0].offset > 0 else -1) if uneven else run[0].offset
            notes = tuple(one.note for one in run if one.note is not None)
            yield Stretch(cause, offset, hand, tuple(one.press for one in run), notes)
        run = [mark] if mark is not None and _is_off(settled, mark) else []
        strange, uneven, whole = 0, False, True


def _is_off(settled: Settled, mark: Mark) -> bool:
    return mark.cause != RIGHT and mark.offset != 0 and not settled.is_of_all(mark)


def _is_next_step(before: Mark, mark: Mark) -> bool:
    """Whether two slips lie one key of the scale off the same way, the one a tone, the other a semitone or alike."""
    steps = all(one.cause in (STEP, DISPLACED) and abs(one.offset) <= _STEP for one in (before, mark))
    return steps and before.offset * mark.offset > 0


def _with_other_hand(piece: Piece, settled: Settled, one: Stretch) -> Stretch:
    """A stretch of one hand with the few notes the other struck meanwhile, if all of them lay as far off.

    So does the press right before and right after it, where it lay as far off too.
    """
    if one.cause == STEP:
        return one
    first, last = one.presses[0], one.presses[-1]
    others = []
    for mark in settled.marks[max(first - 1, 0) : last + 2]:
        if mark.note is not None and piece.notes[mark.note].hand != one.hand:
            told = settled.as_told(mark)
            if told.offset == one.offset and _is_off(settled, told):
                others.append((mark.press, mark.note))
            elif first < mark.press < last:
                return one
    if not others:
        return one
    presses, notes = (tuple(values) for values in zip(*others, strict=True))
    return _both(one, Stretch(one.cause, one.offset, BOTH, presses, notes))


def _both(one: Stretch, other: Stretch) -> Stretch:
    pairs = sorted({*zip(one.presses, one.notes, strict=True), *zip(other.presses, other.notes, strict=True)})
    hand = one.hand if one.hand == other.hand else BOTH
    return Stretch(one.cause, one.offset, hand, tuple(press for press, _ in pairs), tuple(note for _, note in pairs))


def gone_past(piece: Piece, settled: Settled) -> tuple[tuple[Move, tuple[int, ...]], ...]:
    """Every skip with the notes that were left out by it: those between the place left and the place gone to."""
    moment = piece.moment_of
    return tuple(
        (move, tuple(note for note in settled.missed if moment[move.origin] < moment[note] < moment[move.goal]))
        for move in settled.moves
        if move.kind == SKIPPED
    )


def doubled(presses: Sequence[Press], settled: Settled) -> dict[int, int]:
    """Indices of the presses that answer no note but double, an octave off, a right key struck with them: its note."""
    found = ((mark.press, double_of(presses, settled.marks, at)) for at, mark in enumerate(settled.marks))
    return {press: note for press, note in found if note is not None}


def double_of(presses: Sequence[Press], marks: Sequence[Mark], at: int) -> int | None:
    """The note that the press of the mark at this index doubles, an octave off; None when it doubles none."""
    if marks[at].cause != EXTRA:
        return None
    press = presses[marks[at].press]
    for other in marks[max(at - _NEAR, 0) : at + _NEAR + 1]:
        far = abs(presses[other.press].pitch - press.pitch)
        with_it = abs(presses[other.press].at - press.at) <= MODEL.brush_window
        if other.cause == RIGHT and other.note is not None and far == 12 and with_it:
            return other.note
    return None
