"""Cells as the journal keeps them: damaged ones, those of a wrong clock, and what is said when one moved."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from tests.journal.played import play
from trainer.coaching.path.cells import Cell, Learned, believed, cells, learn, played_of
from trainer.coaching.path.path import FILE, FREE, HOLDING, NEW, OPENING, Place, Played
from trainer.journal import rescue, unlearned
from trainer.journal.store import Journal
from trainer.journal.take import EPOCH_ORDINAL
from trainer.journal.values import LOOP, PATTERN, PIECE
from trainer.music.pitch import MusicError

NOW = datetime(2026, 3, 2, 18, tzinfo=UTC)
HERE = Place("pentachord", "Eb", "right")


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with Journal(tmp_path / "journal.sqlite") as kept:
        yield kept


def learned(before: str, after: str, shown: str = "all", then: str = "all") -> str:
    cell = Cell(HERE, before, help=shown)
    return Learned(cell, replace(cell, state=after, help=then), None).words


def test_what_moved_is_said_in_a_line() -> None:
    assert learned(OPENING, HOLDING) == "E♭ major, pentachord, right hand: it holds now."
    assert learned(HOLDING, FREE) == "E♭ major, pentachord, right hand: it is free now."
    # A fall is not told in the words of a step forward.
    assert learned(HOLDING, OPENING) == "E♭ major, pentachord, right hand: it is opening again."
    assert learned(FREE, HOLDING) == "E♭ major, pentachord, right hand: it still holds, free no longer."
    assert learned(OPENING, OPENING, "all", "bars") == "Fewer syllables next time."
    assert learned(OPENING, OPENING, "none", "do") == "More syllables next time."
    assert learned(OPENING, HOLDING, "all", "bars").endswith("it holds now. Fewer syllables next time.")


def test_nothing_is_said_of_what_stays_and_of_a_first_take() -> None:
    assert learned(OPENING, OPENING) == ""
    assert learned(NEW, OPENING) == ""
    assert learned(NEW, OPENING, "all", "bars") == ""


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("level", "octachord"),
        ("key", "H"),
        ("hands", "feet"),
        ("state", "lost"),
        ("help", "much"),
        ("due", 10**9),
        ("recent", "[[1]]"),
        ("recent", "nothing"),
    ],
)
def test_a_damaged_cell_is_as_if_it_were_new_and_the_others_stay(
    journal: Journal, column: str, value: str | int
) -> None:
    for key in ("Eb", "D"):
        take = play(journal, key, player="Ada", began=NOW)
        assert take.id is not None
        learn(journal, take.id)
    with journal.changing() as db:
        db.execute(f"UPDATE cell SET {column} = ? WHERE key = 'Eb'", (value,))
    assert [place.key for place in cells(journal, "Ada")] == ["D"]


def test_of_a_take_accuracy_and_stops_to_think_for_each_bar_are_remembered(journal: Journal) -> None:
    take = play(journal, "Eb", player="Ada", began=NOW)
    assert take.id is not None
    kept = journal.take(take.id)
    assert (played_of(kept).accuracy, played_of(kept).waits) == (1.0, 0.0)
    stopped = replace(kept, row=replace(kept.row, hesitations=2))
    assert played_of(stopped).waits == 2 / len(kept.piece.bars)


def test_of_a_day_later_than_tomorrow_a_take_counts_as_of_yesterday() -> None:
    today = date(2026, 3, 2)
    number = today.toordinal() - EPOCH_ORDINAL

    def cell(*days: int) -> Cell:
        recent = tuple(Played(number + day, 0.9, 1.0, None, "all", False) for day in days)
        return Cell(HERE, OPENING, card="known", due=today + timedelta(days=40), recent=recent)

    assert believed(cell(), today) == cell()
    # Who travels may be a day ahead.
    assert believed(cell(-3, 1), today) == cell(-3, 1)
    found = believed(cell(-3, 2), today)
    assert [take.day - number for take in found.recent] == [-3, -1]
    assert (found.card, found.due) == ("", today)


def test_a_take_that_belongs_to_no_cell_is_learned_from_and_moves_none(journal: Journal) -> None:
    for key, kind in (("C", PIECE), ("Eb", PATTERN), ("Eb", LOOP)):
        take = play(journal, key, kind=kind, player="Ada", began=NOW)
        assert take.id is not None
        assert learn(journal, take.id) is None
    assert cells(journal, "Ada") == {}


def test_a_take_played_while_the_path_is_broken_is_noted_for_later(journal: Journal, tmp_path: Path) -> None:
    (tmp_path / FILE).write_text("broken")
    take = play(journal, "Eb", player="Ada", began=NOW)
    assert take.id is not None
    with journal.changing() as db:
        unlearned.strike(db, take.id)
    with pytest.raises(MusicError):
        learn(journal, take.id)
    assert unlearned.noted(journal) == [take.id]
    (tmp_path / FILE).unlink()
    assert learn(journal, take.id, once=True) is not None
    assert learn(journal, take.id, once=True) is None, "another copy of the program has done so"


@pytest.mark.parametrize("there", [20_000, 20], ids=["a wrong clock's", "an older one"])
def test_of_two_journals_the_cell_that_was_played_last_stays_though_it_is_due_sooner(
    journal: Journal, tmp_path: Path, there: int
) -> None:
    with Journal(tmp_path / "other.sqlite") as other:
        # Long known well on one computer, and not known any more on the other.
        now = datetime.now(UTC)
        for kept, ago, slips in ((other, 50, {}), (other, 30, {}), (other, there, {}), (journal, 1, range(8))):
            when = now - timedelta(days=ago if ago < 1000 else -ago)
            take = play(kept, "Eb", player="Ada", began=when, slips=dict.fromkeys(slips, "wrong"))
            assert take.id is not None
            learn(kept, take.id, when)
        newest = cells(journal, "Ada")[HERE]
        rescue.merge(journal.db, other.path)
        assert cells(journal, "Ada")[HERE] == newest
        rescue.merge(other.db, journal.path)
        assert cells(other, "Ada")[HERE] == newest


@pytest.mark.parametrize("garbled", ["[[1e999, 1, 1]]", "[[]]", "{}", "no list"])
def test_a_cell_of_the_other_journal_that_no_day_can_be_read_from_changes_nothing(
    journal: Journal, tmp_path: Path, garbled: str
) -> None:
    when = datetime.now(UTC) - timedelta(days=3)
    with Journal(tmp_path / "other.sqlite") as other:
        for kept in (journal, other):
            take = play(kept, "Eb", player="Ada", began=when)
            assert take.id is not None
            learn(kept, take.id, when)
        newest = cells(journal, "Ada")[HERE]
        with other.db:
            other.db.execute("UPDATE cell SET recent = ?", (garbled,))
        rescue.merge(journal.db, other.path)
    assert cells(journal, "Ada")[HERE] == newest
