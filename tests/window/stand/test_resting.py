"""A take or a loop begun at a bar where a hand rests, or comes in late."""

from __future__ import annotations

import pathlib
from collections.abc import Iterator
from dataclasses import replace

import pytest

from tools import staging
from trainer.listening.press import Press
from trainer.music.piece import BOTH, LEFT
from trainer.music.piece import RIGHT as RIGHT_HAND
from trainer.music.transpose import plan
from trainer.scores.reading import read
from trainer.session import SENZA_MISURA
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.stand.stand import Stand
from trainer.window.wish import Wish


@pytest.fixture(scope="module", autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


@pytest.fixture
def house() -> House:
    return house_of((1280, 800))


def stand_of(house: House, folder: pathlib.Path, text: str, hands: str) -> Stand:
    """The Stand with a tune in C asked for in D."""
    tune = folder / "tune.abc"
    tune.write_text(text, encoding="utf-8")
    piece = read(tune)
    stand = house.screen_of(Stand)
    stand.play(Wish(piece, plan(piece.key, "D"), hands, SENZA_MISURA, 120))
    house.draw()
    return stand


# The left hand rests from the third bar on.
RESTS = (
    "X:1\nT:Left Goes First\nM:4/4\nL:1/4\nQ:1/4=120\n%%score {R L}\nV:R clef=treble\nV:L clef=bass\nK:C\n"
    "[V:R] C D E F|G F E D|C D E F|G4|E D C2|C4|]\n[V:L] C,4|C,4|z4|z4|z4|z4|]\n"
)


# The left hand comes in after the beat, and rests in the third and the fourth bar.
AFTER = (
    "X:1\nT:After the Beat\nM:4/4\nL:1/4\nQ:1/4=120\n%%score {R L}\nV:R clef=treble\nV:L clef=bass\nK:C\n"
    "[V:R] C D E F|G F E D|C D E F|G4|E D C2|C4|]\n[V:L] z C, E, C,|z C, E, C,|z4|z4|z C, E, C,|z C, E, C,|]\n"
)


# Nothing is to be played before the third bar.
INTRODUCED = "X:1\nT:After Two Bars\nM:4/4\nL:1/4\nK:C\nz4|z4|C D E F|z4|C4|C4|]\n"


def test_a_loop_is_moved_past_bars_in_which_the_hand_rests(house: House, tmp_path: pathlib.Path) -> None:
    """It came to lie on bars with nothing to play, in which a take never ended."""
    stand = stand_of(house, tmp_path, AFTER, LEFT)
    stand.change(replace(stand.orders.placing._practice.wish, loop=(1, 1)))
    came = []
    for by in (1, 1, 1, -1, -1, -1, -1):
        stand.orders.placing.step(by)
        assert stand.practice is not None
        came.append(stand.practice.wish.loop)
    assert came == [(4, 4), (5, 5), (5, 5), (4, 4), (1, 1), (0, 0), (0, 0)]
    # Pointed at, they are no place for it either.
    stand.orders.placing.at(2)
    assert stand.practice is not None
    assert stand.practice.wish.loop == (0, 0)


def test_a_loop_whose_first_bar_rests_goes_on_from_that_bar(house: House, tmp_path: pathlib.Path) -> None:
    stand = stand_of(house, tmp_path, INTRODUCED, BOTH)
    stand.change(replace(stand.orders.placing._practice.wish, loop=(0, 2)))
    stand.orders.placing.step(1)
    assert stand.practice is not None
    assert stand.practice.wish.loop == (1, 3)
    assert house.notice is not None
    assert house.notice.words == "bars 2 to 4, round and round"


def test_a_bar_from_which_on_the_hand_rests_is_not_begun_at(house: House, tmp_path: pathlib.Path) -> None:
    stand = stand_of(house, tmp_path, RESTS, LEFT)
    stand.orders.placing.at(1)
    stand.orders.placing.at(3)
    assert stand.practice is not None
    assert stand.practice.wish.start == 1


def test_a_hand_that_rests_from_the_chosen_bar_on_plays_from_the_beginning(
    house: House, tmp_path: pathlib.Path
) -> None:
    stand = stand_of(house, tmp_path, RESTS, RIGHT_HAND)
    for _ in range(4):
        stand.orders.placing.step(1)
    stand.orders.hands()
    assert stand.practice is not None
    wish = stand.practice.wish
    assert (wish.hands, wish.start) == (LEFT, 0)
    assert house.notice is not None
    assert house.notice.words == "From the beginning."
    for at, note in enumerate(note for note in wish.expected.notes if note.hand == LEFT):
        house.hear(Press(float(at), note.midi, 64), float(at))
    assert stand.practice.finished, "all the left hand has is played, and the take never ended"
    # Where it has notes to come the bar stays, and nothing is said of it.
    stand.orders.placing.at(1)
    house.notice = None
    stand.orders.hands()
    assert stand.practice.wish.start == 1
    assert house.notice is None


@pytest.mark.parametrize(("text", "hands"), [(AFTER, LEFT), (INTRODUCED, BOTH)])
def test_page_up_goes_back_past_bars_a_hand_comes_late_into_or_rests_in(
    house: House, tmp_path: pathlib.Path, text: str, hands: str
) -> None:
    stand = stand_of(house, tmp_path, text, hands)
    stand.orders.placing.at(5)
    came = []
    for _ in range(5):
        stand.orders.placing.step(-1)
        assert stand.practice is not None
        came.append(stand.practice.wish.start)
    assert came == [4, 3, 2, 1, 0]


def test_a_hand_that_rests_after_the_loop_it_was_chosen_in_plays_from_the_beginning(
    house: House, tmp_path: pathlib.Path
) -> None:
    stand = stand_of(house, tmp_path, RESTS, RIGHT_HAND)
    stand.orders.placing.at(3)
    stand.orders.loop()
    stand.orders.hands()
    assert stand.practice is not None
    while stand.practice.wish.loop is not None:
        stand.orders.loop()
    wish = stand.practice.wish
    assert (wish.hands, wish.start, wish.span[0]) == (LEFT, 0, 0)
    assert house.notice is not None
    assert house.notice.words == "the whole piece"
