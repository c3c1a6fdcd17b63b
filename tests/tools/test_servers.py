"""Servers the tests start: a run of tests that is killed leaves none behind."""

from __future__ import annotations

import contextlib
import mmap
import os
import pathlib
import signal
import subprocess
import sys
import time

import pytest

from tools.servers import NoServer, ended, jack_started

ROOT = pathlib.Path(__file__).resolve().parents[2]
STARTER = """
import sys, time
from tools.servers import started
print(started([sys.executable, "-c", "import time; time.sleep(600)"]).pid, flush=True)
time.sleep(600)
"""
NAMED = """
import sys
from tools.servers import jack_name
print(jack_name(), flush=True)
sys.stdin.read()
"""


def is_there(process: int) -> bool:
    try:
        return pathlib.Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


@pytest.mark.skipif(sys.platform != "linux", reason="asked of Linux alone")
def test_a_server_ends_with_a_program_that_is_killed() -> None:
    starter = subprocess.Popen([sys.executable, "-c", STARTER], stdout=subprocess.PIPE, cwd=ROOT)
    assert starter.stdout is not None
    server = int(starter.stdout.readline())
    assert is_there(server)
    starter.kill()
    starter.communicate()
    until = time.monotonic() + 60
    while is_there(server) and time.monotonic() < until:
        time.sleep(0.01)
    left = is_there(server)
    if left:
        os.kill(server, signal.SIGKILL)
    assert not left


def named() -> tuple[str, subprocess.Popen[bytes]]:
    program = subprocess.Popen([sys.executable, "-c", NAMED], stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=ROOT)
    assert program.stdout is not None
    return program.stdout.readline().decode().strip(), program


@pytest.mark.skipif(sys.platform != "linux", reason="asked of Linux alone")
def test_a_name_is_one_programs_at_a_time_and_taken_again_after_it_was_killed(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    names, programs = zip(*(named() for _ in range(2)), strict=True)
    assert names == ("keyfarer-1", "keyfarer-2")
    programs[0].kill()
    programs[0].communicate()
    again, third = named()
    assert again == "keyfarer-1"
    for program in (programs[1], third):
        program.communicate()


@pytest.mark.skipif(sys.platform != "linux", reason="asked of Linux alone")
@pytest.mark.parametrize("used", [False, True])
def test_places_nobody_holds_are_given_back_and_those_in_use_are_not(
    used: bool, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "registry"
    path.write_text("full")
    (tmp_path / "jackd").write_text(f"#!/bin/sh\ntest -e {path} && exit 255\nexec sleep 600\n")
    (tmp_path / "jackd").chmod(0o700)
    (tmp_path / "jack_lsp").write_text(f"#!/bin/sh\ntest ! -e {path}\n")
    (tmp_path / "jack_lsp").chmod(0o700)
    monkeypatch.setenv("PATH", str(tmp_path), prepend=os.pathsep)
    monkeypatch.setattr("tools.servers._PLACES", path)
    with (
        path.open("rb") as file,
        mmap.mmap(file.fileno(), 0, prot=mmap.PROT_READ) if used else contextlib.nullcontext(),
    ):
        if used:
            with pytest.raises(NoServer, match="jackd does not begin here"):
                jack_started("keyfarer-test")
        else:
            ended(jack_started("keyfarer-test"))
    assert path.exists() == used
