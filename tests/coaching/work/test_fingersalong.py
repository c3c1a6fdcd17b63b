"""Fingers agreed at the teacher's piano, in the file of work: at the student's they stand on the page."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.journal.played import play
from trainer.coaching.own import ownfingers
from trainer.coaching.work.assignments import FILE, Assignment, add
from trainer.coaching.work.handing import give, take
from trainer.journal.store import Journal
from trainer.music.keys import Key
from trainer.music.piece import Piece
from trainer.music.pitch import MusicError
from trainer.scores.reading import read
from trainer.scores.shelf.library import find, own_folder

E_FLAT, G = Key.parse("Eb"), Key.parse("G")
ADA = Assignment("aura-lee", "Aura Lee", ("Eb",), ("Ada Winter", "Ben Holm"))
CHORDS = "X:1\nT:Slow chords\nM:4/4\nL:1/4\nK:C\n[CEG] [CEA] z2 |\n"


@pytest.fixture
def teacher(tmp_path: Path) -> Iterator[Journal]:
    with Journal(tmp_path / "teacher" / "journal.sqlite") as journal:
        play(journal, player="Ada Winter")
        add(journal.path.parent, ADA)
        yield journal


@pytest.fixture
def student(tmp_path: Path) -> Iterator[Journal]:
    with Journal(tmp_path / "student" / "journal.sqlite") as journal:
        yield journal


@pytest.fixture
def aura() -> Piece:
    return read(find("aura-lee"))


@pytest.fixture
def chords(home: Path) -> Piece:
    place = own_folder() / "slow-chords.abc"
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_text(CHORDS, encoding="utf-8")
    return read(place)


def own(journal: Journal, piece: Piece, player: str = "Ada Winter", key: Key = E_FLAT) -> dict[int, int]:
    return dict(ownfingers.load(journal.path.parent, piece, player).of(key))


def say(journal: Journal, piece: Piece, fingers: dict[int, int], player: str = "Ada Winter", key: Key = E_FLAT) -> None:
    ownfingers.keep_all(journal.path.parent, piece, key, fingers, player)


def given(teacher: Journal, player: str = "Ada Winter") -> Path:
    file = teacher.path.parent / "work.toml"
    give(teacher, file, player)
    return file


@pytest.mark.usefixtures("home")
def test_those_of_the_student_in_what_is_set_go_along(teacher: Journal, student: Journal, aura: Piece) -> None:
    say(teacher, aura, {0: 2, 5: 4})
    say(teacher, aura, {1: 1}, key=G)
    say(teacher, aura, {0: 3}, "Ben Holm")
    say(teacher, read(find("greensleeves")), {0: 2})
    file = given(teacher)
    assert give(teacher, file, "Ada Winter").fingers == 3
    text = file.read_text(encoding="utf-8")
    assert "Ben" not in text
    assert "Greensleeves" not in text
    assert take(student, file, "Ada").fingers == 3
    assert own(student, aura, "Ada") == {0: 2, 5: 4}
    assert own(student, aura, "Ada", G) == {1: 1}
    assert own(student, aura, "Ben Holm") == {}


@pytest.mark.usefixtures("home")
def test_whoever_will_play_has_them_before_the_first_take(teacher: Journal, student: Journal, aura: Piece) -> None:
    say(teacher, aura, {0: 2})
    take(student, given(teacher))
    assert own(student, aura, "") == {0: 2}


@pytest.mark.usefixtures("home")
def test_the_teachers_later_word_holds_and_what_is_not_in_it_stays(
    teacher: Journal, student: Journal, aura: Piece
) -> None:
    play(student, player="Ada Winter")
    say(student, aura, {0: 3, 1: 2, 5: 4})
    say(teacher, aura, {0: 2, 5: 4})
    assert take(student, given(teacher)).fingers == 1
    assert own(student, aura) == {0: 2, 1: 2, 5: 4}


def test_a_finger_of_the_students_that_cannot_stand_beside_it_goes(
    teacher: Journal, student: Journal, chords: Piece
) -> None:
    play(student, player="Ada Winter")
    add(teacher.path.parent, Assignment("slow-chords", "Slow chords", ("Eb",), ("Ada Winter",)))
    # The student's 2 and 3 on the lower keys of the first chord, the teacher's 3 on the lowest.
    say(student, chords, {0: 2, 1: 3, 4: 2})
    say(teacher, chords, {0: 3})
    assert take(student, given(teacher)).fingers == 1
    assert own(student, chords) == {0: 3, 4: 2}


@pytest.mark.usefixtures("home")
def test_what_is_withdrawn_takes_no_fingers_along(teacher: Journal, student: Journal, aura: Piece) -> None:
    from datetime import date

    from trainer.coaching.work.work import withdraw

    say(teacher, aura, {0: 2})
    withdraw(teacher.path.parent, ADA, date(2027, 2, 10))
    assert give(teacher, given(teacher), "Ada Winter").fingers == 0


@pytest.mark.usefixtures("home")
@pytest.mark.parametrize(("wrong", "other"), [(ownfingers.FILE, FILE), (FILE, ownfingers.FILE)])
def test_where_either_file_of_the_students_is_wrong_nothing_goes_into_the_other(
    wrong: str, other: str, teacher: Journal, student: Journal, aura: Piece
) -> None:
    play(student, player="Ada Winter")
    say(teacher, aura, {0: 2})
    (student.path.parent / wrong).write_text("[[fingers]\n", encoding="utf-8")
    with pytest.raises(MusicError, match=wrong):
        take(student, given(teacher))
    assert not (student.path.parent / other).exists()


@pytest.mark.usefixtures("home")
@pytest.mark.parametrize(
    ("was", "now", "says"),
    [("with 2", "with 7", "fingers 1: .*names no finger"), ('key = "Eb"', 'key = "H#x"', "fingers 1: .*H#x"),
     ('hand = "left"', 'hand = "third"', "fingers 1: hand must be"), ("notes = [", "note = [", "must be a list")],
)  # fmt: skip
def test_wrong_ones_are_told_and_nothing_of_the_file_is_kept(
    was: str, now: str, says: str, teacher: Journal, student: Journal, aura: Piece
) -> None:
    say(teacher, aura, {0: 2})
    file = given(teacher)
    text = file.read_text(encoding="utf-8")
    assert was in text
    file.write_text(text.replace(was, now), encoding="utf-8")
    with pytest.raises(MusicError, match=says):
        take(student, file)
    assert not (student.path.parent / FILE).exists()
    assert not (student.path.parent / ownfingers.FILE).exists()
