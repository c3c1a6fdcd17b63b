"""Servers the tests start: a run of tests that is killed leaves none behind."""

from __future__ import annotations

import os
import pathlib
import signal
import subprocess
import sys
import time

import pytest

ROOT = pathlib.Path(__file__).resolve().parents[2]
STARTER = """
import sys, time
from tools.servers import started
print(started([sys.executable, "-c", "import time; time.sleep(600)"]).pid, flush=True)
time.sleep(600)
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
