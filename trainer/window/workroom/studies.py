"""Jobs of the second process that look into a piece or the journal: chords, drills, a sheet, the page for a lesson.
Nothing here draws.
"""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.music.piece import Piece
from trainer.music.pitch import MusicError
from trainer.music.transpose import Transposition, transposed
from trainer.scores.plain import as_name

if TYPE_CHECKING:
    from trainer.coaching.paper.sheets import Wishes
    from trainer.coaching.paper.students import Student
    from trainer.coaching.singers.setlist import Occasion
    from trainer.hands.own import Remark
    from trainer.scores.harmony import Correction, Harmony
    from trainer.scores.paper.printing import Document
    from trainer.window.settings import Settings
    from trainer.window.workroom.fingered import Whose


def chords_of(piece: Piece, folder: str) -> tuple[Harmony, ...]:
    """The chords of a piece, the player's own corrections (``harmony.toml`` in the folder) above what is found."""
    from trainer.scores.harmony import corrected

    return corrected(*chords_found(piece, folder))


def chords_found(piece: Piece, folder: str) -> tuple[tuple[Harmony, ...], tuple[Correction, ...]]:
    """The chords of a piece as they are found, and what the player has said of them."""
    from trainer.coaching.own import corrections
    from trainer.scores.harmony import harmonies

    return harmonies(piece), corrections.load(Path(folder), piece)


def chord_kept(piece: Piece, folder: str, change: Correction) -> tuple[Correction, ...]:
    """Keep a correction of the player's (with an empty figure: take it away); all that is said of the piece then."""
    from trainer.coaching.own import corrections

    corrections.keep(Path(folder), piece, change)
    return corrections.load(Path(folder), piece)


def finger_kept(piece: Piece, plan: Transposition, whose: Whose, note: int, finger: int) -> None:
    """Keep a finger of the player's for a note in a key, 0 to take it away."""
    from trainer.coaching.own import ownfingers

    ownfingers.keep(Path(whose.folder), piece, plan.target, note, finger, whose.player)


def finger_seen(piece: Piece, plan: Transposition, hand_size: str, whose: Whose, note: int) -> Remark | None:
    """What there is to know of a finger the player has said of a note."""
    from trainer.coaching.own import ownfingers
    from trainer.hands.own import remark
    from trainer.window.workroom.fingered import laid_with

    expected = transposed(piece, plan.interval)
    found = laid_with(piece, expected, hand_size, ownfingers.load(Path(whose.folder), piece, whose.player))
    return remark(expected, note, found.target[piece.notes[note].hand], hand_size)


def skeleton_at(path: str, folder: str) -> Piece:
    """Only the harmony of the piece in a file: bass and close chords; no symbols, which would name the written key."""
    from trainer.scores.harmony import skeleton
    from trainer.scores.reading import read

    piece = read(path)
    return replace(skeleton(piece, chords_of(piece, folder)), chords=())


def clef_line(move: Transposition, hand: str) -> Piece:
    """A fresh line to be read in the clef that a move asks for."""
    from trainer.coaching.paper.clefdrill import clef_drill

    return clef_drill(move, secrets.randbelow(2**31), hand=hand)[1]


def printed(path: str, move: Transposition, folder: str, wished: Settings, work: str = "") -> str:
    """Set a piece on paper for one key, with what the settings name of a sheet; the path of the PDF.

    `folder` is the journal's, where corrected chords and the player's own fingers are kept; `work` what is set of the
    piece, in words.
    """
    from trainer.scores.paper.printing import save
    from trainer.window.sheetfolder import folder_of

    into = folder_of(wished.sheets)
    document, name = _on_paper(path, move, folder, wished, work)
    place = into / f"{name}.pdf"
    save(document, place, wished.paper)
    return str(place)


def seen_on_paper(
    path: str, move: Transposition, folder: str, wished: Settings, work: str, high: int
) -> tuple[bytes, ...]:
    """What `printed` would print, each page as a picture `high` pixels high, see-through where nothing is printed."""
    from trainer.scores.paper.printing import to_pictures

    return to_pictures(_on_paper(path, move, folder, wished, work)[0], wished.paper, high)


def _on_paper(path: str, move: Transposition, folder: str, wished: Settings, work: str) -> tuple[Document, str]:
    """A piece as it is printed for one key, and what its file is called."""
    from trainer.coaching.paper.alone import on_paper
    from trainer.coaching.singers.instruments import instrument
    from trainer.scores.reading import read

    piece, page = read(path), wished.sheet_page
    wishes = _wishes(piece, folder, wished, wished.player, page != "transpose")
    wishes = replace(wishes, answers=wished.sheet_answers, blank=wished.sheet_blank, work=work)
    player = instrument(wished.sheet_instrument) if page == "part" else None
    return on_paper(piece, (move,), wishes, player=player, fingers=wished.sheet_fingers if page == "alone" else None)


def _wishes(piece: Piece, folder: str, wished: Settings, player: str, alone: bool = False) -> Wishes:
    """What the settings name of a page to be transposed, or of music `alone`, and the fingers of a player's own."""
    from trainer.coaching.own import ownfingers
    from trainer.coaching.paper.sheets import Wishes

    chords = wished.alone_chords if alone else wished.sheet_chords
    return Wishes(
        wished.alone_syllables if alone else wished.sheet_syllables, minor=wished.minor, hand_size=wished.hand_size,
        paper=wished.paper, harmony=chords_of(piece, folder) if chords else (),
        own=ownfingers.load(Path(folder), piece, player),
    )  # fmt: skip


def songs_printed(occasion: Occasion, folder: str, wished: Settings) -> tuple[str, list[str]]:
    """The songs of an occasion on paper, each alone in its singer's key, as the settings have music alone; the path of
    the PDF, and in a sentence each why songs are not in it.

    Raises
    ------
    MusicError
        When none of them is there, or the folder takes no file.
    """
    from trainer.coaching.paper.alone import songbook
    from trainer.scores.paper.printing import save
    from trainer.window.sheetfolder import folder_of
    from trainer.window.workroom.singing import opened

    into, found = folder_of(wished.sheets), opened(occasion.songs)
    faults = [one.fault for one in found if one.fault]
    songs = [(one.piece, one.move, one.song.singer) for one in found if one.piece is not None and one.move is not None]
    if not songs:
        raise MusicError(faults[0])
    place = into / f"{as_name(occasion.name, f' {occasion.date}')}.pdf"
    wishes = partial(_wishes, folder=folder, wished=wished, player=wished.player, alone=True)
    save(songbook(occasion.name, songs, wishes, wished.sheet_fingers), place, wished.paper)
    return str(place), faults


def work_printed(journal: str, players: Sequence[str], wished: Settings) -> list[str]:
    """The work set for some players on paper, a PDF for each who has any left, with the syllables and chords that the
    settings name of a sheet; their paths.
    """
    from datetime import date

    from trainer.coaching.paper.workbook import workbook
    from trainer.coaching.work.assignments import DONE, load
    from trainer.coaching.work.work import work_of
    from trainer.journal.store import Journal
    from trainer.scores.paper.printing import save
    from trainer.window.sheetfolder import folder_of

    into, day, made = folder_of(wished.sheets), date.today(), []
    with Journal(journal, strict=True) as kept:
        folder = kept.path.parent
        for player in players:
            work = [one for one in work_of(kept, player, load(folder), day) if one.state != DONE]
            if work:
                wishes = partial(_wishes, folder=str(folder), wished=wished, player=player)
                place = into / f"{as_name(f'Work for {player}', f' {day}')}.pdf"
                save(workbook(player, work, day, wishes, wished.letters), place, wished.paper)
                made.append(str(place))
    return made


def written_out(path: str, move: Transposition, folder: str, wished: Settings) -> str:
    """The music alone in a key, as MusicXML beside the sheets; the path of the file."""
    from trainer.coaching.own import ownfingers
    from trainer.hands.changes import served_there
    from trainer.music.transpose import transposed
    from trainer.scores.engraving.writing import to_musicxml
    from trainer.scores.plain import write_whole
    from trainer.scores.reading import read
    from trainer.window.sheetfolder import folder_of

    place = folder_of(wished.sheets)
    piece = read(path)
    own = ownfingers.load(Path(folder), piece, wished.player)
    expected = served_there(piece, transposed(piece, move.interval), wished.hand_size, own)
    place /= f"{as_name(piece.title, f' - {move.target.name}')}.musicxml"
    write_whole(place, to_musicxml(expected).encode(), private=False)
    return str(place)


def lesson_printed(journal: str, player: str, everyone: bool, wished: Settings) -> str:
    """The page for a player's lesson on paper, or the studio's page and everybody's; the path of the PDF."""
    from datetime import datetime

    from trainer.coaching.paper.lesson import everybody, lesson
    from trainer.coaching.work.assignments import load
    from trainer.journal.store import Journal
    from trainer.scores.paper.printing import save
    from trainer.window.sheetfolder import folder_of

    into, now = folder_of(wished.sheets), datetime.now().astimezone()
    with Journal(journal, strict=True) as kept:
        work = load(kept.path.parent)
        terms = now, None, work, wished.paper, wished.minor, wished.letters
        document = everybody(kept, *terms) if everyone else lesson(kept, player, *terms)
    place = into / f"{as_name(document.title)}.pdf"
    save(document, place, wished.paper)
    return str(place)


def students_of(journal: str, players: Sequence[str], minor: str) -> list[Student]:
    """Everybody at a glance, since a week ago."""
    from datetime import datetime

    from trainer.coaching.paper.students import students
    from trainer.coaching.work.assignments import load
    from trainer.journal.store import Journal

    with Journal(journal, strict=True) as kept:
        return students(kept, players, datetime.now().astimezone(), None, load(kept.path.parent), minor)


def exported(journal: str, player: str, folder: str) -> tuple[int, int]:
    """A player's takes as CSV and JSON in a folder; how many these are, and how many are damaged and left out."""
    from trainer.journal.export import readable, take_numbers, write_csv, write_json, written_whole
    from trainer.journal.store import Journal

    damaged: list[int] = []
    with Journal(journal, strict=True) as kept:
        numbers = take_numbers(kept, player)
        for name, write in (("takes.csv", write_csv), ("takes.json", write_json)) if numbers else ():
            damaged.clear()
            takes = readable(kept, numbers, damaged)
            written_whole(Path(folder) / name, partial(write, takes), folders=True)
    return len(numbers) - len(damaged), len(damaged)
