"""When a key is asked for again."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from trainer.coaching.path.memory import EASY, GOOD, reviewed

NOW = datetime(2026, 3, 2, 18, tzinfo=UTC)


def test_the_day_of_the_next_review_is_no_matter_of_chance() -> None:
    card, due = reviewed("", EASY, NOW)
    later = NOW + timedelta(days=(due - NOW.date()).days)
    found = {reviewed(card, GOOD, later)[1] for _ in range(20)}
    assert len(found) == 1
    assert found.pop() - later.date() > timedelta(days=20), "so far off that chance would show"
