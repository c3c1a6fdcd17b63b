"""What makes a fingering hard: published ergonomic rules as points, for a right hand (a left hand is its mirror).

Sources
-------
[P] R. Parncutt, J. A. Sloboda, E. F. Clarke, M. Raekallio, P. Desain, "An Ergonomic Model of Keyboard Fingering for
    Melodic Fragments", *Music Perception* 14 (1997) 341-382: the spans and the twelve rules.
[J] J. P. Jacobs, "Refinements to the Ergonomic Model for Keyboard Fingering of Parncutt, Sloboda, Clarke, Raekallio,
    and Desain", *Music Perception* 18 (2001) 505-511: the little finger is not weak, the three-four-five rule goes,
    a large span costs every pair the same.
[K] A. Al Kasimi, E. Nichols, C. Raphael, "A Simple Algorithm for Automatic Generation of Polyphonic Piano
    Fingerings", ISMIR 2007: the same spans as a vertical cost inside chords, a horizontal cost between them.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from trainer.hands.keyboard import is_black

FINGERS = (1, 2, 3, 4, 5)
THUMB = 1

# [P] Table 1: semitones MinPrac, MinComf, MinRel, MaxRel, MaxComf, MaxPrac from the lower to the higher finger;
# negative where the thumb passes under.
SPANS = {
    (1, 2): (-5, -3, 1, 5, 8, 10), (1, 3): (-4, -2, 3, 7, 10, 12), (1, 4): (-3, -1, 5, 9, 12, 14),
    (1, 5): (-1, 1, 7, 11, 13, 15), (2, 3): (1, 1, 1, 2, 3, 5), (2, 4): (1, 1, 3, 4, 5, 7),
    (2, 5): (2, 2, 5, 6, 8, 10), (3, 4): (1, 1, 1, 2, 2, 4), (3, 5): (1, 1, 3, 4, 5, 7), (4, 5): (1, 1, 1, 2, 3, 5),
}  # fmt: skip

STRETCH = "stretch"
SMALL_SPAN = "small span"
LARGE_SPAN = "large span"
CHANGE_COUNT = "position change"
CHANGE_SIZE = "size of position change"
WEAK = "weak finger"
THREE_FOUR_FIVE = "three-four-five"
THREE_TO_FOUR = "three to four"
FOUR_ON_BLACK = "four on black"
THUMB_ON_BLACK = "thumb on black"
FIVE_ON_BLACK = "five on black"
THUMB_PASSING = "thumb passing"
RULES = (
    STRETCH, SMALL_SPAN, LARGE_SPAN, CHANGE_COUNT, CHANGE_SIZE, WEAK,
    THREE_FOUR_FIVE, THREE_TO_FOUR, FOUR_ON_BLACK, THUMB_ON_BLACK, FIVE_ON_BLACK, THUMB_PASSING,
)  # fmt: skip


def oriented(first: int, second: int, semitones: int) -> tuple[tuple[int, int], int]:
    """A finger pair from the lower finger up, with the interval turned to match."""
    return ((first, second), semitones) if first < second else ((second, first), -semitones)


@cache
def spans(first: int, second: int, scale: float = 1.0) -> tuple[int, int, int, int, int, int]:
    """Spans of two different fingers, the upper limits scaled by the size of the hand."""
    low_prac, low_comf, low_rel, rel, comf, prac = SPANS[(min(first, second), max(first, second))]
    return low_prac, low_comf, low_rel, round(rel * scale), round(comf * scale), round(prac * scale)


def beyond_practice(first: int, second: int, semitones: int, scale: float = 1.0) -> int:
    """Semitones by which two keys lie outside what these fingers can join ([P]: MinPrac to MaxPrac); 0 within."""
    if first == second:
        return abs(semitones)
    (low, high), up = oriented(first, second, semitones)
    limits = spans(low, high, scale)
    return max(0, limits[0] - up, up - limits[5])


def passes_thumb(first: int, second: int, semitones: int) -> bool:
    """Whether the thumb goes under, or a finger over it."""
    if (first == THUMB) == (second == THUMB):
        return False
    return oriented(first, second, semitones)[1] < 0


def pair_points(
    first: int, second: int, semitones: int, first_black: bool, second_black: bool, scale: float = 1.0
) -> dict[str, int]:
    """Points of the rules that look at two successive notes, as in [P] (rules 1-3, 8, 9, 12)."""
    points: dict[str, int] = {}
    if first == second:
        return points
    (low, high), up = oriented(first, second, semitones)
    _, low_comf, low_rel, rel, comf, _ = spans(low, high, scale)
    each = 1 if low == THUMB else 2
    if up > comf or up < low_comf:
        points[STRETCH] = 2 * max(up - comf, low_comf - up)
    if up < low_rel:
        points[SMALL_SPAN] = each * (low_rel - up)
    if up > rel:
        points[LARGE_SPAN] = each * (up - rel)
    if (first, second) == (3, 4):
        points[THREE_TO_FOUR] = 1
    if (low, high) == (3, 4):
        black = {first: first_black, second: second_black}
        if black[4] and not black[3]:
            points[FOUR_ON_BLACK] = 1
    if passes_thumb(first, second, semitones):
        thumb_black, other_black = (first_black, second_black) if first == THUMB else (second_black, first_black)
        if thumb_black == other_black:
            points[THUMB_PASSING] = 1
        elif thumb_black:
            points[THUMB_PASSING] = 3
    return points


def triple_points(fingers: tuple[int, int, int], first_up: int, both_up: int, scale: float = 1.0) -> dict[str, int]:
    """Points of the rules that look at three successive notes (4, 5, 7): intervals from the first in semitones."""
    points: dict[str, int] = {}
    first, middle, last = fingers
    low_comf = comf = low_prac = prac = 0
    up = both_up
    if first != last:
        (low, high), up = oriented(first, last, both_up)
        low_prac, low_comf, _, _, comf, prac = spans(low, high, scale)
    if first != last and both_up == 0:
        points[CHANGE_COUNT] = 1
    elif up < low_comf or up > comf:
        between = min(0, both_up) < first_up < max(0, both_up)
        full = middle == THUMB and between and (up < low_prac or up > prac)
        points[CHANGE_COUNT] = 2 if full else 1
        points[CHANGE_SIZE] = max(low_comf - up, up - comf)
    if sorted(fingers) == [3, 4, 5]:
        points[THREE_FOUR_FIVE] = 1
    return points


def note_points(finger: int, black: bool, before_black: bool | None, after_black: bool | None) -> dict[str, int]:
    """Points of the rules that look at one note and the colour of its neighbours (6, 10, 11); None: no neighbour."""
    points: dict[str, int] = {}
    if finger >= 4:
        points[WEAK] = 1
    whites = (before_black is False) + (after_black is False)
    if black and finger == THUMB:
        points[THUMB_ON_BLACK] = 1 + 2 * whites
    if black and finger == 5 and whites:
        points[FIVE_ON_BLACK] = 2 * whites
    return points


def points(midi: Sequence[int], fingers: Sequence[int], mirrored: bool = False) -> dict[str, int]:
    """The points of all twelve rules for a line of single notes, exactly as [P] counts them.

    Parameters
    ----------
    midi, fingers : sequences of int
        Of equal length.
    mirrored : bool
        For a left hand.

    >>> sum(points([76, 79, 77, 79, 76, 77, 74, 76], [2, 4, 3, 4, 2, 3, 1, 3]).values())
    6
    """
    total = dict.fromkeys(RULES, 0)
    black = [is_black(m) for m in midi]
    up = [-m for m in midi] if mirrored else midi
    for i, finger in enumerate(fingers):
        found = note_points(finger, black[i], black[i - 1] if i else None, black[i + 1] if i + 1 < len(midi) else None)
        if i:
            found |= pair_points(fingers[i - 1], finger, up[i] - up[i - 1], black[i - 1], black[i])
        if i > 1:
            three = (fingers[i - 2], fingers[i - 1], finger)
            found |= triple_points(three, up[i - 1] - up[i - 2], up[i] - up[i - 2])
        for rule, count in found.items():
            total[rule] += count
    return total
