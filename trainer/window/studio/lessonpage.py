"""The page for a player's lesson, and the studio's with everybody's, on paper from Keys: what a week came to."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trainer.window.desk.desk import Desk
from trainer.window.desk.deskwork import LONG_S
from trainer.window.places import home
from trainer.window.strings import say
from trainer.window.workroom import studies

if TYPE_CHECKING:
    from trainer.window.house.house import House


def print_page(house: House, everyone: bool, player: str = "") -> None:
    """Set the page for the lesson of a player, of whoever sits here where none is named, or the studio's and
    everybody's, on paper; one quiet line says where it lies and what shows it.
    """
    whose = player or house.player
    desk = house.screen_of(Desk)
    if house.journal is None:
        house.say(say("lesson.no-journal"))
        return
    if not house.flushed():
        return
    house.say(say("lesson.printing"), LONG_S)

    def done(path: str) -> None:
        # What the Desk shows as its last sheet.
        desk.sheet = path
        said = "lesson.printed.all" if everyone else "lesson.printed"
        house.say(say(said, player=whose, path=home(Path(path))), LONG_S)

    given = str(house.journal_file), whose, everyone, house.settings
    house.workroom.ask(studies.lesson_printed, *given, then=done, failed=house.unable("lesson.failed"))


def show_page(house: House) -> None:
    """The page or sheet printed last, in the program that shows PDFs on this computer."""
    desk = house.screen_of(Desk)
    if desk.sheet:
        desk.show_sheet()
    else:
        house.say(say("lesson.none"))
