"""The second process: what becomes of a job when it dies, and what is said of one that failed."""

from __future__ import annotations

import os
import pathlib
import signal
import threading
import time
from collections.abc import Callable, Iterator
from functools import partial
from types import SimpleNamespace
from typing import Any

import pytest

from tools import staging
from trainer.journal.store import Journal
from trainer.music.keys import Key
from trainer.music.pitch import MusicError
from trainer.scores.shelf.library import Shelf
from trainer.window.desk.desk import Desk
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.paint.canvas import Canvas
from trainer.window.setup.setup import Setup
from trainer.window.strings import say
from trainer.window.workroom import jobs, pieces, studies, workroom
from trainer.window.workroom.workroom import WorkLost, Workroom

SIZE = (1280, 800)
SENTENCE = "This piece cannot be engraved here: choose another, or export it again as MusicXML."


def dying(marker: str) -> int:
    """A job that the first process to try it does not outlive, as when memory runs out."""
    place = pathlib.Path(marker)
    place.write_text(place.read_text(encoding="utf-8") + "." if place.exists() else ".")
    if len(place.read_text(encoding="utf-8")) == 1:
        os.kill(os.getpid(), signal.SIGKILL)
    return len(place.read_text(encoding="utf-8"))


def deadly() -> int:
    """A job nobody outlives."""
    os._exit(3)


class Growing:
    """What works something out, and remembers it, the very moment it is packed for the second process."""

    def __init__(self) -> None:
        self.kept, self.length = Noticing(self), 4


class Noticing:
    def __init__(self, owner: Growing) -> None:
        self.owner = owner

    def __reduce__(self) -> tuple[type[int], tuple[int]]:
        vars(self.owner).setdefault("worked_out", 12)
        return int, (7,)


def remembered(growing: Growing) -> dict[str, int]:
    return vars(growing)


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


def test_a_piece_in_use_while_it_is_packed_is_engraved_all_the_same(room: Workroom) -> None:
    found: list[dict[str, int]] = []
    trouble: list[Exception] = []
    room.ask(remembered, Growing(), then=found.append, failed=trouble.append)
    assert collected(room)
    assert (found, trouble) == ([{"kept": 7, "length": 4, "worked_out": 12}], [])


def slowly(value: int) -> int:
    time.sleep(0.3)
    return value


def asleep(seconds: int) -> int:
    """A job of a minute."""
    time.sleep(seconds)
    return seconds


def written_after(path: str, at: int) -> str:
    """A job that takes the longer the earlier it was asked for."""
    time.sleep((20 - at) / 1000)
    place = pathlib.Path(path)
    place.write_text(f"{place.read_text(encoding='utf-8') if place.exists() else ''} {at}", encoding="utf-8")
    return str(at)


def test_of_a_page_asked_for_again_and_again_only_the_last_is_made(room: Workroom) -> None:
    found: list[int] = []
    trouble: list[Exception] = []
    for size in range(9):
        room.ask(slowly, size, then=found.append, failed=trouble.append, place="page")
    room.ask(slowly, 100, then=found.append, failed=trouble.append)
    assert room.waiting == 3, "one at work, the last, and what has no place"
    collected(room)
    assert (found, trouble) == ([0, 8, 100], [])


def test_what_is_done_behind_holds_nothing_up_and_can_be_given_up(room: Workroom) -> None:
    found: list[int] = []
    trouble: list[Exception] = []
    room.ask(asleep, 60, then=found.append, failed=trouble.append, place="page", behind=True)
    room.ask(abs, -8, then=found.append, failed=trouble.append, behind=True)
    room.ask(abs, -7, then=found.append, failed=trouble.append)
    end = time.monotonic() + 50
    while not found and time.monotonic() < end:
        time.sleep(0.02)
        room.collect()
    assert found == [7]
    assert room.waiting == 2
    room.give_up("page")
    collected(room)
    assert (found, trouble) == ([7, 8], [])


def test_what_was_said_is_kept_in_its_order_whatever_is_at_work_and_before_the_end(tmp_path: pathlib.Path) -> None:
    room, told = Workroom(lambda: None), list[str]()
    room.ask(asleep, 60, then=lambda _: None, failed=lambda _: None)
    for at in range(20):
        room.keep(written_after, str(tmp_path / "said"), at, then=told.append, failed=lambda _: None)
    room.close()
    assert (tmp_path / "said").read_text(encoding="utf-8").split() == [str(at) for at in range(20)]
    room.collect()
    assert told == [str(at) for at in range(20)]


def test_what_only_waits_for_another_program_holds_up_no_page(room: Workroom) -> None:
    found: list[int] = []
    trouble: list[Exception] = []
    gone = threading.Event()
    room.ask_aside(lambda: int(gone.wait(60)), then=found.append, failed=trouble.append)
    room.ask(abs, -7, then=found.append, failed=trouble.append)
    assert collected(room)
    assert found == [7]
    gone.set()
    end = time.monotonic() + 60
    while len(found) < 2 and time.monotonic() < end:
        time.sleep(0.02)
        room.collect()
    room.ask_aside(pathlib.Path("nowhere-at-all").read_text, then=lambda _: None, failed=trouble.append)
    while not trouble and time.monotonic() < end:
        time.sleep(0.02)
        room.collect()
    assert found == [7, 1]
    assert isinstance(trouble[0], FileNotFoundError)


def test_a_process_that_is_killed_once_costs_no_job(room: Workroom, tmp_path: pathlib.Path) -> None:
    found: list[int] = []
    trouble: list[Exception] = []
    room.ask(dying, str(tmp_path / "tried"), then=found.append, failed=trouble.append)
    room.ask(abs, -7, then=found.append, failed=trouble.append)
    assert collected(room)
    assert found == [2, 7], "in the order they were asked for"
    assert not trouble


@pytest.mark.parametrize("told", [True, OSError("the pipe is broken")])
def test_the_second_process_ends_with_the_window_however_its_pipe_tells_it(
    monkeypatch: pytest.MonkeyPatch, told: bool | OSError
) -> None:
    ended = threading.Event()
    monkeypatch.setattr(signal, "signal", lambda *_: None)
    monkeypatch.setattr(os, "_exit", lambda _: ended.set())

    def poll(_: float | None) -> bool:
        if isinstance(told, OSError):
            raise told
        return told

    workroom._live_with(SimpleNamespace(poll=poll, close=lambda: None))
    assert ended.wait(60.0)


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
    trouble: list[Exception] = []

    def further(_: int) -> None:
        room.ask(abs, -3, then=found.append, failed=trouble.append)

    room.ask(abs, -2, then=further, failed=trouble.append)
    end = time.monotonic() + 60
    while not room.collect():
        assert time.monotonic() < end
        time.sleep(0.02)
    assert room.waiting == (0 if found else 1)
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
    assert stand.practice is not None
    stand.change(stand.practice.wish)
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
    from trainer.window.workroom import studies

    monkeypatch.setattr(studies, "chords_found", refuse(ZeroDivisionError("division by zero")))
    stand.glimpse(False)
    house.change(chords=True)
    house.draw()
    house.draw()
    assert house.notice.words == "The chords of this piece cannot be found; it can be played all the same."


@pytest.mark.parametrize("trouble", [KeyError("n12"), WorkLost()])
@pytest.mark.parametrize("screen", ["desk", "keys", "singer"])
def test_a_shelf_that_cannot_be_read_is_told_as_that(
    screen: str, trouble: Exception, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not by a programmer's word, nor as though a piece had been chosen."""
    house = house_of(SIZE)
    monkeypatch.setattr(pieces, "shelved", refuse(trouble))
    monkeypatch.setattr(f"trainer.window.{screen}.{screen}.Shelf", lambda: SimpleNamespace(entries=[]))
    house.ready = True
    house.go(screen)
    assert house.notice is not None
    assert house.notice.words == say("desk.shelf.unread")
    # It is not said to be read for ever.
    house.notice = None
    house.go("desk")
    house.draw()
    assert house.canvas is not None
    said = {box.name: box.text for box in house.canvas.boxes}
    assert say("desk.shelf.reading") not in said.values()
    assert say("desk.today.shelf") not in said.values()


def test_a_folder_of_the_shelf_that_cannot_be_read_is_told_at_the_desk_as_long_as_it_is_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    house = house_of(SIZE)
    known = Shelf().entries
    trouble = ["The folder /mnt/music cannot be read."]
    monkeypatch.setattr(pieces, "shelved", lambda: (known, trouble[0], 0))
    house.ready = True
    for _ in range(2):
        house.go("desk")
        house.notice = None
        house.draw()
        assert house.canvas is not None
        assert trouble[0] in {box.text for box in house.canvas.boxes}
        assert house.screen_of(Desk).entries == known
    trouble[0] = ""
    house.go("desk")
    house.draw()
    assert house.canvas is not None
    assert "The folder" not in " ".join(box.text for box in house.canvas.boxes)


def test_what_fails_elsewhere_is_told_in_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pattern, a take that plays itself, an export: each job's own sentence, or that of the table."""
    house = house_of(SIZE)
    for module, name in ((pieces, "pattern_of"), (pieces, "shelf_piece"), (studies, "exported")):
        monkeypatch.setattr(module, name, refuse(KeyError("n12")))
    setup = house.screen_of(Setup)
    told = []
    with Journal(house.journal_file) as house.journal:
        for ask in (partial(house.rounds.play_pattern, "pentascale", Key.parse("C"), "both"),
                    house.rounds.watch_bundled, setup.export):  # fmt: skip
            ask()
            assert house.notice is not None
            told.append(house.notice.words)
    assert told == [say("desk.unreadable"), say("desk.unreadable"), say("setup.export.failed")]


def test_an_engraver_that_cannot_be_made_ready_is_told_by_the_first_piece_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    house = house_of(SIZE)
    house.go("desk")
    house.notice = None
    monkeypatch.setattr(jobs, "warm", refuse(WorkLost()))
    monkeypatch.setattr(House, "open_ports", lambda house: None)
    monkeypatch.setattr(House, "open_sound", lambda house: None)
    house.open_up()
    assert house.notice is None or "piece" not in house.notice.words
