"""Which song the Singer screen opens on: the piece in hand, be it from the shelf or not."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from trainer.scores.shelf.library import Entry, describe

if TYPE_CHECKING:
    from trainer.window.singer.singer import SingerScreen
    from trainer.window.wish import Wish


class InHand:
    """Chooses what was chosen at the Desk or put on the stand since it was looked last."""

    def __init__(self, screen: SingerScreen) -> None:
        self._screen = screen
        self._chosen = ""
        self._stood: Wish | None = None
        # A piece on the stand whose file lies elsewhere than on the shelf.
        self._guest: Entry | None = None

    def among(self, shelf: Iterable[Entry]) -> list[Entry]:
        """The songs: what can be played of the shelf, before it what lay on the stand from elsewhere."""
        found = [entry for entry in shelf if entry.notes]
        if self._guest is None or self._guest.path in {entry.path for entry in found}:
            return found
        return [self._guest, *found]

    def follow(self) -> None:
        """Choose it; of a file that is not on the shelf once it is read."""
        from trainer.window.desk.desk import Desk

        house = self._screen.house
        path, wish = house.screen_of(Desk).in_hand, house.on_stand
        known = {entry.path for entry in self._screen.entries}
        if wish is not None and wish is not self._stood and known:
            self._stood = wish
            if wish.name and wish.name not in known:
                self._chosen = path
                # What cannot be described is not offered; it lies on the stand all the same.
                house.workroom.ask(describe, wish.name, then=self._come, failed=lambda _: None)
                return
            path = wish.name if self._guest is not None and wish.name == self._guest.path else path
        if path != self._chosen and path in known:
            self._chosen = path
            self._screen.bring_forward(path)

    def _come(self, entry: Entry) -> None:
        if not entry.notes:
            return
        screen, before = self._screen, self._guest
        self._guest = entry
        screen.entries = self.among(one for one in screen.entries if one is not before)
        screen.bring_forward(entry.path)
        screen.consider()
