"""The ease of a key in words."""

from __future__ import annotations

from trainer.hands.ease import Ease
from trainer.hands.position import ALONE, five_finger
from trainer.music.keys import Key
from trainer.music.piece import Piece
from trainer.music.transpose import Transposition

_TIGHT_MM = 0.5
_COUNTED = ("no", "one", "two", "three", "four", "five", "six", "seven")


def why(wish: Transposition, expected: Piece, figures: Ease) -> str:
    """Why a piece lies as it does in a key: where the hand lies, what the eye reads, how far, which fingers stay."""
    if not wish.interval.semitones:
        return f"the written key: {signature_words(wish.target)}"
    hand = expected.hands[0] if expected.hands else "right"
    here, there = five_finger(wish.target, hand), five_finger(wish.written, hand)
    said = []
    if here.shape == there.shape:
        said.append(f"the hand lies as in {wish.written.words}")
    elif here.family == there.family != ALONE:
        said.append(f"nearly the shape of {wish.written.words}")
    said.append(_far(wish))
    said.append(signature_words(wish.target))
    if figures.thumbs_on_black:
        said.append("thumb on black" if figures.thumbs_on_black > 0.5 else "thumb on black at times")
    if figures.crowding_mm >= _TIGHT_MM:
        said.append("close between black keys")
    if figures.kept == 1:
        said.append("every finger stays")
    else:
        said.append(f"{1 - figures.kept:.0%} of the fingers change")
    return ", ".join(said)


def signature_words(key: Key) -> str:
    """``two flats``, ``no accidentals``."""
    count = abs(key.signature)
    if not count:
        return "no sharps or flats"
    name = "sharp" if key.signature > 0 else "flat"
    return f"{_COUNTED[count]} {name}{'s' if count > 1 else ''}"


def _far(wish: Transposition) -> str:
    steps = wish.written.fifths_away(wish.target)
    return f"{_COUNTED[steps]} step{'s' if steps != 1 else ''} round the circle of fifths, {wish.interval.words}"
