"""``keyfarer shelf``: the player's own pieces, listed, brought, taken off and put back."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from trainer.app import main
from trainer.scores.shelf.library import own_folder

TUNE = "X:1\nT:Evening at the Weir\nM:4/4\nL:1/4\nK:G\nG A B c|d4|\n"


def test_pieces_are_brought_taken_off_and_put_back(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mine = tmp_path / "weir.abc"
    mine.write_text(TUNE)
    assert main(["shelf"]) == 0
    assert "None of your own pieces lie on the shelf" in capsys.readouterr().out
    assert main(["shelf", "bring", str(mine), str(mine)]) == 0
    said = capsys.readouterr().out.splitlines()
    assert [line.partition(":")[0] for line in said] == [
        "Evening at the Weir lies on the shelf", "Evening at the Weir lay on the shelf already",
    ]  # fmt: skip
    assert main(["shelf", "take-off", "Evening at the Weir"]) == 0
    assert "its takes stay" in capsys.readouterr().out
    assert list(own_folder().iterdir()) == []
    assert main(["shelf", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["shelf"], [one["title"] for one in told["off"]]) == ([], ["Evening at the Weir"])
    assert main(["shelf", "put-back", "weir"]) == 0
    assert [one.name for one in own_folder().iterdir()] == ["weir.abc"]


def test_each_that_cannot_be_done_is_said_in_a_sentence_and_the_others_are_done(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mine, torn = tmp_path / "weir.abc", tmp_path / "torn.musicxml"
    mine.write_text(TUNE)
    torn.write_text("<score-partwise>")
    assert main(["shelf", "bring", str(torn), str(mine)]) == 2
    said = capsys.readouterr()
    assert said.err.count("\n") == 1
    assert "'torn.musicxml'" in said.err
    assert "Evening at the Weir lies on the shelf" in said.out
    assert main(["shelf", "take-off", "no such tune", "ode-to-joy", "weir"]) == 2
    said = capsys.readouterr()
    assert said.err.count("\n") == 2
    assert "weir.abc is off the shelf" in said.out


def test_a_name_no_disk_can_hold_keeps_no_other_file_from_being_brought(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mine = tmp_path / "weir.abc"
    mine.write_text(TUNE)
    assert main(["shelf", "bring", "a" * 300 + ".abc", str(mine)]) == 2
    said = capsys.readouterr()
    assert said.err.count("\n") == 1
    assert "Evening at the Weir lies on the shelf" in said.out


def test_a_file_on_the_shelf_that_cannot_be_read_is_listed_with_its_reason(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own_folder().mkdir(parents=True)
    (own_folder() / "torn.musicxml").write_text("<score-partwise>")
    assert main(["shelf"]) == 2
    said = capsys.readouterr()
    assert "not read" in said.out
    assert "'torn.musicxml'" in said.err
    assert main(["shelf", "take-off", "torn"]) == 0
    assert list(own_folder().iterdir()) == []


def test_a_shelf_that_cannot_be_reached_is_told_in_a_sentence_and_not_called_empty(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own_folder().parent.mkdir(parents=True, exist_ok=True)
    own_folder().symlink_to(tmp_path / "no such drive")
    assert main(["shelf"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith(f"keyfarer: The folder {own_folder()} cannot be read (")
    mine = tmp_path / "weir.abc"
    mine.write_text(TUNE)
    assert main(["shelf", "bring", str(mine)]) == 2
    assert capsys.readouterr().err.startswith(f"keyfarer: 'weir.abc' could not be copied to {own_folder()} (")


def test_of_a_book_each_tune_is_brought_and_one_that_cannot_be_read_is_named(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "evening.abc"
    book.write_text(f"{TUNE}\nX:2\nT:Torn\nK:C\n\nX:3\nT:Dawn\nK:C\nC4|\n")
    assert main(["shelf", "bring", str(book)]) == 2
    said = capsys.readouterr()
    assert said.err == "keyfarer: 'evening.abc, X:2 Torn' holds no notes to play: choose another file.\n"
    assert [line.partition(":")[0] for line in said.out.splitlines()] == [
        "Evening at the Weir lies on the shelf", "Dawn lies on the shelf",
    ]  # fmt: skip


@pytest.mark.parametrize("by_hand", [False, True])
def test_a_book_is_taken_off_and_put_back_as_a_whole(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], by_hand: bool
) -> None:
    """Each of hundreds of tunes had to be taken off alone."""
    folder = own_folder() if by_hand else tmp_path
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "evening.abc").write_text(f"{TUNE}\nX:2\nT:Dawn\nK:C\nC4|\n")
    assert main(["shelf"] if by_hand else ["shelf", "bring", str(folder / "evening.abc")]) == 0
    files = set(own_folder().rglob("*.abc"))
    assert len(files) == 2 + by_hand
    capsys.readouterr()
    assert main(["shelf", "take-off", "Evening"]) == 0
    assert capsys.readouterr().out.startswith(f"All of Evening is off the shelf, {len(files)} files, and lies in ")
    assert main(["shelf", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["shelf"], len(told["off"])) == ([], 2)
    assert main(["shelf", "put-back", "Evening"]) == 0
    assert set(own_folder().rglob("*.abc")) == files
    assert main(["shelf", "take-off", "Dawn"]) == 0
    assert len(list(own_folder().rglob("*.abc"))) == len(files) - 1
