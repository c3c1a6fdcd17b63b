"""How exactly things sound and are heard: click, notes to a piano, a press to the mixer, a press to an event.

    python tools/bench.py sound [--count 60]

The tone is measured in the file SDL's disk driver writes, MIDI over a JACK server of its own (left out where jackd is
missing). Printed: milliseconds as mean, standard deviation, and percentiles.
"""

from __future__ import annotations

import argparse
import os
import pathlib
import shutil
import statistics
import tempfile
import time
from collections.abc import Sequence
from typing import Any

from tools.servers import ended, jack_name, jack_started
from trainer.listening.clock import now
from trainer.sounding.voice import LOW_BLOCK, PERCUSSION, Sounded

STEP_S = 0.125


def run(argv: Sequence[str]) -> int:
    parser = argparse.ArgumentParser(prog="bench.py sound", description=__doc__)
    parser.add_argument("--count", type=int, default=60, help="clicks, notes and presses measured")
    count = parser.parse_args(argv).count
    with tempfile.TemporaryDirectory() as folder:
        os.environ["KEYFARER_HOME"] = folder
        _tone(pathlib.Path(folder) / "heard.raw", count)
    if shutil.which("jackd"):
        _jack(count)
    else:
        print("MIDI is left out: jackd is not installed.")
    return 0


def _say(what: str, seconds: Sequence[float]) -> None:
    ms = sorted(1000 * value for value in seconds)
    at = [ms[min(len(ms) - 1, int(len(ms) * part))] for part in (0.5, 0.95, 0.99)]
    print(f"{what:<46} mean {statistics.mean(ms):6.2f}  sd {statistics.pstdev(ms):5.2f}  "
          f"p50 {at[0]:6.2f}  p95 {at[1]:6.2f}  p99 {at[2]:6.2f} ms")  # fmt: skip


def _tone(path: pathlib.Path, count: int) -> None:
    import numpy as np

    os.environ["SDL_AUDIODRIVER"], os.environ["SDL_DISKAUDIOFILE"] = "disk", str(path)
    from trainer.sounding.samples import RATE
    from trainer.sounding.tone import ToneVoice

    def heard() -> Any:
        return np.abs(np.fromfile(path, dtype=np.int16))

    clicks = [Sounded(number * STEP_S, 0.03, LOW_BLOCK, 100, PERCUSSION) for number in range(count)]
    voice = ToneVoice()
    voice.prepare([*clicks, Sounded(0, 1, 60)])
    voice.play(clicks, now() + 0.1)
    while path.stat().st_size < 2 * RATE * (count * STEP_S + 0.5):
        time.sleep(0.05)
    loud = np.flatnonzero(heard() > 60)
    begun = loud[np.concatenate([[True], np.diff(loud) > RATE * STEP_S / 2])] / RATE
    _say("click, its distance from the beat", begun - begun[0] - np.arange(len(begun)) * STEP_S)
    late = []
    for _ in range(count):
        # The file grows by pages; at the moment it does its size is where the mixer stands.
        before = path.stat().st_size
        while (stands := path.stat().st_size) == before:
            pass
        voice.note_on(60, 100)
        time.sleep(0.05)
        voice.note_off(60)
        time.sleep(0.2)
        late.append(int(np.flatnonzero(heard()[stands // 2 :] > 3)[0]) / RATE)
    voice.close()
    _say("press of a silent controller to the mixer", late)


def _jack(count: int) -> None:
    name = jack_name()
    os.environ.update(JACK_DEFAULT_SERVER=name, KEYFARER_MIDI="jack")
    server = jack_started(name)
    try:
        _out(count)
        _in(count)
    finally:
        ended(server)


def _out(count: int) -> None:
    from tools.instruments import SoundModule
    from trainer.sounding.out import PianoVoice

    got: list[tuple[float, int]] = []
    module = SoundModule("Bench", lambda at, message: got.append((at, message[0])))
    voice = PianoVoice("Bench")
    voice.prepare(())
    start = now() + 0.2
    voice.play([Sounded(number * STEP_S, STEP_S / 2, 60 + number % 12) for number in range(count)], start)
    time.sleep(count * STEP_S + 0.5)
    struck = [at for at, status in got if status & 0xF0 == 0x90]
    _say("note over MIDI out, its lateness on arrival", [at - start - n * STEP_S for n, at in enumerate(struck)])
    voice.close()
    module.close()


def _in(count: int) -> None:
    from tools.instruments import VirtualPiano
    from trainer.listening.ports import Ports

    keys = VirtualPiano("Bench")
    ports = Ports()
    ports.watch(at_once=True)
    time.sleep(0.3)
    late, stamped = [], []
    for number in range(count):
        began = now()
        keys.press(30 + number % 60)
        event = ports.events.get(timeout=5)
        late.append(now() - began)
        stamped.append(event.at - began)
        keys.release(30 + number % 60)
        ports.events.get(timeout=5)
        time.sleep(0.02)
    _say("press to an event in the queue, over JACK", late)
    _say("its time stamp, late by", stamped)
    ports.close()
    keys.close()
