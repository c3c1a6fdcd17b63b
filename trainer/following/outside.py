"""Keys that are hardly of the piece: before it is begun in earnest, or after its end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trainer.following.ground import Ground
from trainer.following.marks import EXTRA, RIGHT, WENT_BACK, Mark, Move, Settled
from trainer.following.story import AGAIN, HIT, NOTHING, Step
from trainer.following.stretches import stretches
from trainer.listening.press import Press
from trainer.music.piece import Piece

# Keys after the end that are told as other music, of which this share or more is not the piece's own, and a run of
# keys at one interval that is the piece all the same, elsewhere (ours). Among as few the piece begins, or it does not.
_FEW, _STRANGE, _STRANGE_ELSEWHERE, _RUN = 4, 0.5, 0.4, 5
# The same share of a take that was asked for: of learners who miss every other note none comes near it, of scales,
# chords and other tunes played instead of the piece four in five go beyond it (tuned).
_NOTHING = 0.75
# From so many presses on a take tells whether it is the piece (ours).
TELLING = 8
_STRANGE_ANYWHERE = 0.25  # the share where it lies elsewhere and does not begin with the first notes (ours)
# Seconds within which keys are one chord, rolled or not (ours).
CHORD_S = 0.4
# Seconds after the last note in which a key was struck with it (ours).
_WITH_S = 0.25
# Slips of a false start, times the take is longer, and its own slips at the most (ours).
_HARDLY, _LONGER, _WELL = 0.4, 2, 0.2

# Who finds the key before the piece strikes so many keys at most, all at once within so many seconds or one by one, and
# then rests for so many seconds, and for so many times the longest wait between them (ours).
_TO_FIND, _AT_ONCE_S, _REST_S, _REST = 8, 0.2, 0.7, 1.5


def finding_the_key(ground: Ground, presses: Sequence[Press], steps: Sequence[Step]) -> int:
    """How many of the first presses are the tonic chord, struck or broken to have the key in the ear, before all notes
    asked for first are played; 0 where they may be the piece, which then was begun twice, or only paused.
    """
    begins = _begins(ground)
    key = ground.expected.key
    chord = {key.degree(degree).midi % 12 for degree in (1, 3, 5)}
    times = [press.at for press in presses[: _TO_FIND + 1]]
    longest = 0.0
    for count in range(1, len(times)):
        waited = times[count] - times[count - 1]
        if waited >= max(_REST_S, _REST * longest):
            break
        longest = max(longest, waited)
    else:
        return 0
    struck = {press.pitch % 12 for press in presses[:count]}
    if not struck <= chord or len(struck) < 2:
        return 0
    after = (step for step in steps[count:] if presses[step.press].at <= times[count] + CHORD_S)
    played_first = {step.note for step in after if step.kind in (HIT, AGAIN)}
    if not {note for note in ground.own[begins] if ground.needed[note]} <= played_first:
        return 0
    first = steps[:count]
    played = all(step.kind == HIT and not step.shift for step in first)
    # Struck at once they are no notes of several moments, nor of one in the middle.
    at_once = times[count - 1] - times[0] <= _AT_ONCE_S and {step.place for step in first} != {begins}
    return count if at_once or not played else 0


def _begins(ground: Ground) -> int:
    """The first moment in which a note is asked for."""
    return next((ground.moment[note] for note, asked in enumerate(ground.needed) if asked), 0)


def begun_after(ground: Ground, steps: Sequence[Step], count: int) -> list[Step]:
    """The same story whose first presses are of no note; the first notes are struck for the first time then."""
    begins = _begins(ground)
    told: list[Step] = []
    for at, step in enumerate(steps):
        first = step.note >= 0 and ground.moment[step.note] == begins
        if at < count:
            step = step._replace(note=-1, kind=NOTHING, shift=0, jumped=False)
        elif at == count:
            step = step._replace(jumped=False)
        if at >= count and first and step.kind == AGAIN and all(one.note != step.note for one in told):
            step = step._replace(kind=HIT)
        told.append(step._replace(before=told[-1] if told else None))
    return told


def after_the_end(
    ground: Ground, presses: Sequence[Press], marks: Sequence[Mark], moves: Sequence[Move], runs: Sequence[int]
) -> int | None:
    """Index of the first mark that is no more of the piece, which had come to its end; None when all are.

    The end is the last moment in which a hand asked for has a note. A single chord is no beginning anew, whatever keys
    of the first bar are in it.

    Parameters
    ----------
    runs : sequence of int
        For each press the length of the run at one interval it stands in.
    """
    needed = [note for note, asked in enumerate(ground.needed) if asked]
    if not needed:
        return None
    end = ground.moment[needed[-1]]
    due: set[int | None] = {note for note in needed if ground.moment[note] == end}
    for at, mark in enumerate(marks):
        if mark.cause == RIGHT:
            due.discard(mark.note)
        if due:
            continue
        rest = marks[at + 1 :]
        if not rest:
            return None
        begun, ended = (presses[rest[which].press].at for which in (0, -1))
        chord = ended - begun <= CHORD_S and any(move.at >= begun for move in moves)
        strange = sum(one.cause != RIGHT and runs[one.press] < _RUN for one in rest)
        return at + 1 if chord or (len(rest) >= _FEW and strange >= _STRANGE * len(rest)) else None
    return None


def without(settled: Settled, presses: Sequence[Press], first: int | None) -> Settled:
    """The verdicts with what came from a mark on told as keys of no note, and none of its moves."""
    if first is None:
        return settled
    ended = presses[settled.marks[first].press].at
    others = tuple(Mark(mark.press, None, EXTRA) for mark in settled.marks[first:])
    moves: tuple[Move, ...] = tuple(move for move in settled.moves if move.at < ended)
    return replace(settled, marks=settled.marks[:first] + others, moves=moves)


def bounded(piece: Piece, presses: Sequence[Press], settled: Settled, found: int = 0) -> Settled:
    """The verdicts with where the piece begins and ends among them, when not everything is of it.

    `found` is how many presses found the key before it.
    """
    begun, after = false_start(piece, presses, settled), keys_after(piece, presses, settled)
    first, end = begun[1] if begun is not None else found, len(settled.marks) - len(after)
    return replace(settled, span=(first, end)) if end - first < len(settled.marks) else settled


def keys_before(settled: Settled) -> range:
    """Indices of the marks before the piece is begun where they are keys of no note, as those that found the key."""
    first = settled.span[0] if settled.span is not None else 0
    return range(first) if all(mark.cause == EXTRA for mark in settled.marks[:first]) else range(0)


def keys_after(piece: Piece, presses: Sequence[Press], settled: Settled) -> range:
    """Indices of the marks after the end that are keys of no note; empty when the end was not reached.

    The end is the last note of the piece, or of the hand that played where the other never did.
    """
    end = len(settled.marks)
    while end and settled.marks[end - 1].cause == EXTRA:
        end -= 1
    if not end:
        return range(0)
    last = settled.marks[end - 1]
    if last.note is None or last.note < _ends_with(piece, settled):
        return range(0)
    struck = presses[last.press].at
    while end < len(settled.marks) and presses[settled.marks[end].press].at < struck + _WITH_S:
        end += 1
    return range(end, len(settled.marks))


def _ends_with(piece: Piece, settled: Settled) -> int:
    """Index of the first note of the last moment in which a hand that played has a note."""
    played = {piece.notes[mark.note].hand for mark in settled.marks if mark.note is not None and mark.cause == RIGHT}
    return next((at.notes[0] for at in reversed(piece.moments) if {piece.notes[n].hand for n in at.notes} & played), 0)


def is_other_music(piece: Piece, settled: Settled, asked_for: bool = False) -> bool:
    """Whether a take is hardly of the piece: neither begun with its first notes nor, for the most part, its keys.

    Of one that was `asked_for`: whether it has next to nothing of the piece.

    What lay elsewhere at one interval is the piece all the same. Another key is easily found for anything, and a place
    in the middle the more easily, so that more of a take that nobody asked for has to agree.
    """
    begun = any(
        mark.note is not None and piece.moment_of[mark.note] == 0 and (mark.cause == RIGHT or settled.is_of_all(mark))
        for mark in settled.marks[:_FEW]
    )
    if settled.shift:
        away = sum(not settled.is_of_all(mark) for mark in settled.marks)
        least = _STRANGE_ELSEWHERE if begun else _STRANGE_ANYWHERE
        return away >= (_NOTHING if asked_for else least) * len(settled.marks)
    if begun:
        return False
    elsewhere = {press for run in stretches(piece, settled) for press in run.presses}
    strange = sum(mark.cause != RIGHT and mark.press not in elsewhere for mark in settled.marks)
    return strange >= (_NOTHING if asked_for else _STRANGE) * len(settled.marks)


def false_start(piece: Piece, presses: Sequence[Press], settled: Settled) -> tuple[Move, int] | None:
    """The going back to the beginning after something that was hardly the piece, and the marks before it.

    A scale to warm up, a first try that went wrong: what came after it, far longer and far better, is the take. A first
    try that lay in another key is no such thing, for it tells why it was given up.
    """
    back = next((move for move in settled.moves if move.kind == WENT_BACK), None)
    if back is None or piece.moment_of[back.goal] != 0:
        return None
    before = sum(presses[mark.press].at < back.at for mark in settled.marks)
    first, rest = settled.marks[:before], settled.marks[before:]
    slips, later = (sum(mark.cause != RIGHT for mark in part) for part in (first, rest))
    hardly = before >= _FEW and slips >= _HARDLY * before
    well = len(rest) >= _LONGER * before and later <= _WELL * len(rest)
    if not hardly or not well or any(run.presses[0] < before for run in stretches(piece, settled)):
        return None
    return back, before
