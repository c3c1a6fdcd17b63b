"""Keys and pedals that go on: before a take, through a glimpse, and those whose release never came."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tools import staging
from trainer.listening.clock import now
from trainer.listening.press import Event, Pedal, Press, Release
from trainer.sounding.takes import as_played
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.practice import ENDED, PLAYING, Practice
from trainer.window.stand.stand import Stand


@pytest.fixture(scope="module", autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


@pytest.fixture
def house() -> House:
    return house_of((1280, 800))


def practice_of(stand: Stand) -> Practice:
    assert stand.practice is not None
    return stand.practice


def heard(house: House, *events: Event) -> None:
    for event in events:
        house.hear(event, now())


def test_a_pedal_that_is_down_when_a_take_begins_is_heard_in_it(house: House) -> None:
    stand = staging.stand_of(house, "aura-lee", "Eb")
    first, second, *_ = (note.midi for note in practice_of(stand).wish.expected.notes)
    heard(house, Pedal(0.5, "sustain", 90), Pedal(0.6, "soft", 0), Press(1.0, first), Release(1.25, first))
    assert practice_of(stand).events == [Pedal(0.0, "sustain", 90), Press(0.0, first), Release(0.25, first)]
    heard(house, Press(2.0, second), Pedal(2.5, "sustain", 0), Release(2.6, second))
    assert as_played(practice_of(stand).events).notes[0].length == pytest.approx(1.5)


def test_so_is_one_kept_down_from_the_take_before(house: House) -> None:
    stand = staging.stand_of(house, "aura-lee", "Eb")
    notes = practice_of(stand).wish.expected.notes
    heard(house, Press(1.0, notes[0].midi), Pedal(1.5, "sustain", 127))
    for note in notes[1:]:
        heard(house, Press(1.0 + float(note.onset), note.midi), Release(1.4 + float(note.onset), note.midi))
    stand.stop()
    assert practice_of(stand).phase == ENDED
    heard(house, Press(1000.0, notes[0].midi))
    assert practice_of(stand).events == [Pedal(0.0, "sustain", 127), Press(0.0, notes[0].midi)]


def test_what_is_let_go_while_the_glimpse_is_shown_is_let_go(house: House) -> None:
    stand = staging.stand_of(house, "aura-lee", "Eb")
    first = practice_of(stand).wish.expected.notes[0].midi
    heard(house, Press(1.0, first), Pedal(1.1, "sustain", 127))
    stand.glimpse(True)
    heard(house, Release(1.25, first), Pedal(1.5, "sustain", 0), Press(1.75, 100))
    stand.glimpse(False)
    assert practice_of(stand).events[2:] == [Release(0.25, first), Pedal(0.5, "sustain", 0)]
    assert len(practice_of(stand).presses) == 1


def test_a_release_that_was_lost_does_not_keep_a_take_from_ending(house: House) -> None:
    stand = staging.stand_of(house, "aura-lee", "Eb")
    for note in practice_of(stand).wish.expected.notes:
        heard(house, Press(0.35 * float(note.onset), note.midi), Release(0.35 * float(note.onset) + 0.3, note.midi))
    # An octave below the first note, brushed in the middle; its release never comes.
    stand.down.add(practice_of(stand).wish.expected.notes[0].midi - 12)
    last = practice_of(stand).last_at
    assert last is not None
    # A last chord is held as long as it sounds.
    stand.tick(last + 5.0)
    assert practice_of(stand).phase == PLAYING
    stand.tick(last + 20.0)
    assert practice_of(stand).phase == ENDED
    assert stand.down == set()
