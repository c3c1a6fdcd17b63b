"""Fingers the player says: they stand, those around them follow, the rest stays."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.hands.pieces import piece
from trainer.hands.changes import changes, laid, served
from trainer.hands.fingering import Judge, finger_piece
from trainer.hands.own import CROSSED, FULL, SAME, TAKEN, WIDE, OwnFingers, Remark, fitted, lie, objection, remark
from trainer.hands.places import places
from trainer.hands.position import MEDIUM
from trainer.music.keys import Key
from trainer.music.piece import LEFT, RIGHT, Piece
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import plan, transposed
from trainer.scores.reading import read
from trainer.scores.shelf.library import find

SCALE = "C4 D4 E4 F4 G4 A4 B4 C5"
MINUET = read(find("petzold-minuet-in-g"))


def into(of: Piece, to: str) -> Piece:
    return transposed(of, plan(of.key, to).interval)


def said(key: str, **fingers: int) -> OwnFingers:
    return OwnFingers({lie(Key.parse(key)): {int(name[1:]): number for name, number in fingers.items()}})


def test_keys_that_lie_alike_are_one() -> None:
    assert lie(Key.parse("F#")) == lie(Key.parse("Gb")) != lie(Key.parse("f#"))


def test_a_finger_said_stands_and_its_neighbours_follow() -> None:
    scale = piece("C", right=SCALE)
    base = finger_piece(scale, RIGHT)
    assert list(base.values()) == [1, 2, 3, 1, 2, 3, 4, 5]
    found = fitted(scale, RIGHT, MEDIUM, base, {3: 4})
    assert list(found.values()) == [1, 2, 3, 4, 1, 2, 3, 4]


def test_what_is_said_already_or_of_the_other_hand_changes_nothing() -> None:
    scale = piece("C", right=SCALE, left="C3 D3 E3 F3")
    base = finger_piece(scale, RIGHT)
    left = next(i for i, note in enumerate(scale.notes) if note.hand == LEFT)
    assert fitted(scale, RIGHT, MEDIUM, base, {next(iter(base)): 1, left: 2}) == base


@pytest.mark.parametrize("to", ["F", "Eb", "F#", "G"])
def test_any_finger_on_any_note_keeps_the_rest_of_the_piece(to: str) -> None:
    """What lies further on keeps its fingers, and what comes out costs no more than putting the one finger there."""
    moved = into(MINUET, to)
    judge = Judge(moved, RIGHT)
    base = laid(MINUET, moved)
    order = list(base.target[RIGHT])
    for at in range(0, len(order), 5):
        for finger in range(1, 6):
            if objection(moved, order[at], finger, {}):
                continue
            own = OwnFingers({lie(moved.key): {order[at]: finger}})
            found = laid(MINUET, moved, own=own)
            assert found.target[RIGHT][order[at]] == finger
            assert found.target[LEFT] == base.target[LEFT]
            changed = [n for n, i in enumerate(order) if found.target[RIGHT][i] != base.target[RIGHT][i]]
            assert all(min(abs(n - one) for one in {at, *changed} - {n}) <= 4 for n in changed if n != at), (at, finger)
            alone = judge.points({**base.target[RIGHT], order[at]: finger})
            assert judge.points(found.target[RIGHT]) <= alone + 1e-6
            assert set(found.told) >= {order[at]} | {order[n] for n in changed}


def test_a_hand_within_five_letters_is_laid_anew_around_it() -> None:
    tune = piece("C", right="C4 E4 D4 F4 E4 G4 C4 E4")
    base = finger_piece(tune, RIGHT)
    assert list(base.values()) == [1, 3, 2, 4, 3, 5, 1, 3]
    found = fitted(tune, RIGHT, MEDIUM, base, {4: 4})
    # E lies under 4, C is taken by 2: the hand has moved up, and comes back when it can.
    assert list(found.values()) == [2, 4, 3, 5, 4, 5, 1, 3]


def test_a_finger_of_the_written_key_goes_along_and_one_of_another_key_stays_there() -> None:
    g, f = into(MINUET, "G"), into(MINUET, "F")
    here = list(laid(MINUET, g).target[RIGHT])[3]
    wanted = laid(MINUET, g).target[RIGHT][here] % 5 + 1
    written = OwnFingers({lie(MINUET.key): {here: wanted}})
    assert laid(MINUET, g, own=written).target[RIGHT][here] == wanted
    black = OwnFingers({lie(Key.parse("F")): {here: wanted}})
    assert laid(MINUET, f, own=black).target[RIGHT][here] == wanted
    assert laid(MINUET, g, own=black) == laid(MINUET, g)
    assert laid(MINUET, into(MINUET, "Eb"), own=black) == laid(MINUET, into(MINUET, "Eb"))


def test_a_finger_of_the_written_key_is_not_taken_to_where_it_does_not_serve() -> None:
    """A thumb on F goes along to C, where all is white around it, and not to A flat, on a black key among others."""
    scale = piece("C", right="C4/1 D4/2 E4/3 F4/1 G4/2 A4/3 B4/4 C5/5 B4/4 A4/3 G4/2 F4/1 E4/3 D4/2 C4/1")
    own = said("C", n3=2)
    assert laid(scale, scale, own=own).target[RIGHT][3] == 2
    assert laid(scale, into(scale, "G"), own=own).target[RIGHT][3] == 2
    own = said("C", n4=1)
    assert laid(scale, into(scale, "Db"), own=own).target[RIGHT][4] != 1


def test_a_finger_said_as_written_goes_along_also_where_the_hand_lies_on_five_letters() -> None:
    tune = piece("C", right="C4 E4 D4 F4 E4 G4 C4 E4")
    own = said("C", n4=4)
    here = laid(tune, tune, own=own).target[RIGHT]
    assert here[4] == 4
    assert laid(tune, into(tune, "G"), own=own).target[RIGHT] == here
    assert laid(tune, into(tune, "G")).target[RIGHT][4] == 3


def test_the_page_tells_hers_and_what_follows_and_otherwise_what_is_printed() -> None:
    bare = piece("C", right=SCALE)
    assert served(bare, bare) is bare
    page = served(bare, bare, own=said("C", n3=4))
    assert [note.finger for note in page.notes] == [None, None, None, 4, 1, 2, 3, 4]
    page = served(MINUET, into(MINUET, "F"), own=said("F", n2=3))
    assert page.notes[2].finger == 3
    assert sum(bool(note.finger) for note in page.notes) >= sum(bool(note.finger) for note in MINUET.notes)


def test_why_a_finger_changes_is_that_the_player_says_so() -> None:
    scale = piece("C", right=SCALE)
    found = changes(scale, into(scale, "G"), own=said("G", n3=4))
    assert found.spots[0].why.startswith("4 on C natural is the player's own finger: ")


def test_what_cannot_be_is_told_from_what_is_only_hard() -> None:
    chord = piece("C", right="C4+E4+G4 D4")
    low, middle, top, alone = range(4)
    assert objection(chord, top, 5, {}) is None
    assert objection(chord, top, 4, {low: 4}) == Remark(TAKEN, low)
    assert objection(chord, top, 2, {}) == Remark(CROSSED)
    assert objection(chord, top, 3, {middle: 4}) == Remark(CROSSED, middle)
    assert objection(chord, top, 3, {low: 2}) == Remark(CROSSED, low)
    assert objection(chord, alone, 1, {top: 1}) is None
    octave = piece("C", right="C4+C5 D4")
    assert remark(octave, 1, {0: 1, 1: 2, 2: 1}) == Remark(WIDE, 0)
    assert remark(octave, 1, {0: 1, 1: 5, 2: 1}) is None
    line = piece("C", right="C4 D4 . E4")
    assert remark(line, 1, {0: 3, 1: 3, 2: 3}) == Remark(SAME, 0)
    assert remark(line, 2, {0: 1, 1: 3, 2: 3}) is None
    full = piece("C", right="C4+D4+E4+F4+G4+A4")
    assert any(objection(full, i, 3, {}) == Remark(FULL) for i in range(6))


def test_the_left_hand_is_a_mirror() -> None:
    chord = piece("C", left="C3+E3+G3")
    assert objection(chord, 0, 5, {}) is None
    assert objection(chord, 0, 2, {}) == Remark(CROSSED)
    assert objection(chord, 2, 1, {0: 5}) is None


@pytest.mark.parametrize(
    ("chord", "to", "shares"),
    [("C4+D4+G4", "C", True), ("E4+F4+A4", "C", True), ("C4+D4+G4", "Db", True), ("C4+D4+G4", "Eb", False),
     ("E4+F4+A4", "D", False), ("C4+E4+G4", "C", False)],
)  # fmt: skip
def test_the_thumb_takes_two_neighbours_of_one_colour_in_the_key_to_be_played(
    chord: str, to: str, shares: bool
) -> None:
    written = piece("C", right=chord)
    moved, up = into(written, to), Key.parse(to).tonic.pitch_class
    for one, above in ((moved, 0), (written, up)):
        assert (objection(one, 1, 1, {}, above) is None) is shares
        assert (objection(one, 1, 1, {0: 1}, above) is None) is shares
    if shares:
        found = fitted(moved, RIGHT, MEDIUM, finger_piece(moved, RIGHT), {1: 1})
        assert (found[0], found[1]) == (1, 1)
        assert found[2] > 1
        assert remark(moved, 1, found) is None
        assert objection(moved, 0, 2, {1: 1}) == Remark(CROSSED, 1)
        assert objection(moved, 1, 1, {0: 2}) == Remark(CROSSED, 0)
        assert objection(moved, 2, 1, {1: 1}) == Remark(TAKEN, 1)


def test_with_a_thumb_on_two_keys_a_sixth_key_has_a_finger_too() -> None:
    full = piece("C", right="C4+D4+E4+G4+A4+C5 D4")
    base = finger_piece(full, RIGHT)
    assert 3 not in base
    assert list(fitted(full, RIGHT, MEDIUM, base, {1: 1}).values()) == [1, 1, 2, 3, 4, 5, 1]
    assert objection(full, 3, 3, {}) == Remark(FULL)
    assert objection(full, 3, 3, {1: 1}) is None


def test_a_thumb_on_two_keys_goes_along_where_they_are_neighbours_of_one_colour_there() -> None:
    written = piece("C", right="C4+D4+G4 E4 C4+D4+G4 C5", left="G3+A3+C3")
    chords = [i for i, note in enumerate(written.notes) if note.hand == RIGHT][:3]
    assert written.notes[chords[1]].pitch.name == "D4"
    own = OwnFingers({lie(written.key): {chords[1]: 1}})
    for to, together in (("C", True), ("G", True), ("Db", True), ("Eb", False)):
        found = laid(written, into(written, to), own=own)
        assert (found.target[RIGHT][chords[0]] == found.target[RIGHT][chords[1]]) is together, to
    left = [i for i, note in enumerate(written.notes) if note.hand == LEFT]
    found = laid(written, written, own=OwnFingers({lie(written.key): {left[1]: 1}}))
    assert [found.target[LEFT][i] for i in left] == [5, 1, 1]


def test_a_thumb_printed_on_two_keys_stands() -> None:
    printed = piece("C", right="C4/1 E4/3 G4/5 D4 C5 E4")
    one = printed.notes[0]
    chord = printed.with_notes([*printed.notes, replace(one, id="r9", pitch=SpelledPitch.parse("D4"))])
    fingers = finger_piece(chord, RIGHT)
    both = [i for i, note in enumerate(chord.notes) if note.onset == 0]
    assert [fingers[i] for i in both] == [1, 1]


def test_of_a_thumb_on_two_keys_the_page_tells_both() -> None:
    chords = piece("C", right="C4+D4+G4 E4 C4+E4+G4")
    page = served(chords, chords, own=said("C", n1=1))
    assert [note.finger for note in page.notes][:2] == [1, 1]
    assert page.notes[4].finger is None
    assert objection(chords, 2, 1, {1: 1}) == Remark(TAKEN, 1), "who was said to be there is named"


def test_a_hand_stays_in_place_under_a_thumb_on_two_keys() -> None:
    chords = piece("C", right="C4+D4+G4 C4+D4+G4 C4+D4+G4")
    fingers = fitted(chords, RIGHT, MEDIUM, finger_piece(chords, RIGHT), {1: 1, 4: 1, 7: 1})
    assert list(fingers.values())[:2] == [1, 1]
    assert len(places(chords, RIGHT, fingers)) == 1
