"""What is written reads back equal, and is MusicXML as the schema orders it."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings

from tests.scores.making import note, piece, pieces
from trainer.music.packed import packed, unpacked
from trainer.music.piece import LEFT, Bar, Piece, Word, sorted_notes
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.notation.preparing import Print
from trainer.scores.reading import from_bytes

# Order of elements within <note>, MusicXML 4.0 (note, full-note and editorial groups of the W3C schema).
ORDER = ["grace", "chord", "pitch", "rest", "duration", "tie", "voice", "type", "dot", "accidental",
         "time-modification", "stem", "staff", "beam", "notations", "lyric"]  # fmt: skip


def again(written: Piece) -> Piece:
    return from_bytes(to_musicxml(written).encode(), "again.musicxml")


def normal(made: Piece) -> Piece:
    """The order of notes at one onset with one pitch is of no meaning, and neither is that of graces."""
    order = sorted(made.notes, key=lambda n: (n.onset, not n.grace, n.midi, n.hand, n.voice, n.id))
    return replace(made, notes=tuple(replace(n, optional=n.grace) for n in order))


@settings(max_examples=60, deadline=None)
@given(pieces())
def test_a_piece_reads_back_equal(made: Piece) -> None:
    if not made.notes:
        return
    assert normal(again(made)) == normal(made)


@settings(max_examples=25, deadline=None)
@given(pieces())
def test_every_bar_is_full_and_every_note_in_schema_order(made: Piece) -> None:
    if not made.notes:
        return
    root = ET.fromstring(to_musicxml(made).encode())
    divisions = int(root.findtext(".//divisions") or 0)
    for measure, bar in zip(root.iter("measure"), made.bars, strict=True):
        place = furthest = 0
        for element in measure:
            length = int(element.findtext("duration") or 0)
            if element.tag == "backup":
                assert place == bar.length * divisions  # each voice fills the bar
                place -= length
            elif element.tag == "note" and element.find("chord") is None:
                place += length
            furthest = max(furthest, place)
            if element.tag == "note":
                tags = [ORDER.index(child.tag) for child in element]
                assert tags == sorted(tags)
        assert place == furthest == bar.length * divisions


def test_ids_of_a_repeat_stay_unique() -> None:
    twice = piece(note("a", "C4", 0, 1), note("b", "D4", 1, 1), note("a", "C4", 4, 1))
    ids = [element.get("id") for element in ET.fromstring(to_musicxml(twice).encode()).iter("note")]
    named = [one for one in ids if one]
    assert named == ["a", "b", "a-2"]


def test_a_note_over_the_barline_is_tied_and_keeps_its_first_id() -> None:
    made = piece(note("long", "E4", 3, 3))
    root = ET.fromstring(to_musicxml(made).encode())
    tied = [(n.get("id"), [t.get("type") for t in n.iterfind("tie")]) for n in root.iterfind(".//note[pitch]")]
    assert tied == [("long", ["start"]), ("long-t1", ["stop"])]
    assert again(made).notes == made.notes


@pytest.mark.parametrize(
    ("notes", "printed"),
    [(("F#4 1", "F4 5", "F4 6"), "sharp natural? -"),  # in the next bar, once
     (("F#4 1", "F4 9"), "sharp -"),  # not in the one after
     (("F#4 1", "F5 2", "F5 3"), "sharp natural? -"),  # another octave of the bar
     (("F#4 1", "F#5 2"), "sharp sharp"),  # needed, no courtesy
     (("F#4 1", "F4 2", "F4 5"), "sharp natural -"),  # taken back already
     (("F#4 1", "F#4 5"), "sharp sharp"),
     (("F#4 3 2", "F4 5"), "sharp natural?"),  # tied into its bar
     (("F#4 3 2", "F4 9"), "sharp natural?")],  # and into the bar before
)  # fmt: skip
def test_a_courtesy_accidental_stands_where_a_reader_would_doubt(notes: tuple[str, ...], printed: str) -> None:
    made = [(*text.split(), "1")[:3] for text in notes]
    document = to_musicxml(
        piece(*(note(f"n{at}", name, int(on), int(long)) for at, (name, on, long) in enumerate(made)), bars=3)
    )
    found = [
        (n.find("tie[@type='stop']"), n.find("accidental"))
        for n in ET.fromstring(document.encode()).iterfind(".//note[pitch]")
    ]
    said = [
        "-" if sign is None else f"{sign.text}{'?' if sign.get('cautionary') == 'yes' else ''}"
        for tie, sign in found
        if tie is None
    ]
    assert " ".join(said) == printed


def test_accidentals_hold_for_their_bar_in_reading_order_over_all_voices() -> None:
    made = piece(note("a", "F#4", 1, 1), note("b", "F4", 2, 1, voice=2), note("c", "F#4", 3, 1), note("d", "F4", 4, 1))
    root = ET.fromstring(to_musicxml(made).encode())
    printed = {n.get("id"): n.findtext("accidental") for n in root.iterfind(".//note[pitch]")}
    assert printed == {"a": "sharp", "b": "natural", "c": "sharp", "d": "natural"}


def test_triplets_are_bracketed_once_a_group() -> None:
    made = piece(*(note(f"n{i}", "C4", Fraction(i, 3), Fraction(1, 3)) for i in range(6)))
    root = ET.fromstring(to_musicxml(made).encode())
    assert [t.get("type") for t in root.iter("tuplet")] == ["start", "stop", "start", "stop"]


def test_words_about_the_piece_and_chord_symbols_travel_along() -> None:
    made = replace(
        piece(note("a", "C4", 0, 4)),
        composer="A. Composer", poet="B. Poet", source="a book", origin="Tune: no key is original",
        licence="public domain",
        chords=(Word(Fraction(0), "C"), Word(Fraction(2), "F♯m7/E")),
    )  # fmt: skip
    read = again(made)
    assert (read.title, read.composer, read.source, read.origin, read.licence) == (
        "Test", "A. Composer", "a book", "Tune: no key is original", "public domain",
    )  # fmt: skip
    assert [word.text for word in read.chords] == ["C", "F#m7/E"]
    assert read.by == "A. Composer, words by B. Poet"
    assert replace(read, composer="").by == "Tune: no key is original, words by B. Poet"
    assert replace(read, poet="").by == "A. Composer"
    assert unpacked(packed(read)) == read


def test_a_left_hand_alone_takes_one_bass_staff() -> None:
    alone = piece(note("a", "C3", 0, 4, LEFT, staff=1))
    root = ET.fromstring(to_musicxml(alone).encode())
    assert [clef.findtext("sign") for clef in root.iter("clef")] == ["F"]
    assert again(alone).notes == alone.notes


def test_the_clef_changes_only_where_it_saves_ledger_lines() -> None:
    high = [note(f"h{i}", "C6", 8 + i, 1, LEFT) for i in range(8)]
    made = piece(note("a", "C4", 0, 4), *(note(f"l{i}", "C3", i, 1, LEFT) for i in range(8)), *high, bars=4)
    root = ET.fromstring(to_musicxml(made).encode())
    signs = [(m.get("number"), c.get("number"), c.findtext("sign")) for m in root.iter("measure")
             for c in m.iter("clef")]  # fmt: skip
    assert signs == [("1", "1", "G"), ("1", "2", "F"), ("3", "2", "G")]


def test_for_printing_ids_are_indices_and_room_is_kept_for_syllables() -> None:
    made = piece(note("a", "C4", 0, 1), note("b", "E4", 0, 1), note("c", "C3", 0, 2, LEFT))
    root = ET.fromstring(to_musicxml(made, Print(ribbon="sol")).encode())
    notes = {n.get("id"): len(n.findall("lyric")) for n in root.iter("note") if n.get("id")}
    order = [n.id for n in made.notes]
    assert set(notes) == {"k0", "k1", "k2"}
    assert notes[f"k{order.index('c')}"] == 1
    assert notes[f"k{order.index('a')}"] + notes[f"k{order.index('b')}"] == 1


def test_a_bar_of_odd_length_is_filled_with_tied_values() -> None:
    odd = Piece("Odd", sorted_notes([note("a", "C4", 0, "5/2")]), (Bar(1, Fraction(0), Fraction(5, 2), (5, 8)),),
                piece(note("x", "C4", 0, 1)).keys)  # fmt: skip
    assert again(odd).notes == odd.notes


def test_syllables_of_a_word_are_joined_as_the_standard_says() -> None:
    """MusicXML 4.0, `syllabic`: single, begin, middle, end."""
    words = ("O", "al-", "le-", "lu-", "ia", "-")
    song = replace(
        piece(*(note(f"n{at}", "C4", at, 1) for at in range(6))),
        lyrics=tuple(Word(Fraction(at), word) for at, word in enumerate(words)),
    )
    document = to_musicxml(song)
    lyrics = list(ET.fromstring(document).iter("lyric"))
    said = [(lyric.findtext("syllabic"), lyric.findtext("text")) for lyric in lyrics]
    assert said == [
        ("single", "O"),
        ("begin", "al"),
        ("middle", "le"),
        ("middle", "lu"),
        ("end", "ia"),
        ("single", "-"),
    ]
    assert from_bytes(document.encode(), "x").lyrics == song.lyrics


def test_a_hand_that_rests_in_the_upbeat_rests_as_long_as_it_lasts() -> None:
    upbeat = Bar(0, Fraction(0), Fraction(1), (3, 4))
    bars = (upbeat, Bar(1, Fraction(1), Fraction(3), (3, 4)), Bar(2, Fraction(4), Fraction(3), (3, 4)))
    made = replace(piece(note("a", "G4", 0, 1), note("b", "C5", 1, 3), note("c", "C3", 4, 3, LEFT)), bars=bars)
    root = ET.fromstring(to_musicxml(made).encode())
    rests = [[(one.find("rest").get("measure"), one.findtext("type")) for one in measure.iter("note")  # type: ignore[union-attr]
              if one.find("rest") is not None] for measure in root.iter("measure")]  # fmt: skip
    # A whole bar's rest stands for three quarters here: before the first barline only a quarter is waited.
    assert rests == [[(None, "quarter")], [("yes", None)], [("yes", None)]]
