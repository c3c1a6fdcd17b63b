"""What the coach offers at the Stand: help that fades or is held, tempi of today's list, rests, the test at sight."""

from __future__ import annotations

import contextlib
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from tests.journal.played import patience, play
from tools import staging
from trainer.coaching.path import cells
from trainer.coaching.path.cells import Cell, Learned, help_for
from trainer.coaching.path.path import HOLDING, OPENING, Place
from trainer.coaching.sight.sighttest import FIVE_MINUTES, TWO_MINUTES, Form
from trainer.coaching.sight.sightwords import reached
from trainer.coaching.singers.warmup import Step, some_bars
from trainer.coaching.today import minutes
from trainer.coaching.today.schedule import Suggestion
from trainer.coaching.work.assignments import Assignment
from trainer.journal import unlearned
from trainer.journal.erasing import erase_takes
from trainer.journal.files import BRIEF_S
from trainer.journal.store import Journal
from trainer.journal.tally import canonical
from trainer.journal.values import PATTERN, SIGHT
from trainer.listening.clock import now
from trainer.listening.press import Press, Release
from trainer.music.keys import Key
from trainer.music.piece import Piece
from trainer.music.solfege import HELPS
from trainer.music.transpose import plan
from trainer.scores.reading import read
from trainer.scores.shelf.library import find
from trainer.session import A_TEMPO, PRIMA_VISTA, SENZA_MISURA
from trainer.window.copy.advice import advise
from trainer.window.copy.copy import Copy
from trainer.window.copy.finished import of_kept
from trainer.window.desk.desk import Desk
from trainer.window.desk.sightpage import SightPage
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.practice import COUNTING, LOOKING, PLAYING, READY
from trainer.window.rounds import learning
from trainer.window.rounds.learning import AGAIN_S
from trainer.window.settings import Settings
from trainer.window.singer.singer import SingerScreen
from trainer.window.stand.stand import Stand
from trainer.window.stand.standtime import LOOK_S
from trainer.window.strings import say

NAME, TO = "ode-to-joy", "Ab"


@pytest.fixture
def house() -> Iterator[House]:
    with staging.home():
        made = house_of((1280, 800))
        made.open_journal()
        yield made
        made.close()


def journal_of(house: House) -> Journal:
    assert house.journal is not None
    return house.journal


def stand_of(house: House) -> Stand:
    stand = house.screen
    assert isinstance(stand, Stand)
    return stand


@contextlib.contextmanager
def journal_held_by_another(house: House) -> Iterator[None]:
    """Another program writes the journal for as long as this lasts."""
    with contextlib.closing(
        sqlite3.connect(journal_of(house).path, isolation_level=None, check_same_thread=False)
    ) as other:
        other.execute("BEGIN IMMEDIATE")
        yield


def play_through(stand: Stand, wrong: int = 0) -> None:
    """Play what is on the stand, every `wrong`-th note a tritone off."""
    assert stand.practice is not None
    wish = stand.practice.wish
    beat = 60 / wish.quarters
    presses: list[Press | Release] = []
    for index, note in enumerate(wish.expected.notes):
        if wish.hands in ("both", note.hand):
            at = float(note.onset) * beat
            off = 6 if wrong and index % wrong == 0 else 0
            presses.append(Press(at, note.midi + off, 64))
            presses.append(Release(at + 0.8 * beat * float(note.length), note.midi + off))
    for event in sorted(presses, key=lambda one: one.at):
        stand.house.hear(event, now())
    stand.stop()


def go_in(stand: Stand) -> None:
    """Count in, as far as the first note."""
    stand.pace.count_in()
    assert stand.practice is not None
    stand.practice.phase = PLAYING


def texts(house: House, start: str) -> list[str]:
    house.draw()
    assert house.canvas is not None
    return [box.text for box in house.canvas.boxes if box.name.startswith(start)]


# Parts of a piece, and stray keys


def play_bars(stand: Stand, last: int) -> None:
    """Play a piece as far as a bar without a slip, and end the take."""
    assert stand.practice is not None
    wish = stand.practice.wish
    for note in wish.expected.notes:
        if wish.piece.bar_index(note.onset) < last:
            stand.house.hear(Press(float(note.onset) * 0.7, note.midi, 64), now())
    stand.stop()


def test_a_clean_part_moves_nothing_on_the_path(house: House) -> None:
    for _ in range(3):
        play_bars(staging.stand_of(house, NAME, TO), 4)
        assert not house.rounds.moved
    journal = journal_of(house)
    assert cells.cells(journal, house.player) == {}
    takes = journal.takes(house.player)
    assert [take.accuracy for take in takes] == [1.0] * 3, "but it is kept"
    house.notice = None
    house.go("desk")
    assert "a part, 100% right" in texts(house, "recent.0.when")[0]
    play_bars(staging.stand_of(house, NAME, TO), 14)
    assert len(cells.cells(journal, house.player)) == 1


@pytest.mark.parametrize("away", [-12, -2])
def test_a_take_that_lay_elsewhere_moves_nothing_on_the_path(house: House, away: int) -> None:
    """An octave off, or on a piano that transposes by itself: it is kept, and says nothing of this key."""
    stand = staging.stand_of(house, NAME, TO)
    assert stand.practice is not None
    for note in stand.practice.wish.expected.notes:
        house.hear(Press(float(note.onset) * 0.7, note.midi + away, 64), now())
    stand.stop()
    journal = journal_of(house)
    assert [take.right for take in journal.takes(house.player)] == [0]
    assert cells.cells(journal, house.player) == {}


def test_a_loop_is_a_part_however_well_it_goes(house: House) -> None:
    play_bars(staging.stand_of(house, NAME, TO, loop=(0, 1)), 2)
    journal = journal_of(house)
    (row,) = journal.takes(house.player)
    assert (row.accuracy, row.is_most) == (1.0, False)
    assert cells.cells(journal, house.player) == {}
    house.notice = None
    house.go("desk")
    assert "a part, 100% right" in texts(house, "recent.0.when")[0]
    take = of_kept(journal.take(row.id))
    assert take is not None
    assert not take.is_most
    assert "now the whole piece" in advise(take, "english")[0].words
    house.rounds.show_kept(row.id)
    house.draw()
    assert "bars 1 to 2 of" in texts(house, "copy.key")[0]


def test_a_loop_that_holds_most_of_the_piece_is_no_part(house: House) -> None:
    stand = staging.stand_of(house, NAME, TO)
    assert stand.practice is not None
    whole = stand.practice.wish
    last = len(whole.piece.bars) - 1
    assert not replace(whole, loop=(0, last)).is_part
    assert replace(whole, loop=(0, last // 2)).is_part
    assert not whole.is_part
    # Once through what is repeated as a whole is all of it.
    length, count = whole.piece.length, len(whole.piece.bars)
    twice = replace(
        whole.piece,
        notes=(*whole.piece.notes, *(replace(note, onset=note.onset + length) for note in whole.piece.notes)),
        bars=(*whole.piece.bars, *(replace(bar, onset=bar.onset + length) for bar in whole.piece.bars)),
    )
    assert not replace(whole, piece=twice, loop=(0, count - 1)).is_part
    assert replace(whole, piece=twice, loop=(0, count // 2 - 1)).is_part


@pytest.mark.parametrize(("letters", "key"), [("english", "F♯ minor"), ("german", "fis-Moll")])
def test_what_moved_on_the_path_is_said_in_the_words_of_the_screens(letters: str, key: str) -> None:
    helping = house_of((1280, 800), Settings(letters=letters)).rounds.helping
    place = Place("open", "f#", "both")
    said = helping.learned(Learned(Cell(place, OPENING), Cell(place, HOLDING), None))
    assert said == f"{key}, open, both hands: it holds now."


def test_a_stray_key_is_not_kept_and_that_is_said(house: House) -> None:
    stand = staging.stand_of(house, NAME, TO)
    journal = journal_of(house)
    house.hear(Press(now(), 61, 64), now())
    journal.flush()
    assert journal.unfinished() == []
    stand.stop()
    assert house.notice is not None
    assert "nothing of it is kept" in house.notice.words
    assert stand.practice is not None
    assert stand.practice.phase == READY
    assert not stand.slips
    ways: tuple[Callable[[], object], ...] = (stand.again, lambda: house.go("desk"))
    for leave in ways:
        house.hear(Press(now(), 61, 64), now())
        leave()
        journal.flush()
        assert journal.takes(house.player) == []
        assert journal.ask("SELECT * FROM live") == []


# Another tune, in no key of this piece.
OTHER = [62, 62, 64, 62, 67, 66, 62, 62, 64, 62, 69, 67]


@pytest.mark.parametrize("leave", ["stop", "again", "desk"])
def test_what_the_hands_wander_over_before_the_first_take_is_none(house: House, leave: str) -> None:
    stand = staging.stand_of(house, NAME, TO)
    journal = journal_of(house)
    for at, pitch in enumerate(OTHER):
        house.hear(Press(now() + 0.4 * at, pitch, 64), now())
    if leave == "desk":
        house.go("desk")
    else:
        getattr(stand, leave)()
    journal.flush()
    assert journal.takes(house.player) == []
    assert journal.ask("SELECT * FROM live") == []
    assert house.notice is not None
    assert house.notice.words == say("stand.strange")
    assert house.rounds.last is None


def test_a_few_notes_of_the_middle_are_a_take_however_they_went(house: House) -> None:
    """The third note of the piece, its second and its first, over and over: ten keys, seven, four."""
    journal = journal_of(house)
    for count in (10, 7, 4):
        stand = staging.stand_of(house, "au-clair-de-la-lune", "D")
        kept = len(journal.takes(house.player))
        for at, pitch in enumerate([66, 64, 62, 62, 62, 64] * 2):
            if at < count:
                house.hear(Press(now() + 0.1 * at, pitch, 64), now())
        stand.stop()
        assert len(journal.takes(house.player)) == kept + 1


def test_a_take_counted_in_is_kept_whatever_is_played(house: House) -> None:
    stand = staging.stand_of(house, NAME, TO, mode=A_TEMPO)
    go_in(stand)
    for at, pitch in enumerate(OTHER):
        house.hear(Press(now() + 0.4 * at, pitch, 64), now())
    stand.stop()
    assert len(journal_of(house).takes(house.player)) == 1


@pytest.mark.parametrize("keys", [[61], OTHER])
@pytest.mark.parametrize("mode", [SENZA_MISURA, A_TEMPO])
def test_what_is_played_on_after_the_end_leaves_the_take_and_its_marked_copy(
    house: House, keys: list[int], mode: str
) -> None:
    stand = staging.stand_of(house, NAME, TO)
    play_through(stand, wrong=9)
    ended, last, slips, journal = stand.practice, house.rounds.last, list(stand.slips), journal_of(house)
    assert ended is not None
    ended.wish = replace(ended.wish, mode=mode)
    for at, pitch in enumerate(keys):
        house.hear(Press(now() + 0.4 * at, pitch, 64), now())
        if mode == A_TEMPO and not at:
            go_in(stand)
            house.hear(Press(now(), pitch, 64), now())
    assert (stand.practice is ended, stand.slips == slips) == (False, False)
    stand.stop()
    journal.flush()
    assert (stand.practice, house.rounds.last, stand.slips) == (ended, last, slips)
    assert house.notice is not None
    assert "not kept" in house.notice.words
    assert len(journal.takes(house.player)) == 1
    assert journal.ask("SELECT * FROM live") == []
    stand.stop()
    assert isinstance(house.screen, Copy)


def test_the_piece_begun_once_more_after_its_end_is_a_take_however_badly_it_goes(house: House) -> None:
    stand = staging.stand_of(house, NAME, TO)
    play_through(stand)
    assert stand.practice is not None
    notes = stand.practice.wish.expected.notes
    for index, note in enumerate(notes):
        off = 0 if index < 3 else (6, -4, 3)[index % 3]
        house.hear(Press(1000 + float(note.onset) * 0.6, note.midi + off, 64), now())
    stand.stop()
    assert len(journal_of(house).takes(house.player)) == 2


def test_other_music_is_left_behind_by_going_elsewhere_and_by_asking_for_another_take(house: House) -> None:
    stand = staging.stand_of(house, NAME, TO)
    play_through(stand)
    journal = journal_of(house)
    leaving: list[Callable[[], object]] = [stand.again, lambda: house.go("desk")]
    for leave in leaving:
        for at, pitch in enumerate(OTHER):
            house.hear(Press(1000 + 0.4 * at, pitch, 64), now())
        leave()
        assert house.notice is not None
        assert house.notice.words == "That was other music than the piece: nothing of it is kept."
        journal.flush()
        assert len(journal.takes(house.player)) == 1
        if leave == stand.again:
            # Asked for, without a count before it, this is no more a take.
            for at, pitch in enumerate(OTHER):
                house.hear(Press(2000 + 0.4 * at, pitch, 64), now())
            assert stand.practice is not None
            stand.practice.finish()
            journal.flush()
            assert len(journal.takes(house.player)) == 1


def test_a_wait_kept_with_all_of_its_time_is_told_like_one_of_today(house: House) -> None:
    stand = staging.stand_of(house, NAME, TO)
    assert stand.practice is not None
    for note in stand.practice.wish.expected.notes:
        house.hear(Press(float(note.onset) * 0.6 + 3.0 * (note.onset >= 16), note.midi, 64), now())
    stand.stop()
    kept = journal_of(house).take(journal_of(house).takes(house.player)[0].id)
    assert kept.settled is not None
    long = tuple(replace(move, seconds=move.seconds + 0.6) for move in kept.settled.moves)
    found = of_kept(replace(kept, settled=replace(kept.settled, moves=long)))
    assert found is not None
    assert [round(move.seconds, 1) for move in found.settled.moves] == [3.0]


def test_all_there_is_to_play_is_a_take_however_short(house: House) -> None:
    stand = staging.stand_of(house, NAME, TO, hands="left")
    assert stand.practice is not None
    wish = stand.practice.wish
    bars = [wish.piece.bar_index(note.onset) for note in wish.piece.notes if note.hand == "left"]
    short = next(bar for bar in bars if bars.count(bar) < 4)
    stand = staging.stand_of(house, NAME, TO, hands="left", loop=(short, short))
    assert stand.practice is not None
    for at in stand.practice.wish.part:
        note = stand.practice.wish.expected.notes[at]
        if note.hand == "left":
            house.hear(Press(float(note.onset) * 0.7, note.midi, 64), now())
    stand.stop()
    assert len(journal_of(house).takes(house.player)) == 1


# Help


def test_help_fades_after_clean_takes_and_comes_back_after_a_bad_one(house: House) -> None:
    stand = staging.stand_of(house, NAME, TO)
    helping = house.rounds.helping
    seen = []
    for wrong in (0, 0, 2):
        seen.append(helping.shown)
        assert stand.page.setting().help == helping.shown
        play_through(stand, wrong)
        stand.again()
    assert seen == ["all", "all", "bars"]
    assert helping.shown == "all"
    kept = [row.help for row in reversed(journal_of(house).takes(house.player, 5))]
    assert kept == seen


def test_held_help_stays_and_is_remembered_by_player(house: House) -> None:
    stand = staging.stand_of(house, NAME, TO)
    stand.orders.help()
    stand.orders.hold()
    assert house.notice is not None
    assert "Held" in house.notice.words
    for _ in range(3):
        play_through(stand)
        stand.again()
    assert house.rounds.helping.shown == "bars"
    # In another piece and key, too; for another player it is not held.
    staging.stand_of(house, "aura-lee", "+2")
    assert house.rounds.helping.shown == "bars"
    assert house.rounds.helping.held
    house.change(player="Ada")
    staging.stand_of(house, "aura-lee", "+3")
    assert not house.rounds.helping.held
    assert house.rounds.helping.shown == "all"
    house.change(player="")
    stand.orders.hold()
    assert not house.rounds.helping.held


def test_a_hand_that_chose_less_help_is_not_turned_round(house: House) -> None:
    staging.stand_of(house, NAME, TO)
    helping = house.rounds.helping
    for _ in range(3):
        helping.step()
    stand = stand_of(house)
    assert stand.practice is not None
    place = Place(stand.practice.wish.level, "Ab", "both")
    helping.learned(Learned(Cell(place, OPENING, help="all"), Cell(place, OPENING, help="bars"), None))
    assert helping.for_take(stand.practice.wish) == HELPS[-1]


def test_a_piece_learned_from_late_leaves_the_help_of_the_one_on_the_stand(house: House) -> None:
    """It waited for another program, or had been cut off; the next take of another piece began with its help."""
    stand = staging.stand_of(house, NAME, TO)
    helping = house.rounds.helping
    assert stand.practice is not None
    wish, elsewhere = stand.practice.wish, Place("trichord", "C", "right")
    helping.learned(Learned(Cell(elsewhere, OPENING, help="bars"), Cell(elsewhere, OPENING, help="do"), None))
    assert helping.for_take(wish) == HELPS[0]
    here = replace(elsewhere, level=wish.level, key="Ab", hands="both")
    helping.learned(Learned(Cell(here, OPENING, help="bars"), Cell(here, OPENING, help="do"), None))
    assert helping.for_take(wish) == "do"


def test_a_piece_put_on_again_begins_where_its_help_had_come_to(house: House) -> None:
    stand = staging.stand_of(house, NAME, TO)
    for _ in range(2):
        play_through(stand)
        stand.again()
    assert stand.practice is not None
    wish = stand.practice.wish
    assert help_for(journal_of(house), house.player, Place(wish.level, canonical(wish.plan.target), "both")) == "bars"
    staging.stand_of(house, "aura-lee", "+1")
    assert house.rounds.helping.shown == "all"
    staging.stand_of(house, NAME, TO)
    assert house.rounds.helping.shown == "bars"


# Today's list


def test_an_offer_brings_its_tempo_and_help(house: House) -> None:
    offer = Suggestion("due", "Ode to Joy", Key.parse(TO), "pentachord", "right", "due today", 3.0,
                       name=str(find(NAME)), tempo=50.0, help="do")  # fmt: skip
    house.rounds.offer(offer, lambda trouble: pytest.fail(str(trouble)))
    stand = stand_of(house)
    assert stand.practice is not None
    wish = stand.practice.wish
    # The metronome has no 50: 48 or 52 is nearest.
    assert abs(wish.tempo - 50) == 2
    assert (wish.hands, wish.mode) == ("right", SENZA_MISURA)
    assert house.rounds.helping.shown == "do"
    assert wish.plan.target.short == TO


def test_work_set_at_a_tempo_opens_in_time_and_not_below_it(house: House) -> None:
    offer = Suggestion("set work", "Ode to Joy", Key.parse(TO), "pentachord", "right", "set", 3.0, name=str(find(NAME)))
    for tempo, mode in ((50.0, A_TEMPO), (None, SENZA_MISURA)):
        work = Assignment(NAME, "Ode to Joy", (TO,), hands="right", tempo=tempo)
        house.rounds.offer(replace(offer, tempo=tempo, work=work), lambda trouble: pytest.fail(str(trouble)))
        practice = stand_of(house).practice
        assert practice is not None
        assert practice.wish.mode == mode
        # The metronome has 48 and 52.
        assert tempo is None or practice.wish.tempo == 52


def test_the_desk_says_which_hand_plays(house: House) -> None:
    """The same piece in the same key may be due for either hand."""
    house.go("desk")
    desk = house.screen
    assert isinstance(desk, Desk)
    one = Suggestion("due", "Ode to Joy", Key.parse(TO), "pentachord", "right", "due today", 3.0)
    whole, sight = replace(one, hands="both"), replace(one, kind="sight", title="Prima vista")
    desk.suggestions = [one, replace(one, hands="left"), whole, sight]
    assert texts(house, "today.0.time") == ["right · 3 min"]
    assert texts(house, "today.1.time") == ["left · 3 min"]
    assert texts(house, "today.2.time") == ["3 min"]
    assert texts(house, "today.3.time") == ["3 min"]


def test_fresh_offers_are_never_the_same_piece(house: House) -> None:
    offer = Suggestion("new", "A fresh trichord piece", Key.parse("G"), "trichord", "right", "a new key", 3.0,
                       tempo=44.0, written=Key.parse("C"))  # fmt: skip
    seen = []
    for _ in range(2):
        house.rounds.offer(offer, lambda trouble: pytest.fail(str(trouble)))
        practice = stand_of(house).practice
        assert practice is not None
        assert practice.wish.tempo == 44.0
        seen.append([note.midi for note in practice.wish.piece.notes])
    assert seen[0] != seen[1]


# Rests


def test_a_rest_is_said_once_in_a_stretch(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    due = [""]
    monkeypatch.setattr(minutes, "rest_line", lambda *_: due[0])
    rounds = house.rounds
    assert "marked copy" in rounds.ended_line()[0]
    due[0] = "Rest."
    assert rounds.ended_line()[0] == "Rest."
    assert "marked copy" in rounds.ended_line()[0]
    due[0] = ""
    rounds.ended_line()
    due[0] = "Rest."
    assert rounds.ended_line()[0] == "Rest."


def test_the_rest_comes_from_the_journal(house: House) -> None:
    stand = staging.stand_of(house, NAME, TO)
    play_through(stand)
    journal = journal_of(house)
    began = (datetime.now().astimezone() - timedelta(minutes=30)).timestamp()
    with journal.changing() as db:
        db.execute("UPDATE take SET began = ?, seconds = 1790", (began,))
    assert "Pain is a reason to stop" in house.rounds.ended_line()[0]


# The test at sight


@pytest.mark.parametrize("form", [TWO_MINUTES, FIVE_MINUTES])
def test_a_test_runs_from_its_first_reading_to_the_result(house: House, form: Form) -> None:
    before = now()
    house.rounds.start_sighting(form)
    pieces: list[Piece] = []
    for _ in range(form.items):
        stand = stand_of(house)
        house.draw()
        assert stand.practice is not None
        wish = stand.practice.wish
        assert wish.mode == PRIMA_VISTA
        assert stand.practice.phase == LOOKING
        assert texts(house, "hint.begin")
        assert not texts(house, "hint.tempo"), "what is fixed is not offered"
        # Thirty seconds from when it was put on the stand, however long the machine took since.
        assert before <= stand.pace.look_until - LOOK_S <= now()
        assert stand.page.setting().help == "none"
        assert (wish.plan.interval.semitones == 0) == (not pieces)
        pieces.append(wish.piece)
        # Silence on the keys: what is pressed while looking is no note of the take.
        house.hear(Press(now(), 60, 64), now())
        assert not stand.practice.presses
        go_in(stand)
        house.draw()
        assert not texts(house, "hint.again"), "a reading is played once"
        play_through(stand)
        before = now()
        stand.tick(now())
    assert LOOK_S == 30
    assert isinstance(house.screen, SightPage)
    assert len({tuple(note.midi for note in piece.notes) for piece in pieces}) == len(pieces)
    result = house.screen.result
    assert result is not None
    assert result.accuracy == 1.0
    assert result.rating.spread < result.before.spread
    assert reached(result.rating)[0] in texts(house, "sight.words")
    rows = journal_of(house).ask("SELECT baseline FROM sight ORDER BY take")
    assert [row[0] for row in rows] == [1] + [0] * (form.items - 1)
    assert all(row.kind == SIGHT for row in journal_of(house).takes(house.player, 9))


def test_a_reading_is_played_once_and_as_it_is_given(house: House) -> None:
    house.rounds.start_sighting(TWO_MINUTES)
    stand = stand_of(house)
    practice = stand.practice
    assert practice is not None
    wish = practice.wish
    stand.orders.rekey(1)
    stand.orders.tempo(-1)
    stand.orders.mode()
    assert stand.practice is practice
    assert stand.practice.wish is wish
    go_in(stand)
    house.hear(Press(now(), wish.expected.notes[0].midi, 64), now())
    stand.again()
    assert len(practice.presses) == 1


def test_who_plays_a_reading_is_no_longer_told_to_look_it_through(house: House) -> None:
    house.rounds.start_sighting(TWO_MINUTES)
    stand = stand_of(house)
    house.draw()
    assert "look it through" in texts(house, "foot.quiet")[0]
    stand.again()
    house.draw()
    assert not any("look it through" in line for line in texts(house, "foot.quiet"))


def test_leaving_the_test_keeps_what_was_played(house: House) -> None:
    house.rounds.start_sighting(TWO_MINUTES)
    stand = stand_of(house)
    go_in(stand)
    play_through(stand)
    stand.tick(now())
    go_in(stand)
    assert stand.practice is not None
    for note in stand.practice.wish.expected.notes[:3]:
        house.hear(Press(now(), note.midi, 64), now())
    house.go("desk")
    assert house.rounds.sighting is None
    assert house.notice is not None
    journal = journal_of(house)
    journal.flush()
    assert len(journal.takes(house.player, 9)) == 2
    assert len(journal.ask("SELECT take FROM sight")) == 1


def test_a_test_nobody_plays_ends_by_itself(house: House) -> None:
    house.rounds.start_sighting(TWO_MINUTES)
    for at in range(TWO_MINUTES.items):
        stand = stand_of(house)
        assert stand.practice is not None
        # The look is over: the count-in comes by itself, then the music goes by.
        stand.pace.look_until = now() - 1
        stand.tick(now())
        assert stand.practice.phase == COUNTING
        # The click has ended and nothing else moves: the next frame must come by itself.
        house.sound.player.stop()
        stand.practice.phase = PLAYING
        assert stand.tick(now()) < 1
        stand.tick(now())
        if at == 0:
            assert house.notice is not None
            assert "does not count. Reading 2" in house.notice.words
    assert isinstance(house.screen, SightPage)
    assert texts(house, "sight.words") == ["Nothing was played in another key, so there is no result."]
    assert house.rounds.sighting is None


def test_a_reading_whose_take_cannot_be_kept_does_not_count_and_the_next_one_comes(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The test once stood still there until it was left."""

    def refused(*_: object) -> None:
        raise OverflowError("out of all bounds")

    house.rounds.start_sighting(TWO_MINUTES)
    stand = stand_of(house)
    go_in(stand)
    with monkeypatch.context() as bad:
        bad.setattr("trainer.journal.take.ensure", refused)
        play_through(stand)
    assert stand.tick(now()) < 1
    assert house.notice is not None
    assert "could not keep that take, so the reading does not count. Reading 2" in house.notice.words
    assert stand.practice is not None
    assert stand.practice.phase == LOOKING
    go_in(stand)
    play_through(stand)
    stand.tick(now())
    assert isinstance(house.screen, SightPage)
    assert house.screen.result is not None
    assert house.screen.result.accuracy == 1.0


def test_the_desk_leads_to_the_test(house: House) -> None:
    house.go("desk")
    assert isinstance(house.screen, Desk)
    _, controls = house.laid()
    next(control for control in controls.all if control.key == "v").act()
    assert isinstance(house.screen, SightPage)
    _, controls = house.laid()
    next(control for control in controls.all if control.key == "2").act()
    assert house.rounds.sighting is not None
    assert stand_of(house).tested


def test_the_suggestion_at_sight_begins_the_short_test(house: House) -> None:
    offer = Suggestion("sight", "Prima vista", Key.parse("G"), "trichord", "right", "a first reading", 2.0, help="none")
    house.rounds.offer(offer, lambda trouble: pytest.fail(str(trouble)))
    assert house.rounds.sighting is not None
    assert house.rounds.sighting.form is TWO_MINUTES
    assert cells.cells(journal_of(house), house.player) == {}


def test_a_take_played_while_another_program_holds_the_journal_is_learned_from_later(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    stand = staging.stand_of(house, "three-bells", "C")
    seconds = [100.0]
    monkeypatch.setattr(learning, "time", SimpleNamespace(monotonic=lambda: seconds[0], sleep=time.sleep))
    with journal_held_by_another(house):
        with patience(journal_of(house)) as waits:
            play_through(stand)
        assert max(waits) <= BRIEF_S, "no frame waits for the other program"
        assert cells.cells(journal_of(house), house.player) == {}
        seconds[0] += AGAIN_S
        assert house.rounds.is_behind
        assert house.rounds.catch_up() == ""
        assert not house.rounds.is_behind, "it is not tried in every frame"
    seconds[0] += AGAIN_S
    assert house.rounds.is_behind
    house.rounds.catch_up()
    assert not house.rounds.unlearned
    assert [place.key for place in cells.cells(journal_of(house), house.player)] == ["C"]


def test_a_take_in_the_journal_waits_without_a_frame_that_waits(house: House) -> None:
    """It is written already, and another program is at the journal when the path is to learn from it."""
    play_through(staging.stand_of(house, "three-bells", "C"))
    journal = journal_of(house)
    with journal.changing() as db:
        db.execute("DELETE FROM cell")
        unlearned.note_row(db, journal.takes()[0].id)
    with journal_held_by_another(house):
        with patience(journal) as waits:
            assert house.rounds.learn_from(journal.takes()[0]) == "", "nothing to do about it, nothing said"
        assert max(waits) <= BRIEF_S
        assert house.rounds.unlearned
    assert house.rounds.catch_up() == ""
    assert [place.key for place in cells.cells(journal, house.player)] == ["C"]


def played(house: House, key: str) -> int:
    """How many takes the path has learned from in a key."""
    known = cells.cells(journal_of(house), house.player).values()
    return sum(len(cell.recent) for cell in known if cell.place.key == key)


@contextlib.contextmanager
def started_again(house: House) -> Iterator[House]:
    """The next start of the program, for the same player."""
    house.close()
    again = house_of((1280, 800))
    again.open_journal()
    try:
        yield again
    finally:
        again.close()


def test_while_the_path_is_broken_takes_wait_and_are_learned_from_once_it_is_mended(house: House) -> None:
    own = journal_of(house).path.parent / "path.toml"
    own.write_text("this is no path")
    play_through(staging.stand_of(house, "three-bells", "C"))
    assert "path.toml cannot be used" in house.rounds.moved
    assert not house.rounds.is_behind, "it is not said again in every frame"
    play_through(staging.stand_of(house, "three-bells", "D"))
    assert (played(house, "C"), played(house, "D")) == (0, 0)
    with started_again(house) as still:
        assert still.rounds.is_behind
        assert "path.toml cannot be used" in still.rounds.catch_up()
        own.unlink()
        play_through(staging.stand_of(still, "three-bells", "E"))
        assert [played(still, key) for key in "CDE"] == [1, 1, 1]
        with started_again(still) as third:
            assert not third.rounds.is_behind, "from none twice"


def test_a_take_the_program_ended_before_it_was_learned_from_is_so_at_the_next_start(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as killed:
        killed.setattr(type(house.rounds), "catch_up", lambda _: "")
        play_through(staging.stand_of(house, "three-bells", "C"))
        with started_again(house) as again, started_again(again) as third:
            assert played(third, "C") == 0
            killed.undo()
            third.rounds.catch_up()
            assert played(third, "C") == 1
            # The copy that was started before has it waiting still.
            again.open_journal()
            again.rounds.catch_up()
            assert not again.rounds.unlearned
            assert played(again, "C") == 1


def test_a_take_that_was_erased_keeps_no_other_from_being_learned_from(house: House) -> None:
    play_through(staging.stand_of(house, "three-bells", "D"))
    (gone,) = journal_of(house).takes()
    erase_takes(journal_of(house), [gone.id])
    assert "There is no take" in house.rounds.learn_from(gone)
    play_through(staging.stand_of(house, "three-bells", "C"))
    assert not house.rounds.unlearned
    known = cells.cells(journal_of(house), house.player).values()
    assert [len(cell.recent) for cell in known if cell.place.key == "C"] == [1]


def test_what_a_take_moves_is_read_and_written_in_one_step(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two copies of the program that learn at once would each write what the other has not seen."""
    after_take = cells.after_take

    def meanwhile(*about: Any) -> Learned | None:
        with (
            contextlib.closing(sqlite3.connect(journal_of(house).path, timeout=0, isolation_level=None)) as other,
            pytest.raises(sqlite3.OperationalError, match="locked"),
        ):
            other.execute("BEGIN IMMEDIATE")
        looked.append(about)
        return after_take(*about)

    looked: list[Any] = []
    monkeypatch.setattr(cells, "after_take", meanwhile)
    play_through(staging.stand_of(house, "three-bells", "C"))
    assert looked


def test_a_take_that_waits_is_learned_from_when_the_program_ends(house: House) -> None:
    with journal_held_by_another(house):
        play_through(staging.stand_of(house, "three-bells", "C"))
    path, player = journal_of(house).path, house.player
    house.close()
    with Journal(path) as again:
        assert [place.key for place in cells.cells(again, player)] == ["C"]


def test_a_take_kept_aside_is_learned_from_at_the_next_start(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(learning, "CLOSING_S", 0.1)
    path = journal_of(house).path
    with journal_held_by_another(house):
        play_through(staging.stand_of(house, "three-bells", "C"))
        house.close()
    house.open_journal()
    assert len(journal_of(house).takes()) == 1
    assert [place.key for place in cells.cells(journal_of(house), house.player)] == ["C"]
    assert journal_of(house).path == path


def test_a_warm_up_is_kept_as_a_pattern_however_it_is_begun(house: House) -> None:
    """It is no piece: it opens no key, also when it is moved to another."""
    key = Key.parse("D")
    house.rounds.play_pattern("pentascale", key, "both")
    play_through(stand_of(house))
    house.rounds.offer(Suggestion("warm-up", "Five fingers", key, "trichord", "both", "", 2.0, pattern="pentascale"),
                       lambda trouble: pytest.fail(str(trouble)))  # fmt: skip
    stand = stand_of(house)
    assert stand.practice is not None
    stand.change(replace(stand.practice.wish, plan=plan(key, "Eb")))
    play_through(stand)
    house.go("copy")
    copy = house.screen
    assert isinstance(copy, Copy)
    copy.again()
    play_through(stand_of(house))
    assert [(row.kind, row.target) for row in journal_of(house).takes()] == [
        (PATTERN, "Eb"), (PATTERN, "Eb"), (PATTERN, "D")
    ]  # fmt: skip
    assert cells.cells(journal_of(house), house.player) == {}


def test_bars_of_a_warm_up_are_no_piece(house: House) -> None:
    """Two bars of a song, clean in its key, say nothing of the song: they were kept as all of a short piece."""
    singer = house.screen_of(SingerScreen)
    piece = read(find(NAME))
    step = Step("bars", "Bars 1 and 2", 1.0, some_bars(piece, 0, 2), plan(piece.key, TO))
    singer.warm_up.steps = (step,)
    singer.warm_up.start()
    play_through(stand_of(house))
    (row,) = journal_of(house).takes()
    assert row.kind == PATTERN
    assert cells.cells(journal_of(house), house.player) == {}


def test_a_reading_that_ends_while_the_journal_is_held_for_a_moment_counts(house: House) -> None:
    house.rounds.start_sighting(TWO_MINUTES)
    for number in range(TWO_MINUTES.items):
        stand = stand_of(house)
        go_in(stand)
        with contextlib.ExitStack() as held:
            if number:
                held.enter_context(journal_held_by_another(house))
                threading.Timer(0.3, held.close).start()
            play_through(stand)
        stand.tick(now())
    assert isinstance(house.screen, SightPage)
    assert house.screen.result is not None
    assert house.screen.result.accuracy == 1.0


def test_a_hand_alone_is_measured_against_the_same_hand_as_written(house: House) -> None:
    """Both hands as written take their time; against that a hand alone would seem to transpose for nothing."""

    def cost(to: str, hands: str) -> float | None:
        stand = staging.stand_of(house, "three-bells", to, hands=hands)
        play_through(stand)
        assert stand.practice is not None
        return house.rounds.cost_of(stand.practice)

    assert cost("F", "both") is None
    assert cost("Eb", "right") is None
    assert cost("Eb", "both") == pytest.approx(1.0, abs=0.05)
    assert cost("F", "right") is None
    assert cost("Eb", "right") == pytest.approx(1.0, abs=0.05)


def test_a_take_to_the_click_is_no_measure_of_what_transposing_costs(house: House) -> None:
    """The click set its pace: the journal says nothing of the cost by it, and so does the margin."""
    stand = staging.stand_of(house, "three-bells", "Eb")
    assert stand.practice is not None
    piece = stand.practice.wish.piece
    play(journal_of(house), "F", piece=piece, beat=2.0, mode=A_TEMPO, player=house.player)
    play_through(stand)
    assert journal_of(house).takes(limit=1)[0].cost is None
    assert house.rounds.cost_of(stand.practice) is None
    play(journal_of(house), "F", piece=piece, beat=0.5, player=house.player)
    stand.again()
    play_through(stand)
    assert house.rounds.cost_of(stand.practice) is not None
