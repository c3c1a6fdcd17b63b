"""A take begun at a bar in the middle: stepped to, pointed at, counted in there, and there again."""

from __future__ import annotations

import math
from collections.abc import Iterator

import pygame
import pytest

from tests.counting import steps_of
from tools import staging
from trainer.following.marks import RIGHT
from trainer.listening.press import Press
from trainer.music.transpose import plan
from trainer.scores.reading import read
from trainer.scores.shelf.library import find
from trainer.session import A_TEMPO, PRIMA_VISTA, SENZA_MISURA
from trainer.sounding.voice import Schedule
from trainer.window.copy.copy import Copy
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.page.turning import shown_systems, slot_corners
from trainer.window.paint import layout
from trainer.window.practice import COUNTING, PLAYING, READY
from trainer.window.stand import standtime
from trainer.window.stand.hearing import model_of
from trainer.window.stand.stand import Stand
from trainer.window.wish import Wish

SIZE = (1280, 800)


@pytest.fixture(scope="module", autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


class Counted:
    """A player that makes no sound, and whose clock stands at 0 when it begins."""

    started: float | None = None
    playing = False
    place = None

    def play(self, schedule: Schedule, place: object = None, ended: object = None) -> None:
        self.started, self.playing = 0.0, True

    def stop(self) -> None:
        self.started, self.playing = None, False


@pytest.fixture
def house(monkeypatch: pytest.MonkeyPatch) -> House:
    made = house_of(SIZE)
    monkeypatch.setattr(made.sound, "player", Counted())
    return made


def play_on(house: House, stand: Stand, bar: int, count: int = 8) -> None:
    """Strike what stands in the target key from a bar on, in time."""
    assert stand.practice is not None
    wish = stand.practice.wish
    onset = wish.piece.bars[bar].onset
    for note in [note for note in wish.expected.notes if note.onset >= onset][:count]:
        house.hear(Press(float(note.onset - onset), note.midi, 64), float(note.onset - onset))


def bar_of_place(stand: Stand) -> int:
    assert stand.practice is not None
    piece = stand.practice.wish.piece
    return piece.bar_index(piece.moments[stand.place].onset)


def test_a_bar_is_stepped_to_and_the_next_takes_begin_there(house: House) -> None:
    stand = staging.stand_of(house, "aura-lee", "Eb", mode=SENZA_MISURA)
    house.draw()
    for _ in range(5):
        stand.orders.placing.step(1)
    assert stand.practice is not None
    assert (bar_of_place(stand), stand.practice.phase) == (5, READY)
    assert house.notice is not None
    assert house.notice.words == "From bar 6."
    play_on(house, stand, 5)
    assert [mark.cause for mark in stand.practice.marks] == [RIGHT] * 8
    # Within a bar first back to where it begins; the take is over by that.
    here = bar_of_place(stand)
    assert here > 5
    stand.orders.placing.step(-1)
    assert bar_of_place(stand) in (here, here - 1)
    stand.orders.placing.at(5)
    play_on(house, stand, 5)
    stand.again()
    assert bar_of_place(stand) == 5
    stand.orders.placing.first()
    assert (stand.place, stand.practice.wish.start) == (0, 0)


def test_page_up_within_a_bar_goes_to_where_it_begins_and_then_to_the_one_before(house: House) -> None:
    stand = staging.stand_of(house, "aura-lee", "Eb", mode=SENZA_MISURA)
    house.draw()
    came = []
    # Up to the third bar's second note, up to its first, up to its second again.
    for count, by in ((12, -1), (10, -1), (12, 1)):
        stand.orders.placing.first()
        play_on(house, stand, 0, count)
        assert stand.practice is not None
        assert bar_of_place(stand) == 2
        stand.orders.placing.step(by)
        came.append(stand.practice.wish.start)
    assert came == [2, 1, 3]


def test_what_stands_before_the_bar_is_not_left_out(house: House) -> None:
    stand = staging.stand_of(house, "aura-lee", "Eb", mode=SENZA_MISURA)
    stand.orders.placing.at(8)
    assert stand.practice is not None
    practice, wish = stand.practice, stand.practice.wish
    play_on(house, stand, 8, len(wish.piece.notes))
    practice.finish()
    assert practice.settled is not None
    assert not practice.settled.missed
    assert practice.right == len(practice.marks)


@pytest.mark.parametrize("bar", [1, 6])
def test_in_time_the_count_in_leads_to_the_bar(house: House, monkeypatch: pytest.MonkeyPatch, bar: int) -> None:
    stand = staging.stand_of(house, "ode-to-joy", "F", mode=A_TEMPO, tempo=120.0)
    house.draw()
    stand.orders.placing.at(bar)
    assert stand.practice is not None
    begins = stand.practice.wish.piece.bars[bar].onset
    assert house.notice is not None
    assert house.notice.words.startswith(f"From bar {bar + 1}: space")
    stand.again()
    assert stand.pace.track.counted == (1, 2, 3, 4)
    assert min(beat.onset for beat in stand.pace.track.beats if beat.at >= stand.pace.track.begins - 1e-6) == begins
    monkeypatch.setattr(standtime, "now", lambda: stand.pace.track.begins - 0.2)
    stand.tick(stand.pace.track.begins - 0.2)
    assert (stand.practice.phase, bar_of_place(stand)) == (COUNTING, bar)
    monkeypatch.setattr(standtime, "now", lambda: stand.pace.track.begins + 0.01)
    stand.tick(stand.pace.track.begins + 0.01)
    assert (stand.practice.phase, bar_of_place(stand)) == (PLAYING, bar)
    # Struck on the beat it is with the click: onset 0 lies before the first stroke of the count-in.
    beat = 0.5
    for at, note in enumerate(stand.practice.wish.expected.notes):
        if begins <= note.onset < begins + 4:
            moment = stand.pace.track.begins + float(note.onset - begins) * beat
            monkeypatch.setattr(standtime, "now", lambda moment=moment: moment)
            house.hear(Press(moment, note.midi, 64), moment)
            assert stand.practice.marks[-1].note == at
    assert abs(stand.practice.measure().against_click_s or 0.0) < 0.05


def test_in_time_another_key_goes_on_from_the_bar_reached(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    stand = staging.stand_of(house, "ode-to-joy", "F", mode=A_TEMPO, tempo=120.0)
    house.draw()
    stand.again()
    assert stand.practice is not None
    into_bar_three = stand.pace.track.begins + 9 * 0.5
    monkeypatch.setattr(standtime, "now", lambda: into_bar_three)
    stand.tick(into_bar_three)
    assert stand.practice.phase == PLAYING
    stand.orders.rekey(1)
    assert stand.practice.wish.plan.target.short == "F#"
    assert (stand.practice.wish.start, bar_of_place(stand), stand.practice.phase) == (2, 2, READY)
    assert house.notice is not None
    assert house.notice.words.startswith("From bar 3: space")


def test_a_click_on_the_page_means_the_bar_there(house: House) -> None:
    stand = staging.stand_of(house, "aura-lee", "Eb", mode=SENZA_MISURA)
    house.draw()
    house.draw()
    score = stand.page.score
    assert score is not None
    canvas = house.canvas
    assert canvas is not None
    places = layout.stand(canvas, house.settings.keys, house.settings.margin)
    shown = shown_systems(score, stand.place, stand.page.slots)
    corners = slot_corners(places.music, score, shown, stand.page.below(canvas))
    system, corner = score.systems[shown[0]], corners[0]
    bar, left, right = system.bars[2]
    point = round(corner[0] + (left + right) / 2), round(corner[1] + system.staves[0].top)
    house.console._click(point)
    assert stand.practice is not None
    assert (stand.practice.wish.start, bar_of_place(stand)) == (bar, bar)
    # What is only pointed at has no focus, neither by the click nor by the tab key.
    assert house.console.controls is not None
    for _ in range(len(house.console.controls.all)):
        house.console._move_focus(1)
        house.draw()
        assert house.console.controls.focus != "bar.page"


def test_a_click_off_the_music_means_no_bar(house: House) -> None:
    stand = staging.stand_of(house, "aura-lee", "Eb", mode=SENZA_MISURA)
    house.draw()
    house.draw()
    placing = stand.orders.placing
    system, (left, top), part = placing._seen[0]
    assert part is None
    bar, begin, end = system.bars[1]
    middle, low = top + system.staves[0].top, top + system.staves[-1].bottom
    assert stand.practice is not None
    # Its first pixel is the bar's own, its end the next one's; a little under the lowest staff is still meant.
    for x, y, meant in ((begin, middle, bar), (end, middle, bar + 1), (begin + 1, low + 2, bar)):
        placing.first()
        assert placing.clicked((left + math.ceil(x), round(y)))
        assert stand.practice.wish.start == meant
    placing.first()
    for y in (low + 4 * system.space, top + system.staves[0].top - 4 * system.space):
        assert not placing.clicked((left + math.ceil(begin + 1), round(y)))
    assert not placing.clicked((left + math.ceil(system.bars[-1][2]) + 5, round(middle)))
    assert stand.practice.wish.start == 0


def test_a_loop_goes_along_and_a_bar_after_the_last_note_is_none(house: House) -> None:
    stand = staging.stand_of(house, "aura-lee", "Eb", mode=SENZA_MISURA)
    assert stand.practice is not None
    last = len(stand.practice.wish.piece.bars) - 1
    stand.orders.placing.at(4)
    stand.orders.loop()
    stand.orders.loop()
    assert stand.practice.wish.loop == (4, 5)
    stand.orders.placing.step(1)
    assert stand.practice.wish.loop == (5, 6)
    stand.orders.placing.at(last)
    assert stand.practice.wish.loop == (5, 6)
    while stand.practice.wish.loop is not None:
        stand.orders.loop()
    stand.orders.placing.at(last + 1)
    assert stand.practice.wish.start == 4


def test_the_model_is_heard_from_the_bar(house: House) -> None:
    stand = staging.stand_of(house, "ode-to-joy", "F", mode=SENZA_MISURA)
    assert stand.practice is not None
    whole = model_of(stand.practice.wish, house.settings)
    stand.orders.placing.at(8)
    assert 0 < model_of(stand.practice.wish, house.settings).length < whole.length * 0.6


def test_at_sight_a_piece_is_read_from_its_beginning(house: House) -> None:
    stand = staging.stand_of(house, "ode-to-joy", "F", mode=A_TEMPO)
    stand.orders.placing.at(4)
    stand.orders.mode()
    assert stand.practice is not None
    assert (stand.practice.wish.mode, stand.practice.wish.start) == (PRIMA_VISTA, 0)
    house.notice = None
    stand.orders.placing.step(1)
    assert (stand.place, stand.practice.wish.start) == (0, 0)
    assert house.notice is not None
    assert "beginning" in house.notice.words


def test_a_round_of_a_loop_is_told_beside_those_before_it(house: House) -> None:
    stand = staging.stand_of(house, "au-clair-de-la-lune-first-strain", "Eb", loop=(0, 1), hands="right")

    def round_with(wrong: int) -> str:
        assert stand.practice is not None
        wish = stand.practice.wish
        for number, note in enumerate(wish.part):
            pitch = wish.expected.notes[note].midi + (6 if number < wrong else 0)
            house.hear(Press(number * 0.6, pitch, 64), number * 0.6)
        stand.pace.over()
        assert house.notice is not None
        return house.notice.words

    assert round_with(2) == "4 of 6 right in that round."
    assert round_with(1) == "5 of 6 right in that round; in those before it 4."
    assert round_with(0) == "6 of 6 right in that round; in those before it 4, 5."
    # Another loop, or another key, begins anew.
    stand.orders.rekey(1)
    assert round_with(0) == "6 of 6 right in that round."


def test_again_from_the_marked_copy_begins_at_the_bar_the_take_began_at(house: House) -> None:
    stand = staging.stand_of(house, "aura-lee", "Eb", mode=SENZA_MISURA)
    stand.orders.placing.at(5)
    play_on(house, stand, 5)
    stand.stop()
    stand.stop()
    copy = house.screen
    assert isinstance(copy, Copy)
    copy.again()
    assert house.screen is stand
    assert (bar_of_place(stand), stand.practice and stand.practice.wish.start) == (5, 5)


def test_the_keys_go_a_bar_on_a_bar_back_and_to_the_beginning(house: House) -> None:
    stand = staging.stand_of(house, "aura-lee", "Eb", mode=SENZA_MISURA)
    house.draw()
    came = []
    for key in (pygame.K_PAGEDOWN, pygame.K_PAGEDOWN, pygame.K_PAGEDOWN, pygame.K_PAGEUP, pygame.K_HOME):
        house.handle(pygame.event.Event(pygame.KEYDOWN, key=key, mod=0, unicode="", scancode=key % 500))
        house.handle(pygame.event.Event(pygame.KEYUP, key=key, mod=0, unicode="", scancode=key % 500))
        house.draw()
        came.append(bar_of_place(stand))
    assert came == [1, 2, 3, 2, 0]


def test_stepping_over_bars_does_not_work_out_notes_and_hands_anew(house: House) -> None:
    """A long song is transposed and the hands are laid on it once, not for every bar that is stepped over."""
    stand = staging.stand_of(house, "aura-lee", "Eb", mode=SENZA_MISURA)
    house.draw()
    assert stand.practice is not None
    before = stand.practice.wish
    stand.orders.placing.step(1)
    assert stand.practice.wish.start == 1
    assert stand.practice.wish.expected is before.expected
    assert stand.practice.wish.lying is before.lying
    assert stand.practice.wish.begins > before.begins
    stand.orders.loop()
    house.draw()
    looped = stand.practice.wish
    stand.orders.placing.step(1)
    assert stand.practice.wish.expected is looped.expected
    assert stand.practice.wish.part != looped.part
    stand.orders.rekey(1)
    assert stand.practice.wish.expected.notes[0].midi == looped.expected.notes[0].midi + 1


def test_where_the_hand_lies_is_found_in_a_glance_at_each_note() -> None:
    piece = read(find("aura-lee"))
    # The positions themselves are found once for all pieces.
    first, wish = (Wish(piece, plan(piece.key, "Eb"), mode=SENZA_MISURA) for _ in range(2))
    assert first.lying
    assert wish.leaves_position
    assert steps_of(lambda: wish.lying) < 60 * len(piece.notes)


def test_after_the_last_loop_the_bar_is_said_that_a_take_begins_at(house: House) -> None:
    """It was called the whole piece, and began at the bar chosen before."""
    stand = staging.stand_of(house, "aura-lee", "Eb", mode=SENZA_MISURA)
    for bar, said in ((8, "From bar 9."), (0, "the whole piece")):
        stand.orders.placing.at(bar)
        stand.orders.loop()
        assert stand.practice is not None
        while stand.practice.wish.loop is not None:
            stand.orders.loop()
        assert house.notice is not None
        assert (house.notice.words, bar_of_place(stand)) == (said, bar)


@pytest.mark.parametrize("start", [0, 8])
def test_in_time_another_key_at_the_end_begins_where_this_take_began(house: House, start: int) -> None:
    """A take that is over goes on nowhere: the last bar was what the next take began at."""
    stand = staging.stand_of(house, "aura-lee", "Eb", mode=A_TEMPO, start=start)
    stand.again()
    assert stand.practice is not None
    stand.practice.phase = PLAYING
    play_on(house, stand, start, len(stand.practice.wish.piece.notes))
    assert stand.practice.finished
    stand.orders.rekey(1)
    assert stand.practice.wish.start == start
