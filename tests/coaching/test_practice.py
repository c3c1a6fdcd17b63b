"""A learner who plays what the Desk asks for, through the whole house, gets on along the path."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from tools.benches.journal import a_day, fill
from tools.practice import practise
from trainer.coaching.path.cells import cells
from trainer.coaching.path.path import FREE, HOLDING, OPENING, load
from trainer.coaching.today.repertoire import Offer
from trainer.journal.store import Journal
from trainer.journal.summary import by_key, sights
from trainer.music.keys import Key
from trainer.scores.shelf import library

START = datetime(2026, 3, 2, 18, tzinfo=UTC)


def test_practice_opens_keys_in_the_order_of_the_path(tmp_path: Path) -> None:
    path = library.find("air of three notes")
    shelf = [Offer(str(path), "Air of three notes", Key.parse("G"), "trichord", "right", 48.0, 80.0)]
    days = [START + timedelta(days=day) for day in range(12)]
    with Journal(tmp_path / "journal.sqlite") as journal:
        practise(journal, "Mira", days, 12, 1, shelf)
        known = cells(journal, "Mira")
        route = load()
        assert len(known) >= 3
        order = [place for place in route.places if place.hands != "both"]
        opened = sorted(order.index(place) for place in known)
        assert opened == list(range(len(known))), "no cell is passed over"
        assert sum(cell.state in (HOLDING, FREE) for cell in known.values()) >= 1
        assert sum(cell.state == OPENING for cell in known.values()) <= route.rules.most_opening
        # Every kept take was marked, and the sums are those of the takes.
        takes = journal.takes("Mira", limit=10_000)
        assert sum(one.played for one in by_key(journal, "Mira").values()) == sum(row.played or 0 for row in takes)
        assert sights(journal, "Mira"), "a reading at sight is asked for once a key holds"


def test_ten_years_fit_into_a_gigabyte(tmp_path: Path) -> None:
    """From the size of some days: 20 million presses at fifty bytes each are a gigabyte."""
    place = tmp_path / "journal.sqlite"
    rng = fill(3)
    with Journal(place) as journal:
        presses = sum(a_day(journal, START + timedelta(days=day), rng, 0.5) for day in range(6))
    assert place.stat().st_size / presses < 50
