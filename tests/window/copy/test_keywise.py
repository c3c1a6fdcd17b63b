"""Advice on the notes of a key, and of takes that lay elsewhere hand by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from tests.following.taking import shelf, taken
from tests.following.test_stretches import a_step_high
from tests.music.tunes import tune
from tests.window.copy.test_advice import advice_of
from trainer.music.keys import Key
from trainer.music.piece import LEFT, KeyChange
from trainer.session import Session


def test_of_a_piece_that_changes_its_key_the_signature_that_was_forgotten_is_named() -> None:
    """D and then B flat, to be played in F and then D flat: in the second half D and A flat are forgotten."""
    piece = tune(
        "D", "D5 E5 F#5 G5 A5 G5 F#5 D5 E5 D5 C#5 B4 A4 B4 C#5 D5 Bb4 C5 D5 Eb5 F5 Eb5 D5 Bb4 C5 Bb4 A4 C5 Bb4"
    )
    piece = replace(piece, keys=(*piece.keys, KeyChange(Fraction(16), Key.parse("Bb"))))
    asked = taken(piece, "F").expected.notes

    def forgotten(_: int, note: int) -> list[int]:
        return [1] if note >= 16 and asked[note].pitch.words in ("D flat", "A flat") else [0]

    first, *others = advice_of(taken(piece, "F", forgotten))
    assert first.words == "The signature of D♭ major was forgotten 5 times: say its signs, then those bars slower."
    assert not first.pattern
    assert not any("signature" in one.words for one in others)


def test_both_hands_off_their_keys_by_different_octaves_are_advised_on() -> None:
    """The hands have changed places: nothing was where it stands, and why that is can be told."""
    melody = tune("C", "C5 D5 E5 C5 F5 E5 D5 G4 A4 B4 C5 D5 E5 D5 C5")
    bass = [replace(note, id=f"l{at}", hand=LEFT, pitch=replace(note.pitch, octave=3), onset=note.onset)
            for at, note in enumerate(melody.notes) if at % 2 == 0]  # fmt: skip
    piece = melody.with_notes([*melody.notes, *bass])
    swapped = taken(piece, "D", lambda _, at: [24 if piece.notes[at].hand == LEFT else -24])
    first, *_ = advice_of(swapped)
    assert "2 octaves too" in first.words


def test_who_plays_the_hand_that_was_not_asked_for_is_sent_to_the_other() -> None:
    piece = shelf("aura-lee")
    right = taken(piece, "Bb", lambda _, at: [] if piece.notes[at].hand == LEFT else [0])
    session = Session(piece, right.plan, hands=LEFT)
    for press in right.presses:
        session.hear(press)
    first, *_ = advice_of(session)
    assert first.words == "The left hand was asked for, and the other played: now the left hand."


def test_a_hand_a_step_off_is_to_find_its_keys_first() -> None:
    plain = taken("mary-had-a-little-lamb", "F")
    first, *_ = advice_of(taken("mary-had-a-little-lamb", "F", lambda _, note: a_step_high(plain, range(7, 15), note)))
    assert first.words == "The right hand lay a step too high for 8 notes: find its five keys first."
    assert first.pattern == "pentascale"


def forgotten(name: str, to: str, letter: str) -> tuple[str, str]:
    """What is said first of a take without the sign of one letter, and the pattern it begins."""
    plain = taken(name, to)
    key = plain.plan.target
    own, written = key.alteration_of(letter), plain.plan.written.alteration_of(letter)
    instead = 0 if own else written

    def struck(_: int, at: int) -> list[int]:
        pitch = plain.expected.notes[at].pitch
        return [instead - own if (pitch.letter, pitch.alteration) == (letter, own) else 0]

    first, *_ = advice_of(taken(name, to, struck))
    return first.words.partition(" times: ")[2], first.pattern


def test_the_pattern_that_is_to_help_holds_the_sign_that_was_forgotten() -> None:
    """C sharp is the seventh degree of D major, and B natural that of C: no five fingers hold them."""
    minuet, six = "petzold-minuet-in-g", "innsbruck-ich-muss-dich-lassen"
    assert forgotten(minuet, "D", "C") == ("play its scale first.", "scale-one-octave")
    assert forgotten(minuet, "F", "B") == ("play its five-finger pattern first.", "pentascale")
    assert forgotten(minuet, "C", "F") == ("play the five fingers of C major first.", "pentascale")
    # Whose hands do not travel yet has no scale to play.
    assert forgotten(six, "D", "C") == ("say its signs, then slower.", "")
    assert forgotten(six, "C", "B") == ("say the notes of C major, then slower.", "")
