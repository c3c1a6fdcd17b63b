"""What was set aside while the journal could not be written is back in it at the next start."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from tests.journal.played import play, seized
from trainer.app import main
from trainer.coaching.path import cells as coaching_cells
from trainer.coaching.path import comeback
from trainer.coaching.path.cells import cells, learn
from trainer.following.marks import RIGHT, Mark, Settled
from trainer.journal import comingback, files
from trainer.journal.store import Journal
from trainer.listening.press import Pedal
from trainer.session import Summary


@pytest.fixture
def place(home: Path) -> Path:
    """A journal with one take in it, three set aside, and one cut off."""
    with Journal() as journal:
        play(journal, "G", player="Ada")
        play(journal, "F", player="Ada", finish=False)
        journal.flush()
        with journal._lock:
            journal._fall_back(files.FULL, sqlite3.OperationalError())
        for key in ("Eb", "Ab", "D"):
            play(journal, key, player="Ada")
        return journal.path


def set_aside(place: Path) -> list[Path]:
    return list(place.parent.glob("*-aside-*.sqlite"))


def test_the_next_start_takes_them_in_and_says_so_once(place: Path) -> None:
    assert len(set_aside(place)) == 1
    with Journal(place) as journal:
        assert comingback.take_back(journal).words == "3 takes that were set aside are in the journal now."
        assert [row.target for row in journal.takes() if row.right is not None] == ["D", "Ab", "Eb", "G"]
        assert comingback.take_back(journal) == comingback.Back({}, "")
    assert set_aside(place) == []


def test_of_a_take_cut_off_in_memory_what_was_played_after_the_trouble_comes_back(home: Path) -> None:
    with Journal() as journal:
        take = play(journal, "F", finish=False)
        journal.flush()
        with journal._lock:
            journal._fall_back(files.FULL, sqlite3.OperationalError())
        take.other(Pedal(60.0, "sustain", 127))
        journal.flush()
        known = len(take.event_rows())
    with Journal() as journal:
        (row,) = journal.unfinished()
        assert len(journal.take(row.id).events) < known
        comingback.take_back(journal)
        (row,) = journal.unfinished()
        assert len(journal.take(row.id).events) == known


def test_every_command_that_reads_the_journal_takes_them_in(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["journal", "list"]) == 0
    said = capsys.readouterr()
    assert "3 takes that were set aside are in the journal now." in said.err
    assert "→ Ab" in said.out
    assert main(["journal", "list"]) == 0
    assert capsys.readouterr().err == ""


def test_merging_the_file_by_hand_as_well_is_no_mistake(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (one,) = set_aside(place)
    assert main(["journal", "merge", str(one)]) == 0
    assert capsys.readouterr().err == "keyfarer: 3 takes that were set aside are in the journal now.\n"
    assert set_aside(place) == []


def test_what_was_set_aside_for_another_journal_is_left_alone(place: Path, tmp_path: Path) -> None:
    (one,) = set_aside(place)
    other = tmp_path / "elsewhere" / place.name
    other.parent.mkdir()
    there = one.rename(other.parent / one.name)
    with Journal(other) as journal:
        assert comingback.take_back(journal) == comingback.Back({}, "")
    assert there.exists()


def test_what_cannot_be_read_stays_and_is_named(place: Path) -> None:
    (one,) = set_aside(place)
    one.write_bytes(b"no journal" * 1000)
    with Journal(place) as journal:
        said = comingback.take_back(journal).words
    assert said == (
        f"Takes set aside in {one} could not all be put into the journal (it cannot be read whole); they stay there."
    )
    assert one.exists()


def test_while_the_disk_is_still_full_they_stay_and_come_the_next_time(home: Path) -> None:
    with Journal() as journal:
        play(journal, "G")
        with journal._lock:
            journal._fall_back(files.FULL, sqlite3.OperationalError())
        for _ in range(40):
            play(journal, "Eb")
    place = journal.path
    with Journal(place) as journal:
        pages = journal.ask("PRAGMA page_count")[0][0]
        journal.ask(f"PRAGMA max_page_count = {pages}")
        assert "the disk is full: make room" in comingback.take_back(journal).words
        assert len(journal.takes(limit=99)) == 1
    assert len(set_aside(place)) == 1
    with Journal(place) as journal:
        assert comingback.take_back(journal).words.startswith("40 takes")


def test_the_path_learns_from_them_whatever_takes_them_in(place: Path) -> None:
    assert main(["journal", "summary"]) == 0
    with Journal(place) as journal:
        assert sorted(one.key for one in cells(journal, "Ada")) == ["Ab", "D", "Eb"]


def test_what_the_path_cannot_learn_from_now_stays_aside_until_it_can(
    place: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Taken in without it, a take would never be learned from."""

    with monkeypatch.context() as held:
        held.setattr(coaching_cells, "_write", seized)
        assert main(["journal", "list"]) == 0
    assert "another copy of Keyfarer is writing it); they stay there." in capsys.readouterr().err
    assert len(set_aside(place)) == 1
    assert main(["journal", "list"]) == 0
    with Journal(place) as journal:
        assert sorted(one.key for one in cells(journal, "Ada")) == ["Ab", "D", "Eb"]


def test_what_comes_back_while_the_path_is_broken_is_noted_to_be_learned_from(place: Path) -> None:
    own = place.parent / "path.toml"
    own.write_text("this is no path")
    assert main(["journal", "list"]) == 0
    assert not set_aside(place)
    own.unlink()
    with Journal(place) as journal:
        waiting = comeback.unlearned(journal)
        assert len(waiting) > 0
        for row in waiting:
            assert learn(journal, row.id, once=True) is not None
            assert learn(journal, row.id, once=True) is None, "from none twice"
        assert not comeback.unlearned(journal)
        assert sorted(one.key for one in cells(journal, "Ada")) == ["Ab", "D", "Eb"]


def test_the_path_learns_from_the_take_in_which_the_trouble_began(home: Path) -> None:
    with Journal() as journal:
        take = play(journal, "F", player="Ada", finish=False)
        journal.flush()
        with journal._lock:
            journal._fall_back(files.FULL, sqlite3.OperationalError())
        marks = Settled(tuple(Mark(at, at, RIGHT, 1.0) for at in range(16)), (), ())
        take.finish(marks, Summary(16, 16, 16, 1.0, 120.0, 7.5))
    assert main(["journal", "list"]) == 0
    with Journal() as journal:
        assert [row.state for row in journal.takes()] == ["finished"]
        assert [one.key for one in cells(journal, "Ada")] == ["F"]
