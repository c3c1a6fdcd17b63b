from dataclasses import replace

import pytest

from tests.hands.pieces import piece
from trainer.hands.changes import changes, served, target_fingers
from trainer.hands.ease import WEIGHTS, ease
from trainer.hands.fingering import finger_piece
from trainer.hands.keyboard import is_black
from trainer.hands.places import places, too_wide
from trainer.music.keys import Key
from trainer.music.piece import LEFT, RIGHT, Piece
from trainer.music.transpose import interval_between, plan, transposed
from trainer.scores.reading import read
from trainer.scores.shelf.library import find

SCALE = "C4/1 D4/2 E4/3 F4/1 G4/2 A4/3 B4/4 C5/5 B4/4 A4/3 G4/2 F4/1 E4/3 D4/2 C4/1"


def into(of: Piece, target: str) -> Piece:
    return transposed(of, interval_between(of.key, Key.parse(target)))


def test_the_same_key_changes_nothing() -> None:
    scale = piece("C", right=SCALE)
    found = changes(scale, scale)
    assert found.kept == 1
    assert found.changed == found.spots == ()


def test_a_key_of_the_same_colours_keeps_a_printed_fingering() -> None:
    scale = piece("C", right=SCALE)
    assert changes(scale, into(scale, "G")).kept == 1


def test_the_scale_of_f_moves_the_thumb_off_b_flat_and_says_so() -> None:
    found = changes(piece("C", right=SCALE), into(piece("C", right=SCALE), "F"))
    assert 0 < found.kept < 1
    first = found.changed[0]
    assert (first.before, first.after) == (1, 4)
    assert first.why.startswith("the thumb would land on B flat: 1")
    assert " becomes 4" in first.why
    assert found.kept == pytest.approx(1 - len(found.changed) / 15)


def test_no_thumb_is_left_on_a_black_key_by_a_scale() -> None:
    scale = piece("C", right=SCALE)
    for key in ("Bb", "Eb", "Ab", "Db", "B", "E", "D"):
        moved = into(scale, key)
        for index, number in target_fingers(scale, moved, RIGHT).items():
            assert number != 1 or not is_black(moved.notes[index].midi), key


def test_spots_are_practised_the_costliest_first_and_lie_in_their_bars() -> None:
    scale = piece("C", right=SCALE, left="C3 D3 E3 F3 G3 A3 B3 C4 B3 A3 G3 F3 E3 D3 C3")
    found = changes(scale, into(scale, "Db"))
    assert [spot.dear for spot in found.spots] == sorted((spot.dear for spot in found.spots), reverse=True)
    changed = {change.note for change in found.changed}
    assert changed <= {note for spot in found.spots for note in spot.notes}
    for spot in found.spots:
        numbers = [scale.bar_at(scale.notes[i].onset).number for i in spot.notes]
        assert spot.bars == (min(numbers), max(numbers))


def test_a_place_that_leaps_to_the_coda_does_not_take_in_the_bars_between() -> None:
    line = piece("C", right=SCALE)
    coda = replace(line, bars=tuple(replace(bar, number=(1, 7, 8, 9)[at]) for at, bar in enumerate(line.bars)))
    assert [spot.where for spot in changes(line, into(line, "F")).spots] == ["bars 1–3"]
    assert [spot.where for spot in changes(coda, into(coda, "F")).spots] == ["from bar 1 on to bar 8"]


def test_both_hands_are_compared() -> None:
    both = piece("C", right=SCALE, left="C3/5 D3/4 E3/3 F3/2 G3/1 A3/3 B3/2 C4/1")
    found = changes(both, into(both, "Eb"))
    assert {change.hand for change in found.changed} == {RIGHT, LEFT}


def test_ease_falls_from_the_white_keys_to_the_crowded_ones() -> None:
    tune = piece("G", right="G4 A4 B4 C5 D5 C5 B4 A4 G4")
    figures = {key: ease(tune, into(tune, key)) for key in ("G", "C", "D", "Db", "F#")}
    assert figures["C"].total > figures["D"].total > figures["F#"].total
    assert figures["G"].distance == 1
    assert figures["Db"].distance == 0
    assert figures["F#"].thumbs_on_black == 1
    assert all(figure.kept == 1 and figure.shifts == 0 for figure in figures.values())


def test_crowding_has_its_own_figure() -> None:
    tune = piece("d", right="D4 E4 F4 G4 A4")
    free, tight = ease(tune, tune), ease(tune, into(tune, "f#"))
    assert free.crowding_mm == 0 < tight.crowding_mm
    assert tight.crowding < free.crowding == 1


def test_every_figure_lies_between_0_and_1_and_the_total_is_their_sum() -> None:
    tune = piece("a", right="E5 A4 C5 B4 G#4 E6 A3 A5", left="A2+E3 . E2+B2 . A2 C4 E3 A3")
    for key in ("a", "c#", "eb", "f"):
        figures = ease(tune, into(tune, key))
        assert sum(WEIGHTS.values()) == pytest.approx(1)
        each = {name: getattr(figures, name) for name in WEIGHTS}
        assert all(0 <= figure <= 1 for figure in each.values())
        assert figures.total == pytest.approx(sum(WEIGHTS[n] * f for n, f in each.items()), abs=0.002)


def test_leaps_and_shifts_are_seen() -> None:
    still, leaping = piece("C", right="C4 E4 G4 E4"), piece("C", right="C4 C6 C4 C6 C4 C6")
    assert ease(still, still).leaps == 1
    assert ease(leaping, leaping).leaps < 0.5
    assert ease(leaping, leaping).shifts == 5


def test_a_scale_of_an_octave_has_two_places() -> None:
    scale = piece("C", right="C4 D4 E4 F4 G4 A4 B4 C5")
    found = places(scale, RIGHT, finger_piece(scale, RIGHT))
    assert [place.midi for place in found] == [(60, 62, 64), (65, 67, 69, 71, 72)]


def printed(of: Piece) -> dict[int, int]:
    """The fingers on the page."""
    return {index: note.finger for index, note in enumerate(of.notes) if note.finger}


def test_a_place_ends_where_a_finger_leaves_its_key() -> None:
    """A finger may serve a letter and its chromatic neighbour; a crossing, or a finger a tone on, is a new place."""
    one = piece("C", right="C4/1 F4/4 F#4/4 G4/5 C4/1")
    assert [place.midi for place in places(one, RIGHT, printed(one))] == [(60, 65, 66, 67)]
    moved = piece("C", right="C4/1 D4/2 E4/2 G4/5")
    assert [place.fingers for place in places(moved, RIGHT, printed(moved))] == [(1, 2), (2, 5)]
    crossed = piece("C", right="D4/2 E4/1 F4/2")
    assert [place.midi for place in places(crossed, RIGHT, printed(crossed))] == [(62,), (64, 65)]


def test_the_left_hand_has_its_places_the_other_way_round_and_the_right_hand_has_none_of_them() -> None:
    both = piece("C", right="C4/1 E4/3 G4/5", left="G3/1 F3/2 E3/3")
    (left,) = places(both, LEFT, printed(both))
    assert (left.midi, left.fingers) == ((52, 53, 55), (3, 2, 1))
    assert [place.midi for place in places(both, RIGHT, printed(both))] == [(60, 64, 67)]


def test_notes_without_a_finger_take_no_place() -> None:
    some = piece("C", right="C4/1 D4 E4/3")
    (place,) = places(some, RIGHT, printed(some))
    assert (place.midi, len(place.notes)) == ((60, 64), 2)
    assert places(some, RIGHT, {}) == ()


def test_a_chord_that_is_broken_on_the_page_is_not_too_wide_and_each_hand_has_its_own() -> None:
    wide = piece("C", right="C4+E5", left="C3+E3")
    assert too_wide(wide, RIGHT, "small") == (min(i for i, note in enumerate(wide.notes) if note.hand == RIGHT),)
    assert too_wide(wide, LEFT, "small") == ()
    first = next(i for i, note in enumerate(wide.notes) if note.hand == RIGHT)
    broken = list(wide.notes)
    broken[first] = replace(broken[first], ornament="arpeggio")
    assert too_wide(replace(wide, notes=tuple(broken)), RIGHT, "small") == ()


def test_chords_a_hand_cannot_hold_are_named() -> None:
    tenths = piece("C", left="C3+G3+E4 C3+D4 C3+C4")
    assert too_wide(tenths, LEFT, "small") == (0,)
    assert too_wide(tenths, LEFT, "large") == ()


def test_a_page_bears_the_fingers_that_serve_in_the_key_to_play() -> None:
    scale = piece("C", right=SCALE)
    expected = into(scale, "Eb")
    page = served(scale, expected)
    assert [note.pitch for note in page.notes] == [note.pitch for note in scale.notes]
    assert {i: note.finger for i, note in enumerate(page.notes)} == changes(scale, expected).target[RIGHT]
    assert page.notes != scale.notes
    bare = piece("C", right="C4 D4 E4 F4 G4 A4 B4 C5")
    assert served(bare, into(bare, "F#")) is bare


def fingers_named(name: str, to: str) -> int:
    """How many reasons name a finger; each was there."""
    song = read(find(name))
    found = changes(song, transposed(song, plan(song.key, to).interval))
    named = 0
    for spot in found.spots:
        old = [found.written[spot.hand][i] for i in spot.notes]
        for words, finger in (("the thumb would stand", 1), ("the little finger would reach", 5)):
            if words in spot.why:
                assert finger in old, spot.why
                named += 1
    return named


@pytest.mark.parametrize("name", ["aura-lee", "greensleeves", "petzold-minuet-in-g", "au-clair-de-la-lune"])
@pytest.mark.parametrize("to", ["Eb", "F#", "Bb", "E"])
def test_a_reason_names_a_finger_only_where_that_finger_was(name: str, to: str) -> None:
    """What the old fingers do elsewhere, and the new ones too, is no reason for a change."""
    fingers_named(name, to)


@pytest.mark.parametrize(
    ("name", "to", "times"),
    [("old-macdonald", "B", 4), ("day-comes-up-the-hill", "E", 2), ("petzold-minuet-in-g", "E", 1)],
)
def test_a_reason_names_the_finger_that_does_not_lie_well(name: str, to: str, times: int) -> None:
    assert fingers_named(name, to) == times
