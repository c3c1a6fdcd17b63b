from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.music.tunes import tune
from trainer.music.keys import ALL_SIGNATURES, Key
from trainer.music.piece import Bar, KeyChange, Piece
from trainer.music.pitch import Interval, MusicError
from trainer.music.transpose import by_semitones, plan, transposed


@pytest.mark.parametrize(
    ("written", "wish", "octave", "short", "semitones"),
    [
        ("Bb", "G", "nearest", "-m3", -3),
        ("Bb", "G", "up", "+M6", 9),
        ("G", "Eb", "nearest", "-M3", -4),
        ("C", "F#", "nearest", "-d5", -6),
        ("C", "Gb", "nearest", "-A4", -6),
        ("C", "G", "nearest", "-P4", -5),
        ("C", "G", "down", "-P4", -5),
        ("C", "G", "up", "+P5", 7),
        ("C", "C", "down", "+P1", 0),
        ("C#", "Db", "nearest", "+d2", 0),
        ("g", "c#", "nearest", "-d5", -6),
        ("G", "-3", "nearest", "-m3", -3),
        ("G", "+0", "nearest", "+P1", 0),
        ("G", "-m3", "nearest", "-m3", -3),
        ("G", "+13", "nearest", "+m9", 13),
        ("B", "+1", "nearest", "+m2", 1),
    ],
)
def test_what_the_player_asks_for(written: str, wish: str, octave: str, short: str, semitones: int) -> None:
    found = plan(Key.parse(written), wish, octave)
    assert (found.interval.short, found.interval.semitones) == (short, semitones)


def test_a_key_past_seven_accidentals_is_respelled_and_said() -> None:
    found = plan(Key.parse("B"), "+A1")
    assert found.target == Key.parse("C")
    assert found.interval.semitones == 1
    assert "C major" in found.note
    moved = transposed(tune("B", "B4 D#5 F#5 A#4"), found.interval)
    assert [n.pitch.name for n in moved.notes] == ["C5", "E5", "G5", "B4"]


def test_accidentals_are_right_within_the_target_key() -> None:
    moved = transposed(tune("C", "C4 F#4 G4 Bb4"), plan(Key.parse("C"), "Db").interval)
    assert [n.pitch.name for n in moved.notes] == ["Db4", "G4", "Ab4", "Cb5"]


def test_key_changes_transpose_along() -> None:
    piece = tune("C", "C4 E4 G4 C5 E4 A4 C5 E5")
    both = Piece(piece.title, piece.notes, piece.bars, (*piece.keys, KeyChange(Fraction(4), Key.parse("a"))))
    moved = transposed(both, Interval.parse("-m3"))
    assert [change.key.short for change in moved.keys] == ["A", "f#"]


@pytest.mark.parametrize(
    ("wish", "says"),
    [
        ("fis", "is not a key"),
        ("+25", "further than two octaves"),
        ("-P3", "is not an interval"),
        ("Z", "is not a key"),
    ],
)
def test_what_cannot_be_done_is_said(wish: str, says: str) -> None:
    with pytest.raises(MusicError, match=says):
        plan(Key.parse("C"), wish)


@pytest.mark.parametrize(
    ("written", "wish", "target"), [("G", "f#", "F#"), ("G", "E minor", "E"), ("C", "g#", "Ab"), ("e", "Db", "c#")]
)
def test_a_key_of_the_other_mode_names_its_tonic_and_that_is_said(written: str, wish: str, target: str) -> None:
    move = plan(Key.parse(written), wish)
    assert move.target.short == target
    assert transposed(tune(written, "G4 B4"), move.interval).key.name == move.target.name
    assert f"transposing keeps the mode, so '{wish}' is taken as {move.target.name}." in move.note


@given(st.sampled_from(ALL_SIGNATURES), st.sampled_from(ALL_SIGNATURES), st.sampled_from(["nearest", "up", "down"]))
def test_there_and_back_note_for_note(written: int, target: int, octave: str) -> None:
    piece = tune("C", "C4 D4 E4 F4 G4 A4 B4 C5 F#4 Bb4 Eb4 G#4")
    home = transposed(piece, plan(Key.parse("C"), Key.from_signature(written).short, octave).interval)
    there = plan(home.key, Key.from_signature(target).short, octave)
    away = transposed(home, there.interval)
    assert away.key == there.target
    assert [n.pitch for n in transposed(away, -there.interval).notes] == [n.pitch for n in home.notes]
    assert {a.midi - h.midi for a, h in zip(away.notes, home.notes, strict=True)} == {there.interval.semitones}


@pytest.mark.parametrize("semitones", range(-12, 13))
@pytest.mark.parametrize("short", ["C", "Gb", "F#", "eb", "c#", "B"])
def test_moves_by_semitones_are_exact_and_simply_spelled(short: str, semitones: int) -> None:
    move = by_semitones(Key.parse(short), semitones)
    assert move.interval.semitones == semitones
    assert abs(move.target.signature) <= 6
    assert move.written.transposed(move.interval) == move.target


@pytest.mark.parametrize(
    ("written", "wish", "target"),
    [("D", "-1", "Db"), ("E", "-1", "Eb"), ("Db", "+1", "D"), ("A", "-1", "Ab"), ("ab", "+1", "a"), ("E", "+6", "Bb")],
)
def test_a_number_of_semitones_names_no_spelling(written: str, wish: str, target: str) -> None:
    """Nobody who says a semitone lower of D major means seven sharps, nor needs to be told of the nine of D sharp."""
    found = plan(Key.parse(written), wish)
    assert (found.target.short, found.interval.semitones, found.note) == (target, int(wish), "")


@pytest.mark.parametrize("written", ["e", "b", "f#", "c", "bb", "a#", "C# dorian"])
def test_six_accidentals_in_minor_are_flats_so_that_no_leading_note_is_doubly_sharp(written: str) -> None:
    """Minor raises its seventh degree: C double sharp in D sharp minor, D in E flat minor."""
    key = Key.parse(written)
    for semitones in range(-11, 12):
        target = by_semitones(key, semitones).target
        leading = target.degree(7)
        assert semitones == 0 or leading.alteration + 1 < 2 or abs(target.signature) < 6, target.name
    assert by_semitones(Key.parse("e"), -1).target.short == "eb"
    assert by_semitones(Key.parse("C# dorian"), -5).target.short == "Ab dorian"


def test_no_semitones_and_an_octave_keep_the_written_key() -> None:
    for semitones in (-12, 0, 12):
        assert by_semitones(Key.parse("C#"), semitones).target == Key.parse("C#")


def test_at_the_last_minute() -> None:
    written = Key.parse("Bb")
    now = plan(written, "-m3").interval.semitones
    found = [by_semitones(written, now + by).target.short for by in (-2, -1, 1, 2)]
    assert found == ["F", "Gb", "Ab", "A"]


@given(st.lists(st.fractions(Fraction(1, 48), 4, max_denominator=48), min_size=1, max_size=40), st.data())
def test_the_bar_of_an_onset_is_found_exactly(lengths: list[Fraction], data: st.DataObject) -> None:
    starts = [sum(lengths[:at], Fraction(0)) for at in range(len(lengths))]
    bars = tuple(Bar(at + 1, start, length) for at, (start, length) in enumerate(zip(starts, lengths, strict=True)))
    piece = replace(tune("C", "C4"), bars=bars)
    at = data.draw(st.integers(0, len(bars) - 1))
    inside = data.draw(st.fractions(0, lengths[at], max_denominator=48).filter(lambda part: part < lengths[at]))
    assert piece.bar_index(starts[at] + inside) == at


@pytest.mark.parametrize(
    ("wish", "named", "signature"),
    [("F dorian", "F dorian", -3), ("f#", "F♯ dorian", 4), ("G", "G dorian", -1), ("+1", "E♭ dorian", -5),
     ("-m3", "B dorian", 3), ("+A1", "D♯ dorian", 7)],
)  # fmt: skip
def test_a_church_mode_stays_itself_wherever_it_goes(wish: str, named: str, signature: int) -> None:
    written = Key.parse("D dorian")
    found = plan(written, wish)
    assert (found.target.name, found.target.signature) == (named, signature)
    assert ("D dorian and transposing keeps the mode" in found.note) == (wish in ("f#", "G"))
    assert written.transposed(found.interval) == found.target


@pytest.mark.parametrize(
    ("written", "wish", "octave", "words"),
    [
        ("E", "Eb", "nearest", "down a chromatic semitone"),
        ("Ab", "A", "nearest", "up a chromatic semitone"),
        ("E", "F", "nearest", "up a minor second"),
        ("Ab", "Gb", "nearest", "down a major second"),
        ("Ab", "F#", "nearest", "down a major second, respelled"),
        ("Db", "B", "nearest", "down a major second, respelled"),
        ("E", "Eb", "up", "up a major seventh, respelled"),
        ("C#", "+14", "nearest", "up a major ninth, respelled"),
        ("F#", "Gb", "nearest", "on the same keys, respelled"),
        ("E", "-13", "nearest", "down an octave and a chromatic semitone"),
        ("E", "Bb", "nearest", "down an augmented fourth"),
        ("E", "E", "nearest", "in the written key"),
    ],
)
def test_a_move_is_said_as_a_musician_says_it(written: str, wish: str, octave: str, words: str) -> None:
    assert plan(Key.parse(written), wish, octave).words == words


_NAMES = ("minor second", "major second", "minor third", "major third", "perfect fourth", "", "perfect fifth",
          "minor sixth", "major sixth", "minor seventh", "major seventh")  # fmt: skip


@pytest.mark.parametrize("written", ["C#", "Cb", "C"])
def test_a_move_is_called_by_its_semitones_however_its_keys_are_spelled(written: str) -> None:
    """Up two from C sharp leads to E flat, a diminished third on paper: to a musician a major second, respelled."""
    for semitones, name in enumerate(_NAMES, start=1):
        for way, signed in (("up", semitones), ("down", -semitones)):
            words = by_semitones(Key.parse(written), signed).words
            if name and "chromatic" not in words:
                assert words.removesuffix(", respelled") == f"{way} a {name}"


@pytest.mark.parametrize(("one", "other"), [("Cb", "B"), ("C#", "Db"), ("F#", "Gb"), ("a#", "bb")])
@pytest.mark.parametrize("octave", ["nearest", "up", "down"])
def test_between_two_spellings_of_a_key_no_key_moves(one: str, other: str, octave: str) -> None:
    for written, target in ((one, other), (other, one)):
        assert plan(Key.parse(written), target, octave).interval.semitones == 0


def test_two_octaves_are_the_furthest() -> None:
    assert [plan(Key.parse("C"), wish).interval.semitones for wish in ("+24", "-24", "+P15")] == [24, -24, 24]
    for wish in ("+25", "-25", "-m16"):
        with pytest.raises(MusicError, match="two octaves"):
            plan(Key.parse("C"), wish)


def test_the_tonic_of_the_other_mode_keeps_its_spelling_as_long_as_seven_accidentals_do() -> None:
    assert [plan(Key.parse("C"), wish).target.short for wish in ("c#", "ab", "g#")] == ["C#", "Ab", "Ab"]
    assert [plan(Key.parse("a"), wish).target.short for wish in ("Db", "Cb")] == ["c#", "b"]


def test_what_no_accidental_can_say_is_written_on_the_next_letter() -> None:
    written = tune("Cb", "F4 C##5 Bbbb4")
    moved = transposed(written, plan(Key.parse("Cb"), "C#").interval)
    assert [n.pitch.name for n in moved.notes] == ["Fx4", "Dx5", "Bb4"]
