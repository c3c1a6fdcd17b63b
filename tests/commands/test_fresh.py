"""``keyfarer fresh`` as it is typed."""

from __future__ import annotations

import json
import pathlib

import pytest

from trainer.app import main


def test_the_piece_is_written_and_made_again_by_its_seed(
    tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "fresh.musicxml"
    words = ["fresh", "--level", "hexachord", "--key", "f#", "--meter", "3/4", "--bars", "12", "--seed", "7"]
    assert main([*words, "--out", str(out)]) == 0
    assert capsys.readouterr().out.strip() == (
        f"Fresh piece 7 in F♯ minor: 12 bars of 3/4 in {out} (--seed 7 makes it again)."
    )
    assert main(words) == 0
    assert capsys.readouterr().out == out.read_text(encoding="utf-8")


def test_json_says_what_was_made(tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "fresh.musicxml"
    assert main(["fresh", "--hands", "left", "--json", "--out", str(out)]) == 0
    said = json.loads(capsys.readouterr().out)
    assert {key: said[key] for key in ("level", "key", "meter", "bars", "hands", "file")} == {
        "level": "pentachord", "key": "C", "meter": "4/4", "bars": 8, "hands": "left", "file": str(out)}  # fmt: skip
    assert main(["fresh", "--hands", "left", "--seed", str(said["seed"]), "--json"]) == 0
    again = json.loads(capsys.readouterr().out)
    assert again["musicxml"] == out.read_text(encoding="utf-8")
    assert again["notes"] == said["notes"]


def test_a_folder_that_is_missing_is_made(tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As by every other --out."""
    out = tmp_path / "new" / "one.musicxml"
    assert main(["fresh", "--seed", "1", "--out", str(out)]) == 0
    assert out.read_text(encoding="utf-8").startswith("<?xml")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--bars", "7"], "7 bars make no whole phrases: ask for 4, 8, 12 and so on up to 32."),
        (["--bars", "64"], "64 bars are too many to be read at sight: ask for up to 32."),
        (["--out", "tonight.txt"], "'tonight.txt' is neither .musicxml nor .xml: name a file that is one of them."),
        (["--out", "."], "'.' is a folder: name a file in it that ends in .musicxml or .xml."),
        (["--out", " "], "--out names no file: name one that ends in .musicxml or .xml."),
        (["--key", "H"], "'H' is not a key"),
        (["--meter", "4"], "'4' is no meter to compose in: there are 2/4, 3/4, 4/4"),
        (["--key", "Ddor"], "Fresh pieces are composed in major and minor: ask for D minor."),
        (["--out", f"{__file__}/fresh.musicxml"], "fresh.musicxml could not be saved ("),
    ],
)
def test_a_wrong_wish_is_one_sentence(words: list[str], says: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["fresh", *words]) == 2
    said = capsys.readouterr().err
    assert said.startswith(f"keyfarer: {says}")
    assert said.count("\n") == 1
