"""What tools/check.py does besides calling its tools: it asks for known weaknesses and shares out the tests."""

from __future__ import annotations

import importlib
import json
import subprocess
import sys
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest

from tests.conftest import pytest_collection_modifyitems

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


def test_a_registry_that_does_not_answer_in_time_is_said_to_and_left(
    monkeypatch: pytest.MonkeyPatch, check: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(check, "AUDIT_S", 0.1)
    command = [sys.executable, "-c", "import time; time.sleep(600)"]
    asked = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert check.audited(asked)
    assert "did not tell its known weaknesses in time" in capsys.readouterr().out
    assert asked.returncode is not None, "it is left running"


@pytest.mark.parametrize("code", [0, 100])
def test_what_debian_does_not_give_is_said_with_the_line_that_gets_it(
    monkeypatch: pytest.MonkeyPatch, check: ModuleType, capsys: pytest.CaptureFixture[str], code: int
) -> None:
    ran: list[list[str]] = []

    def run(words: list[str], **_: object) -> subprocess.CompletedProcess[str]:
        ran.append(words)
        return subprocess.CompletedProcess(words, code)

    monkeypatch.setattr(check.shutil, "which", lambda name: "/usr/bin/apt-get" if name == "apt-get" else None)
    monkeypatch.setattr(check.os, "geteuid", lambda: 0, raising=False)
    monkeypatch.setattr(check, "midi_is_here", lambda: True)
    monkeypatch.setattr(check.subprocess, "run", run)
    check.system_parts()
    assert [words[1] for words in ran] == ["update", "install"]
    assert all("Acquire::http::Timeout=20" in words for words in ran)
    said = capsys.readouterr().out
    assert ("By hand: apt-get install -y jackd2 xvfb xdotool\n" in said) == bool(code)


def test_all_tests_are_shared_out_over_the_cores_but_for_those_with_real_parts(check: ModuleType) -> None:
    beside, alone = check.testing([], 2)
    assert beside[:3] == ["pytest", "-n", "2"]
    # A file is one process's: what its tests share is made once.
    assert "loadfile" in beside
    assert beside[-2:] == ["-m", "not system"]
    assert alone == ["pytest", "-m", "system"]
    assert check.testing([], 64)[0][2] == str(check.MOST_PROCESSES)


def test_a_few_tests_by_name_and_all_on_one_core_are_run_once(check: ModuleType) -> None:
    assert check.testing(["tests/following", "-k", "octave"], 4) == [["pytest", "tests/following", "-k", "octave"]]
    assert check.testing([], 1) == check.testing([], None) == [["pytest"]]


@pytest.mark.parametrize(
    ("asks", "marked"), [({"jack", "tmp_path"}, ["system"]), ({"display"}, ["system"]), ({"home"}, [])]
)
def test_whatever_asks_for_a_real_port_or_window_is_a_system_test(asks: set[str], marked: list[str]) -> None:
    given: list[str] = []
    item: Any = SimpleNamespace(fixturenames=asks, add_marker=given.append)
    pytest_collection_modifyitems([item])
    assert given == marked


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
