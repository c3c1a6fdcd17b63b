"""Where marks find room."""

from __future__ import annotations

import numpy
import pytest
from pygame import Rect

from trainer.following.marks import EXTRA
from trainer.window.pencil import Room, Spot, head

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
