"""``keyfarer sheet`` as it is typed."""

from __future__ import annotations

import io
import pathlib
from dataclasses import replace

import pypdf
import pytest
from music21 import converter

from trainer.app import main
from trainer.music.transpose import plan, transposed
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.reading import read
from trainer.scores.shelf.library import find


def text_of(path: pathlib.Path) -> str:
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(path.read_bytes())).pages)


def test_a_sheet_for_two_keys(tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "sheet.pdf"
    assert main(["sheet", "aura-lee", "--to", "Eb", "--to", "-1", "--answers", "--blank", "--out", str(out)]) == 0
    assert capsys.readouterr().out.strip() == str(out)
    text = text_of(out)
    for part in ("Aura Lee", "E♭ major", "F♯ major", "write it out in E♭ major", "answer: E♭ major"):
        assert part in text


@pytest.mark.usefixtures("home")
def test_a_sheet_bears_the_players_own_fingers(tmp_path: pathlib.Path) -> None:
    def said(key: str, player: str = "") -> bool:
        out = tmp_path / "sheet.pdf"
        assert main(["sheet", "aura-lee", "--to", key, "--player", player, "--out", str(out)]) == 0
        return "4 on E flat is the player" in " ".join(text_of(out).split())

    words = ["fingers", "aura-lee", "--to", "Eb", "--player", "Ada", "--say", "bar 1, beat 4: G4 with 4"]
    assert main(words) == 0
    assert [said("Eb", "Ada"), said("Eb"), said("D", "Ada")] == [True, False, False]


def test_a_key_of_the_other_mode_is_taken_in_the_pieces_own_and_said(
    tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "sheet.pdf"
    assert main(["sheet", "aura-lee", "--to", "f#", "--out", str(out)]) == 0
    assert "is taken as F♯ major" in capsys.readouterr().err
    assert "F♯ major" in text_of(out)


def test_without_a_name_the_file_is_called_after_the_piece(
    tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["sheet", "aura-lee", "--to", "Eb", "--paper", "letter"]) == 0
    assert [p.name for p in tmp_path.iterdir()] == ["Aura Lee - E♭ major.pdf"]


def test_sheets_of_a_long_title_keep_their_keys_apart(
    tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    long = replace(read(find("ode-to-joy")), title="Ode an die Freude, ein Fragment " * 8)
    (tmp_path / "long.musicxml").write_text(to_musicxml(long), encoding="utf-8")
    for key in ("Eb", "F#"):
        assert main(["sheet", "long.musicxml", "--to", key]) == 0
    found = sorted(path.stem[-8:] for path in tmp_path.glob("*.pdf"))
    assert found == ["E♭ major", "F♯ major"]


def test_the_path_as_a_booklet_in_html(tmp_path: pathlib.Path, home: pathlib.Path) -> None:
    out = tmp_path / "path.html"
    assert main(["sheet", "--path", "--level", "trichord", "--out", str(out)]) == 0
    assert "C major" in out.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["sheet"], "what to print"),
        (["sheet", "aura-lee", "--to", "Eb", "--level", "open"], "--level chooses among the levels of the path"),
        (["sheet", "aura-lee", "--path", "--level", "open"], "--level chooses among the levels of the path"),
        (["sheet", "aura-lee"], "in which keys"),
        (["sheet", "aura-lee", "--to", "H"], "not a key"),
        (["sheet", "aura-lee", "--to", "Eb", "--out", "x.doc"], "neither .pdf nor .html nor .musicxml"),
        (
            ["sheet", "aura-lee", "--to", "Eb", "--out", "."],
            "'.' is a folder: name a file in it that ends in .pdf, .html or .musicxml.",
        ),
        (
            ["sheet", "aura-lee", "--to", "Eb", "--out", ""],
            "--out names no file: name one that ends in .pdf, .html or .musicxml.",
        ),
        (["sheet", "aura-lee", "--to", "Eb", "--to", "D", "--out", "a.musicxml"], "one piece in one key"),
        (["sheet", "aura-lee", "--to", "Eb", "--answers", "--out", "a.musicxml"], "leave out --path, --answers"),
        (["sheet", "--path", "--out", "a.musicxml"], "one piece in one key"),
        (["sheet", "aura-lee", "--to", "Eb", "--alone", "--fingers", "none", "--out", "a.musicxml"], "and --fingers"),
        (["sheet", "no such piece at all", "--to", "Eb"], "no such piece at all"),
    ],
)
def test_refusals_are_one_sentence(
    tmp_path: pathlib.Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    words: list[str],
    says: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(words) == 2
    err = capsys.readouterr().err
    assert says in err
    assert err.count("\n") == 1
    assert not list(tmp_path.iterdir())


def test_a_key_asked_for_twice_is_printed_once_and_the_written_key_may_be_said(
    tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "sheet.pdf"
    words = ["sheet", "aura-lee", "--from", "e", "--to", "a", "--to", "a", "--answers", "--out", str(out)]
    assert main(words) == 0
    text = text_of(out)
    assert "written in E minor" in text
    assert text.count("answer: A minor") == 1


@pytest.mark.usefixtures("home")
@pytest.mark.parametrize("name", ["der-mond-ist-aufgegangen", "aura-lee"])
def test_the_music_alone_for_a_notation_program(name: str, tmp_path: pathlib.Path) -> None:
    """Read again it is the same piece, transposed: notes, words, what a singer sings."""
    piece = read(find(name))
    out = tmp_path / "music.musicxml"
    assert main(["sheet", name, "--to", "-2", "--out", str(out)]) == 0
    again, expected = read(out), transposed(piece, plan(piece.key, "-2").interval)
    assert again.with_notes(replace(note, finger=None) for note in again.notes) == expected.with_notes(
        replace(note, finger=None) for note in expected.notes
    )
    # Independently read: music21's own reader finds the same sounding notes.
    sounding = sorted(p.midi for p in converter.parse(out).flatten().pitches)
    was = sorted(p.midi - 2 for p in converter.parse(find(name)).flatten().pitches)
    assert sounding == was


@pytest.mark.usefixtures("home")
def test_the_music_alone_bears_the_players_own_fingers(tmp_path: pathlib.Path) -> None:
    words = ["fingers", "aura-lee", "--to", "Eb", "--player", "Ada", "--say", "bar 1, beat 4: G4 with 4"]
    assert main(words) == 0
    out = tmp_path / "music.musicxml"
    for player, finger in (("Ada", 4), ("", None)):
        assert main(["sheet", "aura-lee", "--to", "Eb", "--player", player, "--out", str(out)]) == 0
        piece = read(out)
        beat = next(n for n in piece.notes if n.hand == "right" and n.onset == piece.bars[0].onset + 3)
        assert (beat.pitch.name, beat.finger) == ("Eb4", finger)


def test_the_music_alone_and_a_part_are_pages_of_their_own(
    tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["sheet", "aura-lee", "--to", "Eb", "--alone", "--fingers", "every"]) == 0
    assert main(["sheet", "aura-lee", "--to", "Eb", "--instrument", "Bb clarinet"]) == 0
    alone, part = (tmp_path / f"Aura Lee - {name}.pdf" for name in ("in E♭ major", "clarinet in B flat in E♭ major"))
    assert "in E♭ major, down a major third" in text_of(alone)
    assert "for clarinet in B flat, sounds in E♭ major" in text_of(part)
    assert "written in" not in text_of(alone) + text_of(part)
    capsys.readouterr()
    for words in (["--alone", "--instrument", "flute"], ["--alone", "--blank"], ["--instrument", "oboe", "--answers"],
                  ["--fingers", "none"], ["--instrument", "viola"], ["--instrument", "zither"]):  # fmt: skip
        assert main(["sheet", "aura-lee", "--to", "Eb", *words]) == 2
        assert capsys.readouterr().err.startswith("keyfarer: ")
    assert len(list(tmp_path.iterdir())) == 2
