"""A song on the Stand: the voice and its words over the piano, as long as they are wished; only looked at."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pygame
import pytest

from tools import staging
from trainer.following.marks import RIGHT
from trainer.listening.clock import now
from trainer.listening.press import Press
from trainer.music.piece import LEFT, Piece
from trainer.music.transpose import plan
from trainer.scores import reading
from trainer.window.copy.copy import Copy
from trainer.window.copy.finished import of_kept
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.settings import OWN, Settings
from trainer.window.stand.stand import Stand
from trainer.window.wish import Wish

SONG = (
    b"X:1\nT:Song\nM:3/4\nL:1/4\n%%score V {R L}\nV:V\nV:R\nV:L clef=bass\nK:F\n"
    b'[V:V]z3|"F"c2A|F3|G2A|F3|]\nw: Stay a-while with me\n[V:R]F2A|c3|A3|B2G|F3|]\n[V:L]F,3|F,3|F,3|C,3|F,3|]\n'
)
TUNE = b"X:1\nT:Tune\nM:3/4\nL:1/4\nK:F\nF2A|c3|]\nw: Stay a-while\n"


@pytest.fixture(scope="module", autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


def song() -> Piece:
    piece = reading.from_bytes(SONG, "song.abc")
    assert len(piece.sung) == 6
    return piece


def stand_of(
    piece: Piece, hands: str = "both", size: tuple[int, int] = (1280, 800), **settings: Any
) -> tuple[House, Stand]:
    house = house_of(size, Settings(**settings))
    stand = house.screen_of(Stand)
    stand.play(Wish(piece, plan(piece.key, "Eb"), hands))
    house.draw()
    house.draw()
    return house, stand


def reach(stand: Stand) -> float:
    """How far down the voice reaches; 0 when it is not on the page."""
    assert stand.page.score is not None
    return stand.page.score.systems[0].sung


def press(house: House, key: int, letter: str, mod: int = pygame.KMOD_CTRL) -> None:
    house.handle(pygame.event.Event(pygame.KEYDOWN, key=key, mod=mod, unicode=letter, scancode=0))
    house.draw()
    house.draw()


def test_the_voice_stands_over_the_piano_and_a_key_puts_it_away() -> None:
    house, stand = stand_of(song())
    assert stand.page.score is not None
    system = stand.page.score.systems[0]
    assert len(system.staves) == 2
    assert 0 < system.sung < system.staves[0].top
    small = system.space
    press(house, pygame.K_v, "v")
    assert not house.settings.voice
    assert house.notice is not None
    assert "put away" in house.notice.words
    assert reach(stand) == 0
    assert stand.page.score.systems[0].space > small
    press(house, pygame.K_v, "v")
    assert reach(stand) > 0


def test_each_player_has_the_voice_as_they_wish() -> None:
    _, stand = stand_of(song(), voice=False)
    assert reach(stand) == 0
    assert "voice" in OWN


def test_the_line_at_the_place_begins_under_the_words() -> None:
    house, stand = stand_of(song())
    assert house.canvas is not None
    line = next(box for box in house.canvas.boxes if box.name == "hairline")
    music = next(box for box in house.canvas.boxes if box.name == "music.0")
    assert line.rect.top > music.rect.top + reach(stand)


def test_the_beat_of_the_count_in_lies_on_no_word(monkeypatch: pytest.MonkeyPatch) -> None:
    house, stand = stand_of(song())
    monkeypatch.setattr(stand.pace, "counting", lambda: 1)
    places = {}
    for voice in (True, False):
        house.settings = replace(house.settings, voice=voice)
        house.draw()
        house.draw()
        assert house.canvas is not None
        boxes = {box.name: box for box in house.canvas.boxes}
        assert boxes["count"].extent is not None
        places[voice] = boxes["count"].extent, boxes["hairline"].rect
    (sung, line), (plain, other) = places[True], places[False]
    assert sung.right <= line.left, "the first word is over the first note"
    assert plain.left >= other.left


def test_the_glimpse_shows_the_singers_key_too() -> None:
    house, stand = stand_of(song())
    stand.glimpse(True)
    house.draw()
    assert stand.page.glimpse is not None
    assert stand.page.glimpse.systems[0].sung > 0


CHOIR = (
    b"X:1\nT:Choir\nM:4/4\nL:1/4\n%%score [S A T B] {R L}\nV:S\nV:A\nV:T clef=treble-8\nV:B clef=bass\nV:R\n"
    b"V:L clef=bass\nK:F\n[V:S]c2A2|d2c2|]\nw: Draw the wa-ter\n[V:A]F2F2|F2F2|]\nw: Draw the wa-ter\n"
    b"[V:T]c2c2|d2c2|]\n[V:B]F,2F,2|B,,2F,2|]\n[V:R][FAc]4|[FBd]4|]\n[V:L]F,4|B,,4|]\n"
)


@pytest.mark.parametrize("size", [(960, 600), (1280, 800)], ids=str)
def test_a_choir_stands_on_two_staves_over_the_piano_and_leaves_room_for_it(size: tuple[int, int]) -> None:
    piece = reading.from_bytes(CHOIR, "choir.abc")
    house, stand = stand_of(piece, size=size)
    assert house.canvas is not None
    assert stand.page.score is not None
    engraved = stand.page.score.engraved.systems[0]
    assert [staff.sung is not None for staff in engraved.staves] == [True, True, False, False]
    music = next(box.rect for box in house.canvas.boxes if box.name == "music.0")
    caption = next(box.rect for box in house.canvas.boxes if box.name == "foot.quiet")
    assert music.bottom <= caption.top, "the piano's staves are not under the keyboard"
    stand.glimpse(True)
    house.draw()
    assert stand.page.glimpse is not None
    assert stand.page.glimpse.systems[0].sung > 0
    stand.glimpse(False)
    press(house, pygame.K_v, "v")
    assert reach(stand) == 0


def test_the_piano_alone_is_followed() -> None:
    house, stand = stand_of(song())
    assert stand.practice is not None
    expected = stand.practice.wish.expected
    for at, moment in enumerate(expected.moments):
        for note in moment.notes:
            house.hear(Press(now() + at, expected.notes[note].midi, 64), now())
    assert [mark.cause for mark in stand.practice.marks] == [RIGHT] * len(expected.notes)
    assert stand.page.score is not None
    assert sorted(note for system in stand.page.score.systems for note in system.heads) == list(
        range(len(expected.notes))
    )


def test_the_veil_over_the_other_hand_leaves_the_voice() -> None:
    house, stand = stand_of(song(), LEFT)
    assert house.canvas is not None
    veil = next(box.rect for box in house.canvas.boxes if box.name == "veil.hand.0")
    music = next(box.rect for box in house.canvas.boxes if box.name == "music.0")
    assert music.top + reach(stand) < veil.top < music.top + stand.page.score.systems[0].staves[0].top  # type: ignore[union-attr]


def test_the_words_of_a_melody_go_with_the_same_key_and_without_words_there_is_none() -> None:
    house, stand = stand_of(reading.from_bytes(TUNE, "tune.abc"))
    assert stand.page.score is not None
    with_words = stand.page.score.systems[0].size[1] / stand.page.score.systems[0].space
    press(house, pygame.K_v, "v")
    assert stand.page.score.systems[0].size[1] / stand.page.score.systems[0].space < with_words
    assert "voice" in [name for name, *_ in stand.orders.listed()]
    house, stand = stand_of(reading.from_bytes(TUNE.split(b"w:")[0], "tune.abc"))
    assert "voice" not in [name for name, *_ in stand.orders.listed()]


VERSES = TUNE.replace(b"while\n", b"while\nw: Go a-long now\nw: Come a-gain soon\n")


def test_the_same_key_turns_the_verses_before_the_voice_gives_its_room() -> None:
    house, stand = stand_of(reading.from_bytes(VERSES, "tune.abc"))
    shown = []
    for _ in range(4):
        assert stand.page.score is not None
        verse = stand.page.score.engraved.look.verse
        said = house.notice.words if house.notice else ""
        shown.append((house.settings.voice, verse, said))
        press(house, pygame.K_v, "v")
    assert shown == [
        (True, 1, ""),
        (True, 2, "Verse 2 stands on the page."),
        (True, 3, "Verse 3 stands on the page."),
        (False, 1, "The voice is put away, and the music has its room."),
    ]
    assert house.settings.voice
    press(house, pygame.K_v, "v")
    assert stand.page.verse == 2
    other = song()
    stand.play(Wish(other, plan(other.key, "Eb")))
    assert stand.page.verse == 1


def test_the_glimpse_turns_its_verse_with_the_page() -> None:
    house, stand = stand_of(reading.from_bytes(VERSES, "tune.abc"))
    stand.glimpse(True)
    house.draw()
    stand.glimpse(False)
    press(house, pygame.K_v, "v")
    stand.glimpse(True)
    house.draw()
    assert stand.page.glimpse is not None
    assert stand.page.glimpse.engraved.look.verse == 2


def test_the_marked_copy_shows_the_verse_that_stood_on_the_stand() -> None:
    house, stand = stand_of(reading.from_bytes(VERSES, "tune.abc"))
    press(house, pygame.K_v, "v")
    assert stand.practice is not None
    for note in stand.practice.wish.expected.notes:
        house.hear(Press(float(note.onset) * 0.6, note.midi, 64), now())
    stand.stop()
    house.go("copy")
    house.draw()
    copy = house.screen
    assert isinstance(copy, Copy)
    assert copy.score is not None
    assert copy.score.engraved.look.verse == 2
    other = song()
    stand.play(Wish(other, plan(other.key, "Eb")))
    house.go("copy")
    house.draw()
    assert copy.score.engraved.look.verse == 1, "another piece lies there"
    shown = []
    for _ in range(3):
        house.draw()
        house.draw()
        assert house.canvas is not None
        label = next(box.text for box in house.canvas.boxes if box.text.startswith("Verse "))
        shown.append((label, copy.score.engraved.look.verse))
        press(house, pygame.K_v, "v", pygame.KMOD_NONE)
    assert shown == [("Verse 1", 1), ("Verse 2", 2), ("Verse 3", 3)]
    house.draw()
    house.draw()
    assert copy.score.engraved.look.verse == 1, "round and round"


def test_a_take_out_of_the_journal_is_seen_with_the_verse_it_was_played_with() -> None:
    piece = reading.from_bytes(VERSES, "tune.abc")
    house = house_of((1280, 800), Settings())
    house.open_journal()
    stand = house.screen_of(Stand)
    stand.play(Wish(piece, plan(piece.key, "Eb")))
    house.draw()
    press(house, pygame.K_v, "v")
    house.draw()
    assert stand.practice is not None
    for note in stand.practice.wish.expected.notes:
        house.hear(Press(float(note.onset) * 0.6, note.midi, 64), now())
    stand.stop()
    assert house.journal is not None
    house.journal.flush()
    kept = house.journal.take(house.journal.takes()[0].id)
    assert kept.row.verse == 2
    # By then something else lies on the Stand.
    other = song()
    stand.play(Wish(other, plan(other.key, "Eb")))
    house.rounds.last = of_kept(kept)
    house.go("copy")
    house.draw()
    copy = house.screen
    assert isinstance(copy, Copy)
    assert copy.score is not None
    assert copy.score.engraved.look.verse == 2
    house.close()


@pytest.mark.parametrize("voice", [True, False])
def test_the_marked_copy_shows_the_singer_as_the_stand_does(voice: bool) -> None:
    house, stand = stand_of(song(), voice=voice)
    assert stand.practice is not None
    for number, note in enumerate(stand.practice.wish.expected.notes):
        house.hear(Press(0.6 * float(note.onset), note.midi + 6 * (number == 3), 64), now())
    stand.stop()
    house.go("copy")
    for _ in range(4):
        house.draw()
    copy = house.screen
    assert isinstance(copy, Copy)
    assert copy.score is not None
    (system, *_) = copy.score.systems
    assert (system.sung > 0, len(system.staves)) == (voice, 2)
    assert copy.marking is not None
    (stroke,) = [stroke for strokes in copy.marking.strokes for stroke in strokes]
    assert stroke.rect.top >= system.sung
