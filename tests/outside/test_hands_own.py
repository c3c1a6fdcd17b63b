"""The handbooks' scales beside fingers the player says: they stay when nothing is said or what they say is said."""

from __future__ import annotations

from dataclasses import replace

import pytest

from trainer.hands.changes import laid, served
from trainer.hands.own import OwnFingers, lie
from trainer.music.keys import TWENTY_FOUR, Key
from trainer.music.piece import LEFT, RIGHT, Piece
from trainer.scores.composing.patterns import pattern


def scale(key: Key, hand: str) -> Piece:
    return pattern("scale-two-octaves", key, hand)


def printed(piece: Piece) -> dict[int, int]:
    return {i: note.finger for i, note in enumerate(piece.notes) if note.finger}


@pytest.mark.parametrize("hand", [RIGHT, LEFT])
@pytest.mark.parametrize("key", TWENTY_FOUR, ids=lambda key: key.short)
def test_the_handbooks_fingers_stay_but_where_another_is_said(key: Key, hand: str) -> None:
    piece = scale(key, hand)
    wanted = printed(piece)
    assert laid(piece, piece).target[hand] == wanted
    for note, finger in list(wanted.items())[::4]:
        assert laid(piece, piece, own=OwnFingers({lie(key): {note: finger}})).target[hand] == wanted
    first = next(iter(wanted))
    changed = served(piece, piece, own=OwnFingers({lie(key): {first: wanted[first] % 5 + 1}}))
    assert printed(changed)[first] != wanted[first]
    far = [i for i in wanted if i - first > 12]
    assert [printed(changed)[i] for i in far] == [wanted[i] for i in far]


def test_a_finger_said_leads_the_search_to_the_handbook_where_it_misses() -> None:
    """F sharp major, right hand, unprinted: the search ends its octaves otherwise than Hanon, until one is said."""
    key = Key.parse("F#")
    wanted = printed(scale(key, RIGHT))
    bare = replace(scale(key, RIGHT), notes=tuple(replace(one, finger=None) for one in scale(key, RIGHT).notes))
    found = laid(bare, bare).target[RIGHT]
    other = [i for i in wanted if found[i] != wanted[i]]
    assert 0 < len(other) < 5
    said = laid(bare, bare, own=OwnFingers({lie(key): {i: wanted[i] for i in other}})).target[RIGHT]
    assert said == wanted
