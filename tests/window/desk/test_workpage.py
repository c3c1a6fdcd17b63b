"""Work on terms chosen at the Desk: until when, how often, how well, how fast, with which help, for whom, a note."""

from __future__ import annotations

import pathlib
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

import pygame
import pypdf
import pytest

from tests.journal.played import play
from tests.window.desk.test_desk import struck
from tools import staging
from trainer.coaching.today.schedule import SET_WORK
from trainer.coaching.work import assignments
from trainer.music.pitch import MusicError
from trainer.scores.reading import read
from trainer.scores.shelf.library import find
from trainer.window.desk.desk import Desk
from trainer.window.desk.deskwork import Terms
from trainer.window.desk.workpage import WorkPage
from trainer.window.house.house import House
from trainer.window.house.still import house_of


@pytest.fixture
def house() -> Iterator[House]:
    with staging.home():
        made = house_of((1280, 800))
        made.open_journal()
        made.show(desk := made.screen_of(Desk))
        assert isinstance(desk, Desk)
        made.draw()
        desk.search("aura lee")
        desk.target = 8
        yield made
        made.close()


def desk_of(house: House) -> Desk:
    return house.screen_of(Desk)


def to_work(house: House) -> None:
    house.go("work")
    house.draw()


def typed(house: House, words: str) -> None:
    for letter in words:
        struck(house, pygame.K_a, letter)


def stepped(house: House, name: str, by: int) -> None:
    """Step a choice, as its arrows do."""
    for _ in range(abs(by)):
        _, controls = house.laid()
        control = controls.named(name)
        assert control is not None
        step = control.more if by > 0 else control.less
        assert step is not None
        step()


def set_for(house: House) -> assignments.Assignment:
    (found,) = assignments.load(house.journal_file.parent)
    return found


def test_the_terms_are_chosen_where_the_piece_is_and_stand_in_the_file(house: House) -> None:
    struck(house, pygame.K_s, "s")
    assert isinstance(house.screen, WorkPage)
    for name, by in (("days", 3), ("times", 1), ("goal", 1), ("tempo", 3), ("help", 2)):
        stepped(house, name, by)
    struck(house, pygame.K_n, "n")
    typed(house, "Left hand first.")
    struck(house, pygame.K_RETURN)
    assert isinstance(house.screen, Desk)
    work = set_for(house)
    assert (work.times, work.goal, work.tempo, work.help) == (2, 0.95, 36, "do")
    assert (work.by, work.note) == (date.today() + timedelta(days=10), "Left hand first.")
    (asked,) = (one for one in house.screen.suggestions if one.kind == SET_WORK)
    assert asked.why.startswith("set: 95% right, at 36 or faster, 0 of 2 times, by ")
    assert asked.why.endswith(". Left hand first.")


def test_what_is_set_is_shown_as_it_is_and_changed_in_its_place(house: House) -> None:
    struck(house, pygame.K_s, "s")
    stepped(house, "goal", -2)
    struck(house, pygame.K_RETURN)
    struck(house, pygame.K_s, "s")
    page = house.screen
    assert isinstance(page, WorkPage)
    assert (page.terms.goal, page.terms.days) == (80, 7)
    stepped(house, "days", -6)
    struck(house, pygame.K_RETURN)
    assert house.notice is not None
    assert "is set anew for" in house.notice.words
    assert (set_for(house).goal, set_for(house).by) == (0.8, date.today() + timedelta(days=1))
    struck(house, pygame.K_s, "s")
    struck(house, pygame.K_RETURN)
    assert house.notice is not None
    assert house.notice.words.endswith("already.")
    struck(house, pygame.K_s, "s")
    struck(house, pygame.K_DELETE)
    assert isinstance(house.screen, Desk)
    assert assignments.load(house.journal_file.parent) == ()


def test_what_is_set_stays_where_other_terms_cannot_be_written(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    struck(house, pygame.K_s, "s")
    struck(house, pygame.K_RETURN)

    def full(folder: pathlib.Path, work: assignments.Assignment) -> None:
        raise MusicError("There is no room left.")

    monkeypatch.setattr(assignments, "add", full)
    struck(house, pygame.K_s, "s")
    stepped(house, "goal", -2)
    struck(house, pygame.K_RETURN)
    assert house.notice is not None
    assert house.notice.words == "There is no room left."
    assert set_for(house).goal == 0.9


def test_what_was_reached_is_not_asked_for_again(house: House) -> None:
    assert house.journal is not None
    desk, piece = desk_of(house), read(find("aura-lee"))
    to_work(house)
    stepped(house, "times", 2)
    struck(house, pygame.K_RETURN)
    play(house.journal, "Eb", piece=piece, player=house.player)
    to_work(house)
    page = house.screen
    assert isinstance(page, WorkPage)
    assert page.terms.times == 2
    struck(house, pygame.K_RETURN)
    assert set_for(house).times == 3
    (asked,) = (one for one in desk.suggestions if one.kind == SET_WORK)
    assert "1 of 3 times" in asked.why


def test_work_for_everyone_where_several_play(house: House) -> None:
    assert house.journal is not None
    to_work(house)
    _, controls = house.laid()
    assert controls.named("everyone") is None, "only one plays here"
    play(house.journal, "Eb", player="Ben Frost")
    house.journal.flush()
    stepped(house, "everyone", 1)
    struck(house, pygame.K_RETURN)
    assert set_for(house).players == ()
    assert house.notice is not None
    assert "is set for everyone until" in house.notice.words


def test_a_note_is_for_one_piece_the_other_terms_stay(house: House) -> None:
    page = house.screen_of(WorkPage)
    to_work(house)
    page.change(note="Only here.", times=3)
    struck(house, pygame.K_RETURN)
    desk_of(house).target = 3
    to_work(house)
    assert (page.terms.note, page.terms.times) == ("", 3)


def test_terms_from_the_file_that_are_no_choice_here_are_shown_as_the_nearest(house: House) -> None:
    folder = house.journal_file.parent
    far = date.today() + timedelta(days=90)
    work = assignments.Assignment("aura-lee", "Aura Lee", ("Eb",), (), "both", 61.0, "none", 0.87, 9, by=far)
    assignments.add(folder, work)
    to_work(house)
    page = house.screen
    assert isinstance(page, WorkPage)
    house.draw()
    assert page.terms.everyone
    assert (page.terms.tempo, page.terms.goal, page.terms.times, page.terms.days) == (60, 85, 5, 28)


def test_what_does_not_fit_a_line_shows_its_end_while_it_is_typed(house: House) -> None:
    to_work(house)
    page = house.screen
    assert isinstance(page, WorkPage)
    page.change(note="Slowly, " * 40 + "and the end of it")

    def shown() -> str:
        house.draw()
        assert house.canvas is not None
        return next(box.text for box in house.canvas.boxes if box.name == "note.text")

    struck(house, pygame.K_n, "n")
    assert shown().startswith("…")
    assert shown().endswith("and the end of it")
    struck(house, pygame.K_ESCAPE)
    assert shown().startswith("Slowly")


@pytest.mark.parametrize("size", [(1366, 768), (960, 600), (1920, 1080)])
def test_a_long_note_can_be_read_from_the_bench(house: House, size: tuple[int, int]) -> None:
    note = "Left hand alone first, saying the syllables; then both, without looking down, and slower than you think."
    desk_of(house).set_work(replace(Terms(), note=note))
    bench = house_of(size)
    bench.open_journal()
    bench.go("desk")
    bench.draw()
    assert bench.canvas is not None
    (said,) = (box for box in bench.canvas.boxes if box.name.endswith(".why") and note in box.text)
    assert not said.cut
    assert isinstance(said.state, tuple)
    assert said.state[2] >= 0.78 * bench.canvas.unit, "the size it is set in"
    bench.close()


def test_the_sheet_that_goes_home_says_what_is_set(house: House) -> None:
    desk = desk_of(house)

    def front() -> str:
        desk.print_sheet()
        return " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(desk.sheet).pages[:2]).split())

    assert f"For {house.player}" not in front()
    to_work(house)
    page = house.screen
    assert isinstance(page, WorkPage)
    page.change(times=2, goal=95, note="Left hand first.")
    struck(house, pygame.K_RETURN)
    day = date.today() + timedelta(days=7)
    printed = front()
    assert f"For {house.player}: E" in printed
    assert f", 95% right, twice, by {day.day} {day:%B}. Left hand first." in printed
    # Another key is not set.
    desk.target = 3
    assert "Left hand first" not in front()


@pytest.mark.parametrize("size", [(1024, 768), (1080, 1920), (960, 600), (1280, 800)])
def test_the_way_to_set_work_stands_on_the_desk_beside_where_the_piece_is_moved(
    house: House, size: tuple[int, int]
) -> None:
    house.pane.surface = pygame.Surface(size, 0, 32)
    desk = desk_of(house)
    assert desk.entry is not None
    for at in range(len(desk.targets(desk.entry))):
        desk.target = at
        canvas, _ = house.laid()
        found = {box.name: box for box in canvas.boxes}
        assert found["set.cap.text"].text == "s"
        assert not found["card.moved"].cut
