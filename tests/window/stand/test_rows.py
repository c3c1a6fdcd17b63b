"""Rows beside the page: chords by degree and function, the clef to imagine; a sheet and drills from the Desk."""

from __future__ import annotations

import os
import pathlib
import sys
from collections.abc import Iterator
from dataclasses import replace

import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tools import staging
from trainer.music.clefs import SEVEN, Clef
from trainer.music.keys import MAJOR, Key
from trainer.music.piece import Word
from trainer.scores.reading import read
from trainer.scores.shelf.library import Shelf, find
from trainer.window.desk import deskwork
from trainer.window.desk.desk import Desk
from trainer.window.desk.deskview import WAYS
from trainer.window.desk.sheetpage import SheetPage
from trainer.window.house.house import House
from trainer.window.house.still import house_of
from trainer.window.page import chordrow, clefrow
from trainer.window.settings import Settings
from trainer.window.stand.stand import Stand
from trainer.window.workroom import studies

ROWS = Settings(chords=True, clef=True)


@pytest.fixture(scope="module", autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        Shelf().refresh()
        yield


def drawn(name: str, to: str, settings: Settings = ROWS) -> House:
    house = house_of((1280, 800), settings)
    staging.stand_of(house, name, to)
    house.draw()
    house.draw()
    return house


def texts(house: House, start: str) -> list[str]:
    assert house.canvas is not None
    return [box.text for box in house.canvas.boxes if box.name.startswith(start)]


@given(st.sampled_from(SEVEN), st.integers(-7, 7))
def test_signatures_stand_on_the_letters_they_alter(clef: Clef, signature: int) -> None:
    key = Key.from_signature(signature, MAJOR)
    letters = ["CDEFGAB"[(clef.bottom.steps + 8 - place) % 7] for place in clefrow.places(clef, signature)]
    order = "FCGDAEB" if signature > 0 else "BEADGCF"
    assert letters == list(order[: abs(signature)])
    assert all(key.alteration_of(letter) for letter in letters)
    assert all(-1 <= place <= 8 for place in clefrow.places(clef, signature))


def test_degrees_are_the_same_in_every_key_and_stand_under_the_staff() -> None:
    found = {}
    for to in ("Eb", "F#"):
        house = drawn("aura-lee", to)
        assert house.canvas is not None
        row = [box.text for box in house.canvas.boxes if box.name.startswith("chord.") and box.name.endswith(".degree")]
        found[to] = row[:6]
        assert not texts(house, "chord.0.0.symbol")
    assert found["Eb"] == found["F#"]
    assert found["Eb"][0] == "I"


def test_a_songs_symbols_are_named_in_the_key_to_play() -> None:
    house = house_of((1280, 800), Settings(chords=True))
    stand = staging.stand_of(house, "aura-lee", "+2")
    assert stand.practice is not None
    wish = stand.practice.wish
    bars = wish.piece.bars
    printed = (Word(bars[0].onset, "G"), Word(bars[1].onset, "Am7/C"), Word(bars[2].onset, "D7"))
    stand.play(replace(wish, piece=replace(wish.piece, chords=printed)))
    house.draw()
    house.draw()
    assert [texts(house, f"chord.0.{at}.symbol") for at in range(3)] == [["A"], ["Bm7/D"], ["E7"]]
    assert [texts(house, f"chord.0.{at}.degree") for at in range(3)] == [["I"], ["ii⁶₅"], ["V⁷"]]


def test_the_clef_to_imagine_names_the_keys() -> None:
    house = drawn("aura-lee", "Eb")
    stand = house.screen
    assert isinstance(stand, Stand)
    readings = stand.page.readings
    assert readings is not None
    assert stand.practice is not None
    wish = stand.practice.wish
    for index, note in enumerate(wish.piece.notes):
        how = readings.at(0 if note.hand == "right" else 1, wish.piece.bar_index(note.onset))
        step = note.pitch.steps - how.written_clef.bottom.steps
        assert wish.expected.notes[index].pitch.steps - 7 * how.octaves - how.clef.bottom.steps == step
    assert texts(house, "margin.clef")[0].split("\n")[0] == "treble staff: soprano clef"
    assert "read a semitone lower" in texts(house, "foot.position")[0]


def test_rows_are_put_away_by_their_keys_and_never_shown_at_sight() -> None:
    house = drawn("aura-lee", "Eb")
    stand = house.screen
    assert isinstance(stand, Stand)
    stand.orders.degrees()
    stand.orders.clef()
    house.draw()
    house.draw()
    assert not texts(house, "chord.")
    assert stand.page.readings is None
    sight = house_of((1280, 800), ROWS)
    staging.stand_of(sight, "aura-lee", "Eb", mode="prima vista")
    sight.draw()
    assert not texts(sight, "chord.")
    assert not texts(sight, "margin.clef")


def test_figures_are_stacked() -> None:
    assert chordrow.stacked("viiø65/V") == "viiø⁶₅/V"


def desk_with(name: str) -> tuple[House, Desk]:
    house = house_of((1280, 800))
    desk = house.screen_of(Desk)
    house.show(desk)
    desk._choose_path(next(entry.path for entry in desk.shown if name in entry.path))
    desk.target = 8
    return house, desk


def test_one_press_prints_the_chosen_piece_in_the_chosen_key() -> None:
    house, desk = desk_with("aura-lee")
    desk.print_sheet()
    path = pathlib.Path(os.environ["KEYFARER_HOME"]) / "sheets" / "Aura Lee - E♭ major.pdf"
    assert path.read_bytes().startswith(b"%PDF")
    assert house.notice is not None
    assert "E♭ major" in house.notice.words
    assert path.name in house.notice.words


def test_the_music_alone_is_written_in_the_chosen_key_for_a_notation_program() -> None:
    house, desk = desk_with("aura-lee")
    for key in "pm":
        _, controls = house.laid()
        next(control for control in controls.all if control.key == key).act()
    assert house.screen is desk
    path = pathlib.Path(os.environ["KEYFARER_HOME"]) / "sheets" / "Aura Lee - E♭ major.musicxml"
    assert read(path).key == Key.parse("Eb")
    assert house.notice is not None
    assert path.name in house.notice.words


@pytest.mark.skipif(sys.platform == "win32", reason="Windows starts no program by a name on PATH")
def test_the_key_the_line_names_shows_the_sheet_in_the_systems_own_program(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opener = tmp_path / ("open" if sys.platform == "darwin" else "xdg-open")
    monkeypatch.setenv("PATH", str(tmp_path))
    house, desk = desk_with("aura-lee")

    def press(key: str) -> str:
        _, controls = house.laid()
        next(control for control in controls.all if control.key == key).act()
        return house.notice.words if house.notice else ""

    assert press("e").startswith("Nothing is printed yet")
    desk.print_sheet()
    assert house.notice is not None
    assert house.notice.words.endswith(": e shows it.")
    assert press("e").startswith("No program here shows PDFs: open "), "no such program on this computer"
    for does, said in (("exit 3", "No program here shows PDFs"), ("echo $1 > $0.shown", "Shown by your computer's")):
        opener.write_text(f"#!/bin/sh\n{does}\n")
        opener.chmod(0o755)
        assert press("e").startswith(said)
    assert (tmp_path / f"{opener.name}.shown").read_text(encoding="utf-8").strip() == desk.sheet
    press("p")
    _, controls = house.laid()
    assert controls.named("last") is not None, "from where sheets are chosen, too"
    pathlib.Path(desk.sheet).unlink()
    assert "print it once more" in press("e")


def test_a_teacher_chooses_on_the_desk_what_is_printed() -> None:
    """The student's page alone, or with syllables, chords, staves to write on and the answer; the choice stays."""
    house, desk = desk_with("aura-lee")

    def pages() -> list[str]:
        path = pathlib.Path(os.environ["KEYFARER_HOME"]) / "sheets" / "Aura Lee - E♭ major.pdf"
        return [page.extract_text() for page in pypdf.PdfReader(path).pages]

    def press(key: str) -> None:
        _, controls = house.laid()
        next(control for control in controls.all if control.key == key).act()

    press("p")
    assert isinstance(house.screen, SheetPage)
    press("return")
    assert house.screen is desk
    full = pages()
    press("p")
    for key in "ydbao":
        press(key)
    press("return")
    plain = pages()
    assert len(plain) < len(full)
    assert "mi" in full[0].split()
    assert "mi" not in plain[0].split()
    assert house.settings.paper == "letter"
    press("p")
    press("b")
    press("return")
    assert len(plain) < len(pages()) < len(full)


def test_harmony_and_clef_are_ways_to_practise() -> None:
    house, desk = desk_with("aura-lee")
    desk.practice = WAYS.index(deskwork.HARMONY)
    desk.start()
    stand = house.screen
    assert isinstance(stand, Stand)
    assert stand.practice is not None
    wish = stand.practice.wish
    assert wish.plan.target == Key.parse("Eb")
    assert not wish.piece.chords
    right = [note.midi for note in wish.piece.notes if note.hand == "right"]
    assert 59 <= sum(right) / len(right) <= 72, "the right hand's chords lie on the treble staff"
    assert house.settings.chords
    house, desk = desk_with("aura-lee")
    desk.practice = WAYS.index(deskwork.CLEF)
    desk.start()
    stand = house.screen
    assert isinstance(stand, Stand)
    assert stand.practice is not None
    assert "soprano" in stand.practice.wish.piece.title
    assert stand.page.readings is not None


def test_a_correction_beside_the_journal_is_shown(tmp_path: pathlib.Path) -> None:
    piece = read(find("aura-lee"))
    (tmp_path / "harmony.toml").write_text(
        f'[[chord]]\npiece = "{piece.title}"\nbar = 1\nbeat = "1"\nnumeral = "vi"\n', encoding="utf-8"
    )
    first = studies.chords_of(piece, str(tmp_path))[0]
    assert first.numeral.figure == "vi"
    assert first.corrected


def test_the_desk_prints_the_music_alone_in_the_key_or_a_part_for_an_instrument() -> None:
    house, _ = desk_with("aura-lee")

    def press(key: str) -> None:
        _, controls = house.laid()
        next(control for control in controls.all if control.key == key).act()

    def step(name: str) -> None:
        _, controls = house.laid()
        control = controls.named(name)
        assert control is not None
        assert control.more is not None
        control.more()

    press("p")
    step("sheet_page")
    _, controls = house.laid()
    assert controls.named("sheet_answers") is None, "there is nothing to be answered"
    step("sheet_fingers")
    press("return")
    folder = pathlib.Path(os.environ["KEYFARER_HOME"]) / "sheets"
    (page,) = pypdf.PdfReader(folder / "Aura Lee - in E♭ major.pdf").pages
    assert "in E♭ major, down a major third" in page.extract_text()
    assert house.settings.sheet_fingers == "every"
    press("p")
    step("sheet_page")
    step("sheet_instrument")
    chosen = house.settings.sheet_instrument
    assert chosen != "clarinet in B flat"
    press("return")
    (page,) = pypdf.PdfReader(folder / f"Aura Lee - {chosen} in E♭ major.pdf").pages
    assert f"for {chosen}, sounds in E♭ major" in " ".join(page.extract_text().split())
