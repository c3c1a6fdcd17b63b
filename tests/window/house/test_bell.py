"""What the loop sleeps on: it wakes for other threads and for the screen, and costs nothing while it sleeps."""

from __future__ import annotations

import os
import pathlib
import shutil
import signal
import subprocess
import sys
import threading
from typing import BinaryIO

import pytest

from trainer.window.house import bell as bells
from trainer.window.house.bell import Bell

ROOT = pathlib.Path(__file__).resolve().parents[3]
LONG_S = 600.0

# A window of its own sleeps: rung by a thread, then left alone, then woken by a key. Where it waits to be woken nothing
# else would wake it for ten minutes. How often it looked while it was left alone is told.
PROGRAM = """
import threading, time
import pygame
from trainer.window.house import bell as bells

pygame.display.init()
pygame.display.set_mode((320, 240))
bell = bells.Bell()
bell.open()
print("connected", bell._screen is not None, flush=True)
rest, bells._REST_S = bells._REST_S, 600.0

def hush():
    while pygame.event.get():
        pass

rung = []
threading.Timer(0.3, lambda: (rung.append(1), bell.ring())).start()
while not rung:
    hush()
    bell.wait(600.0, 0.0)
print("rung", flush=True)

bells._REST_S = rest
hush()
looks, until = 0, time.monotonic() + 2.0
while time.monotonic() < until:
    bell.wait(2.0, 0.0)
    looks += 1
print("looked", looks, flush=True)

bells._REST_S = 600.0
while pygame.KEYDOWN not in [event.type for event in pygame.event.get()]:
    bell.wait(600.0, 0.0)
print("key", flush=True)
bell.close()
"""


# A signal rings at any moment, also in the middle of what the bell itself does.
RUNG_BY_SIGNALS = """
import signal
from trainer.window.house.bell import Bell

bell, rings = Bell(), []
signal.signal(signal.SIGALRM, lambda *_: (rings.append(1), bell.ring()))
signal.setitimer(signal.ITIMER_REAL, 1e-4, 5e-5)
while len(rings) < 10_000:
    bell.wait(0.0, 0.0)
signal.setitimer(signal.ITIMER_REAL, 0)
"""


def test_a_ring_before_and_during_a_wait_ends_it(monkeypatch: pytest.MonkeyPatch) -> None:
    # By itself it would not look for ten minutes.
    monkeypatch.setattr(bells, "_LOOK_S", LONG_S)
    bell = Bell()
    bell.ring()
    assert has_ended(waiting(bell))
    asleep = waiting(bell)
    assert not has_ended(asleep, 0.1)
    bell.ring()
    assert has_ended(asleep)
    bell.close()


def waiting(bell: Bell) -> threading.Thread:
    thread = threading.Thread(target=bell.wait, args=(LONG_S, 0.0), daemon=True)
    thread.start()
    return thread


def has_ended(thread: threading.Thread, within_s: float = 60.0) -> bool:
    thread.join(within_s)
    return not thread.is_alive()


@pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="no timer signals on this system")
def test_a_signal_handler_may_ring_at_any_moment() -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    subprocess.run([sys.executable, "-c", RUNG_BY_SIGNALS], env=environment, check=True, timeout=60)


@pytest.mark.skipif(sys.platform == "win32", reason="no pipe to wait for there")
def test_a_ring_under_way_while_the_bell_is_put_away_is_no_word_in_another_file(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is imported late rings when it is done, also when the window was closed meanwhile."""
    screen, other = os.pipe()
    monkeypatch.setattr(bells, "_connection", lambda: screen)
    bell, write = Bell(), os.write
    bell.open()
    opened: list[BinaryIO] = []

    def late(number: int, data: bytes) -> int:
        bell.close()
        opened.extend((tmp_path / name).open("wb") for name in ("one", "two"))
        return write(number, data)

    with monkeypatch.context() as patch:
        patch.setattr(os, "write", late)
        bell.ring()
    assert len(opened) == 2
    for file in opened:
        file.close()
    assert (tmp_path / "one").read_bytes() == (tmp_path / "two").read_bytes() == b""
    for number in (screen, other):
        os.close(number)


@pytest.mark.system
def test_under_x_it_wakes_for_threads_and_keys_and_rests_meanwhile(display: str, tmp_path: pathlib.Path) -> None:
    if not shutil.which("xdotool"):
        pytest.skip("xdotool is not installed: on Debian, apt-get install xdotool")
    program = tmp_path / "sleeping.py"
    program.write_text(PROGRAM)
    environment = {**os.environ, "DISPLAY": display, "SDL_VIDEODRIVER": "x11", "PYTHONPATH": str(ROOT)}
    with subprocess.Popen([sys.executable, str(program)], env=environment, stdout=subprocess.PIPE, text=True) as child:
        # What is never told is waited for no longer than that.
        giving_up = threading.Timer(60.0, child.kill)
        giving_up.start()
        try:
            assert child.stdout is not None
            told = (line.split() for line in child.stdout)
            assert ["connected", "True"] in told
            assert ["rung"] in told, "the bell did not wake it"
            _, looks = next(told, ("looked", "0"))
            found = subprocess.run(["xdotool", "search", "--sync", "--onlyvisible", "--pid", str(child.pid)],
                                   env=environment, capture_output=True, text=True, check=True)  # fmt: skip
            window = found.stdout.split()[-1]
            subprocess.run(["xdotool", "windowfocus", "--sync", window, "key", "a"], env=environment, check=True)
            assert ["key"] in told, "the key did not wake it"
        finally:
            giving_up.cancel()
            child.kill()
    # In two seconds some twenty looks, on a busy machine fewer; not the two thousand of a look every millisecond.
    assert 0 < int(looks) < 60
