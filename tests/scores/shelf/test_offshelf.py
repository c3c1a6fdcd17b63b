"""The way off the shelf and back: nothing is lost, nothing written over, and what cannot be done is said."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

from trainer.music.pitch import MusicError
from trainer.scores.shelf.keeping import brought, unfolded
from trainer.scores.shelf.library import Shelf, answers, find, own_folder
from trainer.scores.shelf.offshelf import off, off_folder, on, put_back, take_off, taken_off

TUNE = "X:1\nT:Evening at the Weir\nM:4/4\nL:1/4\nK:G\nG A B c|d4|\n"


def own(name: str, text: str = TUNE) -> Path:
    place = own_folder() / name
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_text(text)
    return place


def titles() -> set[str]:
    shelf = Shelf()
    shelf.refresh()
    return {entry.title for entry in shelf.entries}


def test_a_piece_leaves_the_shelf_for_a_folder_beside_it_and_comes_back_where_it_lay(home: Path) -> None:
    place = own("songs/weir.abc")
    gone = take_off(place)
    assert gone == home / "pieces taken off" / "songs" / "weir.abc"
    assert gone.read_text(encoding="utf-8") == TUNE
    assert "Evening at the Weir" not in titles()
    assert [one.title for one in taken_off()] == ["Evening at the Weir"]
    assert put_back(gone) == place
    assert "Evening at the Weir" in titles()
    assert taken_off() == []


def test_neither_way_writes_over_another_file(home: Path) -> None:
    for text in (TUNE, TUNE.replace("d4", "g4")):
        take_off(own("weir.abc", text))
    assert sorted(one.name for one in off_folder().iterdir()) == ["weir 2.abc", "weir.abc"]
    own("weir.abc", TUNE.replace("d4", "b4"))
    assert put_back(off_folder() / "weir.abc").name == "weir 2.abc"
    assert len(list(own_folder().iterdir())) == 2


def test_what_comes_along_stays(home: Path) -> None:
    with pytest.raises(MusicError, match="'ode-to-joy' comes with Keyfarer and stays"):
        take_off(on("ode to joy"))
    assert find("ode-to-joy").exists()


def test_where_the_folder_cannot_be_changed_the_piece_stays_and_it_is_said(home: Path) -> None:
    place = own("weir.abc")
    off_folder().write_text("a file where the folder should be")
    with pytest.raises(MusicError, match=r"'weir.abc' stays on the shelf \(.*\): see to the rights of"):
        take_off(place)
    assert place.read_text(encoding="utf-8") == TUNE


def test_what_was_copied_and_cannot_be_deleted_lies_in_one_place_only(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = own("weir.abc")

    def copied(source: Path, goal: Path) -> None:
        shutil.copy(source, goal)
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(shutil, "move", copied)
    with pytest.raises(MusicError, match="stays on the shelf"):
        take_off(place)
    assert place.exists()
    assert list(off_folder().iterdir()) == []


def test_pieces_are_named_by_title_file_or_path_and_two_of_a_name_by_their_path(home: Path) -> None:
    place = own("weir.abc")
    torn = own("torn.musicxml", "<score-partwise>")
    for name in ("Evening at the weir", "weir", "weir.abc", str(place)):
        assert on(name) == place
    assert on("torn") == torn
    other = own("songs/weir.abc", TUNE.replace("d4", "g4"))
    with pytest.raises(MusicError, match="'weir' is the name of several: say which"):
        on("weir")
    assert on(str(other)) == other
    gone = take_off(other)
    assert off("weir") == gone
    with pytest.raises(MusicError, match="No piece that was taken off the shelf is called 'Waltz'"):
        off("Waltz")


def test_what_is_brought_again_lies_where_it_lay(home: Path, tmp_path: Path) -> None:
    place = own("songs/weir.abc")
    mail = tmp_path / "sent again.abc"
    shutil.copy(place, mail)
    take_off(place)
    found = brought(mail)
    assert (found.path, found.is_new) == (str(place), True)
    assert taken_off() == []
    gone = take_off(place)
    assert brought(gone).path == str(place)
    assert not gone.exists()


def test_music_without_a_title_is_called_as_on_the_shelf(home: Path, tmp_path: Path) -> None:
    for name in ("one.abc", "two.abc"):
        (tmp_path / name).write_text(TUNE.replace("T:Evening at the Weir\n", ""))
    assert brought(tmp_path / "one.abc").piece.title == "One"
    again = brought(tmp_path / "two.abc")
    assert (again.piece.title, Path(again.path).name, again.is_new) == ("One", "one.abc", False)


def test_of_a_folder_the_music_in_it_is_brought(home: Path, tmp_path: Path) -> None:
    folder, empty = tmp_path / "songs", tmp_path / "empty"
    empty.mkdir()
    for name in ("b.abc", "a.abc", "letter.txt", "more/c.abc"):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(TUNE)
    files = [str(folder / name) for name in ("a.abc", "b.abc", os.path.join("more", "c.abc"))]
    assert unfolded([str(folder), str(empty)]) == [*files, str(empty)]
    with pytest.raises(MusicError, match="The folder 'empty' holds no music"):
        brought(empty)


def test_the_word_yours_finds_what_is_the_players_own(home: Path) -> None:
    own("weir.abc")
    shelf = Shelf()
    shelf.refresh()
    assert [one.title for one in shelf.entries if answers(one, "yours")] == ["Evening at the Weir"]
