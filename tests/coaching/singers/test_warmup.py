"""The warm-up: every key of tonight, every song's start, the bars that go wrong, in just so many minutes."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.music.tunes import tune
from trainer.coaching.singers.warmup import (
    BARS,
    CADENCE,
    PENTASCALE,
    START,
    STEP_MINUTES,
    Tonight,
    hard_bars,
    some_bars,
    warm_up,
)
from trainer.music.keys import Key
from trainer.music.piece import KeyChange
from trainer.music.pitch import MusicError
from trainer.music.transpose import plan

TUNE = tune("G", " ".join(["G4 A4 B4 A4"] * 3 + ["G4 B5 F#4 C#5"] + ["G4 A4 B4 G4"] * 2))


def tonight(wish: str = "Eb", slips: dict[int, int] | None = None) -> Tonight:
    return Tonight(TUNE, plan(TUNE.key, wish), slips or {})


@pytest.mark.parametrize("minutes", [2, 5, 10, 12.5, 60])
@pytest.mark.parametrize("songs", [1, 3])
def test_the_minutes_are_kept(minutes: float, songs: int) -> None:
    steps = warm_up([tonight(wish) for wish in ("Eb", "A", "F")[:songs]], minutes)
    assert sum(step.minutes for step in steps) == pytest.approx(minutes, abs=STEP_MINUTES)
    assert all(step.minutes >= STEP_MINUTES for step in steps)


def test_every_key_once_then_every_song() -> None:
    steps = warm_up([tonight("Eb"), tonight("Eb"), tonight("A")], 15)
    kinds = [step.kind for step in steps]
    assert kinds.count(PENTASCALE) == kinds.count(CADENCE) == 2
    assert kinds.count(START) == 3
    order = (PENTASCALE, CADENCE, START, BARS)
    assert kinds == sorted(kinds, key=order.index)
    assert {step.piece.key.short for step in steps if step.kind == PENTASCALE} == {"Eb", "A"}


def test_a_start_is_the_first_notes_held() -> None:
    start = next(step for step in warm_up([tonight()], 5) if step.kind == START)
    assert [note.pitch.name for note in start.piece.notes] == ["G4"]
    assert start.piece.key == Key.parse("G")
    assert start.transposition is not None
    assert start.transposition.target == Key.parse("Eb")


def test_slips_of_the_journal_say_which_bars() -> None:
    spots = [step for step in warm_up([tonight(slips={6: 4, 2: 3})], 5) if step.kind == BARS]
    assert "where it slipped before" in spots[0].words
    assert [step.piece.bars[0].number for step in spots] == [5, 2]


def test_without_a_journal_the_hardest_bar_is_found() -> None:
    heat = hard_bars(TUNE)
    assert max(heat, key=lambda bar: heat[bar]) == 3
    spot = next(step for step in warm_up([tonight()], 5) if step.kind == BARS)
    assert spot.piece.bars[0].number == 4
    assert "bars 4 and 5" in spot.words


def test_a_given_hardness_stands() -> None:
    spot = next(step for step in warm_up([tonight()], 5, lambda piece: {1: 9.0}) if step.kind == BARS)
    assert spot.piece.bars[0].number == 2


def test_a_key_and_a_tempo_that_change_within_the_bars_change_there() -> None:
    """The third bar turns to D and goes slower; in the warm-up, too, its C sharp belongs to the key."""
    turned = replace(
        TUNE,
        keys=(*TUNE.keys, KeyChange(Fraction(8), Key.parse("D"))),
        tempo=96.0,
        tempi=((Fraction(0), 96.0), (Fraction(8), 72.0)),
    )
    cut = some_bars(turned, 1, 3)
    assert [(change.onset, change.key.short) for change in cut.keys] == [(0, "G"), (4, "D")]
    assert (cut.tempo, cut.tempi) == (96.0, ((0, 96.0), (4, 72.0)))
    assert some_bars(turned, 2, 4).tempo == 72.0
    spot = next(step for step in warm_up([Tonight(turned, plan(turned.key, "Eb"), {2: 3})], 5) if step.kind == BARS)
    assert [change.key.short for change in spot.piece.keys] == ["G", "D"]


def test_some_bars_begin_at_nought_and_keep_their_key() -> None:
    cut = some_bars(TUNE, 3, 5)
    assert (cut.notes[0].onset, len(cut.notes), cut.bars[0].number, cut.key) == (0, 8, 4, TUNE.key)
    assert cut.length == 8


def test_too_little_time_drops_the_last_steps() -> None:
    steps = warm_up([tonight(wish) for wish in ("C", "D", "E", "F", "A", "B")], 2)
    assert len(steps) == 8
    assert {step.kind for step in steps} == {PENTASCALE, CADENCE}


@pytest.mark.parametrize(
    ("songs", "minutes", "says"),
    [([], 5, "no song"), ([tonight()], 1, "from 2 to 60"), ([tonight()], 61, "from 2 to 60")],
)
def test_refusals(songs: list[Tonight], minutes: int, says: str) -> None:
    with pytest.raises(MusicError, match=says):
        warm_up(songs, minutes)
