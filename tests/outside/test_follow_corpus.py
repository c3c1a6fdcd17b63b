"""The follower on real scores and, where it is installed with its library, on a real performance.

Sources
-------
Scores: the corpus that ships with music21 (M. Cuthbert and C. Ariza, "music21: a toolkit for computer-aided
musicology", ISMIR 2010), read through our own reader.
Performance: Mozart, variation 1 of K. 265, the aligned take ``mozart_k265_var1.match`` that ships with parangonar
(S. Peter, "Online symbolic music alignment with offline reinforcement learning", ISMIR 2023); read where it lies,
nothing of it is kept here.
"""

from __future__ import annotations

import re
from fractions import Fraction
from importlib.util import find_spec
from pathlib import Path

import pytest

from tools.benches.scoring import keys_of, score
from tools.expert import perform
from tools.learner import simulate
from trainer.following.follower import Follower
from trainer.following.marks import HESITATED
from trainer.listening.press import Press
from trainer.music.keys import Key
from trainer.music.piece import LEFT, RIGHT, Bar, KeyChange, Note, Piece, sorted_notes
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import plan, transposed
from trainer.scores.reading import read

PIECES = ("joplin/maple_leaf_rag.mxl", "mozart/k545/movement1_exposition.mxl", "schumann_robert/opus48no2.mxl")


def corpus(name: str) -> Piece:
    from music21.common import getCorpusFilePath

    piece = read(Path(getCorpusFilePath()) / name)
    if len(piece.notes) <= 200:
        return piece
    last = piece.notes[200].onset
    return piece.with_notes(note for note in piece.notes if note.onset <= last)


@pytest.mark.parametrize("name", PIECES)
def test_real_scores_are_followed(name: str) -> None:
    written = corpus(name)
    expected = transposed(written, plan(written.key, "-3").interval)
    for level, floor in (("good", 0.97), ("beginner", 0.85)):
        take = simulate(written, expected, level, 2)
        follower = Follower(written, expected)
        first = [follower.hear(press) for press in take.presses]
        assert score(take, follower.ground, first, follower.settle()).final >= floor
    take = perform(expected, 2)
    follower = Follower(written, expected)
    first = [follower.hear(press) for press in take.presses]
    told = score(take, follower.ground, first, follower.settle())
    assert told.final >= 0.985
    assert told.false_moves == 0


ASSET = "assets/mozart_k265_var1.match"
SIGNS = {"n": 0, "#": 1, "b": -1, "##": 2, "x": 2, "bb": -2}
SCORE_NOTE = re.compile(r"snote\(([^,]+),\[([A-G]),([#bnx]+)\],(\d+),[^,]+,[^,]+,[^,]+,([\d.-]+),([\d.-]+),\[(.*?)\]\)")
PLAYED_NOTE = re.compile(r"(?<!s)note\([^,]+,\[([A-G]),([#bnx]+)\],(\d+),(\d+),")
SECONDS_A_TICK = 0.5 / 480  # the file's clock: 480 units a quarter, 500,000 µs a quarter


def real_take(text: str) -> tuple[Piece, list[Press], set[tuple[int, int]]]:
    """Score, presses and the true (press, note) pairs of a match file."""
    notes: list[Note] = []
    played: list[tuple[float, int, str]] = []
    for line in text.splitlines():
        written, sounded = SCORE_NOTE.match(line), PLAYED_NOTE.search(line)
        if written:
            pitch = SpelledPitch(written[2], SIGNS[written[3]], int(written[4]))
            onset, end = (Fraction(written[i]).limit_denominator(96) for i in (5, 6))
            hand = LEFT if "staff2" in written[7] else RIGHT
            grace = onset == end
            notes.append(Note(written[1], pitch, onset, end - onset, hand, grace=grace, optional=grace))
        if sounded:
            midi = SpelledPitch(sounded[1], SIGNS[sounded[2]], int(sounded[3])).midi
            played.append((int(sounded[4]) * SECONDS_A_TICK, midi, written[1] if written else ""))
    played.sort(key=lambda one: one[0])
    ordered = sorted_notes(notes)
    numbers = {note.id: i for i, note in enumerate(ordered)}
    bars = tuple(Bar(i + 1, Fraction(2 * i), Fraction(2), (2, 4)) for i in range(int(ordered[-1].end) // 2 + 1))
    piece = Piece("K. 265, variation 1", ordered, bars, (KeyChange(Fraction(0), Key.parse("C")),), tempo=100.0)
    pairs = {(i, numbers[name]) for i, (_, _, name) in enumerate(played) if name}
    return piece, [Press(at, midi) for at, midi, _ in played], pairs


if find_spec("parangonar"):

    @pytest.mark.parametrize("key", ["+0", "-3"])
    def test_a_real_performance_is_followed_note_for_note(key: str) -> None:
        spec = find_spec("parangonar")
        assert spec is not None
        assert spec.origin is not None
        piece, presses, pairs = real_take((Path(spec.origin).parent / ASSET).read_text(encoding="utf-8"))
        expected = transposed(piece, plan(piece.key, key).interval)
        moved = int(key)
        follower = Follower(piece, expected)
        first = [follower.hear(Press(press.at, press.pitch + moved)) for press in presses]
        settled = follower.settle()
        same = keys_of(expected)
        true = {(press, same[note]) for press, note in pairs}
        assert len(true) > 200
        for marks in (first, settled.marks):
            found = {(mark.press, same[mark.note]) for mark in marks if mark.note is not None and not mark.offset}
            assert 2 * len(found & true) / (len(found) + len(true)) >= 0.995
        assert [move for move in settled.moves if move.kind != HESITATED] == []
