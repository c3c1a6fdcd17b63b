"""A file dropped on the window: one that cannot be read is one quiet line, and nothing else changes."""

from __future__ import annotations

import json
import os
import pathlib
import subprocess
import sys
from dataclasses import replace

import pygame
import pytest

from tools import staging
from trainer.app import build
from trainer.folders import cache as cache_folder
from trainer.journal.store import Journal
from trainer.listening.clock import now
from trainer.listening.press import Press
from trainer.music.keys import Key
from trainer.music.transpose import plan
from trainer.refusal import CannotDo
from trainer.scores.shelf import library
from trainer.scores.shelf.library import Entry, Shelf, find, own_folder
from trainer.scores.shelf.offshelf import off_folder
from trainer.window.desk import shelving
from trainer.window.desk.desk import Desk
from trainer.window.house import opening
from trainer.window.house.house import House
from trainer.window.house.opening import begin
from trainer.window.house.still import house_of
from trainer.window.stand.stand import Stand
from trainer.window.studio.handingpage import HandingPage
from trainer.window.wish import Wish
from trainer.window.workroom import pieces

ROOT = pathlib.Path(__file__).resolve().parents[3]
NOT_MUSIC = {
    "holiday.jpg": b"\xff\xd8\xff\xe0\x00\x10JFIF" + bytes(range(256)) * 8,
    "torn.musicxml": b"<?xml version='1.0'?><score-partwise><part-list><score-part id='P1'>",
    "empty.mid": b"",
}

# The window itself on a real screen: a take is begun, a file is dropped as the system tells SDL, and what is then
# there is told.
PROGRAM = """
import json, sys, threading, time
import pygame
from tools import staging
from trainer.listening.clock import now
from trainer.listening.press import Press
from trainer.window.house.house import House
from trainer.window.settings import Settings

def main():
    path = sys.argv[1]
    house = House(Settings(), (1280, 800))
    house.open_window()
    stand = staging.stand_of(house, "aura-lee", "Eb")
    told = {}

    def state():
        practice = stand.practice
        return [house.screen.name, practice.wish.piece.title, practice.phase, len(practice.presses), len(stand.slips)]

    def until(what, seconds=60.0):
        end = time.monotonic() + seconds
        while not what() and time.monotonic() < end:
            time.sleep(0.05)

    def drop():
        until(lambda: house.ready and stand.page.score is not None)
        first = stand.practice.wish.expected.notes[0].midi
        for pitch in (first, first + 1):
            house.played.put((Press(now(), pitch, 64), now()))
        house.wake()
        until(lambda: len(stand.practice.presses) == 2)
        house.notice = None
        told["before"] = state()
        pygame.event.post(pygame.event.Event(pygame.DROPFILE, file=path))
        until(lambda: house.notice is not None and house.workroom.waiting == 0)
        time.sleep(0.3)
        told["after"], told["line"] = state(), house.notice.words
        pygame.event.post(pygame.event.Event(pygame.QUIT))

    threading.Thread(target=drop).start()
    house.run()
    print(json.dumps(told))

if __name__ == "__main__":
    main()
"""


@pytest.mark.system
def test_an_unreadable_file_dropped_on_a_real_window_changes_nothing(
    display: str, home: pathlib.Path, tmp_path: pathlib.Path
) -> None:
    file, program = tmp_path / "torn.musicxml", tmp_path / "dropping.py"
    file.write_bytes(NOT_MUSIC["torn.musicxml"])
    program.write_text(PROGRAM)
    environment = {**os.environ, "DISPLAY": display, "SDL_VIDEODRIVER": "x11", "SDL_AUDIODRIVER": "dummy",
                   "KEYFARER_HOME": str(home), "PYTHONPATH": str(ROOT)}  # fmt: skip
    done = subprocess.run([sys.executable, str(program), str(file)], env=environment, cwd=ROOT, capture_output=True,
                          text=True, timeout=120, check=False)  # fmt: skip
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout.splitlines()[-1])
    assert told["before"][0] == "stand"
    assert told["before"][3] == 2
    assert told["after"] == told["before"]
    assert "torn.musicxml" in told["line"]
    assert told["line"].endswith(".")
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("name", NOT_MUSIC)
def test_the_line_is_one_sentence_and_the_take_goes_on(name: str, tmp_path: pathlib.Path) -> None:
    (tmp_path / name).write_bytes(NOT_MUSIC[name])
    with staging.home():
        house = house_of((1280, 800))
        stand = staging.stand_of(house, "aura-lee", "Eb")
        staging.slips(house, stand)
        practice = stand.practice
        assert practice is not None
        before = (practice.phase, list(practice.presses), list(stand.slips), stand.page.score)
        house.notice = None
        house.handle(pygame.event.Event(pygame.DROPFILE, file=str(tmp_path / name)))
        house.draw()
        assert house.screen is stand
        assert stand.practice is practice
        assert (practice.phase, practice.presses, stand.slips, stand.page.score) == before
        assert house.notice is not None
        assert "\n" not in house.notice.words
        house.close()


OWN = "X:1\nT:A tune of mine\nM:4/4\nL:1/4\nK:D\nD E F G|A4|\n"


def dropped(house: House, path: pathlib.Path) -> Wish:
    """What lies on the stand once a file was dropped."""
    house.notice = None
    house.handle(pygame.event.Event(pygame.DROPFILE, file=str(path)))
    stand = house.screen
    assert isinstance(stand, Stand)
    assert stand.practice is not None
    return stand.practice.wish


def line(house: House) -> str:
    return house.notice.words if house.notice is not None else ""


def test_a_file_that_can_be_read_comes_to_the_stand_as_written_and_stays_on_the_shelf(tmp_path: pathlib.Path) -> None:
    mine = tmp_path / "my own.abc"
    mine.write_text(OWN)
    with staging.home():
        house = house_of((1280, 800))
        house.go("desk")
        wish = dropped(house, mine)
        kept = own_folder() / "my own.abc"
        assert (wish.name, wish.plan.interval.semitones) == (str(kept), 0)
        assert kept.read_text(encoding="utf-8") == OWN
        assert line(house).startswith("my own.abc lies on your shelf from now on, in ")
        mine.unlink()
        house.go("desk")
        desk = house.screen
        assert isinstance(desk, Desk)
        assert desk.entry is not None
        assert (desk.entry.title, desk.entry.path) == ("A tune of mine", str(kept))
        house.close()
        again = Shelf()
        assert str(kept) in {entry.path for entry in again.entries}


def test_what_lies_on_the_shelf_is_not_copied_again(tmp_path: pathlib.Path) -> None:
    with staging.home():
        house = house_of((1280, 800))
        house.go("desk")
        mine, same = tmp_path / "mine.abc", tmp_path / "sent again.abc"
        for file in (mine, same):
            file.write_text(OWN)
        kept = dropped(house, mine).name
        assert dropped(house, same).name == kept
        assert line(house) == "sent again.abc lay on your shelf already, as “A tune of mine”: nothing was copied."
        assert dropped(house, pathlib.Path(kept)).name == kept
        assert line(house) == ""
        bundled = tmp_path / "ode.musicxml"
        bundled.write_bytes(find("ode-to-joy").read_bytes())
        assert dropped(house, bundled).name == str(find("ode-to-joy"))
        assert [file.name for file in own_folder().iterdir()] == ["mine.abc"]
        house.close()


def test_of_two_pieces_of_one_name_both_are_kept_and_each_has_an_ending_of_music(tmp_path: pathlib.Path) -> None:
    with staging.home():
        house = house_of((1280, 800))
        house.go("desk")
        other = OWN.replace("D E F G", "d A d A")
        for folder, name, text in (("a", "mine.abc", OWN), ("b", "mine.abc", other), ("c", ".notes.txt", other + " ")):
            file = tmp_path / folder / name
            file.parent.mkdir()
            file.write_text(text)
            dropped(house, file)
        assert line(house).startswith(".notes.txt lies on your shelf from now on, as notes.abc in ")
        assert {file.name: file.read_text(encoding="utf-8") for file in own_folder().iterdir()} == {
            "mine.abc": OWN, "mine 2.abc": other, "notes.abc": other + " ",
        }  # fmt: skip
        house.close()


def test_an_export_put_right_takes_the_place_of_the_older_one_which_ctrl_z_puts_back(tmp_path: pathlib.Path) -> None:
    """It lay beside the older one under the same title, and nothing told which was which."""
    mine, mended = tmp_path / "mine.abc", OWN.replace("A4", "d4")
    mine.write_text(OWN)
    with staging.home():
        house = house_of((1280, 800))
        house.go("desk")
        place = dropped(house, mine).name
        mine.write_text(mended)
        assert dropped(house, mine).name == place
        assert pathlib.Path(place).read_text(encoding="utf-8") == mended
        assert line(house) == (
            "mine.abc has taken the place of the A tune of mine that lay on your shelf; its takes stay, and ctrl z at "
            "the Desk puts the older one back."
        )
        house.go("desk")
        house.draw()
        desk = house.screen_of(Desk)
        assert [entry.title for entry in desk.entries if not entry.bundled] == ["A tune of mine"]
        pressed(house, pygame.K_z, pygame.KMOD_CTRL)
        assert {file.name: file.read_text(encoding="utf-8") for file in own_folder().iterdir()} == {
            "mine.abc": mended, "mine 2.abc": OWN,
        }  # fmt: skip
        dropped_together(house, mine, *tunes(tmp_path, "b.abc"))
        mine.write_text(mended.replace("D E", "E E"))
        dropped_together(house, mine, tmp_path / "b.abc")
        assert line(house) == "2 files came: 1 newer, the older off your shelf, 1 there already."
        house.close()


def test_where_the_shelf_takes_no_file_the_piece_is_played_all_the_same(tmp_path: pathlib.Path) -> None:
    mine = tmp_path / "mine.abc"
    mine.write_text(OWN)
    with staging.home():
        own_folder().parent.mkdir(parents=True, exist_ok=True)
        own_folder().write_text("a file where the folder should be")
        house = house_of((1280, 800))
        house.go("desk")
        assert dropped(house, mine).name == str(mine)
        assert line(house).startswith("mine.abc is not on your shelf, for ")
        assert line(house).endswith("then drop it again.")
        house.close()


def test_a_piece_played_before_lies_there_in_the_key_it_was_played_in(tmp_path: pathlib.Path) -> None:
    mine = tmp_path / "mine.abc"
    mine.write_text(OWN)
    with staging.home():
        house = house_of((1280, 800))
        house.journal = Journal()
        house.go("desk")
        house.screen_of(Stand).play(replace(dropped(house, mine), plan=plan(Key.parse("D"), "Bb", "up")))
        stand = house.screen_of(Stand)
        assert stand.practice is not None
        for at, note in enumerate(stand.practice.wish.expected.notes):
            house.hear(Press(0.5 * at, note.midi, 64), now())
        stand.stop()
        house.journal.flush()
        wish = dropped(house, mine)
        assert (wish.plan.target.short, wish.plan.interval.semitones) == ("Bb", 8)
        house.close()


def book_of(place: pathlib.Path, *bodies: str) -> pathlib.Path:
    """A book of tunes, each of a bar and a note."""
    place.parent.mkdir(parents=True, exist_ok=True)
    tunes = (f"X:{at}\nT:Tune {10 - at}\nK:D\n{body}\n\n" for at, body in enumerate(bodies, 1))
    place.write_text("M:4/4\nL:1/4\nC:Ida Fell\n\n" + "".join(tunes))
    return place


def test_each_tune_of_a_book_dropped_is_a_piece_in_the_books_order_and_one_torn_costs_only_itself(
    tmp_path: pathlib.Path,
) -> None:
    """Only the first tune came."""
    book = book_of(tmp_path / "evening.abc", "D E F G|A4|", "D E F G|B4|", "z4|z4|", "D E F A|d4|")
    with staging.home():
        house = house_of((1280, 800))
        house.go("keys")
        house.handle(pygame.event.Event(pygame.DROPFILE, file=str(book)))
        house.draw()
        desk = house.screen
        assert isinstance(desk, Desk)
        assert line(house) == (
            "4 tunes came: 3 new on your shelf, 1 not brought. Not brought: evening.abc, X:3 Tune 7; the Desk says why."
        )
        assert house.canvas is not None
        (said,) = (box.text for box in house.canvas.boxes if box.name == "left.words")
        assert said.startswith("Not on your shelf: 'evening.abc, X:3 Tune 7' holds no notes to play")
        assert desk.entry is not None
        assert (desk.entry.title, desk.entry.composer) == ("Tune 9", "Ida Fell")
        desk.find = "evening"
        assert [entry.title for entry in desk.shown] == ["Tune 9", "Tune 8", "Tune 6"]
        house.handle(pygame.event.Event(pygame.DROPFILE, file=str(book)))
        assert line(house).startswith("4 tunes came: 3 there already, 1 not brought.")
        house.close()


def test_a_book_laid_into_the_folder_by_hand_and_opened_by_its_name_is_there_tune_by_tune() -> None:
    with staging.home():
        book_of(own_folder() / "evening.abc", "D E F G|A4|", "D E F G|B4|")
        house = house_of((1280, 800))
        house.go("desk")
        desk = house.screen_of(Desk)
        assert [entry.title for entry in desk.entries if not entry.bundled] == ["Tune 9", "Tune 8"]
        given = opening._given(build(["evening"])[0].parse_args(["open", "evening"]))
        begin(house, given)
        desk.opened()
        assert line(house) == "2 tunes came: 2 there already."
        assert desk.entry is not None
        assert desk.entry.title == "Tune 9"
        house.close()


def test_a_shelf_of_many_new_files_is_read_in_turns_and_at_once_where_nothing_can_be_kept(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Whoever played waited for a page until the last file was read."""
    with staging.home():
        book_of(own_folder() / "evening.abc", *(f"D E F G|{letter}4|" for letter in "ABcde"))
        monkeypatch.setattr(pieces, "_WHILE_S", 0.0)
        turns: list[tuple[bool, int]] = []

        def counted(at_once: bool = False) -> tuple[list[Entry], str, int]:
            found = shelved(at_once)
            turns.append((at_once, found[2]))
            return found

        shelved = pieces.shelved
        monkeypatch.setattr(pieces, "shelved", counted)
        house = house_of((1280, 800))
        Shelf([]).refresh()
        shelving.shelve(house, lambda entries: turns.append((False, -len([one for one in entries if not one.bundled]))))
        assert turns == [(False, 4), (False, 3), (False, 2), (False, 1), (False, 0), (False, -5)]
        turns.clear()
        monkeypatch.setattr(library, "_keep", lambda *_: None)
        (cache_folder() / "shelf").unlink()
        shelving.shelve(house, lambda entries: turns.append((False, -len([one for one in entries if not one.bundled]))))
        assert turns[1:] == [turns[0], (True, 0), (False, -5)]
        house.close()


def dropped_together(house: House, *paths: pathlib.Path) -> None:
    """Files dropped as the system tells SDL of them: a beginning, one by one, an end."""
    house.notice = None
    house.handle(pygame.event.Event(pygame.DROPBEGIN))
    for path in paths:
        house.handle(pygame.event.Event(pygame.DROPFILE, file=str(path)))
    house.handle(pygame.event.Event(pygame.DROPCOMPLETE))
    house.draw()


def tunes(folder: pathlib.Path, *names: str) -> list[pathlib.Path]:
    """Files of music that differ."""
    made = [folder / name for name in names]
    for at, path in enumerate(made):
        path.write_text(OWN.replace("A4", f"A{at + 1}").replace("A tune of mine", f"Tune {path.stem}"))
    return made


def test_of_several_dropped_together_one_line_counts_and_the_desk_says_why_some_are_left(
    tmp_path: pathlib.Path,
) -> None:
    for name, data in NOT_MUSIC.items():
        (tmp_path / name).write_bytes(data)
    with staging.home():
        house = house_of((1280, 800))
        house.go("keys")
        files = tunes(tmp_path, "b.abc", "a.abc")
        dropped_together(house, *files, *(tmp_path / name for name in NOT_MUSIC))
        assert line(house) == (
            "5 files came: 2 new on your shelf, 3 not brought. Not brought: holiday.jpg, torn.musicxml, empty.mid; "
            "the Desk says why."
        )
        desk = house.screen
        assert isinstance(desk, Desk)
        assert desk.entry is not None
        assert desk.entry.title == "Tune b"
        assert house.canvas is not None
        for name in ("holiday.jpg", "torn.musicxml", "empty.mid", "holiday.jpg"):
            (said,) = (box.text for box in house.canvas.boxes if box.name == "left.words")
            assert name in said
            house.handle(pygame.event.Event(pygame.KEYDOWN, key=pygame.K_a, mod=0, unicode="a", scancode=0))
            house.draw()
        house.handle(pygame.event.Event(pygame.KEYDOWN, key=pygame.K_x, mod=0, unicode="x", scancode=0))
        house.draw()
        assert not any(box.name == "left.words" for box in house.canvas.boxes)
        dropped_together(house, *files)
        assert line(house) == "2 files came: 2 there already."
        house.close()


def test_who_plays_is_not_led_away_by_several_files(tmp_path: pathlib.Path) -> None:
    with staging.home():
        house = house_of((1280, 800))
        stand = staging.stand_of(house, "aura-lee", "Eb")
        practice = stand.practice
        dropped_together(house, *tunes(tmp_path, "b.abc", "a.abc"))
        assert house.screen is stand
        assert stand.practice is practice
        assert line(house).startswith("2 files came: 2 new on your shelf, in ")
        house.close()


def test_of_a_folder_dropped_the_music_comes_and_what_was_handed_over_beside_music_is_taken_in_too(
    tmp_path: pathlib.Path,
) -> None:
    folder = tmp_path / "songs"
    folder.mkdir()
    work = tmp_path / "work.toml"
    work.write_text('[[assignment]]\npiece = "aura-lee"\ntitle = "Aura Lee"\nkeys = ["Eb"]\n')
    with staging.home():
        house = house_of((1280, 800))
        house.open_journal()
        house.go("desk")
        tunes(folder, "b.abc", "a.abc")
        dropped_together(house, folder, work)
        assert sorted(file.name for file in own_folder().iterdir()) == ["a.abc", "b.abc"]
        assert house.screen_of(HandingPage).rows
        house.close()


def test_a_file_named_when_the_window_is_opened_stays_on_the_shelf_and_it_is_said(
    tmp_path: pathlib.Path,
) -> None:
    mine = tmp_path / "mine.abc"
    mine.write_text(OWN)
    with staging.home():
        given = opening._given(build([str(mine), "--to", "Bb"])[0].parse_args(["open", str(mine), "--to", "Bb"]))
        house = house_of((1280, 800))
        begin(house, given)
        assert house.on_stand is not None
        assert (house.on_stand.name, house.on_stand.plan.target.short) == (str(own_folder() / "mine.abc"), "Bb")
        assert line(house).startswith("mine.abc lies on your shelf from now on, in ")
        house.close()
        again = opening._given(build(["aura-lee"])[0].parse_args(["open", "aura-lee"]))
        assert again.found is not None
        assert not again.found.is_new


def test_several_files_named_when_the_window_is_opened_fill_the_shelf(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    files = tunes(tmp_path, "b.abc", "a.abc")
    monkeypatch.chdir(tmp_path)
    with staging.home():
        house = house_of((1280, 800))
        words = ["open", *(file.name for file in files)]
        begin(house, opening._given(build(words)[0].parse_args(words)))
        assert not own_folder().exists()
        house.screen_of(Desk).opened()
        assert sorted(file.name for file in own_folder().iterdir()) == ["a.abc", "b.abc"]
        assert line(house).startswith("2 files came: 2 new on your shelf")
        house.close()
    words = ["open", "au", "clair", "de", "la", "lune"]
    with pytest.raises(CannotDo, match="There is no file 'au': put a title of several words in quotes"):
        opening._given(build(words)[0].parse_args(words))


def pressed(house: House, key: int, mod: int = 0) -> None:
    house.handle(pygame.event.Event(pygame.KEYDOWN, key=key, mod=mod, unicode="", scancode=0))
    house.draw()


def test_delete_takes_a_piece_of_ones_own_off_the_shelf_and_ctrl_z_puts_it_back(tmp_path: pathlib.Path) -> None:
    with staging.home():
        house = house_of((1280, 800))
        house.go("desk")
        dropped_together(house, *tunes(tmp_path, "b.abc", "a.abc"))
        desk = house.screen_of(Desk)
        assert desk.entry is not None
        title, place = desk.entry.title, pathlib.Path(desk.entry.path)
        # While a piece is looked for the key belongs to the line.
        pressed(house, pygame.K_SLASH)
        pressed(house, pygame.K_DELETE)
        assert place.exists()
        house.focus("shelf")
        house.draw()
        pressed(house, pygame.K_DELETE)
        assert not place.exists()
        assert line(house).startswith(f"{title} is off your shelf, its takes stay; ctrl z puts it back.")
        assert title not in {entry.title for entry in desk.entries}
        desk.show_path(str(find("ode-to-joy")))
        house.draw()
        pressed(house, pygame.K_DELETE)
        assert find("ode-to-joy").exists()
        pressed(house, pygame.K_z, pygame.KMOD_CTRL)
        assert place.exists()
        assert line(house) == f"{title} is on your shelf again."
        assert desk.entry is not None
        assert desk.entry.path == str(place)
        house.close()


def test_a_piece_that_cannot_leave_the_shelf_stays_in_sight(tmp_path: pathlib.Path) -> None:
    with staging.home():
        house = house_of((1280, 800))
        house.go("desk")
        dropped_together(house, *tunes(tmp_path, "b.abc", "a.abc"))
        desk = house.screen_of(Desk)
        assert desk.entry is not None
        place = desk.entry.path
        off_folder().write_text("a file where the folder should be")
        pressed(house, pygame.K_DELETE)
        assert "stays on the shelf" in line(house)
        assert desk.entry.path == place
        house.close()
