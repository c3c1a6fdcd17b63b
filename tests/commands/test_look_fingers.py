from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from trainer.app import main
from trainer.scores.shelf.library import bundled_folder

KEYS = ["title", "written_key", "key_confidence", "level", "compass", "hands", "bars", "notes", "notes_played", "meter",
        "range", "chromatic", "shifts", "keys"]  # fmt: skip
ROW = ["key", "interval", "semitones", "fifths_away", "ease", "level_kept", "why"]
EXERCISES = Path(__file__).parents[2] / "exercises"
TUNE = str(EXERCISES / "pentachord" / "ode-to-joy.musicxml")
MINUET = str(EXERCISES / "open" / "petzold-minuet-in-g.musicxml")


def asked(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    assert main([*words, "--json"]) == 0
    printed = capsys.readouterr().out
    assert printed.count("\n") == 1
    return json.loads(printed)


def test_look_has_exactly_the_keys_promised(capsys: pytest.CaptureFixture[str]) -> None:
    found = asked(capsys, "look", TUNE)
    assert list(found) == KEYS
    assert list(found["compass"]) == ["low", "high", "interval", "degrees"]
    assert list(found["range"]) == ["right", "left"]
    assert all(list(row) == ROW for row in found["keys"])
    assert len(found["keys"]) == 12


def test_look_at_a_piece_in_one_position(capsys: pytest.CaptureFixture[str]) -> None:
    found = asked(capsys, "look", TUNE)
    assert found["written_key"] == "G major"
    assert found["level"] == "pentachord"
    assert found["range"] == {"right": ["G4", "D5"], "left": ["G3", "D4"]}
    assert found["compass"]["degrees"] == ["1", "2", "3", "4", "5"]
    assert (found["chromatic"], found["shifts"], found["meter"]) == (0, 0, "4/4")


def test_bars_and_notes_are_both_counted_as_printed(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    tune = tmp_path / "tune.abc"
    tune.write_text("X:1\nM:2/4\nL:1/4\nK:C\n|:C D|E ^F:|G2|\n")
    found = asked(capsys, "look", str(tune))
    assert (found["bars"], found["notes"], found["notes_played"], found["chromatic"]) == (3, 5, 9, 1)
    assert main(["look", str(tune)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "3 bars of 2/4, 5 notes (9 as played, with the repeats);" in said
    assert "1 chromatic note." in said
    tune.write_text("X:1\nM:2/4\nL:1/4\nK:C\nC D|\n")
    assert main(["look", str(tune)]) == 0
    assert "1 bar of 2/4, 2 notes;" in " ".join(capsys.readouterr().out.split())


def test_of_a_book_of_tunes_the_first_is_looked_at_and_it_is_said(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    book = tmp_path / "book.abc"
    book.write_text("X:1\nT:One\nK:C\nC D|\n\nX:2\nT:Two\nK:G\nG A|\n")
    assert main(["look", str(book), "--json"]) == 0
    said = capsys.readouterr()
    assert json.loads(said.out)["title"] == "One"
    assert "keyfarer: 'book.abc' holds 2 tunes and the first is read: " in said.err


@pytest.mark.parametrize(
    "words",
    [
        ["fingers", "BOOK", "--to", "D"],
        ["suit", "BOOK", "--voice", "mezzo"],
        ["suit", "BOOK", "--instrument", "flute"],
        ["sheet", "BOOK", "--to", "D", "--out", "work.html"],
        ["mark", "BOOK", "take.mid", "--to", "D"],
    ],
)
def test_so_it_is_by_every_command_that_reads_a_piece(
    words: list[str], capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("book.abc").write_text("X:1\nT:One\nL:1/4\nK:C\nC D E F|\n\nX:2\nT:Two\nK:G\nG A|\n")
    Path("take.mid").write_bytes(next((bundled_folder() / "takes").glob("*.mid")).read_bytes())
    assert main(["book.abc" if word == "BOOK" else word for word in words]) == 0
    assert "keyfarer: 'book.abc' holds 2 tunes and the first is read: " in capsys.readouterr().err


def test_flats_and_sharps_are_printed_as_signs(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["look", str(EXERCISES / "hexachord" / "herr-von-falkenstein.musicxml")]) == 0
    assert "F♯4 to D5; left hand D3 to B♭3" in " ".join(capsys.readouterr().out.split())


def test_the_key_to_try_first_is_the_easiest_and_says_why(capsys: pytest.CaptureFixture[str]) -> None:
    rows = asked(capsys, "look", TUNE)["keys"]
    others = rows[:-1]
    assert rows[-1]["semitones"] == 0
    assert [row["ease"] for row in others] == sorted((row["ease"] for row in others), reverse=True)
    assert rows[0]["key"] == "C major"
    assert rows[0]["why"].startswith("to try first: the hand lies as in G major")
    assert {row["key"]: row["fifths_away"] for row in rows}["D♭ major"] == 6
    assert all(row["level_kept"] for row in rows)


def test_a_key_that_goes_beyond_the_piano_says_so(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    deep = tmp_path / "deep.abc"
    deep.write_text("X:1\nM:4/4\nL:1/4\nK:C bass\nA,,,, C,,, E,,, G,,,|\n")
    why = {row["key"]: row["why"] for row in asked(capsys, "look", str(deep))["keys"]}
    assert why["G major"].endswith("goes beyond the keys of a piano")
    assert "beyond" not in why["D major"]


def test_look_at_one_key(capsys: pytest.CaptureFixture[str]) -> None:
    (row,) = asked(capsys, "look", TUNE, "--to", "Eb")["keys"]
    assert (row["key"], row["interval"], row["semitones"]) == ("E♭ major", "-M3", -4)
    (up,) = asked(capsys, "look", TUNE, "--to", "Eb", "--octave", "up")["keys"]
    assert up["semitones"] == 8


def test_look_reads_as_a_table_too(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["look", MINUET]) == 0
    printed = capsys.readouterr().out
    # The interval is said in words alone.
    assert "-M2" not in printed
    assert "major second" in " ".join(printed.split())
    assert "written in G major" in printed
    assert "A♭ major" in printed


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["look", "no such piece at all"], "no such piece at all"),
        (["look", TUNE, "--to", "H"], "'H' is not a key"),
        (["fingers", TUNE, "--to", "+99"], "further than two octaves"),
    ],
)
def test_a_wrong_wish_is_one_sentence(words: list[str], says: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(words) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert says in said.err
    assert said.err.count("\n") == 1


@pytest.mark.parametrize("command", ["look", "fingers"])
def test_a_key_of_the_other_mode_is_taken_in_the_pieces_own_and_said(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([command, TUNE, "--to", "c#", "--json"]) == 0
    said = capsys.readouterr()
    assert json.loads(said.out)
    assert "so 'c#' is taken as C♯ major" in said.err
    assert said.err.count("\n") == 1


def test_look_says_what_the_level_means(capsys: pytest.CaptureFixture[str]) -> None:
    for tune, says in ((TUNE, "the hands stay where they begin"), (MINUET, "the hand travels")):
        assert main(["look", tune]) == 0
        assert says in " ".join(capsys.readouterr().out.split())


def test_notes_and_fingers_stand_apart_and_marks_are_explained(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["fingers", MINUET, "--to", "F#"]) == 0
    printed = capsys.readouterr().out
    assert re.search(r"F♯\s1, G♯\s2", printed)
    assert "* another finger than in G major" in printed
    assert "To practise, the costliest first:" in printed


def test_fingers_has_exactly_the_keys_promised(capsys: pytest.CaptureFixture[str]) -> None:
    found = asked(capsys, "fingers", MINUET, "--to", "Eb")
    assert list(found) == ["right", "left", "changed", "kept", "own"]
    assert all(list(row) == ["note", "finger"] for row in found["right"] + found["left"])
    assert all(list(row) == ["note", "from", "to", "why"] for row in found["changed"])
    assert all(row["from"] != row["to"] for row in found["changed"])
    notes = len(found["right"]) + len(found["left"])
    assert found["kept"] == pytest.approx(1 - len(found["changed"]) / notes, abs=1e-3)
    assert any(row["why"].startswith("the thumb would land on") for row in found["changed"])


def test_a_tune_in_one_position_keeps_every_finger(capsys: pytest.CaptureFixture[str]) -> None:
    found = asked(capsys, "fingers", TUNE, "--to", "F#")
    assert found["kept"] == 1
    assert found["changed"] == []


def test_fingers_reads_as_a_page_too(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["fingers", MINUET, "--to", "Eb"]) == 0
    printed = capsys.readouterr().out
    assert "from G major to E♭ major, medium hand" in printed
    assert "A teacher's" in printed
    assert "*" in printed


@pytest.mark.usefixtures("home")
def test_a_finger_of_ones_own_is_said_shown_told_as_data_and_taken_away(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["fingers", MINUET, "--to", "F", "--player", "Ada"]
    before = asked(capsys, *words)
    found = asked(capsys, *words, "--say", "bar 1, beat 2: G4 with 3")
    (own,) = found["own"]
    assert own["finger"] == 3
    assert {row["note"]: row["finger"] for row in found["right"]}[own["note"]] == 3
    assert asked(capsys, *words) == found
    assert main(words) == 0
    printed = capsys.readouterr().out
    assert re.search(r"F\s3!", printed)
    assert "! is the player's own finger" in printed
    assert asked(capsys, *words[:-1], "Bea") == before
    assert asked(capsys, *words[:2], "--to", "Eb", "--player", "Ada")["own"] == []
    assert asked(capsys, *words, "--take-away", "bar 1, beat 2: G4") == before


@pytest.mark.usefixtures("home")
@pytest.mark.parametrize(
    ("text", "says"),
    [("bar 1, beat 2: G4", "names no finger: end it like 'with 4'"), ("bar 99, beat 2: G4 with 2", "There is no G4 on"),
     ("bar 1, beat 2: H4 with 2", "is not a pitch"), ("the first note", "write it like")],
)  # fmt: skip
def test_what_names_no_note_is_one_sentence(text: str, says: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["fingers", MINUET, "--to", "F", "--say", text]) == 2
    said = capsys.readouterr().err
    assert says in said
    assert said.count("\n") == 1


@pytest.mark.usefixtures("home")
def test_a_hard_finger_is_kept_with_a_remark(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["fingers", MINUET, "--to", "F", "--say", "bar 2, beat 2: G4 with 3", "--say", "bar 2, beat 1: D5 with 3"]
    assert main(words) == 0
    assert "3 plays" in capsys.readouterr().err


def test_degrees_are_those_of_the_key_that_stands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A piece that turns from C minor to A major has no raised tonic for it."""
    path = tmp_path / "turning.abc"
    path.write_text("X:1\nT:Turning\nM:4/4\nL:1/4\nK:Cm\nC D E G|[K:A]A B c e|\n")
    assert main(["look", str(path), "--to", "d", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["compass"]["degrees"], found["chromatic"]) == (["1", "2", "3", "5"], 0)


@pytest.mark.parametrize(
    ("key", "spelled"), [("Ab", "G♭ major"), ("E", "F♯ major"), ("c#", "E♭ minor"), ("f", "E♭ minor")]
)
def test_six_accidentals_are_spelled_on_the_side_of_the_written_key_and_flat_in_minor(
    key: str, spelled: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """As on the Desk and the Stand: who reads four flats goes on reading flats; D sharp minor has double sharps."""
    tune = tmp_path / "tune.abc"
    tune.write_text(f"X:1\nM:2/4\nL:1/4\nK:{key.capitalize()}{'m' if key.islower() else ''}\nC D|\n")
    found = asked(capsys, "look", str(tune))
    names = [row["key"] for row in found["keys"]]
    assert spelled in names
    assert len(names) == len(set(names)) == 12


@pytest.mark.parametrize("name", ["", "  "])
def test_a_name_left_empty_is_no_folder(capsys: pytest.CaptureFixture[str], name: str) -> None:
    assert main(["look", name]) == 2
    assert capsys.readouterr().err == "keyfarer: No piece is named: name one as the Desk shows it, or give a path.\n"
