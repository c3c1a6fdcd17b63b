"""How a page says its notes are to be played goes through reading, keys, the journal's form, writing and printing."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest

from tests.outside.references import parsed, work
from tests.scores.making import note, piece, score, xml_note
from tests.scores.test_reading import bar
from trainer.music.packed import music, packed, unpacked
from trainer.music.passage import passage
from trainer.music.piece import LEFT, Note, Piece
from trainer.music.pitch import Interval
from trainer.music.transpose import transposed
from trainer.scores.engraving.engraving import Look, engrave
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.notation.expressing import slurs_of, words_of
from trainer.scores.notation.preparing import Print
from trainer.scores.reading import from_bytes, read


def direction(sign: str, offset: int = 0) -> str:
    return f"<direction><direction-type>{sign}</direction-type><offset>{offset}</offset></direction>"


def noted(pitch: str, length: int, *signs: str) -> str:
    return xml_note(pitch, length, f"<notations>{''.join(signs)}</notations>")


def slur(kind: str, number: int = 1) -> str:
    return f'<slur type="{kind}" number="{number}"/>'


STACCATO = "<articulations><staccato/></articulations>"
PHRASE = bar(
    1,
    direction("<dynamics><mf/></dynamics>"),
    direction('<wedge type="crescendo"/>'),
    direction("<words>Player's name</words>"),
    noted("C4", 1, slur("start"), STACCATO),
    noted("D4", 1, slur("stop"), slur("start")),
    direction('<wedge type="stop"/>'),
    direction("<words>poco  rit.</words>"),
    noted("E4", 1, "<articulations><accent/><tenuto/></articulations>"),
    noted("F4", 1, slur("stop"), "<fermata/>"),
)
SIGNS = [("(", "staccato"), (")n1", "("), ("accent", "tenuto"), ("fermata", ")n2")]
DIRECTIONS = [(0, "mf"), (0, "<"), (2, "!"), (2, "poco rit.")]


@pytest.fixture
def phrase() -> Piece:
    return from_bytes(score(PHRASE), "phrase.musicxml")


def said(found: Piece) -> tuple[list[Any], list[Any]]:
    return [note.signs for note in found.notes], [(word.onset, word.text) for word in found.directions]


def test_it_is_read(phrase: Piece) -> None:
    signs, directions = said(phrase)
    assert [sorted(one) for one in signs] == [sorted(one) for one in SIGNS]
    assert directions == DIRECTIONS


def test_it_is_written_and_read_again_and_goes_along_into_any_key_journal_and_passage(phrase: Piece) -> None:
    again = from_bytes(to_musicxml(phrase).encode(), "again.musicxml")
    assert [sorted(one) for one in said(again)[0]] == [sorted(one) for one in SIGNS]
    for other in (again, transposed(phrase, Interval.parse("m3")), unpacked(packed(phrase)), passage(phrase, (0, 0))):
        assert said(other)[1] == DIRECTIONS
    assert said(transposed(phrase, Interval.parse("m3"))) == said(unpacked(packed(phrase))) == said(phrase)


def test_a_piece_stays_the_same_piece_in_the_journal_however_it_is_to_be_played(phrase: Piece) -> None:
    plain = replace(phrase, notes=tuple(replace(one, signs=()) for one in phrase.notes), directions=())
    assert music(plain) == music(phrase)
    assert packed(plain).keys() < packed(phrase).keys(), "a form as older journals hold it"
    assert unpacked(packed(plain)) == plain


def test_paper_shows_all_of_it_and_a_look_without_it_none(phrase: Piece) -> None:
    look = Look(width_px=900, staff_px=40)
    classes = {"slur": 2, "artic": 3, "fermata": 1, "dynam": 1, "hairpin": 1}

    def counted(look: Look) -> dict[str, int]:
        svg = "".join(system.svg for system in engrave(phrase, look).systems)
        return {name: len(re.findall(rf'class="[^"]*\b{name}\b', svg)) for name in classes}

    shown = counted(replace(look, expression=True))
    assert shown.keys() == classes.keys()
    assert all(shown[name] >= classes[name] > 0 for name in classes), shown
    assert not any(counted(look).values())


def test_a_slur_or_hairpin_that_a_repeat_cuts_off_is_not_drawn_into_other_bars() -> None:
    left = '<barline location="left"><ending number="{0}" type="start"/></barline>'
    right = '<barline location="right"><ending number="{0}" type="stop"/>{1}</barline>'
    first = bar(1, direction('<wedge type="diminuendo"/>'), noted("C4", 4, slur("start")))
    once = bar(2, left.format(1), noted("D4", 4, slur("stop")), direction('<wedge type="stop"/>'),
               right.format(1, '<repeat direction="backward"/>'))  # fmt: skip
    found = from_bytes(score(first + once + bar(3, left.format(2), xml_note("E4", 4), right.format(2, ""))), "x")
    assert [one.pitch.name for one in found.notes] == ["C4", "D4", "C4", "E4"]
    assert slurs_of(found) == {0: [("start", 1)], 1: [("stop", 1)]}
    assert said(found)[1] == [(0, ">"), (8, "!")]


def test_slurs_that_share_a_bar_have_numbers_of_their_own() -> None:
    made = piece(
        replace(note("a", "C4", 0, 4), signs=("(",)), replace(note("b", "E5", 1, 1), signs=("(",)),
        replace(note("c", "F5", 2, 1), signs=(")b", "(")), replace(note("d", "G5", 3, 1), signs=(")c",)),
        replace(note("e", "C4", 4, 4), signs=(")a",)),
    )  # fmt: skip
    numbers = [{number for kind, number in ends if kind == "start"} for ends in slurs_of(made).values()]
    assert len(set.union(*numbers)) == sum(map(len, numbers)) == 3


def test_what_ends_with_a_tied_note_stands_at_its_last_head() -> None:
    made = piece(
        replace(note("a", "C4", 0, 2), signs=("(",)),
        replace(note("b", "D4", 2, 4), signs=(")a", "fermata", "accent")),
    )
    heads = re.findall(r"<note .*?</note>", to_musicxml(made), re.DOTALL)
    assert ["<fermata" in head for head in heads[:3]] == [False, False, True]
    assert ['<slur type="stop"' in head for head in heads[:3]] == [False, False, True]
    assert ["<accent" in head for head in heads[:3]] == [False, True, False]


@pytest.mark.parametrize("pattern", ["schumann_robert/dichterliebe*.xml", "beach/*.musicxml"])
def test_real_songs_have_what_music21_finds_in_their_piano_part(pattern: str) -> None:
    """No repeats in these: what is printed once is there once."""
    from music21 import articulations, spanner

    found, part = read(work(pattern)), parsed(work(pattern))
    staves = part.parts[1:]
    theirs = [one for staff in staves for element in staff.recurse().notes for one in element.articulations]
    wanted = (articulations.Accent, articulations.Staccato, articulations.Tenuto)
    ours = [sign for one in found.notes for sign in one.signs]
    kept = ("accent", "staccato", "tenuto")
    assert sum(sign in kept for sign in ours) == sum(type(one) in wanted for one in theirs)
    slurs = {id(one) for one in part.recurse().getElementsByClass(spanner.Slur)}
    drawn = [*slurs_of(found).values(), *slurs_of(replace(found, notes=found.sung)).values()]
    assert sum(map(len, drawn)) == 2 * len(slurs)


def test_a_hairpin_right_after_a_dynamic_begins_with_it_and_does_not_run_through_its_letters() -> None:
    later = direction('<wedge type="crescendo"/>', 1)
    content = direction("<dynamics><mf/></dynamics>"), later, xml_note("C4", 16), direction('<wedge type="stop"/>')
    found = from_bytes(score(bar(1, *content, d=4)), "x")
    assert said(found)[1] == [(0, "mf"), (0, "<"), (4, "!")]


def test_a_slur_that_begins_at_a_later_head_of_a_tied_note_begins_with_the_note() -> None:
    tied = '<tie type="{0}"/><notations><tied type="{0}"/>{1}</notations>'
    first = bar(1, xml_note("C4", 3), xml_note("D4", 1, tied.format("start", "")))
    second = bar(2, xml_note("D4", 1, tied.format("stop", slur("start"))), noted("E4", 3, slur("stop")))
    assert slurs_of(from_bytes(score(first + second), "x")) == {1: [("start", 1)], 2: [("stop", 1)]}


def test_a_tie_that_is_also_written_as_a_slur_is_one_note_without_a_slur() -> None:
    ends = '<tie type="{0}"/><notations><tied type="{0}"/><slur type="{0}"/></notations>'
    again = '<barline location="right"><repeat direction="backward"/></barline>'
    content = xml_note("C4", 2, ends.format("start")), xml_note("C4", 2, ends.format("stop")), again
    assert slurs_of(from_bytes(score(bar(1, *content)), "x")) == {}


def test_two_slurs_that_begin_at_one_note_are_both_there_and_a_repeat_pairs_no_end_with_an_old_beginning() -> None:
    starts = noted("C4", 1, slur("start"), slur("start", 2))
    ends = noted("D4", 1, slur("stop")), xml_note("E4", 1), noted("F4", 1, slur("stop", 2))
    found = slurs_of(from_bytes(score(bar(1, starts, *ends)), "x"))
    assert {index: sorted(kind for kind, _ in one) for index, one in found.items()} == {
        0: ["start", "start"], 1: ["stop"], 3: ["stop"],
    }  # fmt: skip
    forward, back = (f'<barline><repeat direction="{way}"/></barline>' for way in ("forward", "backward"))
    begun = bar(1, noted("C4", 4, slur("start")))
    inside = bar(2, forward, noted("D4", 4, slur("stop")), back)
    assert slurs_of(from_bytes(score(begun + inside), "x")) == {0: [("start", 1)], 1: [("stop", 1)]}


def test_a_slur_up_to_the_other_staff_whose_end_the_file_writes_first_is_there() -> None:
    def on(staff: int, pitch: str, length: int, *signs: str) -> str:
        return xml_note(pitch, length, f"<staff>{staff}</staff><notations>{''.join(signs)}</notations>")

    upper = xml_note("G4", 2, "<staff>1</staff>"), on(1, "C5", 2, slur("stop"))
    lower = on(2, "C3", 2, slur("start")), xml_note("G3", 2, "<staff>2</staff>")
    content = "<attributes><staves>2</staves></attributes>", *upper, "<backup><duration>4</duration></backup>", *lower
    found = from_bytes(score(bar(1, *content)), "x")
    at = {note.pitch.name: index for index, note in enumerate(found.notes)}
    assert slurs_of(found) == {at["C3"]: [("start", 1)], at["C5"]: [("stop", 1)]}


def test_where_two_voices_share_a_staff_the_lower_ones_fermata_stands_under_it() -> None:
    both = [replace(note(name, pitch, 0, 4, voice=voice), signs=("fermata",)) for name, pitch, voice in
            (("a", "E5", 1), ("b", "C5", 2))]  # fmt: skip
    heads = re.findall(r"<note .*?</note>", to_musicxml(piece(*both)), re.DOTALL)
    assert [re.findall(r'fermata type="(\w+)"', head) for head in heads[:2]] == [["upright"], ["inverted"]]
    system = engrave(piece(*both), Look(width_px=900, staff_px=40, expression=True)).systems[0]
    heights = [
        float(y) for y in re.findall(r'class="[^"]*\bfermata\b.*?translate\([\d.]+,\s*([\d.]+)\)', system.svg, re.S)
    ]
    assert len(heights) == 2
    assert max(heights) - min(heights) > 720, "on both sides of the staff, whose height in the engraver's units this is"


def test_strokes_of_a_tremolo_stay_as_many_as_the_page_has_and_a_turned_ornament_stays_turned() -> None:
    def adorned(pitch: str, sign: str) -> str:
        return noted(pitch, 2, f"<ornaments>{sign}</ornaments>")

    found = from_bytes(
        score(bar(1, adorned("C4", "<tremolo>1</tremolo>"), adorned("D4", "<inverted-mordent/>"))
              + bar(2, adorned("E4", "<mordent/>"), adorned("F4", "<inverted-turn/>"))), "x"
    )  # fmt: skip
    for again in (found, unpacked(packed(transposed(found, Interval.parse("M2"))))):
        text = to_musicxml(again)
        assert re.findall(r"<tremolo[^>]*>(\d)<", text) == ["1"]
        assert re.findall(r"<ornaments>\s*<([a-z-]+)", text) == [
            "tremolo",
            "inverted-mordent",
            "mordent",
            "inverted-turn",
        ]
    assert "/" in from_bytes(b"X:1\nT:t\nM:4/4\nL:1/4\nK:C\n!/!C PD !//!E F|\n", "t.abc").notes[0].signs


def test_a_tremolo_between_two_chords_is_written_as_one() -> None:
    change = "<time-modification><actual-notes>2</actual-notes><normal-notes>1</normal-notes></time-modification>"
    half = f"<type>half</type>{change}"
    ends = [f'{half}<notations><ornaments><tremolo type="{end}">3</tremolo></ornaments></notations>'
            for end in ("start", "stop")]  # fmt: skip
    notes = xml_note("E4", 1, ends[0]), xml_note("C4", 1, half, before="<chord/>")
    found = from_bytes(score(bar(1, *notes, xml_note("G4", 1, ends[1]), xml_note("A4", 2))), "x")
    assert [(one.pitch.name, one.length) for one in found.notes] == [("C4", 1), ("E4", 1), ("G4", 1), ("A4", 2)]
    text = to_musicxml(found)
    assert re.findall(r"<type>(\w+)", text) == ["half"] * 4
    assert re.findall(r'<tremolo type="(\w+)">3<', text) == ["start", "stop"], "once a chord, at its first head"
    assert (
        to_musicxml(from_bytes(text.encode(), "again.musicxml")).partition("<part ")[2] == text.partition("<part ")[2]
    )
    system = engrave(found, Look(width_px=900, staff_px=40)).systems[0]
    assert 'class="fTrem' in system.svg
    assert len(system.notes) == len(found.notes)


def test_small_and_hidden_notes_are_small() -> None:
    small = xml_note("C4", 2, before="<cue/>"), xml_note("D4", 1), xml_note("E4", 1, attributes='print-object="no"')
    found = from_bytes(score(bar(1, *small)), "x")
    assert [one.optional for one in found.notes] == [True, False, True]
    text = to_musicxml(found)
    assert ["<cue" in head for head in re.findall(r"<note .*?</note>", text, re.DOTALL)] == [True, False, True]
    assert from_bytes(text.encode(), "again.musicxml").notes == found.notes
    svg = engrave(found, Look(width_px=900, staff_px=40)).systems[0].svg
    sizes = re.findall(r'class="notehead">\s*<use [^>]*scale\((-?[\d.]+)', svg)
    assert len(set(sizes)) == 2, svg


def test_a_fermata_of_a_lower_voice_that_nothing_sounds_over_stands_above() -> None:
    made = piece(note("a", "E5", 0, 2), replace(note("b", "C5", 2, 2, voice=2), signs=("fermata",)))
    assert 'fermata type="upright"' in to_musicxml(made)


def fermatas(*notes: tuple[Note, bool]) -> list[str]:
    """Of the fermatas of some notes, in the order of the document, which way each is turned."""
    made = piece(*(replace(one, signs=("fermata",)) if held else one for one, held in notes))
    return re.findall(r'fermata type="(\w+)"', to_musicxml(made))


def test_where_both_hands_have_a_fermata_the_left_hands_stands_under_its_staff() -> None:
    right, bass = note("a", "E5", 0, 4), note("b", "C3", 0, 4, LEFT)
    assert fermatas((right, True), (bass, True)) == ["upright", "inverted"]
    assert fermatas((right, False), (bass, True)) == ["upright"]
    # They end together, though they do not begin so.
    assert fermatas((note("a", "E5", 0, 2), False), (note("c", "D5", 2, 2), True), (bass, True)) == [
        "upright", "inverted"
    ]  # fmt: skip
    # At another time each has its place over its own staff.
    assert fermatas((note("a", "E5", 0, 2), True), (note("b", "C3", 2, 2, LEFT), True)) == ["upright", "upright"]
    # Of two voices of the left hand the lower one's alone is turned, and one that crosses over is not.
    tenor = note("t", "G3", 0, 4, LEFT)
    lower = replace(bass, voice=2)
    assert fermatas((right, True), (tenor, True), (lower, True)) == ["upright", "upright", "inverted"]
    assert fermatas((right, True), (tenor, True), (lower, False)) == ["upright", "upright"]
    assert fermatas((right, True), (replace(tenor, staff=1), True), (lower, False)) == ["upright", "upright"]


def test_the_turned_fermata_is_drawn_under_the_lower_staff_and_its_syllables_give_way() -> None:
    plain = [note("a", "E5", 0, 4), note("b", "C3", 0, 4, LEFT)]
    held = [replace(one, signs=("fermata",)) for one in plain]
    look = Look(width_px=900, staff_px=40, expression=True, ribbon_px=24)
    system, without = (engrave(piece(*notes), look).systems[0] for notes in (held, plain))
    signs = re.findall(r'class="[^"]*\bfermata\b.*?translate\([\d.]+,\s*([\d.]+)\)', system.svg, re.DOTALL)
    upper, lower = sorted(float(y) for y in signs)
    # 18 of the engraver's units are a pixel: from one fermata to the other are both staves and what is between.
    assert (lower - upper) / 18 > system.staves[1].bottom - system.staves[0].top
    rows = [(one.staves[1].ribbon or 0) - one.staves[1].bottom for one in (without, system)]
    assert 0 < rows[0] < rows[1]


TWO_STAVES = "<attributes><divisions>1</divisions><staves>2</staves></attributes>"


def on_staff(staff: int, sign: str, place: str) -> str:
    return (f'<direction placement="{place}"><direction-type>{sign}</direction-type><staff>{staff}</staff>'
            "</direction>")  # fmt: skip


def test_what_is_said_to_the_left_hand_alone_stands_under_its_staff_and_what_is_said_to_both_once() -> None:
    loud, soft, third = (f"<dynamics><{name}/></dynamics>" for name in ("f", "p", "mf"))
    both = [on_staff(staff, third, "below") for staff in (1, 2)]
    between = on_staff(2, soft, "above")
    content = (
        TWO_STAVES, on_staff(1, loud, "below"), on_staff(2, soft, "below"), xml_note("C5", 2, "<staff>1</staff>"),
        *both, xml_note("C5", 1, "<staff>1</staff>"), between, xml_note("D5", 1, "<staff>1</staff>"),
        "<backup><duration>4</duration></backup>", xml_note("C3", 4, "<voice>5</voice><staff>2</staff>"),
    )  # fmt: skip
    found = from_bytes(score(bar(1, *content)), "x")
    wanted = [(0, "f", ""), (0, "p", "left"), (2, "mf", ""), (3, "p", "")]
    again = from_bytes(to_musicxml(found).encode(), "again.musicxml")
    for one in (found, again, unpacked(packed(found)), passage(found, (0, 0))):
        assert [(word.onset, word.text, word.place) for word in one.directions] == wanted
    assert "<p />" not in to_musicxml(passage(found, (0, 0), hand="right")).split("mf")[0]


def test_a_song_shows_the_singers_dynamics_over_the_voice_and_its_ritardando_to_the_pianist() -> None:
    sung = bar(1, direction("<dynamics><pp/></dynamics>"), xml_note("G4", 2), direction("<words>rit.</words>"),
               xml_note("A4", 2))  # fmt: skip
    played = bar(1, TWO_STAVES, xml_note("C5", 4, "<staff>1</staff>"), "<backup><duration>4</duration></backup>",
                 xml_note("C3", 4, "<voice>5</voice><staff>2</staff>"))  # fmt: skip
    found = from_bytes(score(sung, played, names=("Voice", "Piano")), "x")
    assert [(word.onset, word.text, word.place) for word in found.directions] == [(0, "pp", "voice"), (2, "rit.", "")]
    above, piano = to_musicxml(found).split('<part id="P1">')
    assert ("<pp" in above, "<pp" in piano) == (True, False), "a file holds the singer's part, too"
    assert from_bytes(to_musicxml(found).encode(), "again.musicxml").directions == found.directions
    over, under = to_musicxml(found, Print(words=True, expression=True)).split('<part id="P1">')
    assert re.findall(r'placement="(\w+)">\s*<direction-type>\s*<dynamics>\s*<pp', over) == ["above"]
    assert "<pp" not in under
    assert "rit." in under


def test_a_hairpin_that_ends_with_a_bar_ends_in_it_and_one_cut_off_by_a_passage_is_not_written() -> None:
    first = bar(1, direction('<wedge type="crescendo"/>'), xml_note("C4", 4), direction('<wedge type="stop"/>'))
    found = from_bytes(score(first + bar(2, xml_note("D4", 4))), "x")
    assert "wedge" not in to_musicxml(found).partition('number="2"')[2]
    assert to_musicxml(found).count("<wedge") == 2
    across = bar(1, direction('<wedge type="crescendo"/>'), xml_note("C4", 4)) + bar(
        2, xml_note("D4", 2), direction('<wedge type="stop"/>'), xml_note("D4", 2)
    )
    long = from_bytes(score(across), "x")
    assert to_musicxml(long).count("<wedge") == 2
    assert "<wedge" not in to_musicxml(passage(long, (0, 0)))


def test_a_slur_into_the_endings_of_a_repeat_ends_in_each_of_them() -> None:
    left = '<barline location="left"><ending number="{0}" type="start"/></barline>'
    right = '<barline location="right"><ending number="{0}" type="stop"/>{1}</barline>'
    back = '<repeat direction="backward"/>'
    bars = [
        bar(1, noted("C4", 4, slur("start"))),
        bar(2, left.format(1), noted("D4", 4, slur("stop")), right.format(1, back)),
        bar(3, left.format(2), noted("E4", 4, slur("stop")), right.format(2, "")),
    ]
    found = from_bytes(score("".join(bars)), "x")
    assert [one.pitch.name for one in found.notes] == ["C4", "D4", "C4", "E4"]
    assert [[kind for kind, _ in slurs_of(found)[at]] for at in range(4)] == [["start"], ["stop"]] * 2


def test_a_slur_that_ends_where_another_begins_with_its_number_is_there_in_whichever_order_they_are_written() -> None:
    notes = noted("C4", 1, slur("start")), noted("D4", 1, slur("start"), slur("stop")), noted("E4", 2, slur("stop"))
    found = from_bytes(score(bar(1, *notes)), "x")
    assert [note.signs for note in found.notes] == [("(",), (")n1", "("), (")n2",)]


def test_a_tremolo_with_strokes_that_cannot_be_is_read_and_written() -> None:
    sign = "<ornaments><tremolo>-3</tremolo></ornaments>"
    assert '<tremolo type="single">1<' in to_musicxml(from_bytes(score(bar(1, noted("C4", 4, sign))), "x"))


@pytest.mark.parametrize("words", ["F", "F/A", "F#m", "P", "F major", "Strings", "March"])
def test_a_chord_a_key_or_a_cue_in_words_is_no_dynamic_and_does_not_stand_in_another_key(words: str) -> None:
    assert words_of(words) == ""


@pytest.mark.parametrize(
    "words", ["f", "mf", "p dolce", "sempre pp", "più f", "f, marcato", "string.", "Stringendo", "Marcato"]
)
def test_words_that_say_how_it_is_played_are_kept(words: str) -> None:
    assert words_of(words) == words


def test_a_hairpin_as_long_as_a_passage_is_shown_in_it() -> None:
    first = bar(1, direction('<wedge type="crescendo"/>'), xml_note("C4", 4), direction('<wedge type="stop"/>'))
    found = from_bytes(score(first + bar(2, direction("<dynamics><f/></dynamics>"), xml_note("D4", 4))), "x")
    text = to_musicxml(passage(found, (0, 0)))
    assert re.findall(r'<wedge type="(\w+)"', text) == ["crescendo", "stop"]
    assert "<f />" not in text


def test_a_hairpin_of_the_left_hand_ends_under_its_staff_though_its_end_says_no_place() -> None:
    upper, lower = (xml_note(pitch, 4, f"<staff>{at}</staff>") for pitch, at in (("C5", 1), ("C3", 2)))
    under = '<direction{0}><direction-type><wedge type="{1}"/></direction-type><staff>2</staff></direction>'
    begun, ended = under.format(' placement="below"', "crescendo"), under.format("", "stop")
    back = "<backup><duration>4</duration></backup>"
    found = from_bytes(score(bar(1, upper, back, begun, lower, ended, more="<staves>2</staves>")), "x")
    assert [(word.onset, word.text, word.place) for word in found.directions] == [(0, "<", "left"), (4, "!", "left")]


def test_a_hairpin_that_begins_where_another_ends_leaves_both_there_in_whichever_order_they_are_written() -> None:
    begun, turned, ended = (
        direction(f'<wedge type="{kind}" number="{number}"/>')
        for kind, number in (("crescendo", 1), ("diminuendo", 2), ("stop", 1))
    )
    last = direction('<wedge type="stop" number="2"/>')
    found = from_bytes(score(bar(1, begun, xml_note("C4", 2), turned, ended, xml_note("D4", 2), last)), "x")
    assert [(word.onset, word.text) for word in found.directions] == [(0, "<"), (2, "!"), (2, ">"), (4, "!")]


def test_after_the_endings_of_a_repeat_no_slur_ends_that_began_before_them() -> None:
    left = '<barline location="left"><ending number="{0}" type="start"/></barline>'
    right = '<barline location="right"><ending number="{0}" type="stop"/>{1}</barline>'
    bars = [
        bar(1, noted("C4", 4, slur("start"))),
        bar(2, left.format(1), noted("D4", 4, slur("stop")), right.format(1, '<repeat direction="backward"/>')),
        bar(3, left.format(2), noted("E4", 4), right.format(2, "")),
        bar(4, noted("F4", 4, slur("stop"))),
    ]
    found = from_bytes(score("".join(bars)), "x")
    assert [note.signs for note in found.notes] == [("(",), (")n1",), ("(",), (), ()]


def test_a_ritardando_under_the_left_hand_is_for_both_hands() -> None:
    under = (
        '<direction placement="below"><direction-type><words>rit.</words></direction-type><staff>2</staff></direction>'
    )
    upper, lower = (
        xml_note(pitch, 4, f"<voice>{voice}</voice><staff>{staff}</staff>")
        for pitch, voice, staff in (("C5", 1, 1), ("C3", 5, 2))
    )
    back = "<backup><duration>4</duration></backup>"
    found = from_bytes(score(bar(1, upper, back, under, lower, more="<staves>2</staves>")), "x")
    assert "rit." in to_musicxml(passage(found, hand="right"))


def test_a_left_hand_in_a_part_of_its_own_keeps_what_is_said_to_it_alone() -> None:
    head = "X:1\nT:t\nM:4/4\nL:1/4\nV:1\nV:2 clef=bass\nK:C\n"
    found = from_bytes(f"{head}V:1\n!f!c d e f|\nV:2\n!f!C, !<(!D, E, !<)!F,|\n".encode(), "two.abc")
    assert [(word.onset, word.text, word.place) for word in found.directions] == [
        (0, "f", ""),
        (1, "<", "left"),
        (3, "!", "left"),
    ]
    alone = from_bytes(f"{head}V:1\nc d e f|\nV:2\n!p!C, D, E, F,|\n".encode(), "two.abc")
    assert [(word.text, word.place) for word in alone.directions] == [("p", "")]


def test_hairpins_of_two_hands_that_end_together_both_have_their_ends() -> None:
    head = "X:1\nT:t\nM:4/4\nL:1/4\nV:1\nV:2 clef=bass\nK:C\n"
    music = "V:1\n!<(!c d e f!<)!|g4|\nV:2\nC, !<(!D, E, F,!<)!|G,4|\n"
    found = from_bytes(f"{head}{music}".encode(), "two.abc")
    assert [(word.onset, word.text) for word in found.directions if word.place] == [(1, "<"), (4, "!")]
    assert [(word.onset, word.text) for word in found.directions if not word.place] == [(0, "<"), (4, "!")]


def test_what_a_further_part_of_a_hand_is_told_is_shown_where_the_first_is_told_nothing() -> None:
    """Only the first part of the right hand was asked."""
    head = "X:1\nT:t\nM:4/4\nL:1/4\nV:1\nV:2\nV:3 clef=bass\nK:C\n"
    upper = "V:1\n!p!c d !<(!e f|g a !<)!b c'|c'4|\n"
    middle = "V:2\n!mf!E F !mp!G A|!>(!B c !>)!d e|!<(!e2 !<)!!f!e2|\n"
    found = from_bytes(f"{head}{upper}{middle}V:3\nC,4|C,4|C,4|\n".encode(), "three.abc")
    assert [(word.onset, word.text, word.place) for word in found.directions] == [
        (0, "p", ""), (2, "mp", ""), (2, "<", ""), (6, "!", ""), (8, "<", ""), (10, "!", ""), (10, "f", ""),
    ]  # fmt: skip


def test_a_dynamic_that_two_parts_of_a_hand_set_a_little_apart_is_printed_once() -> None:
    """MusicXML 4.0, `offset`: where a sign is drawn; programs move those of crowded parts a little aside."""
    parts = [
        bar(1, direction("<dynamics><p/></dynamics>").replace("<offset>0<", f"<offset>{aside}<"), xml_note(pitch, 4))
        + bar(2, direction("<dynamics><f/></dynamics>"), xml_note(pitch, 4))
        for pitch, aside in (("C5", 0), ("G4", 0.125), ("C3", 0))
    ]
    found = from_bytes(score(*parts, names=("One", "Two", "Three")), "x")
    assert [(word.onset, word.text, word.place) for word in found.directions] == [(0, "p", ""), (4, "f", "")]


def test_a_left_hand_in_a_brace_keeps_what_is_said_to_it_alone() -> None:
    head = "X:1\nT:t\n%%score {(1 2) | 3}\nM:4/4\nL:1/4\nV:1\nV:2\nV:3 clef=bass\nK:C\n"
    music = "V:1\n!f!c d e f|\nV:2\n!mf!E !<(!F !dolce!G !<)!A|\nV:3\n!p!C, !<(!D, E, !<)!F,|\n"
    found = from_bytes(f"{head}{music}".replace("!dolce!", '"^dolce"').encode(), "brace.abc")
    assert [(word.onset, word.text, word.place) for word in found.directions] == [
        (0, "f", ""), (0, "p", "left"), (1, "<", "left"), (2, "dolce", ""), (3, "!", "left"),
    ]  # fmt: skip
