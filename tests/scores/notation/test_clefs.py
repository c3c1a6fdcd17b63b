"""Where a staff takes another clef, and where its notes then stand in the drawing."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from fractions import Fraction

from tests.scores.making import note, piece
from trainer.music.piece import LEFT, Piece
from trainer.scores.engraving.engraving import Look, engrave
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.notation.clefs import clef_changes, clefs
from trainer.scores.notation.preparing import Print
from trainer.scores.reading import from_bytes

# A bass note, then chords two octaves above it.
CHORDS = [note(f"{step}{at}", f"{step}{octave}", Fraction(at, 2), "1/2", LEFT)
          for at in range(1, 6) for step, octave in (("B", 3), ("F", 4), ("A", 4))]  # fmt: skip
LEAP = piece(note("top", "D5", 0, 3), note("bass", "B1", 0, "1/2", LEFT), *CHORDS, bars=1, meter=(3, 4))


def changes(made: Piece) -> dict[Fraction, str]:
    return clef_changes(made.bars, [one for one in made.notes if one.staff == 2], "F")


def drawn_steps(made: Piece) -> dict[str, int]:
    """How far each head stands over the middle line of its staff, in steps."""
    system = engrave(made, Look(width_px=1200, staff_px=32)).systems[0]
    found = {}
    for place in system.notes:
        staff = system.staves[place.staff - 1]
        half = (staff.bottom - staff.top) / 8
        found[made.notes[place.note].id] = round(((staff.top + staff.bottom) / 2 - place.y) / half)
    return found


def test_a_clef_changes_within_a_bar_where_the_hand_leaps_from_its_bass_note() -> None:
    assert changes(LEAP) == {Fraction(0): "F", Fraction(1, 2): "G"}
    assert clefs(LEAP.bars, [one for one in LEAP.notes if one.staff == 2], "F") == ["F"]
    assert from_bytes(to_musicxml(LEAP).encode(), "x").notes == LEAP.notes


def test_notes_after_a_change_within_a_bar_stand_on_the_lines_of_the_new_clef() -> None:
    steps = drawn_steps(LEAP)
    assert (steps["bass"], steps["B1"], steps["F1"], steps["A1"]) == (-9, -7, -3, -1)
    assert steps["top"] == 2


def test_a_second_voice_takes_the_clef_of_the_first() -> None:
    under = [note("low", "B1", 0, "1/2", LEFT), note("deep", "F4", "1/2", "5/2", LEFT)]
    upper = [note(f"v{one.id}", one.pitch.letter + str(one.pitch.octave + 1), one.onset, one.length, LEFT, voice=2)
             for one in CHORDS]  # fmt: skip
    made = piece(note("top", "D6", 0, 3), *under, *upper, bars=1, meter=(3, 4))
    assert changes(made) == {Fraction(0): "F", Fraction(1, 2): "G"}
    steps = drawn_steps(made)
    assert (steps["low"], steps["deep"], steps["vB1"]) == (-9, -3, 0)
    root = ET.fromstring(to_musicxml(made).encode())
    assert len(list(root.iter("clef"))) == 3


def test_no_clef_changes_under_a_note_that_is_held() -> None:
    held = piece(*LEAP.notes, note("held", "D2", 0, 3, LEFT, voice=2), bars=1, meter=(3, 4))
    assert len(changes(held)) == 1


def test_a_staff_does_not_change_its_clef_at_once() -> None:
    rocking = [note(f"n{at}", ("A3", "E4", "F4", "E4")[at % 4], Fraction(at, 2), "1/2", LEFT) for at in range(32)]
    assert list(changes(piece(*rocking, bars=4)).values()) == ["G"]


def test_music_begins_after_the_first_clef_whatever_clef_comes_later() -> None:
    flat = piece(note("top", "D5", 0, 3), note("bass", "B2", 0, 3, LEFT), bars=1, meter=(3, 4))
    begins = [engrave(made, Look(width_px=1200, staff_px=32)).systems[0].music_left for made in (LEAP, flat)]
    assert begins[0] == begins[1]


def test_a_clef_of_the_next_bar_stands_after_the_last_chord_of_a_beam() -> None:
    high = [note(f"{step}{at}", f"{step}5", Fraction(at, 2), "1/2", LEFT) for at in range(4) for step in "CE"]
    low = [note(f"n{at}", "C3", 2 + at, 1, LEFT) for at in range(8)]
    made = piece(note("top", "D6", 0, 10), *high, *low, bars=5, meter=(2, 4))
    assert changes(made) == {Fraction(0): "G", Fraction(2): "F"}
    steps = drawn_steps(made)
    assert [steps[f"C{at}"] for at in range(4)] == [1, 1, 1, 1]
    assert steps["n0"] == -1
    # In long pieces the engraver sets a clef that is written after the barline before the last notes of the bar.
    bars = [list(bar) for bar in ET.fromstring(to_musicxml(made, Print()).encode()).iter("measure")]
    assert [[one.tag for one in bar if one.find("clef") is not None] for bar in bars] == [
        ["attributes", "attributes"], [], [], [], [],
    ]  # fmt: skip
    assert bars[0][-1].find("clef/sign") is not None
