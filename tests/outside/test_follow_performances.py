"""The follower on real performances: two hands, ornaments, grace notes, rolled chords, rubato, keys left out.

Source
------
The Vienna 4x22 Piano Corpus: W. Goebl, 1999, doi 10.21939/4X22, recorded on a computer-controlled grand piano, every
note aligned by hand with the score; match files 1.0.0, CC BY 4.0. Three of its takes stand in ``performances`` without
pedal and velocities (a line at the head of each says so).
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

import pytest

from tools.benches.scoring import f1, keys_of
from trainer.following import marks as m
from trainer.following.follower import Follower
from trainer.following.marks import Mark
from trainer.listening.press import Press
from trainer.music.keys import Key
from trainer.music.piece import LEFT, RIGHT, Bar, KeyChange, Note, Piece, sorted_notes
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import plan, transposed

FOLDER = Path(__file__).parent / "performances"
SECONDS_A_TICK = 0.5 / 480  # 480 units a quarter, 500,000 µs a quarter, as the files say


class Performance(NamedTuple):
    """Score, presses, the note each press was meant for (None: none), the notes left out."""

    piece: Piece
    presses: list[Press]
    meant: list[int | None]
    left_out: set[int]


def performance(name: str, pickup: Fraction) -> Performance:
    """Read a file; `pickup` is the length of what stands before the first full bar."""
    notes, played, left_out, key, meter = [], [], set(), "C", (4, 4)
    for line in (FOLDER / f"{name}.tsv").read_text(encoding="utf-8").splitlines():
        if line.startswith("# keySignature"):
            key = line.split()[-1]
        if line.startswith("# timeSignature"):
            count, unit = line.split()[-1].split("/")
            meter = int(count), int(unit)
        if line.startswith("#"):
            continue
        kind, *columns = line.split("\t")
        if kind == "insertion":
            played.append((int(columns[1]), int(columns[0]), ""))
            continue
        number, spelled, begins, ends, where = columns[:5]
        onset, end = (Fraction(one) * Fraction(4, meter[1]) + pickup for one in (begins, ends))
        hand, staff = (LEFT, 2) if "staff2" in where else (RIGHT, 1)
        grace = onset == end
        pitch = SpelledPitch.parse(spelled)
        notes.append(Note(number, pitch, onset, end - onset, hand, staff=staff, grace=grace, optional=grace))
        if kind == "match":
            played.append((int(columns[6]), int(columns[5]), number))
        else:
            left_out.add(number)
    played.sort()
    ordered = sorted_notes(notes)
    index = {note.id: i for i, note in enumerate(ordered)}
    full = Fraction(4 * meter[0], meter[1])
    bars = [Bar(0, Fraction(0), pickup, meter)] if pickup else []
    full_bars = int((ordered[-1].end - pickup) / full) + 1
    bars += [Bar(i + 1, pickup + full * i, full, meter) for i in range(full_bars)]
    piece = Piece(name, ordered, tuple(bars), (KeyChange(Fraction(0), Key.parse(key)),), tempo=68.0)
    presses = [Press(tick * SECONDS_A_TICK, midi) for tick, midi, _ in played]
    return Performance(piece, presses, [index.get(one) for _, _, one in played], {index[one] for one in left_out})


TAKES = {"chopin_op38_p01": Fraction(2), "mozart_k331_p15": Fraction(0), "chopin_op10_no3_p11": Fraction(1, 2)}


@pytest.mark.parametrize("key", ["+0", "-3"])
@pytest.mark.parametrize("name", TAKES)
def test_a_pianist_is_followed_note_for_note(name: str, key: str) -> None:
    take = performance(name, TAKES[name])
    expected = transposed(take.piece, plan(take.piece.key, key).interval)
    follower = Follower(take.piece, expected)
    first = [follower.hear(Press(press.at, press.pitch + int(key))) for press in take.presses]
    settled = follower.settle()
    same = keys_of(expected)
    true = {(i, same[note]) for i, note in enumerate(take.meant) if note is not None}
    assert len(true) >= 450
    assert matched(settled.marks, same) == true
    assert f1(matched(first, same), true) >= 0.996
    assert {same[note] for note in settled.missed} == {same[n] for n in take.left_out} - {note for _, note in true}
    assert [move for move in settled.moves if move.kind != m.HESITATED] == []
    # A key that sounds again by itself, and nothing else, is called struck again or none of the piece.
    stray = {settled.marks[i].cause for i, note in enumerate(take.meant) if note is None}
    assert stray <= {m.REPEATED, m.EXTRA}


def matched(marks: list[Mark] | tuple[Mark, ...], same: list[int]) -> set[tuple[int, int]]:
    """The (press, note) pairs of marks that say right."""
    return {(mark.press, same[mark.note]) for mark in marks if mark.cause == m.RIGHT and mark.note is not None}


@pytest.mark.parametrize("name", TAKES)
def test_a_pianist_who_drops_one_note_is_known_to_go_on(name: str) -> None:
    """One key taken out of the take at a time: what is struck next is told rightly nearly always, at once."""
    take = performance(name, TAKES[name])
    same = keys_of(take.piece)
    right = asked = 0
    for gone in range(40, len(take.presses) - 4, 31):
        follower = Follower(take.piece, take.piece)
        kept = [i for i in range(gone + 4) if i != gone]
        marks = [follower.hear(take.presses[i]) for i in kept]
        for i, mark in list(zip(kept, marks, strict=True))[-3:]:
            note = take.meant[i]
            if note is not None:
                asked += 1
                right += mark.note is not None and same[mark.note] == same[note] and mark.cause == m.RIGHT
    assert right >= 0.95 * asked
