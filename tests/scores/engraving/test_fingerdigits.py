"""Fingers that change on an engraved page: the page need not be laid out anew, and each digit belongs to its note."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from tests.scores.engraving.test_fingerstacks import FINGERS, piece_of
from trainer.music.piece import Piece
from trainer.scores.engraving import engraving
from trainer.scores.engraving.engraving import Look, engrave, kept
from trainer.scores.reading import read
from trainer.scores.shelf.library import find


def with_fingers(piece: Piece, fingers: dict[int, int]) -> Piece:
    notes = (replace(note, finger=fingers.get(i, note.finger)) for i, note in enumerate(piece.notes))
    return replace(piece, notes=tuple(notes))


def digits(piece: Piece, look: Look) -> dict[int, int]:
    """The digits as they are drawn, by the notes they are said to belong to."""
    found: dict[int, int] = {}
    for system in engrave(piece, look).systems:
        drawn = re.findall(r'class="fing".*?>([1-5])<', system.svg)
        assert len(drawn) == len(system.fingers)
        found |= {place.note: int(digit) for place, digit in zip(system.fingers, drawn, strict=True)}
    return found


@pytest.mark.parametrize("name", ["aura-lee", "wild-rider", "petzold-minuet-in-g"])
def test_another_finger_is_drawn_without_laying_the_page_out_anew(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    piece, look = read(find(name)), Look(1200, 40, ribbon_px=30, expression=True)
    printed = {i: note.finger for i, note in enumerate(piece.notes) if note.finger}
    assert digits(piece, look) == printed
    other = {i: finger % 5 + 1 for i, finger in printed.items()}

    def never(*_: object, **__: object) -> None:
        raise AssertionError("laid out anew")

    monkeypatch.setattr(engraving, "_rendered", never)
    changed = with_fingers(piece, other)
    assert kept(changed, look) is not None
    assert digits(changed, look) == other
    assert digits(piece, look) == printed
    before, after = engrave(piece, look), engrave(changed, look)
    assert [(one.notes, one.height) for one in before.systems] == [(one.notes, one.height) for one in after.systems]


@pytest.mark.parametrize("chord", ["CD", "CDG", "CDEG"])
def test_the_digits_of_a_stack_belong_to_the_notes_of_the_chord(chord: str) -> None:
    piece = piece_of(chord)
    found = digits(piece, Look(700, 48, ribbon_px=30))
    assert found == {i: FINGERS[note.hand][note.pitch.letter] for i, note in enumerate(piece.notes)}


def test_a_finger_of_ones_own_is_printed_where_only_the_outer_one_is() -> None:
    piece = piece_of("CEG")
    plain = digits(piece, Look(700, 48, ribbon_px=30, stacked=False))
    inner = next(i for i in range(len(piece.notes)) if i not in plain)
    assert set(digits(piece, Look(700, 48, ribbon_px=30, stacked=False, own=frozenset({inner})))) == {*plain, inner}


def test_a_finger_stands_beside_its_note() -> None:
    piece = read(find("aura-lee"))
    for system in engrave(piece, Look(1200, 40, ribbon_px=30)).systems:
        heads = {place.note: place for place in system.notes}
        for place in system.fingers:
            assert abs(place.x - heads[place.note].x) < 15
            assert 0 < place.y < system.height
