"""The player's chords: kept by bar and beat, replaced, taken away."""

from __future__ import annotations

import pathlib
from fractions import Fraction
from itertools import pairwise

import pytest

from tests.music.tunes import tune
from trainer.coaching.own.corrections import FILE, keep, load
from trainer.music.pitch import MusicError
from trainer.scores.harmony import Correction
from trainer.scores.reading import from_bytes

TUNE = tune("C", "C4 E4 G4 C5 B4 D5 G4 C5")


def test_kept_replaced_and_taken_away(tmp_path: pathlib.Path) -> None:
    keep(tmp_path, TUNE, Correction(Fraction(9, 2), "V65"))
    assert load(tmp_path, TUNE) == (Correction(Fraction(9, 2), "V65"),)
    assert 'beat = "1 1/2"' in (tmp_path / FILE).read_text(encoding="utf-8")
    keep(tmp_path, TUNE, Correction(Fraction(9, 2), "viio6"))
    keep(tmp_path, TUNE, Correction(Fraction(0), "I"))
    assert set(load(tmp_path, TUNE)) == {Correction(Fraction(9, 2), "viio6"), Correction(Fraction(0), "I")}
    keep(tmp_path, TUNE, Correction(Fraction(9, 2), ""))
    keep(tmp_path, TUNE, Correction(Fraction(0), ""))
    assert load(tmp_path, TUNE) == ()
    keep(tmp_path, TUNE, Correction(Fraction(0), "vi"))
    assert load(tmp_path, TUNE) == (Correction(Fraction(0), "vi"),)


def test_the_halves_of_a_bar_that_a_repeat_divides_are_told_apart(tmp_path: pathlib.Path) -> None:
    piece = from_bytes(b"X:1\nT:Halves\nM:4/4\nL:1/4\nK:C\nG2|CEGE|C2:|G2|C4|]\n", "halves.abc")
    half = next(bar for one, bar in pairwise(piece.bars) if bar.number == one.number == 2)
    keep(tmp_path, piece, Correction(half.onset, "V"))
    assert load(tmp_path, piece) == (Correction(half.onset, "V"),)
    assert 'beat = "3"' in (tmp_path / FILE).read_text(encoding="utf-8")
    upbeats = [bar.onset for bar in piece.bars if not bar.number]
    keep(tmp_path, piece, Correction(upbeats[0], "V7"))
    assert {one.onset for one in load(tmp_path, piece)} == {half.onset, *upbeats}


def test_other_pieces_and_comments_are_left_alone(tmp_path: pathlib.Path) -> None:
    text = '# mine\n[[chord]]\npiece = "Other"\nbar = 1\nbeat = "1"\nnumeral = "iv"\n'
    (tmp_path / FILE).write_text(text)
    assert load(tmp_path, TUNE) == ()
    keep(tmp_path, TUNE, Correction(Fraction(0), "I"))
    kept = (tmp_path / FILE).read_text(encoding="utf-8")
    assert kept.startswith("# mine")
    assert 'piece = "Other"' in kept


def test_an_entry_written_by_hand_is_replaced_where_it_stands(tmp_path: pathlib.Path) -> None:
    text = (
        '[[chord]]\npiece = "TUNE"\nbar = 1\nbeat = "1 2/4" # on the way\nnumeral = "IV"\n\n# mine too\n'
        '[[chord]]\npiece = "Other"\nbar = 1\nbeat = "1"\nnumeral = "iv"\n'
    )
    (tmp_path / FILE).write_text(text)
    keep(tmp_path, TUNE, Correction(Fraction(1, 2), "V65"))
    assert (tmp_path / FILE).read_text(encoding="utf-8") == text.replace('"IV"', '"V65"')
    keep(tmp_path, TUNE, Correction(Fraction(1, 2), ""))
    assert load(tmp_path, TUNE) == ()
    assert 'piece = "Other"' in (tmp_path / FILE).read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("entry", "says"),
    [('bar = 1\nbeat = "0"\nnumeral = "I"', "counted from 1"), ('bar = 1\nbeat = "1 1/0"\nnumeral = "I"', "like"),
     ('bar = 1\nbeat = "1"\nnumeral = "Q"', "not a Roman numeral"), ('beat = "1"\nnumeral = "I"', "bar is missing")],
)  # fmt: skip
def test_wrong_entries_are_said(tmp_path: pathlib.Path, entry: str, says: str) -> None:
    (tmp_path / FILE).write_text(f'[[chord]]\npiece = "tune"\n{entry}\n')
    with pytest.raises(MusicError, match=says):
        load(tmp_path, TUNE)


def test_nothing_is_kept_that_is_no_numeral(tmp_path: pathlib.Path) -> None:
    with pytest.raises(MusicError, match="Roman"):
        keep(tmp_path, TUNE, Correction(Fraction(0), "Q"))
    assert not (tmp_path / FILE).exists()


def test_a_list_in_brackets_is_added_to_and_stays_whole(tmp_path: pathlib.Path) -> None:
    (tmp_path / FILE).write_text('# mine\nchord = [{piece = "tune", bar = 2, beat = "1", numeral = "IV"}]\n')
    keep(tmp_path, TUNE, Correction(Fraction(0), "I"))
    assert load(tmp_path, TUNE) == (Correction(Fraction(4), "IV"), Correction(Fraction(0), "I"))
    assert (tmp_path / FILE).read_text(encoding="utf-8").startswith("# mine")
    keep(tmp_path, TUNE, Correction(Fraction(4), ""))
    assert load(tmp_path, TUNE) == (Correction(Fraction(0), "I"),)
