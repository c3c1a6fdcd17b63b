"""When the page turns where there is room for one system: by halves, ahead of the eye."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tools import staging
from trainer.listening.clock import now
from trainer.listening.press import Press
from trainer.window.house import House
from trainer.window.music import Score
from trainer.window.settings import Settings
from trainer.window.stand import Stand
from trainer.window.still import house_of
from trainer.window.turning import Part, parts_of


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
    stand = staging.stand_of(house_of((960, 1080)), "der-mond-ist-aufgegangen", "Eb")
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
