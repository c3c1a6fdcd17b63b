"""Where five fingers lie in a key: shape, family, depth, room between the black keys, and what a hand reaches."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from trainer.hands.keyboard import BLACK_FRONT, WHITE_WIDTH, is_black, room_between, span_mm
from trainer.music.keys import Key
from trainer.music.piece import LEFT, RIGHT
from trainer.music.pitch import MusicError, SpelledPitch

CAUTION = (
    "Nothing here should hurt: break a wide stretch or leave a note out, rest early, and ask a teacher or a health "
    "professional when strain stays. A teacher's fingering stands above the one shown."
)

SMALL, MEDIUM, LARGE = "small", "medium", "large"
# Thumb to little finger at full stretch, in mm. Source: R. Boyle, R. Boyle, E. Booker, "Pianist Hand Spans" (APPC
# 2015), 473 adult pianists: mean of the women 7.9 in, the border below which they call a hand small 8.5 in, mean of
# the men 8.9 in.
HAND_SPANS = {SMALL: 201.0, MEDIUM: 216.0, LARGE: 226.0}
HAND_SIZES = tuple(HAND_SPANS)
# The same study: 8.5 in is what a tenth takes (nine white keys between the middles, and 4.5 mm), and what lets
# octaves be played with ease (seven white keys, and the rest in hand).
TO_TOUCH = HAND_SPANS[MEDIUM] - 9 * WHITE_WIDTH
TO_BE_EASY = HAND_SPANS[MEDIUM] - 7 * WHITE_WIDTH
_INTERVALS = ("unison", "second", "third", "fourth", "fifth", "sixth", "seventh", "octave", "ninth", "tenth",
              "eleventh", "twelfth")  # fmt: skip

# How much deeper than the thumb each fingertip lies in a rounded hand, how far a finger can be drawn in or put out
# from there, and the breadth of the fingertips, in mm. No source for the first two: our own hands on a keyboard.
# Breadths: about the middle between the means of women and men in anthropometric tables (from memory).
ROUNDED = {1: 0.0, 2: 28.0, 3: 38.0, 4: 30.0, 5: 12.0}
FLEX = 12.0
BREADTH = {1: 19.5, 2: 16.0, 3: 16.0, 4: 15.0, 5: 13.5}
AT_REST = 15.0
ON_BLACK = BLACK_FRONT + 10.0
BEFORE_BLACK = BLACK_FRONT - 10.0

# The families of five-finger positions as the multiple-key methods of American teaching group them, by the colours
# of the tonic triad under fingers 1, 3, 5 (R. Pace; J. Bastien: C G F, D A E, D flat A flat E flat, and the three
# that stand alone). Common practice, from memory.
ALONE = "stands alone"
_FAMILIES = {
    "www": "white triad", "wbw": "black in the middle", "bwb": "white in the middle",
    "bbb": "all black", "bww": ALONE, "wbb": ALONE, "wwb": ALONE,
    "bbw": ALONE,
}  # fmt: skip


@dataclass(frozen=True)
class Position:
    """Five neighbouring degrees under five fingers.

    Parameters
    ----------
    key : Key
    hand : str
    pitches : tuple of SpelledPitch
        Degrees 1 to 5, from low to high.
    fingers : tuple of int
        1 to 5 in the right hand, 5 to 1 in the left.
    shape : str
        Colours from low to high, ``bwwbb``.
    family : str
        Family of shapes as the multiple-key methods group them: by the colours of the tonic triad.
    depth : tuple of float
        Millimetres from the front edge of the white keys to each fingertip.
    clearance : tuple of float or None
        Millimetres a fingertip has to spare between black keys; negative when it is broader than the gap. None for
        fingers on black keys and for those that stay in front of them.
    crowding : float
        Millimetres by which the fingertips are broader than their gaps, summed; 0 when nothing is tight.
    """

    key: Key
    hand: str
    pitches: tuple[SpelledPitch, ...]
    fingers: tuple[int, ...]
    shape: str
    family: str
    depth: tuple[float, ...]
    clearance: tuple[float | None, ...]
    crowding: float

    @property
    def midi(self) -> tuple[int, ...]:
        return tuple(pitch.midi for pitch in self.pitches)

    @property
    def words(self) -> str:
        """A sentence for the five-finger card."""
        tight = [f for f, room in zip(self.fingers, self.clearance, strict=True) if room is not None and room < 0]
        where = " and ".join(str(f) for f in sorted(tight))
        close = f"; finger {where} close between black keys" if tight else ""
        thumb = "; thumb on black, so the whole hand lies deep" if self._thumb_black else ""
        return f"{self.family}{thumb}{close}"

    @property
    def _thumb_black(self) -> bool:
        return self.shape[self.fingers.index(1)] == "b"


@lru_cache(maxsize=256)
def five_finger(key: Key, hand: str = RIGHT, octave: int | None = None) -> Position:
    """The five-finger position of a key, thumb (right) or little finger (left) on the tonic.

    Parameters
    ----------
    octave : int, optional
        Of the tonic; 4 in the right hand and 3 in the left when not given.

    >>> five_finger(Key.parse("D")).shape, five_finger(Key.parse("F#")).shape
    ('wwbww', 'bbbwb')
    >>> five_finger(Key.parse("f#")).crowding > five_finger(Key.parse("d")).crowding
    True
    """
    start = octave if octave is not None else (3 if hand == LEFT else 4)
    pitches = tuple(key.degree(number, start) for number in range(1, 6))
    fingers = (5, 4, 3, 2, 1) if hand == LEFT else (1, 2, 3, 4, 5)
    shape = "".join("b" if is_black(pitch.midi) else "w" for pitch in pitches)
    depth = depths(tuple(pitch.midi for pitch in pitches), fingers)
    clearance = tuple(
        _clearance(pitch.midi, finger, deep) for pitch, finger, deep in zip(pitches, fingers, depth, strict=True)
    )
    return Position(
        key, hand, pitches, fingers, shape, _FAMILIES[shape[0] + shape[2] + shape[4]],
        depth, clearance, crowding(tuple(pitch.midi for pitch in pitches), fingers),
    )  # fmt: skip


def depths(midi: tuple[int, ...], fingers: tuple[int, ...]) -> tuple[float, ...]:
    """How deep in the keys each fingertip lies, in mm, when these keys are held ready by these fingers.

    The hand goes in just far enough for every finger on a black key to meet it; the others are drawn in as far as
    they go, to stay in front of the black keys.
    """
    blacks = [finger for key, finger in zip(midi, fingers, strict=True) if is_black(key)]
    hand = max([AT_REST] + [ON_BLACK - ROUNDED[finger] - FLEX for finger in blacks])
    found = []
    for key, finger in zip(midi, fingers, strict=True):
        rounded = hand + ROUNDED[finger]
        if is_black(key):
            found.append(max(ON_BLACK, rounded))
        else:
            found.append(max(rounded - FLEX, min(rounded, BEFORE_BLACK)))
    return tuple(found)


def crowding(midi: tuple[int, ...], fingers: tuple[int, ...]) -> float:
    """Millimetres by which fingertips on white keys are broader than the gaps they must play in, summed.

    A finger only half way in among the black keys counts half.
    """
    total = 0.0
    for key, finger, deep in zip(midi, fingers, depths(midi, fingers), strict=True):
        room = _clearance(key, finger, deep)
        if room is not None and room < 0:
            total -= room * min(1.0, (deep - BEFORE_BLACK) / (ON_BLACK - BEFORE_BLACK))
    return round(total, 2)


def _clearance(key: int, finger: int, deep: float) -> float | None:
    if is_black(key) or deep <= BEFORE_BLACK:
        return None
    return round(room_between(key) - BREADTH[finger], 2)


def hand_span(size: str) -> float:
    """The span of a hand size in mm; `MusicError` for a size not in `HAND_SIZES`."""
    if size not in HAND_SPANS:
        raise MusicError(f"'{size}' is not a hand size: choose small, medium or large.")
    return HAND_SPANS[size]


def scale_of(size: str) -> float:
    """What the published finger spans, taken from a medium hand, are multiplied by for a size."""
    return hand_span(size) / HAND_SPANS[MEDIUM]


def reaches(low: int, high: int, size: str = MEDIUM) -> bool:
    """Whether a hand can hold two keys together at full stretch.

    >>> [reaches(60, 76, size) for size in HAND_SIZES]
    [False, True, True]
    """
    return abs(span_mm(low, high)) + TO_TOUCH <= hand_span(size) + 1e-6


def widest(size: str = MEDIUM, easy: bool = False) -> str:
    """The name of the widest interval between white keys a hand size reaches.

    >>> [(size, widest(size), widest(size, easy=True)) for size in HAND_SIZES]
    [('small', 'ninth', 'seventh'), ('medium', 'tenth', 'octave'), ('large', 'tenth', 'octave')]
    """
    spare = hand_span(size) - (TO_BE_EASY if easy else TO_TOUCH) + 1e-6
    return _INTERVALS[int(spare // WHITE_WIDTH)]
