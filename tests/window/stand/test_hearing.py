"""What is heard beside a take: the model by the player's choices, the ear before it, singing back, the click."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction

import pytest

from tests.sounding.recorded import Recorded
from tools import staging
from trainer.listening.clock import now
from trainer.listening.press import Press, Release
from trainer.music.piece import Note
from trainer.session import A_TEMPO, PRIMA_VISTA
from trainer.sounding.click import SUBDIVISION
from trainer.sounding.ear import set_ear
from trainer.sounding.voice import Schedule, Sounded
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.practice import COUNTING, ENDED, PLAYING, READY
from trainer.window.settings import SILENT_BARS, Settings
from trainer.window.stand import hearing
from trainer.window.stand.stand import Stand
from trainer.window.strings import say


@pytest.fixture(scope="module", autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


class Heard:
    """A player that notes what it is given and plays for ever."""

    def __init__(self) -> None:
        self.schedule: Schedule | None = None
        self.started: float | None = None
        self.place: Fraction | None = None

    @property
    def playing(self) -> bool:
        return self.schedule is not None

    def play(self, schedule: Schedule, place: object = None, ended: object = None) -> None:
        self.schedule, self.started = schedule, now()
        self.place = schedule.places[0][1] if schedule.places else None

    def stop(self) -> None:
        self.schedule = self.started = self.place = None


@pytest.fixture
def house(monkeypatch: pytest.MonkeyPatch) -> House:
    house = house_of((1280, 800))
    monkeypatch.setattr(house.sound, "player", Heard())
    return house


def stand_of(house: House, **wish: object) -> tuple[Stand, Heard]:
    stand = staging.stand_of(house, "aura-lee", "Eb", **wish)
    player = house.sound.player
    assert isinstance(player, Heard)
    return stand, player


def strike(house: House, pitch: int) -> None:
    house.hear(Press(now(), pitch, 70), now())


def test_the_model_sounds_in_the_key_the_hand_and_the_speed_chosen(house: House) -> None:
    stand, _ = stand_of(house)
    assert stand.practice is not None
    wish = stand.practice.wish
    usual = hearing.model_of(wish, Settings())
    assert sorted(note.pitch for note in usual.notes) == sorted(note.midi for note in wish.expected.notes)
    written = hearing.model_of(wish, Settings(model_key="written"))
    assert sorted(note.pitch for note in written.notes) == sorted(note.midi for note in wish.piece.notes)
    left = hearing.model_of(wish, Settings(model_hand="left"))
    assert {note.pitch for note in left.notes} == {n.midi for n in wish.expected.notes if n.hand == "left"}
    assert hearing.model_of(wish, Settings(model_speed=50)).length == pytest.approx(2 * usual.length)


def test_the_place_moves_with_the_model_and_the_first_press_stops_it(house: House) -> None:
    stand, player = stand_of(house)
    assert stand.practice is not None
    stand.orders.listen()
    player.place = stand.practice.wish.piece.bars[9].onset
    assert stand.practice.wish.piece.bar_index(stand.practice.wish.piece.moments[stand.place].onset) == 9
    strike(house, stand.practice.wish.expected.notes[0].midi)
    assert not player.playing
    assert len(stand.practice.presses) == 1
    assert stand.place == stand.practice.place


def test_the_ear_is_set_before_a_take_where_that_is_wished(house: House) -> None:
    stand, player = stand_of(house)
    stand.again()
    assert not player.playing
    house.change(ear="drone")
    stand.again()
    assert stand.practice is not None
    assert player.schedule == set_ear("drone", stand.practice.wish.plan.target)
    stand.change(replace(stand.practice.wish, mode=A_TEMPO))
    house.change(ear="pentascale")
    stand.again()
    assert player.schedule is not None
    assert stand.hearing.lead > 2
    assert player.schedule.notes[0].pitch == stand.practice.wish.plan.target.tonic.midi
    # The count has not begun while the ear is set.
    assert stand.pace.counting() == 0
    assert player.started is not None
    player.started -= stand.hearing.lead + 0.01
    assert stand.pace.counting() == 1


def test_singing_back_asks_do_sol_and_the_first_notes_and_is_no_take(house: House) -> None:
    stand, _ = stand_of(house)
    assert stand.practice is not None
    expected = stand.practice.wish.expected
    stand.orders.sing()
    assert stand.hearing.prompt == "Sing do, then play it."
    house.draw()
    assert house.canvas is not None
    beside = [box.text for box in house.canvas.boxes if box.name.startswith("margin.") and box.text]
    assert say("margin.sing", key="ctrl s") in beside
    assert say("margin.empty") not in beside, "the take begins with the first note only when nothing is asked"
    strike(house, 62)
    assert stand.hearing.prompt.startswith(say("sing.wrong", asked="do"))
    melody = [note.midi for note in expected.notes if note.hand == "right"][:3]
    for pitch in (63, 70, *melody):
        assert stand.hearing.prompt
        strike(house, pitch)
    assert stand.hearing.prompt == ""
    assert not stand.practice.presses
    strike(house, melody[0])
    assert len(stand.practice.presses) == 1


def test_click_subdivided_and_silent_bars(house: House) -> None:
    house.change(subdivision=3, silent="fourth")
    stand, player = stand_of(house, mode=A_TEMPO)
    stand.again()
    assert player.schedule is not None
    weights = {beat.weight for beat in stand.pace.track.beats}
    assert SUBDIVISION in weights
    assert stand.practice is not None
    bars = stand.practice.wish.piece.bars
    clicked = {stand.practice.wish.piece.bar_index(b.onset) for b in stand.pace.track.beats if b.onset >= 0}
    sounding, silent = SILENT_BARS["fourth"]
    assert set(range(len(bars))) - clicked == {at for at in range(len(bars)) if at % (sounding + silent) >= sounding}
    assert player.started is not None
    # The count-in says beats and not strokes.
    player.started = now() - stand.pace.track.begins * 0.6
    assert stand.pace.counting() == 3


def test_early_and_late_are_counted_from_the_players_own_taps(house: House) -> None:
    told = []
    for offset in (0, -80):
        house.change(click_offset_ms=offset)
        stand, player = stand_of(house, mode=A_TEMPO)
        stand.again()
        assert stand.practice is not None
        assert player.started is not None
        player.started -= stand.pace.track.begins
        stand.tick(now())
        begins = player.started + stand.pace.track.begins
        wish = stand.practice.wish
        quarter = 60 / wish.quarters
        for note in wish.expected.notes[:12]:
            house.hear(Press(begins + float(note.onset) * quarter - 0.08, note.midi, 64), now())
        stand.stop()
        take = house.rounds.last
        assert take is not None
        told.append(take.timing.against_click_s)
    assert told[0] == pytest.approx(-0.08, abs=0.01)
    assert told[1] == pytest.approx(0.0, abs=0.01)


def test_what_sounds_before_the_count_has_no_place_on_the_page(house: House) -> None:
    stand, _ = stand_of(house, mode=A_TEMPO)
    assert stand.practice is not None
    house.change(ear="cadence")
    counted = Schedule((Sounded(0.0, 0.1, 76),), ((0.0, Fraction(0)),), 1.0)
    whole = stand.hearing.before_count(stand.practice.wish, counted)
    assert whole.places == ((pytest.approx(stand.hearing.lead), Fraction(0)),)
    assert whole.length == pytest.approx(stand.hearing.lead + 1.0)


@pytest.mark.parametrize("mode", [A_TEMPO, PRIMA_VISTA])
def test_in_time_the_first_key_asks_for_the_count_in_and_is_no_take(house: House, mode: str) -> None:
    stand, player = stand_of(house, mode=mode)
    practice = stand.practice
    assert practice is not None
    practice.phase = READY
    assert "begins the count-in" in margin(house)
    for pitch in (60, 64, 67):
        # A chord: its other notes come while the count has begun.
        strike(house, pitch)
    assert practice.phase == COUNTING
    assert not practice.presses
    assert "music begins after it" in margin(house)
    stand.tick(now())
    assert practice.phase == COUNTING
    beat = 60.0 / practice.wish.tempo
    assert player.started is not None
    player.started = now() - stand.pace.track.begins + 0.7 * beat
    strike(house, 60)
    assert not practice.presses, "within the count"
    player.started = now() - stand.pace.track.begins + 0.3 * beat
    strike(house, practice.wish.expected.notes[0].midi)
    assert len(practice.presses) == 1, "the first note, a little early"


@pytest.mark.parametrize("mode", [A_TEMPO, PRIMA_VISTA])
def test_a_count_in_that_is_stopped_begins_again_with_the_next_key(house: House, mode: str) -> None:
    stand, player = stand_of(house, mode=mode)
    assert stand.practice is not None
    stand.again()
    assert stand.practice.phase == COUNTING
    stand.stop()
    assert not player.playing
    assert stand.practice.phase == READY
    strike(house, stand.practice.wish.expected.notes[0].midi)
    assert stand.practice.phase == COUNTING
    assert player.playing


def test_in_time_the_margin_says_that_the_music_goes_on(house: House) -> None:
    stand, player = stand_of(house, mode=A_TEMPO)
    stand.again()
    assert player.started is not None
    player.started -= stand.pace.track.begins
    stand.tick(now())
    assert "come in where it is" in margin(house)


def margin(house: House) -> str:
    house.draw()
    assert house.canvas is not None
    return " ".join(box.text for box in house.canvas.boxes if box.name.startswith("margin.empty"))


def test_at_sight_nothing_is_heard_before_the_take(house: House) -> None:
    stand, player = stand_of(house, mode=PRIMA_VISTA)
    assert stand.practice is not None
    assert not any(stand.orders.offered(word) for word in ("help", "glimpse", "listen", "sing"))
    for order in (stand.orders.listen, stand.orders.sing):
        house.notice = None
        order()
        assert player.schedule is None
        assert house.notice is not None
        assert house.notice.words == say("stand.sight.unheard")
    stand.practice.phase = ENDED
    assert stand.orders.offered("listen")
    stand.orders.listen()
    assert player.schedule is not None


@pytest.mark.parametrize("mode", [A_TEMPO, PRIMA_VISTA])
def test_who_fell_behind_the_click_comes_to_the_end_of_the_take(house: House, mode: str) -> None:
    """The last notes, some beats late, belong to it: they begin no count-in of another."""
    stand, _, late = behind(house, mode)
    practice = stand.practice
    assert practice is not None
    stand.tick(now())
    assert practice.phase == PLAYING
    for note in late:
        strike(house, note.midi)
    stand.tick(now())
    assert practice.phase == ENDED
    assert len(practice.presses) == len(practice.wish.expected.notes)
    assert house.rounds.last is not None
    assert not house.rounds.last.settled.missed


def test_who_stopped_or_lags_for_ever_is_not_waited_for(house: House) -> None:
    stand, _, _ = behind(house, A_TEMPO)
    practice = stand.practice
    assert practice is not None
    assert practice.last_at is not None
    practice.last_at -= 2.0
    stand.tick(now())
    assert practice.phase == ENDED, "nothing was struck for two seconds"

    stand, player, _ = behind(house, A_TEMPO)
    practice = stand.practice
    assert practice is not None
    assert player.started is not None
    player.started -= 20 * 60 / practice.wish.quarters
    stand.tick(now())
    assert practice.phase == ENDED, "the music has been over for long"


def test_a_test_at_sight_waits_for_nobody(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    stand, _, _ = behind(house, PRIMA_VISTA)
    monkeypatch.setattr(Stand, "tested", True)
    stand.tick(now())
    assert stand.practice is not None
    assert stand.practice.phase == ENDED


def behind(house: House, mode: str) -> tuple[Stand, Heard, list[Note]]:
    """All but the last moment was played when the click is two beats past the end."""
    stand, player = stand_of(house, mode=mode)
    stand.again()
    practice = stand.practice
    assert practice is not None
    assert player.started is not None
    wish, quarter = practice.wish, 60 / practice.wish.quarters
    player.started -= stand.pace.track.begins + stand.hearing.lead
    stand.tick(now())
    assert practice.phase == PLAYING
    notes = wish.expected.notes
    begins = now()
    for note in notes:
        if note.onset < notes[-1].onset:
            house.hear(Press(begins + float(note.onset) * quarter, note.midi, 64), now())
    player.started -= (float(wish.span[1]) + 2) * quarter
    return stand, player, [note for note in notes if note.onset == notes[-1].onset]


@pytest.mark.parametrize("ends", ["stop", "again", "other piece", "other screen", "model"])
def test_the_other_hand_that_waits_is_silent_once_nothing_is_practised(
    ends: str, house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    voice = Recorded()
    monkeypatch.setattr(house.sound, "voice", voice)
    house.change(other_hand=True)
    stand, _ = stand_of(house, hands="right")
    assert stand.practice is not None
    for note in stand.practice.wish.expected.only_hand("right").notes[:5]:
        strike(house, note.midi)
        house.hear(Release(now(), note.midi), now())
    assert voice.played
    voice.calls.clear()
    wish = stand.practice.wish
    ways: dict[str, Callable[[], object]] = {
        "stop": stand.stop,
        "again": stand.again,
        "other piece": lambda: stand.begin(replace(wish)),
        "other screen": lambda: house.go("desk"),
        "model": lambda: stand.hearing.model(wish),
    }
    ways[ends]()
    assert "cancel" in voice.calls


def test_the_other_hand_waits_on_where_the_piano_was_unplugged_and_is_back(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    house.change(other_hand=True)
    stand, _ = stand_of(house, hands="right")
    assert stand.practice is not None
    first, second = stand.practice.wish.expected.only_hand("right").notes[:2]
    strike(house, first.midi)
    voice = Recorded()
    monkeypatch.setattr(house.sound, "voice", voice)
    strike(house, second.midi)
    assert voice.played
