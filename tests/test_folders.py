"""Everything the player keeps lies in one place, where it is named and where it is not."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import platformdirs
import pytest

from trainer import folders
from trainer.app import main
from trainer.journal import files
from trainer.scores.shelf import library
from trainer.window import settings
from trainer.window.places import home


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


@pytest.mark.skipif(sys.platform == "win32", reason="there a home is known otherwise")
def test_where_nobody_has_a_home_it_is_said_how_to_name_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A service of nobody's was answered with a traceback."""

    def unknown(_: object) -> object:
        raise KeyError

    for name in [name for name in os.environ if name in ("HOME", "KEYFARER_HOME") or name.startswith("XDG_")]:
        monkeypatch.delenv(name)
    monkeypatch.setattr("pwd.getpwuid", unknown)
    assert main(["journal", "where"]) != 0
    assert capsys.readouterr().err == (
        "keyfarer: There is no home folder here: name one for everything in KEYFARER_HOME.\n"
    )
    monkeypatch.setenv("KEYFARER_HOME", str(tmp_path))
    assert main(["journal", "where"]) == 0
    assert folders._or_sheets(platformdirs.user_desktop_path) == folders.sheets() == tmp_path / "sheets"
    assert home(tmp_path) == str(tmp_path)


def test_no_test_writes_into_the_players_own_journal() -> None:
    """Running the checks once added takes to it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("KEYFARER_HOME")
        own = files.where()
    assert files.where() != own
