"""Chord symbols move with the piece; other words over the staff do not."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.music.tunes import tune
from trainer.music.chordsymbol import parse, transposed_symbol
from trainer.music.piece import Word
from trainer.music.pitch import Interval, pitch_from_fifths
from trainer.music.transpose import transposed


@pytest.mark.parametrize(
    ("text", "wish", "moved"),
    [
        ("F7/A", "-m3", "D7/F♯"), ("Bbm7", "+M2", "Cm7"), ("C6/9", "+P4", "F6/9"), ("G♯dim", "+A1", "Adim"),
        ("Am7b5", "-m2", "G♯m7b5"), ("Dsus4", "P1", "Dsus4"), ("Bb(add9)/D", "-m2", "A(add9)/C♯"),
    ],
)  # fmt: skip
def test_symbols(text: str, wish: str, moved: str) -> None:
    assert transposed_symbol(text, Interval.parse(wish)) == moved


@pytest.mark.parametrize("words", ["N.C.", "Fine", "Coda", "D.C. al Fine", "Chorus", "", "Bridge", "A tempo", "Edim!"])
def test_words_stay(words: str) -> None:
    assert transposed_symbol(words, Interval.parse("+M3")) == words


@given(st.sampled_from("CDEFGAB"), st.sampled_from(("", "#", "b")), st.sampled_from(("", "m7", "maj7", "7", "dim")),
       st.sampled_from(("+m2", "-M3", "+P5", "-A4", "+M6")))  # fmt: skip
def test_there_and_back_sounds_the_same(letter: str, sign: str, quality: str, wish: str) -> None:
    interval = Interval.parse(wish)
    start = parse(letter + sign + quality)
    assert start is not None
    back = start.transposed(interval).transposed(-interval)
    assert (back.root.pitch_class, back.quality) == (start.root.pitch_class, start.quality)


def test_a_piece_takes_its_symbols_along() -> None:
    song = replace(tune("Bb", "F4 D4 Bb4"), chords=(Word(Fraction(0), "Bb"), Word(Fraction(1), "F7/A")))
    moved = transposed(song, Interval.parse("-m3"))
    assert [word.text for word in moved.chords] == ["G", "D7/F♯"]


@pytest.mark.parametrize(
    "quality", ["Maj7", "MAJ7", "Min7", "MI7", "MI", "Dim", "o7", "△7", "Δ", "−7", "‑7b5", "Sus4", "+7", "Add9"]
)
def test_however_a_quality_is_spelled_its_chord_moves(quality: str) -> None:
    """A symbol taken for words would stay in the written key over a transposed page."""
    assert transposed_symbol(f"C{quality}", Interval.parse("+M2")) == f"D{quality}"


@pytest.mark.parametrize("words", ["Do", "Go on", "Coda", "Adagio", "Animato", "Espr.", "Dolce", "Dim.", "Fine"])
def test_no_word_is_taken_for_a_chord(words: str) -> None:
    assert parse(words) is None


@pytest.mark.parametrize(
    ("qualities", "notes"),
    [
        (" maj M MAJ 6 6/9 add9 (add9) sus4 2 no3", "C E G"),
        ("m min - mi m6 m(add9)", "C Eb G"),
        ("dim ° º", "C Eb Gb"),
        ("aug + (#5)", "C E G#"),
        ("7 9 13 7sus4 7b9 7#9 7(b9,#11) 7(b9/#11) alt 9(no5)", "C E G Bb"),
        ("maj7 Maj7 ma7 M7 Δ △7 ∆ ∆7 maj9 maj7#11", "C E G B"),
        ("m7 -7 min7 m9 m11 mi7", "C Eb G Bb"),
        ("mM7 m(maj7) m(maj) mM -Δ mMaj7 m^7 m∆7", "C Eb G B"),
        ("ø ø7 Ø7 ∅7 m7b5 -7(b5) mi7♭5", "C Eb Gb Bb"),
        ("dim7 o7 °7 º7 ˚7", "C Eb Gb Bbb"),
        ("+7 aug7 7#5 7+5", "C E G# Bb"),
        ("7b5 7♭5 9b5 7-5", "C E Gb Bb"),
        ("maj7b5", "C E Gb B"),
        ("maj7#5 +Δ", "C E G# B"),
    ],
)
def test_the_notes_of_a_chord_however_it_is_spelled(qualities: str, notes: str) -> None:
    for quality in qualities.split(" "):
        symbol = parse(f"C{quality}")
        assert symbol is not None, quality
        above = [pitch_from_fifths(symbol.root.fifths + place, 4).name[:-1] for place in symbol.thirds]
        assert " ".join(["C", *above]) == notes, quality


@pytest.mark.parametrize(("text", "wish", "moved"), [("C#m", "+A1", "Dm"), ("Cb", "-m2", "B♭"), ("D♯7", "+M3", "G7"),
                                                     ("Gb/Bb", "-d5", "C/E"), ("Fx", "P1", "G")])  # fmt: skip
def test_roots_that_nobody_writes_are_respelled(text: str, wish: str, moved: str) -> None:
    assert transposed_symbol(text, Interval.parse(wish)) == moved
