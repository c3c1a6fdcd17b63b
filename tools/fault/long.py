"""Hours of practice in the real window, at speed: what memory, the answer to a press and open handles come to.

SDL draws on its dummy screen; the journal, the second process, the screens are the real ones. A press a second is
played, as a beginner does, without waiting for the seconds to pass.
"""

from __future__ import annotations

import contextlib
import gc
import json
import os
import random
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from pathlib import Path

from tools.fault import seeds
from tools.fault.table import Row, percentile

ROOT = Path(__file__).resolve().parents[2]
PRESSES_AN_HOUR = 3600
SIZE = (1280, 800)
GROWTH = 0.05
# Faces of text stay open, a hundred and twenty-eight of them at most (trainer/window/paint/fonts.py).
FACES = (".ttf", ".otf")
LOOKS = 20


def run(seed: int, count: int, quick: bool) -> list[Row]:
    """`count` hours, in a process of its own."""
    presses = 60 if quick else PRESSES_AN_HOUR
    with tempfile.TemporaryDirectory() as folder:
        environment = {
            **os.environ, "KEYFARER_HOME": folder, "SDL_VIDEODRIVER": "dummy", "SDL_AUDIODRIVER": "dummy",
            "PYTHONPATH": str(ROOT), "KEYFARER_MIDI": "none",
        }  # fmt: skip
        words = [sys.executable, "-m", "tools.fault.long", str(seed), str(count + (1 if quick else 0)), str(presses)]
        done = subprocess.run(words, stdout=subprocess.PIPE, text=True, env=environment, cwd=folder, check=True)
    hours = [json.loads(line) for line in done.stdout.splitlines() if line.startswith("{")]
    return _judged(hours, quick)


def _judged(hours: list[dict[str, float]], quick: bool) -> list[Row]:
    first, last = hours[0], hours[-1]
    memory, answer, handles = Row("memory"), Row("answer to a press"), Row("handles and threads")
    kept = Row("takes in the journal")
    growth = last["memory"] / first["memory"] - 1
    memory.tried = answer.tried = handles.tried = len(hours)
    memory.figures = f"{first['memory']:.0f} MB after the first hour, {last['memory']:.0f} at the end: {growth:+.1%}"
    # In so few minutes the pictures of pages and lines of text are still being kept for the first time.
    if growth > GROWTH and not quick:
        memory.fail(f"grows by {growth:.1%}")
    answer.figures = (
        f"p50 {first['p50']:.1f} and {last['p50']:.1f} ms, "
        f"p99 {first['p99']:.1f} and {last['p99']:.1f} ms of processor time"
    )
    # Percentiles of a busy machine wander by themselves; half as much again is more than that.
    if not quick and (last["p50"] > 1.5 * first["p50"] or last["p99"] > 1.5 * first["p99"]):
        answer.fail("slower at the end than at the start")
    handles.figures = f"{first['handles']:.0f} and {last['handles']:.0f} files open, {last['threads']:.0f} threads"
    if last["handles"] > first["handles"] or last["threads"] > first["threads"]:
        handles.fail(f"{first['handles']:.0f} and {first['threads']:.0f} have become more")
    kept.tried = int(last["takes"])
    if last["kept"] != last["takes"]:
        kept.fail(f"{last['kept']:.0f} of {last['takes']:.0f} are there")
    kept.figures = f"{sum(hour['presses'] for hour in hours):,.0f} presses"
    return [memory, answer, handles, kept]


def main() -> int:
    """Practise for so many hours; one line of figures an hour."""
    import pygame

    from trainer.listening.press import Press, Release
    from trainer.music.transpose import plan
    from trainer.window.desk.desk import Desk
    from trainer.window.house.house import House
    from trainer.window.settings import Settings
    from trainer.window.stand.stand import Stand
    from trainer.window.wish import Wish, written_tempo

    seed, count, an_hour = (int(word) for word in sys.argv[1:4])
    dice = random.Random(seed)
    house = House(Settings(player="Ada Winter"), SIZE)
    house.open_window()
    house.show(house.screen_of(Desk))
    house.open_journal()
    assert house.journal is not None
    stand = house.screen_of(Stand)
    at, takes = 0.0, 0

    def frame() -> None:
        pygame.event.get()
        house.workroom.collect()
        assert house.screen is not None
        house.screen.tick(time.perf_counter())
        house.draw()

    def settle() -> None:
        until = time.monotonic() + 20
        while house.workroom.waiting and time.monotonic() < until:
            frame()
            time.sleep(0.01)
        frame()

    for _ in range(count):
        spent: list[float] = []
        while len(spent) < an_hour:
            piece = seeds.shelf()[takes % len(seeds.shelf())]
            stand.play(Wish(piece, plan(piece.key, dice.choice(("+2", "-2", "+3"))), tempo=written_tempo(piece)))
            settle()
            assert stand.practice is not None
            # To its end, when the hour is over, too: a take of two or three keys is none and is not kept.
            for note in stand.practice.session.expected.notes:
                key = note.midi + dice.choice((0, 0, 0, 0, 0, 0, 0, 1, -2))
                began = time.process_time()
                house.hear(Press(at, key, 64), at)
                frame()
                spent.append((time.process_time() - began) * 1000)
                house.hear(Release(at + 0.3, key), at + 0.3)
                at += 1.0
            stand.stop()
            takes += 1
            for room in ("copy", "desk", "keys")[: 3 if takes % 4 == 0 else 1]:
                house.go(room)
                settle()
        gc.collect()
        ((kept,),) = house.journal.ask("SELECT count(*) FROM take")
        print(json.dumps(_figures(spent, takes, kept)), flush=True)
    house.close()
    return 0


def _open_files() -> Counter[str]:
    """What is open, by name, faces of text apart."""
    found: Counter[str] = Counter()
    for handle in Path("/proc/self/fd").iterdir():
        with contextlib.suppress(OSError):
            found[os.readlink(handle)] += 1
    return Counter({name: count for name, count in found.items() if not name.endswith(FACES)})


def _staying_open() -> Counter[str]:
    """What is open at every look of a second: the journal's thread opens its backup for a moment."""
    staying = _open_files()
    for _ in range(LOOKS):
        time.sleep(1 / LOOKS)
        staying &= _open_files()
    return staying


def _figures(spent: list[float], takes: int, kept: int) -> dict[str, float]:
    pages = int(Path("/proc/self/statm").read_text(encoding="utf-8").split()[1])
    return {
        "memory": pages * os.sysconf("SC_PAGE_SIZE") / 1e6, "p50": percentile(spent, 50), "p99": percentile(spent, 99),
        "handles": _staying_open().total(), "threads": threading.active_count(),
        "takes": takes,
        "kept": kept, "presses": len(spent),
    }  # fmt: skip


if __name__ == "__main__":
    raise SystemExit(main())
