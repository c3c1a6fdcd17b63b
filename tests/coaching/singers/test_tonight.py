"""Tonight: readiness and hard bars come from this player's journal."""

from __future__ import annotations

import pathlib
from collections.abc import Iterator
from datetime import datetime, timedelta

import pytest

from tests.journal.played import play
from trainer.coaching.singers.setlist import Occasion, Song, demo
from trainer.coaching.singers.tonight import ready, slips_by_bar
from trainer.coaching.singers.warmup import BARS, Tonight, warm_up
from trainer.journal.store import Journal
from trainer.music.keys import Key
from trainer.music.transpose import plan
from trainer.scores import reading
from trainer.scores.shelf import library

NOW = datetime.now().astimezone()
PIECE = reading.read(library.find("aura-lee"))


@pytest.fixture
def journal(tmp_path: pathlib.Path) -> Iterator[Journal]:
    with Journal(tmp_path / "j.sqlite") as made:
        yield made


def test_slips_are_counted_by_bar_in_this_key_by_this_player(journal: Journal) -> None:
    number = PIECE.bar_at(PIECE.notes[20].onset).number
    for ago in (3, 2):
        play(journal, "A", piece=PIECE, player="Ada", slips={20: "step"}, began=NOW - timedelta(days=ago))
    play(journal, "F", piece=PIECE, player="Ada", slips={0: "step"}, began=NOW)
    play(journal, "A", piece=PIECE, player="Ben", slips={0: "step"}, began=NOW)
    assert slips_by_bar(journal, "Ada", PIECE, Key.parse("A")) == {number: 1.0}
    assert slips_by_bar(journal, "Ada", PIECE, Key.parse("B")) == {}


def test_the_warm_up_goes_where_it_slipped(journal: Journal) -> None:
    play(journal, "A", piece=PIECE, player="Ada", slips={20: "step"}, began=NOW)
    move = plan(PIECE.key, "A")
    song = Tonight(PIECE, move, slips_by_bar(journal, "Ada", PIECE, move.target))
    spot = next(step for step in warm_up([song], 5) if step.kind == BARS)
    assert "where it slipped before" in spot.words
    assert f"bar {PIECE.bar_at(PIECE.notes[20].onset).number}" in spot.words.replace("bars", "bar")


def test_readiness_in_the_order_of_the_set(journal: Journal) -> None:
    for _ in range(3):
        play(journal, "A", piece=PIECE, player="Ada", began=NOW)
    occasion = demo(NOW.date()).occasions[0]
    found = ready(journal, "Ada", occasion, NOW.date())
    assert [one.song for one in found] == list(occasion.songs)
    assert [one.share for one in found] == [1.0, 0.0, 0.0]


def test_a_wish_as_an_interval_is_understood_from_the_takes(journal: Journal) -> None:
    play(journal, "E", piece=PIECE, player="Ada", began=NOW)
    down = Occasion("x", NOW.date(), (Song("aura-lee", "Aura Lee", "-m3"),))
    assert ready(journal, "Ada", down, NOW.date())[0].takes == 1
