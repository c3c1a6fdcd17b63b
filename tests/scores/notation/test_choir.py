"""A choir over a piano: every part read, two to a staff as in a short score, words once where all sing them."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from tests.scores.making import score, xml_note
from tests.scores.midi.test_midi import PIANO, as_song
from trainer.music.packed import packed, unpacked
from trainer.music.passage import passage
from trainer.music.piece import Piece, Word, singer_of
from trainer.music.pitch import Interval
from trainer.music.transpose import transposed
from trainer.scores.engraving.engraving import Look, engrave
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.notation.choir import staves_above
from trainer.scores.notation.preparing import Print
from trainer.scores.reading import from_bytes, left_out, read
from trainer.scores.shelf.library import bundled_folder

SOPRANO = ("S", "c2 A2 | d2 c2 |]", "Draw the wa-ter")
ALTO = ("A", "F2 F2 | F2 F2 |]", "Draw the wa-ter")
TENOR = ("T clef=treble-8", "c2 c2 | d2 c2 |]", "Draw the wa-ter")
BASS = ("B clef=bass", "F,2 F,2 | B,,2 F,2 |]", "Draw the wa-ter")
PIANO_BARS = "[V:R] [FAc]4 | [FBd]4 |]\n[V:L] F,4 | B,,4 |]\n"


def abc(*lines: tuple[str, str, str], piano: str = PIANO_BARS) -> bytes:
    """Lines that are sung over a piano, each a voice, its music and its words."""
    names = [line[0].split()[0] for line in lines]
    head = f"X:1\nT:Choir\nM:4/4\nL:1/4\n%%score [{' '.join(names)}] {{R L}}\n"
    voices = "".join(f"V:{line[0]}\n" for line in lines) + "V:R\nV:L clef=bass\nK:F\n"
    music = "".join(f"[V:{name}] {line[1]}\n" + (f"w: {line[2]}\n" if line[2] else "")
                    for name, line in zip(names, lines, strict=True))  # fmt: skip
    return (head + voices + music + piano).encode()


def on_staves(piece: Piece) -> list[list[str]]:
    """Of every staff over the piano the singers, by name."""
    return [
        list(dict.fromkeys(piece.singers[singer_of(note)].name for note in sorted(piece.sung, key=singer_of)
                           if note.staff == staff))
        for staff in sorted({note.staff for note in piece.sung})
    ]  # fmt: skip


def words(piece: Piece) -> list[str]:
    """What is printed under every staff over the piano."""
    return [" ".join(word.text for word in staff.lyrics) for staff in staves_above(piece)]


@pytest.mark.parametrize(
    ("lines", "staves"),
    [((SOPRANO, ALTO, TENOR, BASS), [["S", "A"], ["T", "B"]]),
     ((SOPRANO, ALTO, BASS), [["S", "A"], ["B"]]),
     ((SOPRANO, TENOR, BASS), [["S"], ["T", "B"]]),
     ((SOPRANO, ("S2", "A2 F2 | B2 A2 |]", SOPRANO[2]), ALTO), [["S", "S2"], ["A"]]),
     ((TENOR, ("T2 clef=treble-8", "A2 A2 | B2 A2 |]", TENOR[2]), BASS), [["T", "T2"], ["B"]])],
    ids=["SATB", "SAB", "STB", "SSA", "TTB"],
)  # fmt: skip
def test_two_women_or_two_men_share_a_staff_and_the_words_stand_once(
    lines: tuple[tuple[str, str, str], ...], staves: list[list[str]]
) -> None:
    piece = from_bytes(abc(*lines), "choir.abc")
    assert [singer.name for singer in piece.singers] == [line[0].split()[0] for line in lines]
    assert on_staves(piece) == staves
    assert words(piece) == ["Draw the wa- ter", *[""] * (len(staves) - 1)]
    assert len(piece.notes) == 8, "the piano alone is played"


def test_on_the_page_stems_go_apart_the_men_have_the_bass_clef_and_a_bracket_holds_them() -> None:
    piece = from_bytes(abc(SOPRANO, ALTO, TENOR, BASS), "choir.abc")
    root = ET.fromstring(to_musicxml(piece, Print(words=True)))
    women, men, _ = root.iter("part")
    for part in (women, men):
        assert {voice.text for voice in part.iter("voice")} == {"1", "4"}, "the engraver turns stems by odd and even"
    assert [part.findtext(".//clef/sign") for part in (women, men)] == ["G", "F"]
    assert [part.find(".//clef/clef-octave-change") for part in (women, men)] == [None, None]
    kinds = [one.get("type") for one in root.iter("part-group")]
    assert kinds == ["start", "stop"]
    assert [child.tag for child in next(root.iter("part-list"))] == [
        "part-group", "score-part", "score-part", "part-group", "score-part"
    ]  # fmt: skip


def test_later_systems_of_a_choir_are_no_taller_for_a_divider() -> None:
    repeated = [(name, " | ".join([music.removesuffix(" |]")] * 6) + " |]", " ".join([said] * 6))
                for name, music, said in (SOPRANO, ALTO, TENOR, BASS)]  # fmt: skip
    piano = "".join(f"[V:{hand}] " + " | ".join([bars] * 6) + " |]\n"
                    for hand, bars in (("R", "[FAc]4 | [FBd]4"), ("L", "F,4 | B,,4")))  # fmt: skip
    piece = from_bytes(abc(*repeated, piano=piano), "choir.abc")
    systems = engrave(piece, Look(width_px=480, staff_px=32, words=True, bar_numbers=False)).systems
    assert len(systems) > 1
    # Two lines a space high would be drawn over the staves, three spaces and more.
    assert max(system.height for system in systems) - min(system.height for system in systems) < 24
    assert [staff.sung is not None for staff in systems[1].staves] == [True, True, False, False]


def test_who_sings_other_words_has_a_staff_and_the_tenor_the_treble_clef_with_an_8() -> None:
    lines = [(name, music, said) for (name, music, _), said in zip(
        (SOPRANO, ALTO, TENOR, BASS), ("Rise up sun-shine", "Qui-et now sing", "Hum hum hum hum", "Dum da dum da"),
        strict=True)]  # fmt: skip
    piece = from_bytes(abc(*lines), "choir.abc")
    assert on_staves(piece) == [["S"], ["A"], ["T"], ["B"]]
    assert words(piece) == ["Rise up sun- shine", "Qui- et now sing", "Hum hum hum hum", "Dum da dum da"]
    parts = ET.fromstring(to_musicxml(piece, Print(words=True))).iter("part")
    assert [part.findtext(".//clef/clef-octave-change") for part in parts] == [None, None, "-1", None, None]


def test_what_the_men_sing_alone_stands_under_their_staff() -> None:
    women = [(name, f"z4 | {music}", said) for name, music, said in (SOPRANO, ALTO)]
    men = [("T clef=treble-8", "c2 c2 | c2 c2 | d2 c2 |]", "Come now draw the wa-ter"),
           ("B clef=bass", "F,2 F,2 | F,2 F,2 | B,,2 F,2 |]", "Come now draw the wa-ter")]  # fmt: skip
    piano = "[V:R] [FAc]4 | [FAc]4 | [FBd]4 |]\n[V:L] F,4 | F,4 | B,,4 |]\n"
    piece = from_bytes(abc(*women, *men, piano=piano), "choir.abc")
    assert on_staves(piece) == [["S", "A"], ["T", "B"]]
    assert words(piece) == ["Draw the wa- ter", "Come now"]


def test_a_syllable_sung_a_little_later_is_the_same_word() -> None:
    alto = ("A", "F3 F | F2 F2 |]", ALTO[2])
    assert on_staves(from_bytes(abc(SOPRANO, alto, BASS), "choir.abc")) == [["S", "A"], ["B"]]


def test_all_parts_move_are_cut_and_are_kept() -> None:
    piece = from_bytes(abc(SOPRANO, ALTO, TENOR, BASS), "choir.abc")
    lower = transposed(piece, Interval.parse("-M2"))
    first = [note.pitch.name for note in lower.sung if not note.onset]
    assert first == ["Eb3", "Bb3", "Eb4", "Bb4"]
    assert len(passage(lower, bars=(1, 1)).sung) == 8
    assert unpacked(json.loads(json.dumps(packed(piece)))) == piece


def test_a_duet_kept_by_an_older_program_is_read_with_both_singers() -> None:
    song = from_bytes(abc(SOPRANO, ("B clef=bass", BASS[1], "Dum da dum da")), "duet.abc")
    old = json.loads(json.dumps(packed(song)))
    said = old.pop("singers")[1][1]
    found = unpacked({**old, "second_lyrics": said, "second_at_pitch": True})
    assert (found.sung, found.lyrics) == (song.sung, song.lyrics)
    assert [singer.words for singer in found.singers] == [(), tuple(Word(Fraction(on), text) for on, text in said)]
    assert found.singers[1].at_pitch
    del old["sung"]
    assert unpacked(old).singers == ()


def test_more_than_four_staves_are_too_many_and_more_than_eight_parts_are_said(tmp_path: Path) -> None:
    def choir(count: int) -> tuple[tuple[str, str, str], ...]:
        return tuple((f"V{at}", SOPRANO[1], f"a{at} b{at} c{at} d{at}") for at in range(count))

    five = from_bytes(abc(*choir(5)), "choir.abc")
    assert on_staves(five) == [["V0", "V1"], ["V2", "V3"], ["V4"]]
    assert words(five) == ["a0 b0 c0 d0", "a2 b2 c2 d2", "a4 b4 c4 d4"], "of two under a staff those of the upper one"
    for count, said in ((8, ""), (9, "'choir.abc' has 9 sung parts, of which 8 are shown over the piano")):
        path = tmp_path / "choir.abc"
        path.write_bytes(abc(*choir(count)))
        assert left_out(path).startswith(said)
        assert bool(left_out(path)) == bool(said)
        assert len(from_bytes(path.read_bytes(), "choir.abc").singers) == 8
    path = tmp_path / "choir.mid"
    path.write_bytes(as_song(*((f"Voice {at}", "C5 D5 E5 C5", []) for at in range(9)), *PIANO))
    assert "9 sung parts" in left_out(path)


def short_score(form: str) -> bytes:
    """A bar of four parts on two staves over a piano: as two parts, as one of two staves, or with chords."""
    back = "<backup><duration>4</duration></backup>"

    def sung(pitch: str, voice: int, staff: int, word: str = "", chord: str = "") -> str:
        said = f"<lyric><syllabic>single</syllabic><text>{word}</text></lyric>" if word else ""
        return xml_note(pitch, 4, f"<voice>{voice}</voice><staff>{staff}</staff>{said}", before=chord)

    def bar(*content: str, staves: int = 2, clef: str = "") -> str:
        about = (f"<attributes><divisions>1</divisions><key><fifths>0</fifths></key><time><beats>4</beats>"
                 f"<beat-type>4</beat-type></time><staves>{staves}</staves>{clef}</attributes>")  # fmt: skip
        return f'<measure number="1">{about}{"".join(content)}</measure>'

    piano = bar(xml_note("C5", 4, "<staff>1</staff>"), back, xml_note("F3", 4, "<voice>5</voice><staff>2</staff>"))
    if form == "one part":
        choir = bar(sung("C5", 1, 1, "Oh"), back, sung("F4", 2, 1), back, sung("A3", 5, 2), back, sung("F3", 6, 2))
        return score(choir, piano, names=("Choir", "Piano"))
    if form == "chords":
        women = bar(sung("C5", 1, 1, "Oh"), sung("F4", 1, 1, chord="<chord/>"), staves=1)
        men = bar(sung("A3", 1, 1), sung("F3", 1, 1, chord="<chord/>"), staves=1)
    else:
        women = bar(sung("C5", 1, 1, "Oh"), back, sung("F4", 2, 1), staves=1)
        men = bar(sung("A3", 1, 1), back, sung("F3", 2, 1), staves=1)
    return score(women, men, piano, names=("Women", "Men" if form == "two parts" else "", "Piano"))


@pytest.mark.parametrize("form", ["two parts", "no name", "chords", "one part"])
def test_a_short_score_holds_four_parts(form: str) -> None:
    piece = from_bytes(short_score(form), "x")
    assert [[note.pitch.name for note in piece.sung_by(at)] for at in range(4)] == [["C5"], ["F4"], ["A3"], ["F3"]]
    assert [[note.staff for note in piece.sung_by(at)] for at in range(4)] == [[1], [1], [2], [2]]
    assert words(piece) == ["Oh", ""]
    assert [note.pitch.name for note in piece.notes] == ["F3", "C5"], "the choir is not the piano"


def test_a_note_that_stands_alone_among_chords_is_sung_by_both() -> None:
    women = ("W", "[Fc]2 [FA]2 | [Fd]2 c2 |]", "Draw the wa-ter")
    men = ("M clef=bass", "[F,C]2 [F,C]2 | [B,,D]2 F,2 |]", "")
    named = abc(women, men).replace(b"V:W\n", b'V:W name="Women"\n').replace(b"V:M ", b'V:M name="Men" ')
    piece = from_bytes(named, "choir.abc")
    assert [[note.pitch.name for note in piece.sung_by(at)][-1] for at in range(4)] == ["C5", "C5", "F3", "F3"]
    assert words(piece) == ["Draw the wa- ter", ""]


def test_a_tenor_without_an_8_under_the_clef_sounds_an_octave_lower_in_a_choir() -> None:
    high = ("T", TENOR[1], TENOR[2])
    piece = from_bytes(abc(SOPRANO, ALTO, high, BASS), "choir.abc")
    assert piece.sung_by(2)[0].pitch.name == "C4"
    assert piece.singers[2].at_pitch
    assert on_staves(piece) == [["S", "A"], ["T", "B"]]
    duet = from_bytes(abc(SOPRANO, high), "duet.abc")
    assert duet.sung_by(1)[0].pitch.name == "C5", "of a soloist nobody knows"


@pytest.mark.parametrize(("second", "sings"), [("Bass", True), ("Bass guitar", False), ("Alto saxophone", False)])
def test_the_bass_of_a_choir_sings_without_words_and_no_instrument_does(second: str, sings: bool) -> None:
    line = ("X clef=bass", BASS[1], "")
    named = abc(SOPRANO, line).replace(b"V:X ", f'V:X name="{second}" '.encode())
    assert len(from_bytes(named, "song.abc").singers) == 1 + sings
    song = as_song(("Soprano", "C5 D5 E5 C5", [(0, "Stay")]), (second, "C3 D3 E3 C3", []), *PIANO)
    assert len(from_bytes(song, "song.mid").singers) == 1 + sings


def test_a_band_with_a_singer_has_no_choir_bass() -> None:
    band = as_song(("Vocals", "C5 D5 E5 C5", [(0, "Stay")]), ("Bass", "C3 D3 E3 C3", []), *PIANO)
    assert [singer.name for singer in from_bytes(band, "band.mid").singers] == ["Vocals"]


KRN = """**kern\t**kern\t**kern\t**text\t**kern\t**text\t**kern\t**text\t**kern\t**text
*part5\t*part5\t*part4\t*part4\t*part3\t*part3\t*part2\t*part2\t*part1\t*part1
*staff6\t*staff5\t*staff4\t*staff4\t*staff3\t*staff3\t*staff2\t*staff2\t*staff1\t*staff1
*I"Piano\t*I"Piano\t*I"Bass\t*\t*I"Tenor\t*\t*I"Alto\t*\t*I"Soprano\t*
*clefF4\t*clefG2\t*clefF4\t*\t*clefGv2\t*\t*clefG2\t*\t*clefG2\t*
*k[b-]\t*k[b-]\t*k[b-]\t*\t*k[b-]\t*\t*k[b-]\t*\t*k[b-]\t*
*M4/4\t*M4/4\t*M4/4\t*\t*M4/4\t*\t*M4/4\t*\t*M4/4\t*
=1\t=1\t=1\t=1\t=1\t=1\t=1\t=1\t=1\t=1
1FF\t1f 1a\t2F\tSing\t2c\tSing\t2f\tSing\t2cc\tSing
.\t.\t2F\tnow\t2c\tnow\t2f\tnow\t2a\tnow
==\t==\t==\t==\t==\t==\t==\t==\t==\t==
*-\t*-\t*-\t*-\t*-\t*-\t*-\t*-\t*-\t*-
"""


@pytest.mark.parametrize(
    ("data", "name"),
    [(KRN.encode(), "choir.krn"),
     (KRN.replace("*staff", "*").encode(), "choir.krn"),
     (as_song(*((name, f"{low} {low}", [(0, "Sing "), (1, "now ")] if name == "Soprano" else [])
                for name, low in (("Soprano", "C5"), ("Alto", "F4"), ("Tenor", "C4"), ("Bass", "F3"))), *PIANO),
      "choir.mid")],
    ids=["Humdrum", "Humdrum without staves", "MIDI"],
)  # fmt: skip
def test_a_choir_is_read_from_other_formats_too(data: bytes, name: str) -> None:
    piece = from_bytes(data, name)
    assert [singer.name.split()[0] for singer in piece.singers] == ["Soprano", "Alto", "Tenor", "Bass"]
    assert [piece.sung_by(at)[0].pitch.name for at in range(4)] == ["C5", "F4", "C4", "F3"]
    assert words(piece) == ["Sing now", ""]


def test_staves_that_rest_for_a_system_stay_on_the_page() -> None:
    """Left out they would take the piano's places with them: where the choir sings alone the player has a page, too."""
    bars = 12
    lines = [(name, " | ".join(["z4"] * bars + [music.split(" |")[0]] * bars) + " |]", "") for name, music, _ in (
        SOPRANO, ALTO, TENOR, BASS)]  # fmt: skip
    lines = [(name.replace("S", "Soprano").replace("A", "Alto"), music, said) for name, music, said in lines]
    piano = f"[V:R] {' | '.join(['[FAc]4'] * bars + ['z4'] * bars)} |]\n[V:L] {' | '.join(['F,4'] * bars * 2)} |]\n"
    piece = from_bytes(abc(*lines, piano=piano), "choir.abc")
    systems = engrave(piece, Look(width_px=400, staff_px=32, words=True)).systems
    assert len(systems) > 2
    assert {tuple(staff.sung is not None for staff in system.staves) for system in systems} == {
        (True, True, False, False)
    }


@pytest.mark.parametrize("name", ["la-partenza", "schwesterlein", "der-mond-ist-aufgegangen", "day-comes-up-the-hill"])
def test_a_song_written_to_a_file_keeps_everybody_who_sings_and_every_verse(name: str) -> None:
    (path,) = bundled_folder().glob(f"*/{name}.musicxml")
    song = read(path)
    text = to_musicxml(song)
    names = re.findall(r'<note [^>]*id="([^"]*)"', text)
    assert len(set(names)) == len(names)
    again = from_bytes(text.encode(), f"{name}.musicxml")
    assert (again.singers, again.lyrics, again.verses) == (song.singers, song.lyrics, song.verses)
    for kept, written in zip((*again.sung, *again.notes), (*song.sung, *song.notes), strict=True):
        assert replace(kept, id="") == replace(written, id="")
    # For other programs everybody has all the words, though a page prints once what is sung together.
    parts = ET.fromstring(text.split("?>", 1)[1]).findall("part")
    assert len(parts) == len(song.singers) + 1
    assert all(any(part.iter("lyric")) for part in parts[:-1])


def test_a_singer_who_rests_through_a_system_is_left_out_of_it_and_every_head_stays_on_its_staff() -> None:
    piece = read(next(bundled_folder().rglob("day-comes-up-the-hill.musicxml")))
    look = Look(900, 28.0, ribbon_px=18.0, words=True, expression=True)
    above = len(staves_above(piece))
    shown = []
    for system in engrave(piece, look).systems:
        bars = [piece.bars[bar.bar] for bar in system.bars]
        start, end = bars[0].onset, bars[-1].onset + bars[-1].length
        sung = {note.staff for note in piece.sung if note.onset < end and start < note.end}
        voices = [staff for staff in system.staves if staff.sung is not None]
        assert len(voices) == len(sung)
        assert len(system.staves) == len(voices) + 2
        shown.append(len(voices))
        played = system.staves[-2:]
        assert all(staff.ribbon is not None for staff in played)
        for place in system.notes:
            note = piece.notes[place.note]
            assert place.staff == len(voices) + note.staff
            lines = played[note.staff - 1]
            assert lines.top - 40 < place.y < lines.bottom + 40
    assert shown[0] < shown[-1] == above


@pytest.mark.parametrize(("name", "wide"), [("schwesterlein", 460), ("la-partenza", 300)])
def test_singers_without_a_bracket_leave_their_room_too_and_get_none_by_it(name: str, wide: int) -> None:
    piece = read(next(bundled_folder().rglob(f"{name}.musicxml")))
    shown = set()
    for system in engrave(piece, Look(wide, 28.0, ribbon_px=18.0, words=True)).systems:
        shown.add(sum(staff.sung is not None for staff in system.staves))
        # The piano's brace alone.
        assert len(re.findall(r'class="grpSym"', system.svg)) == 1
    assert min(shown) < max(shown) == len(staves_above(piece))


def test_the_piano_stays_where_it_rests_through_a_system_while_the_choir_sings() -> None:
    piece = read(next(bundled_folder().rglob("day-comes-up-the-hill.musicxml")))
    silent = {at for at, bar in enumerate(piece.bars) if 14 <= bar.number <= 28}
    alone = piece.with_notes(note for note in piece.notes if piece.bar_index(note.onset) not in silent)
    systems = engrave(alone, Look(700, 28.0, ribbon_px=18.0, words=True)).systems
    assert any({bar.bar for bar in system.bars} <= silent for system in systems)
    assert {sum(staff.sung is None for staff in system.staves) for system in systems} == {2}
