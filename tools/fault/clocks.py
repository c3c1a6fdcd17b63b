"""Clocks set back, machines asleep, midnight, daylight saving, a take of eight hours: durations stay what they were.

The system's clock is not touched: the functions that tell the time of day are replaced, and the steady clock is slept
over, while takes are played through the session, the journal and the ports' clock.
"""

from __future__ import annotations

import ast
import os
import random
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from unittest import mock

from tools.fault import seeds
from tools.fault.table import Row
from trainer.journal import take as taking
from trainer.journal.store import Journal
from trainer.journal.values import KeptTake
from trainer.listening.clock import DriverClock
from trainer.listening.press import Press, Release
from trainer.music.transpose import plan
from trainer.session import Session

ROOT = Path(__file__).resolve().parents[2] / "trainer"
# Where the time of day is never asked: they say how long something took.
STEADY_ROOMS = ("listening", "following", "sounding", "session.py")
_TIME_OF_DAY = {"time.time", "time.localtime", "time.strftime", "datetime.now", "datetime.today", "date.today"}


def run(seed: int, count: int, quick: bool) -> list[Row]:
    """All of it; `count` times as many jumps of the clock."""
    return [_source(), _jumps(seed, 12 * count), _zones(), _asleep(seed, 200 * count), _long_take(1 if quick else 8)]


def _source() -> Row:
    """No room that measures asks for the time of day."""
    row = Row("rooms that measure use a steady clock only")
    for room in STEADY_ROOMS:
        place = ROOT / room
        for path in [place] if place.is_file() else sorted(place.rglob("*.py")):
            tree = ast.parse(path.read_text(encoding="utf-8"))
            asked = {ast.unparse(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call)}
            row.check(not asked & _TIME_OF_DAY, f"{path.name} asks {asked & _TIME_OF_DAY}")
    return row


class _Day:
    """The time of day, as set by somebody."""

    def __init__(self) -> None:
        self.off = 0.0

    def time(self) -> float:
        return _TRUE() + self.off


_TRUE = time.time


@contextmanager
def _day(zone: str) -> Iterator[_Day]:
    day = _Day()
    kept = os.environ.get("TZ")
    os.environ["TZ"] = zone
    time.tzset()

    class Clock(datetime):
        @classmethod
        def now(cls, tz: object = None) -> datetime:  # type: ignore[override]
            return datetime.fromtimestamp(day.time())

    try:
        with mock.patch.object(time, "time", day.time), mock.patch.object(taking, "datetime", Clock):
            yield day
    finally:
        if kept is None:
            del os.environ["TZ"]
        else:
            os.environ["TZ"] = kept
        time.tzset()


def _played(journal: Journal, meanwhile: Callable[[int], None]) -> tuple[KeptTake, float]:
    """A take of a known length, something happening before each press; the take as kept and its seconds."""
    piece = seeds.shelf()[3]
    wish = plan(piece.key, "+2")
    session = Session(piece, wish, record=journal.begin(piece, wish))
    for at, note in enumerate(session.expected.notes):
        meanwhile(at)
        session.hear(Press(0.5 * at, note.midi))
        session.hear(Release(0.5 * at + 0.3, note.midi))
    session.finish()
    assert session.summary is not None
    kept = journal.take(journal.takes(limit=1)[0].id)
    return kept, 0.5 * (len(session.expected.notes) - 1)


def _agrees(row: Row, kept: KeptTake, seconds: float) -> None:
    times = [press.at for press in kept.presses]
    row.check(times == sorted(times), "presses out of order")
    row.check(abs((kept.row.seconds or 0.0) - seconds) < 1e-6, f"{kept.row.seconds} s instead of {seconds} s")
    row.check(all(mark.cause == "right" for mark in (kept.settled.marks if kept.settled else ())), "marked wrong")


def _jumps(seed: int, count: int) -> Row:
    """The time of day goes back or ahead by up to ten years in the middle of takes."""
    row = Row("clock set during a take")
    dice = random.Random(seed)
    with (
        tempfile.TemporaryDirectory() as folder,
        _day("UTC") as day,
        Journal(Path(folder) / "journal.sqlite") as journal,
    ):
        for _ in range(count):

            def jump(_: int) -> None:
                if dice.random() < 0.3:
                    day.off += dice.choice((-3e8, -86_400, -3600, -1, 1, 3600, 86_400)) * dice.random()

            _agrees(row, *_played(journal, jump))
        row.check(len(journal.takes(limit=1000)) == count, "takes are missing")
        row.check(not journal.trouble, journal.trouble)
    return row


def _zones() -> Row:
    """Over midnight, into and out of daylight saving, over the date line; a take belongs to the day it began."""
    row = Row("midnight, daylight saving, another zone")
    moments = {
        ("Europe/Berlin", "2027-03-28T01:59:58+01:00"): "2027-03-28",  # the hour from two to three does not exist
        ("Europe/Berlin", "2027-10-31T02:59:58+02:00"): "2027-10-31",  # the hour from two to three comes twice
        ("America/New_York", "2027-11-07T01:59:58-04:00"): "2027-11-07",
        ("Pacific/Apia", "2027-02-06T23:59:58+13:00"): "2027-02-06",
        ("UTC", "2027-12-31T23:59:58+00:00"): "2027-12-31",
        ("Asia/Kathmandu", "2028-02-29T23:59:58+05:45"): "2028-02-29",
    }
    for (zone, at), expected in moments.items():
        with tempfile.TemporaryDirectory() as folder, _day(zone) as day:
            day.off = datetime.fromisoformat(at).timestamp() - _TRUE()

            def pass_on(number: int, day: _Day = day) -> None:
                day.off += 0.5

            with Journal(Path(folder) / "journal.sqlite") as journal:
                kept, seconds = _played(journal, pass_on)
                _agrees(row, kept, seconds)
                row.check(f"{kept.row.began:%Y-%m-%d}" == expected, f"{zone}: {kept.row.began}, not {expected}")
                off = datetime.fromisoformat(at).utcoffset()
                row.check(kept.row.began.utcoffset() == off, f"{zone}: {kept.row.began} has another zone")
    return row


def _asleep(seed: int, count: int) -> Row:
    """A machine sleeps between two messages: the driver's count and the program's clock part, in either direction."""
    row = Row("suspended and resumed")
    dice = random.Random(seed)
    clock, driver, steady, last = DriverClock(), 0.0, 100.0, 0.0
    for _ in range(count):
        step, asleep = dice.uniform(0.01, 0.6), dice.choice((0.0, 0.0, 0.0, 5.0, 3600.0, 90_000.0))
        way = dice.randrange(3)
        delta = step + (asleep if way != 1 else 0.0)
        steady += step + (asleep if way != 2 else 0.0)
        driver += delta
        at = clock.stamp(delta, steady)
        row.check(last <= at <= steady, f"a press at {at:.3f} after one at {last:.3f}, heard at {steady:.3f}")
        row.check(asleep > 0 or way == 2 or steady - at < 0.3 or at - last <= step + 1e-9, "late for no reason")
        last = at
    return row


def _long_take(hours: int) -> Row:
    """One take that goes on and on, with a rest of half a day in it."""
    row = Row(f"a take of {hours} hours")
    piece = seeds.shelf()[3]
    wish = plan(piece.key, "+2")
    with tempfile.TemporaryDirectory() as folder, Journal(Path(folder) / "journal.sqlite") as journal:
        session = Session(piece, wish, record=journal.begin(piece, wish))
        at, began, worst = 0.0, time.process_time(), 0.0
        while at < hours * 3600:
            for note in session.expected.notes:
                before = time.perf_counter()
                session.hear(Press(at, note.midi))
                worst = max(worst, time.perf_counter() - before)
                at += 1.5
            at += 2.0
        at += 43_200.0
        session.hear(Press(at, session.expected.notes[0].midi))
        session.finish()
        row.tried = len(session.presses)
        kept = journal.take(journal.takes(limit=1)[0].id)
        row.check(len(kept.presses) == len(session.presses), "presses are missing")
        row.check(abs((kept.row.seconds or 0) - at) < 1e-3, f"{kept.row.seconds} s instead of {at}")
        right = sum(mark.cause in ("right", "octave") for mark in session.marks) / len(session.marks)
        row.check(right > 0.9, f"only {right:.0%} of its marks are right")
        spent = time.process_time() - began
        row.figures = f"{right:.1%} right, {spent / len(session.presses) * 1000:.2f} ms a press with the end"
    return row
