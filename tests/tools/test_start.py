"""The environment of its own, once made, serves without the internet."""

from __future__ import annotations

import importlib
import os
import re
import signal
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
    return importlib.import_module("environment")


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


@pytest.mark.skipif(os.name != "posix", reason="a terminal's Ctrl-C cannot be sent there")
def test_ctrl_c_is_left_to_the_program_that_was_started() -> None:
    """A program that takes a while to keep the take is neither killed nor talked over."""
    program = (
        "import os, signal, sys, time\n"
        "def keep(*_):\n    time.sleep(1)\n    os.write(1, b'kept\\n')\n    sys.exit(7)\n"
        "signal.signal(signal.SIGINT, keep)\n"
        "os.write(1, b'ready\\n')\ntime.sleep(600)\n"
    )
    code = (
        "import signal, sys\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "sys.path.insert(0, 'tools')\n"
        "import start\n"
        f"sys.exit(start.run([sys.executable, '-c', {program!r}]))"
    )
    with subprocess.Popen([sys.executable, "-c", code], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                          text=True, start_new_session=True) as started:  # fmt: skip
        assert started.stdout is not None
        assert started.stdout.readline() == "ready\n"
        os.killpg(started.pid, signal.SIGINT)
        said, complaint = started.communicate(timeout=60)
    assert (started.returncode, said, complaint) == (7, "kept\n", "")


@pytest.mark.skipif(os.name != "posix", reason="these signals are Unix's")
@pytest.mark.parametrize("how", ["SIGTERM", "SIGHUP"])
def test_who_ends_start_ends_the_program_it_started(how: str) -> None:
    """It is asked to end, as if the signal had been its own, and waited for; nothing is left running."""
    program = (
        "import os, signal, sys, time\n"
        "def keep(*_):\n    time.sleep(0.5)\n    os.write(1, b'kept\\n')\n    sys.exit(0)\n"
        f"signal.signal(signal.{how}, keep)\n"
        "os.write(1, b'ready\\n')\ntime.sleep(600)\n"
    )
    code = (
        "import signal, sys\n"
        f"signal.signal(signal.{how}, signal.SIG_DFL)\n"
        "sys.path.insert(0, 'tools')\n"
        "import start\n"
        f"sys.exit(start.run([sys.executable, '-c', {program!r}]))"
    )
    with subprocess.Popen([sys.executable, "-c", code], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                          text=True) as started:  # fmt: skip
        assert started.stdout is not None
        assert started.stdout.readline() == "ready\n"
        started.send_signal(getattr(signal, how))
        said, complaint = started.communicate(timeout=60)
    assert (started.returncode, said, complaint) == (0, "kept\n", "")


@pytest.mark.skipif(os.name != "posix", reason="these signals are Unix's")
@pytest.mark.parametrize("how", ["SIGTERM", "SIGHUP"])
def test_who_ends_start_while_it_begins_its_program_leaves_none_running(how: str) -> None:
    code = (
        "import os, signal, subprocess, sys\n"
        f"signal.signal(signal.{how}, signal.SIG_DFL)\n"
        "sys.path.insert(0, 'tools')\n"
        "import start\n"
        "begin = subprocess.Popen\n"
        "def begun(*words):\n"
        f"    os.kill(os.getpid(), signal.{how})\n    return begin(*words)\n"
        "subprocess.Popen = begun\n"
        "sys.exit(start.run([sys.executable, '-c', 'import time; time.sleep(600)']))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, timeout=60)
    assert done.returncode == 128 + getattr(signal, how)


@pytest.fixture
def asked(environment: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """The commands an environment in an empty folder, where nothing is really installed, would run."""
    for name in ("pyproject.toml", *(f"tools/lock/{kind}.txt" for kind in ("run", "test", "build", "midi"))):
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

    def run(words: list[str], **_: object) -> subprocess.CompletedProcess[str]:
        asked.append(words)
        return subprocess.CompletedProcess(words, 0)

    monkeypatch.setattr(environment.subprocess, "run", run)
    return asked


def test_it_is_made_anew_when_what_it_needs_changes(
    environment: ModuleType, asked: list[list[str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(environment, "midi_is_here", lambda: True)
    environment.prepare("test")
    assert "--require-hashes" in asked[0]
    assert {"--no-deps", "--no-index"} <= set(asked[1])
    assert environment.prepare("test") == environment.prepare() == environment.python()
    assert len(asked) == 2, "what is there is not asked for again"
    lock = tmp_path / "tools" / "lock" / "test.txt"
    lock.write_text(lock.read_text(encoding="utf-8") + "\n")
    environment.prepare("test")
    assert len(asked) == 4


@pytest.mark.parametrize(("made_with", "again"), [("version = 3.12.4", False), ("version_info = 3.11.2", True)])
def test_it_is_made_anew_when_the_systems_python_is_another(
    environment: ModuleType, asked: list[list[str]], monkeypatch: pytest.MonkeyPatch, made_with: str, again: bool
) -> None:
    """`python3` of a system that was upgraded looks for packages where none were installed."""
    monkeypatch.setattr(environment, "midi_is_here", lambda: True)
    environment.prepare()
    asked.clear()
    (environment.PLACE / "pyvenv.cfg").write_text(f"home = /usr/bin\n{made_with}\n", encoding="utf-8")
    environment.prepare()
    assert any("venv" in command and "--clear" in command for command in asked) == again
    assert bool(asked) == again


def test_where_there_is_no_wheel_midi_is_built_once_it_can_be(
    environment: ModuleType,
    asked: list[list[str]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    able = False
    monkeypatch.setattr(environment, "can_build_midi", lambda: able)
    assert not environment.midi_is_here()
    environment.prepare()
    assert len(asked) == 2
    assert "MIDI will come through pygame" in capsys.readouterr().out
    able = True
    environment.prepare()
    assert [Path(words[-1]).name for words in asked[2:]] == ["build.txt", "midi.txt"]
    assert all("--require-hashes" in words for words in asked[2:])
    environment.prepare()
    assert len(asked) == 4, "what could not be built is not tried at every start"
    (tmp_path / ".venv" / "lib" / "python3.13" / "site-packages" / "rtmidi").mkdir(parents=True)
    assert environment.midi_is_here()


def test_what_could_not_be_fetched_is_tried_again_the_next_day_and_what_would_not_build_is_not(
    environment: ModuleType,
    asked: list[list[str]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert not asked
    said, tries = "ERROR: Could not find a version that satisfies the requirement python-rtmidi", []

    def run(words: list[str], **_: object) -> subprocess.CompletedProcess[str]:
        tries.append(Path(words[-1]).name)
        return subprocess.CompletedProcess(words, int(words[-1].endswith("midi.txt")), "", said)

    monkeypatch.setattr(environment.subprocess, "run", run)
    monkeypatch.setattr(environment, "can_build_midi", lambda: True)
    for kind in ("run", "test"):
        environment._marker(kind).write_text(environment._stamp(kind))
    environment.prepare()
    assert tries == ["build.txt", "midi.txt"]
    assert "tomorrow it is tried again" in capsys.readouterr().out
    environment.prepare()
    assert len(tries) == 2, "an evening without the network is not spent waiting for it at every start"
    tried = tmp_path / ".venv" / "tried-to-build-midi"
    os.utime(tried, (0, tried.stat().st_mtime - 90_000))
    said = "error: metadata-generation-failed"
    environment.prepare()
    assert len(tries) == 4
    assert "tomorrow" not in capsys.readouterr().out
    os.utime(tried, (0, tried.stat().st_mtime - 90_000))
    environment.prepare()
    assert len(tries) == 4
    lock = tmp_path / "tools" / "lock" / "midi.txt"
    lock.write_text(lock.read_text(encoding="utf-8") + "\n")
    said = "ERROR: no connection"
    environment.prepare()
    environment.prepare()
    assert len(tries) == 6, "another version may build"


@pytest.mark.parametrize("able", [False, True])
def test_headers_that_are_there_are_not_asked_for(
    environment: ModuleType,
    asked: list[list[str]],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    able: bool,
) -> None:
    """Where the build itself fails, nothing that apt-get brings would help."""
    monkeypatch.setattr(environment, "can_build_midi", lambda: able)
    monkeypatch.setattr(environment.shutil, "which", lambda name: f"/usr/bin/{name}")

    def run(words: list[str], **_: object) -> subprocess.CompletedProcess[str]:
        asked.append(words)
        return subprocess.CompletedProcess(words, int("build.txt" in words[-1]))

    monkeypatch.setattr(environment.subprocess, "run", run)
    environment.prepare()
    said = capsys.readouterr().out
    assert "MIDI will come through pygame" in said
    assert ("apt-get install" in said) is not able


HANGS = (
    "WARNING: Retrying (Retry(total=0, connect=None, read=None)) after connection broken by 'ReadTimeoutError(...)'\n"
    "ERROR: Could not find a version that satisfies the requirement certifi (from versions: none)\n"
)
BAD_HASH = "ERROR: Exception was hidden\nERROR: certifi-1.0.whl does not match its hash.\n"


@pytest.mark.parametrize(
    ("said", "sentence"),
    [(HANGS, "PyPI, where the packages come from, does not answer: check the connection and run the command again."),
     (BAD_HASH, "The packages could not be installed (certifi-1.0.whl does not match its hash)."),
     ("", "The packages could not be installed (pip gives no reason).")],
)  # fmt: skip
def test_why_there_are_no_packages_is_one_sentence(
    environment: ModuleType,
    asked: list[list[str]],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    said: str,
    sentence: str,
) -> None:
    def run(words: list[str], **_: object) -> subprocess.CompletedProcess[str]:
        asked.append(words)
        return subprocess.CompletedProcess(words, 1, None, said)

    monkeypatch.setattr(environment.subprocess, "run", run)
    with pytest.raises(SystemExit) as why:
        environment.prepare()
    assert why.value.code == sentence
    assert len(asked) == 1
    assert re.search(r"Fetching \d\d packages", capsys.readouterr().out)
    assert not environment.is_installed("run")
