"""How easily a piece lies in a key: five figures, each to be seen on its own, and their weighted sum."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

from trainer.hands import rules
from trainer.hands.changes import target_fingers
from trainer.hands.fingering import Judge, finger_piece
from trainer.hands.keyboard import is_black
from trainer.hands.places import Place, places
from trainer.hands.position import MEDIUM
from trainer.music.keys import MAX_ACCIDENTALS
from trainer.music.piece import LEFT, Piece

# Our own weights: what the fingers do counts most, then what the eye and the ear must hold.
WEIGHTS = {"fingering": 0.35, "crowding": 0.15, "leaps": 0.1, "signature": 0.2, "distance": 0.2}
# Points of effort a note, and millimetres, at which the figure has come down to one half.
_HALF_EFFORT = 4.0
_HALF_CROWDING = 2.0
# A thumb on a black key draws the whole hand in; counted like so many millimetres.
_THUMB_ON_BLACK_MM = 1.0
# Leaps in a hundred transitions at which the figure has come down to one half.
_HALF_LEAPS = 20.0
_FARTHEST = 6


@dataclass(frozen=True)
class Ease:
    """Figures from 0 (hard) to 1 (easy).

    Parameters
    ----------
    fingering : float
        From the points of effort a note.
    crowding : float
        From the millimetres fingertips lack between black keys, and thumbs on black keys.
    leaps : float
        From the share of steps at which the hand leaves the keys.
    signature : float
        From the number of accidentals.
    distance : float
        From the steps on the circle of fifths to the written key.
    total : float
        The weighted sum (`WEIGHTS`).
    kept : float
        Share of the notes that keep the finger of the written key.
    shifts : int
        Shifts of place, both hands.
    crowding_mm : float
        Mean over the notes, thumbs not counted.
    thumbs_on_black : float
        Share of the notes played while the thumb lies on a black key.
    """

    fingering: float
    crowding: float
    leaps: float
    signature: float
    distance: float
    total: float
    kept: float
    shifts: int
    crowding_mm: float
    thumbs_on_black: float


def ease(
    written: Piece, expected: Piece, size: str = MEDIUM, before: Mapping[str, Mapping[int, int]] | None = None
) -> Ease:
    """How the piece `written` lies in the key of `expected`, the same piece transposed (or itself).

    `before` may hold the fingering of the written key by hand, so that many keys share it.
    """
    if before is None:
        before = {hand: finger_piece(written, hand, size) for hand in written.hands}
    effort = crowded = thumbs = leaps = 0.0
    notes = steps = shifts = same = 0
    for hand in expected.hands:
        after = target_fingers(written, expected, hand, size, before[hand])
        effort += Judge(expected, hand, size).points(after)
        notes += len(after)
        same += sum(after[i] == before[hand].get(i) for i in after)
        taken = places(expected, hand, after)
        shifts += len(taken) - 1
        crowded += sum(place.crowding * len(place.notes) for place in taken)
        thumbs += sum(len(place.notes) for place in taken if _thumb_on_black(place))
        leaps += _leaps(expected, taken, after, hand)
        steps += max(0, len(after) - 1)
    count = max(notes, 1)
    mm, thumb_share = crowded / count, thumbs / count
    figures = {
        "fingering": _halving(effort / count, _HALF_EFFORT),
        "crowding": _halving(mm + _THUMB_ON_BLACK_MM * thumb_share, _HALF_CROWDING),
        "leaps": _halving(100 * leaps / max(steps, 1), _HALF_LEAPS),
        "signature": 1 - min(abs(expected.key.signature), MAX_ACCIDENTALS) / MAX_ACCIDENTALS,
        "distance": 1 - written.key.fifths_away(expected.key) / _FARTHEST,
    }
    total = sum(WEIGHTS[name] * figure for name, figure in figures.items())
    rounded = {name: round(figure, 3) for name, figure in figures.items()}
    return Ease(
        **rounded, total=round(total, 3), kept=round(same / count, 3), shifts=shifts,
        crowding_mm=round(mm, 2), thumbs_on_black=round(thumb_share, 3),
    )  # fmt: skip


def _halving(amount: float, half: float) -> float:
    return half / (half + amount)


def _thumb_on_black(place: Place) -> bool:
    return any(finger == 1 and is_black(key) for key, finger in zip(place.midi, place.fingers, strict=True))


def _leaps(piece: Piece, taken: tuple[Place, ...], fingers: Mapping[int, int], hand: str) -> int:
    """How many shifts no finger can join to the next: the hand leaves the keys."""
    sign = -1 if hand == LEFT else 1
    found = 0
    for before, after in pairwise(taken):
        last, first = before.notes[-1], after.notes[0]
        way = sign * (piece.notes[first].midi - piece.notes[last].midi)
        found += rules.beyond_practice(fingers[last], fingers[first], way) > 0
    return found
