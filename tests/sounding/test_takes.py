"""A take heard again."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.music.tunes import tune
from trainer.following.marks import RIGHT, WRONG, Mark
from trainer.listening.press import Event, Pedal, Press, Release
from trainer.music.pitch import MusicError
from trainer.sounding.takes import as_meant, as_played, from_bar

TAKE: list[Event] = [
    Press(10.0, 60, 50), Release(10.4, 60), Pedal(10.45, "sustain", 127), Press(10.5, 62, 60), Release(10.6, 62),
    Press(11.0, 62, 70), Release(11.1, 62), Pedal(11.5, "sustain", 0), Press(12.0, 65, 80),
]  # fmt: skip


def test_a_take_sounds_as_it_was_played_pedal_and_all() -> None:
    notes = as_played(TAKE).notes
    assert [(note.pitch, note.velocity) for note in notes] == [(60, 50), (62, 60), (62, 70), (65, 80)]
    assert [note.at for note in notes] == pytest.approx([0.0, 0.5, 1.0, 2.0])
    assert [note.length for note in notes] == pytest.approx([0.4, 0.48, 0.5, 2.0])
    assert as_played([Pedal(1.0, "sustain", 1)]).notes == ()


def test_both_can_be_heard_from_any_bar() -> None:
    piece = tune("C", "C4 D4 E4 F4 G4 A4")
    take: list[Event] = [Press(float(n), note.midi) for n, note in enumerate(piece.notes)]
    take.insert(2, Press(1.5, 99))
    marks = [Mark(press, note, RIGHT) for press, note in ((0, 0), (1, 1), (3, 2), (4, 3), (5, 4), (6, 5))]
    marks.insert(2, Mark(2, None, WRONG))
    played = from_bar(as_played(take, piece, marks), piece, 1)
    assert [(note.at, note.pitch) for note in played.notes] == [(0.0, 67), (1.0, 69)]
    assert played.places[0] == (0.0, Fraction(4))
    meant = from_bar(as_meant(piece, pulse=60.0), piece, 1)
    assert [(note.at, note.pitch) for note in meant.notes] == [(0.0, 67), (1.0, 69)]
    with pytest.raises(MusicError, match="Bar 1 was not played"):
        from_bar(played, piece, 0)
