"""Reading by clef: one clef an interval, heads stay where they are, accidentals come out right."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.music.clefs import ALTO, BASS, MEZZO, SEVEN, SOPRANO, TENOR, TREBLE, Clef, clef_for, reading
from trainer.music.keys import Key
from trainer.music.pitch import Interval, SpelledPitch
from trainer.music.transpose import Transposition, plan

KEYS = [Key.from_signature(s, mode) for s in range(-7, 8) for mode in ("major", "minor")]
INTERVALS = [
    sign + name for sign in "+-" for name in ("m2", "M2", "m3", "M3", "P4", "A4", "P5", "m6", "M6", "m7", "P8")
]


@pytest.mark.parametrize("clef", SEVEN)
def test_every_interval_within_an_octave_has_its_own_clef(clef: Clef) -> None:
    found = [clef_for(clef, Interval(steps, 0)) for steps in range(7)]
    assert sorted(found, key=SEVEN.index) == list(SEVEN)


@pytest.mark.parametrize(
    ("wish", "clef", "octaves"),
    [("-m3", SOPRANO, 0), ("+M2", ALTO, 1), ("-M2", TENOR, 1), ("-P5", MEZZO, 0), ("+m3", BASS, 2), ("-M6", BASS, 1)],
)
def test_the_usual_clefs_for_a_treble_staff(wish: str, clef: Clef, octaves: int) -> None:
    how = reading(TREBLE, plan(Key.parse("C"), wish))
    assert (how.clef, how.octaves) == (clef, octaves)


@given(
    written=st.sampled_from(KEYS), wish=st.sampled_from(INTERVALS), clef=st.sampled_from((TREBLE, BASS)),
    step=st.integers(24, 40), accidental=st.integers(-1, 1),
)  # fmt: skip
def test_reading_in_the_clef_gives_exactly_the_transposed_note(
    written: Key, wish: str, clef: Clef, step: int, accidental: int
) -> None:
    """A head stays on its line, and the accidental read by the rule is the one transposition asks for."""
    move = plan(written, wish)
    how = reading(clef, move)
    head = SpelledPitch.from_steps(step, 0)
    pitch = SpelledPitch(head.letter, accidental, head.octave)
    expected = pitch + move.interval
    assert expected.steps - 7 * how.octaves - how.clef.bottom.steps == pitch.steps - clef.bottom.steps
    assert how.reads_as(expected.letter, accidental) == expected.alteration


@pytest.mark.parametrize(
    ("written", "wish", "groups"),
    [
        ("C", "D", (("FC", 1),)),
        ("D", "C", (("BE", -1),)),
        ("C", "C#", (("FCGDAEB", 1),)),
        ("G", "F", (("BE", -1),)),
        ("C", "C", ()),
        ("Eb", "F#", (("FC", 2), ("GDAEB", 1))),
        ("B", "Db", (("BEA", -2), ("DGCF", -1))),
    ],
)
def test_letters_whose_accidentals_change(written: str, wish: str, groups: tuple[tuple[str, int], ...]) -> None:
    how = reading(TREBLE, plan(Key.parse(written), wish))
    assert how.groups == groups


@pytest.mark.parametrize(
    ("written", "wish", "said"),
    [
        ("D", "C", "Accidentals before B and E read a semitone lower: ♯ means natural."),
        ("Eb", "F#", "Accidentals before F and C read two semitones higher: ♭ means sharp; "
                     "before G, D, A, E and B a semitone higher: ♭ means natural."),
        ("B", "Db", "Accidentals before B, E and A read two semitones lower: ♯ means flat; "
                    "before D, G, C and F a semitone lower: ♯ means natural."),
        ("C", "C", ""),
    ],
)  # fmt: skip
def test_what_accidentals_mean_is_said_for_each_letter_as_it_is(written: str, wish: str, said: str) -> None:
    assert reading(TREBLE, plan(Key.parse(written), wish)).accidentals == said


@given(st.sampled_from(KEYS), st.sampled_from(KEYS))
def test_between_any_two_keys_it_can_be_said(written: Key, target: Key) -> None:
    if written.mode == target.mode:
        how = reading(TREBLE, plan(written, target.short))
        assert how.accidentals.count("means") == len(how.groups) <= 2


def test_words_name_clef_octave_signature_and_accidentals() -> None:
    words = reading(TREBLE, plan(Key.parse("C"), "D")).words
    for part in ("alto clef (C on the third line)", "an octave higher", "D major", "F and C read a semitone higher"):
        assert part in words


def test_a_chromatic_semitone_keeps_the_clef() -> None:
    how = reading(TREBLE, Transposition(Key.parse("C"), Key.parse("C#"), Interval(0, 1)))
    assert how.clef is TREBLE
    assert how.words.startswith("Keep the treble clef")
