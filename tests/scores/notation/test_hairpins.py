"""Hairpins and dynamics keep out of each other's way, and how fast it goes is said once."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.counting import growth
from tests.scores.making import score, xml_note
from tests.scores.notation.test_expression import direction
from tests.scores.test_reading import bar
from trainer.scores.reading import from_bytes

BEGUN, ENDED = (direction(f'<wedge type="{kind}"/>') for kind in ("crescendo", "stop"))


def said(*content: str) -> list[tuple[float, str]]:
    return [(float(word.onset), word.text) for word in from_bytes(score(bar(1, *content)), "x").directions]


def level(text: str, offset: int = 0) -> str:
    return direction(f"<dynamics><{text}/></dynamics>", offset)


def test_a_hairpin_ends_at_the_dynamic_it_would_go_through() -> None:
    found = said(BEGUN, xml_note("C4", 2), level("f"), xml_note("D4", 1), ENDED, xml_note("E4", 1))
    assert found == [(0, "<"), (2, "!"), (2, "f")]


@pytest.mark.parametrize("accent", ["sf", "sfz", "fp"])
def test_an_accent_within_a_hairpin_ends_it_not(accent: str) -> None:
    found = said(BEGUN, xml_note("C4", 2), level(accent), xml_note("D4", 1), ENDED, xml_note("E4", 1))
    assert found == [(0, "<"), (2, accent), (3, "!")]


def test_a_hairpin_begins_with_the_dynamic_that_is_written_a_little_after_it() -> None:
    head = "<attributes><divisions>4</divisions></attributes>"
    dynamic = direction("<dynamics><p/></dynamics>", 1)
    assert said(head, BEGUN, dynamic, xml_note("C4", 8), ENDED, xml_note("D4", 8)) == [
        (0.25, "p"), (0.25, "<"), (2, "!"),
    ]  # fmt: skip


def spoken(second: int, text: str = "a tempo") -> list[tuple[float, str]]:
    """Words over a voice's first note, and over a note of the piano's."""
    voice = bar(1, direction("<words>a tempo</words>"), xml_note("C5", 4, "<lyric><text>O</text></lyric>"))
    before = xml_note("C4", second) if second else ""
    piano = bar(1, before, direction(f"<words>{text}</words>"), xml_note("D4", 4 - second))
    found = from_bytes(score(voice, piano, names=("Voice", "Piano")), "x")
    return [(float(word.onset), word.text) for word in found.directions if not word.place]


def test_how_fast_it_goes_is_said_once_though_each_part_has_it_over_its_own_next_note() -> None:
    assert spoken(2) == [(0, "a tempo")]
    assert spoken(2, "rit.") == [(0, "a tempo"), (2, "rit.")]


def test_who_slows_down_again_and_again_is_told_every_time() -> None:
    """Words on how fast it goes a beat apart are one; those a bar after what is kept are said anew."""
    bars = [bar(number, *(direction("<words>rit.</words>") + xml_note("C4", 1) for _ in range(4))) for number in (1, 2)]
    found = from_bytes(score("".join(bars)), "x").directions
    assert [(word.onset, word.text) for word in found] == [(0, "rit."), (4, "rit.")]


@pytest.mark.parametrize("text", ["rit.", "dolce"])
def test_a_score_full_of_words_is_read_once(text: str) -> None:
    """Four times as many words take about four times as much, not sixteen times."""

    def reading_of(bars: int) -> Callable[[], object]:
        content = [direction(f"<words>{text}</words>") + xml_note("C4", 1) for _ in range(4)]
        document = score("".join(bar(at + 1, *content) for at in range(bars)))
        return lambda: from_bytes(document, "x")

    assert growth(reading_of, 50) < 5
