"""Inputs guided by what the code does with them: ``python -m tools.fault.guided KIND FOLDER SEED COUNT``.

atheris has to see our modules before anybody imports them, so nothing of ours is imported above.
"""

from __future__ import annotations

import contextlib
import importlib
import random
import sys
import zipfile
import zlib
from pathlib import Path

import atheris

# Ours, and what reads files for us. music21 is left out: guided it would take ten times as long.
GUIDING = ["trainer", "mido", "tomlkit"]
ROOMS = ("scores.reading", "scores.library", "scores.musicxml", "scores.barreading", "scores.elements",
         "scores.humdrum", "scores.kern", "scores.unfolding",
         "listening.replay", "journal.handover", "journal.rescue", "coaching.assignments", "coaching.setlist",
         "coaching.corrections", "coaching.path", "session")  # fmt: skip


def main() -> int:
    kind, place, seed, count = sys.argv[1:]
    with atheris.instrument_imports(include=GUIDING):
        for name in ("mido", "tomlkit", *(f"trainer.{room}" for room in ROOMS)):
            importlib.import_module(name)
        from tools.fault import mutate
        from tools.fault.fuzz import LONGEST, reading
        from tools.fault.inputs import PATIENCE_S
        from tools.fault.reader import limited

        limited()
        folder = Path(place)
        # What is imported late is imported in here, too.
        read = reading(kind, folder)

    def change(data: bytes, largest: int, number: int) -> bytes:
        dice = random.Random(number)
        # What is no archive any more cannot be changed inside.
        with contextlib.suppress(ValueError, IndexError, KeyError, zipfile.BadZipFile, zlib.error, NotImplementedError):
            if dice.random() < 0.5:
                return mutate.mutated(data, kind, dice)[:largest]
        return bytes(atheris.Mutate(data, largest))

    words = ["guided", f"-runs={count}", f"-seed={seed}", f"-max_len={LONGEST}", f"-timeout={PATIENCE_S:.0f}",
             "-rss_limit_mb=0", str(folder / "found"), str(folder / "seeds")]  # fmt: skip
    atheris.Setup(words, read, custom_mutator=change)
    atheris.Fuzz()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
