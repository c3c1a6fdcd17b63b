"""What the second process makes: the page for another key."""

from __future__ import annotations

import pathlib
from collections.abc import Iterator
from dataclasses import replace

import pytest

from tools import staging
from trainer.coaching.own import ownfingers
from trainer.music.piece import Piece, Word
from trainer.music.transpose import by_semitones
from trainer.scores.engraving import engraving, svg
from trainer.scores.engraving.engraving import Look, engrave
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.notation.preparing import Print
from trainer.scores.reading import read
from trainer.scores.shelf.library import find
from trainer.window.workroom import fitting, jobs
from trainer.window.workroom.fingered import Whose, fingered
from trainer.window.workroom.fitting import Room, Waiting


@pytest.fixture(autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


def found_sizes(monkeypatch: pytest.MonkeyPatch) -> list[Look]:
    """Every size that is found from now on, none that was kept."""
    sizes: list[Look] = []
    found = fitting.fitting

    def counted(*given: object) -> Look:
        sizes.append(found(*given))  # type: ignore[arg-type]
        return sizes[-1]

    monkeypatch.setattr(jobs, "fitting", counted)
    return sizes


def test_another_key_has_its_own_fingers_on_a_page_as_large_found_once(monkeypatch: pytest.MonkeyPatch) -> None:
    sizes = found_sizes(monkeypatch)
    piece = read(find("petzold-minuet-in-g"))
    look = Look(1200, 36.0, ribbon_px=26.0)
    pages = []
    for semitones in (-3, -4):
        move = by_semitones(piece.key, semitones).interval
        pages.append(jobs.fitted(piece, look, Room(2, 640, 18.0, 60.0), move, "medium"))
    assert len(sizes) == 1
    assert {page.engraved.look.staff_px for page in pages} == {sizes[0].staff_px}
    fingers = [fingered(piece, by_semitones(piece.key, by).interval, "medium")[0].notes for by in (-3, -4)]
    assert [note.finger for note in fingers[0]] != [note.finger for note in fingers[1]]


def test_a_key_whose_fingers_need_room_finds_its_size_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each time the song was opened four layouts were made anew."""
    sizes = found_sizes(monkeypatch)
    piece = read(find("schwesterlein"))
    look = Look(1460, 50.4, ribbon_px=32.8, words=True, expression=True)
    wished = piece, look, Room(2, 618, 33.5, 108.0, alone=67.0), by_semitones(piece.key, -2).interval, "medium"
    pages = [jobs.fitted(*wished) for _ in range(2)]
    assert len(sizes) == 2, "one as large as the piece, and one with the fingers of this key"
    assert sizes[0].staff_px > sizes[1].staff_px
    assert pages[0].engraved.look == pages[1].engraved.look


def test_the_next_system_is_worth_more_than_slurs_and_dynamics_and_these_more_than_nothing() -> None:
    plain = read(find("petzold-minuet-in-g"))
    piece = replace(plain, directions=tuple(Word(bar.onset, "molto espressivo") for bar in plain.bars))
    look = Look(1200, 36.0, ribbon_px=26.0, expression=True)

    def tallest(look: Look) -> float:
        return max(system.height for system in engrave(piece, look).systems)

    with_all, without = tallest(look), tallest(replace(look, stacked=False, expression=False))
    assert with_all > 1.1 * without
    for room, shown in ((2 * with_all + 2, True), (2 * without + 2, False), (with_all + 2, True)):
        found = fitting.fitting(piece, look, Room(2, round(room), look.staff_px, look.staff_px))
        assert found.expression is shown


def test_systems_need_room_for_their_neighbours_and_not_for_the_tallest_of_the_piece() -> None:
    assert fitting.room_for([200, 120, 130, 210], 2) == 340
    assert fitting.room_for([200, 120, 130, 210], 1) == 210
    assert fitting.room_for([200], 2) == 200
    piece = read(find("petzold-minuet-in-g"))
    look = Look(1039, 36.0, ribbon_px=23.0, expression=True)
    tall = [system.height for system in engrave(piece, look).systems]
    room = round(fitting.room_for(tall, 2)) + 2
    assert room < 2 * max(tall)
    found = fitting.fitting(piece, look, Room(2, room, 20.0, 60.0))
    assert (found.staff_px, found.stacked, found.expression) == (36.0, True, True)


def test_how_large_a_piece_fits_is_measured_and_drawn_once(monkeypatch: pytest.MonkeyPatch) -> None:
    drawings: list[bool] = []
    laying = svg.systems_of

    def counted(*given: object) -> object:
        drawings.append(bool(given[-1]))
        return laying(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(engraving, "systems_of", counted)
    piece = read(find("aura-lee"))
    # Too large at first, so that a smaller size must be found.
    look = Look(1040, 60.0, ribbon_px=26.0)
    tall = engraving.heights(piece, look)
    drawings.clear()
    jobs.fitted(
        piece,
        look,
        Room(2, round(fitting.room_for(tall, 2) * 0.8), 18.0, 60.0),
        by_semitones(piece.key, 0).interval,
        "medium",
    )
    assert drawings.count(True) == 1
    assert len(drawings) > 1


def test_a_piece_that_stands_there_as_a_whole_is_as_large_as_the_room_allows() -> None:
    look = Look(1480, 52.0, ribbon_px=32.8, words=True, expression=True)
    asked = (("garden-gate", True, 607), ("grey-rain", False, 310), ("petzold-minuet-in-g", False, 607))
    for name, larger, room in asked:
        piece = read(find(name))
        found = fitting.fitting(piece, look, Room(2, room, 34.0, 108.0))
        assert (found.staff_px > 1.5 * look.staff_px) is larger
        if larger:
            # The syllables grow with the notes.
            assert found.ribbon_px / found.staff_px == pytest.approx(look.ribbon_px / look.staff_px, abs=0.01)
        tall = [system.height for system in engrave(piece, found).systems]
        assert fitting.stand_in(tall, len(tall) if larger else 2, room)
    # In a room twice as high it takes more systems than are seen of a piece that goes on.
    piece = read(find("grey-rain"))
    found = fitting.fitting(piece, replace(look, width_px=1000), Room(2, 1400, 34.0, 80.0))
    tall = [system.height for system in engrave(piece, found).systems]
    assert len(tall) > 2
    assert fitting.standing(tall, 2, 1400) == len(tall)


def test_rows_under_the_systems_leave_a_piece_less_room_to_grow() -> None:
    piece, look = read(find("grey-rain")), Look(1480, 52.0, ribbon_px=32.8)
    plain, rows = (fitting.fitting(piece, look, Room(2, 1240 - 2 * below, 34.0, 108.0, below)) for below in (0, 100))
    assert look.staff_px < rows.staff_px < plain.staff_px
    tall = [system.height + 100 for system in engrave(piece, rows).systems]
    assert fitting.room_for(tall, len(tall)) <= 1240


def test_a_piece_is_written_out_once_for_staves_of_every_size(monkeypatch: pytest.MonkeyPatch) -> None:
    written: list[str] = []

    def counted(piece: Piece, printing: Print) -> str:
        written.append(piece.title)
        return to_musicxml(piece, printing)

    monkeypatch.setattr(engraving, "to_musicxml", counted)
    engraving._DOCUMENTS.clear()
    for name in ("winter-ade", "aura-lee", "la-partenza", "schwesterlein"):
        piece = read(find(name))
        for staff in (40.0, 44.0):
            look, shown, _ = engraving._settled(Look(1200, staff, words=True), piece)
            engraving.heights(piece, look)
            printing = engraving._printing(look, bool(piece.sung))
            assert engraving._document(shown, printing) == to_musicxml(shown, printing), name
        assert written.count(piece.title) == 1, name


def test_of_a_song_one_system_of_which_has_room_takes_the_room_beside_it_too(monkeypatch: pytest.MonkeyPatch) -> None:
    piece, look = read(find("la-partenza")), Look(1039, 36.0, ribbon_px=23.0, words=True, expression=True)
    room = round(max(engraving.heights(piece, look)) * 1.15)
    laid: list[float] = []
    measured = engraving.heights

    def counted(piece: Piece, look: Look) -> list[float]:
        laid.append(look.staff_px)
        return measured(piece, look)

    monkeypatch.setattr(fitting, "heights", counted)
    found = fitting.fitting(piece, look, Room(2, room, 24.0, 76.0, alone=48.0))
    assert look.staff_px < found.staff_px <= 48.0
    assert found.ribbon_px / found.staff_px == pytest.approx(look.ribbon_px / look.staff_px, rel=0.25)
    assert fitting.stand_in([system.height for system in engrave(piece, found).systems], 1, room)
    # Sizes in which two systems cannot stand are not all tried: each costs a song seconds.
    assert len(laid) <= 5
    assert fitting.fitting(piece, look, Room(2, room, 24.0, 76.0)).staff_px == look.staff_px


def test_a_long_song_of_which_one_system_has_room_comes_as_its_beginning_too() -> None:
    song = read(find("la-partenza"))
    times = -(-fitting.LONG // len(song.bars))
    piece = repeated(song, times)
    look = Look(1039, 36.0, ribbon_px=23.0, words=True, expression=True)
    room = round(max(engraving.heights(song, look)) * 1.2)
    move = by_semitones(piece.key, 0).interval
    drawn = jobs.fitted(piece, look, Room(2, room, 24.0, 76.0, alone=48.0), move, "medium", 0, Waiting())
    assert not drawn.whole
    assert len(drawn.engraved.systems) > 1


def repeated(song: Piece, times: int) -> Piece:
    """A song so often after itself."""
    spans = [song.length * turn for turn in range(times)]
    bars = tuple(replace(bar, number=bar.number + len(song.bars) * turn, onset=bar.onset + span)
                 for turn, span in enumerate(spans) for bar in song.bars)  # fmt: skip
    notes = tuple(replace(note, id=f"{note.id}x{turn}", onset=note.onset + span)
                  for turn, span in enumerate(spans) for note in song.notes)  # fmt: skip
    return replace(song, bars=bars, notes=notes)


def test_what_is_kept_of_a_page_never_gives_one_players_fingers_to_another(tmp_path: pathlib.Path) -> None:
    piece = read(find("petzold-minuet-in-g"))
    move = by_semitones(piece.key, -2)
    ownfingers.keep(tmp_path, piece, move.target, 5, 3, "Ada")
    look = Look(1000, 40.0, ribbon_px=30.0, expression=True)

    def page(player: str, every: bool = False, by: int = -2) -> tuple[dict[int, int], str]:
        whose = Whose(str(tmp_path), player)
        interval = by_semitones(piece.key, by).interval
        drawn = jobs.fitted(piece, look, Room(2, 640, 18.0, 60.0), interval, "medium", 0, None, whose, every)
        laid = engrave(fingered(piece, interval, "medium", whose, every)[0], drawn.engraved.look)
        return dict(drawn.fingered.said), "".join(system.svg for system in laid.systems)

    first = [page("Ada"), page("Bea"), page("Ada", every=True), page("Bea", every=True), page("Ada", by=-3)]
    assert [said for said, _ in first] == [{5: 3}, {}, {5: 3}, {}, {}]
    assert first[0][1] != first[1][1]
    assert first[2][1] != first[3][1]
    again = [page("Bea"), page("Ada"), page("Bea", every=True), page("Ada", every=True), page("Bea", by=-3)]
    assert [again[at] for at in (1, 0, 3, 2)] == first[:4]
    assert again[4] == first[4]
