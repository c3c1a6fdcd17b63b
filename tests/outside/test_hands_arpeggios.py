"""Arpeggios against the fingerings of the handbooks: two octaves, hands alone, up, down, and up and down in one.

Source: C. L. Hanon, *The Virtuoso Pianist* (1873), no. 41, and the examination boards' manuals of scales and arpeggios;
from memory. Where the left hand begins with 5 on a triad of white keys or of E flat minor, 4 or 3 stands next to it by
the book and the size of the hand: both count. Chords in other positions take the fingers of the close chord of four
notes; on black keys the thumb stays where it is in root position, and only the ends differ.

Sevenths: the four fingers in order, the thumb on the root when that is white, else on any white key (books differ when
there are several), always the same one; the ends take the finger of their octave or the one that lies nearest.

Differences that stay: B flat major in the left hand takes 4 2 1 for 3 2 1; B flat minor ends on 4 in the right hand,
and changes 3 2 1 for 4 3 1 in the left; the seventh on F sharp begins with 1 and 5, that on B flat with 4 2 1 in the
left hand.

The weights of a turn in `trainer.hands.effort` were searched for with these tables as the goal.
"""

from __future__ import annotations

import pytest

from tests.outside.test_hands_scales import WHITE_TRIADS
from trainer.hands.fingering import finger
from trainer.hands.keyboard import is_black
from trainer.hands.position import HAND_SIZES
from trainer.music.keys import TWENTY_FOUR, Key
from trainer.music.piece import LEFT, RIGHT

HANDS = (RIGHT, LEFT)
# Upward from the root through two octaves.
ROOT = {
    RIGHT: {
        "C G D A E B F F# c g d a e b f eb": "123 123 5",
        "Db Ab Eb Bb f# c# g#": "212 412 4",
        "bb": "231 231 2",
    },
    LEFT: {
        "C G F c g d a e b f eb": "542 142 1 or 532 132 1",
        "D A E B F#": "532 132 1",
        "Db Ab Eb f# c# g#": "214 214 2",
        "Bb bb": "321 321 3",
    },
}
STAYING = {("Bb", LEFT), ("bb", RIGHT), ("bb", LEFT)}
# First and second inversion of white triads: from the third, from the fifth.
INVERTED = {
    RIGHT: ("124 124 5", "123 123 5 or 124 124 5"),
    LEFT: ("542 142 1 or 532 132 1", "532 132 1"),
}
BLACK_TONIC = ("Db", "Ab", "Eb", "f#", "c#", "g#")
DOMINANT, DIMINISHED = (0, 4, 7, 10), (0, 3, 6, 9)
STAYING_SEVENTHS = {(6, RIGHT), (6, LEFT), (10, LEFT)}


def choices(text: str) -> list[str]:
    return text.replace(" ", "").split("or")


def handbook(key: Key, hand: str) -> list[str]:
    (found,) = (fingers for keys, fingers in ROOT[hand].items() if key.short in keys.split())
    return choices(found)


def broken(root: int, steps: tuple[int, ...], octaves: int = 2, inversion: int = 0) -> list[int]:
    """A chord broken upward through octaves, from its root or the note of an inversion."""
    keys = [root + 12 * octave + step for octave in range(octaves + 1) for step in steps]
    return keys[inversion : inversion + len(steps) * octaves + 1]


def triad(key: Key, hand: str, octaves: int = 2, inversion: int = 0) -> list[int]:
    root = key.tonic.midi - (12 if hand == LEFT else 0)
    return broken(root, (0, 3, 7) if key.is_minor else (0, 4, 7), octaves, inversion)


def fingers_of(line: list[int], hand: str, size: str = "medium") -> str:
    return "".join(map(str, finger(line, hand, size)))


def as_printed(key: Key, hand: str) -> bool:
    line, wanted = triad(key, hand), handbook(key, hand)
    back = fingers_of(line + line[-2::-1], hand)
    ways = (fingers_of(line, hand), fingers_of(line[::-1], hand)[::-1], back[:7], back[6:][::-1])
    return all(found in wanted for found in ways)


def test_arpeggios_of_the_twenty_four_triads() -> None:
    missed = {(key.short, hand) for key in TWENTY_FOUR for hand in HANDS if not as_printed(key, hand)}
    print(f"{48 - len(missed)} of 48 arpeggios as in the handbooks; not:", *sorted(missed))
    assert missed == STAYING


@pytest.mark.parametrize("size", HAND_SIZES)
@pytest.mark.parametrize("hand", HANDS)
@pytest.mark.parametrize("key", BLACK_TONIC)
def test_the_thumb_keeps_to_the_white_key_of_a_broken_chord_in_every_hand(key: str, hand: str, size: str) -> None:
    for octaves in (2, 3, 4):
        line = triad(Key.parse(key), hand, octaves)
        found = fingers_of(line, hand, size)
        assert [number == "1" for number in found] == [not is_black(at) for at in line], found


@pytest.mark.parametrize("hand", HANDS)
def test_three_octaves_take_the_fingers_of_two(hand: str) -> None:
    missed = []
    for key in TWENTY_FOUR:
        wanted = [two[:3] + two[3:6] * 2 + two[6] for two in handbook(key, hand)]
        found = fingers_of(triad(key, hand, 3), hand)
        if found not in wanted:
            missed.append((key.short, found))
    print(f"{24 - len(missed)} of 24 arpeggios of three octaves, {hand} hand", missed)
    assert len(missed) <= 2, missed


@pytest.mark.parametrize("inversion", [1, 2])
@pytest.mark.parametrize("hand", HANDS)
@pytest.mark.parametrize("key", WHITE_TRIADS)
def test_inversions_of_white_triads(key: str, hand: str, inversion: int) -> None:
    assert fingers_of(triad(Key.parse(key), hand, 2, inversion), hand) in choices(INVERTED[hand][inversion - 1])


@pytest.mark.parametrize("inversion", [1, 2])
@pytest.mark.parametrize("hand", HANDS)
@pytest.mark.parametrize("key", BLACK_TONIC)
def test_inversions_on_black_keys_keep_the_fingers_of_the_root_position(key: str, hand: str, inversion: int) -> None:
    # From the white third 1 2 4 (1 4 2 in the left hand), whatever note begins.
    found = fingers_of(triad(Key.parse(key), hand, 2, inversion), hand)
    cycle = ("124" if hand == RIGHT else "142") * 3
    assert found[1:-1] == cycle[inversion - 1 :][1:6]


def in_order(line: list[int], hand: str) -> set[str]:
    """The fingerings of a broken seventh with four fingers in order and the thumb on one white key throughout."""
    if not is_black(line[0]):
        return {"123412345" if hand == RIGHT else "543214321"}
    found = set()
    for place in (place for place in range(1, 4) if not is_black(line[place])):
        # Mirrored, a left hand going up is a right hand going down.
        turned = [(i - place) % 4 + 1 if hand == RIGHT else (place - i) % 4 + 1 for i in range(9)]
        fingers = "".join(map(str, turned))
        first, last = fingers.index("1"), fingers.rindex("1")
        near = "".join(str(2 + i) for i in range(4))
        begins = {fingers[:first], near[:first] if hand == RIGHT else near[:first][::-1]}
        ends = {fingers[last + 1 :], near[: 8 - last] if hand == RIGHT else near[: 8 - last][::-1]}
        found |= {begin + fingers[first : last + 1] + end for begin in begins for end in ends}
    return found


def seventh_as_printed(steps: tuple[int, ...], root: int, hand: str) -> bool:
    line = broken((48 if hand == LEFT else 60) + root, steps)
    return {fingers_of(line, hand), fingers_of(line[::-1], hand)[::-1]} <= in_order(line, hand)


@pytest.mark.parametrize(
    ("steps", "staying"), [(DOMINANT, STAYING_SEVENTHS), (DIMINISHED, set())], ids=["dominant", "diminished"]
)
def test_broken_sevenths_take_four_fingers_in_order(steps: tuple[int, ...], staying: set[tuple[int, str]]) -> None:
    missed = {(root, hand) for root in range(12) for hand in HANDS if not seventh_as_printed(steps, root, hand)}
    assert missed == staying
