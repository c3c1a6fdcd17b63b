"""Which hand, mode or signs are harder: told where it is so, and not where it may be chance."""

from __future__ import annotations

import pathlib
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import cast

import pytest

import trainer.coaching.progress.sides as sides_module
from tests.coaching.paper.test_sheets import words
from tests.journal.played import SCALE, play
from trainer.coaching.paper.lesson import lesson
from trainer.coaching.paper.lesson import studio as studio_page
from trainer.coaching.progress.habits import habits
from trainer.coaching.progress.sides import SIDES_DAYS, Side, sides
from trainer.following.marks import OCTAVE, STEP, WRONG
from trainer.journal.reading import Reading
from trainer.journal.store import Journal
from trainer.journal.summary import Slice, Stretch
from trainer.scores import reading
from trainer.scores.shelf import library

NOW = datetime.now().astimezone()
SINCE = (NOW - timedelta(days=28)).date()
PIECE = reading.read(library.find("go-tell-aunt-rhody"))
MINOR = reading.read(library.find("grey-rain"))


@pytest.fixture
def journal(tmp_path: pathlib.Path) -> Iterator[Journal]:
    with Journal(tmp_path / "j.sqlite") as made:
        yield made


def often(journal: Journal, to: str, hand: str = "", times: int = 12, every: int = 4) -> None:
    """Takes with every fourth note of a hand wrong, none without a hand."""
    mine = [at for at, note in enumerate(PIECE.notes) if hand and note.hand == hand]
    for ago in range(times):
        play(journal, to, piece=PIECE, player="Ben", slips=dict.fromkeys(mine[::every], STEP),
             began=NOW - timedelta(days=ago % 6, minutes=ago))  # fmt: skip


def test_the_left_hand_and_flat_keys_are_told_on_the_page_for_the_lesson(journal: Journal) -> None:
    often(journal, "D", "left", every=8)
    often(journal, "Eb", "left", every=2)
    found = sides(journal, "Ben", SINCE)
    assert {(side.what, side.harder) for side in found} == {("hand", "the left hand"), ("signs", "flat keys")}
    gaps = [side.right_other - side.right for side in found]
    assert gaps == sorted(gaps, reverse=True)
    page = words(lesson(journal, "Ben", NOW))
    assert "What is harder" in page
    assert "The left hand is harder: " in page
    assert "Flat keys are harder: " in page
    assert "The left hand by itself first, in every key." in page


def test_a_hand_that_plays_alone_already_is_to_go_slower(journal: Journal) -> None:
    for hand, every in (("right", 3), ("left", len(PIECE.notes))):
        only = PIECE.only_hand(hand)
        for ago in range(20):
            play(journal, "D", piece=only, player="Ben", slips=dict.fromkeys(range(0, len(only.notes), every), STEP),
                 began=NOW - timedelta(days=ago % 6, minutes=ago), hands=hand)  # fmt: skip
    page = words(lesson(journal, "Ben", NOW))
    assert "The right hand is harder: " in page
    assert "The right hand slower, in every key." in page
    assert "by itself first" not in page


def test_a_week_of_patterns_says_nothing_of_hands_that_play_alone(journal: Journal) -> None:
    slips = {at: STEP for at, note in enumerate(PIECE.notes) if note.hand == "right" and at % 3 == 0}
    for ago in range(40):
        began = NOW - timedelta(days=8 + ago % 6, minutes=ago)
        play(journal, "D", piece=PIECE, player="Cleo", began=began, slips=slips)
    play(journal, "D", piece=PIECE, player="Cleo", began=NOW - timedelta(days=1), kind="pattern")
    page = words(lesson(journal, "Cleo", NOW))
    assert "The right hand by itself first, in every key." in page


def test_the_studio_says_where_to_look_when_no_single_habit_stands_out(journal: Journal) -> None:
    # Other notes slip in each take, in one way and another.
    for ago in range(12):
        slips = {at: (STEP, WRONG, OCTAVE)[(at + ago) % 3] for at in range(ago % 8, len(MINOR.notes), 8)}
        play(journal, "a", piece=MINOR, player="Ben", slips=slips, began=NOW - timedelta(days=ago % 6, minutes=ago))
    often(journal, "D")
    assert habits(journal, "Ben", NOW.date(), days=SIDES_DAYS) == []
    (side,) = [one for one in sides(journal, "Ben", SINCE) if one.what == "mode"]
    assert side.sentence.startswith("minor keys are harder: ")
    assert side.sentence.endswith("% right, major keys 100%")
    assert side.work == "A tune in minor each day, its five fingers first."
    (table,) = [block for block in studio_page(journal, NOW).blocks if hasattr(block, "rows")]
    assert table.rows[0][-1] == side.sentence


def test_nothing_is_told_of_little_playing_or_of_two_sides_alike(journal: Journal) -> None:
    assert sides(journal, "Ben", SINCE) == []
    play(journal, "Eb", piece=SCALE, player="Ben", slips={3: STEP}, began=NOW)
    play(journal, "D", piece=SCALE, player="Ben", began=NOW)
    assert sides(journal, "Ben", SINCE) == []
    often(journal, "Eb", "left", times=1)
    often(journal, "D", "left", times=1)
    assert not [side for side in sides(journal, "Ben", SINCE) if side.what != "hand"]
    assert "What is harder" not in words(lesson(journal, "Nobody", NOW))


def test_one_take_gone_wrong_makes_no_side_the_harder_one(journal: Journal) -> None:
    often(journal, "D", "right", times=1, every=1)
    often(journal, "Eb")
    assert sides(journal, "Ben", SINCE) == []
    often(journal, "D", "right", times=5, every=1)
    assert {side.what for side in sides(journal, "Ben", SINCE)} == {"hand", "signs"}


def told(monkeypatch: pytest.MonkeyPatch, hands: dict[str, tuple[int, int]], keys: dict[str, Stretch]) -> list[Side]:
    """The sides of figures: of each hand the notes right and all."""
    slices = [Slice(hand, n, right, right / n, 0.0, 1.0, None) for hand, (right, n) in hands.items()]
    monkeypatch.setattr(sides_module, "by_facet", lambda *_: slices)
    monkeypatch.setattr(sides_module, "by_key", lambda *_: keys)
    return sides(cast(Reading, None), "Ben", SINCE)


@pytest.mark.parametrize(
    ("left", "right", "harder"),
    [
        ((8600, 10_000), (9500, 10_000), "the left hand"),
        ((9500, 10_000), (8600, 10_000), "the right hand"),
        ((9700, 10_000), (9950, 10_000), ""),  # certain, and not worth a lesson
        ((9950, 10_000), (9700, 10_000), ""),
        ((160, 200), (175, 200), ""),  # wide, and it may be chance
        ((175, 200), (160, 200), ""),
        ((0, 99), (9500, 10_000), ""),  # one take gone wrong
        ((9500, 10_000), (0, 99), ""),
        ((0, 100), (9500, 10_000), "the left hand"),
    ],
)
def test_a_side_is_told_where_it_is_both_certain_and_worth_a_word(
    left: tuple[int, int], right: tuple[int, int], harder: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = told(monkeypatch, {"left": left, "right": right}, {})
    assert [side.harder for side in found] == [harder] * bool(harder)
    for side in found:
        assert side.right < side.right_other


def test_notes_left_out_count_and_keys_without_signs_are_neither_flat_nor_sharp(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def stretch(right: int, played: int, missed: int) -> Stretch:
        return Stretch(10, 10.0, right, played, missed, None, None)

    keys = {"Eb": stretch(900, 900, 300), "D": stretch(950, 1000, 0), "C": stretch(0, 1000, 0), "a": stretch(0, 900, 0)}
    found = told(monkeypatch, {"left": (5500, 10_000), "right": (6500, 10_000)}, keys)
    # The widest difference first.
    assert [(side.what, side.harder) for side in found] == [
        ("mode", "minor keys"), ("signs", "flat keys"), ("hand", "the left hand"),
    ]  # fmt: skip
    flats = found[1]
    assert (flats.right, flats.right_other) == (0.75, 0.95)
