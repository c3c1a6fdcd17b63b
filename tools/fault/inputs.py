"""Files from outside: mutated by chance, and traps made by hand; each read in a watched process of its own.

Bounds: two seconds of processor time and 500 MB a file, no code run, nothing written outside the data folder, and a
refusal of one sentence.
"""

from __future__ import annotations

import json
import os
import random
import select
import subprocess
import sys
import tempfile
import threading
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from tools.fault import mutate, seeds, traps
from tools.fault.table import Row, percentile

ROOT = Path(__file__).resolve().parents[2]
SECONDS, MEGABYTES = 2.0, 500.0
# Beyond this a reader is stopped and the file counts as a failure.
PATIENCE_S = 40.0
WORKERS = 2
# So many traps are made and refused in no time.
LIGHT = 98
# Of every hundred mutated files.
SHARES = {
    seeds.MUSICXML: 33, seeds.MXL: 8, seeds.MIDI: 16, seeds.ABC: 8, seeds.HUMDRUM: 8, seeds.TAKE: 8, seeds.TOML: 8,
    seeds.HAND_OVER: 6, seeds.JOURNAL: 3, seeds.SETTINGS: 2,
}  # fmt: skip


@dataclass(frozen=True)
class Answer:
    """What a reader said of a file."""

    kind: str
    seconds: float
    peak: float
    said: str
    bad: str


class Reader:
    """A watched process; replaced when it does not come back."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._process: subprocess.Popen[str] | None = None

    def _start(self) -> subprocess.Popen[str]:
        home = self._folder / "home"
        for place in (home, self._folder / "temporary"):
            place.mkdir(exist_ok=True)
        for left in home.glob("journal*"):
            left.unlink()
        environment = {
            **os.environ, "KEYFARER_HOME": str(home), "HOME": str(home), "TMPDIR": str(self._folder / "temporary"),
            "PYTHONPATH": str(ROOT), "KEYFARER_SPRUNG": str(self._folder), "SDL_VIDEODRIVER": "dummy",
            # What Python itself would keep of a module it compiles is no trap sprung.
            "PYTHONDONTWRITEBYTECODE": "1",
        }  # fmt: skip
        words = [sys.executable, "-m", "tools.fault.reader", str(self._folder)]
        process = subprocess.Popen(
            words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, cwd=home,
            env=environment,
        )  # fmt: skip
        assert process.stdout is not None
        if process.stdout.readline() != "ready\n":
            raise RuntimeError("The reader does not start: run 'python -m tools.fault.reader' in an empty folder.")
        return process

    def read(self, kind: str, make: object) -> Answer:
        """Let it read one file; `make` is its bytes, or a function that makes it."""
        place = self._folder / "file.musicxml"
        place.unlink(missing_ok=True)
        if callable(make):
            make(place)
        else:
            assert isinstance(make, bytes)
            place.write_bytes(make)
        if self._process is None or self._process.poll() is not None:
            self._process = self._start()
        process = self._process
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            process.stdin.write(f"{kind}\t{place.name}\n")
            process.stdin.flush()
            ready, _, _ = select.select([process.stdout], [], [], PATIENCE_S)
            line = process.stdout.readline() if ready else ""
        except OSError:
            line, ready = "", [process.stdout]
        if not line:
            self.close()
            return Answer(kind, PATIENCE_S, 0.0, "", "the reader died" if ready else "no end in sight")
        said = json.loads(line)
        bad = said["bad"]
        if (self._folder / "sprung").exists():
            (self._folder / "sprung").rmdir()
            bad = "a pickle was run"
        if not bad and said["seconds"] > SECONDS:
            bad = f"{said['seconds']:.1f} s of processor time"
        if not bad and said["peak"] > MEGABYTES:
            bad = f"{said['peak']:.0f} MB"
        return Answer(kind, said["seconds"], said["peak"], said["said"], bad)

    def close(self) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None

    def left_behind(self) -> list[str]:
        """Files that should not be there at the end."""
        kept = {"file.musicxml", "warm", "home", "temporary", "toml"}
        strange = [path.name for path in self._folder.iterdir() if path.name not in kept]
        return strange + [path.name for path in (self._folder / "temporary").iterdir()]


def run(seed: int, count: int, quick: bool) -> list[Row]:
    """Read `count` mutated files of all kinds and every trap."""
    rows = {kind: Row(f"{kind}, mutated") for kind in seeds.KINDS}
    trapped = Row("traps by hand")
    placed = Row("files left outside the data folder")
    kept = Path(os.environ["KEYFARER_FAULTS"]) if "KEYFARER_FAULTS" in os.environ else None
    lock = threading.Lock()
    waiting = islice(traps.all_traps(), LIGHT if quick else None)

    def share(worker: int) -> list[tuple[str, Answer]]:
        found: list[tuple[str, Answer]] = []
        kinds = [kind for kind, part in SHARES.items() for _ in range(part)]
        with tempfile.TemporaryDirectory() as folder:
            reader = Reader(Path(folder))
            for number in range(count // WORKERS):
                # Anew for each file: journals hold random marks, so their wounds draw differently every time.
                dice = random.Random(f"{seed} {worker} {number}")
                kind = dice.choice(kinds)
                data = mutate.mutated(dice.choice(seeds.of_kind(kind)), kind, dice)
                answer = reader.read(kind, data)
                found.append(("", answer))
                if answer.bad and kept is not None:
                    (kept / f"{kind.strip('.')}-{worker}-{len(found)}").write_bytes(data)
            while True:
                with lock:
                    trap = next(waiting, None)
                if trap is None:
                    break
                name, (kind, make) = trap
                found.append((name, reader.read(kind, make)))
            reader.close()
            for left in reader.left_behind():
                placed.fail(left)
            placed.tried += len(found)
        return found

    for kind in seeds.KINDS:
        seeds.of_kind(kind)
    with ThreadPoolExecutor(WORKERS) as pool:
        done = [one for part in pool.map(share, range(WORKERS)) for one in part]
    for name, answer in done:
        row = trapped if name else rows[answer.kind]
        row.tried += 1
        if answer.bad:
            row.fail(f"{name}: {answer.bad}" if name else answer.bad)
    for what, row in [*rows.items(), ("", trapped)]:
        mine = [a for (name, a) in done if (name != "") == (what == "") and (not what or a.kind == what)]
        row.figures = _figures(mine)
    return [*rows.values(), trapped, placed]


def _figures(answers: list[Answer]) -> str:
    if not answers:
        return ""
    seconds = [answer.seconds for answer in answers]
    refused = Counter(bool(answer.said) for answer in answers)[True]
    return (
        f"{refused:,} refused, {len(answers) - refused:,} read; p50 {percentile(seconds, 50) * 1000:.0f} ms, "
        f"most {max(seconds):.2f} s, {max(answer.peak for answer in answers):.0f} MB"
    )
