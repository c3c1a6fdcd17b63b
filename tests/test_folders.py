"""Everything the player keeps lies in one place, where it is named and where it is not."""

from __future__ import annotations

from pathlib import Path

import pytest

from trainer import folders
from trainer.journal import files
from trainer.scores.shelf import library
from trainer.window import settings


def test_a_folder_that_is_named_holds_everything(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    monkeypatch.setenv("KEYFARER_HOME", "~/music desk")
    desk = tmp_path / "music desk"
    assert (folders.data(), folders.settings(), folders.cache()) == (desk, desk, desk / "cache")
    assert folders.sheets() == desk / "sheets"
    assert (files.where(), library.own_folder()) == (desk / "journal.sqlite", desk / "pieces")
    settings.save(settings.Settings(night=True))
    assert (desk / "settings.json").is_file()


def test_else_each_kind_lies_in_a_folder_of_our_name(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("KEYFARER_HOME", raising=False)
    assert "keyfarer" not in folders.sheets().parts, "a printed sheet lies where it is found, in no hidden folder"
    assert folders.sheets().name == "Keyfarer"
    for place in (folders.data(), folders.settings(), folders.cache()):
        assert "keyfarer" in place.parts
        assert place.is_absolute()


def test_no_test_writes_into_the_players_own_journal() -> None:
    """Running the checks once added takes to it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("KEYFARER_HOME")
        own = files.where()
    assert files.where() != own
