"""Books of tunes on the shelf: each tune a piece of its own, whichever way the book comes."""

from __future__ import annotations

from pathlib import Path

import pytest

from trainer import folders
from trainer.music.pitch import MusicError
from trainer.scores.shelf import books
from trainer.scores.shelf.books import folder_of, tunes_in
from trainer.scores.shelf.keeping import brought, unfolded
from trainer.scores.shelf.library import Entry, Shelf, answers, own_folder
from trainer.scores.shelf.offshelf import take_off, taken_off

HEAD = "%abc-2.1\nM:3/4\nL:1/4\n\n"
TUNES = [
    "X:1\nT:Weir\nK:G\nG A B|c3|\n\n", "X:2\nT:Orchard\nK:D\nD E F|A3|\n\n", "X:3\nT:Dawn\nK:C\nC D E|G3|\n\n",
]  # fmt: skip


def laid(place: Path, *tunes: str) -> Path:
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_text(HEAD + "".join(tunes or TUNES))
    return place


def own() -> list[Entry]:
    shelf = Shelf()
    assert shelf.refresh()
    assert shelf.waiting == 0
    return [entry for entry in shelf.entries if not entry.bundled]


def test_a_book_laid_into_the_folder_by_hand_is_its_tunes_in_their_order(home: Path) -> None:
    book = laid(own_folder() / "valley.abc")
    for found in (own(), [entry for entry in Shelf().entries if not entry.bundled]):
        assert [(one.title, one.meter) for one in found] == [("Weir", "3/4"), ("Orchard", "3/4"), ("Dawn", "3/4")]
        assert [Path(one.path).relative_to(own_folder()).as_posix() for one in found] == [
            "valley/1 Weir.abc", "valley/2 Orchard.abc", "valley/3 Dawn.abc",
        ]  # fmt: skip
        assert [one.title for one in found if answers(one, "valley daw")] == ["Dawn"]
    assert book.exists()
    laid(book, *TUNES, "X:4\nT:Dusk\nK:C\nG E D|C3|\n")
    assert [one.title for one in own()] == ["Weir", "Orchard", "Dawn", "Dusk"]


def test_a_tune_taken_off_stays_off_also_when_the_index_is_lost(home: Path) -> None:
    laid(own_folder() / "valley.abc")
    take_off(own()[1].path)
    (folders.cache() / "shelf").unlink()
    assert [one.title for one in own()] == ["Weir", "Dawn"]
    assert [one.title for one in taken_off()] == ["Orchard"]


def test_a_tune_that_cannot_be_read_costs_only_itself_and_is_named(home: Path, tmp_path: Path) -> None:
    laid(own_folder() / "valley.abc", TUNES[0], "X:2\nT:Torn\nM:4/4\n\n", TUNES[2])
    assert [one.title for one in own()] == ["Weir", "Dawn"]
    (fault,) = Shelf().faults
    assert fault.fault.startswith("'2 Torn.abc' is an ABC tune that names no key: add a line like 'K:C'")
    book = laid(tmp_path / "hill.abc", "X:7\nT:Torn\nM:4/4\n\n", TUNES[1])
    torn, whole = unfolded([str(book)])
    with pytest.raises(MusicError, match=r"^'hill\.abc, X:7 Torn' is an ABC tune that names no key"):
        brought(torn)
    assert brought(whole).path == str(own_folder() / "hill" / "2 Orchard.abc")


def test_what_is_brought_again_lies_where_it_lies(home: Path, tmp_path: Path) -> None:
    book = laid(tmp_path / "valley.abc")
    paths = [brought(one).path for one in unfolded([str(tmp_path)])]
    assert [one.path for one in own()] == paths
    assert [(one.is_new, one.path) for one in map(brought, unfolded([str(book)]))] == [(False, one) for one in paths]
    gone = take_off(paths[0])
    again = brought(unfolded([str(book)])[0])
    assert (again.is_new, again.path, gone.exists()) == (True, paths[0], False)


def test_what_is_a_book_and_where_its_tunes_lie(home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    book = laid(tmp_path / "valley.txt")
    assert [one.called for one in tunes_in(book)] == [
        "valley.txt, X:1 Weir", "valley.txt, X:2 Orchard", "valley.txt, X:3 Dawn",
    ]  # fmt: skip
    assert tunes_in(laid(tmp_path / "one.abc", TUNES[0])) == []
    (tmp_path / "letter.txt").write_text("Dear all,\nX: is a letter\nX: too\n")
    for other in ("letter.txt", "no such file", "\0"):
        assert tunes_in(tmp_path / other) == []
    assert folder_of(tmp_path / "valley.txt", own_folder()) == own_folder() / "valley"
    assert folder_of(own_folder() / "dances" / "valley", own_folder()) == own_folder() / "dances" / "valley tunes"
    monkeypatch.setattr(books, "_MOST", 2)
    with pytest.raises(MusicError, match=r"'valley\.txt' holds 3 tunes, more than 2: save it as several books"):
        brought(*unfolded([str(book)]))
    laid(own_folder() / "valley.abc")
    assert own() == []
    assert [one.fault.partition(":")[0] for one in Shelf().faults] == ["'valley.abc' holds 3 tunes, more than 2"]


def test_a_book_changed_while_it_is_brought_is_to_be_brought_once_more(home: Path, tmp_path: Path) -> None:
    book = laid(tmp_path / "valley.abc")
    first, *_ = unfolded([str(book)])
    laid(book, *TUNES[1:])
    with pytest.raises(MusicError, match=r"'valley\.abc' was changed while it was read: bring it once more"):
        brought(first)
