"""What a page shows, read by eye as a player reads it, is what is meant; and it is set as copyists set it."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction

import pytest

from tests.scores.making import note, piece
from trainer.music.keys import Key
from trainer.music.piece import LEFT, KeyChange, Piece, Singer, Word
from trainer.music.pitch import Interval
from trainer.music.transpose import plan, transposed
from trainer.scores.engraving.engraving import Look, engrave
from trainer.scores.engraving.picturing import picture
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.notation.elements import ACCIDENTALS
from trainer.scores.notation.preparing import Print, singing, stems_apart
from trainer.scores.reading import from_bytes

_ALTERED = {word: amount for amount, word in ACCIDENTALS.items()}
HALF_WAY = piece(
    note("a", "D5", 0, 2), note("b", "G#4", 2, 1), note("c", "B4", 3, 1), note("d", "G#4", 4, 2),
    note("e", "D#4", 6, 2),
    note("f", "G3", 0, 2, LEFT), note("g", "E3", 2, 2, LEFT), note("h", "A3", 4, 4, LEFT),
)  # fmt: skip
HALF_WAY = replace(HALF_WAY, keys=(*HALF_WAY.keys, KeyChange(Fraction(2), Key.parse("E"))))


def written(made: Piece, printing: Print | None = None) -> ET.Element:
    return ET.fromstring(to_musicxml(made, printing).encode())


def by_eye(root: ET.Element) -> dict[str, int]:
    """The alteration a reader sees for each note: its accidental, one before it in the bar, else the signature."""
    seen: dict[str, int] = {}
    standing: dict[str, int] = {}
    for measure in root.iter("measure"):
        events: list[tuple[int, int, ET.Element]] = []
        place = start = 0
        for element in measure:
            length = int(element.findtext("duration") or 0)
            if element.tag == "attributes" and element.find("key") is not None:
                events.append((place, 0, element))
            elif element.tag == "note":
                start = start if element.find("chord") is not None else place
                events.append((start, 1, element))
            if element.tag == "backup":
                place -= length
            elif element.find("chord") is None:
                place += length
        held: dict[tuple[str, str, str], int] = {}
        for _, _, element in sorted(events, key=lambda event: event[:2]):
            if element.tag == "attributes":
                key = Key.from_signature(int(element.findtext("key/fifths") or 0), "major")
                standing, held = {letter: key.alteration_of(letter) for letter in "ABCDEFG"}, {}
            elif element.find("pitch") is not None:
                letter = element.findtext("pitch/step") or ""
                line = letter, element.findtext("pitch/octave") or "", element.findtext("staff") or ""
                sign = element.findtext("accidental")
                if sign is not None:
                    held[line] = _ALTERED[sign]
                seen[element.get("id", "")] = held.get(line, standing[letter])
    return seen


def meant(root: ET.Element) -> dict[str, int]:
    notes = [one for one in root.iter("note") if one.find("pitch") is not None]
    return {one.get("id", ""): int(one.findtext("pitch/alter") or 0) for one in notes}


@pytest.mark.parametrize("printing", [None, Print()])
@pytest.mark.parametrize("to", ["C", "D", "Ab", "B"])
def test_a_key_that_changes_within_a_bar_is_read_right(printing: Print | None, to: str) -> None:
    root = written(transposed(HALF_WAY, plan(HALF_WAY.key, to).interval), printing)
    assert by_eye(root) == meant(root)


def test_a_page_shows_a_key_that_changes_within_a_bar_from_the_next_bar_on() -> None:
    signatures = [
        [key.findtext("fifths") for key in bar.iter("key")] for bar in written(HALF_WAY, Print()).iter("measure")
    ]
    assert signatures == [["0"], ["4"]]


def test_a_file_says_a_key_where_it_changes() -> None:
    assert from_bytes(to_musicxml(HALF_WAY).encode(), "x").keys == HALF_WAY.keys


def sung(made: Piece, *onsets: int) -> Piece:
    return replace(made, lyrics=tuple(Word(Fraction(at), f"word{at}") for at in onsets))


@pytest.mark.parametrize(
    "made",
    [
        piece(note("a", "D3", 0, 2, LEFT, staff=1), note("b", "F3", 2, 2, LEFT, staff=1)),
        piece(note("a", "D4", 0, 2, voice=2), note("b", "F4", 2, 2, voice=2)),
        piece(note("a", "D4", 0, 2), note("b", "F4", 2, 2, voice=2), note("c", "B4", 0, 4, voice=2)),
    ],
    ids=["a bass", "a second voice", "a voice that divides"],
)
def test_words_stand_under_the_melody_whichever_hand_or_voice_has_it(made: Piece) -> None:
    under = {one.findtext("pitch/step"): one.findtext("lyric/text") for one in written(sung(made, 0, 2)).iter("note")
             if one.find("lyric") is not None}  # fmt: skip
    assert under == {"D": "word0", "F": "word2"}


def test_words_stand_once_under_the_first_voice_where_two_sing_together() -> None:
    made = piece(note("a", "D5", 0, 4), note("b", "F4", 0, 4, voice=2), note("c", "D3", 0, 4, LEFT))
    under = [one.get("id") for one in written(sung(made, 0)).iter("note") if one.find("lyric") is not None]
    assert under == ["a"]


def clefs(made: Piece) -> list[tuple[str | None, str | None]]:
    return [(one.findtext("sign"), one.findtext("clef-octave-change")) for one in written(made).iter("clef")]


def test_a_tenor_whose_page_says_the_octave_keeps_the_eight_under_the_clef() -> None:
    line = sung(piece(note("a", "E3", 0, 2), note("b", "E4", 2, 2), note("c", "A3", 4, 4)), 0)
    tenor = replace(line, at_pitch=True)
    assert clefs(tenor) == [("G", "-1")]
    assert from_bytes(to_musicxml(tenor).encode(), "x").notes == tenor.notes
    assert clefs(line) == [("G", None)]
    # A horn, and a high voice, say their octave or another and need no eight.
    assert clefs(replace(tenor, lyrics=())) == [("G", None)]
    assert clefs(replace(tenor, notes=tuple(replace(n, pitch=n.pitch + Interval(7, 12)) for n in line.notes))) == [
        ("G", None)
    ]
    song = replace(piece(note("x", "C4", 0, 8), note("y", "C3", 0, 8, LEFT)), sung=tenor.notes, lyrics=line.lyrics,
                   at_pitch=True)  # fmt: skip
    parts = [[one.findtext("clef-octave-change") for one in part.iter("clef")]
             for part in written(song, Print(words=True)).iter("part")]  # fmt: skip
    assert parts == [["-1"], [None, None]]


def test_the_second_singers_tenor_clef_has_its_eight_too() -> None:
    piano = piece(note("x", "C4", 0, 8), note("y", "C3", 0, 8, LEFT))
    low = replace(note("b", "A3", 0, 8), voice=4, staff=2)
    duet = replace(piano, sung=(note("a", "A4", 0, 8), low), lyrics=(Word(Fraction(0), "Oh"),),
                   singers=(Singer(), Singer("", (Word(Fraction(0), "Ah"),), at_pitch=True)))  # fmt: skip

    def eights(made: Piece) -> list[list[str | None]]:
        parts = written(made, Print(words=True)).iter("part")
        return [[one.findtext("clef-octave-change") for one in part.iter("clef")] for part in parts]

    assert eights(duet) == [[None], ["-1"], [None, None]]
    written_high = Singer("", duet.singers[1].words)
    assert eights(replace(duet, singers=(Singer(), written_high))) == [[None], [None], [None, None]]


def tuplets(made: Piece) -> list[str | None]:
    return [one.get("bracket") for one in written(made).iter("tuplet") if one.get("type") == "start"]


def test_a_triplet_that_no_beam_holds_together_takes_a_bracket() -> None:
    beamed = [note(f"b{at}", "C5", Fraction(at, 3), Fraction(1, 3)) for at in range(3)]
    loose = [note(f"l{at}", "C5", 2 + Fraction(2 * at, 3), Fraction(2, 3)) for at in range(3)]
    assert tuplets(piece(*beamed, *loose)) == ["no", "yes"]
    assert tuplets(piece(beamed[0], beamed[2])) == ["yes"]


def test_the_bracket_of_a_triplet_is_drawn() -> None:
    made = piece(*(note(f"l{at}", "C5", Fraction(2 * at, 3), Fraction(2, 3)) for at in range(3)))
    system = engrave(made, Look(width_px=900, staff_px=40)).systems[0]
    without = re.sub(r"<\w*:?polyline[^>]*>", "", system.svg)
    assert without != system.svg
    assert picture(without, system.width) != picture(system.svg, system.width)


def stems(made: Piece) -> dict[str, str | None]:
    return {one.get("id", ""): one.findtext("stem") for one in written(made).iter("note") if one.find("pitch")}


def test_two_voices_keep_their_stems_apart_where_the_other_hand_crosses_into_their_staff() -> None:
    made = piece(
        note("up", "E5", 0, 2), note("down", "C5", 0, 1, voice=2), note("low", "C3", 0, 4, LEFT, voice=2),
        note("over", "C4", 1, 1, LEFT, staff=1),
    )  # fmt: skip
    assert stems(made) == {"up": "up", "down": "down", "low": None, "over": None}
    alone = replace(made, notes=tuple(one for one in made.notes if one.id != "over"))
    assert set(stems(alone).values()) == {None}


def graces(*pitches: str) -> list[tuple[str | None, str | None, list[str | None]]]:
    small = [note(f"g{at}", pitch, 1, 0, grace=True, optional=True) for at, pitch in enumerate(pitches)]
    root = written(piece(note("a", "C5", 0, 1), *small, note("b", "E5", 1, 3)))
    return [(one.find("grace").get("slash"), one.findtext("type"), [beam.text for beam in one.iterfind("beam")])  # type: ignore[union-attr]
            for one in root.iter("note") if one.find("grace") is not None]  # fmt: skip


def test_one_grace_note_is_struck_through_and_several_are_beamed() -> None:
    assert graces("D5") == [("yes", "eighth", [])]
    assert graces("F5", "D5", "C#5") == [
        ("no", "16th", ["begin", "begin"]),
        ("no", "16th", ["continue", "continue"]),
        ("no", "16th", ["end", "end"]),
    ]


def test_the_rests_of_a_second_voice_show_where_the_first_has_nothing_to_play() -> None:
    made = piece(note("a", "C5", 0, 4), note("b", "A4", 2, 2, voice=2), note("c", "G4", 5, 1, voice=2))
    shown = [[one.get("print-object") for one in bar.iter("note") if one.find("rest") is not None]
             for bar in written(made).iter("measure")]  # fmt: skip
    assert shown[0] == ["no"] * len(shown[0])
    assert shown[1] == [None] * len(shown[1])
    assert all(shown)


def values(made: Piece) -> list[str]:
    return [(one.findtext("type") or "") + "." * len(one.findall("dot")) for one in written(made).iter("note")
            if one.find("pitch") is not None]  # fmt: skip


@pytest.mark.parametrize(
    ("onset", "length", "found"),
    [
        ("7/4", "7/4", ["16th", "quarter."]),  # from the last sixteenth of a beat over the next
        ("3/4", "1/2", ["16th", "16th"]),
        ("1/2", "1", ["quarter"]),  # a syncopation from half a beat on is read at once
        ("1/2", "3/2", ["quarter."]),
        ("1/4", "1/2", ["eighth"]),
        ("2/3", "2/3", ["quarter"]),  # a triplet over two beats stays whole
    ],
)
def test_no_note_hides_a_beat_it_does_not_begin_on(onset: str, length: str, found: list[str]) -> None:
    assert values(piece(note("a", "C5", onset, length))) == found


def beamed(made: Piece) -> list[int]:
    """How many notes each beam holds; 1 for a note with a flag of its own."""
    counts: list[int] = []
    for one in written(made).iter("note"):
        if one.find("pitch") is not None and one.findtext("type") in ("eighth", "16th"):
            if one.findtext("beam") in ("continue", "end"):
                counts[-1] += 1
            else:
                counts.append(1)
    return counts


@pytest.mark.parametrize(
    ("meter", "length", "groups"),
    [
        ((3, 8), "1/2", [3]),
        ((4, 8), "1/2", [2, 2]),
        ((5, 8), "1/2", [2, 3]),
        ((7, 8), "1/2", [2, 2, 3]),
        ((6, 8), "1/2", [3, 3]),
        ((9, 16), "1/4", [3, 3, 3]),
        ((12, 16), "1/4", [3, 3, 3, 3]),
        ((3, 4), "1/2", [6]),
        ((4, 4), "1/4", [4, 4, 4, 4]),
        ((2, 2), "1/4", [4, 4, 4, 4]),
        ((3, 2), "1/2", [4, 4, 4]),
    ],
)
def test_notes_are_beamed_as_their_metre_is_counted(meter: tuple[int, int], length: str, groups: list[int]) -> None:
    count = int(Fraction(4 * meter[0], meter[1]) / Fraction(length))
    notes = [note(f"n{at}", "C5", at * Fraction(length), length) for at in range(count)]
    assert beamed(piece(*notes, bars=1, meter=meter)) == groups


def test_a_word_stands_under_its_note_not_under_the_grace_note_before() -> None:
    notes = [replace(note("g", "D5", 0, 0), grace=True), note("m", "C5", 0, 1), note("b", "C3", 0, 1, LEFT)]
    assert singing(notes, [Fraction(0)]) == {Fraction(0): 1}
    assert singing(notes[2:], [Fraction(0)]) == {Fraction(0): 0}, "a bass has its words under the left hand's"


def test_a_voice_alone_on_its_staff_keeps_its_stems_as_they_fall() -> None:
    assert stems_apart({1: {1}, 2: {5}}, {1: {1}, 5: {1, 2}}) == {}
    assert stems_apart({1: {1, 2}, 2: {5}}, {1: {1}, 2: {1}, 5: {1}}) == {1: "up", 2: "down"}


SUNG_ON = piece(
    note("a", "C5", 0, 1), note("b", "D5", 1, 1, signs=("(",)), note("c", "E5", 2, 1),
    note("d", "F5", 3, 1, signs=(")b",)), note("e", "G5", 4, 1, signs=("(",)), note("f", "F5", 5, 1),
    note("g", "E5", 6, 1, signs=(")e",)), note("h", "C5", 7, 3), bars=3,
)  # fmt: skip


def held(made: Piece, *texts: tuple[int, str]) -> list[str | None]:
    worded = replace(made, lyrics=tuple(Word(Fraction(at), text) for at, text in texts))
    return [one.findtext("text") for one in written(worded).iter("lyric") if one.find("extend") is not None]


def test_a_line_follows_a_word_that_is_sung_on_over_more_notes() -> None:
    assert held(SUNG_ON, (0, "in"), (1, "light"), (4, "morn-"), (7, "ing")) == ["light", "ing"]
    # Two syllables under one slur; a slur that ends before the notes without a syllable do.
    assert held(SUNG_ON, (0, "in"), (1, "the"), (2, "light")) == []
    assert held(SUNG_ON, (1, "light"), (7, "so")) == ["so"]


def test_the_line_after_a_word_is_drawn() -> None:
    words = tuple(Word(Fraction(at), text) for at, text in ((0, "in"), (1, "light"), (4, "so")))
    look = Look(width_px=1200, staff_px=40, words=True)
    sung_on, plain = (
        engrave(replace(made, lyrics=words), look).systems[0].svg
        for made in (SUNG_ON, replace(SUNG_ON, notes=tuple(replace(one, signs=()) for one in SUNG_ON.notes)))
    )
    lines = [svg.count('class="syl') + svg.count("<path") + svg.count("<rect") for svg in (sung_on, plain)]
    assert lines[0] > lines[1]
