"""The shelf: found by name, indexed, refreshed, cancelled."""

from __future__ import annotations

import errno
import os
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from tests.scores.making import note, piece
from trainer import folders
from trainer.music.compass import LEVELS
from trainer.music.piece import LEFT, Note
from trainer.music.pitch import MusicError
from trainer.scores import reading
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.shelf import library
from trainer.scores.shelf.keeping import brought
from trainer.scores.shelf.library import Shelf, answers, bundled_folder, describe, find


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("KEYFARER_HOME", str(tmp_path))
    folder = tmp_path / "pieces"
    folder.mkdir()
    bundled = tmp_path / "bundled" / "pentachord"
    bundled.mkdir(parents=True)
    shutil.copy(bundled_folder() / "pentachord" / "ode-to-joy.musicxml", bundled)
    monkeypatch.setattr(library, "bundled_folder", lambda: bundled.parent)
    return folder


def add(folder: Path, name: str, title: str, *notes: Note) -> Path:
    made = replace(piece(*(notes or (note("a", "C4", 0, 4),))), title=title, composer="Ann Author")
    place = folder / name
    place.write_text(to_musicxml(made))
    return place


def test_a_piece_is_found_by_path_stem_and_title(own: Path) -> None:
    place = add(own, "river-song.musicxml", "Wide River (old)")
    for name in (str(place), "river-song", "River Song", "RIVER_SONG.musicxml", "wide river old", "Wide River (Old)"):
        assert find(name) == place
    assert find("ode to joy").stem == "ode-to-joy"


def test_a_name_that_is_nearly_right_is_answered_with_the_nearest(own: Path) -> None:
    add(own, "river-song.musicxml", "Wide River")
    with pytest.raises(MusicError, match="did you mean 'river-song'"):
        find("rivr song")
    with pytest.raises(MusicError, match="give a path"):
        find("zzzzqqqq")
    with pytest.raises(MusicError, match="folder"):
        find(own)


def test_an_entry_says_what_the_piece_is(own: Path) -> None:
    add(own, "a.musicxml", "Alpha", note("r", "C5", 0, 4), note("s", "G5", 4, 4), note("l", "C3", 0, 4, LEFT))
    shelf = Shelf()
    shelf.refresh()
    entry = next(e for e in shelf.entries if e.title == "Alpha")
    assert (entry.level, entry.hands, entry.mode, entry.key, entry.meter, entry.compass) == (
        "pentachord", "both", "major", "C", "4/4", "+P5",
    )  # fmt: skip
    assert (entry.bars, entry.notes, entry.composer, entry.bundled) == (2, 3, "Ann Author", False)
    assert [e.title for e in shelf.entries if answers(e, "ann alph")] == ["Alpha"]


def test_bundled_pieces_are_all_readable_and_on_the_level_of_their_folder() -> None:
    shelf = Shelf([])
    shelf.refresh()
    assert shelf.faults == []
    assert len(shelf.entries) >= 12
    for entry in shelf.entries:
        assert entry.level == Path(entry.path).parent.name
        assert entry.level in LEVELS


def test_the_second_opening_reads_no_piece(own: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    add(own, "a.musicxml", "Alpha")
    changing = add(own, "b.musicxml", "Beta")
    assert Shelf().waiting > 0
    Shelf().refresh()
    with monkeypatch.context() as patch:
        patch.setattr(reading, "read", lambda *_: pytest.fail("a piece was read"))
        shelf = Shelf()
        assert shelf.waiting == 0
        assert {"Alpha", "Beta"} <= {entry.title for entry in shelf.entries}
    add(own, "b.musicxml", "Beta, much changed")
    add(own, "c.musicxml", "Gamma")
    shelf = Shelf()
    assert shelf.waiting == 1  # a new name is seen at once, a changed file when it is looked at closely
    shelf.refresh()
    assert "Gamma" in {entry.title for entry in shelf.entries}
    assert "Beta, much changed" in {entry.title for entry in shelf.entries}
    changing.unlink()
    assert "Beta, much changed" not in {entry.title for entry in Shelf().entries}


def test_a_large_import_shows_progress_and_can_be_stopped_and_taken_up_again(own: Path) -> None:
    Shelf().refresh()
    for number in range(8):
        add(own, f"{number}.musicxml", f"Piece {number}")
    seen: list[tuple[int, int]] = []

    def stop_after_three(done: int, total: int) -> bool:
        seen.append((done, total))
        return done < 3

    shelf = Shelf()
    assert shelf.refresh(stop_after_three) is False
    assert seen == [(1, 8), (2, 8), (3, 8)]
    assert shelf.waiting == 5
    later = Shelf()
    assert later.waiting == 5
    assert later.refresh()
    assert len([entry for entry in later.entries if not entry.bundled]) == 8


def test_a_damaged_index_is_made_anew(own: Path) -> None:
    add(own, "a.musicxml", "Alpha")
    Shelf().refresh()
    for junk in (b"{", b"[]", b'{"make": 0}', b'{"make":[1,1],"entries":[[1]]}'):
        (folders.cache() / "shelf").write_bytes(junk)
        shelf = Shelf()
        shelf.refresh()
        assert "Alpha" in {entry.title for entry in shelf.entries}


def test_recorded_takes_are_no_pieces(own: Path) -> None:
    (own / "takes").mkdir()
    add(own / "takes", "take.musicxml", "A take")
    shelf = Shelf()
    shelf.refresh()
    assert [entry.title for entry in shelf.entries] == ["Ode to Joy"]


def test_a_file_whose_name_is_no_text_is_read_and_hides_no_other(own: Path) -> None:
    name = os.fsdecode(b"\xe9tude.musicxml")
    try:
        add(own, name, "")
    except OSError:
        pytest.skip("this disk takes no such name")
    add(own, "a.musicxml", "A Walk")
    assert reading.read(own / name).title == "?tude"
    for _ in range(2):  # the second time from the index
        shelf = Shelf()
        shelf.refresh()
        assert {"?tude", "A Walk"} <= {entry.title for entry in shelf.entries}
    assert find("a walk").name == "a.musicxml"


def test_what_is_deleted_leaves_the_index(own: Path) -> None:
    add(own, "mine.musicxml", "Mine")
    Shelf([own]).refresh()
    assert b"mine.musicxml" in (folders.cache() / "shelf").read_bytes()
    (own / "mine.musicxml").unlink()
    Shelf([own]).refresh()
    assert b"mine.musicxml" not in (folders.cache() / "shelf").read_bytes()


def test_a_path_that_is_wrong_is_no_piece_of_another_name(tmp_path: Path) -> None:
    with pytest.raises(MusicError, match=r"There is no file '.*lamp.mid': check the folder and the name\.$"):
        find(str(tmp_path / "lamp.mid"))


def test_songs_duets_and_choirs_are_found_by_what_they_are() -> None:
    named = ("schwesterlein", "day-comes-up-the-hill", "la-partenza", "garden-gate")
    entries = [describe(str(path)) for name in named for path in bundled_folder().glob(f"*/{name}.musicxml")]
    found = {words: [e.title for e in entries if answers(e, words)] for words in ("song", "duet", "choir", "song part")}
    assert found == {
        "song": ["Schwesterlein", "Day Comes up the Hill", "La partenza"],
        "duet": ["Schwesterlein"],
        "choir": ["Day Comes up the Hill"],
        "song part": ["La partenza"],
    }
    assert [entry.sung for entry in entries] == ["duet", "choir", "song", ""]


def test_a_folder_that_cannot_be_read_is_told_and_what_lay_in_it_is_not_forgotten(
    own: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = add(own, "river-song.musicxml", "Wide River")
    shelf = Shelf()
    shelf.refresh()
    assert (shelf.trouble, len(shelf.entries)) == ("", 2)
    scandir = os.scandir

    def closed(folder: str) -> object:
        if folder == str(own):
            raise PermissionError(13, "Permission denied")
        return scandir(folder)

    monkeypatch.setattr(os, "scandir", closed)
    monkeypatch.setattr(os.path, "lexists", lambda path: not str(path).startswith(f"{own}{os.sep}"))
    shelf.refresh()
    assert shelf.trouble == (
        f"The folder {own} cannot be read (permission denied), so its pieces are not here: see to its rights, or "
        "connect the drive it lies on."
    )
    assert [entry.title for entry in shelf.entries] == ["Ode to Joy"]
    monkeypatch.setattr(os, "scandir", scandir)
    again = Shelf()
    assert again.trouble == ""
    # Known from before, without being read again.
    assert str(place) in {entry.path for entry in again.entries}


def test_what_is_brought_from_the_shelf_itself_lies_where_it_lies(own: Path) -> None:
    """Also where the same music lies there once more, before it or after it."""
    data = find("ode-to-joy").read_bytes()
    places = [library.own_folder() / name for name in ("a.musicxml", "b.musicxml")]
    for place in places:
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(data)
    assert [brought(place).path for place in places] == [str(place) for place in places]


def test_where_what_comes_along_is_not_there_that_is_told(own: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(library, "bundled_folder", lambda: own.parent / "gone")
    shelf = Shelf()
    assert (shelf.entries, shelf.trouble.partition(" (")[0]) == ([], f"The folder {own.parent / 'gone'} cannot be read")


def test_a_link_to_a_drive_that_is_gone_is_told_and_a_folder_nobody_made_is_not(own: Path) -> None:
    own.rmdir()
    assert Shelf().trouble == ""
    own.symlink_to(own.parent / "no such drive")
    assert Shelf().trouble.startswith(f"The folder {own} cannot be read (")


def test_a_folder_in_one_that_may_not_be_looked_into_is_told(own: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    scan = os.scandir

    def refused(place: str) -> object:
        if place == str(own):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), place)
        return scan(place)

    own.rmdir()
    monkeypatch.setattr(os, "scandir", refused)
    assert Shelf().trouble.startswith(f"The folder {own} cannot be read (permission denied)")


@pytest.mark.parametrize(
    "kept",
    [
        "C:\\Users\\Ada\\AppData\\Local\\keyfarer\\pieces\\for May\\U\u0308bung 2.abc",
        "\\\\school\\ada\\pieces\\for May\\\u00dcbung 2.abc",
        "D:/keyfarer/pieces/for May/\u00dcbung 2.abc",
        "/home/ada/.local/share/keyfarer/pieces/for May/U\u0308bung 2.abc",
        "/pieces/for May/\u00dcbung 2.abc",
    ],
)
def test_a_piece_of_ones_own_is_found_by_its_path_on_the_computer_it_came_from(own: Path, kept: str) -> None:
    place = own / "for May" / "\u00dcbung 2.abc"
    place.parent.mkdir()
    for path in (place, own / "\u00dcbung 2.abc"):
        path.write_text("X:1\nT:Two\nM:4/4\nL:1/4\nK:C\nCDEF|\n", encoding="utf-8")
    assert find(kept) == place


@pytest.mark.parametrize("absent", ["/home/ada/music/a.abc", "pieces/a.abc", "/home/ada/pieces/b.abc", r"C:\a.abc"])
def test_another_path_that_is_not_here_is_refused(own: Path, absent: str) -> None:
    (own / "a.abc").write_text("X:1\nT:Two\nM:4/4\nL:1/4\nK:C\nCDEF|\n", encoding="utf-8")
    with pytest.raises(MusicError, match="There is no"):
        find(absent)
