"""Who plays here: everybody the journal knows, who has settings of their own, or for whom work is set."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING

from trainer.journal.errors import JournalError
from trainer.music.pitch import MusicError
from trainer.window import settings as kept

if TYPE_CHECKING:
    from trainer.window.house.house import House


def known(house: House) -> list[str]:
    """Their names, in the order they came; whoever sits here now is among them."""
    from trainer.coaching.work.assignments import load

    names: list[str] = []
    if house.journal is not None:
        try:
            names = house.journal.players()
        except JournalError as trouble:
            house.say(str(trouble))
        # A file of work that cannot be read is told on the Desk.
        with suppress(MusicError):
            names += [name for one in load(house.journal_file.parent) for name in one.players]
    return list(dict.fromkeys([*names, *kept.players(), house.player]))


def after(house: House) -> str:
    """Who comes after whoever sits here now, round and round."""
    names = known(house)
    return names[(names.index(house.player) + 1) % len(names)]
