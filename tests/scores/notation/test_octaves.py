"""Music far over or under the staff is written an octave nearer, under 8va or over 8vb."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction

from tests.counting import steps_of
from tests.scores.making import note, piece
from tests.scores.notation.test_clefs import drawn_steps
from trainer.music.piece import LEFT, Piece
from trainer.music.pitch import Interval
from trainer.music.transpose import transposed
from trainer.scores.engraving.engraving import Look, engrave
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.reading import from_bytes

HIGH = piece(
    note("a", "G5", 0, 1), note("b", "D6", 1, 1), note("c", "B6", 2, 1), note("d", "F6", 3, 1), note("e", "G5", 4, 4),
    note("low", "C3", 0, 8, LEFT),
)  # fmt: skip


def brackets(made: Piece) -> list[tuple[str | None, str | None, str]]:
    """Where brackets begin and end: which way, on which staff, and the note after which they stand."""
    found = []
    last = ""
    for element in ET.fromstring(to_musicxml(made).encode()).iter():
        if element.tag == "note" and element.get("id"):
            last = element.get("id", "")
        for shift in element.iterfind("direction-type/octave-shift"):
            found.append((shift.get("type"), element.findtext("staff"), last))
    return found


def test_a_passage_far_over_the_staff_stands_under_8va() -> None:
    assert brackets(HIGH) == [("down", "1", "a"), ("stop", "1", "d")]
    steps = drawn_steps(HIGH)
    assert (steps["a"], steps["b"], steps["c"], steps["e"]) == (5, 2, 7, 5)
    assert from_bytes(to_musicxml(HIGH).encode(), "x").notes == HIGH.notes


def test_its_bracket_is_drawn() -> None:
    svg = engrave(HIGH, Look(width_px=900, staff_px=32)).systems[0].svg
    assert 'class="octave' in svg


def test_a_passage_far_under_the_bass_stands_over_8vb() -> None:
    made = piece(note("top", "C5", 0, 8), note("a", "D1", 0, 2, LEFT), note("b", "D2", 2, 2, LEFT),
                 note("c", "G2", 4, 4, LEFT))  # fmt: skip
    assert [one[:2] for one in brackets(made)] == [("up", "2"), ("stop", "2")]
    steps = drawn_steps(made)
    assert (steps["a"], steps["b"], steps["c"]) == (-7, 0, -4)


def test_it_is_the_key_to_play_that_brings_the_bracket() -> None:
    lower = transposed(HIGH, Interval(-2, -3))
    assert brackets(lower) == []
    assert brackets(transposed(lower, Interval(2, 3))) == brackets(HIGH)


def test_one_high_note_and_a_voice_that_shares_the_staff_keep_their_octave() -> None:
    assert brackets(piece(note("a", "A6", 0, 4), note("b", "D6", 4, 4))) == []
    shared = replace(HIGH, notes=piece(*HIGH.notes, note("under", "C5", 0, 4, voice=2)).notes)
    assert brackets(shared) == []


def test_a_note_held_over_the_barline_stays_under_its_bracket() -> None:
    made = piece(note("a", "C5", 0, 2), note("b", "E7", 2, 4), note("c", "C5", 6, 2))
    assert brackets(made) == [("down", None, "a"), ("stop", None, "b-t1")]


def test_the_brackets_of_two_hands_end_each_for_itself() -> None:
    """The engraver ends every open bracket of one number at once."""
    both = replace(HIGH, notes=piece(*[n for n in HIGH.notes if n.id != "low"], note("low", "C1", 0, 1, LEFT)).notes)
    shifts = list(ET.fromstring(to_musicxml(both).encode()).iter("octave-shift"))
    assert [(one.get("type"), one.get("number")) for one in shifts] == [
        ("down", "1"), ("stop", "1"), ("up", "2"), ("stop", "2"),
    ]  # fmt: skip


def test_a_rest_of_half_a_bar_ends_no_passage_and_a_longer_one_does() -> None:
    def apart(rest: Fraction) -> int:
        made = piece(note("a", "C7", 0, 1), note("b", "C7", 1 + rest, 1), bars=2)
        return sum(way == "down" for way, _, _ in brackets(made))

    assert [apart(Fraction(2)), apart(Fraction(3))] == [1, 2]


def test_a_long_page_with_many_changes_of_clef_and_octave_is_written_about_as_fast_as_a_plain_one() -> None:
    def spent(pitches: str) -> int:
        """Of a thousand bars, every third bar high, every third low."""
        tones = pitches.split()
        made = piece(*(note(f"n{at}", tones[at // 4 % len(tones)], at, 1) for at in range(4000)))
        return steps_of(lambda: to_musicxml(made))

    assert spent("C5 C3 C7") < 3 * spent("C5 D5 E5")
