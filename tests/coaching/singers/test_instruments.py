"""Written and sounding: never confused, there and back."""

from __future__ import annotations

import pytest

from tests.music.tunes import tune
from trainer.coaching.singers.instruments import (
    INSTRUMENTS,
    Concert,
    Instrument,
    Written,
    concert,
    instrument,
    part_for,
    playing_from,
    writing_for,
)
from trainer.music.keys import TWENTY_FOUR, Key
from trainer.music.pitch import MusicError, SpelledPitch


@pytest.mark.parametrize(
    ("name", "written", "sounding"),
    [
        ("clarinet in B flat", "Bb", "Ab"), ("trumpet in B flat", "C", "Bb"), ("clarinet in A", "F", "D"),
        ("horn in F", "C", "F"), ("alto saxophone", "C", "Eb"), ("tenor sax", "D", "C"), ("English horn", "G", "C"),
        ("alto flute", "C", "G"), ("piccolo", "D", "D"), ("double bass", "e", "e"), ("Eb clarinet", "a", "c"),
        ("capo 1", "G", "Ab"), ("capo 2", "G", "A"), ("capo 3", "G", "Bb"), ("capo 5", "a", "d"), ("capo 7", "C", "G"),
    ],
)  # fmt: skip
def test_the_key_to_play_from_a_part(name: str, written: str, sounding: str) -> None:
    player = instrument(name)
    assert concert(Written(Key.parse(written), player)) == Concert(Key.parse(sounding))
    assert playing_from(Written(Key.parse(written), player)).target == Key.parse(sounding)


@pytest.mark.parametrize(
    "words",
    [
        "flute: sounds as written",
        "clarinet in B flat: sounds a major second lower than written",
        "horn in F: sounds a perfect fifth lower than written",
        "piccolo: sounds an octave higher than written",
        "double bass: sounds an octave lower than written",
        "clarinet in E flat: sounds a minor third higher than written",
    ],
)
def test_how_an_instrument_sounds_is_said(words: str) -> None:
    assert instrument(words.partition(":")[0]).words == words


@pytest.mark.parametrize("player", INSTRUMENTS, ids=lambda p: p.name)
def test_there_and_back_for_every_instrument(player: Instrument) -> None:
    middle = Concert(SpelledPitch.parse("C4"))
    assert concert(part_for(middle, player)) == middle
    for key in TWENTY_FOUR:
        there = writing_for(Concert(key), player)
        assert abs(there.target.signature) <= 6
        back = playing_from(Written(there.target, player))
        assert back.target.tonic.pitch_class == key.tonic.pitch_class
        assert back.interval.semitones + there.interval.semitones == 0


def test_a_whole_part_sounds_note_for_note() -> None:
    part = Written(tune("Bb", "Bb4 D5 F5"), instrument("Bb clarinet"))
    assert [note.pitch.name for note in concert(part).value.notes] == ["Ab4", "C5", "Eb5"]


def test_written_and_concert_are_different_values() -> None:
    player = instrument("flute")
    assert Written(Key.parse("C"), player) != Concert(Key.parse("C"))


@pytest.mark.parametrize(
    ("said", "name"),
    [("B♭ clarinet", "clarinet in B flat"), ("cor anglais", "English horn"), ("F horn", "horn in F"),
     ("alto sax", "alto saxophone in E flat"), ("clarinet in Bb", "clarinet in B flat"), ("HORN", "horn in F"),
     ("clarinet Bb", "clarinet in B flat"), ("horn F", "horn in F"), ("bb-clarinet", "clarinet in B flat"),
     ("B-flat clarinet", "clarinet in B flat"), ("alto-sax Eb", "alto saxophone in E flat"),
     ("capo 3", "guitar with capo 3"), ("guitar, capo 3", "guitar with capo 3"),
     ("guitar capo 2", "guitar with capo 2")],
)  # fmt: skip
def test_names_as_people_say_them(said: str, name: str) -> None:
    assert instrument(said).name == name


def test_an_unknown_instrument_is_refused_with_near_ones() -> None:
    with pytest.raises(MusicError, match="clarinet in A"):
        instrument("clarinet in H")
    with pytest.raises(MusicError, match="try sopranino saxophone in E flat, soprano saxophone"):
        instrument("Eb sax")
    with pytest.raises(MusicError, match="try"):
        instrument("")
    assert len({row.name for row in INSTRUMENTS}) == len(INSTRUMENTS)
