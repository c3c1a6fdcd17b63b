"""What the loop sleeps on: it wakes for other threads and for the screen, and costs nothing while it sleeps."""

from __future__ import annotations

import json
import os
import pathlib
import shutil
import signal
import subprocess
import sys
import threading
import time

import pytest

from trainer.window.bell import Bell

ROOT = pathlib.Path(__file__).resolve().parents[2]

# A window of its own sleeps: rung by a thread, then woken by a key, then left alone. How each sleep went is told.
PROGRAM = """
import json, threading, time
import pygame
from trainer.window.bell import Bell

pygame.display.init()
pygame.display.set_mode((320, 240))
bell = Bell()
bell.open()
told = {"connected": bell._screen is not None}

def asleep(seconds):
    while pygame.event.get():
        pass
    begun, busy = time.monotonic(), time.process_time()
    while time.monotonic() - begun < seconds:
        bell.wait(seconds, 0.0)
        if rung or pygame.event.peek(pygame.KEYDOWN):
            break
    return [time.monotonic() - begun, time.process_time() - busy]

rung = []
threading.Timer(0.3, lambda: (rung.append(1), bell.ring())).start()
told["rung"] = asleep(20.0)
rung.clear()
told["alone"] = asleep(2.0)
print(json.dumps(told), flush=True)
print(json.dumps(asleep(20.0)), flush=True)
bell.close()
"""


# A signal rings at any moment, also in the middle of what the bell itself does.
RUNG_BY_SIGNALS = """
import signal
from trainer.window.bell import Bell

bell, rings = Bell(), []
signal.signal(signal.SIGALRM, lambda *_: (rings.append(1), bell.ring()))
signal.setitimer(signal.ITIMER_REAL, 1e-4, 5e-5)
while len(rings) < 10_000:
    bell.wait(0.0, 0.0)
signal.setitimer(signal.ITIMER_REAL, 0)
"""


def test_a_ring_before_and_during_a_wait_ends_it() -> None:
    bell = Bell()
    bell.ring()
    assert lasted(bell, 20.0) < 10.0
    ringing = threading.Timer(0.05, bell.ring)
    ringing.start()
    assert lasted(bell, 20.0) < 10.0
    ringing.join()
    bell.close()


@pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="no timer signals on this system")
def test_a_signal_handler_may_ring_at_any_moment() -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    subprocess.run([sys.executable, "-c", RUNG_BY_SIGNALS], env=environment, check=True, timeout=60)


def lasted(bell: Bell, seconds: float) -> float:
    begun = time.monotonic()
    bell.wait(seconds, 0.0)
    return time.monotonic() - begun


@pytest.mark.system
def test_under_x_it_wakes_for_threads_and_keys_and_rests_meanwhile(display: str, tmp_path: pathlib.Path) -> None:
    if not shutil.which("xdotool"):
        pytest.skip("xdotool is not installed: on Debian, apt-get install xdotool")
    program = tmp_path / "sleeping.py"
    program.write_text(PROGRAM)
    environment = {**os.environ, "DISPLAY": display, "SDL_VIDEODRIVER": "x11", "PYTHONPATH": str(ROOT)}
    with subprocess.Popen([sys.executable, str(program)], env=environment, stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        told = json.loads(next(line for line in child.stdout if line.startswith("{")))
        found = subprocess.run(["xdotool", "search", "--sync", "--onlyvisible", "--pid", str(child.pid)],
                               env=environment, capture_output=True, text=True, check=True)  # fmt: skip
        window = found.stdout.split()[-1]
        subprocess.run(["xdotool", "windowfocus", "--sync", window, "key", "a"], env=environment, check=True)
        by_key = json.loads(child.stdout.readline())
    assert told["connected"]
    assert told["rung"][0] < 15.0
    assert by_key[0] < 15.0
    # Two seconds of sleep, at ten looks a second: not a tenth of what a look every millisecond would take.
    assert told["alone"][0] >= 2.0
    assert told["alone"][1] < 0.1
