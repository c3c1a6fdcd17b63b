"""Harmony by degree and function; corrections; symbols; the skeleton to play."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from tests.music.tunes import tune
from trainer.music.chordsymbol import parse as parse_symbol
from trainer.music.keys import Key
from trainer.music.piece import LEFT, RIGHT, Bar, KeyChange, Note, Piece, Word, sorted_notes
from trainer.music.pitch import MusicError, SpelledPitch
from trainer.music.transpose import plan, transposed
from trainer.scores import reading
from trainer.scores.harmony import Correction, corrected, harmonies, numeral_of, skeleton
from trainer.scores.numerals import DOMINANT, LOW_SIXTH, SUBDOMINANT, TABLE, TONIC, of_keys, parse
from trainer.scores.shelf import library


def chords(key: str, *rows: str) -> Piece:
    """One chord a bar of 4/4: the first pitch in the left hand, the rest in the right."""
    notes = []
    for bar, row in enumerate(rows):
        for place, name in enumerate(row.split()):
            hand = RIGHT if place else LEFT
            notes.append(Note(f"n{bar}-{place}", SpelledPitch.parse(name), Fraction(4 * bar), Fraction(4), hand))
    bars = tuple(Bar(i + 1, Fraction(4 * i), Fraction(4)) for i in range(len(rows)))
    return Piece("chords", sorted_notes(notes), bars, (KeyChange(Fraction(0), Key.parse(key)),))


CADENCE = chords("C", "C3 E4 G4 C5", "F3 F4 A4 C5", "B2 F4 G4 D5", "C3 E4 G4 C5", "A2 G4 C#5 E5", "D3 F4 A4 D5")
MINOR = chords("c", "C3 Eb4 G4 C5", "F3 Ab4 C5", "Ab2 C4 Eb4 F#4", "G2 B3 D4 G4", "B2 D4 F4 Ab4", "C3 Eb4 G4")


def figures(piece: Piece) -> list[str]:
    return [harmony.numeral.figure for harmony in harmonies(piece)]


def test_degrees_inversions_and_applied_dominants() -> None:
    assert figures(CADENCE) == ["I", "IV", "V65", "I", "V7/ii", "ii"]
    assert figures(MINOR) == ["i", "iv", "Ger65", "V", "viio7", "i"]


def test_functions() -> None:
    assert [h.numeral.function for h in harmonies(CADENCE)] == [
        TONIC, SUBDOMINANT, DOMINANT, TONIC, "dominant of ii", SUBDOMINANT,
    ]  # fmt: skip
    assert harmonies(CADENCE)[2].words == "V65, dominant"


@pytest.mark.parametrize("target", ["Eb", "F#", "B", "Db", "A"])
def test_numerals_stay_when_the_piece_is_transposed(target: str) -> None:
    assert figures(transposed(CADENCE, plan(Key.parse("C"), target).interval)) == figures(CADENCE)


def test_symbols_of_what_was_found() -> None:
    assert [h.symbol for h in harmonies(CADENCE)] == ["C", "F", "G7/B", "C", "A7", "Dm"]


def test_a_chord_goes_on_until_the_next() -> None:
    held = chords("C", "C3 E4 G4", "C3 E4 G4", "G2 D4 B4")
    found = harmonies(held)
    assert [(h.numeral.figure, h.onset, h.length) for h in found] == [("I", 0, 8), ("V", 8, 4)]


def line(hand: str, voice: int, length: str, names: str) -> list[Note]:
    """Notes of one length one after the other."""
    step = Fraction(length)
    pitches = [SpelledPitch.parse(name) for name in names.split()]
    return [Note(f"{hand}{voice}-{at}", pitch, at * step, step, hand, voice) for at, pitch in enumerate(pitches)]


def bars(count: int, meter: tuple[int, int], key: str, *lines: list[Note]) -> Piece:
    length = Fraction(4 * meter[0], meter[1])
    row = tuple(Bar(i + 1, length * i, length, meter) for i in range(count))
    notes = sorted_notes(note for each in lines for note in each)
    return Piece("figures", notes, row, (KeyChange(Fraction(0), Key.parse(key)),))


@pytest.mark.parametrize(
    ("meter", "key", "left", "length", "right", "long", "found"),
    [
        ((6, 8), "a", "A2 E3 A3 C4 A3 E3 G2 D3 G3 B3 G3 D3", "1/2", "C5 E5 D5 B4", "3/2", ["i", "VII"]),
        ((4, 4), "C", "C3 G3 E3 G3 C3 G3 E3 G3 B2 G3 D3 G3 B2 G3 F3 G3", "1/2", "E5 G5", "4", ["I", "V65"]),
        ((3, 4), "C", "C3 E3 G3 F3 A3 C4", "1", "E5 F5", "3", ["I", "IV"]),
    ],
    ids=["jig", "alberti", "waltz"],
)
def test_a_broken_chord_stands_on_its_lowest_note(
    meter: tuple[int, int], key: str, left: str, length: str, right: str, long: str, found: list[str]
) -> None:
    """Figured bass of a broken chord is that of its lowest note (common practice, no source)."""
    piece = bars(2, meter, key, line(LEFT, 1, length, left), line(RIGHT, 1, long, right))
    assert figures(piece) == found


def test_a_bass_part_of_its_own_still_moves_under_a_chord() -> None:
    moving = bars(
        1, (4, 4), "C", line(LEFT, 2, "2", "C3 E3"), line(LEFT, 1, "2", "G3 C4"), line(RIGHT, 1, "2", "E4 G4")
    )
    assert figures(moving) == ["I", "I6"]
    lower = bars(1, (4, 4), "C", line(LEFT, 1, "2", "C3 G2"), line(RIGHT, 1, "4", "E4"), line(RIGHT, 2, "4", "G4"))
    assert figures(lower) == ["I", "I64"]


def test_a_chord_without_a_left_hand_stands_on_its_root() -> None:
    alone = bars(1, (4, 4), "C", line(RIGHT, 1, "4", "D4"), line(RIGHT, 2, "4", "F4"), line(RIGHT, 3, "4", "A4"),
                 line(RIGHT, 4, "4", "C5"))  # fmt: skip
    assert figures(alone) == ["ii7"]


def test_a_chord_of_the_bundled_pieces_is_not_divided_by_a_passing_note() -> None:
    """Beside the harmonies a handbook would print: Greensleeves, one chord a bar (traditional, from memory)."""
    piece = reading.read(library.find("greensleeves"))
    assert figures(piece)[:5] == ["i", "VII", "VI", "V", "i"]
    song = reading.read(library.find("aura-lee"))
    # Two half notes in the left hand, four notes above: no third chord for the last of them.
    assert [h.onset for h in harmonies(song) if h.onset < song.bars[1].onset] == [0, 2]


def test_no_chord_of_the_bundled_pieces_has_an_altered_note_that_nobody_hears() -> None:
    """A dominant of another degree is told by its leading note: re and mi alone are no V7 of vi."""
    own = {"major": set(range(-1, 6)), "minor": {*range(-4, 4), 5}}
    unheard, altered_chords = [], 0
    for path in sorted(library.bundled_folder().rglob("*.musicxml")):
        piece = reading.read(path)
        for found in harmonies(piece):
            home = found.key.tonic.fifths
            altered = [place for place in found.numeral.fifths if place not in own[found.key.mode]]
            notes = (*piece.notes, *piece.sung)
            sounds = [n for n in notes if n.end > found.onset and n.onset < found.onset + found.length]
            heard = {(note.pitch.fifths - home) % 12 for note in sounds}
            altered_chords += bool(altered)
            if altered and not any(place % 12 in heard for place in altered):
                unheard.append(f"{path.stem}, {piece.bar_at(found.onset).words}: {found.numeral.sign}")
    assert unheard == []
    assert altered_chords > 10


def test_a_tune_alone_has_the_primary_chords() -> None:
    """As a child's first harmony has it: tonic, dominant where the tune stands on re, tonic (traditional)."""
    tune_alone = reading.read(library.find("mary-had-a-little-lamb"))
    assert figures(tune_alone) == ["I", "V", "I", "V", "I"]


def test_a_tune_that_begins_alone_begins_on_its_tonic() -> None:
    """Do re mi do, twice, before the second voice comes in (traditional)."""
    canon = reading.read(library.find("frere-jacques"))
    assert [h.numeral.figure for h in harmonies(canon) if h.onset < 8] == ["I"]


def test_a_correction_divides_a_chord_and_stands() -> None:
    found = harmonies(CADENCE, [Correction(Fraction(6), "ii6")])
    assert [(h.numeral.figure, h.onset, h.length, h.corrected) for h in found[1:3]] == [
        ("IV", 4, 2, False), ("ii6", 6, 2, True),
    ]  # fmt: skip
    whole = corrected(harmonies(CADENCE), [Correction(Fraction(4), "♭VI")])
    assert (whole[1].numeral.figure, len(whole)) == ("bVI", 6)


@pytest.mark.parametrize("figure", ["H7", "", "IIII", "V7/", "V/V/V/V", "I'; drop", "I" * 500])
def test_a_correction_that_is_no_numeral_is_refused(figure: str) -> None:
    with pytest.raises(MusicError, match="not a Roman numeral"):
        harmonies(CADENCE, [Correction(Fraction(0), figure)])


def test_a_numeral_the_table_lacks_is_read_all_the_same() -> None:
    nine = parse("V9", "major")
    assert {p.sign_name for p in nine.pitches(Key.parse("D"))} == {"A", "C♯", "E", "G", "B"}
    assert nine.function == DOMINANT


@pytest.mark.parametrize("mode", ["major", "minor"])
def test_every_numeral_of_the_table_reads_back(mode: str) -> None:
    for figure, (fifths, _) in TABLE[mode].items():
        assert parse(figure, mode).fifths == fifths


@pytest.mark.parametrize("mode", ["major", "minor"])
def test_every_chord_of_the_table_is_named_from_its_keys_in_any_key(mode: str) -> None:
    for figure, (fifths, _) in TABLE[mode].items():
        for tonic in (0, 5, 11):
            low = fifths.index(LOW_SIXTH) if "6" in figure or "43" in figure else 0
            keys = [36 + (tonic + fifths[low] * 7) % 12] + [60 + (tonic + place * 7) % 12 for place in fifths]
            found = of_keys(keys, tonic, mode)
            assert found is not None, figure
            assert {place * 7 % 12 for place in found.fifths} == {place * 7 % 12 for place in fifths}
            assert TABLE[mode][figure][1] >= min(
                cost for notes, cost in TABLE[mode].values() if notes == found.fifths
            ), "the likeliest of several names"
            assert parse(found.figure, mode) == found


@pytest.mark.parametrize(
    ("keys", "tonic", "mode", "figure"),
    [((47, 62, 65, 67), 0, "major", "V65"), ((59, 65, 67), 0, "major", "V65"), ((55, 60, 64, 72), 0, "major", "I64"),
     ((51, 58, 67, 73), 3, "major", "V7/IV"), ((56, 60, 63, 66), 0, "major", "Ger65"),
     ((47, 50, 55), 4, "minor", "III6"), ((60, 61, 62), 0, "major", None), ((60, 64), 0, "major", None),
     ((), 0, "major", None)],
)  # fmt: skip
def test_chords_named_from_the_keys_held(keys: tuple[int, ...], tonic: int, mode: str, figure: str | None) -> None:
    found = of_keys(keys, tonic, mode)
    assert (found.figure if found else None) == figure


def test_an_augmented_sixth_has_the_low_sixth_in_the_bass() -> None:
    for figure in ("It6", "Ger65", "Fr43"):
        for mode, key in (("major", "C"), ("minor", "c")):
            assert parse(figure, mode).pitches(Key.parse(key))[0].sign_name == "A♭"


def test_signs_a_keyboard_lacks_have_another_form() -> None:
    assert parse("vii/o7", "major") == parse("viiø7", "major")
    assert parse("viio7/V", "major") == parse("vii°7/V", "major")


@pytest.mark.parametrize(
    ("symbol", "key", "figure"),
    [("G7/B", "C", "V65"), ("A7", "C", "V7/ii"), ("Bb", "C", "bVII"), ("F#m7b5", "e", "iiø7"), ("Fm", "C", "iv"),
     ("Eb7", "C", "bIII7"), ("Dsus4", "G", "V"), ("C9", "F", "V7"), ("Cma7", "C", "I7"), ("CMaj7/E", "C", "I65"),
     ("D-7", "C", "ii7"), ("Dmi7", "C", "ii7"), ("Bø", "C", "viiø7"), ("B-7b5", "C", "viiø7"), ("Co7", "C", "io7"),
     ("Bm7(b5)", "a", "iiø7"), ("G7b9", "C", "V7"), ("G13#11", "C", "V7"), ("G7alt", "c", "V7"), ("G+7", "C", "V7"),
     ("A7-9", "C", "V7/ii"), ("C69", "C", "I"), ("Cadd9", "C", "I"), ("Cm7b5", "C", "iø7"), ("C△", "C", "I7")],
)  # fmt: skip
def test_chord_symbols_as_numerals(symbol: str, key: str, figure: str) -> None:
    chord = parse_symbol(symbol)
    assert chord is not None
    assert numeral_of(chord, Key.parse(key)).figure == figure


def test_printed_symbols_stand_above_what_would_be_found() -> None:
    song = replace(
        tune("G", "B4 D5 A4 F#4 G4"),
        chords=tuple(Word(Fraction(at), text) for at, text in ((0, "G"), (2, "D7/F#"), (3, "N.C."), (4, "G"))),
    )
    assert figures(song) == ["I", "V65", "I"]
    moved = transposed(song, plan(song.key, "Eb").interval)
    assert figures(moved) == figures(song)
    assert [h.symbol for h in harmonies(moved)] == ["E♭", "B♭7/D", "E♭"]


def test_the_skeleton_holds_every_chord_and_nothing_else() -> None:
    bones = skeleton(CADENCE, harmonies(CADENCE))
    for harmony in harmonies(CADENCE):
        struck = [n for n in bones.notes if n.onset == harmony.onset]
        wanted = {p.pitch_class for p in harmony.numeral.pitches(harmony.key)}
        assert {n.pitch.pitch_class for n in struck if n.hand == RIGHT} == wanted
        low = [n for n in struck if n.hand == LEFT]
        assert [n.pitch.pitch_class for n in low] == [harmony.numeral.pitches(harmony.key)[0].pitch_class]
    assert [w.text for w in bones.lyrics] == [h.numeral.sign for h in harmonies(CADENCE)]
    assert bones.key == CADENCE.key


def test_the_skeleton_moves_smoothly_and_never_past_a_barline() -> None:
    bones = skeleton(CADENCE, harmonies(chords("C", "C3 E4 G4", "C3 E4 G4", "G2 D4 B4")))
    assert all(note.end <= bones.bar_at(note.onset).onset + bones.bar_at(note.onset).length for note in bones.notes)
    tops = [max(n.midi for n in bones.notes if n.onset == onset) for onset in (0, 4, 8)]
    assert max(abs(a - b) for a, b in pairwise(tops)) <= 4


def test_nothing_to_play_is_said() -> None:
    with pytest.raises(MusicError, match="no chords"):
        skeleton(CADENCE, ())


def test_each_passage_is_read_in_its_own_key() -> None:
    two = replace(
        chords("C", "C3 E4 G4", "G2 B3 D4", "G2 B3 D4", "D3 F#4 A4"),
        keys=(KeyChange(Fraction(0), Key.parse("C")), KeyChange(Fraction(8), Key.parse("G"))),
    )
    assert figures(two) == ["I", "V", "I", "V"]
