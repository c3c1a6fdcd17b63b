"""Handing over: since last time, once only, whole or not at all, nobody else's."""

from __future__ import annotations

import json
import pathlib
import sqlite3
import zlib
from collections.abc import Callable, Iterator

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.journal.played import play
from trainer.coaching.sight.fresh import next_seed
from trainer.journal import files
from trainer.journal.erasing import erase_player, erase_takes
from trainer.journal.errors import JournalError
from trainer.journal.handover import MAGIC, hand_over, head_of, is_hand_over, is_read, sealed, take_in, waiting
from trainer.journal.packing import opened, squeezed
from trainer.journal.store import Journal
from trainer.journal.summary import by_facet, whole
from trainer.journal.tally import FACETS


@pytest.fixture
def student(tmp_path: pathlib.Path) -> Iterator[Journal]:
    with Journal(tmp_path / "student.sqlite") as journal:
        play(journal, "Eb", player="Ada")
        play(journal, "G", player="Ada", slips={3: "step"})
        play(journal, "F", player="Ben")
        yield journal


@pytest.fixture
def teacher(tmp_path: pathlib.Path) -> Iterator[Journal]:
    with Journal(tmp_path / "teacher.sqlite") as journal:
        yield journal


def uids(journal: Journal, player: str) -> set[str]:
    return {
        uid
        for (uid,) in journal.ask(
            "SELECT t.uid FROM take t JOIN player p ON p.id = t.player WHERE p.name = ?", (player,)
        )
    }


def test_everything_arrives_and_counts_alike(student: Journal, teacher: Journal, tmp_path: pathlib.Path) -> None:
    made = hand_over(student, "Ada", tmp_path / "ada.handover")
    assert made.takes == 2
    assert is_hand_over(made.path)
    taken = take_in(teacher, made.path)
    assert (taken.player, taken.fresh, taken.known) == ("Ada", 2, 0)
    assert uids(teacher, "Ada") == uids(student, "Ada")
    assert whole(teacher, "Ada") == whole(student, "Ada")
    for facet in FACETS:
        assert by_facet(teacher, "Ada", facet) == by_facet(student, "Ada", facet)
    for ours, theirs in zip(teacher.takes("Ada"), student.takes("Ada"), strict=True):
        assert (ours.title, ours.target, ours.accuracy, ours.began) == (
            theirs.title, theirs.target, theirs.accuracy, theirs.began)  # fmt: skip
        assert teacher.take(ours.id).settled == student.take(theirs.id).settled


def test_what_is_played_after_erasing_is_handed_over(
    student: Journal, teacher: Journal, tmp_path: pathlib.Path
) -> None:
    """The number of an erased take may be given to the next one, which is new all the same."""
    play(student, "D", player="Ada")
    take_in(teacher, hand_over(student, "Ada", tmp_path / "one.handover").path)
    erase_takes(student, [student.takes("Ada", limit=1)[0].id])
    play(student, "A", player="Ada")
    assert waiting(student, "Ada") == (1, 3)
    assert take_in(teacher, hand_over(student, "Ada", tmp_path / "two.handover").path).fresh == 1
    assert [row.target for row in teacher.takes("Ada", limit=1)] == ["A"]


def test_a_journal_that_was_damaged_and_saved_is_still_that_of_the_same_player(
    teacher: Journal, tmp_path: pathlib.Path
) -> None:
    """Its players' marks, the files it has read and the pieces it has composed are saved, too."""
    place = tmp_path / "home.sqlite"
    with Journal(place) as student:
        play(student, "C", player="Ben")
        play(student, "D", player="Ada")
        erase_player(student, "Ben")
        play(student, "Eb", player="Ada")
        take_in(teacher, hand_over(student, "Ada", tmp_path / "one.handover").path, "Ada Winter")
        seal = head_of(student, tmp_path / "one.handover").seal
        next_seed(student)
        files.back_up(place)
        second = next_seed(student)
    raw = bytearray(place.read_bytes())
    for at in range(5000, len(raw), 997):
        raw[at] ^= 0x40
    place.write_bytes(raw)
    with Journal(place) as student:
        assert "damaged" in student.trouble
        assert is_read(student, seal)
        assert next_seed(student) >= second
        play(student, "F", player="Ada")
        taken = take_in(teacher, hand_over(student, "Ada", tmp_path / "two.handover").path)
    assert (taken.player, taken.fresh) == ("Ada Winter", 1)


def test_read_twice_counts_once(student: Journal, teacher: Journal, tmp_path: pathlib.Path) -> None:
    made = hand_over(student, "Ada", tmp_path / "ada.handover")
    take_in(teacher, made.path)
    before = whole(teacher, "Ada")
    taken = take_in(teacher, made.path)
    assert (taken.fresh, taken.known) == (0, 2)
    assert whole(teacher, "Ada") == before


def test_only_what_is_new_since_last_time(student: Journal, teacher: Journal, tmp_path: pathlib.Path) -> None:
    hand_over(student, "Ada", tmp_path / "one.handover")
    with pytest.raises(JournalError, match="nothing new of Ada"):
        hand_over(student, "Ada", tmp_path / "two.handover")
    play(student, "A", player="Ada")
    assert hand_over(student, "Ada", tmp_path / "two.handover").takes == 1
    assert hand_over(student, "Ada", tmp_path / "all.handover", everything=True).takes == 3
    taken = [take_in(teacher, tmp_path / f"{name}.handover").fresh for name in ("two", "one", "all")]
    assert taken == [1, 2, 0]
    assert uids(teacher, "Ada") == uids(student, "Ada")


def test_a_take_still_being_played_comes_next_time(student: Journal, tmp_path: pathlib.Path) -> None:
    going = play(student, "D", player="Ada", finish=False)
    student.flush()
    assert hand_over(student, "Ada", tmp_path / "one.handover").takes == 2
    going.keep()
    assert hand_over(student, "Ada", tmp_path / "two.handover").takes == 1


def test_nothing_of_another_player_goes_along(student: Journal, tmp_path: pathlib.Path) -> None:
    made = hand_over(student, "Ada", tmp_path / "ada.handover")
    data = made.path.read_bytes().split(b"\n", 3)[3]
    assert b"Ben" not in zlib.decompress(data)
    assert b"Ben" not in made.path.read_bytes()


def test_two_students_of_one_name_are_not_mixed_up(student: Journal, teacher: Journal, tmp_path: pathlib.Path) -> None:
    take_in(teacher, hand_over(student, "Ada", tmp_path / "ada.handover").path)
    with Journal(tmp_path / "other.sqlite") as other:
        play(other, "B", player="Ada")
        second = hand_over(other, "Ada", tmp_path / "ada2.handover").path
        with pytest.raises(JournalError, match="already has another Ada"):
            take_in(teacher, second)
        assert len(uids(teacher, "Ada")) == 2
        assert take_in(teacher, second, "Ada B.").player == "Ada B."
        play(other, "C", player="Ada")
        third = hand_over(other, "Ada", tmp_path / "ada3.handover").path
        assert take_in(teacher, third).player == "Ada B."
    assert (len(uids(teacher, "Ada")), len(uids(teacher, "Ada B."))) == (2, 2)


def test_a_student_who_plays_at_the_teachers_is_not_the_one_handed_over(
    student: Journal, teacher: Journal, tmp_path: pathlib.Path
) -> None:
    play(teacher, "C", player="Ada")
    with pytest.raises(JournalError, match="another Ada"):
        take_in(teacher, hand_over(student, "Ada", tmp_path / "ada.handover").path)


@pytest.mark.parametrize("player", ["Nobody", ""])
def test_an_unknown_player_is_refused(student: Journal, tmp_path: pathlib.Path, player: str) -> None:
    with pytest.raises(JournalError, match="it has Ada, Ben"):
        hand_over(student, player, tmp_path / "x.handover")


def test_a_place_that_cannot_be_written(student: Journal, tmp_path: pathlib.Path) -> None:
    (tmp_path / "file").write_text("x")
    (tmp_path / "folder.handover").mkdir()
    for place in (tmp_path / "file" / "x.handover", tmp_path / "folder.handover"):
        with pytest.raises(JournalError, match=f"{place.name} could not be saved"):
            hand_over(student, "Ada", place)
    assert not list(tmp_path.glob(".*")), "nothing half written is left"
    assert hand_over(student, "Ada", tmp_path / "x.handover").takes == 2  # not counted as handed over


def forged(path: pathlib.Path, change: Callable[..., object]) -> None:
    """A hand-over with its inside changed and its check sum made right again."""
    _, _, head, packed = path.read_bytes().split(b"\n", 3)
    inside = path.with_suffix(".sqlite")
    inside.write_bytes(zlib.decompress(packed))
    with sqlite3.connect(inside) as db:
        change(db)
    path.write_bytes(sealed(head + b"\n" + zlib.compress(inside.read_bytes())))


def reworded(number: int, column: str, change: Callable[..., object]) -> Callable[..., object]:
    """A change to what is packed of a take."""

    def doing(db: sqlite3.Connection) -> None:
        (blob,) = db.execute(f"SELECT {column} FROM playing WHERE take = ?", (number,)).fetchone()
        inside = opened(blob)
        change(inside)
        db.execute(f"UPDATE playing SET {column} = ? WHERE take = ?", (squeezed(inside), number))

    return doing


@pytest.mark.parametrize(
    ("column", "change"),
    [
        ("events", lambda e: e["t"].pop()), ("events", lambda e: e.update(k="9" + e["k"][1:])),
        ("events", lambda e: e.update(k=[0])), ("events", lambda e: e["v"].__setitem__(0, 0.5)),
        ("events", lambda e: e["p"].__setitem__(0, "C4")), ("events", lambda e: e["t"].__setitem__(0, 10**30)),
        ("verdicts", lambda v: v["final"]["n"].__setitem__(0, -5)), ("verdicts", lambda v: v["missed"].append(999)),
        ("verdicts", lambda v: v["final"]["n"].__setitem__(0, 999)), ("verdicts", lambda v: v["final"]["p"].pop()),
        ("verdicts", lambda v: v["final"]["c"].__setitem__(0, "evil")), ("verdicts", lambda v: v["moves"].append([1])),
        ("verdicts", lambda v: v["final"].update(a=[1])),
        ("verdicts", lambda v: v["first"].append([99, 0, "right", 1, 0])),
        ("verdicts", lambda v: v["findings"].append("x")), ("verdicts", lambda v: v.pop("moves")),
    ],
)  # fmt: skip
def test_a_take_with_one_garbled_column_refuses_the_whole_file(
    student: Journal, teacher: Journal, tmp_path: pathlib.Path, column: str, change: Callable[..., object]
) -> None:
    made = hand_over(student, "Ada", tmp_path / "ada.handover")
    forged(made.path, reworded(2, column, change))
    with pytest.raises(JournalError, match="it was not read"):
        take_in(teacher, made.path)
    assert (teacher.players(), teacher.takes()) == ([], [])
    assert teacher.ask("SELECT count(*) FROM tally") == [(0,)]


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE playing SET events = x'00' WHERE rowid = (SELECT max(rowid) FROM playing)",
        "DELETE FROM playing", "DELETE FROM take WHERE id = 1", "UPDATE take SET target = 'H'",
        "INSERT INTO player (name, begun) VALUES ('Eve', 0)", "UPDATE take SET uid = '../../x' WHERE id = 1",
        "CREATE TRIGGER t AFTER INSERT ON take BEGIN DELETE FROM take; END", "CREATE VIEW v AS SELECT 1",
        "DROP TABLE piece", "UPDATE take SET seconds = 'x' WHERE id = 1", "UPDATE take SET cost = 'x' WHERE id = 1",
        "UPDATE take SET began = 1e30 WHERE id = 1", "UPDATE take SET zone = 99999 WHERE id = 2",
        "UPDATE take SET day = day + 9 WHERE id = 1", "UPDATE take SET began = 'x' WHERE id = 2",
        "UPDATE take SET cost = -1 WHERE id = 2", "UPDATE take SET state = 'playing'", "PRAGMA user_version = 0",
    ],
)  # fmt: skip
def test_a_forged_inside_is_refused_whole(student: Journal, teacher: Journal, tmp_path: pathlib.Path, sql: str) -> None:
    made = hand_over(student, "Ada", tmp_path / "ada.handover")
    forged(made.path, lambda db: db.execute(sql))
    with pytest.raises(JournalError):
        take_in(teacher, made.path)
    assert teacher.players() == []
    assert teacher.takes() == []


def test_a_bomb_is_refused_before_it_opens(
    teacher: Journal, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("trainer.journal.handover.LARGEST", 1_000_000)
    head = json.dumps({"player": "x", "mark": "x", "takes": 1}).encode()
    (tmp_path / "x").write_bytes(sealed(head + b"\n" + zlib.compress(b"\0" * 5_000_000)))
    with pytest.raises(JournalError, match="damaged"):
        take_in(teacher, tmp_path / "x")


@pytest.mark.parametrize(
    "content", [b"", MAGIC, MAGIC + b"{}\n", MAGIC + b"[1]\nx", MAGIC + b"{" * 9000, b"SQLite format 3\0", b"MThd"]
)
def test_foreign_files_are_refused(teacher: Journal, tmp_path: pathlib.Path, content: bytes) -> None:
    (tmp_path / "x").write_bytes(content)
    with pytest.raises(JournalError, match="ask for it to be sent again"):
        take_in(teacher, tmp_path / "x")
    with pytest.raises(JournalError, match="cannot be read"):
        take_in(teacher, tmp_path / "missing")


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_damage_is_refused_whole(
    student: Journal, teacher: Journal, tmp_path: pathlib.Path, data: st.DataObject
) -> None:
    whole_file = tmp_path / "ada.handover"
    if not whole_file.exists():
        hand_over(student, "Ada", whole_file)
    good = whole_file.read_bytes()
    bad = bytearray(good)
    kind = data.draw(st.sampled_from(("flip", "cut", "grow")))
    if kind == "flip":
        at = data.draw(st.integers(0, len(good) - 1))
        bad[at] ^= 1 << data.draw(st.integers(0, 7))
    elif kind == "cut":
        bad = bad[: data.draw(st.integers(0, len(good) - 1))]
    else:
        bad += data.draw(st.binary(min_size=1, max_size=9))
    (tmp_path / "bad").write_bytes(bad)
    with pytest.raises(JournalError):
        take_in(teacher, tmp_path / "bad")


def figures(journal: Journal) -> dict[str, object]:
    return {
        player: (whole(journal, player), *(by_facet(journal, player, facet) for facet in FACETS))
        for player in journal.players()
    }


def test_whose_takes_these_are_is_put_right_and_figures_go_with_them(
    student: Journal, teacher: Journal, tmp_path: pathlib.Path
) -> None:
    play(teacher, "F", player="Cara")
    play(teacher, "F", player="Dora")
    first = hand_over(student, "Ada", tmp_path / "one.handover").path
    take_in(teacher, first, "Ida")
    play(student, "Bb", player="Ada")
    second = hand_over(student, "Ada", tmp_path / "two.handover").path
    take_in(teacher, second)
    before = figures(teacher)
    # Who came with the files alone goes, with all takes, also those of files that are gone by now.
    moved = take_in(teacher, second, "Ada W.")
    assert (moved.player, moved.moved) == ("Ada W.", 3)
    assert teacher.players() == ["Cara", "Dora", "Ada W."]
    assert figures(teacher)["Ada W."] == before["Ida"]
    # To somebody who plays here, and back.
    assert take_in(teacher, second, same_as="Cara").moved == 3
    assert teacher.players() == ["Cara", "Dora"]
    assert len(teacher.takes("Cara")) == 4
    assert take_in(teacher, second, same_as="Dora").moved == 1
    assert take_in(teacher, first).player == "Dora"
    after = figures(teacher)
    assert (after["Cara"], len(teacher.takes("Dora"))) == (before["Cara"], 4)
    # The next file goes to the same one by itself.
    play(student, "D", player="Ada")
    taken = take_in(teacher, hand_over(student, "Ada", tmp_path / "three.handover").path)
    assert (taken.player, taken.fresh, taken.moved) == ("Dora", 1, 0)


def test_the_same_answer_again_changes_nothing_and_a_name_that_is_taken_is_refused(
    student: Journal, teacher: Journal, tmp_path: pathlib.Path
) -> None:
    play(teacher, "F", player="Cara")
    file = hand_over(student, "Ada", tmp_path / "one.handover").path
    take_in(teacher, file, "Ada W.")
    before = figures(teacher)
    assert take_in(teacher, file, "Ada W.").moved == 0
    with pytest.raises(JournalError, match="already has another Cara"):
        take_in(teacher, file, "Cara")
    with pytest.raises(JournalError, match="has no player 'Eva'"):
        take_in(teacher, file, same_as="Eva")
    assert figures(teacher) == before
    assert take_in(teacher, file).player == "Ada W."
