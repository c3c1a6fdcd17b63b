"""A newer export takes the place of the older one on the shelf; other music of the same name does not."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from trainer import folders
from trainer.music.likeness import in_common
from trainer.music.pitch import MusicError
from trainer.scores.reading import from_bytes
from trainer.scores.shelf import keeping
from trainer.scores.shelf.keeping import brought, unfolded
from trainer.scores.shelf.library import Shelf, own_folder
from trainer.scores.shelf.offshelf import off_folder

OLD = "X:1\nT:Evening at the Weir\nM:4/4\nL:1/4\nK:G\nG A B c|d c B A|G A B G|G4|\n"
NEW = OLD.replace("G4|", "g4|")
OTHER = OLD.replace("G A B c|d c B A|G A B G", "g D g D|e C e F|g B, d f")


def sent(folder: Path, text: str, name: str = "weir.abc") -> Path:
    folder.mkdir(exist_ok=True)
    (folder / name).write_text(text)
    return folder / name


def there(folder: Path) -> dict[str, str]:
    found = {one.relative_to(folder).as_posix(): one for one in folder.rglob("*.abc")} if folder.is_dir() else {}
    return {name: one.read_text(encoding="utf-8") for name, one in found.items()}


def rows() -> list[str]:
    shelf = Shelf()
    shelf.refresh()
    return [entry.title for entry in shelf.entries if not entry.bundled]


def test_how_much_two_pieces_have_in_common() -> None:
    old, new, other, high, short = (
        from_bytes(text.encode(), "x.abc") for text in (OLD, NEW, OTHER, OLD.replace("K:G", "K:A"), "X:1\nK:C\nC4|\n")
    )
    assert in_common(old, new) == pytest.approx(0.9)
    assert in_common(old, other) < 0.2
    assert in_common(old, high) < 1
    assert in_common(old, short) == 1


def test_the_newer_one_has_the_place_and_the_older_lies_off_the_shelf(home: Path, tmp_path: Path) -> None:
    place = brought(sent(tmp_path, OLD)).path
    found = brought(sent(tmp_path, NEW))
    assert (found.path, found.is_new, found.older) == (place, True, str(off_folder() / "weir.abc"))
    assert (there(own_folder()), there(off_folder())) == ({"weir.abc": NEW}, {"weir.abc": OLD})
    assert rows() == ["Evening at the Weir"]
    # The older one brought again has its place again.
    again = brought(sent(tmp_path, OLD))
    assert (again.path, there(own_folder())) == (place, {"weir.abc": OLD})
    assert list(there(off_folder()).values()) == [NEW]


@pytest.mark.parametrize("text", [OTHER, NEW.replace("Evening at", "Morning at")])
def test_other_music_and_another_title_lie_beside_it(home: Path, tmp_path: Path, text: str) -> None:
    brought(sent(tmp_path, OLD))
    assert brought(sent(tmp_path, text)).older == ""
    assert there(own_folder()) == {"weir.abc": OLD, "weir 2.abc": text}


def test_where_the_newer_one_cannot_be_written_the_older_stays(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    brought(sent(tmp_path, OLD))

    def full(*_: object, **__: object) -> None:
        raise MusicError("full") from OSError(28, "No space left on device")

    monkeypatch.setattr(keeping, "write_whole", full)
    found = brought(sent(tmp_path, NEW))
    assert (found.fault, found.older) == ("No space left on device", "")
    assert (there(own_folder()), there(off_folder())) == ({"weir.abc": OLD}, {})


def test_of_a_book_put_right_only_what_changed_is_new(home: Path, tmp_path: Path) -> None:
    dawn, dusk = "X:2\nT:Dawn\nK:C\nC D E F|\n", "X:3\nT:Dawn\nK:D\nA F D A|\n"
    for one in unfolded([str(sent(tmp_path, "\n".join((OLD, dawn, dusk)), "valley.abc"))]):
        assert brought(one).older == ""
    better = dusk.replace("A F", "d F")
    # A tune has come before them, so that each stands farther back.
    book = sent(tmp_path, "\n".join(("X:0\nT:Noon\nK:C\nG4|\n", OLD, dawn, better)), "valley.abc")
    found = [brought(one) for one in unfolded([str(book)])]
    assert [(one.is_new, Path(one.older).name) for one in found] == [
        (True, ""), (False, ""), (False, ""), (True, "3 Dawn.abc"),
    ]  # fmt: skip
    assert there(own_folder() / "valley") == {
        "1 Noon.abc": "X:0\nT:Noon\nK:C\nG4|\n", "1 Evening at the Weir.abc": OLD, "2 Dawn.abc": dawn,
        "3 Dawn.abc": better,
    }  # fmt: skip
    assert there(off_folder()) == {"valley/3 Dawn.abc": dusk}


def test_a_book_put_right_on_the_shelf_renews_its_tunes_but_none_put_right_by_hand(home: Path) -> None:
    own_folder().mkdir(parents=True)
    dawn = "X:2\nT:Dawn\nK:C\nC D E F|\n"
    book = sent(own_folder(), f"{OLD}\n{dawn}", "valley.abc")
    rows()
    sent(own_folder(), f"{NEW}\n{dawn}", "valley.abc")
    after = book.stat().st_mtime_ns + 1
    os.utime(book, ns=(after, after))
    assert rows() == ["Evening at the Weir", "Dawn"]
    assert there(own_folder() / "valley")["1 Evening at the Weir.abc"] == NEW
    assert there(off_folder()) == {"valley/1 Evening at the Weir.abc": OLD}
    mine = sent(own_folder() / "valley", dawn.replace("F|", "G|"), "2 Dawn.abc")
    os.utime(mine, ns=(after + 1, after + 1))
    (folders.cache() / "shelf").unlink()
    assert rows() == ["Evening at the Weir", "Dawn"]
    assert there(own_folder() / "valley")["2 Dawn.abc"] == dawn.replace("F|", "G|")
