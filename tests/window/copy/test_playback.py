"""Both play-backs of a take on the Marked copy, from any bar, the place moving along."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

import pytest

from tools import pictures, staging
from tools.standscenes import KEY, PIECE
from trainer.following.timing import Timing
from trainer.listening.clock import now
from trainer.listening.press import Press
from trainer.window.copy.copy import Copy
from trainer.window.copy.playback import MEANT, PLAYED, Playback
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.stand import punctual


@pytest.fixture(scope="module", autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


@pytest.fixture(scope="module")
def house() -> House:
    house = house_of((1280, 800))
    pictures._copy(house)
    house.draw()
    house.draw()
    return house


def playback_of(house: House) -> Playback:
    screen = house.screen
    assert isinstance(screen, Copy)
    assert screen.playback is not None
    return screen.playback


def test_both_begin_with_the_bar_chosen(house: House) -> None:
    playback = playback_of(house)
    take = playback.take
    for what in (PLAYED, MEANT):
        whole, part = playback.schedule(what, 0), playback.schedule(what, 8)
        assert part.length < whole.length
        assert take.piece.bar_index(part.places[0][1]) == 8
        assert part.notes[0].at < 1.0
    meant = playback.schedule(MEANT, 8)
    first = [n.midi for n in take.expected.notes if n.onset == take.piece.bars[8].onset]
    assert {note.pitch for note in meant.notes if note.at == 0} == set(first)


def test_the_other_takes_over_where_the_first_has_come(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    playback = playback_of(house)
    begun: list[tuple[str, int]] = []
    monkeypatch.setattr(playback, "_play", lambda what, bar: begun.append((what, bar)))
    playback.choose(4)
    playback.hear(PLAYED)

    class Playing:
        playing = True
        place: Fraction | None = playback.take.piece.bars[6].onset

        def stop(self) -> None:
            begun.append(("stop", 0))

    monkeypatch.setattr(house.sound, "player", Playing())
    playback.what = PLAYED
    playback.hear(MEANT)
    playback.hear(PLAYED)
    assert begun == [(PLAYED, 4), (MEANT, 6), ("stop", 0)]


def test_the_bar_is_chosen_by_key_and_by_click_and_its_page_is_turned_to(house: House) -> None:
    screen = house.screen
    assert isinstance(screen, Copy)
    playback = playback_of(house)
    playback.choose(0)
    canvas, controls = house.laid()
    down = next(control for control in controls.all if control.key == "down")
    down.act()
    assert playback.bar == 1
    bars = controls.named("bars.1")
    assert bars is not None
    assert bars.at is not None
    bars.at((bars.rect.right - 6, bars.rect.centery))
    assert playback.bar > 5
    playback.choose(10**6)
    assert playback.bar == len(playback.take.piece.bars) - 1
    canvas, _ = house.laid()
    canvas, _ = house.laid()
    assert any(box.name == "hear.flag" for box in canvas.boxes)
    assert screen.page > 0
    playback.choose(0)


def test_early_and_late_in_words() -> None:
    assert punctual.counted(Timing()) == ""
    assert punctual.middle(Timing(against_click_s=0.004)) == "with the click"
    assert punctual.middle(Timing(against_click_s=-0.042)) == "42 ms before the click"
    away = Timing(against_click_s=1.867, late=40)
    assert punctual.middle(away) == punctual.counted(away) == "1.9 s after the click"
    lost = Timing(elsewhere=12)
    assert punctual.middle(lost) == punctual.counted(lost) == "in another bar than the click"
    partly = Timing(against_click_s=0.051, early=1, late=7, elsewhere=9)
    assert punctual.middle(partly) == "51 ms after the click"
    assert punctual.counted(partly) == "51 ms after the click; 1 early, 7 late; 9 in another bar"
    said = punctual.counted(Timing(against_click_s=0.051, early=1, late=7))
    assert said == "51 ms after the click; 1 early, 7 late"


def test_the_copy_of_some_last_bars_opens_on_them_and_plays_them_back(house: House) -> None:
    stand = staging.stand_of(house, PIECE, KEY)
    assert stand.practice is not None
    expected = stand.practice.wish.expected
    first = len(expected.bars) - 5
    for note in expected.notes:
        if note.onset >= expected.bars[first].onset:
            house.hear(Press(float(note.onset) * 0.6, note.midi, 64), now())
    stand.stop()
    stand.stop()
    house.draw()
    canvas, controls = house.laid()
    screen = house.screen
    assert isinstance(screen, Copy)
    playback = playback_of(house)
    assert playback.bar == playback.first == first
    assert any(box.text == f"from bar {expected.bars[first].number}" for box in canvas.boxes)
    assert screen.page > 0
    assert playback.schedule(MEANT, first).places[0][1] == expected.bars[first].onset
    assert playback.schedule(PLAYED, first).places[0][1] == expected.bars[first].onset
    up = next(control for control in controls.all if control.name == "hear.back")
    up.act()
    assert playback.bar == first, "bars that were not played are not offered"


def test_the_line_about_a_bar_that_was_not_played_goes_with_the_bar(house: House) -> None:
    stand = staging.stand_of(house, PIECE, KEY)
    assert stand.practice is not None
    expected = stand.practice.wish.expected
    for note in expected.notes:
        if not expected.bars[1].onset <= note.onset < expected.bars[2].onset:
            house.hear(Press(float(note.onset) * 0.6, note.midi, 64), now())
    stand.stop()
    stand.stop()
    house.notice = None
    playback = playback_of(house)
    playback.choose(1)
    playback.hear(PLAYED)
    assert house.notice is not None
    assert house.notice.words == "Bar 2 was not played: choose another bar."
    playback.hear(MEANT)
    assert house.notice is None, "as it was meant there is something to hear"
    house.sound.player.stop()
    playback.hear(PLAYED)
    assert house.notice is not None
    playback.choose(2)
    assert house.notice is None
