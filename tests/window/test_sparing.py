"""While somebody plays Python does not go through all there is again and again."""

from __future__ import annotations

import gc
from collections.abc import Iterator

import pytest

from trainer.window.sparing import spare


@pytest.fixture(autouse=True)
def as_before() -> Iterator[None]:
    known, frozen = gc.get_threshold(), gc.get_freeze_count()
    yield
    gc.set_threshold(*known)
    if not frozen:
        gc.unfreeze()


def test_what_is_there_is_not_gone_through_again_and_a_press_starts_no_collection() -> None:
    there = [[number] for number in range(1000)]
    spare()
    assert not any(one is there for one in gc.get_objects())
    passes = sum(each["collections"] for each in gc.get_stats())
    # More than a press makes of new values.
    kept = [(number, [number]) for number in range(5000)]
    assert sum(each["collections"] for each in gc.get_stats()) == passes
    assert len(kept) == 5000
