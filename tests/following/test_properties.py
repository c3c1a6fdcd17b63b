"""What must never change a mark."""

from __future__ import annotations

import random
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.music.tunes import tune
from tools.learner import INTERMEDIATE, Profile, simulate
from trainer.following import marks as m
from trainer.following.follower import Follower
from trainer.following.marks import Mark, Settled
from trainer.listening.press import Press
from trainer.music.piece import Piece
from trainer.music.pitch import Interval
from trainer.music.transpose import plan, transposed

INTERVALS = ("+m2", "-M2", "+m3", "-M3", "+P4", "-P5")


def pair(seed: int) -> tuple[Piece, Piece]:
    """A wandering tune of forty notes and its transposition."""
    chance = random.Random(seed)
    letters = "C4 D4 E4 F4 G4 A4 B4 C5 D5 E5".split()
    at = 4
    notes = []
    for _ in range(40):
        at = min(max(at + chance.choice((-2, -1, 1, 1, 2)), 0), len(letters) - 1)
        notes.append(letters[at])
    written = tune("C", " ".join(notes))
    return written, transposed(written, plan(written.key, chance.choice(("+2", "-3", "+5"))).interval)


def marked(written: Piece, expected: Piece, presses: tuple[Press, ...]) -> tuple[list[Mark], Settled]:
    follower = Follower(written, expected)
    return [follower.hear(press) for press in presses], follower.settle()


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 999), seconds=st.floats(0.0, 5000.0), louder=st.integers(0, 60))
def test_later_or_louder_playing_is_marked_the_same(seed: int, seconds: float, louder: int) -> None:
    written, expected = pair(seed)
    presses = simulate(written, expected, INTERMEDIATE, seed).presses
    moved = tuple(replace(p, at=p.at + seconds, velocity=min(127, p.velocity + louder)) for p in presses)
    first, settled = marked(written, expected, presses)
    again, later = marked(written, expected, moved)
    assert first == again
    assert settled.marks == later.marks
    assert settled.missed == later.missed
    assert settled.findings == later.findings


def moved_together(seed: int, name: str, who: Profile) -> tuple[list[Mark], list[Mark], Settled, Settled]:
    """A take marked, and marked again with the page, the key to play and the playing moved by one interval."""
    written, expected = pair(seed)
    presses = simulate(written, expected, who, seed).presses
    interval = Interval.parse(name)
    moved = tuple(replace(p, pitch=p.pitch + interval.semitones) for p in presses)
    first, settled = marked(written, expected, presses)
    again, other = marked(transposed(written, interval), transposed(expected, interval), moved)
    return first, again, settled, other


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 999), name=st.sampled_from(("+P8", "-P8")))
def test_an_octave_higher_or_lower_changes_nothing(seed: int, name: str) -> None:
    first, again, settled, other = moved_together(seed, name, INTERMEDIATE)
    assert first == again
    assert settled.marks == other.marks


@settings(max_examples=12, deadline=None, derandomize=True)
@given(seed=st.integers(0, 999), name=st.sampled_from(INTERVALS))
def test_transposing_page_and_playing_together_changes_nothing_that_lies_far_from_a_sign(seed: int, name: str) -> None:
    """What a forgotten signature strikes depends on the signs of the key; what lies further off does not."""
    far = replace(INTERMEDIATE, causes=((m.OCTAVE, 1.0),), brushed=0.0, displaced=0.0, extra=0.0, fumbles=0.0)
    first, again, settled, other = moved_together(seed, name, far)
    assert [(mark.note, mark.cause) for mark in first] == [(mark.note, mark.cause) for mark in again]
    assert [(mark.note, mark.cause) for mark in settled.marks] == [(mark.note, mark.cause) for mark in other.marks]


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 999), share=st.floats(0.1, 0.9))
def test_what_comes_later_never_changes_a_first_verdict(seed: int, share: float) -> None:
    written, expected = pair(seed)
    presses = simulate(written, expected, INTERMEDIATE, seed).presses
    part = presses[: max(1, int(share * len(presses)))]
    assert marked(written, expected, presses)[0][: len(part)] == marked(written, expected, part)[0]


def test_settling_twice_and_going_on_are_allowed() -> None:
    written, expected = pair(3)
    presses = simulate(written, expected, INTERMEDIATE, 3).presses
    follower = Follower(written, expected)
    for press in presses[:20]:
        follower.hear(press)
    assert follower.settle() is follower.settle()
    for press in presses[20:]:
        follower.hear(press)
    assert follower.settle() == marked(written, expected, presses)[1]
