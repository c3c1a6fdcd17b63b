"""The work that is set, printed from where it is handed over."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trainer.music.counted import many
from trainer.window.desk.deskwork import LONG_S
from trainer.window.places import home
from trainer.window.strings import say
from trainer.window.workroom import studies

if TYPE_CHECKING:
    from trainer.window.studio.handingpage import HandingPage


def print_work(page: HandingPage) -> None:
    """What is set for this player, or for everyone, as a PDF for each student; one quiet line says where."""
    house = page.house
    if not page.able:
        return
    names = page.here if page.everyone else [house.player]

    def done(made: list[str]) -> None:
        if not made:
            house.say(say("handing.paper.none"))
            return
        alone = len(made) == 1
        path = home(Path(made[0]) if alone else Path(made[0]).parent)
        said = say("handing.paper.one" if alone else "handing.paper.several", files=many(len(made), "file"), path=path)
        house.say(said, LONG_S)

    house.say(say("handing.paper.doing"))
    given = str(house.journal_file), names, house.settings
    house.workroom.ask(studies.work_printed, *given, then=done, failed=house.unable("handing.failed"))
