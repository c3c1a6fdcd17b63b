"""Where marks find room."""

from __future__ import annotations

import re

import numpy
import pytest
from pygame import Rect

from trainer.following.marks import EXTRA, WRONG
from trainer.window.page.pencil import Room, Spot, accidental, bracket, comma, head, journey, ring

SPACE = 10.0
NOTE = Spot(100.0, 60.0, SPACE, 40.0, 80.0)


@pytest.mark.parametrize("steps", [(0, 0), (3, 1), (-4, -3)])
def test_stray_keys_beside_a_first_note_leave_signature_and_one_another_alone(steps: tuple[int, int]) -> None:
    ink = numpy.zeros((400, 120), bool)
    signature = Rect(20, 40, 66, 40)
    ink[signature.left : signature.right, signature.top : signature.bottom] = True
    room = Room(ink)
    first, second = (head(NOTE, "#000000", room, EXTRA, step).rect for step in steps)
    assert not first.colliderect(second)
    for rect in (first, second):
        assert rect.left > NOTE.x
        assert not rect.colliderect(signature)


def test_a_wrong_key_stands_beside_its_own_note_before_a_barline() -> None:
    """A head a step lower to the left, a barline close by on the right: it is not drawn in the bar that follows."""
    ink = numpy.zeros((400, 120), bool)
    ink[116:118, 40:80] = True
    ink[66:78, 60:70] = True
    drawn = head(NOTE, "#000000", Room(ink), WRONG, -1).rect
    assert drawn.right <= 116
    assert abs(drawn.centerx - NOTE.x) < 1.5 * SPACE


def test_a_longer_run_keeps_its_bracket_where_the_shorter_one_was() -> None:
    """The room a bracket gave up is free again: it does not climb away from its own ghost with every note."""
    room = Room(numpy.zeros((600, 240), bool))
    first = Spot(100.0, 120.0, SPACE, 100.0, 140.0)
    tops = []
    for x in (100.0, 140.0, 180.0, 220.0):
        drawn = bracket(first, Spot(x, 120.0, SPACE, 100.0, 140.0), "#000000", room, "M2 \u2191")
        tops.append(drawn.rect.top)
        room.free(drawn.rect)
    assert len(set(tops)) == 1


def test_a_bracket_goes_under_its_run_where_notes_stand_over_it() -> None:
    ink = numpy.zeros((600, 400), bool)
    ink[:, 0:170] = True
    run = Spot(100.0, 200.0, SPACE, 180.0, 220.0), Spot(200.0, 200.0, SPACE, 180.0, 220.0)
    assert bracket(*run, "#000000", Room(ink), "M2 \u2191").rect.top > 220


def test_the_written_letter_stays_at_its_ring_between_two_bars() -> None:
    """Stems and a barline on all four corners: right under the ring it still belongs to its note, beyond them not."""
    ink = numpy.zeros((400, 200), bool)
    ink[60:84, 20:120] = ink[116:140, 20:120] = True
    ink[96:106, 20:88] = True
    (letter,) = ring(Spot(100.0, 100.0, SPACE, 80.0, 120.0), "#000000", Room(ink), "D").words
    assert abs(letter.left + 8 - 100) < SPACE
    assert letter.middle > 112


def test_between_close_neighbours_the_letter_goes_under_the_staff() -> None:
    """A note on the middle line among quavers: beside its ring stand other heads, under the staff it is free."""
    ink = numpy.zeros((400, 240), bool)
    ink[:, [80, 90, 100, 110, 120]] = True
    for x in (64, 82, 118, 136):
        ink[x - 6 : x + 6, 95:118] = True
        ink[x + 5 : x + 7, 50:100] = True
    ink[60:140, 46:56] = True
    note = Spot(100.0, 100.0, SPACE, 80.0, 120.0)
    (letter,) = ring(note, "#000000", Room(ink), "B").words
    assert abs(letter.left + 8 - note.x) < SPACE
    assert letter.middle - letter.size * 0.39 > note.bottom


def test_two_journeys_over_the_same_bars_lie_one_under_the_other() -> None:
    """Also at the foot of the page, where there is air for a little more than one."""
    room = Room(numpy.zeros((770, 118), bool))
    places = [Spot(x, 100.0, 7.0, 77.0, 105.0) for x in (130.0, 217.0, 189.0, 379.0)]
    first = journey(places[0], places[1], "#000000", room, 105.0).rect
    second = journey(places[3], places[2], "#000000", room, 105.0).rect
    assert first.clip(second).height <= 1


def test_a_bracket_under_a_run_lifts_over_a_finger_and_stands_before_the_words() -> None:
    """Between staff and syllables there is room for one row, and a finger that stands in it is not struck through."""
    ink = numpy.zeros((600, 400), bool)
    ink[:, 0:170] = True
    ink[300:308, 222:236] = True
    words = Rect(80, 244, 400, 20)
    run = Spot(100.0, 200.0, SPACE, 180.0, 220.0), Spot(400.0, 200.0, SPACE, 180.0, 220.0)
    drawn = bracket(*run, "#000000", Room(ink, [words]), "M2 \u2191")
    assert drawn.words[0].middle < words.top
    lines = re.findall(r"M(\d+) \d+H(\d+)", drawn.body)
    assert len(lines) == 2
    assert int(lines[0][1]) < 300
    assert int(lines[1][0]) > 308


def test_the_seconds_of_waiting_stand_clear_of_a_finger() -> None:
    ink = numpy.zeros((400, 200), dtype=bool)
    # A finger over the staff, its head in the foot of the place the comma would take.
    ink[100:110, 100:110] = True
    stroke = comma(Spot(115, 120, 9.0, 106.0, 142.0), "#2c5a8c", Room(ink), 2.4)
    rect = stroke.rect
    assert not ink[rect.left : rect.right, rect.top : rect.bottom].any()


def test_where_its_seconds_would_lie_on_fingers_everywhere_a_comma_stands_alone() -> None:
    ink = numpy.zeros((400, 200), dtype=bool)
    # Fingers and a stem at either side, from the staff up.
    ink[70:80, 0:105] = ink[118:128, 0:105] = True
    stroke = comma(Spot(115, 120, 9.0, 106.0, 142.0), "#2c5a8c", Room(ink), 2.4)
    rect = stroke.rect
    assert not ink[rect.left : rect.right, max(rect.top, 0) : rect.bottom].any()
    assert stroke.words == ()


def test_a_forgotten_accidental_is_lifted_over_the_fingers_of_the_voice_above() -> None:
    ink = numpy.zeros((400, 400), bool)
    note = Spot(200.0, 200.0, SPACE, 180.0, 220.0)
    beam, finger = Rect(150, 155, 100, 5), Rect(170, 130, 60, 14)
    for inked in (beam, finger):
        ink[inked.left : inked.right, inked.top : inked.bottom] = True
    ink[100:400, 221:400] = True
    drawn = accidental(note, "#000000", Room(ink), 0).rect
    assert not drawn.colliderect(finger)
    assert not drawn.colliderect(beam)
    assert abs(drawn.centerx - note.x) <= SPACE


@pytest.mark.parametrize("y", [36.0, 60.0])
def test_the_seconds_of_a_wait_stand_clear_of_the_large_accidental_over_their_note(y: float) -> None:
    room = Room(numpy.zeros((400, 200), bool))
    spot = Spot(200.0, y + 60, SPACE, 100.0, 140.0)
    sign = accidental(spot, "#2c5a8c", room, -1).rect
    drawn = comma(spot, "#2c5a8c", room, 1.2).rect
    assert not drawn.colliderect(sign)
    assert drawn.left < spot.x, "before its note"
