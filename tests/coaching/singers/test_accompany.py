"""Keys for a singer: where the line lies decides, then the hands."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.music.tunes import tune
from trainer.coaching.singers.accompany import (
    EASE_WEIGHT,
    FIRST_OUTSIDE,
    Line,
    fit_of,
    plain_line,
    suit,
    too_wide,
    voice_line,
    voice_octaves,
)
from trainer.coaching.singers.voices import CAUTION, VOICES, Span, Voice, voice
from trainer.music.keys import TWENTY_FOUR, Key
from trainer.music.pitch import MusicError, SpelledPitch

OCTAVE_LINE = plain_line(Span.parse("F4-F5"), Key.parse("Bb"))


def test_the_line_in_b_flat_goes_down_a_minor_third_to_g() -> None:
    first = suit(OCTAVE_LINE, Span.parse("D4-D5"))[0]
    assert (first.key.short, first.transposition.interval.words) == ("G", "down a minor third")
    assert (first.low.name, first.high.name, first.fit, first.inside) == ("D4", "D5", 1.0, True)


@given(key=st.sampled_from(TWENTY_FOUR), low=st.integers(50, 70), width=st.integers(5, 16), room=st.integers(0, 4),
       at=st.integers(48, 66))  # fmt: skip
def test_a_key_that_holds_the_whole_line_is_never_passed_by_one_that_does_not(
    key: Key, low: int, width: int, room: int, at: int
) -> None:
    bottom = SpelledPitch.from_steps((low * 7) // 12, low)
    top = SpelledPitch.from_steps(((low + width) * 7) // 12, low + width)
    tessitura = Span(SpelledPitch.from_steps(at * 7 // 12, at),
                     SpelledPitch.from_steps((at + width + room) * 7 // 12, at + width + room))  # fmt: skip
    found = suit(plain_line(Span(bottom, top), key), tessitura, hands=lambda move: float(move.target.signature == 0))
    assert found[0].inside
    assert all(tessitura.low.midi <= s.low.midi and s.high.midi <= tessitura.high.midi for s in found if s.inside)
    assert EASE_WEIGHT < FIRST_OUTSIDE


def test_among_keys_that_fit_alike_the_easier_for_the_hands_is_first() -> None:
    line = plain_line(Span.parse("E4-B4"), Key.parse("E"))
    wide = Span.parse("C4-F5")
    fits = [s for s in suit(line, wide, hands=lambda move: 1.0 if move.target.short == "F" else 0.0) if s.fit == 1.0]
    assert len(fits) > 3
    assert fits[0].key.short == "F"


def test_time_counts_not_range_alone() -> None:
    """One short high note matters less than a line that lives up there."""
    high, low = SpelledPitch.parse("F5"), SpelledPitch.parse("D4")
    brief = Line(Key.parse("C"), ((low, 30.0), (high, 1.0)))
    dwelling = Line(Key.parse("C"), ((low, 1.0), (high, 30.0)))
    tessitura = Span.parse("C4-D5")
    assert fit_of(brief, 0, tessitura) > 0.75 > 0.5 > fit_of(dwelling, 0, tessitura)


def test_dwelling_where_the_register_changes_costs() -> None:
    tenor = voice("tenor")
    change = tenor.passaggi[1]
    there = Line(Key.parse("C"), ((change, 1.0),))
    aside = Line(Key.parse("C"), ((SpelledPitch.parse("B3"), 1.0),))
    assert fit_of(there, 0, Span.parse("C3-C5"), tenor) < fit_of(aside, 0, Span.parse("C3-C5"), tenor) == 1.0


def test_outside_the_full_range_nothing_is_comfortable() -> None:
    alto = voice("contralto")
    line = Line(Key.parse("C"), ((SpelledPitch.parse("F#5"), 1.0),))
    assert fit_of(line, 0, Span.parse("C4-G5"), alto) == 0.0


def test_a_line_that_cannot_fit_says_by_how_much() -> None:
    line = plain_line(Span.parse("F4-A5"), Key.parse("F"))
    tessitura = Span.parse("D4-D5")
    assert "four semitones wider than D4–D5" in (too_wide(line, tessitura) or "")
    found = suit(line, tessitura)
    assert found
    assert found[0].above + found[0].below == 4
    assert all(s.above + s.below >= 4 and "four semitones wider" in s.why for s in found)
    assert too_wide(OCTAVE_LINE, tessitura) is None


def test_a_man_sings_an_octave_below_the_page() -> None:
    first = suit(OCTAVE_LINE, Span.parse("D3-D4"))[0]
    assert (first.key.short, first.transposition.interval.semitones, first.octaves) == ("G", -3, -1)
    assert (first.low.name, first.high.name) == ("D3", "D4")
    assert "an octave below the page" in first.why


# Women and children read the treble clef at pitch, men an octave lower: common practice, no source.
@pytest.mark.parametrize(
    ("song", "kind", "key", "octaves", "moved", "sung"),
    [
        ("C4-A4", "soprano", "C", 0, "up a perfect fifth", "G4–E5"),
        ("E4-G5", "bass", "d", -1, "down a perfect fifth", "A2–C4"),
        ("C4-A4", "tenor", "Bb", -1, "up a perfect fourth", "F3–D4"),
    ],
)
def test_women_sing_at_pitch_and_men_an_octave_lower_and_the_move_says_which_way(
    song: str, kind: str, key: str, octaves: int, moved: str, sung: str
) -> None:
    line = plain_line(Span.parse(song), Key.parse("F" if kind != "bass" else "a"))
    found = next(one for one in suit(line, voice(kind).tessitura, voice(kind)) if one.key.short == key)
    assert (found.octaves, found.transposition.interval.words) == (octaves, moved)
    assert Span(found.low, found.high).name == sung


def test_a_voice_is_known_by_its_kind_else_by_where_it_is_comfortable() -> None:
    treble, low = Span.parse("C4-A4"), Span.parse("C3-A3")

    def octaves(line: Span, span: str, kind: Voice | None = None) -> int:
        return voice_octaves(plain_line(line, Key.parse("C")), Span.parse(span), kind)

    assert [octaves(treble, span) for span in ("B3-D5", "G3-C5", "D3-D4", "F2-C4")] == [0, 0, -1, -1]
    assert octaves(treble, "F3-E4", voice("contralto")) == 0
    assert octaves(low, "D3-D4") == 0, "men read the bass clef at pitch"


def test_another_octave_is_taken_only_where_the_piano_part_would_move_by_more_than_one() -> None:
    low = plain_line(Span.parse("C3-A3"), Key.parse("C"))
    assert voice_octaves(low, Span.parse("C4-A4")) == 0
    assert voice_octaves(low, Span.parse("C4-C5")) == 0
    assert voice_octaves(low, Span.parse("F4-F5")) == 1


def test_the_voice_part_is_the_line_else_the_top_of_the_right_hand() -> None:
    piece = tune("C", "C5 E5 G4 C5")
    lower = tuple(replace(n, id=n.id + "x", pitch=SpelledPitch.parse("C4")) for n in piece.notes)
    both = piece.with_notes(piece.notes + lower)
    assert voice_line(both).span.name == "G4–E5"
    assert voice_line(replace(both, sung=lower)).span.low.name == "C4"


def test_times_are_added_up_by_pitch() -> None:
    line = voice_line(tune("C", "C4 E4 C4"))
    assert line.sung == ((SpelledPitch.parse("C4"), 2.0), (SpelledPitch.parse("E4"), 1.0))


def test_an_empty_piece_is_refused_in_words() -> None:
    with pytest.raises(MusicError, match="no line to sing"):
        voice_line(replace(tune("C", "C4"), notes=()))


@pytest.mark.parametrize(("text", "name"), [("D4-D5", "D4–D5"), ("Bb3 – F#4", "B♭3–F♯4"), ("c4 to e5", "C4–E5")])
def test_spans_read(text: str, name: str) -> None:
    assert Span.parse(text).name == name


@pytest.mark.parametrize("text", ["", "D4", "D4-", "D5-D4", "D4-D4", "D4-E4-F4", "x-y", "D4-D12"])
def test_spans_refused(text: str) -> None:
    with pytest.raises(MusicError):
        Span.parse(text)


def test_every_voice_has_its_tessitura_and_passaggi_inside_its_range() -> None:
    for kind in VOICES:
        low, high = kind.range.low.midi, kind.range.high.midi
        assert low <= kind.tessitura.low.midi < kind.tessitura.high.midi <= high
        assert low < kind.passaggi[0].midi < kind.passaggi[1].midi < high


def test_voice_names() -> None:
    assert voice("Mezzo").name == "mezzo-soprano"
    assert voice("alto").name == "contralto"
    with pytest.raises(MusicError, match="choose soprano"):
        voice("countess")


def test_the_caution_leaves_the_last_word_to_singer_and_teacher() -> None:
    assert "comfort decides" in CAUTION
    assert "voice teacher" in CAUTION


def test_fractions_of_a_beat_count() -> None:
    piece = tune("C", "C4 E4")
    short = piece.with_notes([replace(piece.notes[0], length=Fraction(1, 3)), piece.notes[1]])
    assert voice_line(short).sung[0][1] == pytest.approx(1 / 3)


def test_a_man_whose_page_says_its_octave_sings_what_it_says() -> None:
    """A tenor's line in the treble clef with an 8 lies high in his voice as it stands: nothing is an octave away."""
    line = plain_line(Span.parse("F3-A4"), Key.parse("F"))
    tenor = voice("tenor")
    assert voice_octaves(line, tenor.tessitura, tenor) == -1
    said = replace(line, at_pitch=True)
    assert voice_octaves(said, tenor.tessitura, tenor) == 0
    assert abs(suit(said, tenor.tessitura, tenor)[0].transposition.interval.semitones) <= 3
