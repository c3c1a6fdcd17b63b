"""A piece with a repeat and two endings: where one is, how far one went, and what is heard, told by bar and time."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Any

import pytest

from tools import staging
from trainer.following.reach import Reach
from trainer.listening.clock import now
from trainer.listening.press import Press
from trainer.music.piece import Piece
from trainer.music.transpose import plan
from trainer.scores import reading
from trainer.session import A_TEMPO
from trainer.sounding.click import click
from trainer.sounding.model import model
from trainer.window import barwords
from trainer.window.copy.copy import Copy
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.stand.stand import Stand
from trainer.window.wish import Wish

TUNE = b"X:1\nT:Twice\nM:3/4\nL:1/4\nK:F\nC|:FGA|GAB|cBA|1 G3:|2 F3|]\n"


@pytest.fixture(scope="module", autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


@pytest.fixture
def twice() -> Piece:
    piece = reading.from_bytes(TUNE, "twice.abc")
    assert [bar.number for bar in piece.bars] == [0, 1, 2, 3, 4, 1, 2, 3, 5]
    return piece


def on_stand(piece: Piece, **wish: Any) -> tuple[House, Stand]:
    house = house_of((1280, 800))
    stand = house.screen_of(Stand)
    stand.play(Wish(piece, plan(piece.key, "Eb"), **wish))
    house.draw()
    return house, stand


def place(house: House) -> str:
    house.draw()
    assert house.canvas is not None
    return next(box.text for box in house.canvas.boxes if box.name == "head.place")


def test_the_stand_says_which_time_a_bar_is_played(twice: Piece) -> None:
    house, stand = on_stand(twice)
    assert stand.practice is not None
    said = [place(house)]
    for note in stand.practice.wish.expected.notes:
        house.hear(Press(now() + float(note.onset), note.midi, 64), now())
        said.append(place(house))
    assert list(dict.fromkeys(said)) == [
        "upbeat, then 5 bars with repeats", "bar 1 of 5", "bar 2 of 5", "bar 3 of 5", "bar 4 of 5",
        "bar 1 (second time)", "bar 2 (second time)", "bar 3 (second time)", "bar 5 of 5",
    ]  # fmt: skip


def test_how_far_one_went_is_told_by_bar_and_time(twice: Piece) -> None:
    def told(first: int, last: int) -> str:
        return barwords.reached(twice, Reach(first, last, 0.5, False))

    assert told(1, 3) == "bars 1 to 3 of 5"
    assert told(1, 6) == "bar 1 to bar 2 (second time)"
    assert told(5, 7) == "bars 1 to 3 (second time)"
    assert told(5, 5) == "bar 1 (second time)"


def test_two_halves_of_a_bar_are_played_once() -> None:
    piece = reading.from_bytes(b"X:1\nT:Halves\nM:4/4\nL:1/4\nK:F\nF2|:FGAB|c2:|d2|e4|]\n", "halves.abc")
    assert any(first.number == second.number for first, second in zip(piece.bars, piece.bars[1:], strict=False))
    rounds = [(bar.number, times) for bar, times in zip(piece.bars, piece.times_round, strict=True)]
    assert max(time for _, time in rounds) == 2
    assert rounds[-1][1] == 1


@pytest.mark.parametrize("loop", [(4, 5), (5, 6)])
def test_a_loop_in_the_second_time_is_led_and_heard_where_it_stands(twice: Piece, loop: tuple[int, int]) -> None:
    onset = twice.bars[loop[0]].onset
    assert model(twice, bars=loop).places[0] == (0.0, onset)
    track = click(twice, loop)
    assert min(beat.onset for beat in track.beats if beat.onset >= 0 and beat.at >= track.begins) == onset
    house, stand = on_stand(twice, mode=A_TEMPO, loop=loop)
    stand.again()
    house.draw()
    assert stand.practice is not None
    assert stand.practice.wish.span[0] == onset > Fraction(0)


def test_the_marked_copy_plays_the_second_time_from_its_own_bar(twice: Piece) -> None:
    house, stand = on_stand(twice)
    assert stand.practice is not None
    for note in stand.practice.wish.expected.notes:
        house.hear(Press(float(note.onset) * 0.7, note.midi, 64), now())
    stand.stop()
    house.go("copy")
    house.draw()
    assert isinstance(house.screen, Copy)
    playback = house.screen.playback
    assert playback is not None
    playback.choose(6)
    assert playback.schedule("played", 6).places[0][1] == twice.bars[6].onset
    assert playback.schedule("meant", 6).places[0][1] == twice.bars[6].onset
    house.draw()
    assert house.canvas is not None
    assert any("bar 2 (second time)" in box.text for box in house.canvas.boxes if box.text)
