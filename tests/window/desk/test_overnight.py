"""Screens that are left open over midnight: the Desk, Keys, the Singer, the studio."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta, tzinfo
from types import ModuleType

import pytest

from tests.journal.played import play
from tools import staging
from trainer.coaching.singers import setlist
from trainer.listening.clock import now
from trainer.window import screen
from trainer.window.desk import todays
from trainer.window.desk.desk import Desk
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.keys import keys
from trainer.window.keys.keys import Keys
from trainer.window.singer import singerlist
from trainer.window.singer.singer import SingerScreen
from trainer.window.studio.studiopage import StudioPage
from trainer.window.workroom import studies

# Lets some days pass, as these modules have it.
Passing = Callable[[int], None]


@pytest.fixture
def pass_days(monkeypatch: pytest.MonkeyPatch) -> Passing:
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

    dated: tuple[ModuleType, ...] = (screen, singerlist)
    for module in dated:
        monkeypatch.setattr(module, "date", Day)
    timed: tuple[ModuleType, ...] = (todays, keys)
    for module in timed:
        monkeypatch.setattr(module, "datetime", Time)

    def passed(days: int) -> None:
        nonlocal later
        later = timedelta(days=days)

    return passed


@pytest.fixture
def house() -> Iterator[House]:
    with staging.home():
        made = house_of((1280, 800))
        made.open_journal()
        yield made
        made.close()


def played_out(house: House) -> None:
    """The minutes of this day are over."""
    assert house.journal is not None
    house.change(minutes=5)
    play(house.journal, "F", player=house.player, beat=60.0)


def test_a_desk_left_open_overnight_shows_the_list_of_the_new_day(house: House, pass_days: Passing) -> None:
    played_out(house)
    shown = house.screen_of(Desk)
    house.show(shown)
    house.draw()
    assert shown.suggestions == []
    assert shown.spare == 0.0, "the minutes of this day are over"
    assert shown.tick(now()) <= 60.0
    assert shown.suggestions == []
    pass_days(1)
    shown.tick(now())
    assert shown.suggestions


def test_so_do_keys(house: House, pass_days: Passing) -> None:
    played_out(house)
    shown = house.screen_of(Keys)
    house.show(shown)
    house.draw()
    assert shown.tick(now()) <= 60.0
    assert shown.today == []
    pass_days(1)
    shown.tick(now())
    assert shown.today


def test_a_singer_left_open_overnight_shows_the_songs_of_the_next_occasion_as_they_are(
    house: House, pass_days: Passing
) -> None:
    shown = house.screen_of(SingerScreen)
    house.show(shown)
    demo = setlist.demo(date.today()).occasions[0]
    tonight = replace(demo, name="Tonight", date=date.today(), songs=demo.songs[:1])
    next_ = replace(demo, name="Then", date=date.today() + timedelta(days=9), songs=demo.songs[1:])
    setlist.save(shown.set_list.folder, setlist.SetLists((), (tonight, next_)))
    shown.read()
    assert shown.tick(now()) <= 60.0
    assert [one.song for one in shown.set_list.ready] == list(tonight.songs)
    pass_days(1)
    shown.tick(now())
    assert [one.song for one in shown.set_list.ready] == list(next_.songs)


def test_so_does_the_studio(house: House, pass_days: Passing, monkeypatch: pytest.MonkeyPatch) -> None:
    shown = house.screen_of(StudioPage)
    house.show(shown)
    looked: list[str] = []

    def look(*_: object) -> list[object]:
        looked.append("at everybody")
        return []

    monkeypatch.setattr(studies, "students_of", look)
    shown.tick(now())
    assert looked == []
    pass_days(1)
    shown.tick(now())
    shown.tick(now())
    assert looked == ["at everybody"]
