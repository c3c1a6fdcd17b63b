"""Another rhythm than the written one, and a pulse that drifts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from math import floor

import pytest

from tests.following.taking import QUARTER_S, even, shelf, taken
from tests.music.tunes import tune
from trainer.following.marks import RIGHT, Mark
from trainer.following.rhythm import DOTTED, EVEN, drift, not_kept, say_time
from trainer.listening.press import Press
from trainer.music.piece import Note
from trainer.music.pitch import SpelledPitch

MINUET = "petzold-minuet-in-g"


def swung(share: float, at: float, _: Note) -> float:
    """The first of two eighths takes this share of their beat."""
    within = at - floor(at)
    return (floor(at) + (share if abs(within - 0.5) < 1e-6 else within)) * QUARTER_S


@pytest.mark.parametrize(("share", "kept"), [(0.5, True), (0.55, True), (0.67, False), (0.33, False)])
def test_even_notes_played_long_and_short(share: float, kept: bool) -> None:
    session = taken(MINUET, "F", when=lambda at, note: swung(share, at, note))
    found = not_kept(session.written, session.presses, session.finish().marks)
    assert (found is None) == kept
    if found is not None:
        assert found[0] == EVEN
        assert found[1] == pytest.approx(share / (1 - share), rel=0.1)


@pytest.mark.parametrize(("played", "kept"), [(0.75, True), (0.55, False)])
def test_dotted_notes_played_even(played: float, kept: bool) -> None:
    piece = tune("C", " ".join(["C4 D4 E4 F4 G4 F4 E4 D4"] * 4))
    dotted = [
        replace(note, onset=Fraction(index // 2) + (Fraction(3, 4) if index % 2 else 0), length=Fraction(1, 4))
        for index, note in enumerate(piece.notes)
    ]
    piece = piece.with_notes(dotted)

    def when(at: float, _: Note) -> float:
        return (floor(at) + (played if at % 1 else 0.0)) * QUARTER_S

    session = taken(piece, "D", when=when)
    found = not_kept(session.written, session.presses, session.finish().marks)
    assert found is None if kept else found is not None and found[0] == DOTTED


def test_what_is_said_of_rhythm_and_tempo() -> None:
    def said(when: Callable[[float, Note], float]) -> str:
        one = taken(MINUET, "F", when=when)
        assert one.timing is not None
        return say_time(one.written, one.presses, one.finish().marks, one.timing.bars)

    assert said(even) == ""
    assert said(lambda at, note: swung(0.67, at, note)) == "Even notes came long and short (2.0 to 1)."
    assert said(lambda at, _: at * 0.9 - at * at * 0.0026).startswith("It sped up from ")


def test_a_few_beats_tell_of_no_rhythm() -> None:
    session = taken(MINUET, "F", bars=range(3), when=lambda at, note: swung(0.67, at, note))
    assert not_kept(session.written, session.presses, session.finish().marks) is None


def test_a_pulse_that_went_up_or_down_all_the_way() -> None:
    up = [(bar, 60.0 + 2 * bar) for bar in range(16)]
    first, last = drift(up) or (0, 0)
    assert 60 < first < 70 < 80 < last < 90
    assert drift([(bar, 100.0 - 2 * bar) for bar in range(16)]) is not None


@pytest.mark.parametrize(
    "bars",
    [
        [(bar, 60.0 + 2 * bar) for bar in range(6)],  # too few
        [(bar, 60.0 + 8 * (bar % 3)) for bar in range(16)],  # now so, now so
        [*((bar, 80.0) for bar in range(14)), (14, 60.0), (15, 40.0)],  # a last slowing down
        [(bar, 60.0 if bar < 12 else 90.0) for bar in range(16)],  # another tempo all at once
        [(bar % 8, 60.0 + 2 * bar) for bar in range(16)],  # played twice, the second time quicker
    ],
)
def test_what_is_no_drift(bars: list[tuple[int, float]]) -> None:
    assert drift(bars) is None


def test_a_rhythm_kept_in_two_bars_of_five_is_no_habit() -> None:
    piece = shelf(MINUET)

    def when(at: float, note: Note) -> float:
        return swung(0.67, at, note) if piece.bar_index(note.onset) % 5 < 3 else even(at, note)

    session = taken(piece, "F", when=when)
    assert not_kept(piece, session.presses, session.finish().marks) is None


def test_a_tempo_that_changes_on_the_page_is_no_drift() -> None:
    piece = replace(shelf(MINUET), tempi=((Fraction(0), 90.0), (Fraction(48), 120.0)))
    session = taken(piece, "F", when=lambda at, _: at * 0.9 - at * at * 0.0026)
    assert session.timing is not None
    assert drift(session.timing.bars) is not None
    assert say_time(piece, session.presses, session.finish().marks, session.timing.bars) == ""


def test_even_notes_with_a_small_note_before_each_beat_are_even() -> None:
    piece = tune("C", " ".join(["C4 D4 E4 F4 G4 F4 E4 D4"] * 4))
    eighths = [replace(note, onset=note.onset / 2, length=Fraction(1, 2)) for note in piece.notes]
    small = [
        Note(f"g{at}", SpelledPitch.parse("A4"), Fraction(at), Fraction(0), grace=True, optional=True)
        for at in range(16)
    ]
    piece = piece.with_notes([*eighths, *small])
    presses = [Press(float(note.onset) * 0.6 - 0.09 * note.grace, note.midi) for note in piece.notes]
    assert not_kept(piece, presses, [Mark(at, at, RIGHT) for at in range(len(presses))]) is None
