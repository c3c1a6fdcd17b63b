"""Work on its way: out of the teacher's folder, into the student's, once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.journal.played import SCALE, play
from trainer.coaching.work import work
from trainer.coaching.work.assignments import FILE, Assignment, add, everything, load, progress
from trainer.coaching.work.work import (
    asked,
    give,
    given_here,
    take_up,
    unknown_names,
    withdraw,
    withdraw_given,
    work_of,
)
from trainer.journal.store import Journal
from trainer.journal.values import TakeRow
from trainer.music.keys import Key
from trainer.music.pitch import MusicError
from trainer.scores import reading

ADA = Assignment("aura-lee", "Aura Lee", ("Eb",), ("Ada Winter", "Ben Holm"), tempo=60, note="Slowly.")
BEN = Assignment("three-bells", "Three Bells", ("G",), ("Ben Holm",))
DAY = date(2027, 2, 10)
ALL = Assignment("greensleeves", "Greensleeves", ("c",))


@pytest.fixture
def teacher(tmp_path: Path) -> Iterator[Journal]:
    with Journal(tmp_path / "teacher" / "journal.sqlite") as journal:
        play(journal, player="Ada Winter")
        for one in (ADA, BEN, ALL):
            add(journal.path.parent, one)
        yield journal


@pytest.fixture
def student(tmp_path: Path) -> Iterator[Journal]:
    with Journal(tmp_path / "home" / "journal.sqlite") as journal:
        yield journal


def given(teacher: Journal, player: str | None = "Ada Winter") -> Path:
    file = teacher.path.parent / "work.toml"
    give(teacher, file, player)
    return file


def test_a_student_gets_only_their_own_work_and_no_other_name(teacher: Journal) -> None:
    file = given(teacher)
    assert "Ben" not in file.read_text(encoding="utf-8")
    assert "Three Bells" not in file.read_text(encoding="utf-8")
    assert give(teacher, file, None).pieces == 3


def test_taken_up_once_however_often(teacher: Journal, student: Journal) -> None:
    play(student, player="Ada Winter")
    assert take_up(student, given_here(student, given(teacher))) == (2, 0)
    assert take_up(student, given_here(student, given(teacher))) == (0, 2)
    assert [(one.title, one.players) for one in load(student.path.parent)] == [
        ("Aura Lee", ("Ada Winter",)), ("Greensleeves", ()),
    ]  # fmt: skip


def test_another_name_at_home(teacher: Journal, student: Journal) -> None:
    file = given(teacher)
    play(student, player="Ada")
    take_up(student, given_here(student, file))
    assert load(student.path.parent)[0].players == ("Ada",), "the only player is meant"
    (student.path.parent / FILE).unlink()
    play(student, player="Tom")
    with pytest.raises(MusicError, match=r"is for Ada Winter.*--as who that is here, Ada or Tom"):
        take_up(student, given_here(student, file))
    assert load(student.path.parent) == ()
    take_up(student, given_here(student, file, "Tom"))
    assert {one.players for one in load(student.path.parent)} == {("Tom",)}


def test_before_the_first_take_it_is_for_whoever_will_play(teacher: Journal, student: Journal) -> None:
    take_up(student, given_here(student, given(teacher)))
    assert {one.players for one in load(student.path.parent)} == {()}


def test_what_was_taken_up_before_the_first_take_is_known_after_it(teacher: Journal, student: Journal) -> None:
    take_up(student, given_here(student, given(teacher)))
    play(student, player="Player")
    assert take_up(student, given_here(student, given(teacher))) == (0, 2)
    assert len(load(student.path.parent)) == 2


def test_what_is_withdrawn_is_withdrawn_at_the_students_too_and_only_there(teacher: Journal, student: Journal) -> None:
    take_up(student, given_here(student, given(teacher)))
    folder = teacher.path.parent
    assert withdraw(folder, ADA, DAY, "Ada Winter")
    assert not withdraw(folder, ADA, DAY, "Ada Winter"), "once"
    assert [(one.title, one.players) for one in load(folder)] == [
        ("Aura Lee", ("Ben Holm",)), ("Three Bells", ("Ben Holm",)), ("Greensleeves", ()),
    ]  # fmt: skip
    play(student, player="Ada")
    file = given(teacher)
    assert [take_up(student, given_here(student, file)), withdraw_given(student, given_here(student, file))] == [
        (0, 1),
        1,
    ]
    assert [one.title for one in load(student.path.parent)] == ["Greensleeves"]
    assert [take_up(student, given_here(student, file)), withdraw_given(student, given_here(student, file))] == [
        (0, 1),
        0,
    ]


def test_what_is_set_again_after_it_was_withdrawn_is_set(teacher: Journal, student: Journal) -> None:
    folder = teacher.path.parent
    take_up(student, given_here(student, given(teacher)))
    withdraw(folder, ADA, DAY, "Ada Winter")
    add(folder, replace(ADA, players=("Ada Winter",)))
    file = given(teacher)
    for _ in range(2):
        assert [take_up(student, given_here(student, file)), withdraw_given(student, given_here(student, file))] == [
            (0, 2),
            0,
        ]
    assert [one.title for one in load(student.path.parent)] == ["Aura Lee", "Greensleeves"]


def test_on_a_shared_computer_the_other_student_keeps_the_work(teacher: Journal, student: Journal) -> None:
    for name in ADA.players:
        play(student, player=name)
    take_up(student, given_here(student, given(teacher, None)))
    withdraw(teacher.path.parent, ADA, DAY, "Ada Winter")
    assert withdraw_given(student, given_here(student, given(teacher))) == 1
    assert next((one.title, one.players) for one in load(student.path.parent)) == ("Aura Lee", ("Ben Holm",))
    assert len(everything(student.path.parent)) == 4


def test_a_piece_is_not_named_by_its_place_on_the_teachers_computer(teacher: Journal) -> None:
    add(teacher.path.parent, replace(ADA, piece="/tunes/own tune.abc", title="Own Tune"))
    text = given(teacher).read_text(encoding="utf-8")
    assert 'piece = "own tune"' in text
    assert "/tunes" not in text


@pytest.mark.parametrize(
    ("text", "says"), [("", "sets no work"), ("[[assignment]]\n", "piece is missing"), (None, "no file")]
)
def test_what_is_no_work_is_refused(student: Journal, tmp_path: Path, text: str | None, says: str) -> None:
    file = tmp_path / "x.toml"
    if text is not None:
        file.write_text(text)
    with pytest.raises(MusicError, match=says):
        take_up(student, given_here(student, file))


def test_nothing_set_and_names_nobody_bears(teacher: Journal, student: Journal) -> None:
    with pytest.raises(MusicError, match="Nothing is set for Ada"):
        give(student, student.path.parent / "x.toml", "Ada")
    assert unknown_names(teacher, load(teacher.path.parent)) == ["Ben Holm"]


def test_work_for_a_hand_the_piece_does_not_have_is_not_taken_up(student: Journal, tmp_path: Path) -> None:
    file = tmp_path / "work.toml"
    file.write_text('[[assignment]]\npiece = "hop-hop-zehren"\nkeys = ["D"]\nhands = "right"\n')
    with pytest.raises(MusicError, match="is for the left hand alone"):
        take_up(student, given_here(student, file))
    assert load(student.path.parent) == ()


@pytest.mark.parametrize(
    ("day", "says"),
    [(25, "by Friday 27 November"), (26, "by tomorrow"), (27, "by today"), (28, "was due yesterday"),
     (30, "was due on 27 November")],
)  # fmt: skip
def test_when_work_is_wanted_is_said_so_that_it_is_true(day: int, says: str) -> None:
    work = Assignment("aura-lee", "Aura Lee", ("Eb",), by=date(2026, 11, 27))
    today = date(2026, 11, day)
    found = progress(work, [], today)
    assert asked(found, found.keys[0], today) == f"set: 90% right, {says}"


def test_of_a_long_journal_only_takes_of_the_pieces_since_they_were_set_are_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun = datetime(2027, 1, 1, 12, tzinfo=UTC)
    with Journal(tmp_path / "journal.sqlite") as journal:
        for later in (0, 30):
            for title in ("One", "Two", "Three"):
                piece = replace(SCALE, title=title, notes=SCALE.notes[: ord(title[1]) % 7 + 9])
                play(journal, piece=piece, player="Ada Winter", began=begun + timedelta(days=later))
        one = Assignment("two", "TWO", ("+3",), hands="right", goal=0.1, given=(begun + timedelta(days=20)).date())
        looked: list[int] = []
        rows = journal.rows

        def counted(where: str, values: Iterable[Any] = ()) -> list[TakeRow]:
            found = rows(where, values)
            looked.append(len(found))
            return found

        monkeypatch.setattr(journal, "rows", counted)
        today = date(2027, 3, 1)
        (found,) = work_of(journal, "Ada Winter", [one, replace(one, players=("Ben Holm",))], today)
        assert looked == [1]
        assert [(in_key.key.short, in_key.tried) for in_key in found.keys] == [("Eb", 1)]
        (always,) = work_of(journal, "Ada Winter", [replace(one, given=None)], today)
        assert always.keys[0].tried == 2
        # Played nowhere yet: what the shelf says of its key.
        (fresh,) = work_of(journal, "Ben Holm", [replace(one, written=Key.parse("D"))], today)
        assert [in_key.key.short for in_key in fresh.keys] == ["F"]


def test_a_piece_that_is_set_is_read_once_as_long_as_its_file_is_the_same(
    teacher: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = teacher.path.parent
    before = load(folder)
    monkeypatch.setattr(reading, "read", lambda _: pytest.fail("read again"))
    assert load(folder) == before
    assert all(one.known_as for one in before)


def test_work_is_done_in_music_that_was_played_under_another_title_before(student: Journal) -> None:
    set_ = Assignment("miller", "The Miller Goes Home", ("Eb",), ("Ada Winter",), "right")
    play(student, player="Ada Winter")
    assert not any(one.done for one in work_of(student, "Ada Winter", [set_], DAY)[0].keys)
    play(student, player="Ada Winter", piece=replace(SCALE, title=set_.title))
    (found,) = work_of(student, "Ada Winter", [set_], DAY)
    assert [one.done is not None for one in found.keys] == [True]


def test_each_piece_of_work_looks_through_its_own_takes_alone(
    teacher: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    given: dict[str, list[str]] = {}

    def looked(one: Assignment, takes: Iterable[TakeRow], day: date, written: Key | None = None) -> Any:
        given[one.title] = [take.title for take in takes]
        return progress(one, takes, day, written)

    set_ = [replace(ALL, title=title, known_as="", players=()) for title in ("tune", "Another", "Third")]
    play(teacher, player="Ada Winter", piece=replace(SCALE, title="Another"))
    play(teacher, player="Ada Winter", piece=replace(SCALE, title="ANOTHER"))
    monkeypatch.setattr(work, "progress", looked)
    work_of(teacher, "Ada Winter", set_, DAY)
    assert {title: sorted(takes) for title, takes in given.items()} == {
        "tune": ["tune"], "Another": ["ANOTHER", "Another"], "Third": []
    }  # fmt: skip
