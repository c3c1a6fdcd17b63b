"""What is heard, against standards and independent references.

Sources: ISO 16:1975 (A4 = 440 Hz); equal temperament, each semitone the twelfth root of 2, with music21's
`Pitch.frequency` as an independent reckoning; *General MIDI System Level 1*, RP-003 (1991), percussion key map;
*MIDI 1.0 Detailed Specification*, MIDI clock of 24 ticks a quarter; music21's reading of the same MusicXML file as an
independent reading of the notes.
"""

from __future__ import annotations

import math
import pathlib
import statistics
import time
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from tests.sounding.rendered import frequency, onsets, samples, wait_for
from trainer.listening.clock import now
from trainer.sounding.click import click
from trainer.sounding.model import model
from trainer.sounding.out import PianoVoice
from trainer.sounding.player import Player
from trainer.sounding.samples import RATE, tone
from trainer.sounding.tone import ToneVoice
from trainer.sounding.voice import HIGH_BLOCK, LOW_BLOCK, PERCUSSION, Sounded

ROOT = pathlib.Path(__file__).resolve().parents[2]
CENTS = 2.0
# The strongest of the low partials is measured: the fundamental of the lowest strings is weak, as on a piano.
HEARD = (33, 60, 69, 90)


def cents(one: float, other: float) -> float:
    return 1200 * math.log2(one / other)


def reference(pitch: int) -> float:
    from music21.pitch import Pitch

    return float(Pitch(midi=pitch).frequency)


def test_the_pitch_of_every_fifth_key_is_equal_temperament_at_440() -> None:
    assert reference(69) == pytest.approx(440.0)
    for pitch in range(21, 109, 5):
        assert abs(cents(frequency(tone(pitch, 1.5), reference(pitch)), reference(pitch))) <= CENTS, pitch


def test_the_rendered_tone_is_in_tune_and_on_time(disk: pathlib.Path) -> None:
    step = 0.7
    notes = [Sounded(number * step, 0.5, pitch, 90) for number, pitch in enumerate(HEARD)]
    voice = ToneVoice()
    voice.prepare(notes)
    # Soon enough for a test, and time enough for a busy machine: notes whose time has passed are not played.
    voice.play(notes, now() + 1.0)
    wait_for(disk, len(HEARD) * step + 2.5)
    voice.close()
    wave = samples(disk)
    begun = onsets(wave, quiet=0.003, gap_s=0.04)
    assert len(begun) == len(HEARD)
    # A low string passes the threshold some tenths of a millisecond later than a high one.
    assert np.abs(np.diff(begun) - step).max() < 0.002
    for pitch, at in zip(HEARD, begun, strict=True):
        part = wave[int((at + 0.02) * RATE) : int((at + 0.48) * RATE)]
        assert abs(cents(frequency(part, reference(pitch)), reference(pitch))) <= CENTS, pitch


def test_the_click_s_keys_are_the_wood_blocks_of_general_midi() -> None:
    # RP-003, percussion key map on channel 10 (9 counted from 0): 76 High Wood Block, 77 Low Wood Block.
    assert (PERCUSSION, HIGH_BLOCK, LOW_BLOCK) == (9, 76, 77)


def test_a_metronome_mark_is_beats_a_minute() -> None:
    # M.M. quarter = 60 is one a second, 120 two (common practice, no source).
    from trainer.scores.reading import read

    piece = read(ROOT / "exercises/pentachord/ode-to-joy.musicxml")
    for mark in (60.0, 92.0, 120.0):
        beats = click(piece, tempo=mark).beats
        assert all(b.at - a.at == pytest.approx(60.0 / mark) for a, b in pairwise(beats))


@pytest.mark.system
def test_a_piece_sounds_note_by_note_and_tick_by_tick(synth: Callable[[str], Any]) -> None:
    from music21 import converter

    from trainer.scores.reading import read

    path = ROOT / "exercises/trichord/three-bells.musicxml"
    score = converter.parse(path).stripTies()
    written = sorted(
        (float(note.getOffsetInHierarchy(score)), pitch.midi)
        for note in score.recurse().notes
        for pitch in note.pitches
    )
    tempo = 180.0
    tick = 60.0 / tempo / 24
    heard = synth("Stage")
    voice = PianoVoice("Stage")
    until = time.monotonic() + 60
    while not voice.there and time.monotonic() < until:
        voice.prepare(())
    player, schedule = Player(voice), model(read(path), tempo=tempo)

    def played() -> bool:
        """Whether it came as written: in order to the nearest sixteenth, most notes to one tick of the MIDI clock."""
        before = len(heard.struck())
        ended: list[bool] = []
        player.play(schedule, None, lambda: ended.append(True))
        heard.wait(lambda: bool(ended) and len(heard.struck()) >= before + len(written))
        struck = heard.struck()[before:]
        ticks = [((at - struck[0][0]) / tick, pitch) for at, pitch in struck]
        order = sorted((round(at / 6) / 4 + written[0][0], pitch) for at, pitch in ticks)
        return order == written and statistics.median(abs(at - 6 * round(at / 6)) for at, _ in ticks) <= 1.0

    # One of some times: a busy machine may hold the server up.
    assert any(played() for _ in range(6))
    voice.close()
