"""Names of files made from titles and players' names, however long and in whatever letters."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.journal.played import play
from trainer.journal.store import Journal
from trainer.scores.plain import as_name
from trainer.window.workroom.errands import played_out


@pytest.mark.parametrize("letter", ["a", "é", "名", "🎹"])
def test_of_a_long_title_what_comes_after_it_stays_and_a_disk_has_room_for_it(letter: str) -> None:
    names = {as_name(letter * 200, f" - {key} major") for key in ("E♭", "F♯")}
    assert len(names) == 2
    assert all(name.endswith("major") and len(name.encode()) <= 200 for name in names)


def test_what_no_system_takes_in_a_name_is_left_out() -> None:
    assert as_name('Who: "me"? / you. ') == "Who- -me- - you"
    assert as_name("Aura Lee", " - E♭ major") == "Aura Lee - E♭ major"


def test_a_player_of_a_long_name_hands_over_twice_in_a_day(tmp_path: Path, home: Path) -> None:
    player = "Ludovika Amalia " * 10
    with Journal(tmp_path / "journal.sqlite") as journal:
        play(journal, "Eb", player=player)
    made = [played_out(str(tmp_path / "journal.sqlite"), player, True, str(tmp_path)).files[0] for _ in range(2)]
    assert len(set(made)) == 2
    assert all(path.exists() for path in made)
