"""The work of a week on paper."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from tests.coaching.paper.test_sheets import flat, words
from tests.journal.played import play
from trainer.coaching.paper.workbook import workbook
from trainer.coaching.work.assignments import Assignment, Progress
from trainer.coaching.work.work import work_of
from trainer.journal.store import Journal
from trainer.music.pitch import MusicError
from trainer.scores.paper.printing import Boxes, Document, Heading, NewPage
from trainer.scores.reading import read
from trainer.scores.shelf.library import find

DAY = date(2027, 2, 8)


def progress(tmp_path: Path, *work: Assignment) -> list[Progress]:
    with Journal(tmp_path / "journal.sqlite") as journal:
        play(journal, "G", piece=read(find("three-bells")), player="Ida Brand")
        return work_of(journal, "Ida Brand", work, DAY)


def pieces(document: Document) -> list[str]:
    return [block.text for block in flat(document.blocks) if isinstance(block, Heading) and block.level == 1]


def set_(name: str, *keys: str, **more: object) -> Assignment:
    piece = read(find(name))
    return Assignment(name, piece.title, keys, written=piece.key, **more)  # type: ignore[arg-type]


def test_what_is_set_stands_in_order_with_room_for_dates_and_then_the_pages(tmp_path: Path) -> None:
    work = progress(
        tmp_path,
        set_("aura-lee", "Eb", "F#", times=8, by=date(2027, 2, 20), note="Left hand alone first."),
        set_("ode-to-joy", "A", hands="right", by=date(2027, 2, 12)),
        set_("au-clair-de-la-lune-first-strain", "D", by=date(2027, 2, 12)),
    )
    document = workbook("Ida Brand", work, DAY)
    assert pieces(document) == [
        "Work for Ida Brand", "Ode to Joy", "Au clair de la lune (first strain)", "Aura Lee",
    ]  # fmt: skip
    text = words(document)
    assert "1. Ode to Joy" in text
    assert "3. Aura Lee" in text
    assert "E♭ major, F♯ major, 90% right, 8 times in each key, by 20 February." in text
    assert "Left hand alone first." in text
    assert "A major, right hand, 90% right, by 12 February." in text
    front = flat(document.blocks[: next(at for at, one in enumerate(document.blocks) if isinstance(one, NewPage))])
    assert [block.count for block in front if isinstance(block, Boxes)] == [6, 6, 8]
    # One page of a piece, its keys under it.
    assert sum(isinstance(block, NewPage) for block in document.blocks) == 3


def test_what_is_done_is_not_printed(tmp_path: Path) -> None:
    done, left = set_("three-bells", "G"), set_("three-bells", "D")
    document = workbook("Ida Brand", progress(tmp_path, done, left), DAY)
    assert "G major, 90%" not in words(document)
    assert "D major, 90%" in words(document)
    with pytest.raises(MusicError, match="Nothing is set for Ida Brand that is not done"):
        workbook("Ida Brand", progress(tmp_path, done), DAY)


def test_a_piece_that_is_not_here_is_named_all_the_same(tmp_path: Path) -> None:
    (tmp_path / "gone").mkdir()
    gone = Assignment("no-such-tune", "The Lost Tune", ("Eb",), written=read(find("aura-lee")).key)
    document = workbook("Ida Brand", progress(tmp_path, gone), DAY)
    assert "1. The Lost Tune" in words(document)
    assert "not on the shelf here" in words(document)
    assert pieces(document) == ["Work for Ida Brand"]
