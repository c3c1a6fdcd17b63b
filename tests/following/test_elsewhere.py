"""Takes that lie elsewhere as a whole: their slips are told as those of the same take where it was asked for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from tests.following.taking import shelf
from tests.music.tunes import tune
from trainer.commands.sliplines import lines
from trainer.following import marks as m
from trainer.following import texts
from trainer.following.findings import whole_shift
from trainer.following.follower import Follower
from trainer.following.marks import Settled
from trainer.following.story import HIT, NOTHING, Step
from trainer.following.texts import in_key
from trainer.listening.press import Press
from trainer.music.piece import Piece
from trainer.music.transpose import plan, transposed
from trainer.session import Session

WRITTEN = tune("C", "C4 E4 D4 G4 F4 A4 G4 C5 B4 G4 A4 F4 D4 E4 F4 B3 C4 D4 E4 C4 G4 E4 F4 D4")
EXPECTED = transposed(WRITTEN, plan(WRITTEN.key, "Bb").interval)
# Slips by the note they are made at, in semitones from its key in B flat.
SLIPS = {
    5: (-2, m.STEP),  # la, G, as F
    10: (2, m.AS_WRITTEN),  # la, G, as A
    13: (1, m.STEP),  # mi, D, as E flat
    15: (5, m.WRONG),
    19: (12, m.OCTAVE),
    21: (-2, m.STEP),  # mi, D, as C
}


def played(shift: Callable[[int], int]) -> tuple[list[Press], Settled]:
    """Every note, some with a slip, `shift(note)` semitones from where it was asked for."""
    presses = [
        Press(0.6 * index, note.midi + shift(index) + SLIPS.get(index, (0, ""))[0])
        for index, note in enumerate(EXPECTED.notes)
    ]
    follower = Follower(WRITTEN, EXPECTED)
    for press in presses:
        follower.hear(press)
    return presses, follower.settle()


@pytest.mark.parametrize("shift", [0, 12, -12, 3, -4])
def test_slips_in_a_take_elsewhere_are_told_by_what_was_meant_there(shift: int) -> None:
    """In another octave, and on a piano that transposes: nothing else sounds so from the first note on."""
    _, settled = played(lambda _: shift)
    assert settled.shift == shift
    told = {mark.note: mark.cause for mark in settled.marks if not settled.is_of_all(mark) and mark.cause != m.RIGHT}
    assert told == {note: cause for note, (_, cause) in SLIPS.items()}


def test_in_another_key_a_slip_is_named_in_that_key() -> None:
    """All but the first two notes, which are right, in D flat: no piano moves what is played so late."""
    presses, settled = played(lambda index: 0 if index < 2 else 3)
    assert [one.kind for one in settled.findings] == [m.OTHER_KEY]
    assert [mark.cause for mark in settled.marks[:3]] == [m.RIGHT, m.RIGHT, m.DISPLACED]
    said = [line.words for line in lines(WRITTEN, EXPECTED, presses, settled)]
    assert "la, B flat: a step too low, A flat" in said
    assert "mi, F: a step too high, G flat" in said


def test_one_key_as_asked_for_in_a_take_elsewhere_is_there_by_chance() -> None:
    """A step down in a take a tone above lands on the key asked for; two such notes in a row are right."""
    presses, _ = played(lambda _: 2)
    lone = [replace(p, pitch=EXPECTED.notes[i].midi) if i == 8 else p for i, p in enumerate(presses)]
    home = [replace(p, pitch=EXPECTED.notes[i].midi) if 7 <= i < 9 else p for i, p in enumerate(presses)]
    causes = []
    for one in (lone, home):
        follower = Follower(WRITTEN, EXPECTED)
        for press in one:
            follower.hear(press)
        causes.append([mark.cause for mark in follower.settle().marks])
    assert causes[0][8] != m.RIGHT
    assert causes[1][7:9] == [m.RIGHT] * 2


@pytest.mark.parametrize("shift", [0, 12])
def test_a_key_struck_twice_is_told_in_a_take_elsewhere_too(shift: int) -> None:
    presses, _ = played(lambda _: shift)
    presses.insert(8, Press(presses[7].at + 0.25, presses[7].pitch))
    follower = Follower(WRITTEN, EXPECTED)
    for press in presses:
        follower.hear(press)
    settled = follower.settle()
    assert settled.marks[8].cause == m.REPEATED
    assert "struck again" in [line.words for line in lines(WRITTEN, EXPECTED, presses, settled)][1]


def test_the_music_of_another_key_is_made_once_in_a_take_however_many_slips_are_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made: list[int] = []

    def counted(piece: Piece, semitones: int) -> Piece:
        made.append(semitones)
        return in_key(piece, semitones)

    monkeypatch.setattr(texts, "in_key", counted)
    piece = shelf("petzold-minuet-in-g")
    session = Session(piece, plan(piece.key, "A"))
    for at, note in enumerate(session.expected.notes):
        mark = session.hear(Press(0.5 * float(note.onset), note.midi + (4 if at % 9 == 2 or at in (1, 4) else 3)))
        assert mark is not None
        session.words(mark)
    settled = session.finish()
    assert (settled.shift, made) == (3, [3])
    assert any("C sharp" in session.words(mark) for mark in settled.marks)
    assert made == [3]


@pytest.mark.parametrize(("stray", "shift"), [(11, 3), (13, 0)])
def test_other_music_that_fits_now_and_then_lies_nowhere(stray: int, shift: int) -> None:
    """Twelve keys right at one interval, and as many or more in between that are not of the piece."""
    hits = [Step(None, 2 * at, at, HIT, 3, at, False) for at in range(12)]
    others = [Step(None, 2 * at + 1, -1, NOTHING, 0, at, False) for at in range(stray)]
    assert whole_shift(sorted([*hits, *others], key=lambda step: step.press)) == shift
