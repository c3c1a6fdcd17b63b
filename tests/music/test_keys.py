from __future__ import annotations

import pytest

from trainer.journal.tally import canonical
from trainer.music.keys import ALL_SIGNATURES, CHURCH_MODES, MAJOR, MINOR, TWENTY_FOUR, Key
from trainer.music.pitch import MusicError, SpelledPitch
from trainer.music.solfege import DO_BASED, degree_label, syllable


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("C", "C major"),
        ("F#", "F♯ major"),
        ("Bb", "B♭ major"),
        ("f#", "F♯ minor"),
        ("c#", "C♯ minor"),
        ("F# minor", "F♯ minor"),
        ("Eb Major", "E♭ major"),
        ("B Flat MINOR", "B♭ minor"),
        ("b", "B minor"),
        ("bb", "B♭ minor"),
        ("B flat major", "B♭ major"),
        ("e♭", "E♭ minor"),
        ("  G  minor ", "G minor"),
        ("D dorian", "D dorian"),
        ("d Dorian", "D dorian"),
        ("Ddor", "D dorian"),
        ("Bbmix", "B♭ mixolydian"),
        ("a aeolian", "A minor"),
        ("C ionian", "C major"),
        ("F sharp minor", "F♯ minor"),
        ("c-sharp", "C♯ minor"),
        ("E flat", "E♭ major"),
        ("B♭", "B♭ major"),
        ("F♯ minor", "F♯ minor"),
        ("C♮", "C major"),
    ],
)
def test_keys_are_read(text: str, name: str) -> None:
    assert Key.parse(text).name == name


@pytest.mark.parametrize(
    "text",
    ["fis", "H", "", "C## major", "C dorianic", "C dorian minor", "12", "Bbb", "major", "F# sharp", "Bb flat major"],
)
def test_other_words_are_refused_with_what_is_understood(text: str) -> None:
    with pytest.raises(MusicError, match="capital for major and small for minor"):
        Key.parse(text)


@pytest.mark.parametrize(("text", "instead"), [("G#", "Ab"), ("Fb", "E"), ("D# major", "Eb"), ("db", "c#")])
def test_a_key_without_a_signature_names_its_twin(text: str, instead: str) -> None:
    with pytest.raises(MusicError, match=f"write {instead} for the same keys"):
        Key.parse(text)


@pytest.mark.parametrize("mode", [MAJOR, MINOR, *CHURCH_MODES])
@pytest.mark.parametrize("signature", ALL_SIGNATURES)
def test_every_signature_has_its_key_and_the_scale_obeys_it(signature: int, mode: str) -> None:
    key = Key.from_signature(signature, mode)
    assert key.signature == signature
    assert Key.parse(key.short) == key
    assert all(pitch.alteration == key.alteration_of(pitch.letter) for pitch in key.scale)
    assert sorted(pitch.letter for pitch in key.scale) == list("ABCDEFG")
    assert key.relative.signature == signature
    if not key.church:
        assert key.relative.relative == key


@pytest.mark.parametrize("mode", CHURCH_MODES)
def test_a_church_mode_is_counted_as_the_key_of_its_third(mode: str) -> None:
    for signature in ALL_SIGNATURES:
        key = Key.from_signature(signature, mode)
        assert (key.scale[2] - key.scale[0]).semitones == (3 if key.is_minor else 4)
        assert key.plain.tonic == key.tonic
        assert Key.parse(canonical(key)).tonic.pitch_class == key.tonic.pitch_class
        assert sum(a != b for a, b in zip(key.scale[:5], key.plain.scale[:5], strict=True)) <= 2


def test_a_mode_is_sung_from_its_own_syllable_or_from_do() -> None:
    dorian = Key.parse("E dorian")
    assert [syllable(p, dorian) for p in dorian.scale] == ["re", "mi", "fa", "sol", "la", "ti", "do"]
    assert [syllable(p, dorian, DO_BASED) for p in dorian.scale] == ["do", "re", "me", "fa", "sol", "la", "te"]
    assert syllable(Key.parse("G mixolydian").tonic, Key.parse("G mixolydian")) == "sol"
    assert [degree_label(p, dorian) for p in dorian.scale] == list("1234567")


def test_twenty_four_keys_sound_differently() -> None:
    assert len({(key.tonic.pitch_class, key.mode) for key in TWENTY_FOUR}) == 24


def test_the_simpler_spelling() -> None:
    assert Key("G", 1, MAJOR).respelled() == Key.parse("Ab")
    assert Key.parse("F#").respelled() == Key.parse("F#")
    assert Key.parse("C#").respelled() == Key.parse("Db")
    assert Key.parse("Cb").respelled() == Key.parse("B")
    assert Key.parse("Gb").respelled() == Key.parse("Gb")


@pytest.mark.parametrize(("one", "other", "apart"), [("C", "C", 0), ("C", "G", 1), ("C", "F#", 6), ("Db", "B", 2),
                                                     ("C#", "Cb", 2), ("a", "Eb", 3), ("F#", "Gb", 0)])  # fmt: skip
def test_keys_lie_as_far_apart_as_the_shorter_way_round_the_circle(one: str, other: str, apart: int) -> None:
    assert Key.parse(one).fifths_away(Key.parse(other)) == apart
    assert Key.parse(other).fifths_away(Key.parse(one)) == apart


def test_a_degree_lies_at_or_above_the_tonic_of_its_octave() -> None:
    assert [Key.parse("Bb").degree(n, 3).name for n in (1, 2, 7, 8)] == ["Bb3", "C4", "A4", "Bb4"]
    assert [Key.parse("f#").degree(n).name for n in (3, 6, 7)] == ["A4", "D5", "E5"]


@pytest.mark.parametrize(
    ("tonic", "mode"),
    [("C", "major"), ("D", "dorian"), ("E", "phrygian"), ("F", "lydian"), ("G", "mixolydian"), ("A", "minor"),
     ("B", "locrian")],
)  # fmt: skip
def test_the_modes_on_the_white_keys_have_no_signs(tonic: str, mode: str) -> None:
    key = Key.in_mode(tonic, 0, mode)
    assert key.signature == 0
    assert Key.from_signature(0, mode) == key
    assert [pitch.alteration for pitch in key.scale] == [0] * 7


@pytest.mark.parametrize(
    ("pitch", "sung", "degree"),
    [("F#4", "fi", "♯4"), ("Bb4", "te", "♭7"), ("G4", "sol", "5"),
     # Beyond what is sung the syllable of the degree bears the sign.
     ("E#4", "mi♯", "♯3"), ("Fx4", "fa♯♯", "♯♯4"), ("Cb4", "do♭", "♭1"), ("Dbb4", "re♭♭", "♭♭2")],
)  # fmt: skip
def test_altered_notes_have_a_syllable_and_a_degree(pitch: str, sung: str, degree: str) -> None:
    note, key = SpelledPitch.parse(pitch), Key.parse("C")
    assert (syllable(note, key), degree_label(note, key)) == (sung, degree)
