"""The glimpse while something else changes: it always shows the key that is to be played, and a take tells of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from tests.window.page.test_drawing import Later, stand_with
from tools import staging
from trainer.music.piece import Piece
from trainer.music.transpose import plan
from trainer.scores.reading import read
from trainer.scores.shelf.library import find
from trainer.session import A_TEMPO, PRIMA_VISTA
from trainer.window.stand.stand import Stand
from trainer.window.wish import Wish


@pytest.fixture(scope="module", autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


@pytest.fixture
def piece() -> Piece:
    """Without fingers: another key needs no other page."""
    found = read(find("greensleeves"))
    return found.with_notes(replace(note, finger=None) for note in found.notes)


def all_done(stand: Stand, room: Later) -> None:
    stand.house.draw()
    while room.jobs:
        room.done()
        stand.house.draw()


def seen(stand: Stand) -> object:
    """The key of the page glimpsed at, as long as there is one."""
    return stand.page.glimpse.piece.key if stand.page.glimpse is not None else None


def test_a_glimpse_that_comes_after_the_key_has_changed_is_not_taken_for_that_of_the_new_one(piece: Piece) -> None:
    stand, room = stand_with(piece)
    all_done(stand, room)
    stand.glimpse(True)
    stand.glimpse(False)
    stand.orders.rekey(1)
    all_done(stand, room)
    assert seen(stand) is None
    stand.glimpse(True)
    all_done(stand, room)
    assert stand.practice is not None
    assert seen(stand) == stand.practice.wish.plan.target


def test_nor_is_one_of_the_piece_before(piece: Piece) -> None:
    stand, room = stand_with(piece)
    all_done(stand, room)
    stand.glimpse(True)
    other = read(find("ode-to-joy"))
    stand.play(Wish(other, plan(other.key, "-2")))
    stand.house.draw()
    assert room.done() == "glimpsed"
    assert seen(stand) is None
    all_done(stand, room)
    assert seen(stand) is None


def test_held_while_the_key_changes_it_shows_the_new_key_and_the_new_take_tells_of_it(piece: Piece) -> None:
    stand, room = stand_with(piece)
    all_done(stand, room)
    stand.glimpse(True)
    all_done(stand, room)
    stand.orders.rekey(1)
    all_done(stand, room)
    assert stand.glimpsing
    assert stand.practice is not None
    assert stand.practice.glimpsed
    assert seen(stand) == stand.practice.wish.plan.target


def test_held_while_a_take_begins_anew_that_take_tells_of_it(piece: Piece) -> None:
    stand, room = stand_with(piece)
    all_done(stand, room)
    stand.change(replace(stand.house.on_stand or Wish(piece, plan(piece.key, "+0")), mode=A_TEMPO))
    stand.again()
    stand.glimpse(True)
    stand.again()
    assert stand.practice is not None
    assert stand.practice.glimpsed


def test_held_into_playing_at_sight_it_is_over(piece: Piece) -> None:
    stand, room = stand_with(piece)
    all_done(stand, room)
    stand.glimpse(True)
    stand.change(replace(stand.house.on_stand or Wish(piece, plan(piece.key, "+0")), mode=PRIMA_VISTA))
    assert not stand.glimpsing
