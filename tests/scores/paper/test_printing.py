"""Documents of blocks as PDF and as HTML."""

from __future__ import annotations

import io
import pathlib
import xml.etree.ElementTree as ET
from html.parser import HTMLParser
from typing import Any

import pygame
import pypdf
import pytest
from pypdf.generic import DictionaryObject

from tests.scores.making import note, piece
from trainer.music.piece import Piece
from trainer.music.pitch import MusicError
from trainer.scores import reading
from trainer.scores.engraving.drawing import laid_over, without_notes
from trainer.scores.engraving.engraving import Look, engrave
from trainer.scores.engraving.systems import System
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.notation.preparing import Print
from trainer.scores.paper import printing
from trainer.scores.paper.papers import PAPERS
from trainer.scores.paper.printing import (
    MARGIN_MM,
    Block,
    Boxes,
    Columns,
    Document,
    Heading,
    Music,
    NewPage,
    Picture,
    Table,
    Text,
    Together,
    save,
    text_width_mm,
    to_html,
    to_pdf,
    to_pictures,
)
from trainer.scores.shelf import library

SQUARE = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><rect width="9" height="9"/></svg>'
LINE = SQUARE.replace('"0 0 9 9"', '"0 0 99 9"')
NASTY = '#let x = 1; *not bold* $a$ <script>alert("x")</script> & "quoted" \\ [[ ]] #image("/etc/passwd")'
EVERYTHING = Document(
    "Title <b>",
    (
        Heading("Aura Lee", 1, "in E♭ major"), Text(NASTY), Text("small words", "small"), Music((LINE,)),
        Columns(((Picture(SQUARE, 20, "a card"),), (Text("beside", "italic"),))),
        Table(("key", "takes"), (("E♭", "3"), ("F♯", "12")), (1,)), Boxes("played on", 4),
        Together((Heading("F♯ minor", 2), Text("together", "note"))), NewPage(), Text("the second page 𝄪 ♮"),
    ),
    "foot",
)  # fmt: skip


def pages(data: bytes) -> list[pypdf.PageObject]:
    return list(pypdf.PdfReader(io.BytesIO(data)).pages)


@pytest.mark.parametrize("paper", PAPERS)
def test_pdf_has_the_paper_asked_for_and_every_word(paper: str) -> None:
    found = pages(to_pdf(EVERYTHING, paper))
    assert len(found) == 2
    width, height = (float(x) / 72 * 25.4 for x in found[0].mediabox.upper_right)
    assert (width, height) == pytest.approx(PAPERS[paper], abs=0.1)
    text = " ".join(page.extract_text() for page in found)
    for word in ("Aura Lee", "E♭ major", "a card", "F♯ minor", "played on", "#image", "<script>", "1 / 2", "♮"):
        assert word in text


def test_a_later_page_says_whose_it_is_and_apostrophes_are_those_of_print() -> None:
    first, second = (page.extract_text() for page in pages(to_pdf(EVERYTHING)))
    assert "Title <b> · 2 / 2" in second
    assert "Title <b>" not in first
    said = Document("x", (Text("a teacher's word"),), "the teacher's ear")
    (page,) = pages(to_pdf(said))
    for text in (page.extract_text(), to_html(said)):
        assert "a teacher’s word" in text
        assert "the teacher’s ear" in text


def test_the_count_of_pages_stands_on_the_page_under_a_title_without_end_too() -> None:
    title = "Old song with many words in its title " * 9
    blocks = (Heading(title), NewPage(), Text("more"), NewPage(f"Part of {title}"), Text("a"), NewPage(), Text("b"))
    lows: list[float] = []
    for page in pages(to_pdf(Document(title, blocks, "the teacher's word stands above it"))):
        page.extract_text(visitor_text=lambda said, at, *more: lows.append(at[5]) if said.strip() else None)
    assert min(lows) > 5 / 25.4 * 72, "as far from the edge as a printer prints"


def test_pdf_is_vector_with_embedded_faces() -> None:
    piece = reading.read(library.find("aura-lee"))
    systems = engrave(piece, Look(width_px=900, staff_px=40)).systems
    (page, *_) = pages(to_pdf(Document("x", (Music(tuple(s.svg for s in systems)),))))
    assert not list(page.images)
    resources = page["/Resources"]
    assert isinstance(resources, DictionaryObject)
    faces = resources.get("/Font", {})
    for face in faces.values():
        descendants = face.get_object().get("/DescendantFonts")
        descriptor = descendants[0].get_object()["/FontDescriptor"].get_object()
        assert {"/FontFile2", "/FontFile3"} & set(descriptor)


@pytest.mark.parametrize(
    ("name", "foreign"),
    [("Zoë O’Brien-Łukasz, Жанна, Ωμέγα, E♭", False), ("小林 さくら", True), ("ليلى", True), ("מיכל", True)],
)
def test_a_name_in_another_script_is_set_in_a_face_of_the_computer(
    name: str, foreign: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = []

    def compiler(foreign: bool = False) -> Any:
        asked.append(foreign)
        return made(foreign)

    made = printing._compiler
    monkeypatch.setattr(printing, "_compiler", compiler)
    document = Document("A name", (Heading(name, 1),))
    to_pdf(document)
    printing.page_count(document)
    assert asked == [foreign, foreign]


def test_an_unknown_paper_is_refused() -> None:
    for act in (lambda: to_pdf(EVERYTHING, "a9"), lambda: text_width_mm("folio")):
        with pytest.raises(MusicError, match="choose a4 or letter"):
            act()
    assert text_width_mm("A4") == 210 - 2 * MARGIN_MM


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.sources: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.sources += [value or "" for name, value in attrs if name in ("src", "href")]


def test_html_stands_alone_and_runs_nothing() -> None:
    page = _Tags()
    text = to_html(EVERYTHING)
    page.feed(text)
    assert "script" not in page.tags
    assert all(source.startswith("data:image/svg+xml;base64,") for source in page.sources)
    assert len(page.sources) == 2
    assert "&lt;script&gt;" in text


@pytest.mark.parametrize(
    "block",
    [Heading("<b>"), Heading("x", 2, "<b>"), Text("<b>"), Picture("<svg/>", 10, "<b>"), Boxes("<b>"),
     Table(("<b>",), (("x",),)), Table(("x",), (("<b>",),)), Together((Text("<b>"),)), Columns(((Text("<b>"),),))],
)  # fmt: skip
def test_what_a_person_wrote_is_never_taken_for_markup(block: Block) -> None:
    page = to_html(Document("<b>", (block,), "<b>"))
    assert "<b>" not in page
    assert page.count("&lt;b&gt;") >= 3


@pytest.mark.parametrize(("name", "starts"), [("x.pdf", b"%PDF"), ("x.html", b"<!DOCTYPE html>"), ("x.HTML", b"<!D")])
def test_saved_as_the_name_says(tmp_path: pathlib.Path, name: str, starts: bytes) -> None:
    save(EVERYTHING, tmp_path / name)
    assert (tmp_path / name).read_bytes().startswith(starts)


def test_the_lines_of_the_voice_stand_whole_pixels_apart() -> None:
    piece = reading.from_bytes(SONG, "song.abc")
    for staff_px, space in ((24, 5), (28, 5), (36, 7), (52, 10)):
        voice = engrave(piece, Look(width_px=900, staff_px=staff_px, words=True)).systems[0].staves[0]
        assert voice.bottom - voice.top == pytest.approx(4 * space, abs=0.4)


@pytest.mark.parametrize(("staff_px", "ribbon_px"), [(20, 15.9), (24, 20.4), (36, 28.6)])
def test_no_line_of_a_song_is_thicker_than_another(staff_px: int, ribbon_px: float) -> None:
    """The piano's staff may lie half a staff space, so half a pixel, off the voice's."""
    piece = reading.read(library.find("la-partenza"))
    page = engrave(piece, Look(width_px=708, staff_px=staff_px, ribbon_px=ribbon_px, words=True))
    for at, system in enumerate(page.systems):
        ink = pygame.surfarray.array_alpha(pygame.image.load(io.BytesIO(page.png(at)))) > 40
        for staff in system.staves:
            rows = ink[:, round(staff.top) - 2 : round(staff.bottom) + 3].sum(axis=0)
            assert (rows > 0.9 * (system.right - system.left)).sum() == 5, at


def test_where_the_voice_rests_through_a_system_its_staff_is_not_taken_for_the_pianos() -> None:
    bars = "|".join("F2A" for _ in range(12))
    text = SONG.replace(b"|c3|A3|]\n[V:L]F,3|F,3|F,3|]", b"|c3|A3|" + bars.encode() + b"|]\n[V:L]F,3|]")
    piece = reading.from_bytes(text, "song.abc")
    systems = engrave(piece, Look(width_px=500, staff_px=40, ribbon_px=20, words=True)).systems
    assert len(systems) > 1
    for system in systems:
        assert [staff.sung is None for staff in system.staves] == [False, True, True]


def test_staves_to_write_on_keep_the_frame_and_lose_the_notes() -> None:
    piece = reading.read(library.find("greensleeves"))
    system = engrave(piece, Look(width_px=900, staff_px=40)).systems[0]
    empty = without_notes(system)
    kinds = [c for g in ET.fromstring(empty).iter() for c in g.get("class", "").split()]
    for frame in ("staff", "clef", "keySig", "meterSig", "barLine"):
        assert kinds.count(frame) == sum(frame in g.get("class", "").split() for g in ET.fromstring(system.svg).iter())
    assert not {"note", "rest", "mRest", "beam", "fing", "ledgerLines"} & set(kinds)


def test_laid_over_keeps_the_size_and_adds_the_parts() -> None:
    piece = reading.read(library.find("aura-lee"))
    system = engrave(piece, Look(width_px=900, staff_px=40)).systems[0]
    root = ET.fromstring(laid_over(system, ["<circle r='3'/>"], below=20))
    assert float(root.get("height", "")) == pytest.approx(system.height + 20, abs=0.01)
    assert root[-1].tag.endswith("circle")


@pytest.mark.parametrize(
    ("title", "beside", "lines", "below"),
    [("word " * 26, "name " * 13, 3, True), ("word " * 26, "Haydn", 4, False), ("Short", "name " * 13, 1, False),
     ("Short", "Haydn", 1, False)],
)  # fmt: skip
def test_a_long_title_is_not_squeezed_by_a_long_name(title: str, beside: str, lines: int, below: bool) -> None:
    """The title's rows, by where their words stand on the page, and whether the name stands under them."""
    found: list[tuple[str, float]] = []
    page = pypdf.PdfReader(io.BytesIO(to_pdf(Document("T", (Heading(title, 1, beside),))))).pages[0]
    page.extract_text(visitor_text=lambda text, at, *_: found.append((text.strip(), at[5])))
    rows = {round(y) for text, y in found if text and text.split()[0] in ("word", "Short")}
    names = [y for text, y in found if text and text.split()[0] in ("name", "Haydn")]
    assert len(rows) <= lines
    assert all((y < min(rows) - 5) == below for y in names)


@pytest.mark.parametrize(
    ("title", "beside"),
    [("Die Loreley (Ich weiß nicht, was soll es bedeuten)", "Friedrich Silcher"),
     ("Hört, ihr Herrn, und lasst euch sagen (Night Watchman)", "Traditional")],
)  # fmt: skip
def test_a_title_that_would_break_its_last_word_off_is_set_smaller(title: str, beside: str) -> None:
    found: list[tuple[str, float]] = []
    page = pypdf.PdfReader(io.BytesIO(to_pdf(Document("T", (Heading(title, 1, beside),))))).pages[0]
    page.extract_text(visitor_text=lambda text, at, *_: found.append((text.strip(), at[5])))
    words = title.split()
    rows = {round(y) for text, y in found if text and text.split()[0] in words}
    assert len(rows) == 1


SONG = (
    b"X:1\nT:Song\nM:3/4\nL:1/4\n%%score V {R L}\nV:V\nV:R\nV:L clef=bass\nK:F\n"
    b'[V:V]z3|"F"c2A|F3|]\nw: Stay a-while\n[V:R]F2A|c3|A3|]\n[V:L]F,3|F,3|F,3|]\n'
)


@pytest.fixture
def song() -> tuple[Piece, System]:
    piece = reading.from_bytes(SONG, "song.abc")
    system = engrave(piece, Look(width_px=900, staff_px=40, ribbon_px=20, words=True)).systems[0]
    return piece, system


def test_a_songs_voice_stands_with_its_words_over_the_piano(song: tuple[Piece, System]) -> None:
    piece, system = song
    assert len(system.staves) == 3
    assert [staff.ribbon is None for staff in system.staves] == [True, False, False]
    voice, upper, lower = system.staves
    assert voice.sung is not None
    assert voice.bottom < voice.sung < upper.top
    assert upper.sung is lower.sung is None
    assert {place.staff for place in system.notes} == {2, 3}
    assert sorted(place.note for place in system.notes) == list(range(len(piece.notes)))
    drawn = " ".join(text for text in ET.fromstring(system.svg).itertext() if text.strip())
    for said in ("Stay", "a", "while", "F"):
        assert said in drawn.split()
    plain = engrave(piece, Look(width_px=900, staff_px=40)).systems[0]
    assert len(plain.staves) == 2


def test_staves_to_write_on_keep_the_voice(song: tuple[Piece, System]) -> None:
    _, system = song
    left = [g for g in ET.fromstring(without_notes(system)).iter() if "note" in g.get("class", "").split()]
    assert len(left) == 3
    assert {g.get("id", " ")[0] for g in left} == {"v"}


# By turns: where one sings the other rests, and both within the bar between.
DUET = (
    b"X:1\nT:Duet\nM:3/4\nL:1/4\n%%score V W {R L}\nV:V name=Soprano\nV:W name=Baritone clef=bass\nV:R\n"
    b'V:L clef=bass\nK:F\n[V:V]"F"c2A|F3|z3|z3|]\nw: Stay a-while\n[V:W]z3|z2C,|D,3|F,3|]\nw: May-be I\n'
    b"[V:R]F2A|c3|A3|F3|]\n[V:L]F,3|F,3|F,3|F,3|]\n"
)


def test_two_singers_of_other_words_have_a_staff_each_over_the_piano() -> None:
    piece = reading.from_bytes(DUET, "duet.abc")
    assert engrave(piece, Look(width_px=900, staff_px=40)).systems[0].staves[0].sung is None
    systems = engrave(piece, Look(width_px=420, staff_px=40, words=True)).systems
    assert [len(system.staves) for system in systems] == [4, 3], "in one of them a singer rests"
    for system in systems[:1]:
        first, second, upper, lower = system.staves
        assert first.sung is not None
        assert second.sung is not None
        assert first.bottom <= first.sung < second.top < second.bottom <= second.sung < upper.top
        assert upper.sung is lower.sung is None
        assert {place.staff for place in system.notes} == {3, 4}
    drawn = " ".join(
        text for system in systems for text in ET.fromstring(system.svg).itertext() if text.strip()
    ).split()
    assert [drawn.count(said) for said in ("Stay", "while", "May", "be", "I")] == [1] * 5
    ids = [g.get("id", "") for system in systems for g in ET.fromstring(system.svg).iter() if g.get("class") == "note"]
    assert len(set(ids)) == len(ids)


def test_chord_symbols_over_a_singer_who_rests_are_not_lost_with_the_staff() -> None:
    piece = reading.from_bytes(DUET.replace(b"F3|z3|z3|]", b'F3|"C7"z3|"F"z3|]', 1), "duet.abc")
    systems = engrave(piece, Look(width_px=420, staff_px=40, words=True)).systems
    assert len(systems) > 1
    assert sum(system.svg.count('class="harm"') for system in systems) == len(piece.chords) == 3


def test_the_second_singers_line_stands_in_the_clef_of_the_voice_and_the_chords_stand_once() -> None:
    root = ET.fromstring(to_musicxml(reading.from_bytes(DUET, "duet.abc"), Print(words=True)))
    clefs = [[sign.text for sign in part.iter("sign")] for part in root.iter("part")]
    assert clefs == [["G"], ["F"], ["G", "F"]]
    assert [len(list(part.iter("harmony"))) for part in root.iter("part")] == [1, 0, 0]


def test_staves_to_write_on_keep_both_voices_and_their_rests() -> None:
    piece = reading.from_bytes(DUET, "duet.abc")
    for system in engrave(piece, Look(width_px=420, staff_px=40, words=True)).systems:
        whole, left = (ET.fromstring(svg) for svg in (system.svg, without_notes(system)))

        def of_voices(root: ET.Element, system: System = system) -> int:
            staves = [g for g in root.iter() if "staff" in g.get("class", "").split()]
            voices = sum(staff.sung is not None for staff in system.staves)
            sung = [staff for at, staff in enumerate(staves) if at % len(system.staves) < voices]
            return sum({"note", "mRest"} & set(g.get("class", "").split()) != set() for s in sung for g in s.iter())

        assert of_voices(left) == of_voices(whole) > 0


def test_staves_to_write_on_bear_no_slur_that_comes_from_the_system_before() -> None:
    slurred = piece(
        *(note(f"n{at}", "C5", at, 1, signs=("(",) if not at else (")n0",) if at == 31 else ()) for at in range(32)),
        bars=8,
    )
    systems = engrave(slurred, Look(width_px=400, staff_px=32, expression=True)).systems
    assert len(systems) > 2
    assert "spanning" in systems[1].svg
    assert not [name for name in ("spanning", "slur") if name in without_notes(systems[1])]


def test_pages_as_pictures_are_those_of_the_pdf_see_through_where_nothing_is_printed() -> None:
    pictures = to_pictures(EVERYTHING, "letter", 550)
    assert len(pictures) == len(pages(to_pdf(EVERYTHING, "letter")))
    for picture in pictures:
        page = pygame.image.load(io.BytesIO(picture), "page.png")
        assert page.get_size() == (425, 550)
        assert page.get_at((2, 2)).a == 0
        assert pygame.mask.from_surface(page, 60).count() > 50
