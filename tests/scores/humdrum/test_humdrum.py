"""Humdrum: spines that split and join, and what stands in a **kern score beside its notes."""

from __future__ import annotations

import re
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import pytest

from tests.counting import steps_of
from trainer.music.keys import Key
from trainer.music.piece import Piece
from trainer.music.pitch import MusicError
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.humdrum import humdrum
from trainer.scores.reading import from_bytes, left_out


def document(*rows: str) -> bytes:
    """Rows whose columns are parted by bars of white space of two and more."""
    return ("\n".join("\t".join(part for part in row.split("  ") if part) for row in rows) + "\n").encode()


def line(*rows: str, head: tuple[str, ...] = ("*M4/4",)) -> Piece:
    return from_bytes(document("**kern", *head, *rows, "*-"), "x.krn")


def notes(piece: Piece) -> list[tuple[str, Fraction, Fraction]]:
    return [(note.pitch.name, note.onset, note.length) for note in piece.notes]


PIANO = ("**kern  **kern  **dynam", "*Ipiano  *Ipiano  *Ipiano", "*staff2  *staff1  *staff1/2",
         "*clefF4  *clefG2  *", "*M3/4  *M3/4  *")  # fmt: skip


def test_a_piano_of_two_spines_is_one_part_whose_layers_are_voices() -> None:
    found = from_bytes(
        document(*PIANO, "=1  =1  =1", "2.C  4e  p", ".  4f  <", ".  4g  [", "=2  =2  =2", "*  *^  *",
                 "4C  2.ee  4r  .", "4E 4G  .  8c 8e  .", ".  .  8d 8f  .", "4r  .  4e 4g  f", "*  *v  *v  *",
                 "==  ==  ==", "*-  *-  *-"), "x.krn")  # fmt: skip
    played = [(n.pitch.name, n.onset, n.hand, n.voice) for n in found.notes if n.onset >= 3]
    assert played == [
        ("C3", 3, "left", 1), ("E5", 3, "right", 1), ("E3", 4, "left", 1), ("G3", 4, "left", 1),
        ("C4", 4, "right", 2), ("E4", 4, "right", 2), ("D4", Fraction(9, 2), "right", 2),
        ("F4", Fraction(9, 2), "right", 2), ("E4", 5, "right", 2), ("G4", 5, "right", 2),
    ]  # fmt: skip
    assert [(d.onset, d.text, d.place) for d in found.directions] == [(0, "p", ""), (1, "<", ""), (2, "!", ""),
                                                                     (5, "f", "")]  # fmt: skip
    assert {note.staff for note in found.notes if note.hand == "left"} == {2}


def test_lengths_ties_and_small_notes() -> None:
    found = line("=1", "[4c", "8c]", "12d", "12e", "12f", "3%2g", "=2", "16qqa", "16qqb", "1cc", "==")
    third = Fraction(1, 3)
    assert notes(found)[:5] == [
        ("C4", 0, Fraction(3, 2)), ("D4", Fraction(3, 2), third), ("E4", Fraction(11, 6), third),
        ("F4", Fraction(13, 6), third), ("G4", Fraction(5, 2), Fraction(8, 3)),
    ]  # fmt: skip
    assert [(n.pitch.name, n.grace, n.length) for n in found.notes[5:]] == [
        ("A4", True, 0), ("B4", True, 0), ("C5", False, 4)]  # fmt: skip


def test_a_chord_whose_first_note_says_its_length_for_all() -> None:
    assert notes(line("=1", "2.e c G", "4r", "==")) == [("G3", 0, 3), ("C4", 0, 3), ("E4", 0, 3)]


@pytest.mark.parametrize(
    ("word", "ornament", "signs"),
    [("4cT", "trill", ()), ("4cM", "mordent", ("inverted-mordent",)), ("4cW", "mordent", ()), ("4cS", "turn", ()),
     ("4c:", "arpeggio", ()), ("4c';", "", ("staccato", "fermata")), ("4c^^", "", ("strong-accent",)),
     ("4c@16@", "tremolo", ("//",)), ("8.c@32@", "tremolo", ("//",)), ("4cyy", "", ("cue",))],
)  # fmt: skip
def test_how_a_note_is_played(word: str, ornament: str, signs: tuple[str, ...]) -> None:
    """The engraver draws these words of **kern as MusicXML names them here."""
    first = line("=1", word, "2.d", "==").notes[0]
    assert (first.ornament, first.signs, first.optional) == (ornament, signs, "cue" in signs)


def test_a_tremolo_between_two_notes_is_written_with_the_value_of_both() -> None:
    """Of single strokes a note is repeated itself; twice the sign, and it is in turn with its neighbour."""
    found = line("=1", "2c@@32@@", "2e@@32@@", "=2", "8c@@32@@ 8e@@32@@", "8g@@32@@", "4c@32@", "2r", "==")
    ends = [(n.pitch.name, n.length, n.signs) for n in found.notes if not n.onset % 1]
    assert ends == [
        ("C4", 2, ("///", "tremolo-start")), ("E4", 2, ("///", "tremolo-stop")),
        ("C4", Fraction(1, 2), ("///", "tremolo-start")), ("E4", Fraction(1, 2), ("///", "tremolo-start")),
        ("C4", 1, ("///",)),
    ]  # fmt: skip
    written = re.findall(r"<type>(\w+)|<tremolo type=\"(\w+)\"", to_musicxml(found))
    assert [kind or end for kind, end in written][:4] == ["whole", "start", "whole", "stop"]


def test_a_hairpin_that_begins_and_ends_with_one_note_lasts_as_long_as_it() -> None:
    rows = ("=1  =1", "2.c  p <[", "4d  f >]", "=2  =2", "1e  .", "==  ==", "*-  *-")
    found = from_bytes(document("**kern  **dynam", "*M4/4  *", *rows), "x.krn")
    assert [(word.onset, word.text) for word in found.directions] == [
        (0, "p"), (0, "<"), (3, "!"), (3, "f"), (3, ">"), (4, "!"),
    ]  # fmt: skip


def test_slurs_go_from_note_to_note_and_one_of_a_chord_belongs_to_it() -> None:
    found = line("=1", "(4c", "(4d", "4e)", "4f)", "=2", "(4c (4e", "4d) 4f)", "2r", "==")
    marks = [(n.id, tuple(s for s in n.signs if s[0] in "()")) for n in found.notes]
    assert marks == [("n1", ("(",)), ("n2", ("(",)), ("n3", (")n2",)), ("n4", (")n1",)), ("n5", ("(",)), ("n6", ()),
                     ("n7", (")n5",)), ("n8", ())]  # fmt: skip


def test_pickup_and_bars_parted_by_a_repeat_keep_their_numbers() -> None:
    found = line("4g", "=1", "4c", "2d", "=:|!", "4g", "=2", "2.c", "==", head=("*M3/4",))
    # The signs of the repeat part bar 1; what comes after them is its rest and not a bar of its own.
    assert [bar.number for bar in found.bars] == [0, 1, 0, 1, 1, 2]
    assert [bar.length for bar in found.bars] == [1, 3, 1, 3, 1, 3]


def test_the_order_of_the_passages_is_the_documents_own() -> None:
    """Endings of a repeat have names of their own in it, and `norep` is the way without repeats."""
    rows = ("*>[A,A1,A,A2,B]", "*>norep[A,A2,B]", "*>A", "=1", "1c", "*>A1", "=2", "1d", "=3:|!", "*>A2", "1e", "=4",
            "*>B", "1f", "==")  # fmt: skip
    assert [name for name, *_ in notes(line(*rows))] == ["C4", "D4", "C4", "E4", "F4"]
    unordered = [row for row in rows if "[" not in row]
    assert [name for name, *_ in notes(line(*unordered))] == ["C4", "D4", "C4", "E4", "F4"]


def test_what_is_written_over_the_notes_sends_the_player_back() -> None:
    found = line("=1", "!LO:TX:a:t=rit.", "1c", "=2", "1d", "=3", "!LO:TX:b:t=D.C.", "1e", "==")
    assert [name for name, *_ in notes(found)] == ["C4", "D4", "E4", "C4", "D4", "E4"]
    assert next(word.text for word in found.directions) == "rit."


@pytest.mark.parametrize(
    ("signature", "tonic", "named"),
    [("*k[f#]", "*G:", "G major"), ("*k[]", "*e:phr", "E phrygian"), ("*k[]", "*d:", "D dorian"),
     ("*k[b-e-]", "*g:", "G minor"), ("*k[f#]", "*", "G major")],
)  # fmt: skip
def test_the_signature_is_the_pages_and_the_tonic_the_documents(signature: str, tonic: str, named: str) -> None:
    """Minor music under an older signature keeps its page, which has none of the flats of today."""
    found = line(signature, tonic, "=1", "4g", "4b", "4d", "4g", "==")
    assert (found.key.name, found.key.signature) == (named, 0 if "[]" in signature else found.key.signature)


def test_meters_keep_their_symbol_and_change_with_the_bar() -> None:
    found = line("*M2/2", "*met(c|)", "=1", "1c", "=2", "*M3/4", "*met()", "2.d", "=3", "2.e", "==", head=())
    assert [(bar.meter, bar.symbol) for bar in found.bars] == [((2, 2), "cut"), ((3, 4), ""), ((3, 4), "")]


SONG = document(
    "**kern  **kern  **kern  **text  **text", "*Ipiano  *Ipiano  *Ivox  *  *", "*staff3  *staff2  *staff1  *  *",
    "*M3/4  *M3/4  *M3/4  *  *", "=1  =1  =1  =1  =1", "2.C  2.e g  4cc  Mor-  A-", ".  .  4dd  -ning  -bend",
    ".  .  4ee  comes  f&uuml;r", "==  ==  ==  ==  ==", "*-  *-  *-  *-  *-",
)  # fmt: skip


def test_a_song_keeps_every_verse() -> None:
    found = from_bytes(SONG, "song.krn")
    assert [singer.name for singer in found.singers] == ["Voice"]
    assert [n.pitch.name for n in found.notes] == ["C3", "E4", "G4"]
    assert [word.text for word in found.lyrics] == ["Mor-", "ning", "comes"]
    assert [(verse.number, [word.text for word in verse.words]) for verse in found.verses] == [
        (2, ["A-", "bend", "für"])]  # fmt: skip


def test_fingers_and_chord_symbols_beside_the_notes() -> None:
    found = from_bytes(
        document("**kern  **fing  **mxhm", "*M2/4  *  *", "=1  =  =", "4c 4e  1 3  C major", "4g  5  G dominant/B",
                 "==  ==  ==", "*-  *-  *-"), "x.krn")  # fmt: skip
    assert [(n.pitch.name, n.finger) for n in found.notes] == [("C4", 1), ("E4", 3), ("G4", 5)]
    assert [(word.onset, word.text) for word in found.chords] == [(0, "C"), (1, "G7/B")]


def test_what_stands_beside_a_note_that_goes_on_comes_while_it_does() -> None:
    found = from_bytes(
        document("**kern  **mxhm", "*M4/4  *", "=1  =", "1c  C major", ".  F major", "=2  =",
                 "2.d  D minor", ".  A minor", ".  G dominant", "4e  E minor", "==  ==", "*-  *-"), "x")  # fmt: skip
    assert [(word.onset, word.text) for word in found.chords] == [
        (0, "C"), (2, "F"), (4, "Dm"), (5, "Am"), (6, "G7"), (7, "Em"),
    ]  # fmt: skip


def test_who_wrote_it_and_what_it_is_called() -> None:
    head = ("!!!COM: Winter, Ada", "!!!LYR: Sommer, Bela", "!!!OTL@@DE: F&uuml;r Gro&szlig;e", "!!!YEM: Public domain")
    found = from_bytes(document(*head, "**kern", "=1", "1c", "==", "*-"), "x.krn")
    assert (found.composer, found.title, found.licence) == ("Ada Winter", "Für Große", "Public domain")
    assert found.by == "Ada Winter, words by Bela Sommer"


def test_a_further_piece_in_the_file_is_said_to_be_left_out(tmp_path: Path) -> None:
    both = document("**kern", "=1", "1c", "==", "*-", "**kern", "=1", "1d", "==", "*-")
    path = tmp_path / "two.krn"
    path.write_bytes(both)
    assert [name for name, *_ in notes(from_bytes(both, "two.krn"))] == ["C4"]
    assert "holds 2 tunes" in left_out(path)


@pytest.mark.parametrize(
    ("rows", "says"),
    [(("**kern  **kern", "4c", "*-  *-"), "line 2 does not have a column for each of 2 spines"),
     (("**kern", "4c", "1%0c"), "line 3"),
     (("**kern", "4cccccccccc"), "line 2"), (("**kern", "4r"), "no notes"), (("**kern", "99999999c"), "line 2"),
     (("**kern", *("\t".join(["*^"] * 2**n) for n in range(9))), "more than 64 spines")],
)  # fmt: skip
def test_what_cannot_be_read_is_said_with_its_line(rows: tuple[str, ...], says: str) -> None:
    with pytest.raises(MusicError, match=says) as refusal:
        from_bytes(document(*rows), "x.krn")
    assert str(refusal.value).count("x.krn") == 1


def test_a_long_score_is_read_at_once() -> None:
    """Through music21 a page of four parts took seconds, and was refused."""
    row = "\t".join(["4C", "4G", "4e", "4cc"])
    rows = [f"=\t=\t=\t=\n{row}\n{row}\n{row}\n{row}" for _ in range(600)]
    text = "\n".join(["\t".join(["**kern"] * 4), "\t".join(["*M4/4"] * 4), *rows, "\t".join(["*-"] * 4)])
    read = humdrum.parse(text, "x.krn")
    assert len(read.parts[0].bars) == 600
    # Some 335 for each of the 9,600 notes.
    assert steps_of(lambda: humdrum.parse(text, "x.krn")) < 450 * 9_600


@pytest.mark.parametrize(("spine", "word"), [("text", "4"), ("text", "a-"), ("dynam", "x")])
def test_a_word_without_end_is_gone_through_once(spine: str, word: str) -> None:
    """Gone through anew from each of its letters it would take hours."""
    program = f"""
from trainer.scores.reading import from_bytes
text = "**kern\\t**{spine}\\n*M4/4\\t*\\n=1\\t=1\\n1c\\t" + "{word}" * 150_000 + "z\\n=2\\t=2\\n*-\\t*-\\n"
assert len(from_bytes(text.encode(), "x.krn").notes) == 1
"""
    subprocess.run([sys.executable, "-c", program], check=True, timeout=60)


def test_a_spine_that_is_short_of_words_does_not_cut_the_bar() -> None:
    found = from_bytes(
        document("**kern  **kern", "*M4/4  *M4/4", "=1  =1", "2C  1c", "=2  =2", "1D  1d", "==  ==", "*-  *-"), "x"
    )
    assert [bar.length for bar in found.bars] == [4, 4]
    assert found.key == Key.parse("C")
