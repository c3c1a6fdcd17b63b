"""Setup: what is changed works at once, players are kept apart, and nothing is erased without being asked."""

from __future__ import annotations

import csv
import json
import sqlite3
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pygame
import pytest

from tests.journal.played import play
from tools import staging
from trainer import folders
from trainer.coaching.own import ownfingers
from trainer.coaching.path.cells import help_for
from trainer.coaching.path.path import Place
from trainer.coaching.work import assignments
from trainer.journal import files
from trainer.journal.errors import JournalError
from trainer.listening.backends import NoBackend
from trainer.listening.clock import now
from trainer.listening.jack import JACK_HANGS
from trainer.listening.ports import Ports
from trainer.listening.press import Event, Pedal, Press, Release
from trainer.music.keys import Key
from trainer.music.pitch import MusicError
from trainer.music.transpose import plan
from trainer.scores.reading import read
from trainer.scores.shelf.library import find
from trainer.sounding.tapping import LEAD_IN, TAPS, TEMPO, Tapping
from trainer.window import settings as kept
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.settings import Settings
from trainer.window.setup.setup import Setup
from trainer.window.setup.setupfields import SECTIONS, fields
from trainer.window.strings import say
from trainer.window.workroom import studies


@pytest.fixture(autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


@pytest.fixture
def house() -> Iterator[House]:
    made = house_of((1280, 800), Settings(player="Ada"))
    made.open_journal()
    assert made.journal is not None
    play(made.journal, "Eb", player="Ada")
    play(made.journal, "F", player="Ben")
    made.go("setup")
    made.draw()
    yield made
    made.close()


def screen(house: House) -> Setup:
    assert isinstance(house.screen, Setup)
    return house.screen


def press(house: House, letter: str) -> None:
    house.draw()
    house.handle(pygame.event.Event(pygame.KEYDOWN, key=ord(letter), mod=0, scancode=0))


def quiet(house: House) -> str:
    house.draw()
    assert house.canvas is not None
    return next(box.text for box in house.canvas.boxes if box.name in ("quiet", "foot.quiet"))


def test_every_choice_goes_through_all_its_values_and_comes_round(house: House) -> None:
    seen = 0
    for at, section in enumerate(SECTIONS[:3]):
        # With the largest text there is room for one section only.
        screen(house).part = at
        for one in fields(screen(house), section):
            assert len(one.values) == len(one.shown)
            assert len(set(one.shown)) == len(one.shown)
            start = one.chosen
            for _ in one.values:
                house.draw()
                assert house.console.controls is not None
                control = house.console.controls.named(one.name)
                assert control is not None
                assert control.key == one.key
                assert control.more is not None
                control.more()
                seen += 1
            (now_chosen,) = (other.chosen for other in fields(screen(house), section) if other.name == one.name)
            assert now_chosen == start
    assert seen > 30


def test_keys_of_the_screen_are_all_different(house: House) -> None:
    house.draw()
    assert house.console.controls is not None
    keys = [control.key for control in house.console.controls.all if control.key]
    assert len(keys) == len(set(keys))


def test_the_last_key_is_told(house: House) -> None:
    assert "No piano" in quiet(house)
    house.hear(Press(now(), 63, 58), now())
    assert "E♭4, number 63, loudness 58" in quiet(house)


def test_one_middle_c_finds_the_piano_s_transpose_function(house: House) -> None:
    setup = screen(house)
    setup.find()
    assert "middle C" in quiet(house)
    house.hear(Press(now(), 30, 60), now())
    assert setup.finding, "that was no middle C"
    house.hear(Press(now(), 57, 60), now())
    assert not setup.finding
    assert house.settings.piano_transposes == -3
    assert house.notice is not None
    assert house.notice.words == "What the piano sends lies 3 semitones lower; that is taken off from now on."


def test_who_sits_down_is_not_asked_whether_to_erase_what_was_meant_of_another(house: House) -> None:
    setup = screen(house)
    setup.ask_erase()
    setup.switch("Ben")
    assert not setup.asking
    press(house, "\x7f")
    assert house.journal is not None
    assert set(house.journal.players()) == {"Ada", "Ben"}


def test_taps_of_one_player_are_not_kept_as_those_of_the_next(house: House) -> None:
    setup = screen(house)
    setup.tap()
    setup.tick(now())
    setup.switch("Ben")
    assert not setup.clicking
    assert not house.sound.player.playing


def test_a_single_semitone_is_one(house: House) -> None:
    setup = screen(house)
    setup.find()
    house.hear(Press(now(), 61, 60), now())
    assert house.notice is not None
    assert "lies 1 semitone higher;" in house.notice.words
    house.notice = None
    house.draw()
    assert house.canvas is not None
    assert any("lies 1 semitone higher;" in box.text for box in house.canvas.boxes)


def test_what_the_piano_moves_is_taken_off_and_found_anew(house: House) -> None:
    house.change(piano_transposes=-3)
    given: list[Event] = [Press(1.0, 57, 60), Release(1.5, 57), Pedal(2.0, "sustain", 90)]
    struck = [house.as_struck(event) for event in given]
    assert struck == [Press(1.0, 60, 60), Release(1.5, 60), Pedal(2.0, "sustain", 90)]
    # The piano was set back in the meantime: middle C comes as 60 and is heard as 63.
    screen(house).find()
    house.hear(house.as_struck(Press(3.0, 60, 60)), now())
    assert house.settings.piano_transposes == 0


def test_tapping_finds_the_offset(house: House) -> None:
    setup = screen(house)
    setup.clicking, setup.tapping = True, Tapping(100.0)
    step = 60 / TEMPO
    for number in range(TAPS):
        house.hear(Press(100.0 + (LEAD_IN + number) * step - 0.03, 60, 64), now())
    assert f"{TAPS} of {TAPS}" in quiet(house)
    setup.tick(now())
    assert house.settings.click_offset_ms == -30
    assert not setup.clicking


def test_too_few_taps_change_nothing(house: House) -> None:
    setup = screen(house)
    house.change(click_offset_ms=7)
    setup.clicking, setup.tapping = True, Tapping(100.0)
    setup.tick(now())
    assert house.settings.click_offset_ms == 7
    assert house.notice is not None
    assert "once more" in house.notice.words


def test_players_have_their_own_settings_and_their_own_name(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(house.pane, "own", True)
    house.change(scale=150, syllables="numbers", keys=61)
    setup = screen(house)
    assert setup.players == ["Ada", "Ben"]
    setup.switch("Ben")
    assert house.player == "Ben"
    assert (house.settings.scale, house.settings.syllables, house.settings.keys) == (100, "la", 61)
    setup.type_name("Clara")
    setup.add_player()
    assert house.player == "Clara"
    assert set(setup.players) == {"Ada", "Ben", "Clara"}
    setup.switch("Ada")
    assert (house.settings.scale, house.settings.syllables) == (150, "numbers")
    assert kept.load().player == "Ada"
    monkeypatch.undo()


def test_a_name_of_blanks_is_no_player(house: House) -> None:
    screen(house).type_name("   ")
    screen(house).add_player()
    assert house.player == "Ada"


def test_export_of_a_journal_that_cannot_be_written_says_so(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> bool:
        raise JournalError("The disk is full.")

    assert house.journal is not None
    monkeypatch.setattr(house.journal, "flush", full)
    screen(house).export()
    assert house.notice is not None
    assert house.notice.words == "The disk is full."


def test_export_writes_this_player_s_takes(house: House) -> None:
    screen(house).export()
    folder = screen(house).journal_path.parent / f"export-{date.today().isoformat()}"
    with (folder / "takes.csv").open(encoding="utf-8") as table:
        assert {row["player"] for row in csv.DictReader(table)} == {"Ada"}
    takes = json.loads((folder / "takes.json").read_text(encoding="utf-8"))["takes"]
    assert [take["player"] for take in takes] == ["Ada"]
    assert house.notice is not None
    assert str(Path(folder).name) in house.notice.words


def test_an_export_leaves_out_what_is_damaged_and_no_other_takes_its_place(house: House) -> None:
    assert house.journal is not None
    play(house.journal, "D", player="Ada")
    bad = house.journal.takes("Ada", limit=1)[0].id
    with house.journal.changing() as db:
        db.execute("UPDATE playing SET events = ? WHERE take = ?", (b"torn", bad))
    for name in ("Ada", "Ben"):
        play(house.journal, "G", player=name)
        house.switch(name)
        screen(house).export()
        assert house.notice is not None
        assert ("Damaged and left out: 1." in house.notice.words) == (name == "Ada")
    made = sorted(screen(house).journal_path.parent.glob("export-*/takes.json"))
    told = [json.loads(path.read_text(encoding="utf-8"))["takes"] for path in made]
    assert [{take["player"] for take in takes} for takes in told] == [{"Ada"}, {"Ben"}]
    assert bad not in {take["take"] for take in told[0]}


def test_nothing_is_erased_without_being_asked(house: House) -> None:
    setup = screen(house)
    assert house.journal is not None
    setup.ask_erase()
    house.draw()
    event = pygame.event.Event(pygame.KEYDOWN, key=pygame.K_ESCAPE, mod=0, scancode=41)
    house.handle(event)
    assert not setup.asking
    assert house.journal.players() == ["Ada", "Ben"]
    setup.ask_erase()
    house.draw()
    house.handle(pygame.event.Event(pygame.KEYDOWN, key=pygame.K_DELETE, mod=0, scancode=76))
    assert house.journal.players() == ["Ben"]
    assert house.notice is not None
    assert "Ada" in house.notice.words


def test_who_has_left_is_named_nowhere_and_another_sits_down(house: House) -> None:
    assert house.journal is not None
    folder = house.journal_file.parent
    for names in (("Ada", "Ben"), ("Ada",)):
        assignments.add(folder, assignments.Assignment("aura-lee", "Aura Lee", ("Eb",), names))
    tune = read(find("aura-lee"))
    for player, finger in (("Ada", 2), ("Ben", 3)):
        ownfingers.keep(folder, tune, Key.parse("Eb"), 0, finger, player)
    setup = screen(house)
    kept.save(house.settings)
    assert '"Ada"' in (folders.settings() / "settings.json").read_text(encoding="utf-8")
    setup.erase()
    assert (house.player, setup.players) == ("Ben", ["Ben"])
    assert [one.players for one in assignments.load(folder)] == [("Ben",)]
    assert "Ada" not in (folder / ownfingers.FILE).read_text(encoding="utf-8")
    assert ownfingers.load(folder, tune, "Ben").by_key
    assert "Ada" not in (folders.settings() / "settings.json").read_text(encoding="utf-8")
    assert quiet(house).startswith("Ada is erased, takes and all (1); ")


def test_a_name_written_wrong_can_be_taken_away_before_it_has_played(house: House) -> None:
    setup = screen(house)
    setup.type_name("Adda")
    setup.add_player()
    kept.save(house.settings)
    assert "Adda" in setup.players
    setup.erase()
    assert setup.players == ["Ada", "Ben"]
    assert "Adda" not in (folders.settings() / "settings.json").read_text(encoding="utf-8")


def test_help_is_held_here_for_this_player_alone(house: House) -> None:
    assert house.journal is not None
    for _ in range(3):
        press(house, "l")
    assert quiet(house) == "Held, in every piece and key: only do."
    place = Place("trichord", "Eb", "right")
    assert help_for(house.journal, "Ada", place) == "do"
    assert help_for(house.journal, "Ben", place) == "all"
    house.switch("Ben")
    assert house.rounds.helping.held_at == ""
    house.switch("Ada")
    assert house.rounds.helping.held_at == "do"
    for _ in range(2):
        press(house, "l")
    assert quiet(house).startswith("Help fades by itself again")
    assert house.rounds.helping.held_at == ""


def test_a_disk_that_fills_up_while_somebody_plays_is_told_and_where_the_takes_are(house: House) -> None:
    stand = staging.stand_of(house, "ode-to-joy", "Ab")
    assert stand.practice is not None
    assert house.journal is not None
    for index, note in enumerate(stand.practice.wish.expected.notes[:20]):
        if index == 10:
            with house.journal._lock:
                house.journal._fall_back(files.FULL, sqlite3.OperationalError())
            house.loop._happened([])
            assert "disk is full" in quiet(house)
        house.hear(Press(float(note.onset) * 0.7, note.midi, 64), now())
    stand.stop()
    house.loop._happened([])
    aside = house.journal.aside
    assert aside is not None
    assert "disk is full" in quiet(house)
    assert aside.name in quiet(house)
    house.notice = None
    house.loop._happened([])
    assert "disk is full" not in quiet(house), "said once"
    house.go("setup")
    screen(house).part = SECTIONS.index("player")
    house.draw()
    assert house.canvas is not None
    assert aside.name in next(box.text for box in house.canvas.boxes if box.name == "setup.where")


def test_takes_set_aside_are_back_at_the_next_start_and_the_window_says_so(house: House) -> None:
    assert house.journal is not None
    before = len(house.journal.takes())
    with house.journal._lock:
        house.journal._fall_back(files.FULL, sqlite3.OperationalError())
    stand = staging.stand_of(house, "ode-to-joy", "Ab")
    assert stand.practice is not None
    for note in stand.practice.wish.expected.notes[:20]:
        house.hear(Press(float(note.onset) * 0.7, note.midi, 64), now())
    stand.stop()
    house.journal.close()
    house.open_journal()
    assert quiet(house) == "1 take that was set aside is in the journal now."
    assert len(house.journal.takes()) == before + 1


def test_that_nothing_can_be_heard_is_said_after_the_trouble_of_the_journal_and_not_instead(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a computer without sound nobody learned that the journal cannot be written."""
    assert house.journal is not None
    house.ports = Ports(backend=NoBackend())
    monkeypatch.setattr(house.ports, "watch", list)
    house.sound.said.append("No sound device answers.")
    house.journal.trouble = "The journal cannot be written: see to the folder's permissions."
    house.loop._next_ports = 0.0
    house.loop._happened([])
    assert "cannot be written" in quiet(house)
    house.notice = None
    house.loop._next_ports = 0.0
    house.loop._happened([])
    assert quiet(house) == "No sound device answers."


def test_a_trouble_that_is_over_is_no_longer_shown(house: House) -> None:
    """Another copy of the program held the journal for a moment."""
    assert house.journal is not None
    house.journal.trouble = "The journal is being written by another copy of Keyfarer."
    house.loop._happened([])
    assert "another copy" in quiet(house)
    house.journal.trouble = ""
    house.loop._happened([])
    assert house.notice is None
    house.journal.trouble = "The journal is being written by another copy of Keyfarer."
    house.loop._happened([])
    house.say("What was said since stays.")
    house.journal.trouble = ""
    house.loop._happened([])
    assert quiet(house) == "What was said since stays."


def test_a_disk_without_any_room_names_no_place_where_takes_would_be(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert house.journal is not None
    house.journal._fall_back(files.FULL, sqlite3.OperationalError())
    play(house.journal, "G")
    aside = house.journal.aside
    assert aside is not None
    assert aside.name in house.trouble

    def full(path: Path) -> sqlite3.Connection:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files, "connect", full)
    play(house.journal, "Eb")
    assert house.trouble.endswith("do not quit yet.")


def test_a_jack_server_that_hangs_is_named_where_the_last_key_would_be(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    house.ports = Ports(backend=NoBackend())
    assert screen(house).quiet() == say("setup.last.none")
    monkeypatch.setattr("trainer.listening.backends.hangs", lambda: True)
    assert screen(house).quiet() == JACK_HANGS
    screen(house).heard(Press(0.0, 60, 64))
    assert JACK_HANGS not in screen(house).quiet()


def test_what_befalls_the_piano_and_the_sound_at_once_is_told_together(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    house.ports = Ports(backend=NoBackend())
    monkeypatch.setattr(house.ports, "watch", lambda: ["Stage is gone.", "Grand is connected."])
    monkeypatch.setattr(house.sound, "lines", lambda: ["No sound device answers."])
    house.loop._happened([])
    assert house.notice is not None
    assert house.notice.words == "Stage is gone. Grand is connected. No sound device answers."


def test_sheets_are_printed_where_the_player_wishes_by_keyboard_or_mouse(
    house: House, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desktop, stick = tmp_path / "desktop", tmp_path / "stick"
    desktop.mkdir()
    stick.mkdir()
    monkeypatch.setattr(folders, "desktop", lambda: desktop)
    monkeypatch.setattr(folders, "downloads", lambda: tmp_path / "none")

    def into() -> str:
        house.draw()
        (field,) = [one for one in fields(screen(house), "player") if one.name == "sheets"]
        return field.shown[field.at]

    assert into() == str(folders.sheets())
    press(house, "s")
    assert (into(), house.settings.sheets) == (str(desktop), str(desktop))
    press(house, "s")
    assert house.settings.sheets == ""
    screen(house).type_folder(f" {stick} ")
    press(house, "\r")
    assert (into(), house.settings.sheets) == (str(stick), str(stick))
    kept.save(house.settings)
    assert kept.load("Ada").sheets == str(stick)
    press(house, "s")
    screen(house).dropped([str(stick)])
    assert house.settings.sheets == str(stick)
    piece = str(find("three-bells"))
    move = plan(read(piece).key, "Eb")
    printed = studies.printed(piece, move, str(folders.data()), house.settings)
    assert Path(printed).parent == stick
    # Pulled out meanwhile: it is said, and no folder of that name is made in its place.
    Path(printed).unlink()
    stick.rmdir()
    with pytest.raises(MusicError, match=r"not there or cannot be written into: plug it in again, or choose another"):
        studies.printed(piece, move, str(folders.data()), house.settings)
    assert not stick.exists()


@pytest.mark.parametrize("name", ["nowhere", "a file", "\0", "closed", "x" * 900])
def test_a_folder_nothing_can_be_printed_into_is_refused_in_a_sentence(
    house: House, tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a file").write_text("")
    (tmp_path / "closed").mkdir()
    monkeypatch.setattr("os.access", lambda place, how: Path(place).name != "closed")
    screen(house).type_folder(str(tmp_path / name))
    press(house, "\r")
    assert house.settings.sheets == ""
    assert house.notice is not None
    assert house.notice.words.startswith("Nothing can be printed into ")
    assert house.notice.words.endswith("name a folder that is there and that you may write into.")
    assert screen(house).folder, "what was typed stays, to be mended"
