"""While somebody plays Python does not go through all there is again and again, and imports nothing."""

from __future__ import annotations

import gc
import os
import pathlib
import subprocess
import sys
from collections.abc import Iterator

import pytest

from trainer.window.house.sparing import spare


@pytest.fixture(autouse=True)
def as_before() -> Iterator[None]:
    known, frozen = gc.get_threshold(), gc.get_freeze_count()
    yield
    gc.set_threshold(*known)
    if not frozen:
        gc.unfreeze()


def test_what_is_there_is_not_gone_through_again_and_a_press_starts_no_collection() -> None:
    there = [[number] for number in range(1000)]
    spare()
    assert not any(one is there for one in gc.get_objects())
    passes = sum(each["collections"] for each in gc.get_stats())
    # More than a press makes of new values.
    kept = [(number, [number]) for number in range(5000)]
    assert sum(each["collections"] for each in gc.get_stats()) == passes
    assert len(kept) == 5000


# A take after all that is loaded once the first frame stands; what is imported meanwhile is told.
TAKE = """
import importlib, sys
from tests.music.tunes import tune
from trainer.window.house import houseloop
for name in houseloop._LATER:
    importlib.import_module(name)
loaded = set(sys.modules)
from trainer.listening.press import Press
from trainer.music.transpose import plan
from trainer.session import Session
piece = tune("C", "C4 D4 E4 F4 G4 F4 E4 D4 C4")
session = Session(piece, plan(piece.key, "Eb"))
for at, note in enumerate(session.expected.notes):
    mark = session.hear(Press(at / 2, note.midi + (at == 3)))
    session.words(mark)
session.finish()
print(*sorted(set(sys.modules) - loaded))
"""


def test_a_take_imports_nothing_any_more() -> None:
    """The frame that did would be late by what it takes."""
    environment = {**os.environ, "PYTHONPATH": str(pathlib.Path(__file__).resolve().parents[3])}
    done = subprocess.run([sys.executable, "-c", TAKE], env=environment, capture_output=True, text=True, check=True)
    assert done.stdout.split() == []
