"""A long take played on and on: what is amiss once in it is no jump and no key struck again."""

from __future__ import annotations

import random
from collections.abc import Iterator
from fractions import Fraction

import pytest

from trainer.following import marks as m
from trainer.following.follower import Follower
from trainer.listening.press import Press
from trainer.music.keys import Key
from trainer.music.piece import LEFT, Bar, KeyChange, Note, Piece
from trainer.music.pitch import SpelledPitch

TREMOLO = "D5 G5, A4 F#5, B4 G5, C5 E5, B4 D5, A4 F#5, G4 D5, A4 C5".split(", ")
# A bar by onset in quarters, lengths alike in either hand.
UPPER = "A5@0 E5@1 A5@1 C#6@1 F#5@2 A5@2 D6@2 G5@3 F#5@3.25 E5@3.5 D5@3.75"
LOWER = "A3@0.5 C#4@1 A3@1.5 D4@2 G4@3 F#4@3.25 E4@3.5 D4@3.75"


def tremolo(bars: int) -> Iterator[Note]:
    for eighth in range(8 * bars):
        pair = TREMOLO[eighth // 16 % len(TREMOLO)].split()
        pitch = SpelledPitch.parse(pair[eighth % 2])
        yield Note(f"n{eighth}", pitch, Fraction(eighth, 2), Fraction(1, 2))


def bar_of(number: int, begins: str) -> Iterator[Note]:
    """One bar of both hands, the left one's first note given."""
    for hand, names in (("right", UPPER), (LEFT, f"{begins}@0 {LOWER}")):
        for one in names.split():
            name, _, at = one.partition("@")
            onset = 4 * number + Fraction(at)
            staff = 2 if hand == LEFT else 1
            yield Note(f"{hand}{number}.{one}", SpelledPitch.parse(name), onset, Fraction(1, 4), hand=hand, staff=staff)


def piece_of(notes: list[Note], bars: int) -> Piece:
    rows = tuple(Bar(i + 1, Fraction(4 * i), Fraction(4)) for i in range(bars))
    return Piece("long", (), rows, (KeyChange(Fraction(0), Key.parse("D")),), tempo=132.0).with_notes(notes)


@pytest.mark.parametrize("seed", range(4))
def test_one_note_left_out_of_a_long_measured_tremolo_is_known_at_once(seed: int) -> None:
    """Who has played four hundred keys and none of them twice has now left one out, and strikes none again."""
    piece = piece_of([*tremolo(60)], 60)
    chance, at, wrong = random.Random(seed), 0.0, []
    follower = Follower(piece, piece)
    for index, note in enumerate(piece.notes):
        at += 60 / 132 / 2 * (1 + chance.gauss(0, 0.05))
        if index != 402:
            mark = follower.hear(Press(at, note.midi))
            wrong += [index] if (mark.note, mark.cause) != (index, m.RIGHT) else []
    assert wrong == []


@pytest.mark.parametrize("seed", range(4))
def test_a_key_of_the_next_bar_that_is_all_but_the_same_leads_nobody_there(seed: int) -> None:
    """The second of two like bars begins with A: struck in the first after seven hundred keys it is a slip."""
    piece = piece_of([*tremolo(90), *bar_of(90, "C#5"), *bar_of(91, "A4")], 92)
    chance = random.Random(seed)
    slip = next(index for index, note in enumerate(piece.notes) if note.id == f"{LEFT}90.C#5@0")
    follower = Follower(piece, piece)
    struck = [(float(note.onset) * 60 / 132 + chance.gauss(0, 0.012), index) for index, note in enumerate(piece.notes)]
    wrong = []
    for at, index in sorted(struck):
        pitch = SpelledPitch.parse("A4").midi if index == slip else piece.notes[index].midi
        mark = follower.hear(Press(at, pitch))
        wrong += [index] if index != slip and mark.note != index else []
    assert wrong == []
