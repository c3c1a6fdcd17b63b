"""The Marked copy's page, laid out while the take is still being played."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tools import staging
from trainer.listening.clock import now
from trainer.listening.press import Press
from trainer.window.house.still import house_of
from trainer.window.settings import Settings
from trainer.window.workroom import jobs


@pytest.fixture(autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


@pytest.mark.parametrize(("size", "scale"), [((1366, 768), 100), ((960, 600), 200), ((1080, 1920), 125)])
def test_the_page_of_the_marked_copy_is_laid_out_before_the_take_is_over(
    monkeypatch: pytest.MonkeyPatch, size: tuple[int, int], scale: int
) -> None:
    ahead: list[tuple[Any, ...]] = []
    asked: list[tuple[Any, ...]] = []
    copied = jobs.copied

    def counted(*given: Any) -> jobs.Drawn:
        asked.append(given)
        return copied(*given)

    monkeypatch.setattr(jobs, "copied_ahead", lambda *given: ahead.append(given))
    monkeypatch.setattr(jobs, "copied", counted)
    house = house_of(size, Settings(scale=scale))
    stand = staging.stand_of(house, "la-partenza", "F")
    house.draw()
    monkeypatch.setattr(house.loop, "running", True)
    assert stand.practice is not None
    notes = stand.practice.wish.expected.notes
    for turn in range(2):
        for at, note in enumerate(notes):
            house.hear(Press(float(note.onset) * 0.5, note.midi, 64), now())
            if at == 4 and not turn:
                assert not ahead, "a few keys struck are no take to look at yet"
        assert len(ahead) == 1, "once a page is enough"
        stand.stop()
        stand.again()
    house.go("copy")
    house.draw()
    assert asked[0][:4] == ahead[0]
    house.close()
