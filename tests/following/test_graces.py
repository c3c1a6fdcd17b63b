"""Small notes on keys that sound again: a grace note on the key of its note, a turn."""

from __future__ import annotations

from fractions import Fraction

from trainer.following import marks as m
from trainer.following.follower import Follower
from trainer.listening.press import Press
from trainer.music.keys import Key
from trainer.music.piece import LEFT, Bar, KeyChange, Note, Piece
from trainer.music.pitch import SpelledPitch


def graced(small: str, at: int) -> Piece:
    """G D B G in quarters over G, small notes before one of them."""
    graces = [
        Note(f"g{number}", SpelledPitch.parse(name), Fraction(at), Fraction(0), grace=True, optional=True)
        for number, name in enumerate(small.split())
    ]
    names = "G4 D5 B4 G4".split()
    large = [Note(f"n{at}", SpelledPitch.parse(name), Fraction(at), Fraction(1)) for at, name in enumerate(names)]
    low = [Note(f"l{at}", SpelledPitch.parse("G3"), Fraction(at), Fraction(1), hand=LEFT, staff=2) for at in range(4)]
    bars = (Bar(1, Fraction(0), Fraction(4)),)
    return Piece("graced", (), bars, (KeyChange(Fraction(0), Key.parse("G")),)).with_notes([*graces, *large, *low])


def told_at_once(piece: Piece, played: str) -> list[str]:
    """Ids of the notes that keys struck at given times are first told as."""
    follower = Follower(piece, piece)
    found = []
    for one in played.split():
        name, _, when = one.partition("@")
        mark = follower.hear(Press(float(when), SpelledPitch.parse(name).midi))
        found.append(piece.notes[mark.note].id if mark.note is not None and mark.cause == m.RIGHT else mark.cause)
    return found


def test_a_grace_note_on_the_key_of_the_note_it_leads_to_is_told_as_itself_at_once() -> None:
    """C, D, E before D, all small: the first D is the grace note, the second the one it leads to."""
    piece = graced("C5 D5 E5", 1)
    played = "G4@0 G3@0.01 G3@0.6 C5@0.62 D5@0.7 E5@0.78 D5@0.86 B4@1.25 G3@1.26"
    assert told_at_once(piece, played) == "n0 l0 l1 g0 g1 g2 n1 n2 l2".split()


def test_a_turn_in_small_notes_strikes_one_key_twice() -> None:
    """After D the turn E D C D in small notes: neither of its D's is struck again without need."""
    piece = graced("E5 D5 C5 D5", 2)
    played = "G4@0 G3@0.01 D5@0.6 G3@0.61 E5@0.9 D5@0.98 C5@1.06 D5@1.14 B4@1.22 G3@1.23"
    told = told_at_once(piece, played)
    assert sorted(told[4:8]) == ["g0", "g1", "g2", "g3"]
    assert told[:4] + told[8:] == "n0 l0 n1 l1 n2 l2".split()
