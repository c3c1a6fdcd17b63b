"""A bad take is erased from the Desk."""

from __future__ import annotations

import pathlib
from collections.abc import Iterator
from dataclasses import replace

import pygame
import pytest

from tests.journal.played import SCALE, play
from tests.window.desk.test_desk import said, struck
from tests.window.stand.test_placing import play_on
from tools import staging
from trainer.journal import erasing
from trainer.journal.errors import JournalError
from trainer.journal.values import PATTERN, PIECE
from trainer.session import SENZA_MISURA
from trainer.window.desk.desk import Desk
from trainer.window.desk.deskview import PARTS
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.settings import Settings
from trainer.window.strings import GERMAN


@pytest.fixture
def house() -> Iterator[House]:
    with staging.home():
        made = house_of((1280, 800))
        made.open_journal()
        assert made.journal is not None
        for key in ("D", "Eb", "F"):
            play(made.journal, key, player=made.player)
        made.show(made.screen_of(Desk))
        made.draw()
        yield made
        made.close()


def keys_played(house: House) -> list[str]:
    assert house.journal is not None
    return [row.target for row in house.journal.takes(house.player, 9)]


def test_the_take_chosen_is_erased_once_that_is_said_again_with_another_key(house: House) -> None:
    desk = house.screen_of(Desk)
    before = keys_played(house)
    house.focus("recent")
    desk.took = 1
    gone = desk.recent[1]
    house.draw()
    assert "delete asks whether to erase it" in said(house)
    struck(house, pygame.K_DELETE)
    assert keys_played(house) == before, "nothing is erased unasked"
    assert f"Erase the take of {gone.title}" in said(house)
    struck(house, pygame.K_DELETE)
    assert keys_played(house) == before, "a key struck twice erases nothing"
    struck(house, pygame.K_d, "d")
    assert keys_played(house) == [key for key in before if key != gone.target]
    assert house.notice is not None
    assert house.notice.words.startswith(f"The take of {gone.title}")
    assert gone.id not in [row.id for row in desk.recent]


@pytest.mark.parametrize(("at", "lies"), [(0, False), (1, True)])
def test_what_is_erased_lies_on_the_marked_copy_no_more(house: House, at: int, lies: bool) -> None:
    desk = house.screen_of(Desk)
    assert house.rounds.show_kept(desk.recent[0].id)
    house.go("desk")
    house.focus("recent")
    desk.took = at
    house.draw()
    struck(house, pygame.K_DELETE)
    struck(house, pygame.K_d, "d")
    house.go("copy")
    house.draw()
    assert ("No take yet" not in said(house)) == lies


def test_a_take_just_played_that_is_erased_lies_on_the_marked_copy_no_more(house: House) -> None:
    stand = staging.stand_of(house, "aura-lee", "Eb", mode=SENZA_MISURA)
    assert stand.practice is not None
    play_on(house, stand, 0, len(stand.practice.wish.piece.notes))
    assert stand.end()
    assert house.rounds.last is not None
    house.go("desk")
    house.focus("recent")
    house.screen_of(Desk).took = 0
    house.draw()
    struck(house, pygame.K_DELETE)
    struck(house, pygame.K_d, "d")
    assert house.rounds.last is None


def test_it_can_be_left(house: House) -> None:
    before = keys_played(house)
    house.focus("recent")
    house.draw()
    struck(house, pygame.K_DELETE)
    assert "Erase the take of" in said(house)
    struck(house, pygame.K_ESCAPE)
    assert "Erase the take of" not in said(house)
    struck(house, pygame.K_d, "d")
    assert keys_played(house) == before
    # Who goes away and comes back is not asked any more.
    house.focus("recent")
    house.draw()
    struck(house, pygame.K_DELETE)
    house.go("keys")
    house.go("desk")
    house.draw()
    assert "Erase the take of" not in said(house)


def test_the_last_of_the_list_is_asked_about_where_the_chosen_one_is_gone(house: House) -> None:
    desk = house.screen_of(Desk)
    house.focus("recent")
    desk.took = len(desk.recent) + 4
    last = desk.recent[-1]
    house.draw()
    struck(house, pygame.K_DELETE)
    assert desk.erasing.row == last


@pytest.mark.parametrize(("kind", "named"), [(PATTERN, "Scale in As-Dur"), (PIECE, "Scale in A♭ major")])
def test_of_a_pattern_the_question_names_the_key_as_the_player_does(house: House, kind: str, named: str) -> None:
    """Its title is ours, that of a piece its own."""
    assert house.journal is not None
    house.change(letters=GERMAN)
    play(house.journal, "Ab", piece=replace(SCALE, title="Scale in A♭ major"), player=house.player, kind=kind)
    desk = house.screen_of(Desk)
    desk.entered()
    house.focus("recent")
    house.draw()
    struck(house, pygame.K_DELETE)
    assert f"take of {named} in As-Dur" in said(house)


def test_a_take_that_cannot_be_erased_is_said_to_be_kept(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    before = keys_played(house)

    def refuse(*_: object) -> None:
        raise JournalError("The disk is full.")

    monkeypatch.setattr(erasing, "erase_takes", refuse)
    house.focus("recent")
    house.draw()
    struck(house, pygame.K_DELETE)
    struck(house, pygame.K_d, "d")
    assert house.notice is not None
    assert house.notice.words == "The disk is full."
    assert keys_played(house) == before


def test_elsewhere_the_key_keeps_its_meaning(house: House) -> None:
    house.focus("shelf")
    house.draw()
    struck(house, pygame.K_DELETE)
    assert "Erase the take of" not in said(house)
    assert house.console.controls is not None
    letters = [control.key for control in house.console.controls.all if control.key]
    house.focus("recent")
    house.draw()
    struck(house, pygame.K_DELETE)
    asked = {control.key for control in house.console.controls.all if control.name.startswith("erase.")}
    assert not {"d", "escape"} & set(letters)
    assert {"d", "escape"} <= asked


def test_a_list_that_is_not_in_sight_has_no_key(house: House, tmp_path: pathlib.Path) -> None:
    """In large text the shelf lies alone there, also after the recent takes had the focus."""
    shown = house_of((1280, 800), Settings(scale=200))
    shown.open_journal()
    shown.go("desk")
    desk = shown.screen_of(Desk)
    own = tmp_path / "weir.abc"
    own.write_text("X:1\nT:Evening at the Weir\nM:4/4\nL:1/4\nK:G\nG A B c|d2 B2|\n", encoding="utf-8")
    desk.bring([str(own)])
    shown.go("desk")
    desk.part = PARTS.index("desk.recent")
    shown.focus("recent")
    shown.draw()
    assert shown.console.controls is not None
    assert [control.name for control in shown.console.controls.all if control.key == "delete"] == ["erase.ask"]
    struck(shown, pygame.K_t, "t")
    assert PARTS[desk.part] == "desk.shelf"
    shown.draw()
    assert [control.name for control in shown.console.controls.all if control.key == "delete"] == ["off"]
    shown.close()
