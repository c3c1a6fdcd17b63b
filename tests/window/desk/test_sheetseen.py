"""A sheet is seen on the screen as it will come out, before it is printed."""

from __future__ import annotations

from collections.abc import Iterator

import pygame
import pypdf
import pytest

from tests.window.desk.test_desk import struck
from tools import staging
from trainer.music.pitch import MusicError
from trainer.music.transpose import plan
from trainer.window.desk import deskwork
from trainer.window.desk.desk import Desk
from trainer.window.desk.sheetpage import SheetPage
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.settings import Settings
from trainer.window.workroom import studies


@pytest.fixture
def house() -> Iterator[House]:
    with staging.home():
        made = house_of((1280, 800))
        made.open_journal()
        made.show(desk := made.screen_of(Desk))
        made.draw()
        desk.search("three bells")
        desk.target = 8
        yield made
        made.close()


def inked(house: House) -> list[tuple[int, int]]:
    """Pixels of the page in which something is printed: far from the ground of its box."""
    house.draw()
    rect = page_of(house).inflate(-6, -6)
    surface = surface_of(house)
    ground = surface.get_at(rect.topleft)
    return [
        (x, y)
        for x in range(rect.left, rect.right, 2)
        for y in range(rect.top, rect.bottom, 2)
        if sum(abs(surface.get_at((x, y))[tone] - ground[tone]) for tone in range(3)) > 150
    ]


def surface_of(house: House) -> pygame.Surface:
    assert house.pane.surface is not None
    return house.pane.surface


def page_of(house: House) -> pygame.Rect:
    canvas, _ = house.laid()
    (found,) = (box.rect for box in canvas.boxes if box.name == "seen.ground")
    return found


def said(house: House, name: str) -> str:
    canvas, _ = house.laid()
    return " ".join(box.text for box in canvas.boxes if box.name.startswith(name))


def test_the_page_is_seen_and_turned_and_has_as_many_pages_as_are_printed(house: House) -> None:
    house.go("sheet")
    first = inked(house)
    assert len(first) > 100
    wide, high = page_of(house).size
    assert high / wide == pytest.approx(297 / 210, abs=0.01)
    assert "page 1 of 3" in said(house, "seen.turn")
    struck(house, pygame.K_PAGEDOWN)
    assert "page 2 of 3" in said(house, "seen.turn")
    assert inked(house) != first
    struck(house, pygame.K_PAGEUP)
    assert inked(house) == first
    struck(house, pygame.K_PAGEUP)
    assert "page 3 of 3" in said(house, "seen.turn")
    struck(house, pygame.K_RETURN)
    assert len(pypdf.PdfReader(house.screen_of(Desk).sheet).pages) == 3


def test_what_is_chosen_is_seen_at_once(house: House) -> None:
    house.go("sheet")
    inked(house)
    for name, pages in (("sheet_answers", 2), ("sheet_blank", 1)):
        house.change(**{name: False})
        house.draw()
        turner = said(house, "seen.turn")
        assert turner.startswith(f"page 1 of {pages}") if pages > 1 else not turner
    with_syllables = inked(house)
    house.change(sheet_syllables=False)
    assert len(inked(house)) < len(with_syllables)


def test_what_is_set_of_the_piece_is_looked_up_once_and_stands_on_the_page(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked: list[object] = []
    asked: list[object] = []

    def left_of(*given: object) -> str:
        looked.append(given)
        return "Played daily."

    def ask(job: object, *given: object, **then: object) -> None:
        if job is studies.seen_on_paper:
            asked.append(given[4])

    monkeypatch.setattr(deskwork, "left_of", left_of)
    monkeypatch.setattr(house.workroom, "ask", ask)
    house.go("sheet")
    for paper in ("letter", "a4", "letter"):
        house.draw()
        house.change(paper=paper)
    assert (len(looked), asked) == (1, ["Played daily."] * 3)
    house.go("desk")
    house.go("sheet")
    house.draw()
    assert len(looked) == 2


def test_by_night_the_page_is_light_on_dark(house: House) -> None:
    house.change(night=True)
    house.go("sheet")
    marks = inked(house)
    assert marks
    surface = surface_of(house)
    ground = surface.get_at(page_of(house).inflate(-6, -6).topleft)
    assert all(sum(surface.get_at(place)[:3]) > sum(ground[:3]) for place in marks)


def test_why_no_page_can_be_seen_stands_in_its_place(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*given: object) -> tuple[bytes, ...]:
        raise MusicError("This tune is too long for one part.")

    monkeypatch.setattr(studies, "seen_on_paper", refuse)
    house.go("sheet")
    assert said(house, "seen.trouble") == "This tune is too long for one part."
    monkeypatch.undo()
    house.change(sheet_page="alone")
    assert inked(house)
    assert said(house, "seen.trouble") == ""


def test_an_answer_to_what_was_chosen_before_is_not_shown(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    waiting = []
    monkeypatch.setattr(house.workroom, "ask", lambda job, *given, then, failed, place: waiting.append((given, then)))
    house.go("sheet")
    house.draw()
    house.change(paper="letter")
    house.draw()
    (before, late), (now, then) = waiting
    assert [one.paper for given in (before, now) for one in given if isinstance(one, Settings)] == ["a4", "letter"]
    then(studies.seen_on_paper(*now))
    shown = inked(house)
    late((b"not a page",) * 7)
    assert inked(house) == shown
    assert "of 3" in said(house, "seen.turn")


def test_the_song_of_the_singer_screen_is_seen_though_it_does_not_lie_on_the_shelf(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    house.go("singer")
    asked = []
    monkeypatch.setattr(house.workroom, "ask", lambda job, path, move, *given, **then: asked.append((path, move)))
    desk = house.screen_of(Desk)
    assert desk.asked is not None
    song, move = desk.asked[0]._replace(path="elsewhere.musicxml"), plan(desk.asked[1].written, "D")
    house.screen_of(SheetPage).show_for(song, move)
    house.draw()
    assert asked == [("elsewhere.musicxml", move)]


def test_pages_of_the_piece_chosen_before_are_not_shown_as_those_of_this_one(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    waiting = []
    monkeypatch.setattr(house.workroom, "ask", lambda job, *given, then, **other: waiting.append((job, given, then)))
    desk = house.screen_of(Desk)
    for title in ("three bells", "aura lee"):
        desk.search(title)
        house.go("sheet")
        house.draw()
        house.go("desk")
    house.go("sheet")
    house.draw()
    asked = [(given[0], then) for job, given, then in waiting if job is studies.seen_on_paper]
    assert ["three-bells" in path for path, _ in asked] == [True, False, False]
    before = inked(house)
    for _, late in asked[:2]:
        late((b"not a page",) * 7)
    assert inked(house) == before
    # Another piece may be chosen while the page is seen: the shelf is read by then, and the file is gone.
    desk.search("three bells")
    house.draw()
    assert "three-bells" in waiting[-1][1][0]


@pytest.mark.parametrize(("size", "is_seen"), [((1280, 800), True), ((1080, 1920), True), ((700, 500), False)])
def test_where_there_is_no_room_for_a_page_the_choices_have_it_all(
    house: House, size: tuple[int, int], is_seen: bool
) -> None:
    house.pane.surface = pygame.Surface(size, 0, 32)
    house.change(scale=100 if is_seen else 200)
    house.go("sheet")
    canvas, _ = house.laid()
    found = {box.name: box.rect for box in canvas.boxes}
    assert ("seen.ground" in found) == is_seen
    if is_seen:
        page = found.pop("seen.ground")
        others = [rect for name, rect in found.items() if not name.startswith(("seen", "paper", "ground"))]
        assert not [rect for rect in others if rect.colliderect(page)]
