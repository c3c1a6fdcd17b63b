"""The whole way round in files: work out and taken up once, takes back under the right student, once."""

from __future__ import annotations

import base64
import os
import zlib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from tests.journal.played import play
from trainer.coaching.work import along, handing
from trainer.coaching.work.assignments import Assignment, add, load
from trainer.coaching.work.handing import PLAYED, WORK
from trainer.journal.erasing import erase_player
from trainer.journal.errors import JournalError
from trainer.journal.handover import hand_over, waiting
from trainer.journal.store import Journal
from trainer.music.pitch import MusicError
from trainer.scores.shelf.library import own_folder

TUNE = "X:1\nT:Evening\nM:4/4\nL:1/4\nK:G\nGABc|d2B2|A2G2|]\n"
ADA = Assignment("aura-lee", "Aura Lee", ("Eb",), ("Ada Winter",))
NOT_MUSIC = base64.b64encode(zlib.compress(b"\xff\xd8\xff\xe0 a picture")).decode()


@pytest.fixture
def post(tmp_path: Path) -> Path:
    place = tmp_path / "post"
    place.mkdir()
    return place


@pytest.fixture
def teacher(home: Path) -> Iterator[Journal]:
    """Mira teaches, and plays herself."""
    with Journal(home / "teacher" / "journal.sqlite") as journal:
        play(journal, "D", player="Mira")
        add(journal.path.parent, ADA)
        yield journal


@pytest.fixture
def student(home: Path) -> Iterator[Journal]:
    with Journal(home / "student" / "journal.sqlite") as journal:
        yield journal


def names(journal: Journal) -> dict[str, int]:
    return {player: len(journal.takes(player, 99)) for player in journal.players()}


def test_there_and_back_and_each_only_once(teacher: Journal, student: Journal, post: Path) -> None:
    handing.give(teacher, post / "work.toml", "Ada Winter")
    assert handing.found(teacher, [post], ["Mira", "Ada Winter"]) == [], "what was written here is no news here"
    (come,) = handing.found(student, [post], ["Ada Winter"])
    assert (come.kind, come.names, come.count, come.ask, come.trouble) == (WORK, ("Ada Winter",), 1, False, "")
    assert handing.take(student, come.path) == handing.Taken(WORK, "", 1, 0)
    assert handing.found(student, [post], ["Ada Winter"]) == []
    assert handing.take(student, come.path).known == 1
    play(student, "Eb", player="Ada Winter")
    assert waiting(student, "Ada Winter") == (1, 1)
    hand_over(student, "Ada Winter", post / "ada.handover")
    assert waiting(student, "Ada Winter") == (0, 1)
    assert handing.found(student, [post], ["Ada Winter"]) == []
    (come,) = handing.found(teacher, [post], ["Mira", "Ada Winter"])
    assert (come.kind, come.names, come.count, come.ask) == (PLAYED, ("Ada Winter",), 1, False)
    # Sent by mail and lying on a stick, too.
    (post / "ada (1).handover").write_bytes(come.path.read_bytes())
    assert len(handing.found(teacher, [post], ["Mira", "Ada Winter"])) == 1
    assert handing.take(teacher, come.path) == handing.Taken(PLAYED, "Ada Winter", 1, 0)
    assert handing.take(teacher, post / "ada (1).handover") == handing.Taken(PLAYED, "Ada Winter", 0, 1)
    assert handing.found(teacher, [post], ["Mira"]) == []
    assert names(teacher) == {"Mira": 1, "Ada Winter": 1}


@pytest.mark.parametrize(
    ("called", "asked"),
    [
        ("Ada Winter", False),
        ("Ada", True),
        ("Player", True),
        ("Mira", True),
        ("Ben Holm", False),
        ("Tilda Winter", False),
    ],
)
def test_whose_it_is_is_asked_only_where_it_is_not_clear(
    teacher: Journal, student: Journal, post: Path, called: str, asked: bool
) -> None:
    play(student, player=called)
    file = hand_over(student, called, post / "one.handover").path
    here = ["Mira", "Ada Winter"]
    assert handing.look(teacher, file, here).ask == asked
    handing.take(teacher, file, "Somebody")
    again = handing.look(teacher, file, here)
    assert (again.ask, again.names) == (False, ("Somebody",))
    assert names(teacher)["Mira"] == 1


def test_who_plays_at_the_lesson_too_is_one_student_from_then_on(
    teacher: Journal, student: Journal, post: Path
) -> None:
    play(teacher, "F", player="Ada Winter")
    play(student, "Eb", player="Ada")
    first = hand_over(student, "Ada", post / "one.handover").path
    with pytest.raises(JournalError, match="has no player 'Eva'"):
        handing.take(teacher, first, same_as="Eva")
    assert handing.take(teacher, first, same_as="Ada Winter") == handing.Taken(PLAYED, "Ada Winter", 1, 0)
    play(student, "G", player="Ada")
    second = hand_over(student, "Ada", post / "two.handover").path
    assert not handing.look(teacher, second, ["Mira", "Ada Winter"]).ask
    assert handing.take(teacher, second).player == "Ada Winter"
    assert names(teacher) == {"Mira": 1, "Ada Winter": 3}
    # Answered wrongly: what the file holds goes over, what she played at the lesson stays hers.
    assert handing.take(teacher, second, same_as="Mira") == handing.Taken(PLAYED, "Mira", 0, 1, moved=1)
    assert handing.take(teacher, first) == handing.Taken(PLAYED, "Mira", 0, 1, moved=1)
    assert names(teacher) == {"Mira": 3, "Ada Winter": 1}
    for file in (first, second):
        handing.take(teacher, file, same_as="Ada Winter")
    assert names(teacher) == {"Mira": 1, "Ada Winter": 3}
    # Nothing of who has left is kept, and the same file begins anew.
    erase_player(teacher, "Ada Winter")
    assert teacher.ask("SELECT name FROM fact WHERE name LIKE 'player mark%' OR name LIKE 'read %'") == []
    assert handing.take(teacher, second) == handing.Taken(PLAYED, "Ada", 1, 0)


def test_a_tune_of_the_teachers_own_comes_onto_the_students_shelf(
    teacher: Journal, student: Journal, post: Path, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = own_folder() / "evening.abc"
    own.parent.mkdir(parents=True)
    own.write_text(TUNE)
    add(teacher.path.parent, replace(ADA, piece=str(own), title="Evening", keys=("A",)))
    handing.give(teacher, post / "work.toml", "Ada Winter")
    monkeypatch.setenv("KEYFARER_HOME", str(home / "student"))
    taken = handing.take(student, post / "work.toml")
    assert (taken.fresh, taken.music, taken.missing) == (2, ("evening.abc",), ())
    assert (own_folder() / "evening.abc").read_text(encoding="utf-8") == TUNE
    assert [one.piece for one in load(student.path.parent)] == ["aura-lee", "evening"]
    # Mended by the teacher and sent anew: what was there before is not lost.
    (own_folder() / "evening.abc").write_text(TUNE + "% pencilled")
    assert handing.take(student, post / "work.toml").music == ("evening.abc",)
    (beside,) = own_folder().glob("evening.abc.before-*")
    assert beside.read_text(encoding="utf-8").endswith("% pencilled")
    assert handing.take(student, post / "work.toml").music == ()


def test_a_tune_named_as_one_that_comes_along_is_not_taken_for_it(
    teacher: Journal, student: Journal, post: Path, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = own_folder() / "greensleeves.abc"
    own.parent.mkdir(parents=True)
    own.write_text(TUNE)
    add(teacher.path.parent, replace(ADA, piece=str(own), title="Evening", keys=("A",)))
    handing.give(teacher, post / "work.toml", "Ada Winter")
    monkeypatch.setenv("KEYFARER_HOME", str(home / "student"))
    handing.take(student, post / "work.toml")
    assert load(student.path.parent)[1].known_as == "Evening"


@pytest.mark.parametrize(
    ("name", "data", "says"),
    [
        ("../out.abc", "eNo=", "no name of a file of music"), ("..\\\\out.abc", "eNo=", "no name of a file of music"),
        ("run.exe", "eNo=", "no name of a file of music"), ("tune.abc", "eNo=", "is damaged"),
        ("tune.abc", "not base64!", "is damaged"), ("tune.mid", NOT_MUSIC, "work.toml, music 1: "),
    ],
)  # fmt: skip
def test_music_that_is_none_is_refused_and_nothing_is_kept(
    student: Journal, post: Path, name: str, data: str, says: str
) -> None:
    file = post / "work.toml"
    file.write_text(f'[[assignment]]\npiece = "aura-lee"\nkeys = ["Eb"]\n[[music]]\nname = "{name}"\ndata = "{data}"\n')
    with pytest.raises(MusicError, match=says):
        handing.take(student, file)
    assert load(student.path.parent) == ()
    assert not own_folder().exists()


def test_what_a_messenger_gave_another_ending_is_found_by_what_is_in_it(
    teacher: Journal, student: Journal, post: Path
) -> None:
    handing.give(teacher, post / "work.toml", "Ada Winter")
    (post / "work.toml").rename(post / "work.toml.txt")
    play(student, player="Eve")
    hand_over(student, "Eve", post / "eve.handover").path.rename(post / "eve.handover.bin")
    (post / "readme.txt").write_text("Nothing is set here.")
    assert [(one.path.name, one.kind) for one in handing.found(student, [post], ["Eve"])] == [("work.toml.txt", WORK)]
    (come,) = handing.found(teacher, [post], ["Mira", "Ada Winter"])
    assert (come.path.name, come.kind, come.names) == ("eve.handover.bin", PLAYED, ("Eve",))


def test_what_is_broken_is_listed_with_what_is_wrong(student: Journal, post: Path) -> None:
    (post / "half.handover").write_bytes(b"keyfarer hand-over 1\nabc")
    (post / "newer.toml").write_text('[[assignment]]\npiece = "aura-lee"\nkeys = ["Eb"]\nfingers = "written"\n')
    (post / "pyproject.toml").write_text('[project]\nname = "x"\n')
    (post / "holiday.jpg").write_bytes(b"\xff\xd8")
    os.utime(post / "half.handover", (1, 1))
    newer, half = handing.found(student, [post, post / "none"], [])
    assert "'fingers' is unknown" in newer.trouble
    assert half.trouble == "half.handover is damaged or is no hand-over: ask for it to be sent again."
    assert (newer.trouble + half.trouble).count(". ") == 0


def test_work_for_somebody_unknown_among_several_is_asked_about(teacher: Journal, student: Journal, post: Path) -> None:
    for player in ("Eve", "Tom"):
        play(student, player=player)
    handing.give(teacher, post / "work.toml", "Ada Winter")
    assert handing.look(student, post / "work.toml", ["Eve", "Tom"]).ask
    assert handing.take(student, post / "work.toml", same_as="Tom") == handing.Taken(WORK, "Tom", 1, 0)
    assert load(student.path.parent)[0].players == ("Tom",)


def test_of_work_for_somebody_who_plays_here_nothing_is_asked(teacher: Journal, student: Journal, post: Path) -> None:
    for player in ("Ada Winter", "Tom"):
        play(student, player=player)
    handing.give(teacher, post / "work.toml", "Ada Winter")
    assert not handing.look(student, post / "work.toml", ["Ada Winter", "Tom"]).ask


def test_a_free_name() -> None:
    assert [handing.free_name("Ada", here) for here in ([], ["Ada"], ["Ada", "Ada B."])] == ["Ada", "Ada B.", "Ada C."]


def test_blocks_of_music_have_a_limit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    small, large = tmp_path / "small.abc", tmp_path / "large.abc"
    small.write_text(TUNE)
    large.write_bytes(os.urandom(5000))
    monkeypatch.setattr(along, "MOST", 1000)
    rows, left = along.packed([large, small, tmp_path / "none.abc"])
    assert ([row["name"] for row in rows], left) == (["small.abc"], [large, tmp_path / "none.abc"])
