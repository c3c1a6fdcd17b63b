"""The second process: what becomes of a job when it dies, and what is said of one that failed."""

from __future__ import annotations

import os
import pathlib
import signal
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from tools import staging
from trainer.music.pitch import MusicError
from trainer.window import jobs
from trainer.window.canvas import Canvas
from trainer.window.house import House
from trainer.window.still import house_of
from trainer.window.strings import say
from trainer.window.workroom import WorkLost, Workroom

SIZE = (1280, 800)
SENTENCE = "This piece cannot be engraved here: choose another, or export it again as MusicXML."


def dying(marker: str) -> int:
    """A job that the first process to try it does not outlive, as when memory runs out."""
    place = pathlib.Path(marker)
    place.write_text(place.read_text() + "." if place.exists() else ".")
    if len(place.read_text()) == 1:
        os.kill(os.getpid(), signal.SIGKILL)
    return len(place.read_text())


def deadly() -> None:
    """A job nobody outlives."""
    os._exit(3)


@pytest.fixture
def room() -> Iterator[Workroom]:
    room = Workroom(lambda: None)
    yield room
    room.close()


def collected(room: Workroom) -> bool:
    """Whether anything was handed over while there was something to wait for."""
    handed = False
    end = time.monotonic() + 60
    while room.waiting and time.monotonic() < end:
        time.sleep(0.02)
        handed = room.collect() or handed
    assert not room.waiting
    return handed


def test_a_process_that_is_killed_once_costs_no_job(room: Workroom, tmp_path: pathlib.Path) -> None:
    found: list[int] = []
    trouble: list[Exception] = []
    room.ask(dying, str(tmp_path / "tried"), then=found.append, failed=trouble.append)
    room.ask(abs, -7, then=found.append, failed=trouble.append)
    assert collected(room)
    assert found == [2, 7], "in the order they were asked for"
    assert not trouble


def test_a_job_that_always_kills_is_given_up_and_those_behind_it_are_done(room: Workroom) -> None:
    found: list[int] = []
    trouble: list[Exception] = []
    room.ask(deadly, then=found.append, failed=trouble.append)
    room.ask(abs, -7, then=found.append, failed=trouble.append)
    collected(room)
    (lost,) = trouble
    assert isinstance(lost, WorkLost)
    assert found == [7]


def test_a_job_asked_for_by_another_counts_as_handed_over(room: Workroom) -> None:
    # Else no frame would be drawn for the first.
    found: list[int] = []

    def further(_: int) -> None:
        room.ask(abs, -3, then=found.append, failed=found.append)

    room.ask(abs, -2, then=further, failed=further)
    end = time.monotonic() + 60
    while not room.collect():
        assert time.monotonic() < end
        time.sleep(0.02)
    assert room.waiting == 1
    collected(room)
    assert found == [3]


def shown(house: House, name: str) -> str:
    house.draw()
    house.draw()
    assert isinstance(house.canvas, Canvas)
    return next(box.text for box in house.canvas.boxes if box.name == name)


def refuse(trouble: Exception) -> Callable[..., Any]:
    def refused(*_: object) -> None:
        raise trouble

    return refused


@pytest.mark.parametrize(
    ("trouble", "words"),
    [(RuntimeError("std::bad_alloc"), SENTENCE), (WorkLost(), str(WorkLost())), (MusicError("No staff."), "No staff.")],
)
def test_a_page_that_cannot_be_engraved_says_so_in_its_place(
    trouble: Exception, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not "engraving …" for ever, and no programmer's words."""
    house = house_of(SIZE)
    monkeypatch.setattr(jobs, "fitted", refuse(trouble))
    stand = staging.stand_of(house, "three-bells", "G")
    assert shown(house, "music.waiting") == words
    assert say("stand.engraving") not in stand.caption
    monkeypatch.undo()
    stand.change(stand.practice.wish)  # type: ignore[union-attr]
    house.change(margin=False)
    house.draw()
    house.draw()
    assert stand.page.score is not None, "asked anew, it comes"


def test_a_marked_copy_that_cannot_be_engraved_says_so_in_its_place(monkeypatch: pytest.MonkeyPatch) -> None:
    house = house_of(SIZE)
    stand = staging.stand_of(house, "three-bells", "G")
    staging.slips(house, stand)
    stand.stop()
    monkeypatch.setattr(jobs, "engraved", refuse(RuntimeError("std::bad_alloc")))
    house.go("copy")
    assert shown(house, "copy.waiting") == SENTENCE


def test_a_glimpse_and_chords_that_cannot_be_made_are_told_in_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    house = house_of(SIZE)
    stand = staging.stand_of(house, "three-bells", "G")
    monkeypatch.setattr(jobs, "glimpsed", refuse(RuntimeError("std::bad_alloc")))
    stand.glimpse(True)
    assert house.notice is not None
    assert house.notice.words == SENTENCE
    from trainer.window import studies

    monkeypatch.setattr(studies, "chords_of", refuse(ZeroDivisionError("division by zero")))
    stand.glimpse(False)
    house.change(chords=True)
    house.draw()
    house.draw()
    assert house.notice.words == "The chords of this piece cannot be found; it can be played all the same."
