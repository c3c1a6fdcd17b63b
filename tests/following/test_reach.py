"""How far a take went."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.music.tunes import tune
from trainer.following.marks import ONE_HAND, RIGHT, Finding, Mark, Settled
from trainer.following.reach import hands_played, reach
from trainer.music.keys import Key
from trainer.music.piece import BOTH, LEFT, Piece
from trainer.music.piece import RIGHT as RIGHT_HAND
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import plan
from trainer.scores.reading import read
from trainer.scores.shelf.library import find

HERE = plan(Key.parse("C"), "+0")


@pytest.fixture(scope="module")
def piece() -> Piece:
    return read(find("aura-lee"))


def played(notes: list[int]) -> Settled:
    return Settled(tuple(Mark(at, note, RIGHT) for at, note in enumerate(notes)), (), ())


def in_bars(piece: Piece, first: int, last: int, hand: str = BOTH) -> list[int]:
    return [
        index for index, note in enumerate(piece.notes)
        if first <= piece.bar_index(note.onset) <= last and hand in (BOTH, note.hand)
    ]  # fmt: skip


def test_a_whole_take_and_a_part_of_it(piece: Piece) -> None:
    last = len(piece.bars) - 1
    whole = reach(piece, HERE, BOTH, played(in_bars(piece, 0, last)))
    assert whole is not None
    assert (whole.first, whole.last, whole.share, whole.is_whole, whole.is_most) == (0, last, 1.0, True, True)
    part = reach(piece, HERE, BOTH, played(in_bars(piece, 0, 3)))
    assert part is not None
    assert (part.first, part.last, part.is_whole, part.is_most) == (0, 3, False, False)
    assert part.share == pytest.approx(len(in_bars(piece, 0, 3)) / len(piece.notes))


def test_who_leaves_out_the_last_bar_has_not_played_the_whole() -> None:
    """Also where it holds one note, and most of the piece was played."""
    quarters = tune("C", "C4 D4 E4 F4 G4")
    found = [reach(quarters, HERE, BOTH, played(list(range(notes)))) for notes in (4, 5)]
    assert [(one.last, one.is_whole, one.is_most) for one in found if one is not None] == [
        (0, False, True), (1, True, True),
    ]  # fmt: skip


def test_three_quarters_of_the_notes_are_most_of_a_piece() -> None:
    quarters = tune("C", "C4 D4 E4 F4")
    found = [reach(quarters, HERE, BOTH, played(list(range(notes)))) for notes in (2, 3)]
    assert [one.is_most for one in found if one is not None] == [False, True]


def test_notes_left_out_on_the_way_do_not_make_it_shorter(piece: Piece) -> None:
    found = reach(piece, HERE, BOTH, played(in_bars(piece, 0, len(piece.bars) - 1)[::2]))
    assert found is not None
    assert found.is_most


def test_a_silent_hand_is_none_of_the_piece_unless_the_other_was_asked_for(piece: Piece) -> None:
    alone = played(in_bars(piece, 0, len(piece.bars) - 1, RIGHT_HAND))
    both = reach(piece, HERE, BOTH, alone)
    assert both is not None
    assert (both.share, both.is_whole) == (0.0, True)
    right = reach(piece, HERE, RIGHT_HAND, alone)
    assert right is not None
    assert right.share == 1.0
    assert LEFT in piece.hands


def test_a_hand_whose_every_note_is_on_a_key_of_the_other_is_not_silent() -> None:
    """Four notes, the last of them for both hands, which is the only one of the left."""
    right = tune("C", "E4 D4 C4 C4")
    unison = replace(right.notes[3], id="u", hand=LEFT)
    shared, low = (replace(unison, pitch=SpelledPitch.parse(name)) for name in ("C4", "C3"))
    for left, plays in ((shared, True), (low, False)):
        both = right.with_notes([*right.notes, left])
        settled = played([at for at, note in enumerate(both.notes) if note.hand == RIGHT_HAND])
        found = reach(both, HERE, BOTH, settled)
        assert found is not None
        assert bool(found.share) == plays


def test_nothing_meant_for_a_note_reaches_nothing(piece: Piece) -> None:
    assert reach(piece, HERE, BOTH, Settled((Mark(0, None, "extra"),), (), ())) is None


def test_what_the_keyboard_has_no_key_for_is_not_asked_for() -> None:
    """A low C for the left hand begins, a high one ends; an octave lower both hands' middles are all there is."""
    low, high = tune("C", "C2 C2 C2"), tune("C", "C5 D5 E5 F5 G5 C5")
    left = tuple(replace(note, id=f"l{at}", hand=LEFT) for at, note in enumerate(low.notes))
    both = high.with_notes(sorted((*high.notes, *left), key=lambda note: note.onset))
    right = played([at for at, note in enumerate(both.notes) if note.hand == RIGHT_HAND][:5])

    def of(to: str, settled: Settled, lowest: float, highest: float) -> tuple[float, bool]:
        found = reach(both, plan(both.key, to), BOTH, settled, (lowest, highest))
        assert found is not None
        return round(found.share, 2), found.is_whole

    assert of("+0", right, 36, 84) == (0.0, True), "the left hand was silent"
    assert of("+0", right, 37, 84) == (0.83, True)
    assert of("-12", right, 25, 84) == (0.83, True)
    # What the take itself speaks of had a key, whatever Setup says now.
    assert of("+0", replace(right, missed=(0,)), 37, 84) == (0.0, True)
    # Of the right hand's notes only the fifth lies above; what is left has all been played.
    assert of("+0", played([at for at, note in enumerate(both.notes) if note.midi < 79]), 0, 78) == (1.0, True)


def test_a_repeat_that_is_not_taken_leaves_nothing_of_the_piece_out(tmp_path: Path) -> None:
    """Two parts of four bars, each repeated: once through is the piece, a part alone is half of it."""
    place = tmp_path / "tune.abc"
    place.write_text(
        "X:1\nT:Path\nM:4/4\nL:1/4\nK:G\n|: GABG | Bcd2 | edcB | A2G2 :|\n|: dedB | cBAG | B2A2 | A2G2 :|\n"
    )
    tune_ = read(place)
    assert max(tune_.times_round) == 2
    for first, last, most in ((4, 11, True), (0, 15, True), (0, 7, False), (4, 7, False)):
        found = reach(tune_, HERE, BOTH, played(in_bars(tune_, first, last)))
        assert found is not None
        assert found.is_most == most


def test_notes_one_may_leave_out_are_not_asked_for() -> None:
    """Three of five: neither the grace note nor the small one makes the take shorter, nor does it begin or end it."""
    plain = tune("C", "C4 D4 E4 F4 G4")
    notes = list(plain.notes)
    notes[1], notes[3] = replace(notes[1], grace=True), replace(notes[3], optional=True)
    found = reach(replace(plain, notes=tuple(notes)), HERE, BOTH, played([0, 2, 4]))
    assert found is not None
    assert (found.share, found.is_whole) == (1.0, True)


def test_the_outermost_keys_of_the_keyboard_are_keys() -> None:
    scale = tune("C", "C4 D4 E4 F4")
    found = reach(scale, HERE, BOTH, played([1, 2]), (60, 65))
    assert found is not None
    assert found.share == 0.5


def test_who_began_late_has_not_played_the_whole_piece() -> None:
    two_bars = tune("C", "C4 D4 E4 F4 G4 F4 E4 D4")
    late, early = (reach(two_bars, HERE, BOTH, played(notes)) for notes in ([4, 5, 6, 7], [0, 1, 2, 3]))
    assert late is not None
    assert early is not None
    assert (late.first, late.last, late.is_whole) == (1, 1, False)
    assert (early.first, early.last, early.is_whole) == (0, 0, False)


def test_where_nothing_is_asked_for_nothing_is_reached() -> None:
    """A left hand is asked for in a piece that has none."""
    assert reach(tune("C", "C4 D4"), HERE, LEFT, played([0, 1])) is None


def test_the_end_of_a_hand_that_plays_alone_is_its_own() -> None:
    """The right hand has the upbeat, the left comes in with the first bar and has all it has played."""
    upbeat = read(find("sankt-michael"))
    assert not upbeat.bars[0].number
    alone = played(in_bars(upbeat, 0, len(upbeat.bars) - 1, LEFT))
    found = reach(upbeat, HERE, BOTH, alone)
    assert found is not None
    assert (found.first, found.share, found.is_whole) == (1, 0.0, True)
    both = reach(upbeat, HERE, BOTH, played(in_bars(upbeat, 1, len(upbeat.bars) - 1)))
    assert both is not None
    assert not both.is_whole, "the right hand left its upbeat out"


def test_keys_that_strayed_to_a_silent_hand_do_not_make_it_play(piece: Piece) -> None:
    alone = in_bars(piece, 0, len(piece.bars) - 1, LEFT)
    strayed = played(sorted([*alone, in_bars(piece, 2, 2, RIGHT_HAND)[0]]))
    one_hand = replace(strayed, findings=(Finding(ONE_HAND, "Only the left hand played."),))
    assert hands_played(piece, one_hand) == {LEFT}
    found = reach(piece, HERE, BOTH, one_hand)
    assert found is not None
    assert (found.share, found.is_whole) == (0.0, True)


def test_a_hand_that_was_still_to_come_in_makes_the_take_shorter() -> None:
    right, left = tune("C", "E4 F4 G4 A4"), tune("C", "C3 C3 C3 C3 C3 C3 C3 C3")
    low = tuple(replace(note, id=f"l{at}", hand=LEFT) for at, note in enumerate(left.notes[4:]))
    found = reach(replace(left, notes=(*right.notes, *low)), HERE, BOTH, played([0, 1, 2, 3]))
    assert found is not None
    assert (found.share, found.is_whole) == (0.5, False)
