"""Setting the ear and singing back."""

from __future__ import annotations

import pytest

from tests.music.tunes import tune
from trainer.listening.press import Press
from trainer.music.keys import TWENTY_FOUR, Key
from trainer.music.pitch import MusicError
from trainer.music.solfege import LA_BASED
from trainer.sounding.ear import CADENCE, CHOICES, DRONE, PENTASCALE, SungBack, set_ear


@pytest.mark.parametrize("key", TWENTY_FOUR, ids=lambda key: key.short)
def test_each_choice_ends_on_the_tonic_of_the_key(key: Key) -> None:
    for choice in CHOICES:
        notes = set_ear(choice, key).notes
        last = [note.pitch for note in notes if note.at == notes[-1].at]
        assert min(last) % 12 == key.tonic.pitch_class
        assert all(21 <= note.pitch <= 108 for note in notes)


def test_the_pentascale_is_five_notes_up_and_down_and_the_cadence_has_four_chords() -> None:
    assert [note.pitch for note in set_ear(PENTASCALE, Key.parse("D")).notes] == [62, 64, 66, 67, 69, 67, 66, 64, 62]
    assert len({note.at for note in set_ear(CADENCE, Key.parse("D")).notes}) == 4


def test_the_drone_lasts_as_long_as_asked() -> None:
    drone = set_ear(DRONE, Key.parse("g"), 28.0)
    assert drone.length == pytest.approx(28.0)
    assert {note.pitch % 12 for note in drone.notes} == {7}
    with pytest.raises(MusicError, match="choose cadence, drone, pentascale"):
        set_ear("chorale", Key.parse("C"))


def test_singing_back_asks_for_do_sol_and_the_first_three_notes() -> None:
    sung = SungBack(tune("Eb", "G4 F4 Eb4 Bb4"))
    said = []
    for pitch in (63, 70 - 12, 67, 62, 65, 75):
        said.append(sung.prompt)
        answer = sung.hear(Press(0.0, pitch))
        assert answer is not None
        assert answer.right == (pitch != 62)
    assert said[0] == "Sing do, then play it."
    assert said[1] == "Sing sol, then play it."
    assert said[2] == said[5] == "Sing the first three notes, then play on."
    assert (sung.done, sung.slips, sung.prompt) == (True, 1, "")
    assert sung.hear(Press(0.0, 60)) is None


# A key is set in the ear by its tonic and fifth; la-based minor names them la and mi: common practice, no source.
@pytest.mark.parametrize(("minor", "names"), [(LA_BASED, ["la", "mi"]), ("do", ["do", "sol"])])
def test_in_minor_the_tonic_and_its_fifth_are_asked_by_the_names_the_user_chose(minor: str, names: list[str]) -> None:
    sung = SungBack(tune("a", "C5 A4"), minor)
    for pitch, name in zip((69, 64), names, strict=True):
        assert sung.prompt == f"Sing {name}, then play it."
        answer = sung.hear(Press(0.0, pitch))
        assert answer is not None
        assert (answer.right, answer.asked) == (True, name)
    assert "first two notes" in sung.prompt
