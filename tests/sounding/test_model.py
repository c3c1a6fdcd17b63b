"""The piece as it should sound, and the tempo map beneath."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.music.tunes import tune
from trainer.music.piece import LEFT, Note, Piece, Word, sorted_notes
from trainer.music.pitch import MusicError, SpelledPitch
from trainer.sounding.model import VELOCITY, in_bars, model
from trainer.sounding.tempo import TempoMap
from trainer.sounding.voice import Schedule, Sounded, together

LINE = replace(tune("C", "C4 D4 E4 F4 G4 A4 B4 C5"), tempo=60.0)


def with_left(piece: Piece) -> Piece:
    left = [
        Note(f"l{n}", SpelledPitch.parse("C3"), Fraction(4 * n), Fraction(4), LEFT, staff=2)
        for n in range(len(piece.bars))
    ]
    return replace(piece, notes=sorted_notes([*piece.notes, *left]))


def test_notes_places_and_length() -> None:
    schedule = model(LINE)
    assert [note.pitch for note in schedule.notes] == [60, 62, 64, 65, 67, 69, 71, 72]
    assert [note.at for note in schedule.notes] == pytest.approx([float(n) for n in range(8)])
    assert schedule.places == tuple((float(n), Fraction(n)) for n in range(8))
    assert schedule.length == pytest.approx(8.0)
    assert all(0.9 < note.length < 1.0 and note.velocity == VELOCITY for note in schedule.notes)


def test_one_hand_and_some_bars_slower() -> None:
    piece = with_left(LINE)
    assert [note.pitch for note in model(piece, LEFT).notes] == [48, 48]
    second = model(piece, bars=(1, 1), speed=0.5)
    assert [note.at for note in second.notes if note.pitch != 48] == pytest.approx([0.0, 2.0, 4.0, 6.0])
    assert second.places[0] == (0.0, Fraction(4))
    with pytest.raises(MusicError):
        model(LINE, LEFT)
    with pytest.raises(MusicError):
        model(LINE, bars=(6, 8))


def test_grace_notes_come_just_before() -> None:
    grace = Note("g", SpelledPitch.parse("D#4"), Fraction(2), Fraction(0), grace=True, optional=True)
    schedule = model(replace(LINE, notes=sorted_notes([*LINE.notes, grace])))
    place = next(at for at, note in enumerate(schedule.notes) if note.pitch == 63)
    assert schedule.notes[place + 1].pitch == 64
    assert 0 < schedule.notes[place + 1].at - schedule.notes[place].at < 0.12


def graced(onset: int, *small: str) -> Piece:
    graces = [
        Note(f"g{at}", SpelledPitch.parse(pitch), Fraction(onset), Fraction(0), grace=True, optional=True)
        for at, pitch in enumerate(small)
    ]
    return replace(LINE, notes=sorted_notes([*LINE.notes, *graces]))


@pytest.mark.parametrize("bars", [None, (1, 1)])
def test_grace_notes_before_the_first_note_come_before_it_and_the_music_after_them(bars: tuple[int, int]) -> None:
    schedule = model(graced(4 if bars else 0, "A4", "B4"), bars=bars)
    assert [note.pitch for note in schedule.notes][:2] == [69, 71]
    first, second, third = (note.at for note in schedule.notes[:3])
    assert first == 0.0
    assert second - first == pytest.approx(third - second)
    assert 0.05 < third - second < 0.12
    # The page moves with the note on the beat.
    assert schedule.places[0] == (third, Fraction(4 if bars else 0))
    # With a click the first bar begins where that says.
    assert min(note.at for note in in_bars(graced(4 if bars else 0, "A4"), bars=bars).notes) < 0.0


def test_many_grace_notes_leave_the_note_before_them_half_its_time() -> None:
    schedule = model(graced(1, "A4", "B4", "C5", "D5", "E5"), tempo=180.0)
    before, *small, after = schedule.notes[:7]
    assert (before.pitch, after.pitch) == (LINE.notes[0].midi, LINE.notes[1].midi)
    assert [note.pitch for note in small] == [69, 71, 72, 74, 76]
    assert small[0].at == pytest.approx(after.at / 2)


@pytest.mark.parametrize(("signs", "share", "louder"), [
    ((), 0.96, 0), (("staccato",), 0.5, 0), (("staccatissimo",), 0.25, 0), (("staccato", "tenuto"), 0.75, 0),
    (("tenuto",), 0.96, 0), (("accent",), 0.96, 14), (("staccato", "strong-accent"), 0.5, 22), (("(",), 0.96, 0),
])  # fmt: skip
def test_dots_are_short_and_accents_loud(signs: tuple[str, ...], share: float, louder: int) -> None:
    first, *others = LINE.notes
    note = model(LINE.with_notes([replace(first, signs=signs), *others]), tempo=60.0).notes[0]
    assert note.length == pytest.approx(share * float(first.length))
    assert note.velocity == VELOCITY + louder


def test_dynamics_are_heard_from_where_they_stand_on_and_in_a_loop_after_them() -> None:
    piece = replace(with_left(LINE), directions=(
        Word(Fraction(0), "p"), Word(Fraction(2), "f"), Word(Fraction(2), "<"), Word(Fraction(4), "pp", "left"),
        Word(Fraction(4), "ff", "voice"),
    ))  # fmt: skip
    plain = {(note.at, note.pitch): note.velocity for note in model(with_left(LINE), tempo=60.0).notes}
    louder = {
        (note.at, note.pitch): note.velocity - plain[note.at, note.pitch] for note in model(piece, tempo=60.0).notes
    }
    right = [louder[float(note.onset), note.midi] for note in LINE.notes]
    left = [by for (_, pitch), by in sorted(louder.items()) if pitch == 48]
    assert right[0] == right[1] == left[0] < 0 < right[2] == right[3] == right[4]
    assert left[1] < left[0]
    # The mark stands before the bars that are heard.
    assert model(piece, "right", bars=(1, 1)).notes[0].velocity == VELOCITY + right[4]


def test_a_fermata_is_held_in_both_hands_and_not_against_a_click() -> None:
    piece = with_left(LINE)
    ends = max(note.end for note in piece.notes if note.hand == LEFT and note.onset == 0)
    held = piece.with_notes(replace(note, signs=("fermata",)) if note.end == ends else note for note in piece.notes)
    plain, longer = model(piece, tempo=60.0), model(held, tempo=60.0)
    moved = [round(after.at - before.at, 6) for before, after in zip(plain.notes, longer.notes, strict=True)]
    assert moved == [0.0 if note.at < float(ends) else 1.0 for note in plain.notes]
    assert longer.length == pytest.approx(plain.length + 1.0)
    last = [
        (a.length, b.length)
        for a, b in zip(plain.notes, longer.notes, strict=True)
        if a.at < float(ends) <= a.end + 0.2
    ]
    assert len(last) == 2
    assert all(after > before + 0.9 for before, after in last)
    assert in_bars(held, tempo=60.0).notes == plain.notes


def test_a_repeated_key_is_let_go_before_it_is_struck() -> None:
    schedule = Schedule.of([Sounded(0.0, 2.0, 60, 50), Sounded(1.0, 1.0, 60, 60), Sounded(1.0, 3.0, 60, 40)])
    assert [(note.at, note.pitch, note.velocity) for note in schedule.notes] == [(0.0, 60, 50), (1.0, 60, 60)]
    assert schedule.notes[0].end == pytest.approx(0.98)
    assert schedule.notes[1].length == 3.0


@given(st.lists(st.tuples(st.floats(0, 5), st.floats(0.01, 3), st.integers(58, 62)), max_size=30))
def test_no_key_is_struck_while_it_is_down(wishes: list[tuple[float, float, int]]) -> None:
    schedule = Schedule.of(Sounded(*wish) for wish in wishes)
    last: dict[int, Sounded] = {}
    for note in schedule.notes:
        assert note.length >= 0
        assert note.pitch not in last or last[note.pitch].end <= note.at
        last[note.pitch] = note
    assert {(note.at, note.pitch) for note in schedule.notes} == {(at, pitch) for at, _, pitch in wishes}


def test_schedules_are_laid_over_one_another_and_cut() -> None:
    both = together(model(LINE), Schedule.of([Sounded(0.5, 0.1, 76, 90, 9)]).later(1.0))
    assert [note.at for note in both.only(click=True).notes] == [1.5]
    assert len(both.only(click=False).notes) == 8
    rest = both.after(6.0)
    assert [note.pitch for note in rest.notes] == [71, 72]
    assert rest.places == ((0.0, Fraction(6)), (1.0, Fraction(7)))


@given(
    st.lists(st.tuples(st.integers(1, 40), st.integers(20, 300)), max_size=5), st.integers(0, 200), st.floats(0.25, 2)
)
def test_seconds_and_quarters_are_inverse(changes: list[tuple[int, int]], quarter: int, speed: float) -> None:
    tempi = tuple((Fraction(at), float(rate)) for at, rate in changes)
    course = TempoMap(replace(LINE, tempi=tempi), speed=speed)
    onset = Fraction(quarter, 4)
    assert course.quarters(course.seconds(onset)) == pytest.approx(float(onset))


def test_a_tempo_of_one_s_own_keeps_changes_in_proportion() -> None:
    piece = replace(LINE, tempi=((Fraction(0), 60.0), (Fraction(4), 120.0)))
    course = TempoMap(piece, tempo=30.0)
    assert course.seconds(Fraction(4)) == pytest.approx(8.0)
    assert course.rate(Fraction(5)) == pytest.approx(60.0)
    with pytest.raises(MusicError, match="between 5 and 600"):
        TempoMap(piece, speed=0.01)
