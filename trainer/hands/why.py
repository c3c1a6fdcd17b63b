"""The ease of a key in words, and which of its notes a keyboard does not have."""

from __future__ import annotations

from collections.abc import Callable

from trainer.hands.ease import Ease
from trainer.hands.keyboard import KEYBOARDS, Keyboard
from trainer.hands.position import ALONE, five_finger
from trainer.music.keys import Key
from trainer.music.piece import BOTH, Piece
from trainer.music.pitch import SpelledPitch
from trainer.music.transpose import Transposition

PIANO = KEYBOARDS[88]
_TIGHT_MM = 0.5
_COUNTED = ("no", "one", "two", "three", "four", "five", "six", "seven")


def why(wish: Transposition, expected: Piece, figures: Ease) -> str:
    """Why a piece lies as it does in a key: where the hand lies, what the eye reads, how far, which fingers stay."""
    if not wish.interval.semitones and not wish.interval.steps:
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
    if not all(PIANO.holds(note.midi) for note in expected.notes):
        said.append("goes beyond the keys of a piano")
    return ", ".join(said)


def beyond(
    expected: Piece, keyboard: Keyboard, hands: str = BOTH, named: Callable[[SpelledPitch], str] | None = None
) -> str:
    """Which notes lie beyond a keyboard, in a sentence; empty when it has them all.

    Parameters
    ----------
    named : callable, optional
        A pitch without its octave, as the player's language has it.

    >>> from fractions import Fraction
    >>> from trainer.music.piece import Bar, Note
    >>> top = Note("a", SpelledPitch.parse("Eb6"), Fraction(0), Fraction(1))
    >>> beyond(Piece("Test", (top,), (Bar(1, Fraction(0), Fraction(4), (4, 4)),), ()), KEYBOARDS[49])
    'One note lies above the 49 keys, E♭6 in bar 1: choose another key or octave, or leave it out.'
    """
    # What is repeated is one note of the page.
    notes = list({note.id: note for note in reversed(expected.notes) if hands in (BOTH, note.hand)}.values())[::-1]
    above = [note for note in notes if note.midi > keyboard.highest]
    below = [note for note in notes if note.midi < keyboard.lowest]
    said = []
    for side, found in (("above", above), ("below", below)):
        if found:
            pitch, bar = found[0].pitch, expected.bar_at(found[0].onset).number
            name = f"{named(pitch) if named else pitch.sign_name}{pitch.octave}"
            where = f"bar {bar}" if bar else "the upbeat"
            many, first = ("one note lies", "") if len(found) == 1 else (f"{len(found)} notes lie", "the first ")
            said.append(f"{many} {side} the {keyboard.keys} keys, {first}{name} in {where}")
    if not said:
        return ""
    words = "; ".join(said)
    left = "it" if len(above) + len(below) == 1 else "them"
    return f"{words[0].upper()}{words[1:]}: choose another key or octave, or leave {left} out."


def signature_words(key: Key) -> str:
    """``two flats``, ``no accidentals``."""
    count = abs(key.signature)
    if not count:
        return "no sharps or flats"
    name = "sharp" if key.signature > 0 else "flat"
    return f"{_COUNTED[count]} {name}{'s' if count > 1 else ''}"


def _far(wish: Transposition) -> str:
    steps = wish.written.fifths_away(wish.target)
    return f"{_COUNTED[steps]} step{'s' if steps != 1 else ''} round the circle of fifths, {wish.words}"
