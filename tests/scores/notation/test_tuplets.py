"""Tuplets and rests as an engraver writes them, told from lengths alone."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.music.piece import Bar
from trainer.scores.notation.notating import Chord, voice_in_bar


def chords(meter: tuple[int, int], *runs: tuple[str, str]) -> list[Chord]:
    """What is written in a bar for notes from one place to another."""
    bar = Bar(1, Fraction(0), Fraction(4 * meter[0], meter[1]), meter)
    return voice_in_bar(bar, [(at, Fraction(start), Fraction(end)) for at, (start, end) in enumerate(runs)])


def run(*places: str) -> list[tuple[str, str]]:
    """Notes that follow one another at these places."""
    return list(pairwise(places))


def said(found: list[Chord]) -> str:
    """Values in a line: ``[3`` and ``]`` round a tuplet, ``.`` for a dot, ``~`` for a tie to the next, ``r`` a rest."""
    words = []
    for chord in found:
        begin = f"[{chord.value.tuplet[0]} " if chord.tuplet_start else ""
        end = "]" if chord.tuplet_stop else ""
        tie = "~" if any(on for _, on in chord.ties) else ""
        name = ("" if chord.notes else "r") + chord.value.name + "." * chord.value.dots
        words.append(begin + name + tie + end)
    return " ".join(words)


@pytest.mark.parametrize(
    ("places", "found"),
    [
        # A dotted eighth, a sixteenth and an eighth of a triplet.
        (("0", "1/2", "2/3", "1"), "[3 eighth. 16th eighth] rquarter rhalf"),
        # An eighth, and three sixteenths in the time of two.
        (("0", "1/2", "2/3", "5/6", "1"), "eighth [3 16th 16th 16th] rquarter rhalf"),
        # A note of two beats tied into a triplet, and one that leaves a triplet for the beat after it.
        (("0", "4/3", "5/3", "2"), "quarter~ [3 eighth eighth eighth] rhalf"),
        (("0", "1/3", "5/3", "2"), "[3 eighth quarter~] [3 quarter eighth] rhalf"),
        (("0", "1/2", "2/3", "5/6", "3"), "eighth [3 16th 16th 16th~] half rquarter"),
        # An eighth tied into sixteenths of a triplet.
        (("0", "2/3", "5/6", "1"), "eighth~ [3 16th 16th 16th] rquarter rhalf"),
        (("0", "6/5", "7/5", "8/5", "9/5", "2"), "quarter~ [5 16th 16th 16th 16th 16th] rhalf"),
        # Over two beats and over four.
        (("0", "2/3", "4/3", "2"), "[3 quarter quarter quarter] rhalf"),
        (("1", "5/3", "7/3", "3"), "rquarter [3 quarter quarter quarter] rquarter"),
        (("0", "4/3", "8/3", "4"), "[3 half half half]"),
        (("0", "4/3", "2"), "[3 half quarter] rhalf"),
        # A value of a triplet over the middle of the beat, after half of another.
        (("0", "1/6", "2/3", "1"), "[3 16th eighth. eighth] rquarter rhalf"),
        # Out of one triplet over a beat into the next.
        (("0", "5/3", "8/3", "4"), "quarter~ [3 quarter eighth~] [3 quarter eighth~] quarter"),
        # Triplets within a triplet are all counted in ninths.
        (("0", "2/3", "8/9", "10/9", "4/3", "2"), "[9 eighth. 16th 16th 16th eighth.] rhalf"),
    ],
)
def test_a_tuplet_fills_its_beats_and_all_its_values_are_of_it(places: tuple[str, ...], found: str) -> None:
    assert said(chords((4, 4), *run(*places))) == found


def test_a_tuplet_of_five_in_a_beat_of_three_has_eighths() -> None:
    assert said(chords((6, 8), *run("0", "3/10", "3/5", "9/10", "6/5", "3/2"))) == (
        "[5 eighth eighth eighth eighth eighth] rquarter."
    )


def test_an_inner_tuplet_over_the_beat_keeps_one_beam() -> None:
    beams = [chord.beams for chord in chords((4, 4), *run("0", "2/3", "8/9", "10/9", "4/3", "2")) if chord.notes]
    assert [beam[0] for beam in beams] == ["begin", "continue", "continue", "continue", "end"]


def test_a_tuplet_beamed_to_other_notes_takes_a_bracket_unless_a_beam_of_its_own_shows_it() -> None:
    sixteenths = chords((4, 4), *run("0", "1/2", "2/3", "5/6", "1"))
    tied = chords((4, 4), *run("0", "1/3", "1/2", "2/3", "1"))
    assert [chord.tuplet_bracket for chord in (*sixteenths, *tied) if chord.tuplet_start] == [False, False]
    apart = chords((3, 8), *run("0", "1/6", "1/3", "1/2", "1", "3/2"))
    assert [len(chord.beams) for chord in apart] == [2, 2, 2, 1, 1]
    assert [chord.tuplet_bracket for chord in apart if chord.tuplet_start] == [False]


def test_triplets_side_by_side_share_the_outer_beam_alone() -> None:
    found = [chord for chord in chords((4, 4), *run("0", "1/6", "1/3", "1/2", "2/3", "5/6", "1")) if chord.notes]
    assert [chord.beams[0] for chord in found] == ["begin", *["continue"] * 4, "end"]
    assert [chord.beams[1] for chord in found] == ["begin", "continue", "end"] * 2
    assert [chord.tuplet_bracket for chord in found if chord.tuplet_start] == [False, False]


@pytest.mark.parametrize(
    ("meter", "note", "found"),
    [
        ((4, 4), ("0", "1"), "quarter rquarter rhalf"),
        ((4, 4), ("3", "4"), "rhalf rquarter quarter"),
        ((4, 4), ("0", "1/2"), "eighth reighth rquarter rhalf"),
        ((4, 4), ("3/2", "2"), "rquarter reighth eighth rhalf"),
        ((3, 4), ("0", "1"), "quarter rquarter rquarter"),
        ((3, 4), ("0", "1/2"), "eighth reighth rquarter rquarter"),
        ((2, 2), ("0", "1"), "quarter rquarter rhalf"),
        ((6, 8), ("0", "1/2"), "eighth reighth reighth rquarter."),
        ((6, 8), ("1", "3/2"), "rquarter eighth rquarter."),
        ((12, 8), ("0", "3/2"), "quarter. rquarter. rhalf."),
        ((9, 8), ("0", "3/2"), "quarter. rquarter. rquarter."),
        ((5, 8), ("0", "1/2"), "eighth reighth rquarter reighth"),
        ((4, 4), ("0", "1/4"), "16th r16th reighth rquarter rhalf"),
    ],
)
def test_rests_are_written_as_the_metre_is_counted(meter: tuple[int, int], note: tuple[str, str], found: str) -> None:
    assert said(chords(meter, note)) == found


@given(
    meter=st.sampled_from([(4, 4), (3, 4), (6, 8), (2, 2), (5, 8), (3, 8), (12, 8), (2, 4)]),
    parts=st.sampled_from([2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 13]),
    others=st.sampled_from([1, 2, 3, 4]),
    places=st.lists(st.integers(0, 80), min_size=2, max_size=8),
    more=st.lists(st.integers(0, 24), max_size=3),
)
def test_a_bar_is_full_and_its_tuplets_are_closed(
    meter: tuple[int, int], parts: int, others: int, places: list[int], more: list[int]
) -> None:
    length = Fraction(4 * meter[0], meter[1])
    both = [Fraction(place, parts) for place in places] + [Fraction(place, others) for place in more]
    cuts = [str(place) for place in sorted({min(place, length) for place in both})]
    at = Fraction(0)
    inside = False
    for chord in chords(meter, *run(*cuts)):
        assert chord.onset == at
        assert not (chord.tuplet_start and inside)
        inside = inside or chord.tuplet_start
        assert inside == (chord.value.tuplet != (1, 1))
        inside = inside and not chord.tuplet_stop
        at += length if chord.whole_bar else chord.length
    assert at == length
    assert not inside
