"""Days as they are said."""

from __future__ import annotations

from datetime import date

import pytest

from trainer.window import days


class Today(date):
    @classmethod
    def today(cls) -> Today:
        return cls(2026, 3, 12)


@pytest.mark.parametrize(
    ("day", "said"),
    [
        (date(2026, 3, 12), "today"),
        (date(2026, 3, 11), "yesterday"),
        (date(2026, 3, 5), "7 days ago"),
        (date(2026, 3, 4), "4 March"),
        (date(2025, 12, 30), "30 December 2025"),
    ],
)
def test_a_day_is_said_as_everywhere_else(monkeypatch: pytest.MonkeyPatch, day: date, said: str) -> None:
    monkeypatch.setattr(days, "date", Today)
    assert days.day_words(day) == said
