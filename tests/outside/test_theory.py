"""Pitches, keys and syllables against published standards, a printed table and a reference library."""

from __future__ import annotations

import pytest

from trainer.music.keys import Key
from trainer.music.pitch import Interval, SpelledPitch
from trainer.music.solfege import degree, syllable
from trainer.sounding.samples import hertz

# MIDI 1.0 Detailed Specification, table of note numbers: middle C = 60, A4 = 69 = 440 Hz (ISO 16:1975);
# the piano's compass A0 = 21 to C8 = 108.
NOTE_NUMBERS = {"A0": 21, "C4": 60, "A4": 69, "C8": 108, "C-1": 0, "G9": 127}


@pytest.mark.parametrize(("name", "number"), NOTE_NUMBERS.items())
def test_note_numbers_of_midi(name: str, number: int) -> None:
    assert SpelledPitch.parse(name).midi == number


def test_tuning_of_iso_16() -> None:
    assert hertz(69) == 440.0
    # Equal temperament, A4 = 440: middle C is 261.63 Hz in any table of frequencies.
    assert hertz(60) == pytest.approx(261.63, abs=0.005)


# The table of signatures as printed in E. Taylor, The AB Guide to Music Theory, part I (1989), chapter on key
# signatures (values from memory): major, relative minor, and the accidentals in order of entry.
SIGNATURES = {
    ("C", "a"): "", ("G", "e"): "F#", ("D", "b"): "F# C#", ("A", "f#"): "F# C# G#", ("E", "c#"): "F# C# G# D#",
    ("B", "g#"): "F# C# G# D# A#", ("F#", "d#"): "F# C# G# D# A# E#", ("C#", "a#"): "F# C# G# D# A# E# B#",
    ("F", "d"): "Bb", ("Bb", "g"): "Bb Eb", ("Eb", "c"): "Bb Eb Ab", ("Ab", "f"): "Bb Eb Ab Db",
    ("Db", "bb"): "Bb Eb Ab Db Gb", ("Gb", "eb"): "Bb Eb Ab Db Gb Cb", ("Cb", "ab"): "Bb Eb Ab Db Gb Cb Fb",
}  # fmt: skip


@pytest.mark.parametrize(("keys", "accidentals"), SIGNATURES.items())
def test_signatures_of_the_printed_table(keys: tuple[str, str], accidentals: str) -> None:
    printed = accidentals.split()
    for name in keys:
        key = Key.parse(name)
        assert abs(key.signature) == len(printed)
        changed = {p.letter + ("#" if p.alteration > 0 else "b") for p in key.scale if p.alteration}
        assert changed == set(printed)


# Chromatic movable-do syllables up and down from C, as in G. Ottman & N. Rogers, Music for Sight Singing,
# appendix on solmization (values from memory).
GOING_UP = "C do C# di D re D# ri E mi F fa F# fi G sol G# si A la A# li B ti"
GOING_DOWN = "B ti Bb te A la Ab le G sol Gb se F fa E mi Eb me D re Db ra C do"


@pytest.mark.parametrize("row", [GOING_UP, GOING_DOWN])
def test_chromatic_syllables(row: str) -> None:
    words = row.split()
    for name, sung in zip(words[::2], words[1::2], strict=True):
        assert syllable(SpelledPitch.parse(f"{name}4"), Key.parse("C")) == sung


@pytest.mark.parametrize("to", ["G", "Eb", "F#", "Db", "B", "Cb", "C#"])
def test_syllables_do_not_change_with_the_key(to: str) -> None:
    interval = Key.parse(to).tonic - Key.parse("C").tonic
    for name in "C C# D D# Eb E F F# G G# Ab A Bb B".split():
        pitch = SpelledPitch.parse(f"{name}4")
        assert syllable(pitch, Key.parse("C")) == syllable(pitch + interval, Key.parse(to))
        assert degree(pitch, Key.parse("C")) == degree(pitch + interval, Key.parse(to))


# Minor both ways (common practice, no source): la-based la ti do re mi fi si la; do-based do re me fa sol la ti do
# for the melodic scale going up.
def test_minor_both_ways() -> None:
    up = [SpelledPitch.parse(p) for p in "A4 B4 C5 D5 E5 F#5 G#5 A5".split()]
    key = Key.parse("a")
    assert [syllable(p, key, "la") for p in up] == "la ti do re mi fi si la".split()
    assert [syllable(p, key, "do") for p in up] == "do re me fa sol la ti do".split()


def test_intervals_against_music21() -> None:
    """music21 (reference library) spells every pitch of four octaves moved by every usual interval as we do."""
    from music21 import interval as m21_interval
    from music21 import pitch as m21_pitch

    names = [f"{letter}{sign}{octave}" for letter in "CDEFGAB" for sign in ("", "#", "b") for octave in (3, 4)]
    sizes = "P1 m2 M2 A2 m3 M3 d4 P4 A4 d5 P5 A5 m6 M6 d7 m7 M7 P8 m9 M9 m10 P11".split()
    for size in sizes:
        for sign in ("", "-"):
            if sign + size == "-P1":
                continue  # music21 knows no descending unison
            theirs = m21_interval.Interval(sign + size)
            ours = Interval.parse(sign + size)
            for name in names:
                expected = theirs.transposePitch(m21_pitch.Pitch(name.replace("b", "-")), maxAccidental=None)
                found = SpelledPitch.parse(name) + ours
                if abs(found.alteration) > 2:
                    continue
                assert found.name == expected.nameWithOctave.replace("-", "b").replace("##", "x"), (name, sign + size)


def test_signatures_against_music21() -> None:
    from music21 import key as m21_key

    for signature in range(-7, 8):
        for mode in ("major", "minor"):
            theirs = m21_key.KeySignature(signature).asKey(mode)
            assert Key.from_signature(signature, mode).scale[0].sign_name.replace("♯", "#").replace("♭", "-") == (
                theirs.tonic.name
            )
