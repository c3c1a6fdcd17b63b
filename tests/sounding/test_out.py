"""The piano's own voice over MIDI out, received over JACK."""

from __future__ import annotations

import os
import pathlib
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from typing import cast

import pytest

from tests.music.tunes import tune
from tests.sounding.synth import Synth
from trainer.listening.clock import now
from trainer.listening.ports import Ports
from trainer.music.pitch import Interval
from trainer.music.transpose import transposed
from trainer.sounding.model import model
from trainer.sounding.out import PianoVoice
from trainer.sounding.outlet import Outlet
from trainer.sounding.player import Player
from trainer.sounding.voice import PERCUSSION, Sounded

pytestmark = pytest.mark.system
ROOT = pathlib.Path(__file__).resolve().parents[2]
HOLDER = """
import sys, time
from trainer.listening.clock import now
from trainer.sounding.out import PianoVoice
from trainer.sounding.voice import Sounded
voice = PianoVoice("Stage")
while not voice.there:
    time.sleep(0.01)
voice.note_on(60, 80)
voice.play([Sounded(0.0, 300.0, 64), Sounded(0.1, 300.0, 67, channel=3), Sounded(2.0, 300.0, 72)], now())
print("ready", flush=True)
time.sleep(300)
"""


def opened(name: str) -> PianoVoice:
    """A voice whose port is open, however slow the machine."""
    voice = PianoVoice(name)
    until = time.monotonic() + 60
    while not voice.there:
        assert time.monotonic() < until, voice.lines()
        voice.prepare(())
    return voice


def test_a_piece_goes_out_note_by_note_and_is_told_in_time(
    synth: Callable[[str], Synth], monkeypatch: pytest.MonkeyPatch
) -> None:
    """When each note is due is told with it; how late it then comes, a busy machine has its say in."""
    heard = synth("Stage")
    piece = transposed(tune("C", "C4 E4 G4 E4 C4 D4 E4 F4 G4 G4 C4 C4"), Interval.parse("-m3"))
    schedule = model(piece, tempo=480)
    voice = opened("stage")
    hand, told = voice._handed, list[str]()

    def noted(line: str) -> bool:
        told.extend(line.splitlines())
        return hand(line)

    monkeypatch.setattr(voice, "_handed", noted)
    ended: list[bool] = []
    places: list[object] = []
    Player(voice).play(schedule, places.append, lambda: ended.append(True))
    heard.wait(lambda: bool(ended) and len(heard.got) >= 2 * len(piece.notes))
    assert [pitch for _, pitch in heard.struck()] == [note.midi for note in piece.notes]
    assert places == [moment.onset for moment in piece.moments]
    timed = [line.split() for line in told if line.startswith("at ")]
    due = [float(when) for _, when, message in timed if message.startswith("90")]
    assert [(at - due[0]) / 0.125 for at in due] == pytest.approx([float(note.onset) for note in piece.notes], abs=1e-4)
    voice.close()
    voice._keeper.wait(60)
    heard.wait(lambda: (0xB0, 123, 0) in [message for _, message in heard.got])
    # Only note-ons, note-offs, and at the very end the sustain pedal up and all notes off: no program change.
    assert {message[0] & 0xF0 for _, message in heard.got} == {0x80, 0x90, 0xB0}
    assert {message[1:] for _, message in heard.got if message[0] == 0xB0} == {(64, 0), (123, 0)}
    assert heard.sounding == set()


def test_cancel_lets_go_of_the_schedule_and_keeps_live_notes(synth: Callable[[str], Synth]) -> None:
    heard = synth("Stage")
    voice = opened("Stage")
    voice.note_on(48, 70)
    voice.play([Sounded(0.0, 60.0, 60), Sounded(30.0, 1.0, 61), Sounded(0.0, 9.0, 76, 90, PERCUSSION)], now())
    heard.wait(lambda: heard.sounding == {48, 60})
    voice.cancel()
    heard.wait(lambda: heard.sounding == {48})
    voice.panic()
    heard.wait(lambda: heard.sounding == set())
    voice.close()
    assert 61 not in [pitch for _, pitch in heard.struck()]


@pytest.mark.parametrize("how", ["SIGKILL", "SIGTERM", "SIGINT"])
def test_no_note_hangs_after_the_program_is_killed(how: str, synth: Callable[[str], Synth]) -> None:
    heard = synth("Stage")
    program = subprocess.Popen(
        [sys.executable, "-c", HOLDER],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        cwd=ROOT,
        start_new_session=True,
    )
    try:
        heard.wait(lambda: {60, 64, 67} <= heard.sounding)
        # The whole group, as a terminal that is closed does it.
        os.killpg(program.pid, getattr(signal, how))
        heard.wait(lambda: heard.sounding == set())
        program.wait(timeout=60)
        heard.wait(lambda: (0xB3, 123, 0) in [message for _, message in heard.got])
    finally:
        program.kill()
        program.wait()


def test_no_note_hangs_though_another_program_inherited_the_pipe(synth: Callable[[str], Synth]) -> None:
    heard = synth("Stage")
    holder = HOLDER.replace('print("ready"', 'import os; os.fork(); print("ready"')
    program = subprocess.Popen(
        [sys.executable, "-c", holder],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        cwd=ROOT,
        start_new_session=True,
    )
    try:
        assert program.stdout is not None
        assert program.stdout.read(12).count(b"ready") == 2
        heard.wait(lambda: heard.sounding == {60, 64, 67, 72})
        program.kill()
        heard.wait(lambda: heard.sounding == set())
    finally:
        os.killpg(program.pid, signal.SIGKILL)
        program.wait()


def struck(voice: PianoVoice, key: int) -> bool:
    """A key struck again each time one looks: what is lost while the port is made anew sounds the next time."""
    voice.note_on(key, 80)
    return True


def test_a_keeper_that_ends_is_replaced(synth: Callable[[str], Synth]) -> None:
    heard = synth("Stage")
    voice = opened("Stage")
    voice._tell("end")
    voice._keeper.wait(timeout=60)
    heard.wait(lambda: struck(voice, 62) and heard.sounding == {62})
    voice.close()
    heard.wait(lambda: heard.sounding == set())


class Slot:
    """A port that keeps what it is sent, and the list that holds it."""

    def __init__(self) -> None:
        self.sent: list[tuple[int, ...]] = []

    def outputs(self) -> list[str]:
        return ["Stage"]

    def alive(self) -> bool:
        return True

    def linked(self, name: str) -> bool:
        return True

    def open_output(self, name: str) -> Slot:
        return self

    def send(self, data: Sequence[int]) -> None:
        self.sent.append(tuple(data))

    def close(self) -> None:
        self.sent.append(())


def test_a_port_that_opens_but_is_not_joined_is_opened_anew() -> None:
    opened: list[str] = []

    class Loose(Slot):
        def linked(self, name: str) -> bool:
            return len(opened) > 1

        def open_output(self, name: str) -> Slot:
            opened.append(name)
            return self

    slot = Loose()
    outlet = Outlet("Stage", cast(Ports, slot))
    thread = threading.Thread(target=outlet.run)
    thread.start()
    until = time.monotonic() + 60
    while len(slot.sent) < 3 and time.monotonic() < until:
        outlet.obey("now 903c50")
        time.sleep(0.005)
    outlet.end()
    thread.join()
    # Closed as it was, nothing was sent into it; joined, it is let go of what was told before, and plays.
    assert slot.sent[:2] == [(), (0x80, 60, 64)]
    assert slot.sent[-2:] == [(0xB0, 123, 0), ()]
    assert opened == ["Stage", "Stage"]


def outlet_open() -> tuple[Slot, Outlet, threading.Thread]:
    """What is sent, an outlet whose port is open, and the thread it runs in."""
    slot = Slot()
    outlet = Outlet("Stage", cast(Ports, slot))
    thread = threading.Thread(target=outlet.run)
    thread.start()
    until = time.monotonic() + 60
    while outlet._said != "open" and time.monotonic() < until:
        time.sleep(0.005)
    return slot, outlet, thread


@pytest.mark.parametrize(("lines", "sent"), [
    # Of two schedules, the second beginning before the first has ended, as for who plays ahead of the other hand.
    (("at 0.2 803040", "at 0.0 90303a", "at 0.3 803040", "at 0.1 90303a"), "on off on off"),
    # A key of the schedule that the player holds: the schedule ends, the key does not.
    (("at 0.1 803040", "at 0.0 90303a", "now 903050", "now 803040"), "on off on off"),
    (("now 903050", "at 0.1 803040", "at 0.0 90303a"), "on off on"),
])  # fmt: skip
def test_a_key_struck_while_it_sounds_is_let_go_first_and_sounds_to_its_own_end(
    lines: tuple[str, ...], sent: str
) -> None:
    slot, outlet, thread = outlet_open()
    del slot.sent[:]
    outlet.obey(f"clock {now():.6f}")
    for line in lines:
        word, _, rest = line.partition(" ")
        at, _, data = rest.partition(" ")
        outlet.obey(f"at {now() + float(at):.6f} {data}" if word == "at" else line)
    until = time.monotonic() + 60
    while outlet._due and time.monotonic() < until:
        time.sleep(0.005)
    strokes = " ".join("on" if one[0] == 0x90 else "off" for one in slot.sent)
    outlet.end()
    thread.join()
    assert strokes == sent


def test_after_a_sleep_what_was_due_meanwhile_is_not_struck_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    # A busy machine may be late, too.
    monkeypatch.setattr("trainer.sounding.outlet.MISSED_S", 60.0)
    slot, outlet, thread = outlet_open()
    # The clock of a system that counts its sleep has gone on: what it slept through, and what follows.
    moment = now()
    outlet.obey(f"clock {moment:.6f}")
    for pitch, at in enumerate((-500.0, -300.0, -100.0, 0.0, 0.1), start=60):
        outlet.obey(f"at {moment + at + 0.1:.6f} {bytes((0x80, pitch, 64)).hex()}")
        outlet.obey(f"at {moment + at:.6f} {bytes((0x90, pitch, 64)).hex()}")
    until = time.monotonic() + 60
    while outlet._due and time.monotonic() < until:
        time.sleep(0.005)
    outlet.end()
    thread.join()
    assert [message[1] for message in slot.sent if message[:1] == (0x90,)] == [63, 64]


def test_a_keeper_in_the_place_of_one_that_died_lets_go_of_every_key() -> None:
    slot = Slot()
    outlet = Outlet("Stage", cast(Ports, slot), after_another=True)
    thread = threading.Thread(target=outlet.run)
    thread.start()
    until = time.monotonic() + 60
    while len(slot.sent) < 88 and time.monotonic() < until:
        time.sleep(0.005)
    outlet.end()
    thread.join()
    assert slot.sent[:88] == [(0x80, pitch, 64) for pitch in range(21, 109)]
    assert slot.sent[-1] == ()


def test_a_piano_switched_off_and_on_again_sounds_again(synth: Callable[[str], Synth]) -> None:
    heard = synth("Stage")
    voice = opened("Stage")
    lines: list[str] = []

    def said(line: str) -> bool:
        lines.extend(voice.lines())
        return line in lines

    heard.close()
    heard.wait(lambda: said("Stage takes no sound any more; plug it in again."))
    assert not voice.there
    again = synth("Stage")
    again.wait(lambda: said("Stage sounds again."))
    again.wait(lambda: struck(voice, 62) and again.sounding == {62})
    voice.close()


def test_a_port_that_is_not_there_is_one_quiet_line(jack: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KEYFARER_MIDI", "jack")
    voice = PianoVoice("Nowhere")
    voice.prepare(())
    voice.note_on(60, 60)
    lines: list[str] = []
    until = time.monotonic() + 60
    while not lines and time.monotonic() < until:
        lines += voice.lines()
        time.sleep(0.005)
    # Asked for once more it is not told once more.
    voice.note_on(62, 60)
    voice.prepare(())
    voice.close()
    lines += voice.lines()
    assert len(lines) == 1
    assert lines[0].startswith("There is no MIDI output named like 'Nowhere'")
