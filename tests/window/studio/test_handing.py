"""The whole way round in the window: work handed over, taken in by the student, played, and taken in by the teacher."""

from __future__ import annotations

import pathlib
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import pygame
import pypdf
import pytest

from tests.journal.played import play
from tests.window.desk.test_desk import struck
from tools import staging
from trainer import folders
from trainer.coaching.own import ownfingers
from trainer.coaching.today.schedule import SET_WORK
from trainer.coaching.work import assignments
from trainer.coaching.work.work import work_of
from trainer.journal.handover import hand_over
from trainer.journal.store import Journal
from trainer.music.keys import Key
from trainer.scores.reading import read
from trainer.scores.shelf.library import find
from trainer.window import viewing
from trainer.window.desk.desk import Desk
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.keys.keys import Keys
from trainer.window.strings import say
from trainer.window.studio.handingpage import HandingPage
from trainer.window.studio.studiopage import StudioPage


def opened(place: pathlib.Path, monkeypatch: pytest.MonkeyPatch, player: str = "") -> House:
    """The program on a computer of its own."""
    monkeypatch.setenv("KEYFARER_HOME", str(place))
    house = house_of((1366, 768))
    if player:
        house.change(player=player)
    house.open_journal()
    house.go("desk")
    house.draw()
    return house


@pytest.fixture
def teacher(home: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[House]:
    """Mira teaches, and plays herself."""
    house = opened(home, monkeypatch, "Mira")
    assert house.journal is not None
    play(house.journal, "D", player="Mira")
    yield house
    house.close()


def page(house: House) -> HandingPage:
    assert isinstance(house.screen, HandingPage)
    return house.screen


def drop(house: House, path: pathlib.Path) -> None:
    house.handle(pygame.event.Event(pygame.DROPFILE, file=str(path)))
    house.draw()


def takes(house: House) -> dict[str, int]:
    assert house.journal is not None
    return {player: len(house.journal.takes(player, 99)) for player in house.journal.players()}


def from_home(place: pathlib.Path, player: str, file: pathlib.Path, count: int = 1) -> pathlib.Path:
    """What a student played at home, handed over."""
    with Journal(place / "journal.sqlite", strict=True) as journal:
        for _ in range(count):
            play(journal, "Eb", piece=read(find("aura-lee")), player=player)
        return hand_over(journal, player, file).path


def test_the_whole_way_round(
    teacher: House, home: pathlib.Path, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The teacher sets work for Ada, who has played nothing here yet, and hands it over.
    teacher.switch("Ada Winter")
    desk = teacher.screen_of(Desk)
    desk.search("aura lee")
    desk.target = 8
    desk.set_work()
    assert teacher.notice is not None
    assert "i hands it over" in teacher.notice.words
    aura = read(find("aura-lee"))
    ownfingers.keep(teacher.journal_file.parent, aura, Key.parse("Eb"), 2, 1, "Ada Winter")
    struck(teacher, pygame.K_i, "i")
    struck(teacher, pygame.K_s, "s")
    assert "1 piece of work for Ada Winter lie" in teacher.notice.words
    assert "1 finger said here inside." in teacher.notice.words
    (file,) = folders.sheets().glob("Work for Ada Winter *.toml")
    # And on paper, for the music stand at home.
    struck(teacher, pygame.K_p, "p")
    (printed,) = folders.sheets().glob("Work for Ada Winter *.pdf")
    assert "The work lies at" in teacher.notice.words
    assert "1. Aura Lee" in pypdf.PdfReader(printed).pages[0].extract_text()
    teacher.switch("Mira")
    # At home nobody has given a name yet.
    student = opened(tmp_path / "ada", monkeypatch)
    ownfingers.keep(student.journal_file.parent, aura, Key.parse("Eb"), 0, 3)
    drop(student, file)
    assert page(student).rows[0].taken is not None
    assert student.player == "Ada Winter"
    assert {"On the Desk now: 1 piece; 1 finger of your teacher’s. Enter leads there."} <= texts(student)
    assert ownfingers.load(student.journal_file.parent, aura, "Ada Winter").of(Key.parse("Eb")) == {0: 3, 2: 1}
    struck(student, pygame.K_RETURN)
    assert isinstance(student.screen, Desk)
    assert [one.title for one in student.screen.suggestions if one.kind == SET_WORK] == ["Aura Lee"]
    assert student.journal is not None
    play(student.journal, "Eb", piece=read(find("aura-lee")), player=student.player)
    struck(student, pygame.K_i, "i")
    struck(student, pygame.K_o, "o")
    (back,) = folders.sheets().glob("Ada Winter *.handover")
    assert page(student).played == (0, 1)
    # Once more, should the first have been lost on its way.
    struck(student, pygame.K_o, "o")
    assert len(list(folders.sheets().glob("Ada Winter *.handover"))) == 2
    student.close()
    # The teacher takes it in, twice.
    monkeypatch.setenv("KEYFARER_HOME", str(home))
    for _ in range(2):
        drop(teacher, back)
        assert takes(teacher) == {"Mira": 1, "Ada Winter": 1}
    struck(teacher, pygame.K_RETURN)
    assert isinstance(teacher.screen, Keys)
    assert teacher.player == "Ada Winter"
    assert teacher.journal is not None
    work = assignments.load(teacher.journal_file.parent)
    (found,) = assignments_of(teacher, work)
    assert found.state == assignments.DONE


def assignments_of(house: House, work: tuple[assignments.Assignment, ...]) -> list[assignments.Progress]:
    assert house.journal is not None
    return work_of(house.journal, "Ada Winter", work, date.today())


def test_what_lies_among_the_sheets_is_found_and_taken_in_all_at_once(teacher: House, tmp_path: pathlib.Path) -> None:
    folders.sheets().mkdir(parents=True)
    for player, count in (("Ben Holm", 2), ("Clara Reed", 3)):
        from_home(tmp_path / player, player, folders.sheets() / f"{player}.handover", count)
    (folders.sheets() / "half.handover").write_bytes(b"keyfarer hand-over 1\n")
    struck(teacher, pygame.K_i, "i")
    assert [bool(row.come.trouble) for row in page(teacher).rows] == [False, False, True]
    struck(teacher, pygame.K_a, "a")
    assert takes(teacher) == {"Mira": 1, "Ben Holm": 2, "Clara Reed": 3}
    struck(teacher, pygame.K_F1)
    struck(teacher, pygame.K_i, "i")
    assert [row.come.path.name for row in page(teacher).rows] == ["half.handover"]
    teacher.notice = None
    struck(teacher, pygame.K_RETURN)
    assert teacher.notice is not None
    assert teacher.notice.words == "half.handover is damaged or is no hand-over: ask for it to be sent again."


def test_a_name_that_is_not_clear_is_asked_for_and_never_goes_to_the_teachers_own(
    teacher: House, tmp_path: pathlib.Path
) -> None:
    assert teacher.journal is not None
    play(teacher.journal, "F", player="Ada Winter")
    file = from_home(tmp_path / "nameless", "Player", tmp_path / "one.handover", 2)
    drop(teacher, file)
    assert takes(teacher) == {"Mira": 1, "Ada Winter": 1}, "nothing before it is said whose they are"
    here = page(teacher)
    assert here.asked is not None
    assert here.is_new, "nobody here is called so"
    struck(teacher, pygame.K_RETURN)
    assert teacher.notice is not None
    assert "Type the new student’s name first" in teacher.notice.words
    here.fresh = "Mira"
    struck(teacher, pygame.K_RETURN)
    assert "There is a Mira here already" in teacher.notice.words
    struck(teacher, pygame.K_ESCAPE)
    assert here.asked is None
    assert takes(teacher) == {"Mira": 1, "Ada Winter": 1}
    struck(teacher, pygame.K_RETURN)
    here.who = here.may_be.index("Ada Winter")
    teacher.draw()
    assert teacher.canvas is not None
    said = next(box.text for box in teacher.canvas.boxes if box.name == "ask.once")
    assert said.startswith("2 takes will then be counted as Ada Winter’s")
    struck(teacher, pygame.K_RETURN)
    assert takes(teacher) == {"Mira": 1, "Ada Winter": 3}
    # From then on it is known.
    drop(teacher, from_home(tmp_path / "nameless", "Player", tmp_path / "two.handover"))
    assert takes(teacher) == {"Mira": 1, "Ada Winter": 4}


def test_who_that_is_is_put_right_where_it_was_answered_wrongly(teacher: House, tmp_path: pathlib.Path) -> None:
    assert teacher.journal is not None
    play(teacher.journal, "F", player="Ada Winter")
    drop(teacher, from_home(tmp_path / "nameless", "Player", tmp_path / "one.handover", 2))
    here = page(teacher)
    here.who = here.may_be.index("Ada Winter")
    struck(teacher, pygame.K_RETURN)
    assert takes(teacher) == {"Mira": 1, "Ada Winter": 3}
    struck(teacher, pygame.K_c)
    assert here.asked is not None
    assert "Ada Winter" not in here.may_be
    assert teacher.canvas is not None
    said = {box.name: box.text for box in teacher.canvas.boxes}
    assert said["ask.head"] == "These takes were taken in as Ada Winter’s. Whose are they?"
    struck(teacher, pygame.K_ESCAPE)
    assert takes(teacher) == {"Mira": 1, "Ada Winter": 3}
    struck(teacher, pygame.K_c)
    assert here.fresh == "", "the wrong name is not offered again"
    here.who, here.fresh = len(here.may_be), "Tilda Brook"
    struck(teacher, pygame.K_RETURN)
    assert takes(teacher) == {"Mira": 1, "Ada Winter": 1, "Tilda Brook": 2}
    said = {box.name: box.text for box in teacher.canvas.boxes}
    assert said["come.0.title"] == "Tilda Brook · 2 takes"
    assert said["come.0.said"].startswith("Put right: 2 takes no longer somebody else’s.")


def test_a_student_of_the_same_first_name_can_be_somebody_new(teacher: House, tmp_path: pathlib.Path) -> None:
    assert teacher.journal is not None
    play(teacher.journal, "F", player="Ada Winter")
    drop(teacher, from_home(tmp_path / "other", "Ada", tmp_path / "one.handover"))
    here = page(teacher)
    assert here.may_be[here.who] == "Ada Winter", "the likeliest first"
    here.who = len(here.may_be)
    assert here.fresh == "Ada"
    struck(teacher, pygame.K_RETURN)
    assert takes(teacher) == {"Mira": 1, "Ada Winter": 1, "Ada": 1}


def test_whoever_plays_is_not_led_away(teacher: House, tmp_path: pathlib.Path) -> None:
    file = from_home(tmp_path / "ben", "Ben Holm", tmp_path / "one.handover")
    stand = staging.stand_of(teacher, "aura-lee", "Eb")
    staging.slips(teacher, stand)
    drop(teacher, file)
    assert teacher.screen is stand
    assert takes(teacher)["Ben Holm"] == 1
    assert teacher.notice is not None
    assert teacher.notice.words == "Ben Holm: Taken in: 1 take."
    drop(teacher, from_home(tmp_path / "nameless", "Player", tmp_path / "two.handover"))
    assert teacher.screen is stand
    assert teacher.notice.words == "two.handover has come: whose it is, is asked at the Desk with i."
    teacher.go("handing")
    assert [row.come.path.name for row in page(teacher).rows] == ["two.handover"]


def test_work_for_a_name_unknown_among_several_is_asked_about_also_where_one_has_none(
    home: pathlib.Path, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    student = opened(home, monkeypatch)
    assert student.journal is not None
    for player in ("Player", "Tom"):
        play(student.journal, "F", player=player)
    file = tmp_path / "work.toml"
    file.write_text('[[assignment]]\nplayer = "Ada Winter"\npiece = "aura-lee"\nkeys = ["Eb"]\n', encoding="utf-8")
    drop(student, file)
    here = page(student)
    assert here.asked is not None
    assert here.may_be == ["Player", "Tom"]
    here.who = 1
    struck(student, pygame.K_RETURN)
    assert [one.players for one in assignments.load(home)] == [("Tom",)]
    student.close()


def test_a_folder_of_files_is_taken_in_as_one(teacher: House, tmp_path: pathlib.Path) -> None:
    post = tmp_path / "post"
    post.mkdir()
    for player in ("Ben Holm", "Clara Reed"):
        from_home(tmp_path / player, player, post / f"{player}.handover")
    (post / "holiday.jpg").write_bytes(b"\xff\xd8")
    drop(teacher, post)
    assert takes(teacher) == {"Mira": 1, "Ben Holm": 1, "Clara Reed": 1}


def test_work_for_everyone_is_a_file_for_each(teacher: House) -> None:
    for player in ("Ben Holm", "Clara Reed"):
        one = assignments.Assignment("aura-lee", "Aura Lee", ("Eb",), (player,))
        assignments.add(teacher.journal_file.parent, one)
    struck(teacher, pygame.K_i, "i")
    said = texts(teacher)
    assert {"the work set for Mira", "Nothing is set: choose a piece at the Desk, then s."} <= said
    assert "A file for the student" not in said, "there is nothing to put into it"
    struck(teacher, pygame.K_b, "b")
    assert {"the work set for everyone", "2 pieces.", "A file for the student"} <= texts(teacher)
    struck(teacher, pygame.K_s, "s")
    assert teacher.notice is not None
    assert teacher.notice.words.startswith("2 files with 2 pieces of work lie in ")
    assert len(list(folders.sheets().glob("Work for *.toml"))) == 2


def test_the_folder_is_shown_or_named(teacher: House, monkeypatch: pytest.MonkeyPatch) -> None:
    shown: list[str] = []

    def none(path: str) -> bool:
        shown.append(path)
        return False

    monkeypatch.setattr(viewing, "_opened", none)
    struck(teacher, pygame.K_i, "i")
    struck(teacher, pygame.K_e, "e")
    assert shown == [str(folders.sheets())]
    assert teacher.notice is not None
    assert teacher.notice.words.startswith(f"Open {folders.sheets()} in ")


def test_without_a_journal_in_its_file_nothing_is_handed_over(teacher: House, tmp_path: pathlib.Path) -> None:
    file = from_home(tmp_path / "ben", "Ben Holm", tmp_path / "one.handover")
    assert teacher.journal is not None
    teacher.journal.in_memory = True
    struck(teacher, pygame.K_i, "i")
    teacher.notice = None
    struck(teacher, pygame.K_o, "o")
    assert teacher.notice is not None
    assert "nothing can be handed over" in teacher.notice.words
    drop(teacher, file)
    assert page(teacher).rows == []
    teacher.journal.in_memory = False


def test_from_keys_the_next_student_is_one_key_away(teacher: House, tmp_path: pathlib.Path) -> None:
    drop(teacher, from_home(tmp_path / "ben", "Ben Holm", tmp_path / "one.handover"))
    struck(teacher, pygame.K_F2)
    assert "Keys of Mira" in texts(teacher)
    struck(teacher, pygame.K_y, "y")
    assert teacher.player == "Ben Holm"
    assert "Keys of Ben Holm" in texts(teacher)


def test_the_studio_shows_everybody_and_leads_to_each(teacher: House, tmp_path: pathlib.Path) -> None:
    drop(teacher, from_home(tmp_path / "ben", "Ben Holm", tmp_path / "one.handover", 2))
    late = date.today() - timedelta(days=1)
    for player in ("Ben Holm", "Clara Reed"):
        one = assignments.Assignment("aura-lee", "Aura Lee", ("Eb",), (player,), help="do", by=late)
        assignments.add(teacher.journal_file.parent, one)
    struck(teacher, pygame.K_F2)
    struck(teacher, pygame.K_u, "u")
    page = teacher.screen
    assert isinstance(page, StudioPage)
    assert [one.player for one in page.students] == ["Mira", "Ben Holm", "Clara Reed"]
    said = texts(teacher)
    assert {"Late: Aura Lee (100% right, but with all syllables shown)", "set: 0 of 1 done", "nothing set"} <= said
    assert {"has not played here yet", "Late: Aura Lee"} <= said
    struck(teacher, pygame.K_DOWN)
    assert teacher.player == "Mira", "choosing changes nothing yet"
    struck(teacher, pygame.K_l, "l")
    assert teacher.notice is not None
    assert teacher.notice.words.startswith("The page for Ben Holm’s lesson lies at ")
    assert teacher.player == "Mira", "a page is printed for somebody without their sitting down"
    struck(teacher, pygame.K_RETURN)
    assert isinstance(teacher.screen, Keys)
    assert "Keys of Ben Holm" in texts(teacher)
    struck(teacher, pygame.K_u, "u")
    assert page.player == "Ben Holm", "where one was"


def test_everybodys_names_stand_in_the_studio_before_their_week_is_read(
    teacher: House, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    drop(teacher, from_home(tmp_path / "ben", "Ben Holm", tmp_path / "one.handover", 2))
    asked: list[tuple[Any, ...]] = []
    ask = teacher.workroom.ask
    monkeypatch.setattr(teacher.workroom, "ask", lambda *given, **named: asked.append((given, named)))
    teacher.go("studio")
    said = texts(teacher)
    assert {"Mira", "Ben Holm", say("studio.reading")} <= said
    assert "has not played here yet" not in said
    page = teacher.screen
    assert isinstance(page, StudioPage)
    struck(teacher, pygame.K_DOWN)
    for given, named in asked:
        ask(*given, **named)
    assert page.player == "Ben Holm", "whoever was chosen meanwhile"
    assert say("studio.reading") not in texts(teacher)
    assert "nothing set" in texts(teacher)
    struck(teacher, pygame.K_RETURN)
    assert teacher.player == "Ben Holm"


@pytest.mark.parametrize("scale", [80, 90, 100])
def test_a_studio_of_twelve_stands_there_at_once(teacher: House, scale: int) -> None:
    names = [f"{first} Reed" for first in "Ada Ben Clara Dario Edda Femi Greta Hugo Ines Jonah Kaya".split()]
    one = assignments.Assignment("aura-lee", "Aura Lee", ("Eb",), tuple(names))
    assignments.add(teacher.journal_file.parent, one)
    teacher.change(scale=scale)
    for size in ((1366, 768), (1280, 800), (1920, 1080)):
        teacher.pane.surface = pygame.Surface(size, 0, 32)
        teacher.pane.resized()
        teacher.go("studio")
        assert {"Mira", *names} <= texts(teacher), size


def test_keys_say_whose_they_are_also_of_a_long_name(teacher: House) -> None:
    teacher.change(player="Annemarie Theodora von Winterhagen-Reed")
    teacher.change(scale=200)
    teacher.go("keys")
    assert any(one.startswith("Annemarie") for one in texts(teacher))


def test_a_studio_of_one_says_how_students_come(teacher: House) -> None:
    struck(teacher, pygame.K_F2)
    assert "the studio" not in texts(teacher)
    struck(teacher, pygame.K_u, "u")
    assert any("Only Mira plays here" in one for one in texts(teacher))
    struck(teacher, pygame.K_RETURN)
    assert isinstance(teacher.screen, Keys)


def texts(house: House) -> set[str]:
    house.draw()
    assert house.canvas is not None
    return {box.text for box in house.canvas.boxes}


@pytest.mark.parametrize("way", [["keys", "studio", "handing"], ["setup", "handing"], ["copy", "handing"]])
def test_escape_leads_back_to_where_handing_over_was_opened(teacher: House, way: list[str]) -> None:
    for room in way:
        teacher.go(room)
    teacher.draw()
    seen = []
    for _ in way:
        struck(teacher, pygame.K_ESCAPE)
        seen.append(teacher.screen.name if teacher.screen is not None else "")
    assert seen == ["desk" if room == "copy" else room for room in way[-2::-1]] + ["desk"]
