"""Simulated learners: floors a good way below what `tools/bench.py follow` measures, so that only a loss shows."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import pytest

from tests.music.tunes import tune
from tools.benches import bound
from tools.benches.scoring import Score, score
from tools.expert import perform
from tools.learner import CLEAN, INTERMEDIATE, LEVELS, RISES_S, Learner, Profile, Take, simulate
from trainer.following import marks as m
from trainer.following.follower import Follower
from trainer.following.marks import Settled
from trainer.music.keys import Key
from trainer.music.piece import Bar, KeyChange, Note, Piece
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import plan, transposed

MELODY = "E4 F#4 G4 A4 B4 C5 D5 E5 F#5 G5".split()
BASS = (("G2", "D3"), ("C3", "E3"), ("D3", "F#3"), ("E3", "G3"))


def duet(seed: int, bars: int = 24) -> Piece:
    """A melody in eighths over two-note chords in halves, G major."""
    chance = random.Random(seed)
    notes = []
    at = 4
    for step in range(bars * 8):
        at = min(max(at + chance.choice((-2, -1, -1, 1, 1, 2, 3)), 0), len(MELODY) - 1)
        onset = Fraction(step, 2)
        notes.append(Note(f"r{step}", SpelledPitch.parse(MELODY[at]), onset, Fraction(1, 2)))
        if step % 4 == 0:
            for number, name in enumerate(chance.choice(BASS)):
                notes.append(Note(f"l{step}.{number}", SpelledPitch.parse(name), onset, Fraction(2), "left", staff=2))
    all_bars = tuple(Bar(i + 1, Fraction(4 * i), Fraction(4)) for i in range(bars))
    return Piece("duet", (), all_bars, (KeyChange(Fraction(0), Key.parse("G")),)).with_notes(notes)


def pair(seed: int) -> tuple[Piece, Piece]:
    written = duet(seed)
    return written, transposed(written, plan(written.key, "Bb").interval)


def followed(written: Piece, expected: Piece, take: Take) -> tuple[Score, Settled]:
    follower = Follower(written, expected)
    first = [follower.hear(press) for press in take.presses]
    settled = follower.settle()
    return score(take, follower.ground, first, settled), settled


@pytest.mark.parametrize(
    ("level", "first", "final"), [("beginner", 0.8, 0.93), ("intermediate", 0.9, 0.96), ("good", 0.95, 0.98)]
)
def test_learners_are_followed(level: str, first: float, final: float) -> None:
    scores = []
    for seed in range(3):
        written, expected = pair(seed)
        scores.append(followed(written, expected, simulate(written, expected, level, seed))[0])
    assert sum(s.first for s in scores) / 3 >= first
    assert sum(s.final for s in scores) / 3 >= final
    assert sum(s.accused for s in scores) <= 0.02 * sum(s.right for s in scores)


def test_a_concert_take_has_no_moves_and_every_note() -> None:
    written, expected = pair(7)
    told, settled = followed(written, expected, perform(expected, 7))
    assert told.final >= 0.99
    assert told.first >= 0.985
    assert not [move for move in settled.moves if move.kind != m.HESITATED]


def test_clean_playing_gets_no_mark_at_all() -> None:
    written, expected = pair(11)
    _, settled = followed(written, expected, simulate(written, expected, CLEAN, 11))
    assert {mark.cause for mark in settled.marks} == {m.RIGHT}
    assert settled.missed == ()
    assert settled.moves == ()
    assert settled.findings == ()


def test_a_take_may_begin_anywhere_and_stop_half_way() -> None:
    written, expected = pair(5)
    told, settled = followed(written, expected, simulate(written, expected, replace(CLEAN, start=0.4, stop=0.7), 5))
    assert told.final >= 0.98
    low, high = int(0.4 * len(expected.notes)) - 20, int(0.7 * len(expected.notes)) + 20
    assert all(low < note < high for note in settled.missed)


@pytest.mark.parametrize("hand", ["right", "left"])
def test_one_hand_alone_is_followed_and_told(hand: str) -> None:
    written, expected = pair(2)
    told, settled = followed(written, expected, simulate(written, expected, replace(CLEAN, hands=hand), 2))
    assert told.final >= 0.98
    assert [finding.kind for finding in settled.findings] == [m.ONE_HAND]
    assert hand in settled.findings[0].words


WHOLE: list[tuple[Profile, str, str]] = [
    (replace(INTERMEDIATE, shift=12), m.OTHER_OCTAVE, "an octave higher"),
    (replace(INTERMEDIATE, shift=-12), m.OTHER_OCTAVE, "an octave lower"),
    (replace(CLEAN, shift=-3), m.OTHER_KEY, "as written, in G major"),
    (replace(CLEAN, shift=2), m.PIANO_TRANSPOSES, "transpose seems to be on (+2)"),
]


@pytest.mark.parametrize(("who", "kind", "words"), WHOLE)
def test_a_take_wholly_elsewhere_is_followed_and_named(who: Profile, kind: str, words: str) -> None:
    written, expected = pair(4)
    take = simulate(written, expected, who, 4)
    _, settled = followed(written, expected, take)
    meant = [(i, t.note) for i, t in enumerate(take.truth) if t.note is not None]
    assert sum(settled.marks[i].note == note for i, note in meant) >= 0.93 * len(meant)
    assert settled.findings[0].kind == kind
    assert words in settled.findings[0].words


def test_every_level_labels_every_press() -> None:
    written, expected = pair(0)
    for level in LEVELS:
        take = simulate(written, expected, level, 1)
        assert len(take.presses) == len(take.truth)
        assert list(take.presses) == sorted(take.presses, key=lambda p: p.at)
        for press, truth in zip(take.presses, take.truth, strict=True):
            if truth.cause in (m.RIGHT, m.REPEATED):
                assert truth.note is not None
                assert press.pitch == expected.notes[truth.note].midi
        assert take == simulate(written, expected, level, 1)


def test_no_simulated_key_is_struck_again_before_it_can_rise() -> None:
    written, expected = pair(5)
    for seed in range(6):
        take = simulate(written, expected, "beginner", seed)
        last: dict[int, float] = {}
        for press in take.presses:
            assert press.at - last.get(press.pitch, -1.0) >= RISES_S - 0.001
            last[press.pitch] = press.at


def test_a_twin_goes_on_from_where_the_learner_is_and_leaves_the_learner_alone() -> None:
    written, expected = pair(4)
    learner = Learner(written, expected, CLEAN, random.Random(1))
    for _ in range(10):
        learner.go_on()
    twin = learner.twin(random.Random(2))
    while twin.playing_on:
        twin.go_on()
    assert expected.moment_of[learner.struck[-1].note or 0] == 9
    assert expected.moment_of[twin.struck[0].note or 0] == 10
    assert learner.struck[-1].at < twin.struck[0].at
    assert twin.struck[-1].note == len(expected.notes) - 1


def test_what_can_be_known_after_a_move_is_told_beside_what_we_know(capsys: pytest.CaptureFixture[str]) -> None:
    assert bound.run(["--moves", "2", "--runs", "150", "--level", "good", "--seed", "5"]) == 0
    rows = [[float(word) for word in line.split()] for line in capsys.readouterr().out.splitlines()[1:]]
    assert [row[0] for row in rows] == [1, 2, 3, 4, 5]
    assert 1 <= rows[0][1] <= 2
    assert all(0.0 <= share <= 1.0 for row in rows for share in row[2:])


@pytest.mark.parametrize(("wrong", "piano"), [((), True), ((3,), True), ((2, 5), False)])
def test_one_slip_at_the_start_does_not_hide_a_piano_that_transposes(wrong: tuple[int, ...], piano: bool) -> None:
    written, expected = pair(4)
    take = simulate(written, expected, replace(CLEAN, shift=2), 4)
    presses = [replace(p, pitch=p.pitch + 4 * (i in wrong)) for i, p in enumerate(take.presses)]
    follower = Follower(written, expected)
    for press in presses:
        follower.hear(press)
    kinds = [finding.kind for finding in follower.settle().findings]
    assert kinds == ([m.PIANO_TRANSPOSES, m.OTHER_KEY] if piano else [m.OTHER_KEY])


def test_after_a_poor_start_a_strain_that_comes_four_times_is_followed_where_it_is_played() -> None:
    for seed in (20, 21, 22):
        chance = random.Random(seed)
        at, strain = 4, []
        for _ in range(36):
            at = min(max(at + chance.choice((-2, -1, -1, 0, 1, 1, 2)), 0), len(MELODY) - 1)
            strain.append(MELODY[at])
        written = tune("G", " ".join(strain * 4))
        expected = transposed(written, plan(written.key, "Bb").interval)
        result, _ = followed(written, expected, simulate(written, expected, "beginner", seed))
        assert result.first > 0.7
