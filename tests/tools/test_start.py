"""The environment of its own, once made, serves without the internet."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

from tools.fault import offline

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def environment(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(ROOT / "tools"))
    import environment

    return environment


@pytest.mark.skipif(not offline.can(), reason="the kernel denies sockets on Linux only")
def test_it_starts_without_the_internet_once_installed(environment: ModuleType, home: Path) -> None:
    if not environment.is_installed("test"):
        if os.environ.get("KEYFARER_NO_SKIPS") == "1":
            pytest.fail("python3 tools/check.py has not made the environment (KEYFARER_NO_SKIPS=1)")
        pytest.skip("python3 tools/check.py makes the environment this is about")
    take = next((ROOT / "exercises" / "takes").glob("*.mid"))
    words = ["mark", "petzold-minuet-in-g", str(take), "--to", "Eb"]
    start = [sys.executable, "-m", "tools.fault.offline", sys.executable, str(ROOT / "tools" / "start.py"), *words]
    done = subprocess.run(start, cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert "E♭ major" in done.stdout


def test_it_is_made_anew_when_what_it_needs_changes(
    environment: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("pyproject.toml", "tools/lock/run.txt", "tools/lock/test.txt"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes((ROOT / name).read_bytes())
    monkeypatch.setattr(environment, "ROOT", tmp_path)
    monkeypatch.setattr(environment, "LOCKS", tmp_path / "tools" / "lock")
    monkeypatch.setattr(environment, "PLACE", tmp_path / ".venv")
    environment.python().parent.mkdir(parents=True)
    environment.python().touch()
    asked: list[list[str]] = []
    monkeypatch.setattr(environment, "_works", lambda *_: True)
    monkeypatch.setattr(environment, "_version_of", lambda *_: (3, 12))
    monkeypatch.setattr(
        environment.subprocess, "run", lambda words, **_: asked.append(words) or subprocess.CompletedProcess(words, 0)
    )
    environment.prepare("test")
    assert "--require-hashes" in asked[0]
    assert {"--no-deps", "--no-index"} <= set(asked[1])
    assert environment.prepare("test") == environment.prepare() == environment.python()
    assert len(asked) == 2, "what is there is not asked for again"
    lock = tmp_path / "tools" / "lock" / "test.txt"
    lock.write_text(lock.read_text() + "\n")
    environment.prepare("test")
    assert len(asked) == 4
