"""The keeper of a MIDI output as a program: how it ends, and what is left of one that died."""

from __future__ import annotations

import pytest

from trainer.sounding.out import PianoVoice


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
    assert voice._keeper.returncode == 0


def test_the_pipe_of_one_that_died_is_closed_and_another_takes_its_place(voice: PianoVoice) -> None:
    """What is left in a broken pipe would complain when it is collected, from Python 3.13 on."""
    died, pipe = voice._keeper.pid, voice._stdin
    voice._keeper.kill()
    voice._keeper.wait()
    voice.note_on(60, 80)
    assert pipe.closed
    assert voice._keeper.pid != died
    voice.close()
    assert voice._keeper.returncode == 0
