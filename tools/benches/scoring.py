"""How well a take was followed: the marks against the truth of a simulated (or annotated) take."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from tools.learner import Moved, Take, Truth
from trainer.following import marks as m
from trainer.following.diagnosis import fits
from trainer.following.ground import Ground
from trainer.following.marks import Mark, Settled
from trainer.music.piece import Piece

PITCH_RIGHT = (m.RIGHT, m.REPEATED)


@dataclass
class Score:
    """One take.

    Attributes
    ----------
    first, final : float
        F1 of (press, note) pairs of right pitch, first and final verdicts.
    tied : float
        Share of presses meant for a note that are tied to it, wrong pitch or not (final).
    slips, slips_named : int
        True slips, and those whose final cause is the true one.
    plain, plain_named : int
        The same of the slips whose key only one cause but `wrong` would have struck: of any other the key cannot say.
    right, accused : int
        Right presses, and those called slips in the end.
    moves, within3, within6 : int
        True moves, and those after which the first verdicts are right again within three and six presses.
    known3 : int
        True moves after which even the final verdicts are right again within three presses: what can be known at all.
    false_moves : int
        Moves told of a take that has none.
    confusion : Counter of (true cause, told cause)
    """

    first: float
    final: float
    tied: float
    slips: int = 0
    slips_named: int = 0
    plain: int = 0
    plain_named: int = 0
    right: int = 0
    accused: int = 0
    moves: int = 0
    within3: int = 0
    within6: int = 0
    known3: int = 0
    told_moves: int = 0
    false_moves: int = 0
    confusion: Counter[tuple[str, str]] = field(default_factory=Counter)


def f1(found: set[tuple[int, int]], true: set[tuple[int, int]]) -> float:
    """Harmonic mean of precision and recall; 1 when both sets are empty."""
    return 2 * len(found & true) / (len(found) + len(true)) if found or true else 1.0


def keys_of(expected: Piece) -> list[int]:
    """For each note the first note of its moment on the same key: two voices on one key are one press."""
    firsts: dict[tuple[int, int, bool], int] = {}
    return [
        firsts.setdefault((expected.moment_of[i], note.midi, note.grace), i) for i, note in enumerate(expected.notes)
    ]


def pairs(take: Take, expected: Piece, marks: Sequence[Mark], key: Sequence[int]) -> set[tuple[int, int]]:
    """The (press, note) pairs of equal pitch that marks tell."""
    return {
        (mark.press, key[mark.note])
        for mark in marks
        if mark.note is not None and take.presses[mark.press].pitch == expected.notes[mark.note].midi
    }


def true_pairs(take: Take, key: Sequence[int]) -> set[tuple[int, int]]:
    """The (press, note) pairs of equal pitch that are true."""
    return {(i, key[t.note]) for i, t in enumerate(take.truth) if t.note is not None and t.cause in PITCH_RIGHT}


def score(take: Take, ground: Ground, first: Sequence[Mark], settled: Settled) -> Score:
    """All figures of one take."""
    expected = ground.expected
    key = keys_of(expected)
    true = true_pairs(take, key)
    meant = [(i, t.note) for i, t in enumerate(take.truth) if t.note is not None]
    told = [None if mark.note is None else key[mark.note] for mark in settled.marks]
    tied = sum(told[i] == key[note] for i, note in meant)
    result = Score(
        f1(pairs(take, expected, first, key), true),
        f1(pairs(take, expected, settled.marks, key), true),
        tied / len(meant) if meant else 1.0,
    )
    for truth, mark in zip(take.truth, settled.marks, strict=True):
        result.confusion[truth.cause, mark.cause] += 1
        if truth.cause == m.RIGHT:
            result.right += 1
            result.accused += mark.cause != m.RIGHT
        else:
            result.slips += 1
            result.slips_named += mark.cause == truth.cause
            if _plain(ground, truth, take.presses[mark.press].pitch):
                result.plain += 1
                result.plain_named += mark.cause == truth.cause
    for move in take.moves:
        late = _recovered(take, move, first, key)
        if late is not None:
            result.moves += 1
            result.within3 += late <= 3
            result.within6 += late <= 6
            result.known3 += (_recovered(take, move, settled.marks, key) or 0) <= 3
    moves = [move for move in settled.moves if move.kind != m.HESITATED]
    result.told_moves = len(moves)
    result.false_moves = 0 if take.moves else len(moves)
    return result


def _plain(ground: Ground, truth: Truth, pitch: int) -> bool:
    """Whether one cause alone would have struck this key for the note, `wrong` left aside, which fits any."""
    if truth.note is None or pitch == ground.pitch[truth.note]:
        return True
    return len(set(fits(ground, truth.note, pitch)) - {m.WRONG}) < 2


def _recovered(take: Take, move: Moved, first: Sequence[Mark], key: Sequence[int]) -> int | None:
    """Presses after a move until two first verdicts in a row name the true note; None when too few presses follow."""
    after = [i for i in range(move.press, min(move.press + 16, len(take.truth))) if take.truth[i].note is not None]
    if len(after) < 8:
        return None
    told = [first[i].note for i in after]
    true = [take.truth[i].note for i in after]
    hits = [a is not None and b is not None and key[a] == key[b] for a, b in zip(told, true, strict=True)]
    for count in range(len(hits) - 1):
        if hits[count] and hits[count + 1]:
            return count + 1
    return 99
