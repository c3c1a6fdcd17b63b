"""Homes made for a while, for tests and pictures: nobody's, but for what is read and engraved only once."""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path

import pytest

from tools import practised, staging
from trainer import folders
from trainer.journal.store import Journal
from trainer.scores import cache


def test_a_home_for_pictures_begins_empty_but_knows_what_was_engraved_before(home: Path) -> None:
    (home / "assignments.toml").write_text("")
    cache.keep("before", 1)
    with staging.home():
        assert folders.data() != home
        assert {one.name for one in folders.data().iterdir()} == {"cache"}
        assert cache.fetch("before") == 1
        cache.keep("meanwhile", 2)
        with staging.home():
            assert cache.fetch("meanwhile") == 2
    assert folders.data() == home
    assert cache.fetch("meanwhile") == 2


def test_a_first_home_knows_nothing(first_home: Path, run_cache: Path) -> None:
    (run_cache / "known").write_text("")
    assert cache.fetch_bytes("known") == b""
    assert list(first_home.iterdir()) == []


def test_weeks_of_practice_are_played_once_and_opened_in_every_home(
    first_home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    noon = datetime(2026, 3, 2, 12).astimezone()
    practised.prepare(noon)
    monkeypatch.setattr(practised, "practise", lambda *_: pytest.fail("played again"))
    monkeypatch.setenv("KEYFARER_HOME", str(tmp_path / "another"))
    practised.prepare(noon)
    with Journal(first_home / "journal.sqlite") as one, Journal(tmp_path / "another" / "journal.sqlite") as other:
        takes = one.takes(practised.PLAYER, 10_000)
        assert len(takes) > 300
        assert takes == other.takes(practised.PLAYER, 10_000)
    # What is done in one home is not done in another.
    assert not os.path.samefile(first_home / "journal.sqlite", tmp_path / "another" / "journal.sqlite")
