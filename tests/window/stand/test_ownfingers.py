"""Fingers of one's own on the Stand: framed by key, click and piano, said, taken back, undone; kept and found again."""

from __future__ import annotations

import os
import pathlib
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pygame
import pytest

from tests.window.stand.test_correcting import notice, press, strike
from tools import staging
from trainer.coaching.own import ownfingers
from trainer.listening.typing import KEYS
from trainer.music.piece import LEFT, RIGHT
from trainer.music.transpose import plan
from trainer.scores.reading import from_bytes
from trainer.scores.shelf.library import Shelf
from trainer.window.copy.copy import Copy
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.practice import ENDED
from trainer.window.settings import Settings
from trainer.window.stand.stand import Stand
from trainer.window.strings import say
from trainer.window.wish import Wish
from trainer.window.workroom import studies
from trainer.window.workroom.fingered import under

MINUET = "petzold-minuet-in-g"


@pytest.fixture(autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        Shelf().refresh()
        yield


def fingering(name: str = MINUET, to: str = "F", settings: Settings | None = None, **wish: Any) -> tuple[House, Stand]:
    house = house_of((1280, 800), settings or Settings(player="Ada"))
    stand = staging.stand_of(house, name, to, **wish)
    house.draw()
    press(house, "ctrl t")
    house.draw()
    assert stand.fingering.on
    return house, stand


def digit(house: House, typed: str, scancode: int = 0) -> None:
    given = {"key": ord(typed) if typed else 0, "mod": 0, "unicode": typed, "scancode": scancode}
    house.handle(pygame.event.Event(pygame.KEYDOWN, given))
    house.draw()


def folder() -> pathlib.Path:
    return pathlib.Path(os.environ["KEYFARER_HOME"])


def boxes(house: House) -> dict[str, str]:
    assert house.canvas is not None
    return {box.name: box.text for box in house.canvas.boxes}


def printed(stand: Stand) -> dict[int, int]:
    """The digits that are drawn on the page, by note."""
    assert stand.page.score is not None
    shown = stand.page.score.engraved.systems
    return {place.note: stand.page.fingered.fingers[place.note] for system in shown for place in system.fingers}


def test_every_note_shows_its_finger_and_one_is_framed() -> None:
    house, stand = fingering()
    assert stand.practice is not None
    piece = stand.practice.wish.piece
    assert set(printed(stand)) == set(range(len(piece.notes)))
    assert piece.notes[stand.fingering.note].hand == RIGHT
    assert boxes(house)["finger.framed.finger"] == "5"
    assert "finger.head" in boxes(house)
    press(house, "escape")
    assert len(printed(stand)) < len(piece.notes)
    assert "finger.head" not in boxes(house)


def test_a_finger_is_said_kept_and_found_again_in_that_key_alone() -> None:
    house, stand = fingering()
    press(house, "right", "right")
    before = dict(stand.page.fingered.fingers)
    note = stand.fingering.note
    digit(house, "3")
    house.draw()
    after = stand.page.fingered
    assert (before[note], after.fingers[note]) == (2, 3)
    assert after.said == {note: 3}
    assert notice(house) == "Kept: 3 on A in bar 1, for F major."
    assert {i for i in before if before[i] != after.fingers[i]} == {4, 5, 7, 8, 10}
    assert f"finger.0.{note}.own" in boxes(house)
    # Another day: on the page, in the glimpse, on the marked copy; not in another key, nor for another player.
    press(house, "escape")
    again = house_of((1280, 800), Settings(player="Ada"))
    later = staging.stand_of(again, MINUET, "F")
    again.draw()
    assert later.page.fingered.said == {note: 3}
    assert f"finger.0.{note}.own" in boxes(again)
    later.glimpse(True)
    again.draw()
    assert {"glimpse.0", f"finger.0.{note}.own"} <= boxes(again).keys()
    later.glimpse(False)
    assert later.practice is not None
    strike(again, *(one.midi for one in later.practice.wish.expected.notes[3:9]))
    press(again, "return", "return")
    again.draw()
    assert isinstance(again.screen, Copy)
    assert again.screen.score is not None
    assert [place for system in again.screen.score.systems for place in system.fingers] == [note]
    assert f"finger.0.{note}.own" in boxes(again)
    elsewhere = house_of((1280, 800), Settings(player="Ada"))
    assert _said(elsewhere, "Eb") == {}
    assert _said(house_of((1280, 800), Settings(player="Bea")), "F") == {}


def _said(house: House, to: str) -> dict[int, int]:
    stand = staging.stand_of(house, MINUET, to)
    house.draw()
    return dict(stand.page.fingered.said)


def test_taken_away_and_undone() -> None:
    house, stand = fingering()
    press(house, "right")
    found = dict(stand.page.fingered.fingers)
    press(house, "delete")
    assert notice(house) == say("stand.finger.untouched")
    digit(house, "2")
    digit(house, "3")
    press(house, "left", "ctrl z")
    house.draw()
    assert stand.page.fingered.said == {4: 2}
    assert stand.fingering.note == 4, "undone where it was said"
    press(house, "delete")
    house.draw()
    assert stand.page.fingered.fingers == found
    press(house, "ctrl z", "ctrl z")
    house.draw()
    assert stand.page.fingered.said == {}
    press(house, "ctrl z")
    assert notice(house) == say("stand.chord.undo.none")


def test_the_frame_goes_everywhere_by_keyboard() -> None:
    house, stand = fingering()
    assert stand.practice is not None
    notes = stand.practice.wish.piece.notes
    start = stand.fingering.note
    press(house, "down")
    assert notes[stand.fingering.note].hand == LEFT
    chord = [stand.fingering.note]
    press(house, "down", "down", "down")
    assert notes[stand.fingering.note].midi < notes[chord[0]].midi
    assert stand.fingering.keys.keys() == {one.midi for one in stand.practice.wish.expected.notes[:3]}
    press(house, "tab")
    assert stand.fingering.note == start
    press(house, "ctrl right")
    assert stand.practice.wish.piece.bar_index(stand.fingering.onset) == 1
    press(house, "ctrl left", "left")
    assert stand.fingering.note == start
    seen = set()
    for _ in range(len(notes)):
        seen.add(stand.fingering.note)
        press(house, "right")
        assert "finger.head" in boxes(house), "the page goes along"
    onsets = {(note.onset, note.grace) for note in notes if note.hand == RIGHT}
    assert {(notes[i].onset, notes[i].grace) for i in seen} == onsets


def test_a_click_and_a_key_of_the_piano_frame_a_note() -> None:
    house, stand = fingering()
    assert stand.practice is not None
    system, corner = stand.fingering._seen[0]
    x, y = system.heads[7]
    point = round(corner[0] + x), round(corner[1] + y)
    house.handle(pygame.event.Event(pygame.MOUSEBUTTONDOWN, button=1, pos=point))
    house.draw()
    assert stand.fingering.note == 7
    nowhere = (point[0], round(corner[1] + system.size[1] + 4))
    house.handle(pygame.event.Event(pygame.MOUSEBUTTONDOWN, button=1, pos=nowhere))
    assert stand.fingering.note == 7
    wanted = stand.practice.wish.expected.notes[10]
    strike(house, wanted.midi)
    assert stand.practice.wish.expected.notes[stand.fingering.note].midi == wanted.midi
    assert stand.fingering.onset >= stand.practice.wish.piece.notes[7].onset
    assert not stand.practice.presses, "that is no take"


@pytest.mark.parametrize("typing", [True, False])
def test_a_click_on_its_drawn_key_frames_a_note_with_and_without_a_piano(typing: bool) -> None:
    house, stand = fingering()
    stand.typing = typing
    assert stand.practice is not None
    wanted = stand.practice.wish.expected.notes[10]
    every = ((x, y) for x in range(stand._board.left, stand._board.right) for y in (stand._board.bottom - 4,))
    point = next(point for point in every if stand.touched(point) == wanted.midi)
    house.handle(pygame.event.Event(pygame.MOUSEBUTTONDOWN, button=1, pos=point))
    house.handle(pygame.event.Event(pygame.MOUSEBUTTONUP, button=1, pos=point))
    assert stand.practice.wish.expected.notes[stand.fingering.note].midi == wanted.midi
    assert not stand.practice.presses, "that is no take"


@pytest.mark.parametrize(("typing", "key", "leaves"), [(True, "ctrl t", True), (True, "t", False), (False, "t", True)])
def test_what_began_it_leaves_it(typing: bool, key: str, leaves: bool) -> None:
    house, stand = fingering()
    stand.typing = typing
    house.draw()
    press(house, key)
    assert stand.fingering.on is not leaves


def test_with_large_text_what_is_framed_is_told_rather_than_how_to_say_another() -> None:
    house, stand = fingering(settings=Settings(player="Ada", scale=200))
    assert boxes(house)["foot.position"] == stand.fingering.caption[0]
    assert "foot.quiet" not in boxes(house)
    digit(house, "4")
    assert boxes(house)["foot.quiet"] == notice(house)


def test_one_frame_goes_round_a_note_and_a_finger_close_to_it() -> None:
    house, stand = fingering("day-comes-up-the-hill", "F")
    crossing = 0
    for _ in range(8):
        press(house, "right")
        house.draw()
        assert house.canvas is not None
        frames = [box.rect for box in house.canvas.boxes if box.name in ("finger.head", "finger.box")]
        crossing += len(frames) == 2 and bool(frames[0].colliderect(frames[1]))
        if stand.fingering._hand == RIGHT:
            press(house, "tab")
    assert stand.fingering._hand == LEFT
    assert not crossing


def test_digits_of_any_keyboard() -> None:
    house, stand = fingering()
    digit(house, "&", pygame.KSCAN_4)
    assert stand.fingering.said == {3: 4}
    digit(house, "0")
    assert stand.fingering.said == {}
    digit(house, "7", pygame.KSCAN_4)
    digit(house, "x", 0)
    assert stand.fingering.said == {}


def test_what_no_hand_can_do_is_refused_and_what_is_hard_is_remarked() -> None:
    house, stand = fingering()
    press(house, "tab", "up", "up")
    top = stand.fingering.note
    digit(house, "1")
    press(house, "down")
    digit(house, "1")
    assert notice(house) == "1 is on D of the same chord: give that note another finger first."
    assert set(stand.fingering.said) == {top}
    press(house, "down")
    digit(house, "2")
    assert "no finger is left for the other notes" in notice(house)
    press(house, "ctrl right", "tab")
    digit(house, "1")
    press(house, "right")
    digit(house, "1")
    assert notice(house).endswith("it has to slide or to leap.")
    assert stand.fingering.said[stand.fingering.note] == 1


@pytest.mark.parametrize(("to", "takes"), [("C", True), ("Db", True), ("Eb", False)])
def test_one_thumb_takes_two_neighbouring_keys_of_one_colour(to: str, takes: bool) -> None:
    seconds = from_bytes(b"X:1\nT:seconds\nM:4/4\nL:1/2\nK:C\n[CDGA]4|[EG]4|[CDGA]4|c4|\n", "t.abc")
    house = house_of((1280, 800), Settings(player="Ada"))
    stand = house.screen_of(Stand)
    stand.play(Wish(seconds, plan(seconds.key, to)))
    house.draw()
    press(house, "ctrl t", "down", "down")
    assert stand.fingering.note == 1
    digit(house, "1")
    house.draw()
    # The note below follows, on the page, on the keys and for whoever looks again.
    assert stand.page.fingered.said == ({1: 1} if takes else {})
    assert [stand.page.fingered.fingers[i] for i in (0, 1)] == ([1, 1] if takes else [1, 2])
    assert list(stand.fingering.keys.values())[:2] == ([1, 1] if takes else [1, 2])
    assert {0, 1} <= printed(stand).keys()
    assert ("no finger is left" in notice(house)) is not takes


def test_a_broken_file_is_said_once_and_nothing_is_lost() -> None:
    path = folder() / ownfingers.FILE
    path.write_text("[[fingers]]\npiece = \n", encoding="utf-8")
    house, stand = fingering()
    assert notice(house) == ""
    before = dict(stand.page.fingered.fingers)
    digit(house, "4")
    house.draw()
    assert notice(house).startswith("fingers.toml, line 2: ")
    assert path.read_text(encoding="utf-8") == "[[fingers]]\npiece = \n"
    assert stand.page.fingered.fingers == before
    assert stand.fingering.said == {}
    press(house, "ctrl z")
    assert notice(house) == say("stand.chord.undo.none")


def test_a_page_without_fingers_bears_hers_and_what_follows() -> None:
    house, stand = fingering("aura-lee", "G")
    assert stand.practice is not None
    wish = stand.practice.wish
    notes = tuple(replace(note, finger=None) for note in wish.piece.notes)
    press(house, "escape")
    stand.play(replace(wish, piece=replace(wish.piece, notes=notes)))
    house.draw()
    assert stand.page.score is not None
    assert not any(system.fingers for system in stand.page.score.engraved.systems)
    press(house, "ctrl t", "right")
    digit(house, "2")
    press(house, "escape")
    house.draw()
    assert 1 < len(printed(stand)) < 10
    assert stand.page.fingered.said.keys() <= printed(stand).keys()


def test_it_is_drawn_before_it_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    house, _ = fingering()
    asked = []
    monkeypatch.setattr(house.workroom, "ask", lambda job, *given, **_: asked.append(job))
    digit(house, "4")
    assert boxes(house)["finger.framed.finger"] == "4"
    assert studies.finger_kept in asked
    press(house, "right")
    assert boxes(house)["finger.said.3.finger"] == "4", "also when the frame has gone on"


def test_not_at_sight_and_a_take_under_way_ends() -> None:
    sight = house_of((1280, 800))
    stand = staging.stand_of(sight, MINUET, "F", mode="prima vista")
    stand.fingering.toggle()
    assert not stand.fingering.on
    assert notice(sight) == say("stand.finger.sight")
    house = house_of((1280, 800))
    stand = staging.stand_of(house, MINUET, "F")
    house.draw()
    assert stand.practice is not None
    strike(house, *(one.midi for one in stand.practice.wish.expected.notes[3:8]))
    press(house, "ctrl t")
    assert stand.practice.phase == ENDED
    strike(house, 60)
    assert house.notice is None, "that enter leads to the marked copy is not true now"
    press(house, "escape")
    assert len(stand.practice.presses) == 5
    assert notice(house) == house.rounds.ended_line()[0], "of the take it is told once fingers are said"


@pytest.mark.parametrize(("meanwhile", "begins"), [("", True), ("ctrl t", False), ("60", False), ("escape", False)])
def test_it_waits_for_the_page(monkeypatch: pytest.MonkeyPatch, meanwhile: str, begins: bool) -> None:
    """Asked for with other fingers while it is engraved for the first time, a page would be waited for twice.

    Asked again it is no longer wanted, and who has begun to play is not interrupted.
    """
    house = house_of((1280, 800))
    ask, asked = house.workroom.ask, list[tuple[Any, dict[str, Any]]]()
    monkeypatch.setattr(house.workroom, "ask", lambda *given, **named: asked.append((given, named)))
    stand = staging.stand_of(house, MINUET, "F")
    house.draw()
    press(house, "ctrl t")
    assert not stand.fingering.on
    assert boxes(house)["foot.quiet"] == say("stand.finger.wait")
    if meanwhile == "60":
        strike(house, 60)
    elif meanwhile:
        press(house, meanwhile)
    left = meanwhile == "escape"
    assert (boxes(house).get("foot.quiet") == say("stand.finger.wait")) == (meanwhile in ("", "60"))
    assert not left or house.screen is not stand
    assert house.notice is None
    house.say("from the desk")
    for given, named in asked:
        ask(*given, **named)
    assert stand.page.score is not None
    assert stand.fingering.on == begins
    assert begins or notice(house) == "from the desk"


def test_letters_that_play_frame_a_note_and_other_keys_say_what_can_be_pressed() -> None:
    house, stand = fingering()
    assert stand.practice is not None
    wanted = stand.practice.wish.expected.notes[4]
    place = next(key for key in KEYS if key.row and house.typed.pitch(key.scancode) == wanted.midi)
    for typing in (True, False):
        stand.typing = typing
        stand.fingering.note = 3
        house.notice = None
        house.draw()
        assert house.canvas is not None
        drawn = next(box for box in house.canvas.boxes if box.name == f"keys.{wanted.midi}")
        assert isinstance(drawn.state, tuple)
        assert (place.label in drawn.state) is typing
        digit(house, place.label.lower(), place.scancode)
        house.handle(pygame.event.Event(pygame.KEYUP, key=0, scancode=place.scancode))
        assert (stand.fingering.note == 4) is typing
        assert (notice(house) == say("stand.finger.keys")) is not typing
    assert not stand.fingering.said
    assert not stand.practice.presses
    house.notice = None
    house.handle(pygame.event.Event(pygame.KEYDOWN, key=pygame.K_LSHIFT, mod=0, unicode="", scancode=225))
    assert house.notice is None


def test_one_hand_is_asked_for_one_hand_is_gone_through() -> None:
    house, stand = fingering(hands="left")
    assert stand.practice is not None
    notes = stand.practice.wish.piece.notes
    assert notes[stand.fingering.note].hand == LEFT
    press(house, "tab", "up", "up", "up")
    assert notes[stand.fingering.note].hand == LEFT
    assert boxes(house)["hint.finger.up.one.label"] == "of the chord"
    assert "hint.finger.other" not in {box.rsplit(".", 1)[0] for box in boxes(house)}
    assert stand.fingering.on, "tab moves no ring to where enter would do something else"


def test_the_keys_of_the_screen_show_the_fingers_she_said() -> None:
    house, stand = fingering("ode-to-joy", "G")
    assert stand.practice is not None
    wish = stand.practice.wish
    note = stand.fingering.note
    key = wish.expected.notes[note].midi
    lying = dict(wish.fingers)
    digit(house, "2" if lying[key] != 2 else "4")
    press(house, "escape")
    house.draw()
    shown = under(wish.fingers, wish.expected, stand.page.fingered)
    assert shown != lying
    for midi, finger in shown.items():
        played = [i for i, one in enumerate(wish.expected.notes) if one.midi == midi]
        assert {stand.page.fingered.fingers[i] for i in played} == {finger}
