"""The player, the echo, and opening a voice."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from fractions import Fraction

import pytest

from tests.sounding.recorded import Recorded
from trainer.listening.clock import now
from trainer.listening.press import Pedal, Press, Release
from trainer.sounding.opening import NONE, TONE, PianoElseTone, open_sound
from trainer.sounding.player import Echo, Player
from trainer.sounding.voice import PERCUSSION, Schedule, Silent, Sounded

NOTES = [Sounded(0.0, 0.05, 60), Sounded(0.1, 0.05, 62), Sounded(0.1, 0.03, 76, 90, PERCUSSION)]
PLACES = [(0.0, Fraction(0)), (0.1, Fraction(1))]


def wait(enough: Callable[[], bool]) -> None:
    until = time.monotonic() + 60
    while not enough():
        assert time.monotonic() < until
        time.sleep(0.002)


def test_places_come_in_order_and_the_end_is_told() -> None:
    voice, clicker = Recorded(), Recorded()
    player, places, ended = Player(voice, clicker), list[Fraction](), threading.Event()
    began = now()
    player.play(Schedule.of(NOTES, PLACES), places.append, ended.set)
    wait(ended.is_set)
    assert places == [0, 1]
    assert [note.pitch for note in voice.played[0][0]] == [60, 62]
    assert [note.pitch for note in clicker.played[0][0]] == [76]
    assert voice.played[0][1] >= began
    wait(lambda: not player.playing)
    assert player.place is None


def test_the_slower_voice_is_waited_for() -> None:
    voice, clicker = Recorded(), Recorded()
    clicker.lag_s = 0.5
    player = Player(voice, clicker)
    player.play(Schedule.of(NOTES, PLACES))
    wait(lambda: player.started is not None)
    assert voice.played[0][1] - clicker.played[0][1] == pytest.approx(0.5)
    assert player.started == voice.played[0][1]
    player.stop()


def test_the_first_press_stops_it() -> None:
    voice, ended = Recorded(), threading.Event()
    player = Player(voice)
    assert not player.hear(Press(0.0, 60))
    player.play(Schedule.of([Sounded(0.0, 60.0, 60)], [(0.0, Fraction(3))], 60.0), None, ended.set)
    wait(lambda: player.place == 3)
    assert not player.hear(Release(0.0, 60))
    assert player.hear(Press(0.0, 60))
    assert not player.playing
    assert "cancel" in voice.calls
    assert not ended.is_set()


def test_playing_something_else_stops_what_plays() -> None:
    voice = Recorded()
    player = Player(voice)
    for _ in range(20):
        player.play(Schedule.of([Sounded(0.0, 60.0, 60)], (), 60.0))
    wait(lambda: player.started is not None)
    player.stop()
    time.sleep(0.05)
    # Whatever was handed to the voice was cancelled after.
    assert voice.calls[-1] == "cancel"
    assert not player.playing


def test_an_echo_holds_notes_with_the_pedal() -> None:
    voice = Recorded()
    echo = Echo(voice)
    for event in (Press(0, 60, 70), Pedal(0, "sustain", 127), Release(0, 60), Press(0, 64, 50), Pedal(0, "soft", 9)):
        echo.hear(event)
    assert voice.live == [(60, 70), (64, 50)]
    assert voice.off == []
    echo.hear(Pedal(0, "sustain", 0))
    assert voice.off == [60]
    echo.hear(Release(0, 64))
    assert voice.off == [60, 64]


def test_an_echo_lets_go_of_what_was_struck_again_only_with_its_key() -> None:
    voice = Recorded()
    echo = Echo(voice)
    for event in (Press(0, 60), Pedal(0, "sustain", 127), Release(0, 60), Press(0, 60), Pedal(0, "sustain", 0)):
        echo.hear(event)
    assert voice.off == []
    echo.hear(Release(0, 60))
    assert voice.off == [60]


def test_without_a_sound_device_everything_goes_on_with_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SDL_AUDIODRIVER", "none-such")
    sound = open_sound(TONE)
    assert len(sound.lines()) == 1
    assert sound.lines() == []
    ended = threading.Event()
    sound.player.play(Schedule.of(NOTES, PLACES), None, ended.set)
    sound.echo.hear(Press(0.0, 60))
    wait(ended.is_set)
    sound.close()


def test_silence_can_be_chosen() -> None:
    sound = open_sound(NONE)
    assert isinstance(sound.voice, Silent)
    assert sound.lines() == []
    sound.close()


def test_the_tone_stands_in_while_the_piano_is_away() -> None:
    class Away(Recorded):
        there = False

    piano, tone = Away(), Recorded()
    voice = PianoElseTone(piano, tone)  # type: ignore[arg-type]
    voice.note_on(60, 60)
    piano.there = True
    voice.note_on(62, 60)
    voice.note_off(60)
    assert (tone.live, piano.live) == ([(60, 60)], [(62, 60)])
    assert piano.off == tone.off == [60]
    voice.close()
    assert piano.calls == tone.calls == ["close"]
