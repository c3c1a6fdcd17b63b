"""Fingers a player has said: fixed points, to which the fingers around them are fitted anew.

A finger is said for the key it is played in. One said in the written key goes along to other keys as a printed finger
does, where it serves (`changes.target_fingers`); one said in another key stays there, for black and white lie otherwise
elsewhere (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from trainer.hands import rules
from trainer.hands.fingering import Wish, finger_piece
from trainer.hands.position import MEDIUM, scale_of
from trainer.hands.slices import FINGERS_OF_A_HAND, Slice, of_notes
from trainer.music.keys import Key
from trainer.music.piece import Note, Piece

# Finger by index of the note.
Fingers = Mapping[int, int]
# Keys that lie on the same keys of the piano under the same mode: F sharp and G flat major are one.
Lie = tuple[int, str]
# Points it costs the notes around one whose finger is said to leave theirs, and for each of them (ours).
_LEAVING, _EACH = 6.0, 0.1
# After so many moments as they were nothing follows any more: the rules look at three notes.
_STILL = 2

# Why a finger cannot be said of a note.
TAKEN, CROSSED, FULL = "taken", "crossed", "full"
# What is to be said of one that can.
WIDE, SAME = "wide", "same"


def lie(key: Key) -> Lie:
    """Where a key lies: the pitch class of its tonic, and its mode."""
    return key.tonic.pitch_class, key.full_mode


@dataclass(frozen=True)
class OwnFingers:
    """The fingers said for one piece.

    Parameters
    ----------
    by_key : dict of Lie to dict of note index to finger
        By the key to be played.
    """

    by_key: Mapping[Lie, Fingers]

    def of(self, key: Key) -> Fingers:
        """Those said for a key to be played."""
        return self.by_key.get(lie(key), {})


NOBODYS = OwnFingers({})


@dataclass(frozen=True)
class Remark:
    """What is to be said of a finger, or against it: `TAKEN`, `CROSSED`, `FULL`, `WIDE` or `SAME`; and the other note
    it lies against, None where there is none.
    """

    kind: str
    other: int | None = None


def fitted(piece: Piece, hand: str, size: str, base: Fingers, said: Fingers) -> dict[int, int]:
    """The fingers of one hand with what was said of some notes: these stand, those around them follow.

    Parameters
    ----------
    piece : Piece
        As it is played.
    base : dict of note index to finger
        The fingers without it.
    said : dict of note index to finger
        Those of the other hand, and of notes that have no finger, do not count.
    """
    mine = {i: number for i, number in said.items() if i in base and piece.notes[i].hand == hand}
    if all(base[i] == number for i, number in mine.items()):
        return dict(base)
    wishes = {i: Wish(number, _LEAVING, _EACH) for i, number in base.items()}
    wishes |= {i: Wish(number, _LEAVING if base[i] != number else 0.0, own=True) for i, number in mine.items()}
    # A note held through may leave no way to lay the hand: then that one is let go.
    return _around(piece, base, finger_piece(piece, hand, size, wishes) | mine, mine)


def _around(piece: Piece, base: Fingers, found: Fingers, mine: Fingers) -> dict[int, int]:
    """Of the fingers found those that go with what was said; elsewhere they are as they were, for all that would be
    easier still.
    """
    # Where one finger takes two keys another may be free for a note that had none.
    moments = struck_together(piece, sorted({*base, *found}))
    moves = [any(i in mine or found[i] != base.get(i) for i in moment) for moment in moments]
    following = set()
    for start in (at for at, moment in enumerate(moments) if any(i in mine for i in moment)):
        for way in (1, -1):
            at, still = start, 0
            while 0 <= at < len(moments) and still < _STILL:
                following.add(at)
                still = 0 if moves[at] else still + 1
                at += way
    laid = {i: found[i] if at in following else base.get(i) for at, moment in enumerate(moments) for i in moment}
    return {i: number for i, number in laid.items() if number}


def struck_together(piece: Piece, notes: Iterable[int]) -> list[list[int]]:
    """Notes in their order, those that are struck at once in one list; a grace note stands by itself."""
    moments: list[list[int]] = []
    for i in notes:
        one, last = piece.notes[i], piece.notes[moments[-1][0]] if moments else None
        if last is None or one.onset != last.onset or one.grace or last.grace:
            moments.append([])
        moments[-1].append(i)
    return moments


def under_one_thumb(piece: Piece, fingers: Fingers) -> list[list[int]]:
    """Notes struck at once whose two keys the thumb takes, of a hand's fingers."""
    thumbs = (i for i, number in fingers.items() if number == rules.THUMB)
    return [one for one in struck_together(piece, thumbs) if len({piece.notes[i].midi for i in one}) > 1]


def objection(piece: Piece, note: int, finger: int, said: Fingers, up: int = 0) -> Remark | None:
    """Why a finger cannot be on a note, beside what was said of the others struck with it; None when it can.

    The keys that are played lie `up` semitones above the notes: the thumb takes two neighbours of one colour.
    """
    at, place = _slice_of(piece, note, {**said, note: finger}, up)
    if place is None:
        return Remark(FULL)
    if at.shared and place == 0:
        mate = next((i for i in at.notes[0] if said.get(i, finger) != finger and i != note), None)
        if mate is not None:
            return Remark(CROSSED, mate)
    fixed = {p: number for p in at.struck if p != place and (number := _said(at, p, said))}
    for p, number in fixed.items():
        if number == finger:
            return Remark(TAKEN, next(i for i in at.notes[p] if i in said))
    if not place < finger <= FINGERS_OF_A_HAND - (len(at.keys) - 1 - place):
        return Remark(CROSSED)
    for p, number in fixed.items():
        # As far apart as their keys at least, and on the same side.
        if (number - finger) * (p - place) < (p - place) ** 2:
            return Remark(CROSSED, next(i for i in at.notes[p] if i in said))
    return None


def remark(piece: Piece, note: int, fingers: Fingers, size: str = MEDIUM) -> Remark | None:
    """What a player is to know of the finger on a note among those around it; None when there is nothing.

    Parameters
    ----------
    piece : Piece
        As it is played.
    fingers : dict of note index to finger
        Of the note's hand at least.
    """
    hand = piece.notes[note].hand
    slices = of_notes(_of_hand(piece, hand), hand, {i for i, number in fingers.items() if number == rules.THUMB})
    at = next((i for i, one in enumerate(slices) if any(note in one.notes[p] for p in one.struck)), None)
    if at is None or note not in fingers:
        return None
    here = slices[at]
    place = next(p for p in here.struck if note in here.notes[p])
    for p in here.struck:
        other = here.notes[p][0]
        if p == place or other not in fingers:
            continue
        apart = here.keys[p] - here.keys[place]
        if rules.beyond_practice(fingers[note], fingers[other], apart, scale_of(size)):
            return Remark(WIDE, other)
    for beside in (slices[i] for i in (at - 1, at + 1) if 0 <= i < len(slices)):
        rest = (here if beside is slices[at - 1] else beside).rest
        if not (here.is_single and beside.is_single) or rest:
            continue
        others = beside.notes[beside.struck[0]]
        lying = {piece.notes[i].midi for i in here.notes[place]}
        if fingers.get(others[0]) == fingers[note] and lying.isdisjoint(piece.notes[i].midi for i in others):
            return Remark(SAME, others[0])
    return None


def _of_hand(piece: Piece, hand: str) -> list[tuple[int, Note]]:
    return [(i, one) for i, one in enumerate(piece.notes) if one.hand == hand]


def _slice_of(piece: Piece, note: int, said: Fingers, up: int) -> tuple[Slice, int | None]:
    """What the hand strikes with a note, and the note's place in it; None where no finger is left for it."""
    one = piece.notes[note]
    beside = ((i, piece.notes[i]) for i in piece.moments[piece.moment_of[note]].notes)
    struck = [
        (i, other) for i, other in beside if i == note or (other.hand == one.hand and not one.grace and not other.grace)
    ]
    (at,) = of_notes(struck, one.hand, {i for i, _ in struck if said.get(i) == rules.THUMB}, up)
    return at, next((p for p in at.struck if note in at.notes[p]), None)


def _said(at: Slice, place: int, said: Fingers) -> int:
    return next((said[i] for i in at.notes[place] if i in said), 0)
