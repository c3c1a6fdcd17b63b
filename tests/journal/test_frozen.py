"""Journals of every format there has been, as the program of their day wrote them, open and say what they said."""

from __future__ import annotations

import contextlib
import json
import shutil
import sqlite3
from pathlib import Path

import pytest

from tests.journal.frozen import HERE, PLAYERS, exported
from tools.fault.child import STEP
from trainer.app import main as command
from trainer.journal import files, schema
from trainer.journal.errors import JournalError
from trainer.journal.store import Journal
from trainer.journal.values import FINISHED, PLAYING

FORMATS = sorted(int(path.stem.removeprefix("format-")) for path in HERE.glob("format-*.sqlite"))


@pytest.fixture(params=FORMATS)
def old(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[int, Path]:
    """A format and a copy of its journal in a folder of its own."""
    path = tmp_path / files.NAME
    shutil.copyfile(HERE / f"format-{request.param}.sqlite", path)
    return request.param, path


def later(monkeypatch: pytest.MonkeyPatch, step: str) -> None:
    """Make this program one that knows a format more."""
    monkeypatch.setattr(schema, "STEPS", (*schema.STEPS, step))
    monkeypatch.setattr(schema, "VERSION", len(schema.STEPS))


def _rows(path: Path) -> list[str]:
    """The whole file as SQL."""
    with contextlib.closing(sqlite3.connect(path)) as db:
        return list(db.iterdump())


def said(known: int) -> object:
    return json.loads((HERE / f"format-{known}.json").read_text(encoding="utf-8"))


def still_said(path: Path, known: int) -> object:
    """Of what is said today all that was said then: a later program may say more of a take."""
    then, today = said(known), json.loads(exported(path))
    assert isinstance(then, dict)
    pairs = zip(then["takes"], today["takes"], strict=True)
    return {**today, "takes": [{name: new[name] for name in old} for old, new in pairs]}


def test_there_is_one_of_every_format() -> None:
    assert list(range(1, schema.VERSION + 1)) == FORMATS


def test_no_step_that_players_have_taken_was_edited(old: tuple[int, Path]) -> None:
    known, path = old
    with contextlib.closing(sqlite3.connect(path)) as db:
        assert schema.version(db) == known
        assert schema.is_plain(db)


def test_it_says_what_it_said_then(old: tuple[int, Path]) -> None:
    known, path = old
    assert still_said(path, known) == said(known)
    copies = list(path.parent.glob(f"journal-format{known}-*.sqlite"))
    assert len(copies) == (known < schema.VERSION)


def test_a_later_program_moves_it_up_in_one_step_and_keeps_a_copy(
    old: tuple[int, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    known, path = old
    before = _rows(path)
    later(monkeypatch, STEP)
    assert still_said(path, known) == said(known)
    with Journal(path, strict=True) as journal:
        assert journal.ask("PRAGMA user_version") == [(schema.VERSION,)]
        assert journal.ask("PRAGMA integrity_check") == [("ok",)]
        assert all(room for (room,) in journal.ask("SELECT room FROM take"))
    (copy,) = path.parent.glob(f"journal-format{known}-*.sqlite")
    assert _rows(copy) == before


def test_a_step_that_fails_leaves_it_as_it_was(old: tuple[int, Path], monkeypatch: pytest.MonkeyPatch) -> None:
    known, path = old
    before = _rows(path)
    with monkeypatch.context() as newer:
        later(newer, STEP + "; UPDATE take SET uid = 'the same'")
        with pytest.raises(JournalError):
            Journal(path, strict=True)
    with contextlib.closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA user_version").fetchone() == (known,)
    assert _rows(path) == before
    assert still_said(path, known) == said(known)


def test_its_players_go_on(old: tuple[int, Path], capsys: pytest.CaptureFixture[str]) -> None:
    """The take cut off is finished, the figures are there, nothing is offered twice."""
    _, path = old
    with Journal(path, strict=True) as journal:
        assert journal.players() == list(PLAYERS)
        (cut_off,) = journal.unfinished()
        assert cut_off.state == PLAYING
    assert command(["journal", "--journal", str(path), "finish", str(cut_off.id)]) == 0
    for player in PLAYERS:
        assert command(["journal", "--journal", str(path), "--player", player, "summary", "--json"]) == 0
    assert f'"player": "{PLAYERS[1]}"' in capsys.readouterr().out
    with Journal(path, strict=True) as journal:
        assert journal.row(cut_off.id).state == FINISHED
        assert not journal.unfinished()
