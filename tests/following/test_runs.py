"""What tells of a hand displaced: takes made by hand of a tune over chords, asked for in E flat."""

from __future__ import annotations

import pytest

from tests.following.test_hindsight import CHORDS, TUNE, Player, piece
from trainer.following import marks as m
from trainer.music.piece import BOTH, LEFT, RIGHT


def told(astray: dict[int, tuple[str, int]]) -> tuple[list[str], list[str]]:
    """The causes of the keys struck astray, then those of the others; `astray`: at some beats which hand, how far."""
    player = Player(piece(TUNE, CHORDS), "Eb")
    notes = player.expected.notes
    moved: list[bool] = []
    for beat in range(len(TUNE)):
        hand, away = astray.get(beat, (RIGHT, 0))
        here = player.expected.moments[beat].notes
        gone = [bool(away) and hand in (BOTH, notes[note].hand) for note in here]
        player.strike(*(notes[note].midi + away * lies for note, lies in zip(here, gone, strict=True)))
        moved += gone
    causes = [mark.cause for mark in player.settled().marks]
    pairs = list(zip(causes, moved, strict=True))
    return [cause for cause, gone in pairs if gone], [cause for cause, gone in pairs if not gone]


@pytest.mark.parametrize("away", [6, 7, 8])
def test_two_keys_as_far_off_that_nothing_else_explains_are_a_hand_displaced(away: int) -> None:
    """A tritone, a fifth, a minor sixth too high: neither a step nor a sign, an octave or the page leads there."""
    assert told({6: (LEFT, away)}) == ([m.DISPLACED] * 2, [m.RIGHT] * 46)


@pytest.mark.parametrize(("away", "causes"), [(2, {m.STEP}), (-3, {m.AS_WRITTEN}), (12, {m.OCTAVE})])
def test_two_keys_as_far_off_that_something_else_explains_are_that(away: int, causes: set[str]) -> None:
    astray, others = told({6: (LEFT, away)})
    assert (set(astray), set(others)) == (causes, {m.RIGHT})


def test_one_letter_amiss_by_a_semitone_twice_is_no_hand_displaced() -> None:
    """F struck as F sharp, a sign neither key has."""
    player = Player(piece("C4 E4 G4 E4 D4 D4 E4 G4 C5 G4 E4 D4 C4 E4 G4 C5".split(), []), "Eb")
    for beat in range(16):
        player.strike(player.keys(beat)[0] + (beat in (4, 5)))
    causes = [mark.cause for mark in player.settled().marks]
    assert causes == [m.RIGHT] * 4 + [m.WRONG] * 2 + [m.RIGHT] * 10


def test_one_key_far_off_is_another_key() -> None:
    assert told({6: (RIGHT, 6)}) == ([m.WRONG], [m.RIGHT] * 47)


def test_tries_for_one_note_are_no_run() -> None:
    """The same key a tritone too high, three times, before the right one is found."""
    player = Player(piece(TUNE, []), "Eb")
    player.beats(0, 5)
    for _ in range(3):
        player.strike(player.keys(5)[0] + 6, wait=0.5)
    player.beats(5, 16)
    causes = [mark.cause for mark in player.settled().marks]
    assert causes == [m.RIGHT] * 5 + [m.WRONG] * 3 + [m.RIGHT] * 11


def test_what_the_other_hand_strikes_as_far_off_right_before_or_after_a_run_belongs_to_it() -> None:
    """Two keys of the left hand a tone high would each be a step; the right hand had lain as far off."""
    alone, _ = told(dict.fromkeys(range(6, 11), (RIGHT, 2)))
    assert alone == [m.DISPLACED] * 5
    together, others = told({**dict.fromkeys(range(6, 11), (RIGHT, 2)), 11: (LEFT, 2)})
    assert (together, set(others)) == ([m.DISPLACED] * 7, {m.RIGHT})
    first, others = told({5: (BOTH, 2), **dict.fromkeys(range(6, 10), (RIGHT, 2))})
    assert (first, set(others)) == ([m.DISPLACED] * 7, {m.RIGHT})


def test_a_run_may_last_to_the_end_of_the_take() -> None:
    astray, others = told(dict.fromkeys(range(12, 16), (RIGHT, 2)))
    assert (astray, set(others)) == ([m.DISPLACED] * 4, {m.RIGHT})
