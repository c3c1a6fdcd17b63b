"""Engraving: every note, staff and bar has a place, and the place is where the ink is."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from multiprocessing import get_context
from pathlib import Path

import pygame
import pytest

from tests.outside.references import work
from tests.scores.making import note, piece
from trainer.music.piece import LEFT, Piece, Singer, Word
from trainer.scores import reading
from trainer.scores.engraving import engraving
from trainer.scores.engraving.breaking import broken
from trainer.scores.engraving.engraving import Engraved, Look, engrave
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.notation.preparing import Print
from trainer.scores.reading import read
from trainer.scores.shelf.library import bundled_folder, find
from trainer.window.paint import fonts

_SVG = "{http://www.w3.org/2000/svg}"

LOOK = Look(width_px=900, staff_px=40, ribbon_px=22)


@pytest.fixture(scope="module")
def minuet() -> Piece:
    return read(bundled_folder() / "open" / "petzold-minuet-in-g.musicxml")


@pytest.fixture(scope="module")
def page(minuet: Piece) -> Engraved:
    return engrave(minuet, LOOK)


def pixels(png: bytes) -> pygame.Surface:

    return pygame.image.load(io.BytesIO(png), "page.png")


def test_every_note_and_every_bar_has_one_place(minuet: Piece, page: Engraved) -> None:
    assert sorted(page.places) == list(range(len(minuet.notes)))
    placed = [bar.bar for system in page.systems for bar in system.bars]
    assert placed == list(range(len(minuet.bars)))


@pytest.mark.parametrize(
    ("written", "drawn"),
    [("F#m", "F♯m"), ("Eb7", "E♭7"), ("Bb", "B♭"), ("Ab/Gb", "A♭/G♭"), ("C#m7b5/G#", "C♯m7♭5/G♯"), ("B♭maj7", "B♭maj7"),
     ("F##dim", "F×dim"), ("Baug", "Baug")],
)  # fmt: skip
def test_chord_symbols_keep_their_accidentals_in_a_face_every_page_has(written: str, drawn: str) -> None:
    song = replace(piece(note("a", "C4", 0, 4), bars=1), chords=(Word(Fraction(0), written),))
    root = ET.fromstring(engrave(song, LOOK).systems[0].svg)
    (symbol,) = [group for group in root.iter() if group.get("class") == "harm"]
    assert "".join(symbol.itertext()) == drawn
    assert not [part for part in symbol.iter() if part.get("font-family")]
    assert len({part.get("font-size") for part in symbol.iter() if part.text and part.text.strip()}) == 1


def test_heads_lie_on_their_line_or_space(minuet: Piece, page: Engraved) -> None:
    """In the treble clef the top line is F5, a staff step is half a space (any rudiments handbook)."""
    for system in page.systems:
        for place in system.notes:
            if place.staff == 1:
                steps_below_f5 = 38 - minuet.notes[place.note].pitch.steps
                assert place.y == pytest.approx(system.staves[0].top + steps_below_f5 * 5, abs=0.6)


def test_the_ink_is_where_the_places_say(page: Engraved) -> None:
    for index, system in enumerate(page.systems[:2]):
        picture = pixels(page.png(index))
        assert picture.get_size() == (round(system.width), pytest.approx(system.height, abs=1))
        for place in system.notes:
            if place.width < 14:  # black and half heads; a half head is hollow at its centre
                around = [picture.get_at((round(place.x + dx), round(place.y + dy)))[3]
                          for dx in (-4, 0, 4) for dy in (-3, 0, 3)]  # fmt: skip
                assert max(around) > 200
        for staff in system.staves:
            for y in (staff.top, staff.bottom):
                assert picture.get_at((round(system.left + 60), int(y)))[3] == 255  # crisp, on one row of pixels
        for bar in system.bars[:-1]:
            column = [picture.get_at((int(bar.right) + dx, int(system.staves[0].top + 15)))[3] for dx in (-2, -1, 0, 1)]
            assert max(column) == 255


def test_a_treble_clef_is_not_cut_off_where_nothing_else_reaches_as_far() -> None:
    high = piece(note("a", "A4", 0, 4), note("b", "A4", 4, 4))
    # A low line with words, whose page says its octave, has a clef with an 8 under it.
    low = replace(high, notes=(note("a", "A3", 0, 4), note("b", "A3", 4, 4)), at_pitch=True,
                  lyrics=(Word(Fraction(0), "Ah"),))  # fmt: skip
    for tune in (high, low):
        picture = pixels(engrave(tune, Look(700, 40, bar_numbers=False)).png(0))
        wide, tall = picture.get_size()
        assert not any(picture.get_at((x, y))[3] for x in range(wide) for y in (0, tall - 1))


def test_the_ribbon_has_room_of_its_own(page: Engraved) -> None:
    for index, system in enumerate(page.systems):
        picture = pixels(page.png(index))
        for staff in system.staves:
            assert staff.ribbon is not None
            assert staff.ribbon > staff.bottom
            row = int(staff.ribbon - 6)
            ink = [x for x in range(40, round(system.right) - 20) if picture.get_at((x, row))[3] > 60]
            barlines = [x for x in ink if any(abs(x - bar.right) < 3 for bar in system.bars)]
            assert len(ink) == len(barlines)


def test_paper_is_transparent_and_ink_as_asked() -> None:
    page = engrave(piece(note("a", "C5", 0, 4)), replace(LOOK, ink="#102030"))
    picture = pixels(page.png(0))
    assert picture.get_at((0, 0))[3] == 0
    staff = page.systems[0].staves[0]
    assert tuple(picture.get_at((round(page.systems[0].left) + 40, int(staff.top)))) == (16, 32, 48, 255)


def test_a_note_in_another_colour() -> None:
    made = piece(note("a", "C5", 0, 1), note("b", "E5", 1, 1))
    page = engrave(made, replace(LOOK, colours={1: "#2C5A8C"}))
    picture = pixels(page.png(0))
    first, second = page.places[0], page.places[1]
    assert tuple(picture.get_at((round(first.x), round(first.y))))[:3] == (0x1F, 0x1B, 0x16)
    assert tuple(picture.get_at((round(second.x), round(second.y))))[:3] == (0x2C, 0x5A, 0x8C)


def test_a_place_between_notes_lies_between_them() -> None:
    made = piece(note("a", "C5", 0, 2), note("b", "E5", 2, 2), note("c", "C5", 4, 4))
    page = engrave(made, LOOK)
    system, x = page.place_at(made, Fraction(1))
    assert system == 0
    assert page.places[0].x < x < page.places[1].x
    assert page.place_at(made, Fraction(2))[1] == page.places[1].x
    assert page.place_at(made, Fraction(8))[1] <= page.systems[0].right


def test_one_hand_is_one_staff_and_repeats_are_written_out() -> None:
    again = piece(note("a", "C4", 0, 4), note("a", "C4", 4, 4))
    page = engrave(again, LOOK)
    assert len(page.systems[0].staves) == 1
    assert sorted(page.places) == [0, 1]
    both = engrave(piece(note("a", "C4", 0, 4), note("b", "C3", 0, 4, LEFT)), LOOK)
    assert len(both.systems[0].staves) == 2


def test_the_second_engraving_comes_from_the_cache(
    minuet: Piece, page: Engraved, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("KEYFARER_HOME", str(tmp_path))
    assert engrave(minuet, LOOK) == page
    monkeypatch.setattr(engraving, "_rendered", lambda *_: pytest.fail("engraved afresh"))
    assert engrave(minuet, LOOK) == page
    with pytest.raises(pytest.fail.Exception):
        engrave(minuet, replace(LOOK, staff_px=44))


@pytest.mark.usefixtures("home")
def test_a_page_twice_as_large_is_not_the_small_one_that_was_kept(minuet: Piece) -> None:
    small, large = (engrave(minuet, Look(width_px=450 * times, staff_px=28 * times)) for times in (1, 2))
    assert [system.width for system in large.systems] == [2 * system.width for system in small.systems]
    first, same = small.systems[0].staves[0], large.systems[0].staves[0]
    assert round(same.bottom - same.top) == 2 * round(first.bottom - first.top)


def test_pages_travel_between_processes() -> None:
    made = piece(note("a", "C5", 0, 4))
    with ProcessPoolExecutor(1, get_context("spawn")) as pool:
        page = pool.submit(engrave, made, LOOK).result(timeout=60)
    assert page == engrave(made, LOOK)


def test_no_page_closes_with_a_bar_or_two_alone() -> None:
    for name in ("au-clair-de-la-lune-first-strain", "five-step-stair", "swallowtail-jig", "was-fuehr-ich-denn"):
        (file,) = bundled_folder().glob(f"*/{name}.musicxml")
        made = read(file)
        for width in (900, 1140, 1456):
            systems = engrave(made, Look(width_px=width, staff_px=48, ribbon_px=30)).systems
            counts = [len(system.bars) for system in systems]
            assert [bar.bar for system in systems for bar in system.bars] == list(range(len(made.bars)))
            assert len(systems) == 1 or min(counts) * 2 >= max(counts), (name, width, counts)
            assert len(systems) == 1 or systems[-1].right == pytest.approx(systems[0].right, abs=1), (name, width)


def test_equal_notes_stand_about_equally_apart() -> None:
    """Room kept for the widest syllable everywhere drove notes of one length up to 2.4 times as far apart as others."""
    for name in ("greensleeves", "die-loreley", "musette-in-d"):
        made = read(bundled_folder() / "open" / f"{name}.musicxml")
        page = engrave(made, Look(width_px=1472, staff_px=52, ribbon_px=33.8))
        heads: dict[Fraction, float] = {}
        for index, place in page.places.items():
            if not made.notes[index].grace:
                onset = made.notes[index].onset
                heads[onset] = min(heads.get(onset, place.x), place.x)
        gaps: dict[tuple[int, Fraction], list[float]] = {}
        for here, there in pairwise(sorted(heads)):
            if made.bar_index(here) == made.bar_index(there):
                gaps.setdefault((made.bar_index(here), there - here), []).append(heads[there] - heads[here])
        assert max(max(those) / min(those) for those in gaps.values()) < 1.8, name


def test_of_a_chord_only_the_outer_finger_is_printed_where_systems_must_not_be_tall() -> None:
    made = piece(
        note("a", "C4", 0, 4, finger=1), note("b", "E4", 0, 4, finger=3), note("c", "G4", 0, 4, finger=5),
        note("d", "C3", 0, 4, LEFT, finger=5), note("e", "G3", 0, 4, LEFT, finger=1), note("f", "D4", 4, 4, finger=2),
    )  # fmt: skip

    def printed(stacked: bool) -> list[str]:
        root = ET.fromstring(engrave(made, replace(LOOK, stacked=stacked)).systems[0].svg)
        return sorted("".join(one.itertext()).strip() for one in root.iter() if one.get("class") == "fing")

    assert printed(True) == ["1", "1", "2", "3", "5", "5"]
    assert printed(False) == ["2", "5", "5"]


@pytest.mark.parametrize(
    "name", ["heer-halewijn", "o-traurigkeit", "susanna-willt-du-mit", "wenn-ich-ein-voeglein-waer"]
)
def test_every_staff_has_its_five_lines_wherever_it_lies_between_the_pixels(name: str) -> None:
    """Lines a fiftieth thinner than a pixel, drawn with sharp edges, vanished where they lay between two rows."""
    import pygame

    (file,) = bundled_folder().glob(f"*/{name}.musicxml")
    page = engrave(read(file), Look(width_px=1039, staff_px=31.9, ribbon_px=20.4))
    for at, system in enumerate(page.systems):
        ink = pygame.surfarray.array_alpha(pixels(page.png(at))) > 40
        for staff in system.staves:
            rows = ink[:, round(staff.top) - 2 : round(staff.bottom) + 3].sum(axis=0) > 0.9 * system.width
            assert rows.sum() == 5, (name, at)


@pytest.mark.parametrize(("staff_px", "thick"), [(32, 1), (36, 1), (44, 2)])
def test_every_barline_is_as_thick_as_the_others(staff_px: int, thick: int) -> None:
    """A line on the boundary of two pixels was one thicker than its neighbours, one of 1.98 pixels one thinner."""
    import pygame

    found = set()
    for name in ("aura-lee", "petzold-minuet-in-g", "greensleeves"):
        page = engrave(read(find(name)), Look(width_px=956, staff_px=staff_px, ribbon_px=20.4))
        for at, system in enumerate(page.systems):
            ink = pygame.surfarray.array_alpha(pixels(page.png(at))) > 40
            top, low = round(system.staves[0].top) + 2, round(system.staves[-1].bottom) - 2
            for bar in system.bars[:-1]:
                x = round(bar.right)
                found.add(int(ink[x - 4 : x + 5, top:low].all(axis=1).sum()))
    assert found == {thick}


@pytest.mark.parametrize("staff_px", range(24, 64, 4))
def test_a_picture_has_the_size_its_system_says(staff_px: int) -> None:
    page = engrave(read(find("petzold-minuet-in-g")), Look(width_px=955, staff_px=staff_px, ribbon_px=20.4))
    for at, system in enumerate(page.systems):
        assert pixels(page.png(at)).get_size() == (system.width, system.height)
    assert max(system.width for system in page.systems) <= 955


def test_each_hand_keeps_its_row_of_syllables_where_one_crosses_over() -> None:
    right = [note(f"r{at}", "C4", at, 1, staff=2 if at > 1 else 1) for at in range(4)]
    left = [note(f"l{at}", "E3", at + 4, 1, LEFT, staff=1 if at > 1 else 2) for at in range(4)]
    made = piece(*right, note("low", "C3", 0, 4, LEFT), *left, note("high", "G5", 4, 4))
    upper, lower = engrave(made, LOOK).systems[0].staves
    assert upper.ribbon is not None
    assert lower.ribbon is not None
    assert upper.bottom < upper.ribbon < lower.top
    assert lower.bottom < lower.ribbon


def test_a_long_piece_has_no_voice_it_was_not_given() -> None:
    """Of the names verovio makes up for rests, stems and barlines some begin as those of the voice do."""
    long = piece(*(note(f"n{i}", f"{'CDEFGAB'[i % 7]}4", i, 1) for i in range(400)), bars=100)
    page = engrave(long, replace(LOOK, ribbon_px=20.0))
    assert all(staff.sung is None for system in page.systems for staff in system.staves)


@pytest.mark.parametrize(
    "words",
    ["straightened strengthened " * 8, "wandering through thousand strength brightness stretched thoughts " * 3],
)
@pytest.mark.parametrize("width", [600, 700, 1000])
def test_no_word_of_a_song_is_written_over_the_next(words: str, width: int) -> None:
    text = f"X:1\nM:4/4\nL:1/8\nK:G\nGABc dcBA|GABc dcBA|G2 A2 B4|\nw: {words}\n"
    song = reading.from_bytes(text.encode(), "song.abc")
    found = 0
    for system in engrave(song, Look(width_px=width, staff_px=28, words=True)).systems:
        root = ET.fromstring(system.svg)
        verses = [group for group in root.iter(f"{_SVG}g") if "verse" in group.get("class", "").split()]
        placed = []
        for text_element in (next(verse.iter(f"{_SVG}text")) for verse in verses):
            span = next(part for part in text_element.iter(f"{_SVG}tspan") if part.text and part.text.strip())
            size = max(float(part.get("font-size", "0px")[:-2]) for part in text_element.iter(f"{_SVG}tspan"))
            left = float(text_element.get("x", 0))
            placed.append((left, left + fonts.width((span.text or "").strip(), fonts.ROMAN, size)))
        placed.sort()
        found += len(placed)
        assert all(end < start for (_, end), (start, _) in pairwise(placed))
    assert found == min(19, len(words.split()))


def test_words_keep_their_size_where_notes_and_not_words_make_a_system_full() -> None:
    song = reading.read(work("verdi/laDonna*.mxl"))
    begun = replace(
        song,
        bars=song.bars[:24],
        notes=tuple(note for note in song.notes if note.onset < song.bars[24].onset),
        lyrics=tuple(word for word in song.lyrics if word.onset < song.bars[24].onset),
        voice_line=(),
    )
    few = replace(piece(note("a", "C4", 0, 4)), lyrics=(Word(Fraction(0), "la"),))
    assert _word_sizes(begun) == _word_sizes(few)


def _word_sizes(song: Piece) -> set[str]:
    found = set()
    for system in engrave(song, Look(width_px=750, staff_px=28, words=True)).systems:
        root = ET.fromstring(system.svg)
        for verse in (group for group in root.iter(f"{_SVG}g") if "verse" in group.get("class", "").split()):
            found |= {part.get("font-size", "") for part in verse.iter(f"{_SVG}tspan") if (part.text or "").strip()}
    return found


def test_a_page_laid_out_in_several_sizes_is_written_once(monkeypatch: pytest.MonkeyPatch) -> None:
    written: list[Piece] = []

    def noted(piece: Piece, printing: Print) -> str:
        written.append(piece)
        return to_musicxml(piece, printing)

    monkeypatch.setattr(engraving, "to_musicxml", noted)
    monkeypatch.setattr("trainer.scores.cache.fetch", lambda name: None)
    engraving._DOCUMENTS.clear()
    made = piece(*(note(f"once{at}", "C4", at, 1) for at in range(40)), bars=10)
    for width in (300, 340):
        assert len(engrave(made, replace(LOOK, width_px=width)).systems) > 2
    assert len(written) == 1
    engrave(replace(made, at_pitch=True), LOOK)
    assert len(written) == 2, "its clef may be another"
    engrave(replace(made, singers=(Singer(), Singer(at_pitch=True))), LOOK)
    assert len(written) == 3, "and the second singer's"


def test_systems_are_told_where_to_begin_in_every_part() -> None:
    made = replace(piece(*(note(f"n{at}", "C4", 4 * at, 4) for at in range(3)), bars=3), sung=(note("v", "E5", 0, 4),))
    root = ET.fromstring(broken(to_musicxml(made, Print(words=True)), {2}).encode())
    told = [[bar.find("print") is not None for bar in part.iter("measure")] for part in root.iter("part")]
    assert told == [[False, False, True]] * 2
