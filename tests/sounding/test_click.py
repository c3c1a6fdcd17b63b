"""Count-in and click."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from tests.music.tunes import tune
from trainer.music.piece import Bar, Piece
from trainer.music.pitch import MusicError
from trainer.sounding.click import ACCENT, BEAT, SUBDIVISION, ClickTrack, click
from trainer.sounding.voice import HIGH_BLOCK, LOW_BLOCK, PERCUSSION

FOUR_BARS = replace(tune("C", " ".join(["C4"] * 16)), tempo=120.0)


def metered(meter: tuple[int, int], bars: int, pickup: Fraction = Fraction(0)) -> Piece:
    whole = Fraction(4 * meter[0], meter[1])
    made = [Bar(0, Fraction(0), pickup, meter)] if pickup else []
    made += [Bar(n + 1, pickup + n * whole, whole, meter) for n in range(bars)]
    return replace(tune("C", "C4"), bars=tuple(made), tempo=60.0)


def test_a_bar_is_counted_and_every_beat_clicks() -> None:
    track = click(FOUR_BARS)
    assert track.begins == pytest.approx(2.0)
    assert track.counted == (1, 2, 3, 4)
    assert [beat.at for beat in track.beats] == pytest.approx([0.5 * n for n in range(20)])
    assert [beat.onset for beat in track.beats] == [Fraction(n) for n in range(-4, 16)]
    assert [beat.weight == ACCENT for beat in track.beats] == [n % 4 == 0 for n in range(20)]


def test_strokes_are_wood_blocks_on_the_percussion_channel() -> None:
    notes = click(FOUR_BARS).schedule.notes
    assert {note.channel for note in notes} == {PERCUSSION}
    assert [note.pitch for note in notes[:5]] == [HIGH_BLOCK, LOW_BLOCK, LOW_BLOCK, LOW_BLOCK, HIGH_BLOCK]


def test_subdivisions_are_lighter() -> None:
    track = click(FOUR_BARS, subdivision=2, count_in=0)
    assert [beat.weight for beat in track.beats[:4]] == [ACCENT, SUBDIVISION, BEAT, SUBDIVISION]
    assert len(track.beats) == 32


def test_compound_meters_click_dotted_beats() -> None:
    track = click(metered((6, 8), 2), count_in=1)
    assert [beat.onset for beat in track.beats] == [Fraction(3, 2) * n for n in range(-2, 4)]
    assert track.counted == (1, 2)


@pytest.mark.parametrize(("meter", "pickup", "first", "counted"), [
    ((4, 4), Fraction(1), Fraction(-7), (1, 2, 3, 4, 1, 2, 3)),
    ((3, 4), Fraction(1), Fraction(-5), (1, 2, 3, 1, 2)),
    ((4, 4), Fraction(1, 2), Fraction(-15, 2), (1, 2, 3, 4, 1, 2, 3, 4)),
    ((6, 8), Fraction(1, 2), Fraction(-11, 2), (1, 2, 1, 2)),
])  # fmt: skip
def test_before_a_pickup_the_missing_beats_are_counted_too(
    meter: tuple[int, int], pickup: Fraction, first: Fraction, counted: tuple[int, ...]
) -> None:
    track = click(metered(meter, 2, pickup))
    assert track.beats[0].onset == first
    assert track.counted == counted
    assert track.beats[0].at == 0.0
    assert track.begins == pytest.approx(float(-first))
    accents = [beat.onset for beat in track.beats if beat.weight == ACCENT and beat.onset >= 0]
    assert accents == [pickup, pickup + Fraction(4 * meter[0], meter[1])]


def accents(track: ClickTrack) -> list[Fraction]:
    return [beat.onset for beat in track.beats if beat.weight == ACCENT and beat.onset >= 0]


@pytest.mark.parametrize("numbers", [(0, 1, 2, 0, 1, 2, 2, 3, 4), (1, 2, 3, 1, 2, 3, 3, 4, 5)])
def test_a_pickup_is_no_first_beat_where_a_repeat_comes_back_to_it(numbers: tuple[int, ...]) -> None:
    """``|:G|cccc|c3:|:G|cccc|c3|``, its pickup numbered or not: the first beats are those after each."""
    lengths = (1, 4, 3, 1, 4, 3, 1, 4, 3)
    onsets = [Fraction(sum(lengths[:at])) for at in range(len(lengths))]
    bars = tuple(Bar(n, on, Fraction(q)) for n, on, q in zip(numbers, onsets, lengths, strict=True))
    piece = replace(tune("C", " ".join(["C4"] * 24)), bars=bars, tempo=60.0)
    assert accents(click(piece)) == [1, 5, 9, 13, 17, 21]
    assert accents(click(piece, (3, 5))) == [9, 13]
    assert click(piece, (3, 5)).counted == (1, 2, 3, 4, 1, 2, 3)


def test_a_last_bar_that_ends_early_begins_with_its_first_beat() -> None:
    whole = metered((3, 4), 3, Fraction(1))
    bars = (*whole.bars[:-1], replace(whole.bars[-1], length=Fraction(2)))
    piece = replace(tune("C", " ".join(["C4"] * 9)), bars=bars, tempo=60.0)
    track = click(piece, (3, 3))
    assert track.counted == (1, 2, 3)
    assert accents(track) == [7]


@pytest.mark.parametrize(("beats", "counted"), [(27, (1, 2, 3, 4)), (3, (1, 2, 3)), (1, (1,))])
def test_before_music_without_a_meter_no_bar_of_it_is_counted_through(beats: int, counted: tuple[int, ...]) -> None:
    piece = metered((beats, 4), 1)
    free = replace(piece, bars=tuple(replace(bar, symbol="unshown") for bar in piece.bars))
    track = click(free, count_in=1)
    assert track.counted == counted
    assert track.begins == pytest.approx(len(counted))
    assert len(track.beats) == len(counted) + beats


def test_silent_bars_come_and_go() -> None:
    track = click(FOUR_BARS, silent=(1, 1))
    assert [int(beat.onset // 4) for beat in track.beats if beat.onset >= 0] == [0] * 4 + [2] * 4


def test_tempo_changes_are_followed() -> None:
    slowing = replace(FOUR_BARS, tempi=((Fraction(0), 120.0), (Fraction(8), 60.0)))
    steps = [b.at - a.at for a, b in zip(click(slowing).beats, click(slowing).beats[1:], strict=False)]
    assert steps == pytest.approx([0.5] * 12 + [1.0] * 7)


def test_some_bars_at_their_own_tempo() -> None:
    slowing = replace(FOUR_BARS, tempi=((Fraction(0), 120.0), (Fraction(8), 60.0)))
    track = click(slowing, bars=(2, 2))
    assert track.begins == pytest.approx(4.0)
    assert [beat.onset for beat in track.beats if beat.onset >= 8] == [8, 9, 10, 11]
    assert [beat.at for beat in track.beats] == pytest.approx([float(n) for n in range(8)])


@pytest.mark.parametrize("wish", [{"subdivision": 5}, {"count_in": -1}, {"silent": (0, 2)}, {"tempo": 9000.0}])
def test_what_makes_no_sense_is_refused(wish: dict[str, Any]) -> None:
    with pytest.raises(MusicError):
        click(FOUR_BARS, **wish)
