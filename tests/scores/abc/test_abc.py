"""ABC tunes: what the standard 2.1 says of keys, voices, words, repeats, tuplets (from memory)."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest

from tests.counting import growth
from trainer.music.keys import Key
from trainer.music.piece import Piece
from trainer.music.pitch import MusicError
from trainer.scores import reading
from trainer.scores.abc.abcvoice import TOKEN
from trainer.scores.notation.expressing import slurs_of
from trainer.scores.reading import from_bytes


def tune(body: str, key: str = "C", head: str = "", unit: str = "1/4", meter: str = "4/4") -> Piece:
    return from_bytes(f"X:1\nT:Tune\n{head}M:{meter}\nL:{unit}\nK:{key}\n{body}\n".encode(), "tune.abc")


def names(piece: Piece) -> str:
    return " ".join(note.pitch.name for note in piece.notes)


def lengths(piece: Piece) -> list[Fraction]:
    return [note.length for note in piece.notes]


def test_an_accidental_holds_to_the_end_of_its_bar() -> None:
    assert names(tune("_B B ^c' c|B c c' B|", "C")) == "Bb4 Bb4 C#6 C#5 B4 C5 C6 B4"
    assert names(tune("_B B =B B|B4|", "F")) == "Bb4 Bb4 B4 B4 Bb4"


@pytest.mark.parametrize("body", ["c4- & E4 | c4 & F4|", "E4 & c4- | F4 & c4|", "^c4- & E4 | c4 & F4|"])
def test_a_tie_belongs_to_its_own_voice_of_an_overlay(body: str) -> None:
    found = tune(f"D4-|D4|{body}")
    assert [note.length for note in found.notes if note.pitch.letter == "C"] == [8]


@pytest.mark.parametrize(("carry", "read"), [("pitch", "F#4 F#5 F#4"), ("octave", "F#4 F5 F#4"), ("not", "F#4 F5 F4")])
def test_how_far_an_accidental_reaches_may_be_said(carry: str, read: str) -> None:
    assert names(tune("^F f F z|", head=f"I:propagate-accidentals {carry}\n")) == read


def test_a_tie_carries_its_accidental_over_the_barline() -> None:
    found = tune("^F4-|F2 F2|")
    assert (names(found), lengths(found)) == ("F#4 F4", [6, 2])


@pytest.mark.parametrize(
    ("key", "body", "read", "named"),
    [
        ("D exp _e ^f", "D E F G|A B c d|", "D4 Eb4 F#4 G4 A4 B4 C5 D5", "D"),
        ("D Phr ^f", "D E F G|A B c d|", "D4 Eb4 F#4 G4 A4 Bb4 C5 D5", "D phrygian"),
        ("Bloc", "B c d e|f g a b|", "B4 C5 D5 E5 F5 G5 A5 B5", "B locrian"),
        ("Am ^g", "A B c d|e f g a|", "A4 B4 C5 D5 E5 F5 G#5 A5", "a"),
        ("F#m", "F G A B|c d e f|", "F#4 G#4 A4 B4 C#5 D5 E5 F#5", "f#"),
        ("Hp", "A B c d|e f g a|", "A4 B4 C#5 D5 E5 F#5 G5 A5", "A mixolydian"),
    ],
)
def test_a_key_is_read_whole(key: str, body: str, read: str, named: str) -> None:
    found = tune(body, key)
    assert (names(found), found.key) == (read, Key.parse(named))


@pytest.mark.parametrize("voices", ["[V:1]g4|e4|]\n[V:2]C,4|C,,4|]", "V:1\ng4|e4|]\nV:2 clef=bass\nC,4|C,,4|]"])
def test_voices_sound_together(voices: str) -> None:
    found = tune(voices, "G", head="V:1 clef=treble\nV:2 clef=bass\n")
    assert [(n.pitch.name, n.onset, n.hand) for n in found.notes] == [
        ("C3", 0, "left"), ("G5", 0, "right"), ("C2", 4, "left"), ("E5", 4, "right"),
    ]  # fmt: skip
    assert (len(found.bars), found.key) == (2, Key.parse("G"))


def test_two_staves_in_a_brace_are_the_piano_of_a_song() -> None:
    head = "%%score V {(A B) L}\n"
    found = tune("V:V\ng4|\nw:O\nV:A\ne4|\nV:B\nc2 B2|\nV:L clef=bass\nC,4|", head=head)
    assert [n.pitch.name for n in found.sung] == ["G5"]
    assert [(n.pitch.name, n.hand, n.voice) for n in found.notes] == [
        ("C3", "left", 1), ("C5", "right", 2), ("E5", "right", 1), ("B4", "right", 2),
    ]  # fmt: skip
    assert [word.text for word in found.lyrics] == ["O"]


@pytest.mark.parametrize(
    ("under", "sung"),
    [
        ("O qui-et night", "O@0 qui-@1 et@2 night@3"),
        ("O_ *night", "O@0 night@3"),
        ("O|far a~way", "O@0 far@4 a way@5"),
        (r"dim\-ly H\'e Stra\ss e", "dim-ly@0 Hé@1 Straß@2 e@3"),
        ("O|\n+:far", "O@0 far@4"),
        ("first\nw: second verse", "first@0"),
    ],
)
def test_words_stand_under_their_notes(under: str, sung: str) -> None:
    said = tune(f"C D {{g}}E F|G A B c|\nw: {under}").lyrics
    assert " ".join(f"{word.text}@{word.onset}" for word in said) == sung


def test_words_go_with_the_line_of_music_above_them() -> None:
    found = tune("C4|\nD4|\nw: one two\nE4|\nw: three")
    assert [(word.text, word.onset) for word in found.lyrics] == [("one", 0), ("two", 4), ("three", 8)]


def test_a_repeat_sings_the_next_verse() -> None:
    found = tune("|:C4|D4:|\nw: old song\nw: new tale\nE4|\nw: end")
    assert [word.text for word in found.lyrics] == ["old", "song", "new", "tale", "end"]


def test_rhythm() -> None:
    assert lengths(tune("A>B c<d|")) == [Fraction(3, 2), Fraction(1, 2), Fraction(1, 2), Fraction(3, 2)]
    assert lengths(tune("A>>B (3cde|")) == [Fraction(7, 4), Fraction(1, 4)] + [Fraction(2, 3)] * 3
    assert lengths(tune("(2AB (3:2:2c2d|", meter="6/8", unit="1/8")) == [
        Fraction(3, 4), Fraction(3, 4), Fraction(2, 3), Fraction(1, 3),
    ]  # fmt: skip
    assert lengths(tune("A3/2B/ c//d3//|")) == [Fraction(3, 2), Fraction(1, 2), Fraction(1, 4), Fraction(3, 4)]
    assert lengths(tune("(v.B>.G) A2|")) == [Fraction(3, 2), Fraction(1, 2), 2]
    assert [b.length for b in tune("A4|Z2|A4|").bars] == [4, 4, 4, 4]
    # A sign with no note before it in its bar or layer has nothing to shorten, and nothing sounds before the bar.
    for body in ("A4|<B2 c2|", "A4&<B2 c2|"):
        assert min(note.onset for note in tune(body).notes) == 0


def test_chords_layers_ornaments_and_fingers() -> None:
    found = tune("[CEG]2 !trill!!3!D2|c4&E2F2|")
    assert names(found) == "C4 E4 G4 D4 E4 C5 F4"
    assert (found.notes[3].ornament, found.notes[3].finger) == ("trill", 3)
    assert [note.voice for note in found.notes][4:] == [2, 1, 2]


def test_chord_symbols_of_every_spelling_are_kept() -> None:
    said = ["Dm7b5", "C6/9", "D5", "Gm(maj7)", "F#°7", "Bbø", "A7sus4/E"]
    found = tune("".join(f'"{symbol}"C4|' for symbol in said) + '"N.C."C4|"^slower"C4|')
    assert [word.text for word in found.chords] == said


def test_chord_symbols_by_german_letters_are_read_as_such_where_one_can_be_no_other() -> None:
    body = '"G"G4|"Hm"D4|"B"F4|"Es/B"G4|"Fis7"E4|"d"A4|"^Hm"A4|'
    assert [word.text for word in tune(body).chords] == ["G", "Bm", "Bb", "Eb/Bb", "F#7", "Dm"]
    assert [word.text for word in tune('"B"B4|"Asus4"A4|"^H"D4|').chords] == ["B", "Asus4"]


def test_endings_jumps_and_what_a_repeat_parts() -> None:
    assert names(tune("G|C D E F|1 G3:|2 c4|]")) == "G4 C4 D4 E4 F4 G4 G4 C4 D4 E4 F4 C5"
    assert names(tune("C4|!fine!D4|E4!D.C.!|")) == "C4 D4 E4 C4 D4"
    assert names(tune('C4|!segno!D4 "Fine"|E4|"D.S."')) == "C4 D4 E4 D4"
    assert names(tune("C4|!fine!D4|E4!D.C.alfine!|")) == "C4 D4 E4 C4 D4"
    assert names(tune("C4|!segno!D4!coda!|E4!D.S.alcoda!|!coda!F4|")) == "C4 D4 E4 D4 F4"
    assert names(tune('C4|D4 "Fine"|E4|"D. C. al Fine"')) == "C4 D4 E4 C4 D4"
    assert names(tune("|::C4::|D4::E4:|")) == "C4 C4 C4 D4 D4 E4 E4"
    assert [bar.number for bar in tune("G|C4|D3:|A|E4|F3:|").bars] == [0, 1, 2, 0, 1, 2, 2, 3, 4, 2, 3, 4]


def test_clef_octave_tempo_and_titles() -> None:
    low = tune("C2 E2|", "C clef=bass octave=-1", head='C:Ada\nS:the attic\nQ:"Slow" 3/8=40\n')
    assert [(n.pitch.name, n.hand) for n in low.notes] == [("C3", "left"), ("E3", "left")]
    assert (low.composer, low.source, low.tempo) == ("Ada", "the attic", 60)


def test_what_cannot_be_read_is_said() -> None:
    with pytest.raises(MusicError, match="length near bar 2"):
        tune("C4|D/99999 E|")
    with pytest.raises(MusicError, match="no piano"):
        tune("C,,,,,,,,|")
    with pytest.raises(MusicError, match="no notes"):
        tune("z4|")
    with pytest.raises(MusicError, match="32 voices"):
        tune("\n".join(f"V:{n}\nC4|" for n in range(40)))


@pytest.mark.parametrize(
    ("order", "read"),
    [("AABB", "C4 C4 D4 D4"), ("A2.B", "C4 C4 D4"), ("(AB)2A", "C4 D4 C4 D4 C4"), ("BA", "D4 C4"),
     ("A (slow)", "C4 D4"), ("", "C4 D4"), ("ABX", "C4 D4"), ("(AB", "C4 D4")],
)  # fmt: skip
def test_parts_are_played_in_the_order_the_head_says(order: str, read: str) -> None:
    """ABC 2.1, 3.1.9 (from memory)."""
    head = f"P:{order}\n" if order else ""
    found = tune("P:A\nC4|\nP:B\nD4|", head=head)
    assert names(found) == read
    assert [n.onset for n in found.notes] == [4 * at for at in range(len(found.notes))]
    assert names(tune("[P:A]C4|[P:B]D4|", head=head)) == read


def test_a_part_keeps_its_repeats_and_endings_and_verses_go_on() -> None:
    body = "z4|\nP:A\n|:C4|1 D4:|2 E4|\nw:one two three\nw:four five six\nP:B\nG4|"
    found = tune(body, head="P:ABA\n")
    assert names(found) == "C4 D4 C4 E4 G4 C4 D4 C4 E4"
    assert found.notes[0].onset == 4
    assert [word.text for word in found.lyrics][:4] == ["one", "two", "four", "six"]


def test_both_voices_keep_to_the_order_of_parts() -> None:
    body = "P:A\n[V:1]C4|\n[V:2]C,4|\nP:B\n[V:1]D4|\n[V:2]D,4|"
    found = tune(body, head="P:BA\n%%score {1 2}\nV:1\nV:2\n")
    assert sorted((n.onset, n.pitch.name) for n in found.notes) == [(0, "D3"), (0, "D4"), (4, "C3"), (4, "C4")]


@pytest.mark.parametrize(
    ("field", "read", "key"),
    [("K:D transpose=-2", "C4 E4 F#4", "C"), ("K:D clef=treble transpose=3", "F4 A4 B4", "F"),
     ("K:Ddor transpose=-2", "C4 Eb4 F#4", "C dorian"), ("K:C transpose=-12", "C3 E3 F#3", "C"),
     ("K:D transpose=0", "D4 F#4 G#4", "D")],
)  # fmt: skip
def test_a_part_for_another_instrument_is_read_as_it_sounds(field: str, read: str, key: str) -> None:
    body = "CE^F" if key == "C" and "-12" in field else "DF^G"
    found = from_bytes(f'X:1\nM:3/4\nL:1/4\n{field}\n"D"{body}|\n'.encode(), "x.abc")
    assert (names(found), found.key) == (read, Key.parse(key))


def test_a_transposing_voice_carries_ties_accidentals_and_chords_along(tmp_path: Path) -> None:
    text = 'X:1\nM:2/4\nL:1/4\nK:D\nV:1 transpose=-2 name="Clarinet transpose=5"\n"A7"^G2-|G G|[K:A]G2|\n'
    found = from_bytes(text.encode(), "x.abc")
    assert (names(found), lengths(found)) == ("F#4 F4 F#4", [3, 1, 2])
    assert [c.key.short for c in found.keys] == ["C", "G"]
    assert [w.text for w in found.chords] == ["G7"]
    place = tmp_path / "x.abc"
    place.write_text(text)
    assert reading.is_transposing(place)


@pytest.mark.parametrize("unit", ["[K:D]c[K:none]d|", "[K:D]c", "c(", "(c"])
def test_a_long_line_is_read_once(unit: str) -> None:
    """Four times as long a line takes about four times as much; gone over again for each sign it would take sixteen."""

    def reading_of(signs: int) -> Callable[[], object]:
        text = f"X:1\nL:1/8\nK:C\nc4|{unit * (signs // len(unit))}\n"
        return lambda: from_bytes(text.encode(), "x.abc")

    assert growth(reading_of, 1200) < 5


@pytest.mark.parametrize("opened", ["[CE]", "{c}", "[K:D]"])
def test_what_opens_anew_before_it_is_closed_is_nothing(opened: str) -> None:
    """Else a line of opening signs alone would be gone over to its end for each of them."""
    assert TOKEN.fullmatch(opened)
    assert not TOKEN.match(opened[:-1] + opened)


def test_a_key_within_a_further_layer_stands_in_its_place() -> None:
    found = tune("C2 [K:F]B2 & G, [K:Eb] E3|E4|")
    assert [(c.onset, c.key.short) for c in found.keys] == [(0, "C"), (1, "Eb"), (2, "F")]


def test_without_a_meter_no_bar_is_a_pickup() -> None:
    found = from_bytes(b"X:1\nL:1/8\nK:C\nfaf gfe|dfe dBA|c6|\n", "x.abc")
    assert [b.number for b in found.bars] == [1, 2, 3]


def test_slurs_articulations_dynamics_hairpins_and_words_are_read() -> None:
    found = tune('!p!(C .D !crescendo(!(E) !>!F) | "^rit."(3(GAB) !crescendo)!!fermata!c !f!z')
    assert [sorted(one.signs) for one in found.notes] == [
        ["("], ["staccato"], [], [")n1", "accent"], ["("], [], [")n5"], ["fermata"]
    ]  # fmt: skip
    said = [(word.onset, word.text) for word in found.directions]
    assert said == [(0, "p"), (2, "<"), (4, "rit."), (6, "!"), (7, "f")]


def test_a_slur_within_another_one_over_a_tie_and_one_without_its_end() -> None:
    found = tune("(C (D E) F-|F G) (A B|c4|")
    assert slurs_of(found) == {0: [("start", 1)], 1: [("start", 2)], 2: [("stop", 2)], 4: [("stop", 1)]}
    assert slurs_of(tune("C- | (C D) .(E F) |")) == {
        0: [("start", 1)], 1: [("stop", 1)], 2: [("start", 2)], 3: [("stop", 2)]
    }  # fmt: skip


def test_a_finger_before_a_chord_is_that_of_its_highest_note_over_which_it_is_drawn() -> None:
    found = tune("!4![FA]!5![EGc]!1![A,C]|")
    assert [note.finger for note in found.notes] == [None, 4, None, None, 5, None, 1]


def test_fingers_signs_and_slurs_inside_a_chord_are_its_notes_own_and_no_notes() -> None:
    """The letters of ``!accent!`` were read as keys to strike."""
    found = tune('[!1!C!accent!!5!G] ["^a"D.F] {!accent!e}[(C(E] [D)F)] | [!fermata!CEG]4 |')
    assert names(found) == "C4 G4 D4 F4 E5 C4 E4 D4 F4 C4 E4 G4"
    assert [note.finger for note in found.notes[:3]] == [1, 5, None]
    assert [note.signs for note in found.notes[:4]] == [(), ("accent",), (), ("staccato",)]
    assert [sorted(note.signs) for note in found.notes[5:10]] == [["("], ["("], [")n6"], [")n7"], ["fermata"]]
    outer = tune("([C(E] [DF)]) (G4|[(C(E] [D)F)] G)|")
    assert slurs_of(outer) == {
        0: [("start", 1)], 1: [("start", 2)], 2: [("stop", 1)], 3: [("stop", 2)],
        4: [("start", 3)], 5: [("start", 1)], 6: [("start", 2)], 7: [("stop", 1)], 8: [("stop", 2)], 9: [("stop", 3)],
    }  # fmt: skip


def test_a_sign_over_a_rest_is_not_the_next_notes() -> None:
    found = tune("!fermata!z !trill!z !3!z c|")
    assert [(note.signs, note.ornament, note.finger) for note in found.notes] == [((), "", None)]
