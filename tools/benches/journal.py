"""Ten years of daily practice in one journal: its size, how long a take takes to write, how long the screens wait.

    python tools/bench.py journal [--years 10] [--keep FILE] [--again FILE] [--seed 1]

A simulated player practises an hour a day: about 5,500 presses in some 36 takes, in keys that change from week to week.
Printed: bytes a press, the file's size for ten years, and percentiles of one finished take (as it happens, live rows
and all), of what the Desk asks and of what the Keys screen asks.
"""

from __future__ import annotations

import argparse
import random
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from functools import cache
from pathlib import Path

from trainer.coaching.path import cells as coaching
from trainer.coaching.progress.habits import habits
from trainer.coaching.progress.progress import key_looks
from trainer.coaching.today.minutes import minutes_left, rest_line
from trainer.coaching.today.schedule import today
from trainer.following.marks import AS_WRITTEN, OCTAVE, RIGHT, SIGNATURE, STEP, WRONG, Mark, Settled
from trainer.journal import files
from trainer.journal.store import Journal
from trainer.journal.summary import whole
from trainer.journal.take import Take
from trainer.listening.press import Press, Release
from trainer.music.keys import CIRCLE_MAJOR, Key
from trainer.music.piece import LEFT, Bar, KeyChange, Note, Piece, sorted_notes
from trainer.music.transpose import Transposition, plan, transposed
from trainer.session import Summary
from trainer.window.keys import keyfacts

PLAYER = "Simulated player"
TAKES_A_DAY = 36
NOTES = 152
_SHELF: list[Piece] = []
SLIPS = (AS_WRITTEN, SIGNATURE, STEP, OCTAVE, WRONG)


def run(words: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="bench.py journal")
    parser.add_argument("--years", type=float, default=10.0, help="how many (10)")
    parser.add_argument("--keep", type=Path, metavar="FILE", help="leave the journal here")
    parser.add_argument("--again", type=Path, metavar="FILE", help="measure a journal kept before, and write none")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args(words)
    rng = fill(args.seed)
    if args.again:
        measure(args.again, rng)
        return 0
    with tempfile.TemporaryDirectory() as folder:
        place = args.keep or Path(folder) / "journal.sqlite"
        place.unlink(missing_ok=True)
        write(place, args.years, rng)
        measure(place, rng)
    return 0


def write(place: Path, years: float, rng: random.Random) -> None:
    """Practise for years."""
    days = max(round(365 * years), 1)
    first = datetime.now().astimezone() - timedelta(days=days)
    began = time.monotonic()
    with Journal(place) as journal:
        # Years are written in minutes here, so there is one backup, made before, and none a day.
        files.copy_to(journal.db, files.backup_of(place))
        for day in range(days):
            a_day(journal, first + timedelta(days=day), rng, skill=day / days)
    print(f"{years:g} years written in {time.monotonic() - began:.0f} s")


def measure(place: Path, rng: random.Random) -> None:
    """Size and times of a journal."""
    now = datetime.now().astimezone()
    opened = timed(lambda: Journal(place).close(), 5)
    with Journal(place) as journal:
        all_ = whole(journal, PLAYER)
        size = place.stat().st_size
        each = size / all_.played
        print(f"{all_.takes:,} takes, {all_.played:,} presses, {all_.minutes / 60:,.0f} hours")
        print(f"file: {size / 1e6:.1f} MB, {each:.1f} bytes a press; 20 million presses: {each * 20e6 / 1e9:.2f} GB")
        print(f"opened and closed again: {say(opened)}")
        wall, busy = live_takes(journal, rng, 60)
        print(f"one take written when it ends: {say(wall)}; of it processor time: {say(busy)}")
        print(f"what the Desk asks: {say(timed(lambda: desk(journal, now), 20))}")
        print(f"what the Keys screen asks: {say(timed(lambda: keyfacts.read(journal, PLAYER, now), 20))}")
        print(f"of it the circle: {say(timed(lambda: key_looks(journal, PLAYER, now), 20))}")
        print(f"of it the habits of ninety days: {say(timed(lambda: habits(journal, PLAYER, now.date()), 20))}")


def fill(seed: int) -> random.Random:
    """Put made-up pieces on the bench's shelf; returns the chance they came from."""
    rng = random.Random(seed)
    _SHELF[:] = [made_up(number, rng) for number in range(24)]
    _moved.cache_clear()
    return rng


def desk(journal: Journal, now: datetime) -> None:
    today(journal, PLAYER, minutes_left(journal, PLAYER, 30, now), now)
    journal.takes(PLAYER, 12)
    rest_line(journal, PLAYER, now)
    journal.unfinished()


def timed(what: Callable[[], object], times: int) -> list[float]:
    found = []
    for _ in range(times):
        start = time.perf_counter()
        what()
        found.append(1000 * (time.perf_counter() - start))
    return found


def say(milliseconds: list[float]) -> str:
    listed = sorted(milliseconds)
    late = listed[int(0.95 * (len(listed) - 1))]
    return f"median {listed[len(listed) // 2]:.1f} ms, 95 % {late:.1f} ms, worst {listed[-1]:.1f} ms"


def made_up(number: int, rng: random.Random) -> Piece:
    """A two-handed piece by chance: only its size and its degrees matter here."""
    key = CIRCLE_MAJOR[number % 12]
    notes, at = [], 0
    for index in range(NOTES // 2):
        at = max(0, min(7, at + rng.choice((-2, -1, -1, 0, 1, 1, 2))))
        pitch = key.degree(at % 7 + 1, 4 + at // 7)
        notes.append(Note(f"r{index}", pitch, Fraction(index), Fraction(1)))
        low = key.degree(rng.choice((1, 1, 4, 5)), 3)
        notes.append(Note(f"l{index}", low, Fraction(index), Fraction(1), LEFT))
    bars = tuple(Bar(n + 1, Fraction(4 * n), Fraction(4)) for n in range(NOTES // 8))
    return Piece(f"Piece {number}", sorted_notes(notes), bars, (KeyChange(Fraction(0), key),))


@dataclass(frozen=True)
class _Played:
    events: list[Press | Release]
    marks: list[Mark]
    pulse: float


def played(expected: Piece, rng: random.Random, slip: float) -> _Played:
    """A take of it with slips at the rate asked for, keys released, time uneven."""
    events: list[Press | Release] = []
    marks = []
    beat = rng.uniform(0.45, 0.9)
    shift = 0.0
    for index, note in enumerate(expected.notes):
        shift += rng.gauss(0, 0.004)
        at = 1 + float(note.onset) * beat + shift + rng.gauss(0, 0.012)
        cause, offset = RIGHT, 0
        if rng.random() < slip * (2 if note.pitch.alteration else 1):
            cause, offset = rng.choice(SLIPS), rng.choice((-1, 1))
        marks.append((at, Mark(0, index, cause, rng.uniform(0.55, 1) if offset else rng.uniform(0.97, 1), (), offset)))
        events.append(Press(at, note.midi + offset, rng.randint(40, 90)))
        events.append(Release(at + beat * rng.uniform(0.7, 1.1), note.midi + offset))
    events.sort(key=lambda event: event.at)
    marks.sort(key=lambda pair: pair[0])
    final = [Mark(n, m.note, m.cause, m.probability, m.others, m.offset) for n, (_, m) in enumerate(marks)]
    return _Played(events, final, 60 / beat)


def a_day(journal: Journal, day: datetime, rng: random.Random, skill: float) -> int:
    presses = 0
    week = day.toordinal() // 7
    keys = [CIRCLE_MAJOR[(week + step) % 12] for step in (0, 2, 5)]
    pieces = [(week + step) % len(_SHELF) for step in (0, 1, 7)]
    for number in range(TAKES_A_DAY):
        piece, key = pieces[number % 3], keys[number // 3 % 3]
        if number % 9 == 0:
            key = _SHELF[piece].key
        presses += one_take(journal, piece, key, rng, 0.2 - 0.15 * skill, day + timedelta(seconds=100 * number))
    return presses


def one_take(journal: Journal, piece: int, key: Key, rng: random.Random, slip: float, began: datetime | None) -> int:
    take, finish, presses = prepared(journal, piece, key, rng, slip, began)
    finish()
    assert take.id is not None
    coaching.learn(journal, take.id, began)
    return presses


@cache
def _moved(number: int, key: Key) -> tuple[Transposition, Piece]:
    piece = _SHELF[number]
    wish = plan(piece.key, key.short)
    return wish, transposed(piece, wish.interval)


def prepared(
    journal: Journal, number: int, key: Key, rng: random.Random, slip: float, began: datetime | None
) -> tuple[Take, Callable[[], None], int]:
    """A take with everything in it but its end; what ends it; its presses."""
    wish, expected = _moved(number, key)
    take = journal.begin(_SHELF[number], wish, player=PLAYER, began=began)
    what = played(expected, rng, slip)
    marks = iter(what.marks)
    presses = []
    for event in what.events:
        if isinstance(event, Press):
            take.press(event, next(marks))
            presses.append(event)
        else:
            take.other(event)
    settled = Settled(tuple(what.marks), (), ())
    right = sum(mark.cause == RIGHT for mark in what.marks)
    seconds = presses[-1].at - presses[0].at
    figures = Summary(right, len(presses), len(presses), right / len(presses), what.pulse, seconds)
    return take, lambda: take.finish(settled, figures), len(presses)


def live_takes(journal: Journal, rng: random.Random, count: int) -> tuple[list[float], list[float]]:
    """Milliseconds of `Take.finish` by the clock and of its own thread, all before it written as it happened."""
    wall, busy = [], []
    for number in range(count):
        _, finish, _ = prepared(journal, number % 3, CIRCLE_MAJOR[number % 12], rng, 0.1, None)
        journal.flush()
        time.sleep(0.05)
        before = time.thread_time()
        wall += timed(finish, 1)
        busy.append(1000 * (time.thread_time() - before))
        time.sleep(0.1)
    return wall, busy
