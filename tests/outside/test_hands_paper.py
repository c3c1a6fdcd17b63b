"""The rules against the worked examples of the paper they come from, and reach against a published study.

Source: R. Parncutt, J. A. Sloboda, E. F. Clarke, M. Raekallio, P. Desain, "An Ergonomic Model of Keyboard Fingering for
Melodic Fragments", *Music Perception* 14 (1997): the ten best fingerings of fragments from Czerny's op. 821 with
their points. Fragment B is a figure that turns round, so its neighbours are its own ends.
"""

from __future__ import annotations

import pytest

from trainer.hands import rules
from trainer.hands.fingering import finger
from trainer.hands.position import HAND_SIZES, HAND_SPANS, reaches, widest
from trainer.music.pitch import SpelledPitch

FRAGMENTS = {
    "A": "E5 G5 F5 G5 E5 F5 D5 E5",
    "B": "E5 C#5 D5 F#5",
    "C": "E4 C#4 E4 A4 E4",
    "D": "C#4 E#4 D#4 F#4 E#4 G#4 F#4",
    "E": "A5 G#6 A6 E6 F6 C#6 D6 G#5",
    "F": "G3 Bb3 D4 Bb3 G4 D4",
    "G": "F#5 G5 F#5 E5 F#5 E5 D5",
}
TOTALS = {
    "A": {6: "24342313", 7: "13231213", 8: "14342313 35453423", 9: "13231323 13231423 13242313",
          10: "12142313 13232313 24342323"},
    "C": {9: "21241 21251", 10: "31241 31251 32351 42351", 11: "31351 42151", 12: "21351 32151"},
    "D": {12: "1323132 1324132", 13: "2412132", 14: "1212132 1213242 1323142", 15: "1323242 2413242 2435132",
          16: "1213232"},
    "E": {24: "14523152", 28: "14523142", 31: "14512152", 32: "14513152 14515342 14515352 14524152",
          33: "13412152 13523152 14515452"},
    "F": {17: "124251", 19: "124151", 20: "123151 124141", 22: "123141 124131", 23: "135141 135251",
          24: "125251 135131"},
    "G": {2: "3432321", 3: "2321321", 5: "3431321", 6: "2432321 4542321", 7: "2132321",
          8: "2321421 2321431 3132321 3432421"},
}  # fmt: skip
# Points by rule, as printed; the order is that of `rules.RULES`.
BY_RULE = {
    ("A", "24342313"): (0, 1, 0, 1, 1, 2, 0, 1, 0, 0, 0, 0),
    ("A", "13231213"): (0, 1, 0, 2, 4, 0, 0, 0, 0, 0, 0, 0),
    ("A", "35453423"): (0, 0, 0, 0, 0, 4, 3, 1, 0, 0, 0, 0),
    ("A", "13231323"): (0, 2, 2, 2, 3, 0, 0, 0, 0, 0, 0, 0),
    ("C", "21241"): (0, 0, 2, 1, 0, 1, 0, 0, 0, 5, 0, 0),
    ("C", "32351"): (0, 2, 6, 1, 0, 1, 0, 0, 0, 0, 0, 0),
    ("C", "42151"): (0, 8, 0, 1, 0, 2, 0, 0, 0, 0, 0, 0),
}
ROUND = {
    "3124": (0, 0, 0, 0, 0, 1, 0, 0, 1, 5, 0, 0),
    "3214": (0, 3, 2, 0, 0, 1, 0, 0, 1, 0, 0, 0),
    "1235": (0, 9, 0, 0, 0, 1, 0, 0, 0, 0, 4, 0),
    "2124": (0, 2, 0, 2, 4, 1, 0, 0, 0, 5, 0, 0),
    "3235": (0, 2, 2, 2, 4, 1, 0, 0, 0, 0, 4, 0),
}
CASES = [
    (name, total, fingers)
    for name, rows in TOTALS.items()
    for total, group in rows.items()
    for fingers in group.split()
]


def notes(name: str) -> list[int]:
    return [SpelledPitch.parse(word).midi for word in FRAGMENTS[name].split()]


def digits(text: str) -> list[int]:
    return [int(digit) for digit in text]


@pytest.mark.parametrize(("name", "total", "fingers"), CASES)
def test_published_totals(name: str, total: int, fingers: str) -> None:
    assert sum(rules.points(notes(name), digits(fingers)).values()) == total


@pytest.mark.parametrize(("name", "fingers"), BY_RULE)
def test_published_points_by_rule(name: str, fingers: str) -> None:
    assert tuple(rules.points(notes(name), digits(fingers)).values()) == BY_RULE[name, fingers]


@pytest.mark.parametrize("fingers", ROUND)
def test_published_points_of_a_figure_that_turns_round(fingers: str) -> None:
    thrice, twice = (rules.points(notes("B") * times, digits(fingers) * times) for times in (3, 2))
    assert tuple(thrice[rule] - twice[rule] for rule in rules.RULES) == ROUND[fingers]


def test_pianists_choice_for_the_figure_that_turns_round() -> None:
    # 17 of the pianists asked wrote 3 2 1 4, more than any other.
    assert finger(notes("B") * 4)[4:12] == (3, 2, 1, 4, 3, 2, 1, 4)


def test_a_tenth_asks_for_the_published_span() -> None:
    # Boyle, Boyle and Booker (2015), after Farias et al. (2002): a hand under 8.5 inches cannot play a tenth.
    tenth = (60, 76)
    assert [reaches(*tenth, size) for size in HAND_SIZES] == [False, True, True]
    assert HAND_SPANS["medium"] == pytest.approx(8.5 * 25.4, abs=0.5)
    assert HAND_SPANS["small"] == pytest.approx(7.9 * 25.4, abs=0.5)
    assert HAND_SPANS["large"] == pytest.approx(8.9 * 25.4, abs=0.5)


def test_a_small_hand_has_the_ninth_and_no_more() -> None:
    assert reaches(60, 74, "small")
    assert not reaches(60, 76, "small")
    assert widest("small") == "ninth"


def test_a_tenth_in_a_large_hand_is_within_the_published_practical_span() -> None:
    # Table 1 of the paper gives 15 semitones from thumb to little finger for a middling hand.
    assert rules.SPANS[1, 5][-1] == 15
    assert rules.beyond_practice(1, 5, 16, 1.0) == 1
    assert rules.beyond_practice(1, 5, 16, HAND_SPANS["large"] / HAND_SPANS["medium"]) == 0
