"""The Desk: what to play today, recent takes, the shelf, and how the chosen piece is to be played."""

from __future__ import annotations

import pathlib
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING

import pygame
from pygame import Rect

from trainer.journal.errors import JournalError
from trainer.music.compass import LEVELS
from trainer.music.keys import MAJOR, MINOR, Key
from trainer.music.piece import BOTH, HANDS, LEFT, RIGHT
from trainer.music.pitch import MusicError
from trainer.music.transpose import OCTAVES, Transposition, interval_between, plan
from trainer.scores.library import Entry, Shelf
from trainer.window import deskwork, fonts, jobs, layout, masthead
from trainer.window.canvas import RIGHT as AT_RIGHT
from trainer.window.canvas import TOP, Canvas
from trainer.window.controls import Controls
from trainer.window.cutoff import CutOff
from trainer.window.days import day_words
from trainer.window.screen import Screen
from trainer.window.strings import key_name, say

# What takes long to import and is not needed to draw the first frame is imported where it is used.
if TYPE_CHECKING:
    from trainer.coaching.schedule import Suggestion
    from trainer.journal.values import TakeRow
    from trainer.music.piece import Piece
    from trainer.window.house import House
    from trainer.window.practice import Wish

# As in `trainer.session.MODES`.
MODES = ("senza misura", "a tempo", "prima vista")
# All ways to practise the chosen piece.
_WAYS = (*MODES, *deskwork.DRILLS)
_ANY = ""
_LEVELS = (_ANY, *LEVELS)
_HANDS = (_ANY, BOTH, RIGHT, LEFT)
_MODES = (_ANY, MAJOR, MINOR)
_RECENT = 6


class Desk(Screen):
    """See `screens`: today, recent takes, shelf."""

    key = "f1"
    name = "desk"

    def __init__(self, house: House) -> None:
        super().__init__(house)
        self.cut_off = CutOff(house)

    def entered(self) -> None:
        if not hasattr(self, "entries"):
            self._begin()
        self.suggestions = self._today()
        self.recent = self._recent()
        self.cut_off.look()
        if self.house.ready:
            self._reread()

    def opened(self) -> None:
        self.entered()

    def _reread(self) -> None:
        """Look for new files on the shelf, elsewhere."""
        self.house.workroom.ask(jobs.shelved, then=self._shelved, failed=lambda trouble: self.house.say(str(trouble)))

    def _begin(self) -> None:
        self.entries: list[Entry] = Shelf().entries
        # The part shown where there is no room for all.
        self.part = 0
        self.level = self.hands_filter = self.mode_filter = 0
        self.find = ""
        self.chosen = 0
        self.suggested = 0
        self.took = 0
        self.target = 0
        self.octave = 0
        self.practice = 0
        self.hands = 0
        self.reading = ""
        self.house.focus("shelf")

    def _shelved(self, entries: list[Entry]) -> None:
        current = self.entry
        self.entries = entries
        if current is not None:
            self._choose_path(current.path)
        self.suggestions = self._today()

    def _choose_path(self, path: str) -> None:
        shown = self.shown
        self.chosen = next((at for at, entry in enumerate(shown) if entry.path == path), 0)

    # What is on it

    @property
    def shown(self) -> list[Entry]:
        """The shelf through its filters."""
        level, hands, mode = _LEVELS[self.level], _HANDS[self.hands_filter], _MODES[self.mode_filter]
        words = self.find.casefold().split()
        return [
            entry for entry in self.entries
            if (not level or entry.level == level) and (not hands or entry.hands == hands)
            and (not mode or entry.mode == mode)
            and all(word in f"{entry.title} {entry.composer}".casefold() for word in words)
        ]  # fmt: skip

    @property
    def entry(self) -> Entry | None:
        """The piece chosen on the shelf."""
        shown = self.shown
        return shown[min(self.chosen, len(shown) - 1)] if shown else None

    def targets(self, entry: Entry) -> list[Key]:
        """The twelve keys a piece can be played in, from its own upward by semitones."""
        written = Key.parse(entry.key)
        return [written if not up else plan(written, f"+{up}").target for up in range(12)]

    def transposition(self, entry: Entry) -> Transposition:
        """What is asked for of a piece."""
        written = Key.parse(entry.key)
        target = self.targets(entry)[self.target % 12]
        return Transposition(written, target, interval_between(written, target, OCTAVES[self.octave]))

    def _today(self) -> list[Suggestion]:
        journal = self.house.journal
        if journal is None:
            return []
        from trainer.coaching.schedule import Offer, today

        offers = [
            Offer(entry.path, entry.title, Key.parse(entry.key), entry.level, entry.hands, entry.bars * 4.0, 72.0)
            for entry in self.entries
        ]
        try:
            if not journal.takes(self.house.player, 1):
                return []
            at = datetime.now().astimezone()
            return today(journal, self.house.player, self.house.settings.minutes, at, shelf=offers)
        except (JournalError, MusicError) as trouble:
            self.house.say(str(trouble))
            return []

    def _recent(self) -> list[TakeRow]:
        journal = self.house.journal
        if journal is None:
            return []
        try:
            journal.flush()
            return journal.takes(self.house.player, _RECENT)
        except JournalError as trouble:
            self.house.say(str(trouble))
            return []

    # What is done

    def bring(self, path: str) -> None:
        """A file of the player's own: read it and make it ready to be played."""
        self.reading = pathlib.Path(path).name
        self.house.say(say("desk.reading", name=self.reading))

        def read(piece: Piece) -> None:
            from trainer.window.practice import Wish, written_tempo

            self.reading = ""
            wish = Wish(piece, plan(piece.key, "-2"), tempo=written_tempo(piece), name=path)
            self.house.notice = None
            self.play(wish)

        self.house.workroom.ask(jobs.piece_at, path, then=read, failed=self.failed)

    def failed(self, trouble: Exception) -> None:
        self.reading = ""
        self.house.say(str(trouble) if isinstance(trouble, MusicError) else say("desk.unreadable"))

    def start(self) -> None:
        """The chosen piece, on the stand."""
        entry = self.entry
        if entry is None or self.reading:
            return
        self.reading = entry.title
        moved = self.transposition(entry)
        mode, hands = _WAYS[self.practice], HANDS[self.hands]
        if mode in deskwork.DRILLS:
            deskwork.start(self, mode, entry, moved, hands)
            return

        def read(piece: Piece) -> None:
            from trainer.window.practice import Wish, written_tempo

            self.reading = ""
            chosen = hands if hands == BOTH or hands in piece.hands else BOTH
            self.play(Wish(piece, moved, chosen, mode, written_tempo(piece), name=entry.path))

        self.house.workroom.ask(jobs.piece_at, entry.path, then=read, failed=self.failed)

    def print_sheet(self) -> None:
        """The chosen piece on paper, for the chosen key."""
        if self.entry is not None:
            deskwork.print_sheet(self, self.entry, self.transposition(self.entry))

    def play(self, wish: Wish) -> None:
        """Put a wish on the stand and go there."""
        from trainer.window.stand import Stand

        stand = self.house.screen_of(Stand)
        assert isinstance(stand, Stand)
        stand.play(wish)

    def suggest(self) -> None:
        """Play what the coach offers."""
        if not self.suggestions:
            return
        offer = self.suggestions[min(self.suggested, len(self.suggestions) - 1)]
        self.house.rounds.offer(offer, self.failed)

    def open_take(self) -> None:
        """A recent take, on the Marked copy."""
        if self.house.journal is None or not self.recent:
            return
        row = self.recent[min(self.took, len(self.recent) - 1)]
        try:
            if not self.house.rounds.show_kept(row.id):
                self.house.say(say("desk.no-take"))
        except JournalError as trouble:
            self.house.say(str(trouble))

    def key_down(self, name: str, event: pygame.event.Event) -> bool:
        # The Desk is where everything begins: escape leads nowhere from here.
        return name == "escape"

    # How it looks

    _tight = False

    def lay(self, canvas: Canvas, controls: Controls) -> None:
        places = masthead.lay(self.house, canvas, controls, "desk")
        u = canvas.unit
        self._tight = masthead.is_tight(places.body, canvas)
        body = self.cut_off.lay(canvas, controls, places.body)
        if self._tight:
            names = ("desk.shelf", "desk.card", "desk.today", "desk.recent")
            body = masthead.parts(canvas, controls, body, names, self.part, partial(setattr, self, "part"))
            (self._lay_shelf, self._lay_card, self._lay_today, self._lay_recent)[self.part](canvas, controls, body)
            if self.part != 2:
                controls.order("sight", "v", partial(self.house.go, "sight"))
            if self.part != 1:
                controls.order("start", "return", self.start)
        else:
            left, right = layout.columns(body, [round(body.width * 0.36), 0], round(1.6 * u))
            today, recent = layout.rows(left, [round(left.height * 0.56), 0], round(0.9 * u))
            self._lay_today(canvas, controls, today)
            self._lay_recent(canvas, controls, recent)
            shelf, card = layout.rows(right, [0, round(8.4 * u)], round(0.9 * u))
            self._lay_shelf(canvas, controls, shelf)
            self._lay_card(canvas, controls, card)
        if not self.house.notice:
            canvas.words("quiet", places.quiet, self._quiet(), style=fonts.ITALIC, size=0.95, colour="graphite")

    def _quiet(self) -> str:
        if self.reading:
            return say("desk.reading", name=self.reading)
        ports = self.house.ports
        if ports is not None and ports.hearing:
            from trainer.listening.ports import shown_name

            return say("desk.piano", name=shown_name(ports.hearing[0]))
        return f"{say('desk.no-piano')} {say('desk.open')}"

    def _section(self, canvas: Canvas, name: str, rect: Rect) -> Rect:
        """A heading; returns the room under it. Where parts are shown one at a time their names stand above already."""
        if self._tight:
            return rect
        u = canvas.unit
        head = Rect(rect.left, rect.top, rect.width, round(1.35 * u))
        canvas.words(f"{name}.head", head, say(name), style=fonts.ITALIC, size=1.05, colour="graphite")
        return Rect(rect.left, head.bottom + round(0.25 * u), rect.width, rect.bottom - head.bottom - round(0.25 * u))

    def _lay_sight(self, canvas: Canvas, controls: Controls, rect: Rect) -> Rect:
        """The way to the test at sight: beside the heading, or at the foot where there is none. Returns the rest."""
        u = canvas.unit
        label, high = say("desk.sight"), round(1.35 * u)
        wide = canvas.width(label, fonts.ROMAN, 0.95) + controls.key_width("v") + 4
        top = rect.bottom - high if self._tight else rect.top
        place = Rect(rect.right - wide, top, wide, high)
        controls.link("sight", place, label, partial(self.house.go, "sight"), key="v", align=AT_RIGHT)
        return Rect(rect.left, rect.top, rect.width, rect.height - high) if self._tight else rect

    def _lay_today(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        room = self._section(canvas, "desk.today", self._lay_sight(canvas, controls, rect))
        if not self.suggestions:
            canvas.words("today.empty", room, say("desk.today.empty"), size=1.05, lines=8, stand=TOP)
            return
        letters = self.house.settings.letters

        def draw(at: int, row: Rect) -> None:
            offer = self.suggestions[at]
            u = canvas.unit
            inner = row.inflate(-round(1.1 * u), -round(0.3 * u))
            above, below = layout.rows(inner, [inner.height * 0.54, 0])
            minutes = say("desk.minutes", minutes=max(1, round(offer.minutes)))
            wide = canvas.width(minutes, fonts.ITALIC, 0.92) + 4
            canvas.words(f"today.{at}.time", Rect(above.right - wide, above.top, wide, above.height), minutes,
                         style=fonts.ITALIC, size=0.92, colour="graphite", align=AT_RIGHT)  # fmt: skip
            key = key_name(offer.key, letters)
            words = offer.title if key in offer.title else f"{offer.title} · {key}"
            canvas.words(f"today.{at}.title", Rect(above.left, above.top, above.width - wide - 6, above.height), words,
                         size=1.1, least=0.75)  # fmt: skip
            canvas.words(
                f"today.{at}.why", below, offer.why, style=fonts.ITALIC, size=0.95, colour="graphite", least=0.8
            )

        high = round(min(3.1 * canvas.unit, max(2.4 * canvas.unit, room.height / max(1, len(self.suggestions)))))
        controls.rows("today", room, len(self.suggestions), self.suggested, high, draw, self._pick_today, self.suggest)

    def _pick_today(self, at: int) -> None:
        self.suggested = at

    def _lay_recent(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        room = self._section(canvas, "desk.recent", rect)
        if not self.recent:
            said = canvas.words("recent.empty", room, say("desk.recent.empty"), size=1.05, lines=4, stand=TOP)
            label, u = say("desk.watch"), canvas.unit
            wide = min(room.width, controls.button_width(label, "w"))
            button = Rect(room.left, said.bottom + round(0.9 * u), wide, round(1.9 * u))
            controls.button("watch", button, label, lambda: self.house.rounds.watch_bundled(), key="w")
            return

        def draw(at: int, row: Rect) -> None:
            take = self.recent[at]
            u = canvas.unit
            inner = row.inflate(-round(1.1 * u), 0)
            marked = take.accuracy is not None
            said = say("desk.take", accuracy=f"{take.accuracy:.0%}") if marked else say("desk.take.cut")
            when = f"{said} · {day_words(take.began.date())}"
            wide = min(canvas.width(when, fonts.ITALIC, 0.92) + 4, round(inner.width * 0.5))
            canvas.words(f"recent.{at}.when", Rect(inner.right - wide, inner.top, wide, inner.height), when,
                         style=fonts.ITALIC, size=0.92, colour="graphite", align=AT_RIGHT, least=0.75)  # fmt: skip
            words = f"{take.title} · {key_name(Key.parse(take.target), self.house.settings.letters)}"
            canvas.words(f"recent.{at}.title", Rect(inner.left, inner.top, inner.width - wide - 6, inner.height), words,
                         size=1.02, least=0.75)  # fmt: skip

        high = round(1.75 * canvas.unit)
        controls.rows("recent", room, len(self.recent), self.took, high, draw, self._pick_recent, self.open_take)

    def _pick_recent(self, at: int) -> None:
        self.took = at

    def _lay_shelf(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        u = canvas.unit
        room = self._section(canvas, "desk.shelf", rect)
        filters, _, listed = layout.rows(room, [round(2.75 * u), round(0.5 * u), 0])
        share = 0.31 if filters.width > 34 * u else 0.24
        find, level, hands, mode = layout.columns(filters, [round(filters.width * share), 0, 0, 0], round(1.0 * u))
        entry_box = Rect(find.left, find.bottom - round(1.75 * u), find.width, round(1.75 * u))
        controls.entry(
            "find", entry_box, say("desk.find.label"), self.find, self._found, key="/", hint=say("desk.find")
        )
        any_word = say("desk.any")
        for name, place, values, at, key in (
            ("level", level, [any_word] + [say(f"level.{one}") for one in LEVELS], self.level, "l"),
            (
                "hands_filter",
                hands,
                [any_word] + [say(f"shelf.{one}") for one in (BOTH, RIGHT, LEFT)],
                self.hands_filter,
                "j",
            ),
            ("mode_filter", mode, [any_word, say("desk.major"), say("desk.minor")], self.mode_filter, "n"),
        ):
            label = say({"level": "desk.level", "hands_filter": "desk.hands", "mode_filter": "desk.mode"}[name])
            controls.choice(name, place, label, values, at, partial(self._filter, name), key=key, size=1.0)
        shown = self.shown
        if not shown:
            said = say("desk.shelf.none") if self.entries else say("desk.shelf.reading")
            canvas.words("shelf.none", listed, said, size=1.05, lines=3, stand=TOP)
            return
        letters = self.house.settings.letters
        wide_level = max(canvas.width(say(f"level.{one}"), fonts.ITALIC, 0.95) for one in LEVELS) + round(u)
        wide_key = canvas.width("B♭ major", fonts.ROMAN, 1.0) + round(u)

        def draw(at: int, row: Rect) -> None:
            entry = shown[at]
            inner = row.inflate(-round(1.2 * u), 0)
            key = Rect(inner.right - wide_key, inner.top, wide_key, inner.height)
            level = Rect(key.left - wide_level, inner.top, wide_level, inner.height)
            title = Rect(inner.left, inner.top, level.left - inner.left - round(0.6 * u), inner.height)
            extent = canvas.words(f"shelf.{at}.title", title, entry.title, size=1.1, least=0.8)
            room_left = title.right - extent.right - round(0.7 * u)
            names = (entry.composer, entry.composer.rpartition(" ")[2])
            by = next((name for name in names if name and canvas.width(name, fonts.ITALIC, 0.95) <= room_left), "")
            if by:
                after = Rect(extent.right + round(0.7 * u), inner.top, room_left, inner.height)
                canvas.words(f"shelf.{at}.by", after, by, style=fonts.ITALIC, size=0.95, colour="graphite")
            canvas.words(
                f"shelf.{at}.level",
                level,
                say(f"level.{entry.level}"),
                style=fonts.ITALIC,
                size=0.95,
                colour="graphite",
            )
            canvas.words(f"shelf.{at}.key", key, key_name(Key.parse(entry.key), letters), size=1.0, align=AT_RIGHT)

        controls.rows("shelf", listed, len(shown), self.chosen, round(1.95 * u), draw, self._pick, self.start,
                      partial(self._step_target, -1), partial(self._step_target, 1))  # fmt: skip

    def _found(self, text: str) -> None:
        self.find = text
        self.chosen = 0

    def _filter(self, name: str, at: int) -> None:
        setattr(self, {"level": "level"}.get(name, name), at)
        self.chosen = 0

    def _pick(self, at: int) -> None:
        self.chosen = at

    def _step_target(self, by: int) -> None:
        self.target = (self.target + by) % 12

    def _lay_card(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        entry = self.entry
        u = canvas.unit
        if entry is None:
            return
        canvas.panel("card", rect, "faint", "rule", 0.6)
        letters = self.house.settings.letters
        inner = rect.inflate(-round(1.8 * u), -round(1.1 * u))
        head, _, fields, _, foot = layout.rows(
            inner, [round(1.5 * u), round(0.25 * u), 0, round(0.4 * u), round(1.9 * u)]
        )
        title = canvas.words("card.title", Rect(head.left, head.top, round(head.width * 0.5), head.height), entry.title,
                             style=fonts.BOLD, size=1.25, least=0.7)  # fmt: skip
        about = " · ".join([
            say("desk.written", key=key_name(Key.parse(entry.key), letters)), say(f"shelf.{entry.hands}"),
            say("desk.bars", bars=entry.bars),
        ])  # fmt: skip
        after = Rect(title.right + round(u), head.top, head.right - title.right - round(u), head.height)
        canvas.words(
            "card.about", after, about, style=fonts.ITALIC, size=1.0, colour="graphite", align=AT_RIGHT, least=0.7
        )
        key, octave, practice, hands = layout.columns(fields, [round(fields.width * 0.29), 0, 0, 0], round(1.1 * u))
        names = [key_name(one, letters) for one in self.targets(entry)]
        controls.choice("key", key, say("desk.key"), names, self.target % 12, partial(setattr, self, "target"), key="k",
                        size=1.5, style=fonts.BOLD)  # fmt: skip
        controls.choice("octave", octave, say("desk.octave"), [say(f"octave.{one}") for one in OCTAVES], self.octave,
                        partial(setattr, self, "octave"), key="o", size=1.05)  # fmt: skip
        modes = [say(f"mode.{one}") for one in _WAYS]
        controls.choice("practice", practice, say("desk.practice"), modes, self.practice,
                        partial(setattr, self, "practice"), key="m", size=1.05, style=fonts.ITALIC)  # fmt: skip
        controls.choice("hands", hands, say("desk.hands"), [say(f"hand.{one}") for one in HANDS], self.hands,
                        partial(setattr, self, "hands"), key="h", size=1.05)  # fmt: skip
        moved = self.transposition(entry).interval.words
        label = say("desk.start")
        wide = min(controls.button_width(label, "return", 1.1) + round(u), round(foot.width * 0.5))
        button = Rect(foot.right - wide, foot.top, wide, foot.height)
        controls.button("start", button, label, self.start, key="return", main=True, size=1.1)
        printed = say("desk.print")
        wide = controls.button_width(printed, "p", 0.95)
        paper = Rect(button.left - wide - round(0.7 * u), foot.top, wide, foot.height)
        if paper.left - foot.left > 9 * u:
            controls.button("print", paper, printed, self.print_sheet, key="p", size=0.95)
            button = paper
        else:
            controls.order("print", "p", self.print_sheet)
        free = Rect(foot.left, foot.top, min(foot.width, button.left - foot.left) - round(u), foot.height)
        canvas.words("card.moved", free, moved, style=fonts.ITALIC, size=1.05, colour="graphite", least=0.7)
