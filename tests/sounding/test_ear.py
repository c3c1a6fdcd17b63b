"""Setting the ear and singing back."""

from __future__ import annotations

import pytest

from tests.music.tunes import tune
from trainer.listening.press import Press
from trainer.music.keys import TWENTY_FOUR, Key
from trainer.music.pitch import MusicError
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


def test_do_of_a_minor_key_is_the_user_s_choice() -> None:
    piece = tune("a", "A4 C5")
    assert SungBack(piece).hear(Press(0, 60)).right  # type: ignore[union-attr]
    assert SungBack(piece, "do").hear(Press(0, 69)).right  # type: ignore[union-attr]
    assert SungBack(piece, "do").hear(Press(0, 60)).asked == "do"  # type: ignore[union-attr]
