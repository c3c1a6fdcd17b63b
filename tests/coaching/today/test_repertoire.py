"""Which piece comes next in a key, and how fast."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.journal.played import play
from tests.music.tunes import tune
from trainer.coaching.path.path import FREE, HOLDING, OPENING, Place, load
from trainer.coaching.today.repertoire import STUCK_TAKES, Offer, Repertoire, offers
from trainer.journal.store import Journal
from trainer.music.keys import Key
from trainer.scores.shelf.library import bundled_folder, describe, find

FIVE = tune("C", "C4 D4 E4 F4 G4 F4 E4 D4 C4 D4 E4 F4 G4 E4 C4 C4")
START = datetime(2026, 3, 2, 18, tzinfo=UTC)


def offer(title: str, key: str, notes: int, **more: Any) -> Offer:
    about = Offer(title, title, Key.parse(key), "pentachord", "right", 16.0, 80.0, notes=notes)
    return replace(about, **more)


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with Journal(tmp_path / "journal.sqlite") as kept:
        yield kept


def played(journal: Journal, title: str, key: str, day: int = 0, **more: Any) -> None:
    piece = replace(FIVE, title=title)
    play(journal, key, piece=piece, player="Ada", began=START + timedelta(days=day), **more)


def asked(journal: Journal, shelf: list[Offer], key: str, day: int = 0, state: str = OPENING) -> str:
    repertoire = Repertoire(journal, "Ada", shelf, (START + timedelta(days=day)).date())
    found = repertoire.piece_for(Place("pentachord", key, "right"), Key.parse(key), state)
    assert found is not None
    return found.title


def test_the_first_page_has_few_signs_and_few_notes(journal: Journal) -> None:
    shelf = [offer("Five flats", "Db", 11), offer("One flat", "F", 20), offer("Long", "G", 60)]
    assert asked(journal, shelf, "C") == "One flat"


def test_a_tune_opens_three_keys_and_then_another_has_its_turn(journal: Journal) -> None:
    shelf = [offer("Little", "C", 10), offer("Larger", "C", 30)]
    for key in ("D", "F", "G"):
        assert asked(journal, shelf, key) == "Little"
        played(journal, "Little", key)
    assert asked(journal, shelf, "A") == "Larger"
    assert asked(journal, shelf, "D") == "Little", "a key being opened stays with its own"


def test_one_list_does_not_ask_for_one_tune_in_every_key(journal: Journal) -> None:
    shelf = [offer("Little", "C", 10), offer("Larger", "C", 30), offer("Largest", "C", 50)]
    repertoire = Repertoire(journal, "Ada", shelf, START.date())
    found = [repertoire.piece_for(Place("pentachord", key, "right"), Key.parse(key), HOLDING) for key in "DEFGABDEF"]
    assert Counter(one.title for one in found if one is not None) == {"Little": 3, "Larger": 3, "Largest": 3}


def test_where_a_key_does_not_come_to_hold_another_tune_is_tried(journal: Journal) -> None:
    shelf = [offer("Little", "C", 10), offer("Larger", "C", 30)]
    for take in range(STUCK_TAKES):
        assert asked(journal, shelf, "D", day=take) == "Little"
        played(journal, "Little", "D", day=take)
    assert asked(journal, shelf, "D", day=STUCK_TAKES) == "Larger"


def test_a_hand_that_only_holds_a_tone_is_not_practised_alone() -> None:
    """Under some tunes the left hand strikes one or two keys: alone they say nothing of a key."""
    clock, bells = offers([describe(str(find(name))) for name in ("old-clock", "three-bells")])
    assert clock.hands == bells.hands == "both"
    assert (clock.lines, bells.lines) == (("right",), ("right", "left"))


def test_every_hand_of_the_path_has_a_piece_of_its_own(journal: Journal) -> None:
    shelf = offers(describe(str(path)) for path in sorted(bundled_folder().glob("*/*.musicxml")))
    repertoire = Repertoire(journal, "Ada", shelf, START.date())
    for place in load().places:
        found = repertoire.piece_for(place, Key.parse(place.key), OPENING)
        assert found is not None, place
        assert place.hands == "both" or place.hands in found.lines, (place, found)


def test_a_key_that_does_not_come_to_hold_is_asked_for_slower_and_not_faster(journal: Journal) -> None:
    played(journal, "Little", "D", day=0)
    repertoire, place = (
        Repertoire(journal, "Ada", [offer("Little", "C", 10)], START.date()),
        Place("pentachord", "D", "right"),
    )
    paces = [repertoire.tempo(repertoire.shelf[0], place, OPENING, slower) for slower in (False, True)]
    assert paces[1] < paces[0]
    steady = repertoire.tempo(repertoire.shelf[0], place, OPENING, steady=True)
    assert paces[1] < steady <= paces[0], "what went well is asked for as it was"


@pytest.mark.parametrize(("state", "tempo"), [(OPENING, 56.0), (HOLDING, 68.0), (FREE, 80.0)])
def test_a_tempo_is_a_part_of_the_pieces_own(journal: Journal, state: str, tempo: float) -> None:
    one = offer("Little", "C", 10)
    assert Repertoire(journal, "Ada", [one], START.date()).tempo(one, Place("pentachord", "D", "right"), state) == tempo


@pytest.mark.parametrize(
    ("beat", "wrong", "tempo"),
    [
        (60 / 40, 0, 44.0),  # a little more than the pace of the last take
        (60 / 20, 0, 32.0),  # but not slower than music still is
        (60 / 70, 0, 70.0),  # well played: as fast as that
        (60 / 70, 4, 56.0),  # not so well
        (60 / 120, 0, 80.0),  # never faster than the piece
        (60 / 56, 6, 50.0),  # played badly: a little slower than that
        (60 / 40, 6, 36.0),
        (60 / 33, 6, 32.0),  # but not slower than music still is
        (60 / 120, 6, 56.0),  # badly and in a hurry: what was asked is slower already
    ],
)
def test_a_tempo_fits_what_was_played_last(journal: Journal, beat: float, wrong: int, tempo: float) -> None:
    one = offer("Little", "C", 10)
    played(journal, "Little", "D", beat=beat, slips=dict.fromkeys(range(wrong), "step"))
    asked_for = Repertoire(journal, "Ada", [one], START.date()).tempo(one, Place("pentachord", "D", "right"), OPENING)
    assert asked_for == pytest.approx(tempo, abs=2)


def test_who_plays_everything_slowly_is_not_asked_for_a_new_key_at_twice_their_pace(journal: Journal) -> None:
    one, place = offer("Little", "C", 10), Place("pentachord", "Bb", "right")

    def asked_for(**about: bool) -> float:
        return Repertoire(journal, "Ada", [one], START.date()).tempo(one, place, OPENING, **about)

    for key in ("D", "E", "F"):
        played(journal, "Little", key, beat=60 / 36)
    assert asked_for() == 56.0, "three takes are no pace of a player's own"
    played(journal, "Little", "G", beat=60 / 36)
    assert asked_for() == pytest.approx(40, abs=2)
    assert asked_for(slower=True) < 36.5, "slower is slower than what they play"
    for key in "DEFGABDEF":
        played(journal, "Little", key, day=1, beat=60 / 80)
    assert asked_for() == 56.0, "nor is who has become fluent held to what they once played"


def test_offers_bring_their_own_tempo() -> None:
    (one,) = offers([describe(str(find("slow-procession")))])
    assert one.tempo == 112.0


def test_the_same_music_under_another_title_is_known_once_it_was_played_so(journal: Journal) -> None:
    shelf = [offer("Evening at the Weir", "C", 10), offer("The Miller Goes Home", "C", 10)]
    place = Place("pentachord", "Eb", "right")

    def known() -> list[bool]:
        repertoire = Repertoire(journal, "Ada", shelf, START.date())
        return [repertoire.is_known(one, place) for one in shelf]

    played(journal, shelf[0].title, "Eb")
    assert known() == [True, False]
    played(journal, shelf[1].title, "Eb")
    assert known() == [True, True]
