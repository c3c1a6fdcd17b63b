"""``keyfarer ports`` with a piano, without one, and watching."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from functools import partial
from typing import Any

import pytest

from trainer.app import main
from trainer.commands.ports import pitch_name
from trainer.listening.backends import NoBackend
from trainer.listening.jack import JACK_HANGS
from trainer.listening.ports import Ports


def test_without_ports_it_says_what_to_do(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KEYFARER_MIDI", "jack")
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "keyfarer-nobody")
    assert main(["ports"]) == 0
    said = capsys.readouterr()
    assert said.out.startswith("No MIDI port is there: connect the piano")
    assert said.out.count("\n") == 1
    assert said.err == ""


def test_what_keeps_a_driver_away_is_said_instead(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("trainer.commands.ports.Ports", partial(Ports, backend=NoBackend()))
    monkeypatch.setattr("trainer.listening.backends.hangs", lambda: True)
    assert main(["ports"]) == 0
    assert capsys.readouterr().out == f"{JACK_HANGS}\n"
    monkeypatch.setenv("KEYFARER_MIDI", "alssa")
    assert main(["ports"]) == 0
    said = capsys.readouterr().out
    assert said == "KEYFARER_MIDI=alssa names no driver: there are coremidi, windows, alsa, jack, pygame.\n"


@pytest.mark.system
def test_inputs_and_outputs_are_listed(
    piano: Callable[[str], Any], synth: Callable[[str], Any], capsys: pytest.CaptureFixture[str]
) -> None:
    piano("Grand")
    synth("Stage")
    assert main(["ports"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "MIDI through JACK"
    assert lines[lines.index("Inputs, heard by themselves:") + 1] == "  Grand:keys"
    assert lines[-1] == "  Stage:sound"


@pytest.mark.system
def test_watching_prints_the_keys_pressed(piano: Callable[[str], Any], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KEYFARER_MIDI", "jack")
    keys = piano("Grand")
    watching = subprocess.Popen(
        [sys.executable, "-m", "trainer", "ports", "--watch"], stdout=subprocess.PIPE, text=True, env=os.environ
    )
    try:
        assert watching.stdout is not None
        said = ""
        while "connected" not in said:
            said = watching.stdout.readline()
            assert said, "it ended before the piano was connected"
        # JACK joins the ports a cycle or more later; until then keys are lost.
        heard = threading.Event()

        def play() -> None:
            while not heard.wait(0.05):
                keys.press(66, 31)
                keys.release(66)

        player = threading.Thread(target=play)
        player.start()
        line = watching.stdout.readline()
        heard.set()
        player.join()
        assert line.split() == ["F♯4", "note", "66", "velocity", "31", "Grand:keys"]
        watching.send_signal(signal.SIGINT)
        assert watching.wait(timeout=60) == 0
    finally:
        watching.kill()
        watching.wait()


def test_keys_have_their_usual_names() -> None:
    assert [pitch_name(pitch) for pitch in (21, 60, 61, 70, 108)] == ["A0", "C4", "C♯4", "B♭4", "C8"]
