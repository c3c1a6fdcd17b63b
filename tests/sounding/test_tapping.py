"""The offset found by tapping."""

from __future__ import annotations

import random

import pytest

from trainer.listening.press import Press
from trainer.sounding.tapping import ENOUGH, LEAD_IN, TAPS, TEMPO, Tapping, beats, offset


def tapped(shift: float, spread: float, seed: int = 1, missing: int = 0) -> Tapping:
    rng, tapping, step = random.Random(seed), Tapping(100.0), 60.0 / TEMPO
    for number in range(LEAD_IN + TAPS - missing):
        tapping.hear(Press(100.0 + number * step + rng.gauss(shift, spread), 60))
    return tapping


@pytest.mark.parametrize("shift", [-0.06, 0.0, 0.035, 0.18])
def test_the_offset_is_found(shift: float) -> None:
    found = tapped(shift, 0.015).result()
    assert found is not None
    assert found.seconds == pytest.approx(shift, abs=0.012)
    assert 0.005 < found.spread < 0.04
    assert found.taps == TAPS


def test_a_double_tap_and_a_missed_one_do_no_harm() -> None:
    tapping = tapped(0.02, 0.001, missing=3)
    tapping.hear(Press(100.0 + 8 * 60.0 / TEMPO + 0.15, 60))
    found = tapping.result()
    assert found is not None
    assert found.seconds == pytest.approx(0.02, abs=0.002)
    assert found.taps == TAPS - 3


def test_of_two_taps_at_every_beat_the_nearer_counts() -> None:
    tapping = tapped(0.02, 0.0)
    for number in range(LEAD_IN, LEAD_IN + TAPS):
        tapping.hear(Press(100.0 + number * 60.0 / TEMPO + 0.15, 60))
    found = tapping.result()
    assert found is not None
    assert found.seconds == pytest.approx(0.02)


def test_too_few_or_beatless_taps_give_nothing() -> None:
    assert tapped(0.0, 0.01, missing=TAPS - ENOUGH + 1).result() is None
    rng = random.Random(3)
    assert offset(rng.uniform(-0.3, 0.3) for _ in range(16)) is None


def test_words() -> None:
    found = offset([-0.04] * 16)
    assert found is not None
    assert found.words.startswith("40 ms early, half of 16 taps within 0 ms")
    assert len(beats().notes) == LEAD_IN + TAPS
