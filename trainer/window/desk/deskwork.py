"""Work made from the piece chosen on the Desk: its harmony, a line to read by clef, a sheet, an assignment."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.journal.errors import JournalError
from trainer.music.pitch import MusicError
from trainer.window import viewing
from trainer.window.places import home
from trainer.window.strings import key_name, say
from trainer.window.workroom import studies

if TYPE_CHECKING:
    from trainer.coaching.work.assignments import Assignment, Progress
    from trainer.music.piece import Piece
    from trainer.music.transpose import Transposition
    from trainer.scores.shelf.library import Entry
    from trainer.window.desk.desk import Desk

# Ways to practise a piece besides those of `trainer.session.MODES`: its harmonic skeleton, reading by clef.
HARMONY, CLEF = "harmony", "clef"
DRILLS = (HARMONY, CLEF)
# How long the line with a sheet's place stays.
LONG_S = 20.0


@dataclass(frozen=True)
class Terms:
    """On which terms work is set.

    Parameters
    ----------
    days : int
        Until so many days from now; a week is until the next lesson.
    times, goal : int
        How many takes, and what share of a hundred notes is to be right in each.
    tempo : int or None
        Felt beats a minute at least; None for any.
    help : str
        The most help.
    everyone : bool
        For all who play here, not only for whoever sits at the Desk.
    note : str
        To the student.
    """

    days: int = 7
    times: int = 1
    goal: int = 90
    tempo: int | None = None
    help: str = "all"
    everyone: bool = False
    note: str = ""


WEEK = Terms()


def start(desk: Desk, drill: str, entry: Entry, move: Transposition, hands: str) -> None:
    """Make a drill from a piece and put it on the stand, in the key chosen."""
    from trainer.music.piece import BOTH, RIGHT

    house = desk.house

    def made(piece: Piece) -> None:
        from trainer.window.wish import Wish, written_tempo

        chosen = hands if hands == BOTH or hands in piece.hands else BOTH
        desk.play(Wish(piece, move, chosen, tempo=written_tempo(piece), name=f"{drill}: {entry.path}"))
        # What the drill is about is shown; its key puts it away.
        house.change(**({"clef": True} if drill == CLEF else {"chords": True}))
        house.say(say("stand.clef.wish" if drill == CLEF else "stand.degrees.on"), LONG_S)

    if drill == HARMONY:
        job, given = studies.skeleton_at, (entry.path, str(house.journal_file.parent))
        house.workroom.ask(job, *given, then=desk.once_read(made), failed=desk.failed)
    else:
        # A line for both hands is read from the upper staff.
        line_hand = RIGHT if hands == BOTH else hands
        house.workroom.ask(studies.clef_line, move, line_hand, then=desk.once_read(made), failed=desk.failed)


def _named(entry: Entry) -> str:
    """A piece as work names it: one that comes along by its name, so that it means the same on another computer."""
    from trainer.scores.shelf.library import bundled_folder

    place = Path(entry.path)
    return place.stem if place.is_relative_to(bundled_folder()) else entry.path


def known(desk: Desk, entry: Entry, move: Transposition, hands: str) -> Progress | None:
    """How far is what is set already of a piece in a key and for these hands; None too where that cannot be read."""
    from trainer.coaching.work import assignments
    from trainer.coaching.work.work import work_of

    house = desk.house
    wanted = (_named(entry), (move.target.short,), hands)
    with suppress(JournalError, MusicError):
        for one in assignments.load(house.journal_file.parent):
            if (one.piece, one.keys, one.hands) != wanted or not one.is_for(house.player):
                continue
            if house.journal is None:
                return assignments.Progress(one, (), assignments.NOT_BEGUN)
            house.journal.flush()
            return work_of(house.journal, house.player, [one], date.today())[0]
    return None


def set_work(desk: Desk, entry: Entry, move: Transposition, hands: str, terms: Terms) -> None:
    """Set the piece; where it is set already, these are its terms from now on.

    It is to be played from now on: what reached the goal earlier on this day is not taken for it.
    """
    from trainer.coaching.work import assignments
    from trainer.coaching.work.work import withdraw, work_of

    house, day = desk.house, date.today()
    whose = () if terms.everyone else (house.player,)
    work = assignments.Assignment(
        _named(entry), entry.title, (move.target.short,), whose, hands, terms.tempo, terms.help, terms.goal / 100,
        terms.times, day, day + timedelta(days=terms.days), terms.note.strip(),
    )  # fmt: skip
    folder = house.journal_file.parent
    found_before = known(desk, entry, move, hands)
    before = None if found_before is None else found_before.assignment
    said = {
        "title": entry.title, "key": key_name(move.target, house.settings.letters), "day": f"{work.by:%A}",
        "player": say("desk.set.everyone") if terms.everyone else house.player,
    }  # fmt: skip
    try:
        if house.journal is not None:
            house.journal.flush()
            (found,) = work_of(house.journal, house.player, [work], day)
            work = replace(work, times=work.times + sum(one.reached for one in found.keys))
        same = before is not None and work == before
        if not same:
            # What was set goes only once the other stands there.
            assignments.add(folder, work)
            if before is not None:
                withdraw(folder, before, day, house.player)
    except (JournalError, MusicError) as trouble:
        house.say(str(trouble))
        return
    name = "known" if same else "anew" if before is not None else "done"
    house.say(say(f"desk.set.{name}", **said), LONG_S)


def withdraw(desk: Desk, work: Assignment) -> None:
    """Take back what is set for whoever sits at the Desk; where it is set for everyone, for everyone."""
    from trainer.coaching.work import work as working

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
    from trainer.scores.shelf.library import own_folder

    return say("desk.set.absent", title=title, path=home(own_folder()))


def print_sheet(desk: Desk, entry: Entry, move: Transposition, hands: str) -> None:
    """Set the piece on paper for the key chosen, with what is set of it for these hands; one quiet line says where the
    sheet lies and what shows it.
    """
    house = desk.house
    house.say(say("desk.printing", title=entry.title), LONG_S)

    def done(path: str) -> None:
        desk.sheet = path
        key = key_name(move.target, house.settings.letters)
        house.say(say("desk.printed", key=key, path=home(Path(path))), LONG_S)

    given = entry.path, move, str(house.journal_file.parent), house.settings, left_of(desk, entry, move, hands)
    house.workroom.ask(studies.printed, *given, then=done, failed=desk.failed)


def write_out(desk: Desk, entry: Entry, move: Transposition) -> None:
    """Write the music in the key chosen for a notation program; one quiet line says where."""
    house = desk.house
    house.say(say("sheet.music.doing", title=entry.title), LONG_S)

    def done(path: str) -> None:
        key = key_name(move.target, house.settings.letters)
        house.say(say("sheet.music.done", title=entry.title, key=key, path=home(Path(path))), LONG_S)

    given = entry.path, move, str(house.journal_file.parent), house.settings
    house.workroom.ask(studies.written_out, *given, then=done, failed=desk.failed)


def left_of(desk: Desk, entry: Entry, move: Transposition, hands: str) -> str:
    """What is still to be played of what is set, in a sentence for whoever takes the sheet home; empty for nothing."""
    found = known(desk, entry, move, hands)
    if found is None:
        return ""
    one, house = found.assignment, desk.house
    left = one.times - max((key.reached for key in found.keys), default=0)
    if left < 1:
        return ""
    terms = replace(one, times=left).said(house.settings.letters).removeprefix(f"{one.title}: ")
    said = say("sheet.work" if one.players else "sheet.work.all", player=house.player, terms=terms)
    return f"{said} {one.note}".rstrip()


def show_sheet(desk: Desk) -> None:
    """The sheet printed last, in the program that shows PDFs on this computer; where there is none, that is said."""
    if not desk.sheet:
        desk.house.say(say("desk.sheet.none"))
        return

    def told(said: str) -> None:
        desk.house.say(said or say("desk.sheet.shown", path=home(Path(desk.sheet))), LONG_S)

    desk.house.workroom.ask_aside(viewing.show, desk.sheet, then=told, failed=desk.failed)
