"""The Singer's warm-up: the steps for tonight's keys in the minutes there are, one after another on the stand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.coaching.singers.setlist import Song, own_way
from trainer.journal.errors import JournalError
from trainer.journal.values import PATTERN

# What takes long to import and is not needed to draw the first frame is imported where it is used.
if TYPE_CHECKING:
    from trainer.coaching.singers.warmup import Step
    from trainer.window.singer.singer import SingerScreen
    from trainer.window.workroom.singing import Opened

MINUTES = (3, 5, 8, 10, 15, 20)


class WarmUpPage:
    """What is warmed up for, and the steps that were made of it.

    Parameters
    ----------
    screen : SingerScreen
        Its set list is warmed up for, else its song in the key chosen.
    """

    def __init__(self, screen: SingerScreen) -> None:
        self._screen = screen
        self._house = screen.house
        self.minutes = 2
        self.steps: tuple[Step, ...] = ()
        self.chosen = 0
        self._asked: tuple[object, ...] | None = None

    @property
    def songs(self) -> tuple[Song, ...]:
        """What is warmed up for: the set list, else the song in the key chosen for the singer."""
        occasion = self._screen.set_list.occasion
        if occasion is not None and occasion.songs:
            return occasion.songs
        entry, best = self._screen.entry, self._screen.best
        if entry is None or best is None:
            return ()
        return (Song(entry.path, entry.title, best.key.short, move=own_way(best.transposition)),)

    def set_minutes(self, at: int) -> None:
        self.minutes = at
        self.ask()

    def forget(self) -> None:
        """What it was made from may have changed, the slips in the journal too."""
        self._asked = None

    def ask(self) -> None:
        """Ask for the steps, unless they are known or being worked out."""
        from trainer.window.workroom import singing

        asked = (self.songs, self.minutes)
        if asked == self._asked:
            return
        self._asked = asked
        self.steps, self.chosen = (), 0
        if self.songs:
            self._house.workroom.ask(singing.opened, list(self.songs), then=self._opened, failed=self._screen.failed)

    def _opened(self, found: list[Opened]) -> None:
        from trainer.coaching.singers.tonight import slips_by_bar
        from trainer.coaching.singers.warmup import Tonight
        from trainer.window.workroom import singing

        house = self._house
        tonight = []
        for one in found:
            if one.piece is None or one.move is None:
                house.say(f"{one.song.title}: {one.fault}")
                continue
            try:
                slips = slips_by_bar(house.journal, house.player, one.piece, one.move.target) if house.journal else {}
            except JournalError as trouble:
                house.say(str(trouble))
                slips = {}
            tonight.append(Tonight(one.piece, one.move, slips))

        def done(steps: tuple[Step, ...]) -> None:
            self.steps = steps

        if tonight:
            house.workroom.ask(singing.warmed, tonight, MINUTES[self.minutes], then=done, failed=self._screen.failed)

    def pick(self, at: int) -> None:
        self.chosen = at

    def start(self) -> None:
        """The steps from the chosen one on, one after another on the stand."""
        from trainer.music.transpose import plan
        from trainer.window.rounds.rounds import Turn
        from trainer.window.wish import Wish, written_tempo

        row = []
        for step in self.steps[self.chosen :]:
            move = step.transposition or plan(step.piece.key, "+0")
            wish = Wish(step.piece, move, tempo=written_tempo(step.piece), kind=PATTERN)
            row.append(Turn(wish, step.words, step.minutes))
        if row:
            self._house.rounds.play_row(row)
