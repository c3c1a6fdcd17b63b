"""Files as a fuzzer makes them: guided by what the code does with them (atheris), and made up by rule (hypothesis).

Half of the inputs of each kind come from atheris, which keeps and changes those that reach code none reached before,
with `tools.fault.mutate` among its ways of changing; half from hypothesis by `tools.fault.grammar`. Without atheris
hypothesis makes all. What is suspicious, and every input that reached something new, is read again by the watched
reader of `tools.fault.inputs`, whose word counts: two seconds and 500 MB a file, one sentence, nothing run or written.
"""

from __future__ import annotations

import importlib.util
import os
import random
import subprocess
import sys
import tempfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from hashlib import sha256
from pathlib import Path

from tools.fault import seeds
from tools.fault.inputs import MEGABYTES, WORKERS, Answer, Reader
from tools.fault.reader import limited
from tools.fault.table import Row, percentile

ROOT = Path(__file__).resolve().parents[2]
KINDS = (seeds.MUSICXML, seeds.MXL, seeds.MIDI, seeds.TAKE, seeds.ABC, seeds.HUMDRUM, seeds.TOML, seeds.HAND_OVER)
MAKERS = {"atheris": "tools.fault.guided", "hypothesis": "tools.fault.fuzz"}
LONGEST = 60_000
# Guided reading is so much slower that what took longer is looked at again unguided.
SUSPICIOUS_S = 1.0


def run(seed: int, count: int, quick: bool) -> list[Row]:
    """`count` inputs over all kinds."""
    tools = ["atheris", "hypothesis"] if importlib.util.find_spec("atheris") else ["hypothesis"]
    each = max(1, count // len(KINDS) // len(tools))
    jobs = [(kind, tool) for kind in KINDS for tool in tools]
    with ThreadPoolExecutor(WORKERS) as pool:
        rows = list(pool.map(lambda job: _fuzzed(job[0], job[1], seed, each), jobs))
    if len(tools) == 1:
        rows[0].figures += "; atheris is not installed: pip install 'keyfarer[fuzz]'"
    return rows


def _fuzzed(kind: str, tool: str, seed: int, count: int) -> Row:
    row = Row(f"{kind}, {tool}")
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        for name in ("room", "room/home", "found", "seeds"):
            (folder / name).mkdir()
        for at, data in enumerate(seeds.of_kind(kind)):
            (folder / "seeds" / f"{at}").write_bytes(data)
        environment = {
            **os.environ, "KEYFARER_HOME": str(folder / "room" / "home"), "HOME": str(folder / "room" / "home"),
            "TMPDIR": str(folder / "room"), "PYTHONPATH": str(ROOT), "SDL_VIDEODRIVER": "dummy",
        }  # fmt: skip
        words = [sys.executable, "-m", MAKERS[tool], kind, str(folder), str(seed), str(count)]
        with (folder / "said").open("wb") as said:
            code = subprocess.run(words, cwd=folder, env=environment, stdout=said, stderr=said).returncode
        told = (folder / "said").read_bytes().decode(errors="replace")
        row.tried = (folder / "tried").stat().st_size if (folder / "tried").exists() else 0
        if code or row.tried < count * 0.9:
            row.fail(f"ended with {code} after {row.tried}: {told[-200:]!r}")
        answers = _judged(row, kind, folder)
        row.figures = (
            f"{len(answers):,} read again: {sum(bool(one.said) for one in answers):,} refused; p50 "
            f"{percentile([one.seconds for one in answers], 50) * 1000:.0f} ms, "
            f"most {max((one.seconds for one in answers), default=0):.2f} s, "
            f"{max((one.peak for one in answers), default=0):.0f} MB"
        )
    return row


def _judged(row: Row, kind: str, folder: Path) -> list[Answer]:
    """The last word on what was found, by a reader nobody guides."""
    kept = Path(os.environ["KEYFARER_FAULTS"]) if "KEYFARER_FAULTS" in os.environ else None
    (folder / "again").mkdir()
    judge = Reader(folder / "again")
    answers = []
    for path in sorted([*(folder / "found").iterdir(), *folder.glob("timeout-*"), *folder.glob("crash-*")]):
        answers.append(judge.read(kind, path.read_bytes()))
        if answers[-1].bad:
            row.fail(answers[-1].bad)
            if kept is not None:
                (kept / f"{kind.strip('.')}-{path.name}").write_bytes(path.read_bytes())
    judge.close()
    for left in judge.left_behind() if answers else ():
        row.fail(f"left behind: {left}")
    return answers


def reading(kind: str, folder: Path) -> Callable[[bytes], None]:
    """Reads an input and keeps it when something about it is suspicious."""
    from tools.fault.reader import Room

    room = Room(folder / "room")
    counted = (folder / "tried").open("ab", buffering=0)

    def read(data: bytes) -> None:
        place = folder / "room" / "file.musicxml"
        place.write_bytes(data)
        answer = room.read(kind, place)
        counted.write(b".")
        if answer["bad"] or answer["seconds"] > SUSPICIOUS_S or answer["peak"] > MEGABYTES:
            (folder / "found" / f"suspicious-{sha256(data).hexdigest()[:16]}").write_bytes(data)

    return read


def by_rule(kind: str, folder: Path, seed: int, count: int) -> None:
    """Let hypothesis make the inputs."""
    import hypothesis
    from hypothesis import HealthCheck, Phase

    from tools.fault import grammar

    read = reading(kind, folder)
    dice = random.Random(seed)

    @hypothesis.seed(seed)
    @hypothesis.settings(
        max_examples=count,
        database=None,
        deadline=None,
        phases=(Phase.generate,),
        suppress_health_check=list(HealthCheck),
    )
    @hypothesis.given(grammar.files(kind))
    def every(data: bytes) -> None:
        read(data[:LONGEST])
        # Some of the others are read again as well, so that there are figures.
        if dice.random() < 0.05:
            (folder / "found" / sha256(data).hexdigest()[:16]).write_bytes(data[:LONGEST])

    every()


def main() -> int:
    kind, place, seed, count = sys.argv[1:]
    limited()
    by_rule(kind, Path(place), int(seed), int(count))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
