"""When the page turns where there is room for one system: by halves, ahead of the eye."""

from __future__ import annotations

import itertools
import zlib
from collections.abc import Iterator

import numpy
import pytest
from pygame import Rect

from tools import staging
from trainer.listening.clock import now
from trainer.listening.press import Press
from trainer.music.piece import Piece
from trainer.scores.engraving import engraving
from trainer.scores.engraving.engraving import Staff
from trainer.scores.reading import read
from trainer.scores.shelf.library import find
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.page import folding
from trainer.window.page.music import Score, System
from trainer.window.page.turning import Part, parts_of, shown_systems, slot_corners
from trainer.window.paint import layout
from trainer.window.settings import Settings
from trainer.window.stand.stand import Stand
from trainer.window.workroom import fitting
from trainer.window.workroom.inking import Ink

CHORALE = "der-mond-ist-aufgegangen"


@pytest.fixture(scope="module", autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


@pytest.fixture(scope="module")
def stand() -> Stand:
    """A choir of four over the piano, in large text: one system at once."""
    stand = staging.stand_of(house_of((1280, 720), Settings(scale=150)), "day-comes-up-the-hill", "Eb")
    stand.house.draw()
    stand.house.draw()
    return stand


def score_of(stand: Stand) -> Score:
    assert stand.page.score is not None
    assert stand.page.slots == 1
    assert len(stand.page.score.systems) > 3
    return stand.page.score


def bars_in(score: Score, part: Part) -> list[int]:
    return [
        bar for bar, left, right in score.systems[part.at].bars if left >= part.left - 1 and right <= part.right + 1
    ]


def bar_of(score: Score, place: int) -> int:
    return score.piece.bar_index(score.piece.moments[place].onset)


def test_the_next_bar_is_always_in_sight_and_so_is_the_one_before(stand: Stand) -> None:
    score = score_of(stand)
    ends = {system.bars[-1][0] for system in score.systems[:-1]}
    for place in range(len(score.piece.moments)):
        bar = bar_of(score, place)
        shown = [one for part in parts_of(score, place) for one in bars_in(score, part)]
        assert bar in shown
        assert bar + 1 in shown or bar + 1 == len(score.piece.bars)
        # What was just played and marked may be looked at once more.
        assert bar - 1 in shown or bar - 1 in ends or bar in ends or bar == 0


def test_the_parts_do_not_lie_on_each_other_and_what_was_turned_to_stays_where_it_is(stand: Stand) -> None:
    score = score_of(stand)
    before: list[Part] = []
    folds = 0
    for place in range(len(score.piece.moments)):
        parts = parts_of(score, place)
        if len(parts) == 2:
            folds += 1
            assert parts[0].left == 0 < parts[0].right < parts[1].left
            assert parts[0].at == parts[1].at + 1
        if len(before) == 2:
            # The beginning that stands at the left is taken away by nothing but its own end.
            assert parts[0].at == before[0].at
            assert parts[0].right >= before[0].right
        before = parts
    assert folds


def test_a_restart_far_back_shows_the_system_from_its_beginning(stand: Stand) -> None:
    score = score_of(stand)
    first = next(at for at in range(len(score.piece.moments)) if bar_of(score, at) == score.systems[2].bars[0][0])
    assert bars_in(score, parts_of(score, first)[0])[0] == score.systems[2].bars[0][0]
    assert parts_of(score, 0) == [Part(0, 0, score.systems[0].size[0])]


def test_words_of_both_halves_are_whole_and_lie_apart(stand: Stand) -> None:
    house: House = stand.house
    score, practice = score_of(stand), stand.practice
    assert practice is not None
    last = score.systems[0].bars[-1][0]
    for note in sorted(practice.wish.expected.notes, key=lambda one: one.onset):
        if score.piece.bar_index(note.onset) < last:
            house.hear(Press(float(note.onset) * 0.6, note.midi, 64), now())
    parts = parts_of(score, stand.place)
    assert len(parts) == 2
    canvas, _ = house.laid()
    syllables = [box for box in canvas.boxes if box.name.startswith("ribbon.")]
    assert {int(box.name.split(".")[1]) for box in syllables} == {0, 1}
    fold = next(box.rect for box in canvas.boxes if box.name == "music.fold")
    for box in syllables:
        assert box.extent is not None
        own = int(box.name.split(".")[1]) == parts[0].at
        assert (box.extent.right <= fold.left) if own else (box.extent.right > fold.right)
    pictures = [box.rect for box in canvas.boxes if box.name.startswith("music.") and box is not fold]
    assert pictures[0].clip(pictures[1]).width == 0


def test_of_a_bar_that_has_no_room_yet_the_first_notes_are_in_sight() -> None:
    """Two broad bars a system, as in half a window."""
    stand = staging.stand_of(house_of((960, 1000)), CHORALE, "Eb")
    stand.house.draw()
    stand.house.draw()
    score = score_of(stand)
    for system in score.systems[:-1]:
        bar = system.bars[-1][0]
        place = next(at for at in range(len(score.piece.moments)) if bar_of(score, at) == bar)
        parts = parts_of(score, place)
        assert len(parts) == 2
        assert parts[0].right < parts[1].left
        coming = score.systems[parts[0].at]
        assert any(x < parts[0].right - coming.space for x, _ in coming.heads.values())


def folds_of(stand: Stand) -> list[list[Part]]:
    """All pairs of parts of a piece as it is played through."""
    score = score_of(stand)
    found: list[list[Part]] = []
    for place in range(len(score.piece.moments)):
        parts = parts_of(score, place)
        if len(parts) == 2 and parts not in found:
            found.append(parts)
    return found


def test_where_the_page_is_folded_words_stay_whole_and_slurs_are_cut() -> None:
    dark = numpy.zeros((200, 180), dtype=numpy.uint8)
    for line in (*range(20, 45, 6), *range(76, 101, 6), *range(132, 157, 6)):
        dark[5:195, line] = 255
    # A singer's barline, and that of the piano.
    dark[100, 20:45] = dark[100, 76:157] = 255
    # A word whose greater part stands before the barline, one that stands after it, a dynamic, and a slur.
    before, after = (slice(84, 104), slice(52, 58)), (slice(97, 118), slice(64, 70))
    dynamic, slur = (slice(97, 112), slice(110, 118)), (slice(50, 170), slice(8, 10))
    for columns, rows in (before, after, dynamic, slur):
        dark[columns, rows] = 255
    # Between its letters there is a little air.
    dark[108, after[1]] = 0
    staves = tuple(Staff(top, top + 24.0, None) for top in (20.0, 76.0, 132.0))
    drawn = engraving.System(200, 180, "", staves, (), (), 5.0, 195.0, 10.0)
    ink = Ink(200, 180, zlib.compress(dark.T.tobytes()))
    bars = ((0, 5.0, 100.0), (1, 100.0, 195.0))
    system = System((200, 180), ink, 6.0, (), {}, bars, 10.0)
    score = Score(Piece("", (), (), ()), (system,), engraving.Engraved((drawn,), engraving.Look(200, 24.0)))
    left, right = Part(0, 0, 100), Part(0, 100, 200)
    assert folding._kept(score, left)[before].all()
    assert not folding._kept(score, right)[before].any()
    assert folding._kept(score, right)[after][dark[after] > 0].all()
    assert not folding._kept(score, left)[after][dark[after] > 0].any()
    assert folding._kept(score, right)[dynamic].all()
    assert not folding._kept(score, left)[dynamic].any()
    assert folding.reach(score, right) == Rect(97, 0, 103, 180)
    assert folding.reach(score, left) == Rect(0, 0, 104, 180)
    # What leads on over the barline is shown as far as that, and the barline by the part that it begins.
    assert not folding._kept(score, left)[100:, slur[1]].any()
    assert folding._kept(score, left)[50:100, slur[1]].all()
    assert folding._kept(score, right)[100, 76:157].all()


def test_the_end_of_a_system_says_which_bar_it_begins_with_and_its_rule_strikes_nothing(stand: Stand) -> None:
    house, score = stand.house, score_of(stand)
    stand.again()
    house.draw()
    for parts in folds_of(stand):
        bar = bars_in(score, parts[1])[0]
        place = next(
            at for at in range(len(score.piece.moments)) if bar_of(score, at) >= bar and parts_of(score, at) == parts
        )
        with pytest.MonkeyPatch.context() as patched:
            patched.setattr(Stand, "place", place)
            canvas, _ = house.laid()
        number = next(box for box in canvas.boxes if box.name == "music.number")
        assert number.text == str(score.piece.bars[bar].number)
        first = score.engraved.systems[parts[1].at].staves[0]
        music = next(box.rect for box in canvas.boxes if box.name == f"music.{parts[1].at}")
        assert number.rect.bottom < music.top + first.top
        fold = next(box.rect for box in canvas.boxes if box.name == "music.fold")
        assert not [box.text for box in canvas.boxes if box.extent and box.text and box.extent.colliderect(fold)]


@pytest.fixture(scope="module")
def tall() -> Stand:
    """A window as on a screen stood on end."""
    stand = staging.stand_of(house_of((1080, 1920), Settings()), "petzold-minuet-in-g", "Eb")
    stand.house.draw()
    stand.house.draw()
    return stand


def test_a_tall_window_has_a_page_of_systems_with_several_bars_each(tall: Stand) -> None:
    score = tall.page.score
    assert score is not None
    assert tall.page.slots > 2
    assert min(len(system.bars) for system in score.systems) > 2
    canvas, _ = tall.house.laid()
    music = sorted((box.rect for box in canvas.boxes if box.name.startswith("music.")), key=lambda rect: rect.top)
    assert len(music) == tall.page.slots
    assert all(upper.bottom <= lower.top + 1 for upper, lower in itertools.pairwise(music))


def test_in_a_tall_window_the_music_has_all_the_room_down_to_the_keyboard(tall: Stand) -> None:
    canvas, _ = tall.house.laid()
    for keys in (49, 61, 88):
        places = layout.stand(canvas, keys, margin=True)
        assert places.keys.top - places.caption.bottom < canvas.unit / 2
        assert places.caption.top - places.music.bottom < canvas.unit / 2


@pytest.mark.parametrize("slots", [2, 3, 4])
def test_however_many_stand_there_the_next_is_among_them_and_each_keeps_its_place(tall: Stand, slots: int) -> None:
    score = tall.page.score
    assert score is not None
    room, places = Rect(0, 0, 900, 1700), dict[int, int]()
    last = len(score.systems) - 1
    for place in range(len(score.piece.moments)):
        shown = shown_systems(score, place, slots)
        here = score.system_at(place)
        assert len(set(shown)) == slots
        assert here in shown
        first = bar_of(score, place) == score.systems[here].bars[0][0]
        assert min(here + 1, last) in shown or (first and slots == 2)
        assert not first or max(here - 1, 0) in shown
        for at, (_, top) in zip(shown, slot_corners(room, score, shown), strict=True):
            assert places.setdefault(at, top) == top


def test_where_a_third_system_has_no_room_two_stand_with_all_they_have() -> None:
    piece = read(find("petzold-minuet-in-g"))
    look = engraving.Look(1040, 36.0, ribbon_px=23.0, expression=True)
    assert fitting.room_for([200, 120, 130], 3) == 600
    two = fitting.room_for([system.height for system in engraving.engrave(piece, look).systems], 2)
    found = fitting.fitting(piece, look, fitting.Room(3, round(two) + 4, 34.0, 60.0))
    assert (found.staff_px, found.stacked, found.expression) == (36.0, True, True)
