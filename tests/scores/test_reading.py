"""Reading: every sounding note with its id, hands, voices, ties, repeats, graces, keys; and MIDI."""

from __future__ import annotations

import io
import json
import shutil
import zipfile
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import mido
import pytest

from tests.scores.making import note, piece, score, xml_note
from trainer import folders
from trainer.coaching.singers.accompany import voice_line
from trainer.music.keys import Key
from trainer.music.packed import packed, unpacked
from trainer.music.passage import passage
from trainer.music.piece import Piece
from trainer.music.pitch import Interval, MusicError
from trainer.music.transpose import transposed
from trainer.scores import reading
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.reading import from_bytes, left_out, read

ATTRIBUTES = (
    "<attributes><divisions>{d}</divisions><key><fifths>{k}</fifths></key>"
    "<time><beats>{b}</beats><beat-type>4</beat-type></time>{more}</attributes>"
)


def bar(number: int, *content: str, d: int = 1, k: int = 0, b: int = 4, more: str = "", implicit: str = "no") -> str:
    first = ATTRIBUTES.format(d=d, k=k, b=b, more=more) if number <= 1 else ""
    return f'<measure number="{number}" implicit="{implicit}">{first}{"".join(content)}</measure>'


def names(*content: str, **more: Any) -> list[str]:
    return [n.id for n in from_bytes(score(bar(1, *content, **more)), "x").notes]


def test_ids_of_the_file_are_kept_and_missing_ones_given_without_collision() -> None:
    found = names(xml_note("C4", 1, attributes='id="n2"'), xml_note("D4", 1), xml_note("E4", 1, attributes='id="x"'),
                  xml_note("F4", 1))  # fmt: skip
    assert found[0] == "n2"
    assert found[2] == "x"
    assert len(set(found)) == 4
    assert names(xml_note("C4", 1), xml_note("", 1), xml_note("E4", 2)) == ["n1", "n2"]


def test_two_notes_of_one_id_do_not_both_keep_it() -> None:
    found = names(xml_note("C4", 2, attributes='id="a"'), xml_note("D4", 2, attributes='id="a"'))
    assert found[0] == "a"
    assert found[1] != "a"


def test_tied_notes_are_one_with_the_first_id_and_the_whole_length() -> None:
    document = score(
        bar(1, xml_note("", 2), xml_note("G4", 2, '<tie type="start"/>', 'id="first"'))
        + bar(2, xml_note("G4", 4, '<tie type="stop"/><tie type="start"/>', 'id="second"'))
        + bar(3, xml_note("G4", 1, '<tie type="stop"/>', 'id="third"'), xml_note("G4", 3, "", 'id="own"'))
    )
    found = from_bytes(document, "x").notes
    assert [(n.id, n.onset, n.length) for n in found] == [("first", 2, 7), ("own", 9, 3)]


def test_a_tie_leads_over_a_first_ending_into_the_second() -> None:
    repeat = '<barline location="right"><ending number="1" type="stop"/><repeat direction="backward"/></barline>'
    document = score(
        bar(1, xml_note("C4", 4, '<tie type="start"/>', 'id="a"'))
        + bar(2, '<barline location="left"><ending number="1" type="start"/></barline>',
              xml_note("C4", 4, '<tie type="stop"/>', 'id="b"'), repeat)
        + bar(3, '<barline location="left"><ending number="2" type="start"/></barline>',
              xml_note("C4", 4, '<tie type="stop"/>', 'id="c"'),
              '<barline location="right"><ending number="2" type="stop"/></barline>')
    )  # fmt: skip
    found = from_bytes(document, "x")
    assert [(n.id, n.onset, n.length) for n in found.notes] == [("a", 0, 8), ("a", 8, 8)]
    assert [b.number for b in found.bars] == [1, 2, 1, 3]


def test_files_that_leave_out_the_far_end_of_ties_are_joined_all_the_same() -> None:
    document = score(bar(1, xml_note("C4", 2, '<tie type="start"/>'), xml_note("C4", 1), xml_note("C4", 1)))
    assert [(n.onset, n.length) for n in from_bytes(document, "x").notes] == [(0, 3), (3, 1)]


def test_grace_notes_lean_on_the_next_note_and_are_optional() -> None:
    grace = xml_note("D5", 0, "", 'id="g"', before="<grace/>")
    found = from_bytes(score(bar(1, xml_note("A4", 2), grace, xml_note("C5", 2))), "x").notes
    assert [(n.onset, n.grace, n.optional) for n in found] == [(0, False, False), (2, True, True), (2, False, False)]


@pytest.mark.parametrize(("sign", "ornament"), [
    ("<ornaments><trill-mark/></ornaments>", "trill"), ("<ornaments><inverted-mordent/></ornaments>", "mordent"),
    ("<ornaments><turn/></ornaments>", "turn"), ("<arpeggiate/>", "arpeggio"),
    ('<ornaments><tremolo type="single">3</tremolo></ornaments>', "tremolo"),
])  # fmt: skip
def test_ornaments_are_kept_as_words(sign: str, ornament: str) -> None:
    found = from_bytes(score(bar(1, xml_note("C4", 4, f"<notations>{sign}</notations>"))), "x").notes
    assert found[0].ornament == ornament


def test_hands_come_from_staves_and_cross_staff_notes_keep_their_hand() -> None:
    staves = "<staves>2</staves>"
    crossing = xml_note("E3", 1, "<voice>1</voice><staff>2</staff>")
    right = [xml_note("C5", 1, "<voice>1</voice><staff>1</staff>")] * 3
    left = xml_note("C3", 4, "<voice>5</voice><staff>2</staff>")
    document = score(bar(1, *right, crossing, "<backup><duration>4</duration></backup>", left, more=staves))
    found = {(n.midi, n.onset): n for n in from_bytes(document, "x").notes}
    assert found[52, Fraction(3)].hand == "right"
    assert found[52, Fraction(3)].staff == 2
    assert found[48, Fraction(0)].hand == "left"
    assert found[48, Fraction(0)].voice == 1


def test_slashes_and_frets_are_no_further_notes() -> None:
    # MusicXML 4.0: notehead "slash" (rhythms without pitches), clef sign "TAB" (the notes of the other staff, by fret).
    slash = xml_note("B4", 1, "<notehead>slash</notehead>")
    found = from_bytes(score(bar(1, slash * 4) + bar(2, xml_note("C4", 4))), "x")
    assert [(n.pitch.name, n.onset) for n in found.notes] == [("C4", 4)]
    clefs = '<staves>2</staves><clef number="1"><sign>G</sign></clef><clef number="2"><sign>TAB</sign></clef>'
    back = "<backup><duration>4</duration></backup>"
    frets = bar(1, xml_note("E4", 4, "<staff>1</staff>"), back, xml_note("E4", 4, "<staff>2</staff>"), more=clefs)
    found = from_bytes(score(frets, names=("Guitar",)), "x")
    assert [(n.pitch.name, n.hand, n.optional) for n in found.notes] == [("E4", "right", False)]
    alone = '<clef number="1"><sign>TAB</sign></clef>'
    assert names(xml_note("E4", 4), more=alone) == ["n1"]


def test_two_piano_parts_of_one_staff_each_are_two_hands() -> None:
    found = from_bytes(score(bar(1, xml_note("C5", 4)), bar(1, xml_note("C3", 4))), "x")
    assert [(n.midi, n.hand, n.staff) for n in found.notes] == [(48, "left", 2), (72, "right", 1)]


def test_parts_that_are_called_by_a_hand_are_played_by_it_whatever_their_order_and_clef() -> None:
    left, right = bar(1, xml_note("C3", 4)), bar(1, xml_note("C5", 4))
    found = from_bytes(score(left, right, names=("Piano left", "Piano right")), "x")
    assert [(n.midi, n.hand, n.staff) for n in found.notes] == [(48, "left", 2), (72, "right", 1)]
    # A low tune for the right hand alone stands in the bass clef, and is written and read again.
    low = piece(note("a", "C3", 0, 4), note("b", "D3", 4, 4))
    again = from_bytes(to_musicxml(low).encode(), "x")
    assert again.hands == low.hands == ("right",)


def test_of_three_staves_the_upper_two_are_voices_of_one_hand() -> None:
    back = "<backup><duration>4</duration></backup>"
    moving = "".join(xml_note(pitch, 1, "<voice>5</voice><staff>2</staff>") for pitch in ("E4", "F4", "G4", "A4"))
    pedal = xml_note("C2", 4, "<voice>9</voice><staff>3</staff>")
    held = xml_note("C5", 4, "<voice>1</voice><staff>1</staff>")
    found = from_bytes(score(bar(1, held, back, moving, back, pedal, more="<staves>3</staves>")), "x")
    assert {(n.hand, n.voice, n.length) for n in found.notes} == {("right", 1, 4), ("right", 2, 1), ("left", 1, 4)}
    # What is held stays one note on the page, and is not tied from beat to beat.
    assert "<tied" not in to_musicxml(found)


def test_staff_numbers_alone_make_two_hands_where_staves_are_never_declared() -> None:
    upper = xml_note("C5", 4, "<voice>1</voice><staff>1</staff>")
    lower = xml_note("C3", 4, "<voice>2</voice><staff>2</staff>")
    found = from_bytes(score(bar(1, upper, "<backup><duration>4</duration></backup>", lower)), "x")
    assert [(n.midi, n.hand) for n in found.notes] == [(48, "left"), (72, "right")]


SONG = score(
    bar(1, xml_note("A4", 4, "<lyric><syllabic>single</syllabic><text>Oh</text></lyric>")),
    bar(1, xml_note("C5", 4, "<staff>1</staff>"), "<backup><duration>4</duration></backup>",
        xml_note("F3", 4, "<voice>5</voice><staff>2</staff>"), more="<staves>2</staves>"),
    names=("Voice", "Piano"),
)  # fmt: skip


def sung_over_piano(*singers: tuple[str, str]) -> bytes:
    """A bar of singers, each a pitch and a word, over a piano."""
    lines = [bar(1, xml_note(pitch, 4, f"<lyric><syllabic>single</syllabic><text>{word}</text></lyric>"))
             for pitch, word in singers]  # fmt: skip
    piano = bar(1, xml_note("C5", 4, "<staff>1</staff>"), "<backup><duration>4</duration></backup>",
                xml_note("F3", 4, "<voice>5</voice><staff>2</staff>"), more="<staves>2</staves>")  # fmt: skip
    return score(*lines, piano, names=(*("Soprano", "Alto", "Tenor")[: len(singers)], "Piano"))


def said(song: Piece) -> list[str]:
    """The words printed for others than the first singer."""
    return [word.text for singer in song.singers for word in singer.words]


@pytest.mark.parametrize(
    ("singers", "shown", "words"),
    [((("A4", "Oh"),), "A4/1", ""),
     ((("A4", "Oh"), ("F4", "Oh")), "F4/1 A4/1", ""),
     ((("A4", "Oh"), ("F4", "Ah")), "F4/2 A4/1", "Ah"),
     ((("A4", "Oh"), ("F3", "Oh")), "F3/2 A4/1", "Oh"),
     ((("A4", "Oh"), ("F4", "Oh"), ("C4", "Oh")), "C4/2 F4/1 A4/1", ""),
     ((("A4", "Oh"), ("F4", "Ah"), ("C4", "Mm")), "C4/3 F4/2 A4/1", "Ah Mm")],
)  # fmt: skip
def test_all_who_sing_are_shown_and_nobody_has_the_same_words_beside_another(
    singers: tuple[tuple[str, str], ...], shown: str, words: str, tmp_path: Path
) -> None:
    path = tmp_path / "song.musicxml"
    path.write_bytes(sung_over_piano(*singers))
    assert left_out(path) == ""
    song = read(path)
    assert " ".join(f"{note.pitch.name}/{note.staff}" for note in song.sung) == shown, "and on which staff"
    assert " ".join(said(song)) == words
    assert [note.pitch.name for note in song.notes] == ["F3", "C5"]
    assert [note.pitch.name for note in song.voice] == ["A4"], "the key is found for the first singer"
    assert [word.text for word in song.lyrics] == ["Oh"]


def test_the_second_singer_stands_in_a_voice_whose_stems_go_down() -> None:
    """The engraver turns stems by the number of the voice: odd ones up, even ones down."""
    song = from_bytes(sung_over_piano(("A4", "Oh"), ("F4", "Oh")), "x")
    assert [(note.pitch.name, note.voice % 2) for note in song.sung] == [("F4", 0), ("A4", 1)]


def test_a_second_singer_on_a_staff_of_their_own_is_kept_moved_and_cut_with_the_song() -> None:
    song = from_bytes(sung_over_piano(("A4", "Oh"), ("F3", "Ah")), "x")
    kept = unpacked(json.loads(json.dumps(packed(song))))
    assert (kept.sung, kept.singers) == (song.sung, song.singers)
    lower = transposed(song, Interval.parse("-M2"))
    assert [(note.pitch.name, note.staff) for note in lower.sung] == [("Eb3", 2), ("G4", 1)]
    assert said(passage(lower, bars=(0, 0))) == ["Ah"]


def test_a_second_singer_whose_clef_has_an_eight_is_known_by_it() -> None:
    eight = "<clef><sign>G</sign><line>2</line><clef-octave-change>-1</clef-octave-change></clef>"
    plain = sung_over_piano(("A4", "Oh"), ("F3", "Ah")).decode()
    head, found, rest = plain.partition('<part id="P1">')
    song = from_bytes((head + found + rest.replace("</attributes>", f"{eight}</attributes>", 1)).encode(), "x")
    assert (song.at_pitch, song.singers[1].at_pitch) == (False, True)
    assert unpacked(packed(song)).singers[1].at_pitch
    assert voice_line(song, 1).at_pitch
    assert not voice_line(song).at_pitch


@pytest.mark.parametrize(
    ("under", "lyrics", "second", "line"),
    [("Ah", "Oh", "Ah", "A4"), ("Oh", "Oh", "", "F4 A4"), ("", "Oh", "", "F4 A4")],
)
def test_two_singers_in_one_part_are_told_apart_where_they_sing_other_words(
    under: str, lyrics: str, second: str, line: str
) -> None:
    def sung(pitch: str, voice: int, word: str) -> str:
        said = f"<lyric><syllabic>single</syllabic><text>{word}</text></lyric>" if word else ""
        return xml_note(pitch, 4, f"<voice>{voice}</voice>{said}")

    back = "<backup><duration>4</duration></backup>"
    voices = bar(1, sung("A4", 1, "Oh"), back, sung("F4", 2, under))
    piano = bar(1, xml_note("C5", 4, "<staff>1</staff>"), back, xml_note("F3", 4, "<voice>5</voice><staff>2</staff>"),
                more="<staves>2</staves>")  # fmt: skip
    song = from_bytes(score(voices, piano, names=("Voices", "Piano")), "x")
    assert " ".join(dict.fromkeys(word.text for word in song.lyrics)) == lyrics
    assert " ".join(said(song)) == second
    assert " ".join(note.pitch.name for note in song.voice) == line
    assert [note.staff for note in song.sung] == [2 if second else 1, 1]


@pytest.mark.parametrize("number", ["2", "3", "4"])
def test_a_singer_whose_voice_the_file_numbers_high_has_a_line(number: str) -> None:
    high = sung_over_piano(("A4", "Oh")).replace(b"<lyric>", f"<voice>{number}</voice><lyric>".encode(), 1)
    song = from_bytes(high, "x")
    assert [(note.pitch.name, note.voice) for note in song.voice] == [("A4", 1)]


def test_of_a_song_the_piano_is_played_and_the_voice_kept_apart() -> None:
    song = from_bytes(SONG, "x")
    assert [n.midi for n in song.notes] == [53, 72]
    assert [n.midi for n in song.sung] == [69]
    assert [n.midi for n in song.voice] == [69]
    assert [word.text for word in song.lyrics] == ["Oh"]
    assert [n.midi for n in from_bytes(SONG, "x", parts="voice").notes] == [69]
    whole = from_bytes(SONG, "x", parts="all")
    assert [n.midi for n in whole.notes] == [53, 69, 72]
    assert [whole.notes[i].midi for i in whole.voice_line] == [69]


def test_a_wish_for_parts_that_do_not_exist_is_refused() -> None:
    with pytest.raises(MusicError, match="piano, voice, all"):
        read("x.musicxml", parts="trumpet")


def test_the_pickup_is_bar_nought() -> None:
    document = score(bar(1, xml_note("G4", 1)) + bar(2, xml_note("C5", 4)))
    assert [(b.number, b.length) for b in from_bytes(document, "x").bars] == [(0, 1), (2, 4)]


def test_bars_without_numbers_are_counted() -> None:
    bars = (bar(1, xml_note("C4", 4)) + bar(2, xml_note("D4", 4))).replace(' number="1"', "").replace(' number="2"', "")
    assert [one.number for one in from_bytes(score(bars), "x").bars] == [1, 2]


def test_a_repeat_plays_the_same_ids_again() -> None:
    document = score(bar(1, xml_note("C4", 4, "", 'id="a"'))
                     + bar(2, xml_note("D4", 4, "", 'id="b"'),
                           '<barline location="right"><repeat direction="backward"/></barline>'))  # fmt: skip
    assert [(n.id, n.onset) for n in from_bytes(document, "x").notes] == [("a", 0), ("b", 4), ("a", 8), ("b", 12)]


def test_a_key_written_by_two_voices_wants_one_press() -> None:
    two = [xml_note("C4", 4, "<voice>1</voice>", 'id="long"'), "<backup><duration>4</duration></backup>",
           xml_note("C4", 1, "<voice>2</voice>", 'id="short"')]  # fmt: skip
    found = {n.id: n.optional for n in from_bytes(score(bar(1, *two)), "x").notes}
    assert found == {"long": False, "short": True}


@pytest.mark.parametrize(("attributes", "before"), [('print-object="no"', ""), ("", "<cue/>")])
def test_hidden_and_cue_notes_are_there_but_may_be_left_out(attributes: str, before: str) -> None:
    found = from_bytes(score(bar(1, xml_note("C4", 2), xml_note("D4", 2, "", attributes, before))), "x").notes
    assert [n.optional for n in found] == [False, True]


def test_rounded_triplets_become_exact_and_meet_the_other_hand() -> None:
    thirds = "<type>eighth</type><time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes>"
    third = thirds + "</time-modification><staff>1</staff>"
    upper = [xml_note("C5", length, third) for length in (3, 3, 2)]  # eight divisions do not part by three
    lower = [xml_note("C3", 8, "<staff>2</staff>"), xml_note("D3", 8, "<staff>2</staff>")]
    after = xml_note("E5", 8, "<type>quarter</type><staff>1</staff>")
    back = "<backup><duration>16</duration></backup>"
    document = score(bar(1, *upper, after, back, *lower, d=8, b=2, more="<staves>2</staves>"))
    onsets = [n.onset for n in from_bytes(document, "x").notes]
    assert sorted(set(onsets)) == [0, Fraction(1, 3), Fraction(2, 3), 1]


def test_a_transposing_part_sounds_where_it_sounds() -> None:
    clarinet = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    assert [n.pitch.name for n in from_bytes(score(bar(1, xml_note("D4", 4), more=clarinet)), "x").notes] == ["C4"]


@pytest.mark.parametrize(
    ("interval", "fifths"),
    [((-1, -2), 2), ((-1, -2), -6), ((-5, -9), 3), ((-4, -7), -1), ((2, 3), 0), ((1, 1), -4), ((1, 1), 5)],
)
def test_a_transposing_part_stands_in_the_key_that_sounds(interval: tuple[int, int], fifths: int) -> None:
    """Beside music21's sounding pitch, by keys of the piano; clarinets in B flat, A and E flat, horn, saxophone."""
    from music21 import converter

    steps, semitones = interval
    moves = f"<transpose><diatonic>{steps}</diatonic><chromatic>{semitones}</chromatic></transpose>"
    written = Key.from_signature(fifths)
    chord = (
        f"<harmony><root><root-step>{written.letter}</root-step><root-alter>{written.alteration}</root-alter></root>"
        "<kind>major</kind></harmony>"
    )
    notes = [xml_note(pitch.name, 1) for pitch in written.scale[:4]]
    document = score(bar(1, chord, *notes, k=fifths, more=moves))
    found = from_bytes(document.replace(b"</fifths>", b"</fifths><mode>major</mode>"), "x")
    theirs = converter.parseData(document.decode(), format="musicxml").toSoundingPitch()
    signature = next(iter(theirs.recurse().getElementsByClass("KeySignature")))
    assert (found.key.signature - signature.sharps) % 12 == 0
    assert [n.midi for n in found.notes] == [n.pitch.midi for n in theirs.recurse().getElementsByClass("Note")]
    assert [n.pitch.sign_name for n in found.notes] == [p.sign_name for p in found.key.scale[:4]]
    assert abs(found.key.signature) <= 7
    assert [word.text.replace("b", "♭") for word in found.chords] == [found.key.tonic.sign_name]


def test_music_without_a_signature_stands_in_none_until_one_comes() -> None:
    plain = ATTRIBUTES.format(d=1, k=0, b=4, more="").replace("<key><fifths>0</fifths></key>", "")
    bars = [f'<measure number="1">{plain}{xml_note("C4", 4)}</measure>', bar(2, xml_note("F4", 4))]
    bars.append(
        f'<measure number="3"><attributes><key><fifths>3</fifths></key></attributes>{xml_note("A4", 4)}</measure>'
    )
    found = from_bytes(score("".join(bars)), "x")
    assert [(change.onset, change.key.name) for change in found.keys] == [(0, "C major"), (8, "A major")]


def test_a_transposition_that_begins_in_the_piece_takes_the_key_along() -> None:
    to_clarinet = "<attributes><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>"
    document = score(bar(1, xml_note("D4", 4), k=2) + bar(2, to_clarinet, xml_note("E4", 4)))
    found = from_bytes(document.replace(b"</fifths>", b"</fifths><mode>major</mode>"), "x")
    assert [(change.onset, change.key.short) for change in found.keys] == [(0, "D"), (4, "C")]
    assert [n.pitch.name for n in found.notes] == ["D4", "D4"]


def test_the_mode_is_heard_where_the_file_says_none() -> None:
    minor = [xml_note(p, 1) for p in ("A4", "C5", "E5", "G#4")] + [xml_note("A4", 4)]
    found = from_bytes(score(bar(1, *minor[:4]) + bar(2, minor[4])), "x")
    assert found.key == Key.parse("a")
    assert found.key_confidence > 0.6
    assert reading.in_key(found, Key.parse("C")).key == Key.parse("C")


@pytest.mark.parametrize(("fifths", "key"), [("8", "Ab"), ("-9", "A"), ("9" * 400, "C")])
def test_signatures_beyond_seven_are_read_as_the_key_of_the_same_piano_keys(fifths: str, key: str) -> None:
    document = score(bar(1, xml_note("C4", 4))).replace(b"<fifths>0</fifths>", f"<fifths>{fifths}</fifths>".encode())
    found = from_bytes(document.replace(b"</fifths>", b"</fifths><mode>major</mode>"), "x").key
    assert found.mode == "major"
    assert key == "C" or found == Key.parse(key)


def test_timewise_documents_and_namespaces_are_read_too() -> None:
    plain = score(bar(1, xml_note("C4", 4)) + bar(2, xml_note("D4", 4))).decode()
    measures = plain[plain.index("<measure") : plain.index("</part></score")].split("</measure>")[:-1]
    inner = "".join(m.replace(">", '><part id="P0">', 1) + "</part></measure>" for m in measures)
    timewise = plain[: plain.index('<part id="P0">')].replace("partwise", "timewise") + inner + "</score-timewise>"
    assert [n.midi for n in from_bytes(timewise.encode(), "x").notes] == [60, 62]
    spaced = plain.replace("<score-partwise", '<score-partwise xmlns="urn:x"')
    assert [n.midi for n in from_bytes(spaced.encode(), "x").notes] == [60, 62]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "latin-1", "ISO-8859-15", "Windows-1252", "macintosh"])
def test_any_encoding_a_file_declares(encoding: str) -> None:
    made = replace(piece(note("a", "C4", 0, 4)), title="Für Élise")
    text = to_musicxml(made).replace('encoding="UTF-8"', f'encoding="{encoding}"')
    assert from_bytes(text.encode(encoding), "x").title == "Für Élise"


def test_a_compressed_file_is_read_by_its_container_and_under_any_name(tmp_path: Path) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        container = '<container><rootfiles><rootfile full-path="inner/tune.xml"/></rootfiles></container>'
        archive.writestr("META-INF/container.xml", container)
        archive.writestr("aaa.xml", "<nothing/>")
        archive.writestr("inner/tune.xml", to_musicxml(piece(note("a", "C4", 0, 4))))
    place = tmp_path / "holiday.jpg"
    place.write_bytes(packed.getvalue())
    assert read(place).notes[0].id == "a"


def test_the_second_reading_comes_from_the_cache_and_is_equal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KEYFARER_HOME", str(tmp_path / "home"))
    place = tmp_path / "song.musicxml"
    place.write_bytes(SONG)
    first = read(place)
    monkeypatch.setattr(reading, "from_bytes", lambda *_, **__: pytest.fail("read afresh"))
    assert read(place) == first
    place.write_bytes(SONG.replace(b"Oh", b"Ah"))
    with pytest.raises(pytest.fail.Exception):
        read(place)


def test_a_damaged_cache_entry_is_read_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KEYFARER_HOME", str(tmp_path / "home"))
    place = tmp_path / "song.musicxml"
    place.write_bytes(SONG)
    first = read(place)
    for entry in folders.cache().iterdir():
        entry.write_bytes(b"\x80\x04junk")
    assert read(place) == first
    shutil.rmtree(folders.cache())
    folders.cache().parent.chmod(0o500)
    assert read(place) == first
    folders.cache().parent.chmod(0o700)


def midi(
    *tracks: list[tuple[int, int, int]], meta: tuple[mido.MetaMessage, ...] = (), names: tuple[str, ...] = ()
) -> bytes:
    """A Standard MIDI File of (start, end, key) in ticks, 480 to the quarter."""
    file = mido.MidiFile(ticks_per_beat=480)
    for number, held in enumerate(tracks):
        track = mido.MidiTrack()
        file.tracks.append(track)
        if number < len(names):
            track.append(mido.MetaMessage("track_name", name=names[number]))
        if number == 0:
            track.extend(meta)
        events = sorted([(end, 0, key) for _, end, key in held] + [(start, 64, key) for start, _, key in held])
        now = 0
        for tick, velocity, key in events:
            track.append(mido.Message("note_on", note=key, velocity=velocity, time=tick - now))
            now = tick
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def line(keys: list[int], length: int = 480, early: int = 40) -> list[tuple[int, int, int]]:
    return [(i * length, (i + 1) * length - early, key) for i, key in enumerate(keys)]


def test_midi_is_spelled_in_the_key_that_is_heard() -> None:
    e_flat = [63, 65, 67, 68, 70, 72, 74, 75, 74, 70, 67, 63]
    found = from_bytes(midi(line(e_flat)), "take.mid")
    assert found.key == Key.parse("Eb")
    assert [n.pitch.name for n in found.notes[:4]] == ["Eb4", "F4", "G4", "Ab4"]
    assert {n.length for n in found.notes[:-1]} == {1}
    assert found.title == "Take"


def test_the_player_may_overrule_the_key_of_a_midi_file() -> None:
    data = midi(line([63, 66, 68, 70, 63]))
    assert [n.pitch.name for n in from_bytes(data, "x.mid", key=Key.parse("d#")).notes][:3] == ["D#4", "F#4", "G#4"]
    assert [n.pitch.name for n in from_bytes(data, "x.mid", key=Key.parse("eb")).notes][:3] == ["Eb4", "Gb4", "Ab4"]


def test_midi_hands_by_track_by_name_and_by_splitting() -> None:
    upper, lower = line([72, 74, 76]), line([48, 50, 52])
    by_track = from_bytes(midi(lower, upper), "x.mid")
    assert {(n.midi >= 60, n.hand) for n in by_track.notes} == {(True, "right"), (False, "left")}
    crossed = from_bytes(midi(line([50, 50]), line([60, 60]), names=("Right hand", "Left hand")), "x.mid")
    assert {(n.midi, n.hand) for n in crossed.notes} == {(50, "right"), (60, "left")}
    together = from_bytes(midi(upper + lower), "x.mid")
    assert {(n.midi >= 60, n.hand) for n in together.notes} == {(True, "right"), (False, "left")}


def test_midi_meter_tempo_and_triplets() -> None:
    meta = (mido.MetaMessage("time_signature", numerator=3, denominator=4), mido.MetaMessage("set_tempo", tempo=750000))
    wobble = [3, -4, 5, 0, -3, 2]
    held = [(160 * i + wobble[i] + 10, 160 * i + 150, 60 + i) for i in range(6)]
    found = from_bytes(midi(held, meta=meta), "x.mid")
    assert [n.onset for n in found.notes] == [Fraction(i, 3) for i in range(6)]
    assert found.bars[0].meter == (3, 4)
    assert found.tempo == pytest.approx(80)


def test_layered_sounds_that_double_every_note_are_one_piece() -> None:
    tune = line([60, 62, 64, 65])
    data = midi(tune + [(a + 1, b, k) for a, b, k in tune])
    assert len(from_bytes(data, "x.mid").notes) == 4


ABC = b"X:1\nT:Little Tune\nM:3/4\nL:1/4\nK:Dmin\nD E F|G2 A|_B A G|D3|]\n"
KERN = (
    b"**kern\t**kern\n*clefF4\t*clefG2\n*k[f#]\t*k[f#]\n*G:\t*G:\n*M4/4\t*M4/4\n=1\t=1\n2G\t4b\n"
    b".\t4a\n2D\t2g\n==\t==\n*-\t*-\n"
)


def test_abc_and_humdrum() -> None:
    tune = from_bytes(ABC, "a file without any ending")
    assert (tune.title, tune.key, [n.pitch.name for n in tune.notes][5]) == ("Little Tune", Key.parse("d"), "Bb4")
    assert {n.hand for n in tune.notes} == {"right"}
    kern = from_bytes(KERN, "x")
    assert [(n.pitch.name, n.onset, n.hand) for n in kern.notes] == [
        ("G3", 0, "left"), ("B4", 0, "right"), ("A4", 1, "right"), ("D3", 2, "left"), ("G4", 2, "right"),
    ]  # fmt: skip
    assert kern.key == Key.parse("G")


def abc(*body: str, key: str = "C", head: str = "T:Tune\n") -> Piece:
    """A tune in quarters of 4/4."""
    return from_bytes(f"X:1\n{head}M:4/4\nL:1/4\nK:{key}\n{''.join(body)}\n".encode(), "tune.abc")


@pytest.mark.parametrize("change", ["|[K:F]", "|\nK:F\n", "|\n[K:F] % [K:E]\n"])
def test_a_key_change_in_abc_is_one_line_or_inline(change: str) -> None:
    """ABC 2.1, 3.2: fields within the tune body (from memory)."""
    found = abc("C D E F", change, "G A B c|c B A G|F4|")
    assert [(c.onset, c.key.short) for c in found.keys] == [(0, "C"), (4, "F")]
    assert [n.pitch.name for n in found.notes][6] == "Bb4"


def test_a_change_within_a_bar_of_abc_divides_no_bar() -> None:
    found = abc("C D E F|G A [K:F]B c|[M:3/4]c B A|F3|")
    assert [(b.number, b.length, b.meter) for b in found.bars] == [
        (1, 4, (4, 4)), (2, 4, (4, 4)), (3, 3, (3, 4)), (4, 3, (3, 4)),
    ]  # fmt: skip
    assert [n.pitch.name for n in found.notes][6] == "Bb4"


@pytest.mark.parametrize(
    ("said", "scale", "named"),
    [("Ddor", "Dorian", "D dorian"), ("Gmix", "Mixolydian", "G mixolydian"), ("FLyd", "Lydian", "F lydian"),
     ("E phrygian", "Phrygian", "E phrygian"), ("Edor", "Dorian", "E dorian"), ("Amix", "Mixolydian", "A mixolydian"),
     ("Bloc", "Locrian", "B locrian"), ("Aaeo", "Minor", "A minor"), ("C ionian", "Major", "C major")],
)  # fmt: skip
def test_a_church_mode_keeps_its_tonic_and_its_notes(said: str, scale: str, named: str) -> None:
    """The notes are those of music21's scale of the mode."""
    from music21 import scale as scales

    steps = "CDEFGABcdefgab"
    at = steps.index(said[0])
    found = abc(f"{' '.join(steps[at : at + 4])}|{' '.join(steps[at + 4 : at + 7])} z|{said[0]}4|", key=said)
    theirs = getattr(scales, f"{scale}Scale")(said[0]).getPitches(f"{said[0]}4")[:7]
    assert [n.pitch.name for n in found.notes][:7] == [pitch.nameWithOctave.replace("-", "b") for pitch in theirs]
    assert (found.key.name, found.key_confidence) == (named, 1.0)
    assert all(found.key.alteration_of(n.pitch.letter) == n.pitch.alteration for n in found.notes)


@pytest.mark.parametrize(
    ("fifths", "mode", "named"),
    [(0, "dorian", "D dorian"), (0, "locrian", "B locrian"), (2, "Dorian", "E dorian"), (7, "phrygian", "E♯ phrygian"),
     (-1, "mixolydian", "C mixolydian"), (-3, "aeolian", "C minor"), (1, "ionian", "G major")],
)  # fmt: skip
def test_a_church_mode_in_musicxml_keeps_its_tonic_and_its_signature(fifths: int, mode: str, named: str) -> None:
    document = score(bar(1, xml_note("B4", 4), k=fifths))
    found = from_bytes(document.replace(b"</fifths>", f"</fifths><mode>{mode}</mode>".encode()), "x")
    assert (found.key.name, found.key.signature) == (named, fifths)
    assert from_bytes(to_musicxml(found).encode(), "y").key == found.key


@pytest.mark.parametrize(
    ("body", "numbers"),
    [("C D E F|G A B c|c4|", [1, 2, 3]), ("G|C D E F|G4|G F E D|C3|", [0, 1, 2, 3, 4]),
     ("(3GAB|C D E F|G4|G F E D|C2|", [0, 1, 2, 3, 4]), ("V:1\nC4|D4|E4|\nV:2\nC,4|D,4|E,4|", [1, 2, 3])],
)  # fmt: skip
def test_bars_of_abc_are_counted_from_one_but_for_a_pickup(body: str, numbers: list[int]) -> None:
    assert [b.number for b in abc(body).bars] == numbers


@pytest.mark.parametrize(
    ("symbol", "read_as"),
    [("C#m7b5", "C#m7b5"), ("G7#9", "G7#9"), ("Cm7b5/Gb", "Cm7b5/Gb"), ("G7sus4", "G7sus4"), ("Cadd9", "Cadd9"),
     ("Caug", "Caug"), ("C7b9", "C7b9"), ("C13", "C13"), ("Bbmaj7", "Bbmaj7"), ("N.C.", "")],
)  # fmt: skip
def test_chord_symbols_of_abc_are_read_whole(symbol: str, read_as: str) -> None:
    found = abc(f'"{symbol}"C4|D4|E4|')
    assert "".join(word.text for word in found.chords) == read_as
    written = from_bytes(to_musicxml(found).encode(), "again.musicxml")
    assert [word.text for word in written.chords] == [word.text for word in found.chords]


def test_degrees_of_a_chord_symbol_are_said_once() -> None:
    """MusicXML 4.0, `degree`: value, alter and type (add, alter, subtract)."""

    def harmony(kind: str, *degrees: tuple[int, int, str]) -> str:
        said = "".join(
            f"<degree><degree-value>{value}</degree-value><degree-alter>{alter}</degree-alter>"
            f"<degree-type>{how}</degree-type></degree>"
            for value, alter, how in degrees
        )
        return f"<harmony><root><root-step>C</root-step></root>{kind}{said}</harmony>"

    for chord, said in (
        (harmony("<kind>dominant</kind>", (9, -1, "add"), (5, 1, "alter")), "C7b9#5"),
        (harmony("<kind text='m7b5'>half-diminished</kind>", (5, -1, "alter")), "Cm7b5"),
        (harmony("<kind text='7'>dominant</kind>", (3, 0, "subtract")), "C7no3"),
        (harmony("<kind text='7omit3'>dominant</kind>", (3, 0, "subtract")), "C7omit3"),
        (harmony("<kind use-symbols='yes' text='7'>half-diminished</kind>"), "Cm7b5"),
        (harmony("<kind use-symbols='yes' text='7'>major-seventh</kind>"), "Cmaj7"),
        (
            harmony("<kind text='7sus'>dominant</kind>", (4, 0, "add")).replace(
                "<degree>", "<degree print-object='no'>"
            ),
            "C7sus",
        ),
        (harmony("<kind use-symbols='yes' text=''>minor</kind>", (9, 0, "add")), "Cmadd9"),
    ):
        assert [w.text for w in from_bytes(score(bar(1, chord, xml_note("C4", 4))), "x").chords] == [said]


def test_nobody_is_made_the_composer_of_a_tune() -> None:
    assert (abc("C D E F|G4|").composer, abc("C4|D4|E4|", head="C:A. Nonymous\n").composer) == ("", "A. Nonymous")
    assert abc("C4|D4|E4|", head="").title == "Tune"


@pytest.mark.parametrize(
    ("body", "bars"), [("C D E F|G4|]", 2), ("C D E F|G4", 2), ("|:C D E F|G4:|", 4), ("C D E F|]", 1), ("C D E F", 1)]
)
def test_a_tune_of_two_bars_or_one_is_read(body: str, bars: int) -> None:
    found = abc(body)
    assert [b.length for b in found.bars] == [4] * bars
    assert [n.pitch.name for n in found.notes][:4] == ["C4", "D4", "E4", "F4"]


def test_a_piece_whose_only_notes_stand_in_a_second_ending_never_reached_is_refused() -> None:
    second = '<barline location="left"><ending number="2" type="start"/></barline>'
    with pytest.raises(MusicError, match="no notes to play"):
        from_bytes(score(bar(1, second, xml_note("C4", 4))), "x")


def test_each_time_round_the_next_verse_is_sung() -> None:
    """MusicXML 4.0: `lyric` has a number for the verse; `elision` joins two syllables on one note."""

    def words(*verses: tuple[str, str]) -> str:
        return "".join(f'<lyric number="{number}"><text>{text}</text></lyric>' for number, text in verses)

    back = '<barline location="right"><repeat direction="backward"/></barline>'
    last = words(("part1verse2", "go</text><elision>‿</elision><text>a"))
    document = score(
        bar(1, xml_note("C4", 4, words(("1", "old"), ("2", "new"))), back) + bar(2, xml_note("D4", 4, last))
    )
    assert [(word.onset, word.text) for word in from_bytes(document, "x").lyrics] == [
        (0, "old"),
        (4, "new"),
        (8, "go a"),
    ]


def test_the_tones_of_a_broken_chord_are_held_into_the_chord_they_are_tied_to() -> None:
    """Their own values end before it begins; struck there once more or held, neither is a slip."""
    start, stop = '<tie type="start"/>', '<tie type="stop"/>'
    broken = (xml_note("C4", 1, before="", more=start) + xml_note("E4", 1, more=start) + xml_note("G4", 2)
              + xml_note("C4", 4, more=stop) + xml_note("E4", 4, more=stop, before="<chord/>")
              + xml_note("C5", 4, before="<chord/>") + xml_note("C4", 4))  # fmt: skip
    found = from_bytes(score(bar(1, broken)), "x").notes
    assert [(note.pitch.name, note.onset, note.optional) for note in found] == [
        ("C4", 0, False), ("E4", 1, False), ("G4", 2, False), ("C4", 4, True), ("E4", 4, True), ("C5", 4, False),
        ("C4", 8, False),
    ]  # fmt: skip


def test_of_two_syllables_on_one_note_the_last_says_whether_the_word_goes_on() -> None:
    def sung(first: str, last: str) -> str:
        return (f'<lyric><syllabic>{first}</syllabic><text>te</text><elision/><syllabic>{last}</syllabic>'
                "<text>a</text></lyric>")  # fmt: skip

    document = score(bar(1, xml_note("C4", 2, sung("end", "begin")) + xml_note("D4", 2, sung("middle", "end"))))
    assert [word.text for word in from_bytes(document, "x").lyrics] == ["te a-", "te a"]


@pytest.mark.parametrize(
    ("said", "meter"),
    [("<beats>3+2</beats><beat-type>8</beat-type>", (5, 8)),
     ("<beats>2</beats><beat-type>4</beat-type><beats>3</beats><beat-type>8</beat-type>", (7, 8)),
     ("<beats>3</beats><beat-type>8</beat-type><beats>1</beats><beat-type>2</beat-type>", (7, 8))],
)  # fmt: skip
def test_a_meter_of_several_counts_all_its_beats(said: str, meter: tuple[int, int]) -> None:
    changed = f"<attributes><time>{said}</time></attributes>"
    assert from_bytes(score(bar(1, xml_note("C4", 4)) + bar(2, changed, xml_note("D4", 2))), "x").bars[1].meter == meter


def test_a_second_ending_sings_the_second_verse() -> None:
    def words(*verses: str) -> str:
        return "".join(f'<lyric number="{at}"><text>{text}</text></lyric>' for at, text in enumerate(verses, 1))

    def bracket(number: int, more: str = "") -> str:
        left = f'<barline location="left"><ending number="{number}" type="start"/></barline>'
        return f'{left}<barline location="right"><ending number="{number}" type="stop"/>{more}</barline>'

    document = score(
        bar(1, xml_note("C4", 4, words("joy", "grief")))
        + bar(2, xml_note("D4", 4, words("comes")), bracket(1, '<repeat direction="backward"/>'))
        + bar(3, xml_note("E4", 4, words("stays", "goes")), bracket(2))
        + bar(4, xml_note("F4", 4, words("here", "away")))
    )
    assert [word.text for word in from_bytes(document, "x").lyrics] == ["joy", "comes", "grief", "goes", "here"]


@pytest.mark.parametrize(
    ("said", "at_pitch"),
    [("<clef><sign>G</sign><line>2</line><clef-octave-change>-1</clef-octave-change></clef>", True),
     ("<transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>", True),
     ("<clef><sign>G</sign><line>2</line></clef>", False)],
)  # fmt: skip
def test_a_page_that_says_the_octave_of_its_voice_is_known(said: str, at_pitch: bool) -> None:
    found = from_bytes(score(bar(1, xml_note("A4", 4), more=said)), "tenor.musicxml")
    assert found.at_pitch == at_pitch
    assert unpacked(packed(found)).at_pitch == at_pitch


@pytest.mark.parametrize(
    ("count", "more", "length"),
    [(13, "<type>16th</type>", Fraction(13, 4)), (13, "", 3), (12, "<type>16th</type>", 3)],
)  # fmt: skip
def test_a_bar_too_full_keeps_its_last_note_and_a_crumb_of_rounding_does_not(
    count: int, more: str, length: Fraction
) -> None:
    """Without printed values a bar of thirteen may be one of twelve that a program counted up."""
    first = bar(1, xml_note("C4", 1, more) * count, d=4, b=3)
    found = from_bytes(score(first + bar(2, xml_note("D4", 12))), "x")
    assert [b.onset for b in found.bars] == [0, length]
    assert found.notes[-1].onset == length


def test_a_bar_of_abc_too_full_keeps_its_last_note() -> None:
    found = from_bytes(b"X:1\nM:6/8\nL:1/16\nK:C\nCDEFGABcdefga|c12|\n", "x.abc")
    assert [b.length for b in found.bars] == [Fraction(13, 4), 3]
    assert all(n.end <= found.bars[1].onset for n in found.notes[:13])
