"""The plain files a teacher edits: what is wrong in them is said in a sentence, whatever stands there."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from tests.music.tunes import tune
from trainer.coaching.own import corrections
from trainer.coaching.path import path
from trainer.coaching.singers import setlist
from trainer.coaching.work import assignments
from trainer.music.pitch import MusicError
from trainer.scores.harmony import Correction
from trainer.scores.plain import LARGEST, read_plain

LONG = ["x" * 5000, "word " * 1000, "a\\nb"]


@pytest.mark.parametrize("written", LONG, ids=["long", "words", "lines"])
@pytest.mark.parametrize(
    ("room", "text"),
    [(assignments, '"{}" = 1'), (assignments, '"{}" = 1\n"{}" = 2'), (assignments, '[[assignment]]\n"{}" = 1'),
     (assignments, '[[assignment]]\npiece = "Aura Lee"\nkeys = ["{}"]'),
     (setlist, '[[singer]]\nname = "Ada"\nvoice = "{}"'),
     (setlist, '[[singer]]\nname = "Ada"\ntessitura = "{}"'), (path, '[[step]]\nlevel = "{}"')],
)  # fmt: skip
def test_what_was_written_is_quoted_on_one_line_that_can_be_read(
    room: Any, text: str, written: str, tmp_path: Path
) -> None:
    (tmp_path / room.FILE).write_text(text.replace("{}", written), encoding="utf-8")
    with pytest.raises(MusicError) as refusal:
        room.load(tmp_path)
    said = str(refusal.value)
    assert "\n" not in said
    assert len(said) < 300 + len(str(tmp_path))


@pytest.mark.parametrize(
    ("name", "save"),
    [(setlist.FILE, lambda folder: setlist.save(folder, setlist.demo(date(2027, 2, 10)))),
     (corrections.FILE, lambda folder: corrections.keep(folder, tune("C", "C4 E4"), Correction(Fraction(0), "I")))],
)  # fmt: skip
def test_a_full_file_is_left_as_it_is_and_can_be_read_on(
    name: str, save: Callable[[Path], None], tmp_path: Path
) -> None:
    place = tmp_path / name
    place.write_text(f"#{'x' * (LARGEST - 20)}\n", encoding="utf-8")
    before = place.read_bytes()
    with pytest.raises(MusicError, match="holds as much as it can"):
        save(tmp_path)
    assert place.read_bytes() == before
    assert read_plain(place) is not None
