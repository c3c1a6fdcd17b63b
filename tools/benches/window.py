"""Measure the window at 1920×1080 with software drawing: ``python tools/bench.py window [--seconds 20]``.

The real program runs under an X server of its own without acceleration (Xvfb); a recorded take plays itself. Caches
are warmed by first runs that are not counted, the last until the tones are made. Times are by the clock on the wall;
beside the work of a frame stands what of it the window's own thread computed, and at the end how busy other programs
kept the machine meanwhile: on one that is busy the wall tells of them.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import pathlib
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from tools.servers import ended, started
from trainer.music.transpose import plan

if TYPE_CHECKING:
    from trainer.music.piece import Piece

ROOT = pathlib.Path(__file__).resolve().parents[2]
TAKE = ROOT / "exercises" / "takes" / "petzold-minuet-in-e-flat.mid"
PIECES = sorted((ROOT / "exercises").rglob("*.musicxml"))
SIZE = "1920x1080"
# After so long a first start has made all tones.
_TONES_S = 24.0


def run(argv: list[str]) -> int:
    """Print the figures beside what is asked for."""
    parser = argparse.ArgumentParser(prog="bench.py window")
    parser.add_argument("--seconds", type=float, default=20.0, help="how long the take plays")
    args = parser.parse_args(argv)
    if not shutil.which("Xvfb"):
        print("Xvfb is not installed: on Debian, apt-get install xvfb.", file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory() as folder, screen() as display:
        home = pathlib.Path(folder)
        environment = {**os.environ, "DISPLAY": display, "KEYFARER_HOME": folder, "SDL_VIDEODRIVER": "x11",
                       "SDL_AUDIODRIVER": "dummy", "SDL_RENDER_DRIVER": "software"}  # fmt: skip
        _play(environment, home, 4.0, ["petzold-minuet-in-g", "--to", "Eb"])
        _play(environment, home, _TONES_S, [])
        busy = _Busy()
        starts = [_play(environment, home, 8.0, []) for _ in range(3)]
        playing = _play(environment, home, args.seconds, ["petzold-minuet-in-g", "--to", "Eb", "--replay", str(TAKE)])
        command = [sys.executable, "-c", "from tools.benches.window import openings; openings()"]
        told = subprocess.run(command, env=environment, cwd=ROOT, capture_output=True, text=True, check=True)
        opened = [float(seconds) for seconds in told.stdout.split()]
        others = busy.others()
    _line("first usable frame after the command", statistics.median(one["start"] for one in starts), 1.0, "s")
    # The first fifth of the frames, while the piece is opened, is not playing.
    for name in ("answered", "work", "spent"):
        playing[name] = playing[name][len(playing[name]) // 5 :]
    _line("press to drawn, p50", _percentile(playing["answered"], 50) * 1000, None, "ms")
    _line("press to drawn, p99", _percentile(playing["answered"], 99) * 1000, 17.0, "ms")
    _line("work of a frame while playing, p50", _percentile(playing["work"], 50) * 1000, None, "ms")
    _line("work of a frame while playing, p99", _percentile(playing["work"], 99) * 1000, 8.0, "ms")
    _line("  computed by its own thread, p99", _percentile(playing["spent"], 99) * 1000, None, "ms")
    _line("idle, share of one core", statistics.median(one["idle"] for one in starts) * 100, 3.0, "%")
    _line("resident while playing", playing["resident"] / 1e6, 250.0, "MB")
    _line("opening a bundled piece, median", statistics.median(opened) * 1000, None, "ms")
    _line("opening a bundled piece, slowest", max(opened) * 1000, 150.0, "ms")
    _line("other programs meanwhile, of all cores", others * 100, None, "%")
    return 0


def openings() -> None:
    """In a real window: open every bundled piece twice, print the seconds of the second time, engraved and drawn."""
    from trainer.window.house.house import House
    from trainer.window.settings import Settings
    from trainer.window.stand.stand import Stand
    from trainer.window.wish import Wish, written_tempo
    from trainer.window.workroom import pieces

    house = House(Settings(), (1920, 1080))
    house.open_window()
    stand = house.screen_of(Stand)

    def put(piece: Piece) -> None:
        stand.play(Wish(piece, plan(piece.key, "-2"), tempo=written_tempo(piece)))

    def refuse(trouble: Exception) -> None:
        raise trouble

    for turn in range(2):
        for piece in PIECES:
            stand.page.score = None
            began = time.perf_counter()
            house.workroom.ask(pieces.piece_at, str(piece), then=put, failed=refuse)
            while stand.page.score is None or house.workroom.waiting:
                house.workroom.collect()
                if stand.practice is not None:
                    house.draw()
                time.sleep(0.001)
            house.draw()
            if turn:
                print(time.perf_counter() - began)
    house.workroom.close()


def _line(what: str, value: float, asked: float | None, unit: str) -> None:
    limit = f"  (asked: at most {asked:g} {unit})" if asked is not None else ""
    print(f"{what:<42} {value:8.2f} {unit}{limit}")


def _percentile(values: list[float], percent: int) -> float:
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, len(ordered) * percent // 100)] if ordered else float("nan")


@contextlib.contextmanager
def screen() -> Iterator[str]:
    """An X server without acceleration: its display's name."""
    reading, writing = os.pipe()
    words = ["Xvfb", "-displayfd", str(writing), "-screen", "0", f"{SIZE}x24", "-nolisten", "tcp"]
    server = started(words, pass_fds=[writing])
    os.close(writing)
    try:
        with os.fdopen(reading) as pipe:
            yield f":{pipe.readline().strip()}"
    finally:
        ended(server)


def _play(environment: dict[str, str], home: pathlib.Path, seconds: float, words: list[str]) -> dict[str, Any]:
    """Run the program for a while; its figures, with the start's seconds, idle share and resident bytes."""
    figures = home / "figures.json"
    figures.unlink(missing_ok=True)
    began = time.monotonic()
    command = [sys.executable, "-m", "trainer", "open", *words, "--size", SIZE, "--figures", str(figures)]
    program = subprocess.Popen(command, env=environment, cwd=ROOT)
    time.sleep(seconds / 2)
    before, at = _ticks(program.pid), time.monotonic()
    time.sleep(seconds / 2)
    share = (_ticks(program.pid) - before) / os.sysconf("SC_CLK_TCK") / (time.monotonic() - at)
    resident = _resident(program.pid)
    program.terminate()
    program.wait(timeout=30)
    found: dict[str, Any] = json.loads(figures.read_text(encoding="utf-8"))
    started = float(str(found["first_frame_at"])) - began
    return {**found, "start": started, "idle": share, "resident": resident}


class _Busy:
    """How much of the machine others used, between making it and asking."""

    def __init__(self) -> None:
        self._at = self._now()

    @staticmethod
    def _now() -> tuple[float, float, float]:
        """Seconds of all cores: busy, idle, and of these busy for us and our children that have ended."""
        fields = [
            int(one) for one in pathlib.Path("/proc/stat").read_text(encoding="utf-8").split("\n", 1)[0].split()[1:9]
        ]
        idle = fields[3] + fields[4]
        own = os.times()
        ticks = os.sysconf("SC_CLK_TCK")
        return (sum(fields) - idle) / ticks, idle / ticks, sum(own[:4])

    def others(self) -> float:
        """Their share of all cores, 0-1."""
        busy, idle, own = (after - before for after, before in zip(self._now(), self._at, strict=True))
        return max(0.0, busy - own) / max(0.01, busy + idle)


def _ticks(process: int) -> int:
    fields = pathlib.Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rsplit(")", 1)[1].split()
    return int(fields[11]) + int(fields[12])


def _resident(process: int) -> int:
    pages = int(pathlib.Path(f"/proc/{process}/statm").read_text(encoding="utf-8").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE")
