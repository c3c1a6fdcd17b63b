"""The systems of a Marked copy are spaced so that what the pencil wrote can be read."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tools import pictures, staging
from trainer.window.copy.spacing import gaps

COPY = next(scene for scene in pictures.SCENES if scene.name == "copy")


@pytest.fixture(autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


@pytest.mark.parametrize("size", [pictures.UPRIGHT, (1024, 768), (1280, 800), (1920, 1080)])
def test_no_mark_over_the_first_system_lies_on_the_head(size: tuple[int, int]) -> None:
    house = pictures.built(COPY, size)
    assert house.canvas is not None
    head = [box.extent for box in house.canvas.boxes if box.name in ("copy.title", "copy.key") and box.extent]
    strokes = [box for box in house.canvas.boxes if box.name.startswith("mark.")]
    assert len(head) == 2
    assert strokes
    assert [box.name for box in strokes if box.rect.collidelist(head) >= 0] == []
    house.close()


def test_where_nothing_is_written_all_systems_stand_evenly() -> None:
    found = gaps([(0.0, 0.0)] * 4, 120.0, 200.0, -3.0)
    assert [round(gap, 3) for gap in found] == [15.0, 30.0, 30.0, 30.0, 15.0]
    assert sum(gaps([(0.0, 0.0)] * 4, 1000.0, 60.0, -3.0)) == pytest.approx(240.0, abs=0.1)


def test_a_page_that_is_full_shares_what_it_lacks() -> None:
    assert gaps([(5.0, 0.0), (0.0, 9.0)], -8.0, 60.0, -3.0) == [-1.5, -3.0, -1.5]


def test_marks_never_ask_for_more_than_there_is() -> None:
    assert sum(gaps([(50.0, 10.0), (30.0, 40.0)], 60.0, 80.0, -3.0)) == pytest.approx(60.0)
