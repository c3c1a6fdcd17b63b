"""A Desk that is left open over midnight."""

from __future__ import annotations

from datetime import date, datetime, timedelta, tzinfo

import pytest

from tests.journal.played import play
from tools import staging
from trainer.listening.clock import now
from trainer.window.desk import desk, todays
from trainer.window.desk.desk import Desk
from trainer.window.house.still import house_of


def test_a_desk_left_open_overnight_shows_the_list_of_the_new_day(monkeypatch: pytest.MonkeyPatch) -> None:
    later = timedelta()

    class Day(date):
        @classmethod
        def today(cls) -> Day:
            moved = date.today() + later
            return cls(moved.year, moved.month, moved.day)

    class Time(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> Time:
            moved = datetime.now(tz) + later
            return cls(*moved.timetuple()[:6])

    monkeypatch.setattr(desk, "date", Day)
    monkeypatch.setattr(todays, "datetime", Time)
    with staging.home():
        house = house_of((1280, 800))
        house.open_journal()
        assert house.journal is not None
        house.change(minutes=5)
        play(house.journal, "F", player=house.player, beat=60.0)
        shown = house.screen_of(Desk)
        house.show(shown)
        house.draw()
        assert shown.suggestions == []
        assert shown.spare == 0.0, "the minutes of this day are over"
        assert shown.tick(now()) <= 60.0
        assert shown.suggestions == []
        later = timedelta(days=1)
        shown.tick(now())
        assert shown.suggestions
        house.close()
