"""A JACK server that hangs, dies and is started anew while a piano is played and sounded over it."""

from __future__ import annotations

import os
import pathlib
import select
import signal
import subprocess
import sys
import time
from collections.abc import Iterator

import pytest

from tools.servers import ended, jack_started
from trainer.listening.jack import JACK_HANGS

pytestmark = pytest.mark.system
ROOT = pathlib.Path(__file__).resolve().parents[2]
WAIT_S = 60.0
# Key after key, for ever.
PIANO = """
import time
from tools.instruments import VirtualPiano
piano = VirtualPiano("Stage")
while True:
    piano.press(60)
    piano.release(60)
    time.sleep(0.05)
"""
SYNTH = """
import time
from tests.sounding.synth import Synth
synth = Synth("Stage")
while not synth.struck():
    time.sleep(0.01)
print("struck", flush=True)
time.sleep(1000)
"""
# Says what the quiet line says, and when keys are heard after it, until nobody listens to it any more.
LISTENER = """
import sys, threading, time
from trainer.listening import ports as itself
itself.RETRY_S = 0.5
over = threading.Event()
threading.Thread(target=lambda: (sys.stdin.read(), over.set()), daemon=True).start()
ports = itself.Ports()
said = 1
while not over.wait(0.05):
    for line in ports.watch():
        print(line, flush=True)
        said = 1
        ports.pending()
    if ports.pending() and ports.hearing and said:
        print("heard", flush=True)
        said = 0
ports.close()
print("closed", flush=True)
"""
SOUNDER = """
import sys, threading, time
from trainer.sounding.out import PianoVoice
over = threading.Event()
threading.Thread(target=lambda: (sys.stdin.read(), over.set()), daemon=True).start()
voice = PianoVoice("Stage")
while not over.wait(0.05):
    for line in voice.lines():
        print(line, flush=True)
    if voice.there:
        # So many that they fill whatever nobody empties.
        for _ in range(100):
            voice.note_on(60, 80)
            voice.note_off(60)
voice.close()
print("closed", flush=True)
"""


class Program:
    """A program of the test's, and the lines it prints."""

    def __init__(self, code: str) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
            cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, bufsize=0,
        )  # fmt: skip

    def says(self, line: str) -> list[str]:
        """Wait for a line; what was said before it."""
        assert self._process.stdout is not None
        before: list[str] = []
        until = time.monotonic() + WAIT_S
        while True:
            left = max(0.0, until - time.monotonic())
            assert select.select([self._process.stdout], [], [], left)[0], f"{line!r} is not said, but {before}"
            said = self._process.stdout.readline().decode().strip()
            assert said, f"it ended before it said {line!r}, having said {before}"
            if said == line:
                return before
            before.append(said)

    def leave(self) -> int:
        """Tell it to end by itself; its exit code."""
        assert self._process.stdin is not None
        self._process.stdin.close()
        self.says("closed")
        return self._process.wait(WAIT_S)

    def kill(self) -> None:
        self._process.kill()
        self._process.wait()
        for pipe in (self._process.stdin, self._process.stdout):
            assert pipe is not None
            pipe.close()


class Stage:
    """A server of its own and what plays on it."""

    def __init__(self) -> None:
        self.server: subprocess.Popen[bytes] | None = None
        self.programs: list[Program] = []

    def begin(self) -> None:
        self.server = jack_started(os.environ["JACK_DEFAULT_SERVER"], "-r")

    def tell(self, signal_number: int) -> None:
        assert self.server is not None
        self.server.send_signal(signal_number)
        if signal_number == signal.SIGKILL:
            # Not awaited it would go on having its name.
            self.server.wait()

    def program(self, code: str) -> Program:
        self.programs.append(Program(code))
        return self.programs[-1]

    def close(self) -> None:
        if self.server is not None:
            self.server.send_signal(signal.SIGCONT)
        for one in self.programs:
            one.kill()
        if self.server is not None:
            ended(self.server)


@pytest.fixture
def stage(jack: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[Stage]:
    monkeypatch.setenv("JACK_DEFAULT_SERVER", f"{jack}-own")
    monkeypatch.setenv("KEYFARER_MIDI", "jack")
    made = Stage()
    try:
        made.begin()
        yield made
    finally:
        made.close()


def test_a_server_that_hangs_is_told_heard_again_when_it_goes_on_and_keeps_nobody_from_leaving(stage: Stage) -> None:
    stage.program(PIANO)
    listener = stage.program(LISTENER)
    listener.says("Stage:keys is connected.")
    listener.says("heard")
    stage.tell(signal.SIGSTOP)
    assert listener.says(JACK_HANGS) == []
    stage.tell(signal.SIGCONT)
    listener.says("Stage:keys is back.")
    listener.says("heard")
    stage.tell(signal.SIGSTOP)
    # Closing its ports as usual it would wait for the server, for good.
    assert listener.leave() == 0


def test_a_server_that_dies_is_told_and_one_started_in_its_place_is_heard(stage: Stage) -> None:
    piano = stage.program(PIANO)
    listener = stage.program(LISTENER)
    listener.says("heard")
    stage.tell(signal.SIGKILL)
    piano.kill()
    assert listener.says("JACK has ended: start it again and play on.") == []
    stage.begin()
    stage.program(PIANO)
    listener.says("Stage:keys is back.")
    listener.says("heard")
    assert listener.leave() == 0


def test_what_sounds_over_a_server_that_hangs_holds_nobody_up(stage: Stage) -> None:
    synth = stage.program(SYNTH)
    sounder = stage.program(SOUNDER)
    synth.says("struck")
    stage.tell(signal.SIGSTOP)
    sounder.says("Stage takes no sound any more; plug it in again.")
    assert sounder.leave() == 0


def test_a_server_started_in_the_place_of_one_that_died_sounds(stage: Stage) -> None:
    synth = stage.program(SYNTH)
    sounder = stage.program(SOUNDER)
    synth.says("struck")
    stage.tell(signal.SIGKILL)
    synth.kill()
    sounder.says("Stage takes no sound any more; plug it in again.")
    stage.begin()
    synth = stage.program(SYNTH)
    sounder.says("Stage sounds again.")
    synth.says("struck")
    assert sounder.leave() == 0
