"""Chords corrected on the Stand: typed, played, kept beside the journal, taken away, undone."""

from __future__ import annotations

import os
import pathlib
from collections.abc import Iterator
from dataclasses import replace

import pygame
import pytest

from tools import staging
from trainer.coaching.own import corrections
from trainer.listening.press import Press, Release
from trainer.scores.shelf.library import Shelf, find
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.practice import ENDED, PLAYING
from trainer.window.settings import Settings
from trainer.window.stand.stand import Stand
from trainer.window.strings import say
from trainer.window.workroom import studies

SHIFTED = pygame.KMOD_SHIFT
CODES = {"return": pygame.K_RETURN, "left": pygame.K_LEFT, "right": pygame.K_RIGHT, "delete": pygame.K_DELETE,
         "escape": pygame.K_ESCAPE, "backspace": pygame.K_BACKSPACE, "tab": pygame.K_TAB,
         "up": pygame.K_UP, "down": pygame.K_DOWN}  # fmt: skip


@pytest.fixture(autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        Shelf().refresh()
        yield


def press(house: House, *names: str) -> None:
    """Keys of the computer keyboard by name, with ``ctrl `` before them where it is held."""
    for name in names:
        plain = name.removeprefix("ctrl ")
        mod = pygame.KMOD_CTRL if plain != name else 0
        code = CODES[plain] if plain in CODES else ord(plain)
        house.handle(pygame.event.Event(pygame.KEYDOWN, key=code, mod=mod, unicode="", scancode=0))
        house.draw()


def type_in(house: House, text: str) -> None:
    for letter in text:
        mod = SHIFTED if letter.isupper() else 0
        given = {"key": ord(letter.lower()), "mod": mod, "unicode": letter, "scancode": 0}
        house.handle(pygame.event.Event(pygame.KEYDOWN, given))
        house.draw()


def strike(house: House, *pitches: int) -> None:
    for at, pitch in enumerate(pitches):
        house.hear(Press(1.0 + at / 100, pitch, 64), 1.0)
    for pitch in pitches:
        house.hear(Release(2.0, pitch), 2.0)
    house.draw()


def correcting(name: str = "aura-lee", to: str = "Eb", settings: Settings | None = None) -> tuple[House, Stand]:
    house = house_of((1280, 800), settings or Settings(chords=True))
    stand = staging.stand_of(house, name, to)
    house.draw()
    press(house, "ctrl r")
    house.draw()
    assert stand.correcting.on
    return house, stand


def numerals(stand: Stand) -> list[str]:
    return [chord.numeral.figure for chord in stand.correcting.found]


def notice(house: House) -> str:
    return house.notice.words if house.notice else ""


def folder() -> pathlib.Path:
    return pathlib.Path(os.environ["KEYFARER_HOME"])


def test_a_numeral_is_typed_kept_found_again_and_used_by_the_drill() -> None:
    house, stand = correcting()
    assert stand.practice is not None
    piece = stand.practice.wish.piece
    before = numerals(stand)
    press(house, "right")
    type_in(house, "viio7/V")
    assert house.canvas is not None
    assert [box.text for box in house.canvas.boxes if box.name == "chord.typed"] == ["vii°⁷/V"]
    press(house, "return")
    assert numerals(stand) == [before[0], "viio7/V", *before[2:]]
    assert "Kept: vii°⁷/V, dominant of V" in notice(house)
    assert [one.figure for one in corrections.load(folder(), piece)] == ["viio7/V"]
    # Another day, another key.
    press(house, "escape")
    assert not stand.correcting.on
    again, later = correcting(to="G")
    assert numerals(later) == numerals(stand)
    assert again.canvas is not None
    assert any(box.name == "chord.0.1.own" for box in again.canvas.boxes), "an own chord is underlined"
    bones = studies.skeleton_at(_path("aura-lee"), str(folder()))
    assert bones.lyrics[1].text == "vii°7/V"


def _path(name: str) -> str:
    return str(find(name))


def test_a_chord_is_named_from_the_keys_held_in_the_key_that_is_played() -> None:
    house, stand = correcting(to="Eb")
    # The dominant seventh of E flat, its third in the bass.
    strike(house, 50, 58, 63 + 2, 68)
    assert stand.correcting.text == "V65"
    press(house, "return")
    assert numerals(stand)[0] == "V65"
    assert stand.practice is not None
    assert not stand.practice.presses, "a chord that names is no take"
    strike(house, 60, 61, 62)
    assert stand.correcting.text == ""
    assert notice(house) == say("stand.chord.nameless")


def test_what_is_no_numeral_is_said_and_nothing_is_kept() -> None:
    house, stand = correcting()
    before = numerals(stand)
    type_in(house, "Q7")
    press(house, "return")
    assert notice(house).startswith("'Q7' is not a Roman numeral: write one like")
    assert numerals(stand) == before
    assert not (folder() / corrections.FILE).exists()
    assert stand.correcting.text == "Q7", "what was typed can be mended"
    press(house, "backspace", "backspace", "return")
    assert notice(house) == say("stand.chord.unsaid")


def test_taken_away_and_undone() -> None:
    house, stand = correcting()
    before = numerals(stand)
    press(house, "delete")
    assert notice(house) == say("stand.chord.untouched")
    type_in(house, "vi")
    press(house, "return")
    type_in(house, "IV")
    press(house, "return", "ctrl z")
    assert numerals(stand)[0] == "vi"
    press(house, "delete")
    assert numerals(stand) == before
    press(house, "ctrl z")
    assert numerals(stand)[0] == "vi"
    press(house, "ctrl z")
    assert numerals(stand) == before
    press(house, "ctrl z")
    assert notice(house) == say("stand.chord.undo.none")


def test_a_chord_is_divided_at_a_beat() -> None:
    house, stand = correcting()
    before = stand.correcting.found
    press(house, "ctrl right")
    assert stand.correcting.onset == 1
    type_in(house, "ii6")
    press(house, "return")
    first, second = stand.correcting.found[:2]
    assert (first.numeral, first.length) == (before[0].numeral, 1)
    assert (second.numeral.figure, second.onset, second.length) == ("ii6", 1, before[0].length - 1)
    press(house, "delete")
    assert stand.correcting.found == before


def test_the_frame_goes_from_chord_to_chord_and_the_page_with_it() -> None:
    house, stand = correcting()
    onsets = [chord.onset for chord in stand.correcting.found]
    press(house, "left")
    assert stand.correcting.onset == onsets[0]
    for onset in onsets[1:]:
        press(house, "right")
        assert stand.correcting.onset == onset
        assert house.canvas is not None
        assert [box.name for box in house.canvas.boxes if box.name == "chord.frame"], f"no frame at {onset}"
    press(house, "tab")
    assert stand.correcting.onset == onsets[-1]


def test_the_outer_keys_and_the_pedal_steer_it() -> None:
    house, stand = correcting(settings=Settings(chords=True, steering=True))
    lowest, highest = house.outer_keys
    onsets = [chord.onset for chord in stand.correcting.found]
    strike(house, 55, 58, 63)
    named = stand.correcting.text
    house.hear(Press(5.0, highest, 64), 5.0)
    house.hear(Release(5.1, highest), 5.1)
    assert numerals(stand)[0] == named
    assert stand.correcting.onset == onsets[1]
    house.hear(Press(8.0, lowest, 64), 8.0)
    assert stand.correcting.onset == onsets[0]


def test_not_at_sight_and_not_in_the_drill() -> None:
    sight = house_of((1280, 800), Settings(chords=True))
    stand = staging.stand_of(sight, "aura-lee", "Eb", mode="prima vista")
    stand.correcting.toggle()
    assert not stand.correcting.on
    assert notice(sight) == say("stand.chord.sight")
    house = house_of((1280, 800))
    drill = staging.stand_of(house, "aura-lee", "Eb")
    assert drill.practice is not None
    wish = drill.practice.wish
    drill.play(replace(wish, piece=studies.skeleton_at(_path("aura-lee"), str(folder()))))
    drill.correcting.toggle()
    assert not drill.correcting.on
    assert notice(house) == say("stand.chord.drill")


def test_a_take_under_way_ends_and_nothing_is_added_to_it() -> None:
    house = house_of((1280, 800), Settings(chords=True))
    stand = staging.stand_of(house, "aura-lee", "Eb")
    house.draw()
    assert stand.practice is not None
    first = [note.midi for note in stand.practice.wish.expected.notes[:4]]
    for at, pitch in enumerate(first):
        house.hear(Press(float(at), pitch, 64), 0.0)
        house.hear(Release(at + 0.5, pitch), 0.0)
    house.draw()
    press(house, "ctrl r")
    assert stand.practice.phase == ENDED
    assert stand.practice.settled is not None
    strike(house, 58, 62, 65)
    press(house, "return", "escape")
    assert len(stand.practice.presses) == 4
    assert numerals(stand)
    house.hear(Press(30.0, first[0], 64), 0.0)
    assert stand.practice.phase == PLAYING, "playing on begins the next take"


def test_a_chord_kept_does_not_call_the_frame_back() -> None:
    """Keeping takes a moment, elsewhere; who has gone on to the next chord meanwhile stays there."""
    house, stand = correcting()
    answers = []
    here = house.workroom.keep

    def later(job: object, *given: object, then: object, failed: object) -> None:
        answers.append((job, given, then, failed))

    house.workroom.keep = later  # type: ignore[method-assign]
    type_in(house, "vi")
    press(house, "return", "right")
    onset = stand.correcting.onset
    type_in(house, "V7")
    house.workroom.keep = here  # type: ignore[method-assign]
    for job, given, then, failed in answers:
        here(job, *given, then=then, failed=failed)  # type: ignore[arg-type]
    assert stand.correcting.found[0].numeral.figure == "vi"
    assert stand.correcting.onset == onset
    assert stand.correcting.text == "V7"


def test_a_chord_said_stands_there_while_the_engraver_is_at_work() -> None:
    house, stand = correcting()
    plain = studies.chords_of(stand.correcting._piece, str(folder()))
    # Whatever the second process is asked for now does not come.
    house.workroom.ask = lambda job, *given, **then: None  # type: ignore[method-assign]
    house.workroom.keep = lambda job, *given, then, failed: then(job(*given))  # type: ignore[method-assign]
    type_in(house, "vi")
    press(house, "return")
    assert (folder() / corrections.FILE).exists()
    assert numerals(stand)[0] == "vi"
    # It and those found from the notes are what a sheet prints, too.
    assert stand.correcting.found == studies.chords_of(stand.correcting._piece, str(folder()))
    press(house, "ctrl z")
    assert stand.correcting.found == plain


def test_what_is_typed_covers_all_that_was_said_of_the_chord() -> None:
    house, stand = correcting(settings=Settings(chords=True, scale=200))
    for _ in range(4):
        if stand.correcting.chord is not None and " " not in stand.correcting.chord.numeral.function:
            type_in(house, "V")
            house.draw()
            assert house.canvas is not None
            found = {box.name: box for box in house.canvas.boxes}
            frame = found["chord.frame"].rect
            under = [box.extent for box in found.values() if box.name.startswith("chord.0.") and box.extent is not None]
            # No word of the row looks out from under the frame.
            assert not [one for one in under if one.colliderect(frame) and not frame.contains(one)]
            stand.correcting.erase()
        stand.correcting.step(1)
