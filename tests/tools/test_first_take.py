from __future__ import annotations

import importlib
import sqlite3
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def test_without_a_screen_a_take_plays_itself(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Marks are printed, the take is in the journal, both pictures are named and hold more than paper."""
    import pygame

    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    monkeypatch.setenv("SDL_AUDIODRIVER", "dummy")
    monkeypatch.syspath_prepend(str(ROOT / "tools"))
    sys.modules.pop("first_take", None)
    first_take = importlib.import_module("first_take")
    assert first_take.main(tmp_path) == 0
    said = capsys.readouterr().out
    assert "played in E♭ major" in said
    assert "as-written" in said
    for name in ("keyfarer-stand.png", "keyfarer-marked-copy.png"):
        assert str(tmp_path / name) in said
        picture = pygame.image.load(str(tmp_path / name))
        colours = {tuple(picture.get_at((x, y)))[:3] for x in range(0, 1280, 7) for y in range(0, 800, 7)}
        assert len(colours) > 50
    kept = next(home.rglob("*.sqlite"))
    assert sqlite3.connect(kept).execute("select count(*) from take").fetchone() == (1,)
