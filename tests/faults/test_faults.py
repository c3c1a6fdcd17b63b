"""A little of what ``tools/faults.py`` does in full, the same every time."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tools.fault import (
    clocks,
    disk,
    fuzz,
    grammar,
    inputs,
    kill,
    long,
    midi,
    mutate,
    offline,
    privacy,
    seeds,
    stopping,
    streams,
    upgrade,
)
from tools.fault.table import Row
from trainer.journal import files

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="kills, small disks and /proc as on Linux")


def _all_borne(*rows: Row) -> None:
    assert rows
    for row in rows:
        assert row.tried > 0, row.what
        assert row.failed == 0, (row.what, row.examples)


def test_killed_while_playing_and_in_the_window() -> None:
    rows = kill.run(4, 3, True)
    assert [row.what for row in rows] == [kill.WORDS[what] for what in kill.PLAYED]
    _all_borne(*rows)


def test_another_copy_and_damage(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "BUSY_S", 0.05)
    _all_borne(disk._locked(), *disk._wounds(5, 4), disk._restored())


@pytest.mark.skipif(os.name != "posix" or os.geteuid() != 0, reason="a small disk is mounted by root only")
def test_a_full_disk() -> None:
    row = disk._full(1)
    if not row.tried:
        pytest.skip(row.figures)
    _all_borne(row)


def test_streams_of_bytes_and_odd_names() -> None:
    dice = random.Random(6)
    _all_borne(streams.known(dice, 4000), streams.noise(dice, 4000), streams.names())


@pytest.mark.system
def test_forty_fingers_and_a_loose_cable_over_real_ports(jack: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KEYFARER_MIDI", "jack")
    _all_borne(midi._fingers(), midi._vanishing(3))


def test_mutated_files_and_traps() -> None:
    _all_borne(*(row for row in inputs.run(7, 40, True) if row.tried))


def test_files_made_up_by_rule(tmp_path: Path) -> None:
    reader = inputs.Reader(tmp_path)
    kinds = st.sampled_from(fuzz.KINDS)
    seen: set[str] = set()

    @settings(max_examples=40, database=None)
    @given(kinds.flatmap(lambda kind: st.tuples(st.just(kind), grammar.files(kind))))
    def every(made: tuple[str, bytes]) -> None:
        answer = reader.read(*made)
        assert not answer.bad, answer
        seen.add(answer.kind)

    try:
        every()
    finally:
        reader.close()
    assert seen == set(fuzz.KINDS)
    assert not reader.left_behind()


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_a_run_that_is_stopped_leaves_no_process_and_no_folder(how: signal.Signals, tmp_path: Path) -> None:
    words = [sys.executable, "tools/faults.py", "fuzz", "--count", "1000000"]
    environment = {**os.environ, "TMPDIR": str(tmp_path)}
    running = subprocess.Popen(words, cwd=fuzz.ROOT, env=environment, stderr=subprocess.PIPE, text=True)
    try:
        until = time.monotonic() + 60
        while len([place for place in tmp_path.glob("*/*/tried") if place.stat().st_size]) < inputs.WORKERS:
            assert running.poll() is None
            assert time.monotonic() < until
            time.sleep(0.02)
        begun = stopping.descendants(running.pid)
        assert len(begun) >= inputs.WORKERS
        running.send_signal(how)
        _, said = running.communicate(timeout=60)
    finally:
        running.kill()
    assert (running.returncode, said.count("\n")) == (130, 1), said
    # One that is over stays in the list until somebody asks for it.
    assert not set(begun) & set(stopping.descendants(1))
    assert list(tmp_path.iterdir()) == []


def test_the_same_seed_makes_the_same_files() -> None:
    def made(seed: int) -> list[bytes]:
        dice = random.Random(seed)
        return [mutate.mutated(seeds.of_kind(kind)[0], kind, dice) for kind in (seeds.MUSICXML, seeds.MIDI, seeds.ABC)]

    assert made(8) == made(8) != made(9)


def test_clocks() -> None:
    _all_borne(clocks._source(), clocks._jumps(1, 2), clocks._zones(), clocks._asleep(1, 100))


def test_earlier_and_newer_journals() -> None:
    _all_borne(*upgrade.run(1, 2, True))


def test_a_little_practice_leaks_no_handle() -> None:
    _all_borne(*long.run(2, 1, True))


@pytest.mark.skipif(not offline.can(), reason="the kernel denies sockets on Linux only")
def test_no_command_asks_for_the_internet() -> None:
    _all_borne(privacy._commands())


@pytest.mark.system
@pytest.mark.skipif(not offline.can(), reason="the kernel denies sockets on Linux only")
def test_the_window_asks_for_no_internet(jack: str, display: str) -> None:
    _all_borne(privacy._window())


def test_nobody_else_reads_it_and_what_is_erased_is_gone() -> None:
    _all_borne(privacy._modes(), privacy._erased(1), privacy._told())
