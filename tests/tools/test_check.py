"""What tools/check.py does besides calling its tools: it asks for known weaknesses and shares out the tests."""

from __future__ import annotations

import importlib
import json
import sys
from pathlib import Path
from types import ModuleType, SimpleNamespace

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def check(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(ROOT / "tools"))
    return importlib.import_module("check")


def told(monkeypatch: pytest.MonkeyPatch, check: ModuleType, said: str) -> bool:
    """Whether the checks go on when the registry says so."""

    class Asked:
        def __init__(self, *_: object, **__: object) -> None: ...

        def communicate(self, timeout: float) -> tuple[str, None]:
            assert timeout <= 60.0
            return said, None

        def kill(self) -> None: ...

    monkeypatch.setattr(check.subprocess, "Popen", Asked)
    return bool(check.audited(check.audit(Path(sys.executable))))


def test_a_known_weakness_fails_the_checks(
    monkeypatch: pytest.MonkeyPatch, check: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    weak = {"id": "PYSEC-0000-1", "fix_versions": ["2.0"], "aliases": [], "description": ""}
    found: list[dict[str, object]] = [
        {"name": "one", "version": "1.0", "vulns": [weak]},
        {"name": "two", "version": "1.0", "vulns": []},
    ]
    assert not told(monkeypatch, check, json.dumps({"dependencies": found}))
    assert "one 1.0: PYSEC-0000-1, mended in 2.0." in capsys.readouterr().out
    found[0]["vulns"] = []
    assert told(monkeypatch, check, json.dumps({"dependencies": found}))
    assert "Not audited" not in capsys.readouterr().out


@pytest.mark.parametrize("said", ["", json.dumps({"dependencies": [{"name": "one", "skip_reason": "not found"}]})])
def test_a_registry_that_says_nothing_fails_nothing_but_is_told(
    monkeypatch: pytest.MonkeyPatch, check: ModuleType, capsys: pytest.CaptureFixture[str], said: str
) -> None:
    assert told(monkeypatch, check, said)
    assert "Not audited" in capsys.readouterr().out


def test_all_tests_are_shared_out_over_the_cores_and_a_few_by_name_are_not(check: ModuleType) -> None:
    assert check.spread([], 2)[:2] == ["-n", "2"]
    # However many there are, each process needs a JACK server, of which there are few.
    assert check.spread([], 64)[:2] == ["-n", str(check.MOST_PROCESSES)]
    # A file is one process's: what its tests share is made once.
    assert "loadfile" in check.spread([], 4)
    assert check.spread(["tests/following", "-k", "octave"], 4) == []
    assert check.spread([], 1) == check.spread([], None) == []


@pytest.mark.parametrize(
    ("words", "codes", "passed"),
    [
        (["-n", "2"], [0], True),
        (["-n", "2"], [1, 0], True),
        (["-n", "2"], [1, 1], False),
        # Nothing is left to run: what failed was no test.
        (["-n", "2"], [1, 5], False),
        (["-n", "2"], [2], False),
        ([], [1], False),
    ],
)
def test_a_test_that_fails_beside_others_is_run_once_more_by_itself(
    monkeypatch: pytest.MonkeyPatch, check: ModuleType, words: list[str], codes: list[int], passed: bool
) -> None:
    left = list(codes)
    monkeypatch.setattr(check.subprocess, "run", lambda *_, **__: SimpleNamespace(returncode=left.pop(0)))
    assert check.passes(Path(sys.executable), ["pytest", *words]) is passed
    assert not left


def test_what_the_tests_start_is_compiled_once_where_python_keeps_nothing(
    monkeypatch: pytest.MonkeyPatch, check: ModuleType
) -> None:
    monkeypatch.setenv("PYTHONDONTWRITEBYTECODE", "1")
    there = check.compiled()
    # Python keeps nothing it compiles when the variable holds a word.
    assert there["PYTHONDONTWRITEBYTECODE"] == ""
    assert Path(there["PYTHONPYCACHEPREFIX"]).is_relative_to(ROOT / ".venv")
    monkeypatch.delenv("PYTHONDONTWRITEBYTECODE")
    monkeypatch.delenv("PYTHONPYCACHEPREFIX", raising=False)
    assert "PYTHONPYCACHEPREFIX" not in check.compiled()
