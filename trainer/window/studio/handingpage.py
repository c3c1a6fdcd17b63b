"""Handing over: a file of work for the student, a file of takes for the teacher, and what has come, taken in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import pygame

from trainer.journal.errors import JournalError
from trainer.journal.values import NOBODY_NAMED
from trainer.music.counted import many
from trainer.music.pitch import MusicError
from trainer.window import players, sheetfolder, viewing
from trainer.window.desk.deskwork import LONG_S
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.controls import Controls
from trainer.window.places import home
from trainer.window.screen import Screen
from trainer.window.strings import say
from trainer.window.studio import handingview

# What takes long to import and is not needed to draw the first frame is imported where it is used.
if TYPE_CHECKING:
    from trainer.coaching.work.handing import Come, Taken
    from trainer.window.house.house import House
    from trainer.window.workroom.errands import Asked, Out


@dataclass
class Row:
    """A file that has come, and what came of it."""

    come: Come
    taken: Taken | None = None
    # Dropped on the window: it stays until it is taken in, wherever it lies.
    dropped: bool = False

    @property
    def ready(self) -> bool:
        """Whether it can be taken in without a question."""
        return self.taken is None and not self.come.ask and not self.come.trouble


class HandingPage(Screen):
    """See `screens`: what goes to and fro between teacher and student."""

    name = "handing"

    def __init__(self, house: House) -> None:
        super().__init__(house)
        self.part = 0
        self.rows: list[Row] = []
        self.chosen = 0
        self.looking = False
        # Takes since last time and all; pieces of work set and taken back, for this player and for everyone.
        self.played = 0, 0
        self._set = [(0, 0), (0, 0)]
        self.everything = self.everyone = False
        # The question whose a file is: the file, who it may be, which of them, the name of somebody new.
        self.asked: Row | None = None
        self.may_be: list[str] = []
        self.who = 0
        self.fresh = ""
        self.here: list[str] = []

    # What is known

    def came_from(self, name: str) -> None:
        self.back = name if name in ("keys", "studio", "setup") else "desk"

    def entered(self) -> None:
        self.asked = None
        self.rows = [row for row in self.rows if row.dropped and row.taken is None]
        self.chosen = 0
        self._count()
        self.house.focus("come")
        if self.house.ready or not self.house.pane.own:
            self._look()

    def opened(self) -> None:
        self.entered()

    def _count(self) -> None:
        from trainer.coaching.work import handing
        from trainer.journal.handover import waiting

        house = self.house
        self.here = players.known(house)
        self.played, self._set = (0, 0), [(0, 0), (0, 0)]
        try:
            if house.journal is not None:
                house.journal.flush()
                self.played = waiting(house.journal, house.player)
            self._set = [handing.set_for(house.journal_file.parent, names) for names in ([house.player], self.here)]
        except (JournalError, MusicError) as trouble:
            house.say(str(trouble))

    @property
    def able(self) -> bool:
        """Whether there is a journal in its file; where there is not, that is said."""
        journal = self.house.journal
        if journal is None or journal.in_memory:
            self.house.say(self.house.trouble or say("handing.no-journal"), LONG_S)
            return False
        return self.house.flushed()

    @property
    def place(self) -> str:
        """Where files are written to."""
        return sheetfolder.shown(self.house.settings.sheets)

    @property
    def set(self) -> tuple[int, int]:
        """Pieces of work set and taken back, for whom it would be handed over."""
        return self._set[self.everyone]

    @property
    def row(self) -> Row | None:
        """The file chosen among those that have come."""
        return self.rows[min(self.chosen, len(self.rows) - 1)] if self.rows else None

    def _look(self) -> None:
        """Look where files come to, elsewhere."""
        from trainer.window.workroom import errands

        if self.house.journal is None or self.house.journal.in_memory:
            return
        self.looking = True

        def found(come: Sequence[Come]) -> None:
            self.looking = False
            have = {row.come.path for row in self.rows}
            new = [Row(one) for one in come if one.path not in have]
            # What cannot be taken in stands last.
            self.rows += sorted(new, key=lambda row: bool(row.come.trouble))

        def failed(trouble: Exception) -> None:
            self.looking = False
            self.house.unable("handing.failed")(trouble)

        given = str(self.house.journal_file), self.house.settings.sheets, self.here
        self.house.workroom.ask(errands.come, *given, then=found, failed=failed, place="handing")

    # What goes out

    def give_played(self) -> None:
        """What this player played, as a file for the teacher."""
        from trainer.window.workroom import errands

        if not self.able:
            return
        house, player = self.house, self.house.player

        def done(made: Out) -> None:
            self._count()
            said = handingview.told(made, "take", player)
            house.say(say("handing.made.played", **said), LONG_S)

        house.say(say("handing.writing"))
        # Where nothing is new what was handed over may have been lost on its way.
        every = self.everything or not self.played[0]
        given = str(house.journal_file), player, every, house.settings.sheets
        house.workroom.ask(errands.played_out, *given, then=done, failed=house.unable("handing.failed"))

    def give_work(self) -> None:
        """What is set for this player, or for everyone, as a file for each student."""
        from trainer.window.workroom import errands

        if not self.able:
            return
        house, player = self.house, self.house.player
        names = self.here if self.everyone else [player]

        def done(made: Out) -> None:
            if not made.files:
                house.say(say("handing.made.none"))
                return
            said = handingview.told(made, "piece", player)
            words = say("handing.made.work", **said)
            if self.everyone:
                path = home(made.files[0].parent)
                words = say("handing.made.each", files=many(len(made.files), "file"), pieces=said["pieces"], path=path)
            if made.fingers:
                words = say("handing.made.fingers", said=words, fingers=many(made.fingers, "finger"))
            if made.left:
                words = say("handing.made.left", said=words, files=", ".join(home(one) for one in made.left))
            house.say(words, LONG_S)

        house.say(say("handing.writing"))
        given = str(house.journal_file), names, house.settings.sheets
        house.workroom.ask(errands.work_out, *given, then=done, failed=house.unable("handing.failed"))

    def show_folder(self) -> None:
        """The folder the files lie in, in the computer's own program for files."""
        try:
            path = sheetfolder.folder_of(self.house.settings.sheets)
            path.mkdir(parents=True, exist_ok=True)
        except (MusicError, OSError) as trouble:
            self.house.say(str(trouble))
            return

        def told(shown: bool) -> None:
            if not shown:
                self.house.say(say("handing.no-folder", path=home(path)), LONG_S)

        asking = self.house.workroom.ask_aside
        asking(viewing.show_folder, str(path), then=told, failed=self.house.unable("handing.failed"))

    # What comes in

    def take_dropped(self, given: Sequence[str]) -> list[str]:
        """Files, or folders of them, that came: taken in, unless there is a question; returns those that are none.

        Whoever plays is not led away: what came of it is then one quiet line.
        """
        from trainer.coaching.work import handing
        from trainer.window.workroom import errands

        ours = {one: found for one in given if (found := handing.ours_in(one))}
        others, paths = [one for one in given if one not in ours], [file for files in ours.values() for file in files]
        if not paths or not self.able:
            return others
        house = self.house
        if house.screen is not self and (house.screen is None or house.screen.name != "stand"):
            house.go(self.name)
        self.here = players.known(house)

        def seen(come: Sequence[Come]) -> None:
            new = {one.path for one in come}
            self.rows = [Row(one, dropped=True) for one in come] + [r for r in self.rows if r.come.path not in new]
            self.chosen = 0
            ready = [row for row in self.rows if row.ready and row.come.path in new]
            self._take(ready, [_plain(row) for row in ready])
            if house.screen is not self:
                for one in come:
                    if one.ask or one.trouble:
                        house.say(one.trouble or say("handing.at-desk", name=one.path.name), LONG_S)
            elif not ready and come[0].ask:
                self.ask(self.rows[0])

        told = str(house.journal_file), paths, self.here
        house.workroom.ask(errands.looked_at, *told, then=seen, failed=house.unable("handing.failed"))
        return others

    def take(self) -> None:
        """Take in the file chosen; of one taken in, show what there is to see."""
        row = self.row
        if row is None:
            return
        if row.taken is not None:
            self._show(row.taken)
        elif row.come.trouble:
            self.house.say(row.come.trouble, LONG_S)
        elif row.come.ask:
            self.ask(row)
        else:
            self._take([row], [_plain(row)])

    def take_all(self) -> None:
        """Take in all that can be without a question, then ask the first one."""
        ready = [row for row in self.rows if row.ready]
        self._take(ready, [_plain(row) for row in ready])
        if not ready:
            asks = next((row for row in self.rows if row.taken is None and row.come.ask), None)
            if asks is not None:
                self.ask(asks)

    def _take(self, rows: Sequence[Row], asked: Sequence[Asked]) -> None:
        from trainer.coaching.work.handing import PLAYED
        from trainer.window.workroom import errands

        if not rows or not self.able:
            return
        house = self.house
        self._take_the_name(rows)
        house.say(say("handing.taking", name=rows[0].come.path.name))

        def done(told: Sequence[Taken | str]) -> None:
            house.notice = None
            for row, one in zip(rows, told, strict=True):
                if isinstance(one, str):
                    row.come = handingview.troubled(row.come, one)
                else:
                    row.taken = one
                    if one.kind == PLAYED:
                        row.come = replace(row.come, names=(one.player,), ask=False)
                if house.screen is not self:
                    house.say(one if isinstance(one, str) else handingview.result(one, brief=True), LONG_S)
            if self.row in rows and len(rows) > 1:
                self.chosen = next((at for at, row in enumerate(self.rows) if row.taken is None), 0)
            self._count()

        given = str(house.journal_file), asked, house.settings.player
        house.workroom.ask(errands.taken_in, *given, then=done, failed=house.unable("handing.failed"))

    def _take_the_name(self, rows: Sequence[Row]) -> None:
        """Whoever has no name here and has not played yet bears the one their teacher knows them by."""
        from trainer.coaching.own import ownfingers
        from trainer.coaching.work.handing import WORK

        names = {name for row in rows if row.come.kind == WORK for name in row.come.names}
        if self.house.settings.player or len(names) != 1 or self.here != [NOBODY_NAMED] or self.played[1]:
            return
        self.house.change(player=names.pop())
        try:
            ownfingers.give_name(self.house.journal_file.parent, self.house.player)
        except MusicError as trouble:
            self.house.say(str(trouble))
        self.here = players.known(self.house)

    def _show(self, taken: Taken) -> None:
        """The keys of whose takes were taken in; the Desk with the work."""
        from trainer.coaching.work.handing import PLAYED

        if taken.kind != PLAYED:
            self.house.go("desk")
            return
        if taken.player != self.house.player:
            self.house.switch(taken.player)
        self.house.go("keys")

    # The question whose it is

    def ask(self, row: Row) -> None:
        """Ask who a name is here; the likeliest stands there first."""
        from trainer.coaching.work.handing import PLAYED, alike, free_name

        name = row.come.names[0]
        self.asked, self.who, self.part = row, 0, 0
        # What is put right is not the one it was.
        not_ = {NOBODY_NAMED if row.come.kind == PLAYED else "", row.taken.player if row.taken is not None else ""}
        self.may_be = [one for one in self.here if one not in not_]
        self.may_be.sort(key=lambda one: (one != name, not alike(one, name)))
        self.fresh = "" if name == NOBODY_NAMED or row.taken is not None else free_name(name, self.here)
        if row.come.kind == PLAYED and not any(alike(one, name) for one in self.may_be):
            # Nobody here is called so: somebody new, unless it is said otherwise.
            self.who = len(self.may_be)

    @property
    def is_new(self) -> bool:
        """Whether the answer is somebody new."""
        return self.who >= len(self.may_be)

    def answer(self) -> None:
        """Take the file in under the name answered."""
        from trainer.window.workroom.errands import Asked

        row = self.asked
        if row is None:
            return
        if self.is_new:
            name = " ".join(self.fresh.split())
            if not name:
                self.house.say(say("handing.ask.no-name"))
                return
            if name in self.here:
                self.house.say(say("handing.ask.taken", name=name))
                return
            answer = Asked(row.come.path, called=name)
        else:
            name = self.may_be[self.who]
            journal = self.house.journal
            # Who has work set and no takes here yet begins with these.
            has_played = journal is not None and name in journal.players()
            answer = Asked(row.come.path, same_as=name) if has_played else Asked(row.come.path, called=name)
        self.asked = None
        self._take([row], [answer])

    def change(self) -> None:
        """Whose the takes of the file chosen are, asked once more: what was answered is put right."""
        if self.row is not None:
            self.ask(self.row)

    def leave(self) -> None:
        """Leave the file where it lies."""
        self.asked = None

    # How it looks

    def next_player(self) -> None:
        self.house.switch(players.after(self.house))
        self._count()

    def key_down(self, name: str, event: pygame.event.Event) -> bool:
        if name == "escape" and self.asked is not None:
            self.leave()
            return True
        return False

    def lay(self, canvas: Canvas, controls: Controls) -> None:
        handingview.lay(self, canvas, controls)


def _plain(row: Row) -> Asked:
    from trainer.window.workroom.errands import Asked

    return Asked(row.come.path)
