"""The accompanist's tables against the world: music21's own tables and analyses, handbooks, songs of its corpus.

Sources are named beside each check. music21: M. Cuthbert and C. Ariza, "music21" (ISMIR 2010); its corpus carries
Roman-numeral analyses of chorales by human analysts (RomanText files).
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from music21 import chord as m21chord
from music21 import clef as m21clef
from music21 import converter, harmony, roman
from music21 import instrument as m21instrument
from music21 import interval as m21interval
from music21 import key as m21key
from music21 import pitch as m21pitch

from tests.outside.references import work
from trainer.coaching.singers.accompany import plain_line, suit, voice_line
from trainer.coaching.singers.instruments import Concert, Written, concert, instrument, part_for
from trainer.coaching.singers.voices import Span, voice
from trainer.music.chordsymbol import transposed_symbol
from trainer.music.clefs import ALTO, BARITONE, BASS, MEZZO, SEVEN, SOPRANO, TENOR, TREBLE, Clef, clef_for, reading
from trainer.music.keys import Key
from trainer.music.pitch import Interval, SpelledPitch
from trainer.music.transpose import plan
from trainer.scores import reading as scores
from trainer.scores.harmony import harmonies
from trainer.scores.numerals import TABLE


def test_the_common_practice_example() -> None:
    """A line of range F4-F5 in B flat, wanted at D4-D5, goes down a minor third to G (common practice, no source)."""
    first = suit(plain_line(Span.parse("F4-F5"), Key.parse("Bb")), Span.parse("D4-D5"))[0]
    assert (first.key.short, first.transposition.interval.short) == ("G", "-m3")


M21_INSTRUMENTS = {
    "AltoSaxophone": "alto saxophone", "BaritoneSaxophone": "baritone saxophone", "BassClarinet": "bass clarinet",
    "Clarinet": "clarinet in B flat", "Contrabass": "double bass", "EnglishHorn": "English horn", "Horn": "horn in F",
    "Piccolo": "piccolo", "SopranoSaxophone": "soprano saxophone", "TenorSaxophone": "tenor saxophone",
    "Trumpet": "trumpet in B flat",
}  # fmt: skip


@pytest.mark.parametrize("name", M21_INSTRUMENTS)
def test_instruments_sound_where_music21_says(name: str) -> None:
    theirs = getattr(m21instrument, name)().transposition
    ours = instrument(M21_INSTRUMENTS[name]).sounds
    assert (ours.semitones, ours.steps) == (theirs.semitones, theirs.generic.staffDistance)


# What sounds when C5 is written. S. Adler, The Study of Orchestration, tables of transposition (from memory), given
# as sounding notes rather than intervals so that it is a second reading of the table.
C5_SOUNDS = {
    "piccolo": "C6", "alto flute": "G4", "oboe d'amore": "A4", "English horn": "F4", "clarinet in E flat": "Eb5",
    "clarinet in D": "D5", "clarinet in B flat": "Bb4", "clarinet in A": "A4", "basset horn": "F4",
    "alto clarinet": "Eb4", "bass clarinet": "Bb3", "contrabass clarinet": "Bb2", "contrabassoon": "C4",
    "sopranino saxophone": "Eb5", "soprano saxophone": "Bb4", "alto saxophone": "Eb4", "tenor saxophone": "Bb3",
    "baritone saxophone": "Eb3", "bass saxophone": "Bb2", "horn in F": "F4", "horn in E flat": "Eb4",
    "horn in D": "D4", "horn in G": "G4", "trumpet in B flat": "Bb4", "trumpet in D": "D5", "trumpet in E flat": "Eb5",
    "trumpet in F": "F5", "bass trumpet": "Bb3", "cornet": "Bb4", "flugelhorn": "Bb4", "tenor horn": "Eb4",
    "double bass": "C4", "guitar": "C4", "celesta": "C6", "xylophone": "C6", "glockenspiel": "C7", "viola": "C5",
}  # fmt: skip


@pytest.mark.parametrize("name", C5_SOUNDS)
def test_handbook_table_of_transposing_instruments(name: str) -> None:
    player, written = instrument(name), SpelledPitch.parse("C5")
    sounds = SpelledPitch.parse(C5_SOUNDS[name])
    assert concert(Written(written, player)) == Concert(sounds)
    assert part_for(Concert(sounds), player).value == written


M21_CLEFS = {
    TREBLE: "TrebleClef", SOPRANO: "SopranoClef", MEZZO: "MezzoSopranoClef", ALTO: "AltoClef", TENOR: "TenorClef",
    BARITONE: "FBaritoneClef", BASS: "BassClef",
}  # fmt: skip


@pytest.mark.parametrize("clef", SEVEN, ids=lambda c: c.name)
def test_clefs_stand_where_music21_puts_them(clef: Clef) -> None:
    theirs = getattr(m21clef, M21_CLEFS[clef])()
    # music21 counts diatonic notes from C0 = 1.
    assert (clef.sign, clef.line, clef.bottom.steps + 1) == (theirs.sign, theirs.line, theirs.lowestLine)


# Which clef to imagine on a treble staff, by the interval upward (or its inversion downward). A. Dannhauser, Théorie
# de la musique, chapter on transposition, and G. Dandelot's manual of the clefs (from memory).
SOLFEGE = {"M2": ALTO, "M3": BASS, "P4": MEZZO, "P5": BARITONE, "M6": SOPRANO, "M7": TENOR, "P8": TREBLE}


@pytest.mark.parametrize("size", SOLFEGE)
def test_solfege_handbook_table_of_clefs(size: str) -> None:
    up = Interval.parse(size)
    assert clef_for(TREBLE, up) is SOLFEGE[size]
    down = up + Interval(-7, -12)
    assert clef_for(TREBLE, down) is SOLFEGE[size]


def test_the_clefs_of_the_usual_transposing_instruments() -> None:
    """B flat: tenor clef; A: soprano; E flat: bass; F: mezzo-soprano (the same handbooks, from memory)."""
    for name, clef in (("clarinet in B flat", TENOR), ("clarinet in A", SOPRANO), ("alto saxophone", BASS),
                       ("horn in F", MEZZO), ("trumpet in D", ALTO)):  # fmt: skip
        assert clef_for(TREBLE, instrument(name).sounds) is clef


@pytest.mark.parametrize("target", ["D", "Eb", "E", "F", "G", "Ab", "A", "Bb", "B", "Gb"])
def test_accidentals_read_as_music21_transposes_them(target: str) -> None:
    """Every letter with every accidental, read by the rule, against music21's transposition of the same note."""
    move = plan(Key.parse("C"), target)
    how = reading(TREBLE, move)
    theirs = m21interval.Interval(move.interval.short.lstrip("+").replace("-", "") if not move.interval.is_down else
                                  move.interval.short[1] + "-" + move.interval.short[2:])  # fmt: skip
    for letter in "CDEFGAB":
        for accidental in (-1, 0, 1):
            note = m21pitch.Pitch(letter + {-1: "-", 0: "", 1: "#"}[accidental] + "4")
            moved = note.transpose(theirs)
            assert how.reads_as(moved.step, accidental) == moved.alter


@pytest.mark.parametrize(("mode", "tonic"), [("major", "C"), ("major", "E-"), ("minor", "a"), ("minor", "f#")])
def test_numerals_hold_the_notes_music21_gives_them(mode: str, tonic: str) -> None:
    home = m21key.Key(tonic)
    ours = Key.parse(tonic.replace("-", "b"))
    for figure, (fifths, _) in TABLE[mode].items():
        theirs = {p.pitchClass for p in roman.RomanNumeral(figure, home).pitches}
        assert {(7 * (ours.tonic.fifths + place)) % 12 for place in fifths} == theirs, figure


# Riemenschneider number -> BWV, those of music21's analysed chorales that stand in one key throughout or nearly.
CHORALES = {1: "269", 2: "347", 5: "267", 6: "281", 16: "311", 18: "318"}


@pytest.mark.parametrize("number", CHORALES)
def test_harmony_agrees_with_published_analyses(number: int) -> None:
    """Roots found, half beat by half beat, against the analysts' roots. At least 80 of 100 in every chorale."""
    piece = scores.read(work(f"*/bwv{CHORALES[number]}.mxl"), parts="all")
    found = harmonies(piece)
    # Our reading plays the repeats, the analysis does not: places are named by bar, as first played.
    starts = {bar.number: bar.onset for bar in reversed(piece.bars)}
    analysis = converter.parse(work(f"*/choraleAnalyses/riemenschneider{number:03d}.rntxt"))
    agree = counted = 0
    for numeral in analysis.recurse().getElementsByClass(roman.RomanNumeral):
        if not numeral.measureNumber or numeral.measureNumber not in starts:
            continue
        for half in range(int(2 * numeral.quarterLength)):
            at = starts[numeral.measureNumber] + Fraction(numeral.offset) + Fraction(half, 2)
            ours = next((h for h in found if h.onset <= at < h.onset + h.length), None)
            if ours is None:
                continue
            root = ours.numeral.pitches(ours.key)[-ours.numeral.inversion]
            counted += 1
            agree += root.pitch_class == numeral.root().pitchClass
    assert counted > 50
    assert agree / counted >= 0.8


@pytest.mark.parametrize("symbol", ["C", "F7", "Bbm7", "G#dim", "Ebmaj7/G", "Am7/E"])
@pytest.mark.parametrize("wish", ["-m3", "+M2", "+P5", "-A4"])
def test_chord_symbols_move_as_music21_moves_them(symbol: str, wish: str) -> None:
    def sounding(text: str) -> set[int]:
        plain = text.replace("♭", "-").replace("♯", "#").replace("b", "-")
        return {p.pitchClass for p in harmony.ChordSymbol(plain).pitches}

    theirs = m21chord.Chord(harmony.ChordSymbol(symbol.replace("b", "-")).pitches).transpose(
        Interval.parse(wish).semitones
    )
    assert sounding(transposed_symbol(symbol, Interval.parse(wish))) == {p.pitchClass for p in theirs.pitches}


SONGS = {
    "*/Lindenbaum.xml": ("B3", "E5"),
    "schumann_robert/opus48no2.mxl": ("F#4", "D5"),
    "beach/prayer_of_a_tired_child.musicxml": ("Eb4", "G5"),
}


@pytest.mark.parametrize("name", SONGS)
def test_the_voice_line_of_corpus_songs_is_found(name: str) -> None:
    """Range of the line found, against the ambitus music21 measures on the part named as the voice."""
    line = voice_line(scores.read(work(name)))
    assert (line.low.name, line.high.name) == SONGS[name]
    ambitus = converter.parse(work(name)).parts[0].analyze("ambitus")
    assert (line.low.midi, line.high.midi) == (ambitus.noteStart.pitch.midi, ambitus.noteEnd.pitch.midi)


def test_low_voice_editions_are_lower() -> None:
    """Songs for high voice are printed a third or so lower for low voice (common practice of song editions)."""
    line = voice_line(scores.read(work("beach/prayer_of_a_tired_child.musicxml")))
    high = suit(line, voice("soprano").tessitura, voice("soprano"))[0].transposition.interval.semitones
    low = suit(line, voice("contralto").tessitura, voice("contralto"))[0].transposition.interval.semitones
    assert -5 <= low - high <= -2


# MIDI numbers of the extremes; the six voice types as choral and vocal handbooks print them (The New Harvard
# Dictionary of Music, 1986, art. "Voice", from memory).
RANGES = {"soprano": (60, 84), "mezzo-soprano": (57, 81), "contralto": (53, 77), "tenor": (48, 72),
          "baritone": (43, 67), "bass": (40, 64)}  # fmt: skip


@pytest.mark.parametrize("name", RANGES)
def test_handbook_ranges_of_the_voices(name: str) -> None:
    span = voice(name).range
    assert (span.low.midi, span.high.midi) == RANGES[name]
