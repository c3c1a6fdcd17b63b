"""The keeper of a MIDI output as a program: how it ends, and what is left of one that died."""

from __future__ import annotations

import os
import pathlib
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from types import SimpleNamespace
from typing import TypeVar

import pytest

from trainer.listening.clock import now
from trainer.sounding import out
from trainer.sounding.out import PianoVoice
from trainer.sounding.voice import Sounded

Given = TypeVar("Given")
ROOT = pathlib.Path(__file__).resolve().parents[2]
# A keeper whose driver keeps hold of the interpreter for good, as python-rtmidi does on a JACK server that hangs.
HELD = """
import ctypes, sys
from trainer.listening.backends import NoBackend
from trainer.listening.ports import Ports
from trainer.sounding import outlet
class Port:
    def send(self, data):
        ctypes.PyDLL(None).sleep(1000)
class Driver(NoBackend):
    def outputs(self):
        return ["Stage"]
    def open_output(self, name):
        return Port()
outlet.HELD_S = 2.0
outlet.Ports = lambda: Ports(backend=Driver())
sys.argv[1:] = ["Stage"]
outlet.main()
"""


def wait(until: Callable[[], object]) -> None:
    end = time.monotonic() + 60
    while not until():
        assert time.monotonic() < end
        time.sleep(0.01)


def does_not_wait(done: Callable[[], Given]) -> list[Given]:
    """What is done by a thread that ends by itself, and what it gave: who waits for a keeper held up never ends."""
    given: list[Given] = []
    thread = threading.Thread(target=lambda: given.append(done()), daemon=True)
    thread.start()
    thread.join(60)
    assert not thread.is_alive()
    return given


@pytest.fixture
def voice(monkeypatch: pytest.MonkeyPatch) -> PianoVoice:
    """A voice whose output is not there."""
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "keyfarer-nobody")
    found = PianoVoice("no such piano")
    found.prepare(())
    return found


def test_it_ends_by_itself_when_nobody_tells_it_any_more(voice: PianoVoice) -> None:
    """Killed, it could not let go of the keys."""
    voice.close()
    assert voice._keeper.wait(60) == 0


def test_the_pipe_of_one_that_died_is_closed_and_another_takes_its_place(voice: PianoVoice) -> None:
    """What is left in a broken pipe would complain when it is collected, from Python 3.13 on."""
    died, pipe = voice._keeper.pid, voice._stdin
    voice._keeper.kill()
    # Nobody need strike a key for it: what sounded is let go at once.
    wait(lambda: voice._keeper.pid != died)
    assert pipe.closed
    voice.close()
    assert voice._keeper.wait(60) == 0


@pytest.mark.skipif(not hasattr(signal, "SIGSTOP"), reason="nothing to hold a process up with")
def test_nobody_waits_for_a_keeper_that_is_held_up(voice: PianoVoice, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its pipe is full after some thousand notes: a long piece played as a model fills it alone."""
    monkeypatch.setattr(out, "CLOSE_S", 0.5)
    os.kill(voice._keeper.pid, signal.SIGSTOP)

    def told() -> None:
        voice.play([Sounded(at / 4, 0.2, 60) for at in range(5000)], 0.0)
        for _ in range(5000):
            voice.note_on(60, 80)
        voice.panic()
        voice.close()

    does_not_wait(told)
    assert voice._keeper.wait(60) == -signal.SIGKILL


@pytest.mark.skipif(not hasattr(signal, "SIGSTOP"), reason="nothing to hold a process up with")
@pytest.mark.parametrize("told", [0, 10_000], ids=["hangs", "hangs, its pipe full"])
def test_a_window_closes_and_chooses_another_output_at_once_whatever_holds_the_keeper_up(
    told: int, voice: PianoVoice, monkeypatch: pytest.MonkeyPatch
) -> None:
    # For as long as the keeper is held up.
    monkeypatch.setattr(out, "CLOSE_S", 600.0)
    os.kill(voice._keeper.pid, signal.SIGSTOP)
    for _ in range(told):
        voice.note_on(60, 80)
    does_not_wait(voice.close)
    (other,) = does_not_wait(lambda: PianoVoice("no such piano"))
    # On some systems a port belongs to one program at a time: it is not asked for while the other may hold it.
    time.sleep(0.2)
    assert other._process is None
    os.kill(voice._keeper.pid, signal.SIGCONT)
    wait(lambda: other._process is not None)
    assert voice._keeper.returncode == 0
    other.close()
    assert other._keeper.wait(60) == 0


@pytest.mark.skipif(not hasattr(signal, "SIGSTOP"), reason="nothing to hold a process up with")
def test_what_a_keeper_held_up_and_ended_has_not_taken_in_is_not_sounded_late(
    voice: PianoVoice, monkeypatch: pytest.MonkeyPatch
) -> None:
    held, hand = voice._keeper, voice._handed
    handed: list[str] = []

    def noted(line: str) -> bool:
        if voice._keeper is not held and line:
            handed.append(line)
        return hand(line)

    monkeypatch.setattr(voice, "_handed", noted)
    os.kill(held.pid, signal.SIGSTOP)
    for _ in range(10_000):
        voice.note_on(60, 80)
    time.sleep(out._STALE_S)
    held.kill()
    wait(lambda: voice._keeper is not held)
    voice.note_on(62, 80)
    wait(lambda: voice._untold.empty())
    voice.close()
    assert handed == ["now 903e50"]


@pytest.mark.skipif(sys.platform == "win32", reason="the C library has another sleep there")
def test_a_keeper_whose_driver_holds_the_interpreter_ends() -> None:
    """It can neither hear that its program has ended nor keep time: another one is started in its place."""
    keeper = subprocess.Popen(
        [sys.executable, "-c", HELD], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, cwd=ROOT
    )
    assert keeper.stdin is not None
    assert keeper.stdout is not None
    try:
        assert keeper.stdout.readline() == b"open\n"
        keeper.stdin.write(b"now 903c50\n")
        keeper.stdin.flush()
        assert keeper.wait(timeout=60) == 1
    finally:
        keeper.kill()
        keeper.communicate()


def test_the_clock_is_told_as_it_is_when_a_long_piece_is_handed_over_not_before_it_was_put_into_lines(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    written: list[str] = []
    monkeypatch.setattr(PianoVoice, "_start", lambda voice, again=False: None)
    monkeypatch.setattr(PianoVoice, "_hand_over", lambda voice: None)
    monkeypatch.setattr(PianoVoice, "_stdin", SimpleNamespace(write=written.append))
    voice = PianoVoice("Stage")
    voice.play([Sounded(0.5 * at, 0.1, 60) for at in range(100)], now())
    moment = now()
    told = voice._untold.get()
    assert told is not None
    assert voice._handed(told[1])
    word, seconds, *_ = written[0].split()
    assert (word, float(seconds) >= moment - 1e-6) == ("clock", True)
