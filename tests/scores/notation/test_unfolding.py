"""The way through repeats, voltas and jumps."""

from __future__ import annotations

import pytest

from trainer.scores.notation.unfolding import Signs, playing_order


def bars(text: str) -> list[Signs]:
    """A line of bars: ``|:`` and ``:|`` repeats, ``1`` ``2`` voltas, words F(ine) S(egno) C(oda) T(o coda) DC DS."""
    made = []
    for word in text.split():
        signs = Signs(start="[" in word, end="]" in word)
        digits = [int(n) for n in word if n.isdigit() and "x" not in word]
        if digits:
            signs.ending = tuple(digits)
            signs.new_ending = "~" not in word
        if "x" in word:
            signs.times = int(word[word.index("x") + 1])
        signs.segno, signs.fine, signs.coda = "S" in word and "DS" not in word, "F" in word, "K" in word
        signs.to_coda, signs.da_capo, signs.dal_segno = "T" in word, "DC" in word, "DS" in word
        made.append(signs)
    return made


# Sequences worked out by hand from the rules of notation: repeat to the last forward sign, voltas by pass, no repeats
# after D.C. or D.S. (common practice, e.g. E. Gould, Behind Bars, 2011, ch. "Repeat signs"; from memory).
@pytest.mark.parametrize(("text", "order"), [
    (". . .", [0, 1, 2]),
    (". ] .", [0, 1, 0, 1, 2]),
    (". [ ] .", [0, 1, 2, 1, 2, 3]),
    ("[ ]x3 .", [0, 1, 0, 1, 0, 1, 2]),
    ("[ 1] 2 .", [0, 1, 0, 2, 3]),
    ("[ 1 1~] 2 2~ .", [0, 1, 2, 0, 3, 4, 5]),
    ("[ 12] 3 .", [0, 1, 0, 1, 0, 2, 3]),
    ("[ 13] 2] .", [0, 1, 0, 2, 0, 1, 3]),
    ("[ 13] 24] .", [0, 1, 0, 2, 0, 1, 0, 2, 3]),
    ("[ 1] 2] 3 .", [0, 1, 0, 2, 0, 3, 4]),
    ("[ 2] 2 .", [0, 1, 0, 2, 3]),
    ("[ 3 3~] 2 .", [0, 1, 2, 0, 3, 4]),
    ("[ 1] . [ ] .", [0, 1, 0, 2, 3, 4, 3, 4, 5]),
    ("[ 1] 2 . ]", [0, 1, 0, 2, 3, 4, 3, 4]),
    ("] ]", [0, 0, 1, 1]),
    (". F . DC", [0, 1, 2, 3, 0, 1]),
    (". S . F DS", [0, 1, 2, 3, 4, 1, 2, 3]),
    (". T DC K .", [0, 1, 2, 0, 1, 3, 4]),
    (". S T . DS K", [0, 1, 2, 3, 4, 1, 2, 5]),
    (". T DC K[ ] .", [0, 1, 2, 0, 1, 3, 4, 3, 4, 5]),
    (". T DC K 1] 2 .", [0, 1, 2, 0, 1, 3, 4, 3, 5, 6]),
    ("[ 1] 2T DC [K 1] 2", [0, 1, 0, 2, 3, 0, 2, 4, 5, 4, 6]),
    (". S T K[ ] DS", [0, 1, 2, 3, 4, 3, 4, 5, 1, 2, 3, 4, 5]),
    ("[ ] F DC", [0, 1, 0, 1, 2, 3, 0, 1, 2]),
    ("[ 1] 2 DC", [0, 1, 0, 2, 3, 0, 2, 3]),
    ("[ 13] 2] DC", [0, 1, 0, 2, 0, 1, 3, 0, 1, 3]),
])  # fmt: skip
def test_playing_order(text: str, order: list[int]) -> None:
    assert playing_order(bars(text)) == order


def test_a_slip_of_the_pen_does_not_loop_for_ever() -> None:
    assert len(playing_order([Signs(end=True, times=8, ending=(10**9,), new_ending=True)] * 50)) <= 16 * 50
