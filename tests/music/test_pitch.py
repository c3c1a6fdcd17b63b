from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.music.pitch import Interval, MusicError, SpelledPitch, pitch_from_fifths, shortened

pitches = st.builds(SpelledPitch, st.sampled_from("CDEFGAB"), st.integers(-2, 2), st.integers(0, 8))
intervals = st.builds(
    lambda fifths, octaves: Interval(4 * fifths + 7 * octaves, 7 * fifths + 12 * octaves),
    st.integers(-12, 12),
    st.integers(-3, 3),
)


@given(pitches)
def test_a_pitch_is_read_back_from_its_name(pitch: SpelledPitch) -> None:
    assert SpelledPitch.parse(pitch.name) == pitch


@given(pitches, intervals)
def test_up_and_down_again_is_the_same_pitch(pitch: SpelledPitch, interval: Interval) -> None:
    assert (pitch + interval) + -interval == pitch
    assert (pitch + interval) - pitch == interval


@given(pitches, intervals)
def test_an_interval_moves_along_the_line_of_fifths(pitch: SpelledPitch, interval: Interval) -> None:
    moved = pitch + interval
    assert moved.fifths - pitch.fifths == interval.fifths
    assert pitch_from_fifths(moved.fifths, moved.octave) == moved


@given(intervals)
def test_an_interval_is_read_back_from_its_short_name(interval: Interval) -> None:
    if len(interval.short.strip("+-").rstrip("0123456789")) > 3:
        return
    assert Interval.parse(interval.short) == interval


def test_double_accidentals() -> None:
    assert (SpelledPitch.parse("G#4") + Interval.parse("+A1")).name == "Gx4"
    assert (SpelledPitch.parse("Bb3") + Interval.parse("-A1")).name == "Bbb3"
    assert SpelledPitch.parse("B#3").midi == 60
    assert SpelledPitch.parse("Cb4").midi == 59


@pytest.mark.parametrize(
    ("short", "words"),
    [
        ("-m3", "down a minor third"),
        ("+P5", "up a perfect fifth"),
        ("-A4", "down an augmented fourth"),
        ("+d5", "up a diminished fifth"),
        ("+P8", "up an octave"),
        ("-M9", "down a major ninth"),
        ("+P1", "in the written key"),
        ("+A1", "up a chromatic semitone"),
        ("-A1", "down a chromatic semitone"),
        ("+d2", "up a diminished second"),
        ("+AA4", "up a doubly augmented fourth"),
        ("-m10", "down a minor tenth"),
    ],
)
def test_intervals_in_words(short: str, words: str) -> None:
    assert Interval.parse(short).words == words


@pytest.mark.parametrize(
    ("name", "signed", "words"),
    [
        ("F4", "F", "F natural"),
        ("F#4", "F♯", "F sharp"),
        ("Fx4", "F𝄪", "F double sharp"),
        ("Bb3", "B♭", "B flat"),
        ("Bbb3", "B𝄫", "B double flat"),
    ],
)
def test_a_note_is_shown_with_its_sign_and_named_as_a_teacher_does(name: str, signed: str, words: str) -> None:
    pitch = SpelledPitch.parse(name)
    assert (pitch.sign_name, pitch.words) == (signed, words)
    assert SpelledPitch.parse(signed + name[-1]) == pitch


def test_what_was_written_is_said_again_whole_or_with_both_its_ends() -> None:
    assert shortened("H4") == "H4"
    assert shortened(" a  line\nbroken ") == "a line broken"
    assert shortened("x" * 60) == "x" * 60
    long = shortened("begin" + "x" * 1000 + "end")
    assert len(long) == 60
    assert long.startswith("beginx")
    assert "…" in long
    assert long.endswith("xend")


@pytest.mark.parametrize("text", ["P3", "M5", "m4", "-x2", "third", "", "M0", "3"])
def test_what_is_no_interval_is_refused_in_a_sentence(text: str) -> None:
    with pytest.raises(MusicError, match="is not an interval"):
        Interval.parse(text)


@pytest.mark.parametrize("text", ["H4", "C", "c##b4", "4C", ""])
def test_what_is_no_pitch_is_refused_in_a_sentence(text: str) -> None:
    with pytest.raises(MusicError, match="is not a pitch"):
        SpelledPitch.parse(text)
