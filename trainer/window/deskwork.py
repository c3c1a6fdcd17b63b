"""Work made from the piece chosen on the Desk: its harmony, a line to read by clef, a sheet, an assignment."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.journal.errors import JournalError
from trainer.music.pitch import MusicError
from trainer.window import studies, viewing
from trainer.window.places import home
from trainer.window.strings import key_name, say

if TYPE_CHECKING:
    from trainer.coaching.assignments import Assignment
    from trainer.music.piece import Piece
    from trainer.music.transpose import Transposition
    from trainer.scores.library import Entry
    from trainer.window.desk import Desk

# Ways to practise a piece besides those of `trainer.session.MODES`: its harmonic skeleton, reading by clef.
HARMONY, CLEF = "harmony", "clef"
DRILLS = (HARMONY, CLEF)
# How long the line with a sheet's place stays.
LONG_S = 20.0
# Until the next lesson.
_WORK_DAYS = 7


def start(desk: Desk, drill: str, entry: Entry, move: Transposition, hands: str) -> None:
    """Make a drill from a piece and put it on the stand, in the key chosen."""
    from trainer.music.piece import BOTH, RIGHT

    house = desk.house

    def made(piece: Piece) -> None:
        from trainer.window.practice import Wish, written_tempo

        desk.reading = ""
        chosen = hands if hands == BOTH or hands in piece.hands else BOTH
        desk.play(Wish(piece, move, chosen, tempo=written_tempo(piece), name=f"{drill}: {entry.path}"))
        # What the drill is about is shown; its key puts it away.
        house.change(**({"clef": True} if drill == CLEF else {"chords": True}))
        house.say(say("stand.clef.wish" if drill == CLEF else "stand.degrees.on"), LONG_S)

    if drill == HARMONY:
        job, given = studies.skeleton_at, (entry.path, str(house.journal_file.parent))
        house.workroom.ask(job, *given, then=made, failed=desk.failed)
    else:
        # A line for both hands is read from the upper staff.
        line_hand = RIGHT if hands == BOTH else hands
        house.workroom.ask(studies.clef_line, move, line_hand, then=made, failed=desk.failed)


def set_work(desk: Desk, entry: Entry, move: Transposition, hands: str) -> None:
    """Set the piece for whoever sits at the Desk; the rest of the terms a teacher writes into the file.

    It is to be played from now on: what reached the goal earlier on this day is not taken for it.
    """
    from trainer.coaching import assignments
    from trainer.coaching.work import work_of
    from trainer.scores.library import bundled_folder

    house, day = desk.house, date.today()
    place = Path(entry.path)
    # A piece that comes along is named, so that the work means the same on another computer.
    piece = place.stem if place.is_relative_to(bundled_folder()) else entry.path
    work = assignments.Assignment(
        piece, entry.title, (move.target.short,), (house.player,), hands, given=day, by=day + timedelta(days=_WORK_DAYS)
    )
    folder = house.journal_file.parent
    said = {
        "title": entry.title, "key": key_name(move.target, house.settings.letters), "player": house.player,
        "day": f"{work.by:%A}", "path": home(folder / assignments.FILE),
    }  # fmt: skip
    try:
        if house.journal is not None:
            house.journal.flush()
            (found,) = work_of(house.journal, house.player, [work], day)
            work = replace(work, times=1 + sum(one.reached for one in found.keys))
        known = work in assignments.load(folder)
        if not known:
            assignments.add(folder, work)
    except (JournalError, MusicError) as trouble:
        house.say(str(trouble))
        return
    house.say(say("desk.set.known" if known else "desk.set.done", **said), LONG_S)


def withdraw(desk: Desk, work: Assignment) -> None:
    """Take back what is set for whoever sits at the Desk; where it is set for everyone, for everyone."""
    from trainer.coaching import work as working

    house = desk.house
    try:
        working.withdraw(house.journal_file.parent, work, date.today(), house.player)
    except MusicError as trouble:
        house.say(str(trouble))
        return
    whom = house.player if work.players else say("desk.set.everyone")
    house.say(say("desk.set.back", title=work.title, player=whom), LONG_S)


def absent(title: str) -> str:
    """What is said when the music of set work is asked for and is not there."""
    from trainer.scores.library import own_folder

    return say("desk.set.absent", title=title, path=home(own_folder()))


def print_sheet(desk: Desk, entry: Entry, move: Transposition) -> None:
    """Set the piece on paper for the key chosen; one quiet line says where the sheet lies and what shows it."""
    house = desk.house
    house.say(say("desk.printing", title=entry.title), LONG_S)

    def done(path: str) -> None:
        desk.sheet = path
        key = key_name(move.target, house.settings.letters)
        house.say(say("desk.printed", key=key, path=home(Path(path))), LONG_S)

    folder = str(house.journal_file.parent)
    house.workroom.ask(studies.printed, entry.path, move, folder, house.settings, then=done, failed=desk.failed)


def show_sheet(desk: Desk) -> None:
    """The sheet printed last, in the program that shows PDFs on this computer; where there is none, that is said."""
    if not desk.sheet:
        desk.house.say(say("desk.sheet.none"))
        return

    def told(said: str) -> None:
        desk.house.say(said or say("desk.sheet.shown", path=home(Path(desk.sheet))), LONG_S)

    desk.house.workroom.ask_aside(viewing.show, desk.sheet, then=told, failed=desk.failed)
