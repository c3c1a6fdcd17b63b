"""Cutting a passage out of a piece."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.scores.making import note, piece
from trainer.music.keys import Key
from trainer.music.passage import passage
from trainer.music.piece import LEFT, KeyChange, Singer, Verse, Word
from trainer.music.pitch import MusicError

WHOLE = piece(note("a", "C5", 0, 4), note("b", "D5", 4, 8), note("c", "E5", 12, 4), note("l", "C3", 4, 4, LEFT),
              note("v", "G4", 4, 1, voice=2), bars=4, key="G")  # fmt: skip


def test_bars_are_cut_out_and_begin_at_nought() -> None:
    cut = passage(WHOLE, bars=(1, 2))
    assert [(n.id, n.onset, n.length) for n in cut.notes] == [("l", 0, 4), ("v", 0, 1), ("b", 0, 8)]
    assert [(b.number, b.onset) for b in cut.bars] == [(2, 0), (3, 4)]
    assert cut.key == WHOLE.key


def test_a_note_that_lasts_beyond_the_passage_ends_with_it() -> None:
    assert {n.id: n.length for n in passage(WHOLE, bars=(1, 1)).notes}["b"] == Fraction(4)


def test_one_hand_and_one_voice() -> None:
    assert [n.id for n in passage(WHOLE, hand="left").notes] == ["l"]
    assert [n.id for n in passage(WHOLE, voice=2).notes] == ["v"]


@pytest.mark.parametrize(
    ("bars", "hand"), [((2, 1), "both"), ((0, 9), "both"), ((0, 4), "both"), ((-1, 1), "both"), ((0, 0), "left")]
)
def test_what_is_not_there_is_refused(bars: tuple[int, int], hand: str) -> None:
    with pytest.raises(MusicError):
        passage(WHOLE, bars=bars, hand=hand)


BARS = tuple(range(0, 16, 4))


def words(*at: int) -> tuple[Word, ...]:
    return tuple(Word(Fraction(onset), f"w{onset}") for onset in at)


def test_keys_and_tempi_of_the_passage_are_those_that_hold_there() -> None:
    keys = tuple(KeyChange(Fraction(at), Key.parse(key)) for at, key in ((0, "G"), (4, "D"), (6, "A"), (12, "E")))
    tempi = tuple((Fraction(at), speed) for at, speed in ((0, 60.0), (4, 72.0), (6, 84.0), (12, 96.0)))
    whole = replace(WHOLE, keys=keys, tempo=60.0, tempi=tempi)
    cut = passage(whole, bars=(1, 2))
    assert [(change.onset, change.key.short) for change in cut.keys] == [(0, "D"), (2, "A")]
    assert (cut.tempo, cut.tempi) == (72.0, ((0, 72.0), (2, 84.0)))
    late = passage(whole, bars=(3, 3))
    assert [(change.onset, change.key.short) for change in late.keys] == [(0, "E")]
    assert (late.tempo, late.tempi) == (96.0, ((0, 96.0),))
    plain = passage(replace(WHOLE, tempo=66.0), bars=(1, 1))
    assert (plain.tempo, plain.tempi) == (66.0, ())


def test_words_and_chords_of_the_passage_come_along() -> None:
    whole = replace(WHOLE, chords=words(*BARS), lyrics=words(0, 7, 8), verses=(Verse(2, words(4)), Verse(3, words(12))))
    cut = passage(whole, bars=(1, 1))
    assert [(word.onset, word.text) for word in cut.chords] == [(0, "w4")]
    assert [(word.onset, word.text) for word in cut.lyrics] == [(3, "w7")]
    assert [(verse.number, len(verse.words)) for verse in cut.verses] == [(2, 1)], "a verse without words is none"


def test_a_hairpin_that_ends_with_the_passage_is_closed_and_no_other_sign_after_it_stands() -> None:
    signs = [Word(Fraction(at), text) for at, text in ((4, "<"), (8, "!"), (8, "p"), (9, "!"))]
    cut = passage(replace(WHOLE, directions=tuple(signs)), bars=(1, 1))
    assert [(word.onset, word.text) for word in cut.directions] == [(0, "<"), (4, "!")]


def test_the_singer_sings_the_passage() -> None:
    sung = tuple(note(f"v{at}", "G4", at, 6) for at in BARS)
    singers = (Singer("Ada", words=words(0, 4), verses=(Verse(2, words(0)),)),)
    cut = passage(replace(WHOLE, sung=sung, singers=singers), bars=(1, 1))
    assert [(n.id, n.onset, n.length) for n in cut.sung] == [("v4", 0, 4)]
    assert [word.text for word in cut.singers[0].words] == ["w4"]
    assert cut.singers[0].verses == ()


def test_the_first_and_the_last_bar_are_bars() -> None:
    assert [n.id for n in passage(WHOLE, bars=(0, 0)).notes] == ["a"]
    assert [n.id for n in passage(WHOLE, bars=(3, 3)).notes] == ["c"]
    assert passage(WHOLE).bars == WHOLE.bars
    assert passage(WHOLE).notes == WHOLE.notes
