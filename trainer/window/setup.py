"""Setup: the piano and its sound, the page, practice, players and the journal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import pygame
from pygame import Rect

from trainer.hands.position import HAND_SIZES, widest
from trainer.journal.errors import JournalError
from trainer.listening.press import Event, Press
from trainer.music.pitch import MusicError
from trainer.sounding import tapping
from trainer.window import fonts, jobs, layout, masthead
from trainer.window import settings as kept
from trainer.window.canvas import TOP, Canvas
from trainer.window.controls import Controls
from trainer.window.screen import NEVER, Screen
from trainer.window.settings import Settings
from trainer.window.strings import letter_name, say

if TYPE_CHECKING:
    from trainer.window.house import House

MIDDLE_C = 60
# A piano moves its keys by at most an octave.
FARTHEST = 12
_LOOK_S = 1.0
_FRAME_S = 1 / 30
SECTIONS = ("piano", "page", "practice", "player")


@dataclass(frozen=True)
class Field:
    """One choice: its name in the strings, its key, the values as settings have them and as they are shown."""

    name: str
    key: str
    values: Sequence[object]
    shown: Sequence[str]
    chosen: object
    choose: Callable[[object], None]

    @property
    def at(self) -> int:
        return self.values.index(self.chosen) if self.chosen in self.values else 0


@dataclass
class Ports:
    """The names of ports, looked up once a second."""

    inputs: list[str] = field(default_factory=list)
    outputs: list[str] = field(default_factory=list)


class Setup(Screen):
    """See `screens`: everything that is set once and for all."""

    key = "f4"
    name = "setup"

    def __init__(self, house: House) -> None:
        super().__init__(house)
        self.part = 0
        self.ports = Ports()
        self.last: Press | None = None
        # Waiting for middle C; tapping along with a click; asking whether to erase.
        self.finding = False
        self.tapping: tapping.Tapping | None = None
        self.clicking = False
        self.taps = 0
        self.asking = False
        self.fresh = ""
        self.players: list[str] = []

    def entered(self) -> None:
        self.finding = self.clicking = self.asking = False
        self.tapping = None
        self._look()
        self._read_players()

    def opened(self) -> None:
        self.entered()

    def left(self) -> None:
        self._stop_clicking()

    def _read_players(self) -> None:
        names = [self.house.player]
        if self.house.journal is not None:
            try:
                names += self.house.journal.players()
            except JournalError as trouble:
                self.house.say(str(trouble))
        self.players = list(dict.fromkeys(names + kept.players()))

    def _look(self) -> None:
        ports = self.house.ports
        if ports is not None:
            self.ports = Ports(ports.names(), ports.outputs())

    def tick(self, now: float) -> float:
        if self.clicking:
            self._count()
            return _FRAME_S
        if self.house.ports is None:
            return NEVER
        self._look()
        return _LOOK_S

    # What is heard

    def heard(self, event: Event) -> None:
        if not isinstance(event, Press):
            return
        self.last = event
        if self.finding:
            self._found(event.pitch + self.house.settings.piano_transposes)
        elif self.tapping is not None:
            self.taps = self.tapping.hear(event)

    def find(self) -> None:
        """Wait for one middle C; again to leave it."""
        self.finding = not self.finding

    def _found(self, sent: int) -> None:
        """What middle C sends tells how far the piano moves its keys."""
        moved = sent - MIDDLE_C
        if abs(moved) > FARTHEST:
            self.house.say(say("setup.found.far"))
            return
        self.finding = False
        self.house.change(piano_transposes=moved)
        self.house.say(say("setup.found.none") if not moved else say("setup.found", semitones=f"{moved:+d}"))

    def tap(self) -> None:
        """Start the click to tap to; again to stop it."""
        if self.clicking:
            self._stop_clicking()
            return
        self.clicking = True
        self.tapping, self.taps = None, 0
        self.house.sound.player.play(tapping.beats())

    def _stop_clicking(self) -> None:
        if self.clicking:
            self.house.sound.player.stop()
        self.clicking, self.tapping = False, None

    def _count(self) -> None:
        player = self.house.sound.player
        if self.tapping is None:
            if player.started is not None:
                self.tapping = tapping.Tapping(player.started)
            return
        if player.playing:
            return
        found = self.tapping.result()
        self.clicking, self.tapping = False, None
        if found is None:
            self.house.say(say("setup.taps.few"))
            return
        self.house.change(click_offset_ms=round(found.seconds * 1000))
        self.house.say(found.words)

    # What is done

    def change(self, name: str, value: object) -> None:
        """Change one setting and let it work at once."""
        self.house.change(**{name: value})
        if name == "midi_in" and self.house.ports is not None:
            wanted = self.house.settings.midi_in
            for line in self.house.ports.listen([wanted] if wanted else []):
                self.house.say(line)
        if name in ("midi_in", "midi_out", "sound"):
            self.house.open_sound()

    def switch(self, name: object) -> None:
        """Another player sits down: their own settings."""
        assert isinstance(name, str)
        self.house.switch(name)
        self._read_players()
        self.house.say(say("setup.switched", player=self.house.player))

    def type_name(self, text: str) -> None:
        self.fresh = text[:40]

    def add_player(self) -> None:
        """A new player, by the name typed."""
        name = self.fresh.strip()
        if name:
            self.fresh = ""
            self.switch(name)

    @property
    def journal_path(self) -> Path:
        from trainer.journal import files

        return self.house.journal.path if self.house.journal is not None else files.where()

    def export(self) -> None:
        """This player's takes as CSV and JSON, beside the journal."""
        journal = self.house.journal
        if journal is None:
            return
        journal.flush()
        folder = self.journal_path.parent / f"export-{date.today().isoformat()}"

        def done(count: int) -> None:
            said = say("setup.exported", count=count, folder=_home(folder)) if count else say("setup.exported.none")
            self.house.say(said, 20.0)

        self.house.workroom.ask(
            jobs.exported, str(self.journal_path), self.house.player, str(folder), then=done,
            failed=lambda trouble: self.house.say(str(trouble)),
        )  # fmt: skip

    def ask_erase(self) -> None:
        self.asking = not self.asking

    def erase(self) -> None:
        """Erase this player's takes and everything learned from them."""
        from trainer.journal.erasing import erase_player

        self.asking = False
        if self.house.journal is None:
            return
        try:
            count = erase_player(self.house.journal, self.house.player)
            self.house.say(say("setup.erased", player=self.house.player, count=count), 20.0)
        except (JournalError, MusicError) as trouble:
            self.house.say(str(trouble))

    def key_down(self, name: str, event: pygame.event.Event) -> bool:
        if name != "escape" or not (self.finding or self.clicking or self.asking):
            return False
        self.finding = self.asking = False
        self._stop_clicking()
        return True

    # Fields

    def fields(self, section: str) -> list[Field]:
        """The choices of a section."""
        settings = self.house.settings
        plain = partial(_field, self, settings)
        if section == "piano":
            return [
                self._port_field("midi_in", "i", self.ports.inputs),
                plain("sound", "o", kept.SOUNDS),
                self._port_field("midi_out", "u", self.ports.outputs),
                plain("keys", "k", kept.KEYBOARDS, [str(keys) for keys in kept.KEYBOARDS]),
                plain("echo", "c", (True, False)),
            ]
        if section == "page":
            return [
                plain("syllables", "y", kept.SYLLABLES),
                plain("letters", "e", kept.LETTERS),
                plain("scale", "z", kept.SCALES, [f"{scale} %" for scale in kept.SCALES]),
                plain("night", "f9", (False, True)),
                plain("margin", "g", (True, False)),
            ]
        if section == "practice":
            return [
                plain("minutes", "m", kept.MINUTES, [say("desk.minutes", minutes=one) for one in kept.MINUTES]),
                plain("hand_size", "h", HAND_SIZES),
                plain("steering", "r", (True, False)),
                plain("other_hand", "j", (False, True)),
            ]
        return [Field("player", "p", self.players, self.players, self.house.player, self.switch)]

    def _port_field(self, name: str, key: str, there: Sequence[str]) -> Field:
        """A port by name; whichever is there when nothing is chosen."""
        from trainer.listening.ports import shown_name

        chosen = getattr(self.house.settings, name)
        values = ["", *there, *([chosen] if chosen and chosen not in there else [])]
        shown = [say(f"setup.{name}.any"), *(shown_name(one) for one in values[1:])]
        return Field(name, key, values, shown, chosen, partial(self.change, name))

    # How it looks

    def lay(self, canvas: Canvas, controls: Controls) -> None:
        places = masthead.lay(self.house, canvas, controls, "setup")
        u = canvas.unit
        if self.clicking:
            controls.order("tap.space", "space", self._tap_here)
        sections = (self._lay_piano, self._lay_page, self._lay_practice, self._lay_player)
        if masthead.is_tight(places.body, canvas):
            names = [f"setup.{section}" for section in SECTIONS]
            body = masthead.parts(canvas, controls, places.body, names, self.part, partial(setattr, self, "part"))
            sections[self.part](canvas, controls, body)
        else:
            left, right = layout.columns(places.body, [0, 0], round(2.6 * u))
            for column, pair in ((left, (0, 2)), (right, (1, 3))):
                for place, at in zip(layout.rows(column, [0, 0], round(1.4 * u)), pair, strict=True):
                    head = Rect(place.left, place.top, place.width, round(1.5 * u))
                    canvas.words(f"setup.{at}.head", head, say(f"setup.{SECTIONS[at]}"), style=fonts.ITALIC, size=1.15,
                                 colour="brass")  # fmt: skip
                    canvas.rule(f"setup.{at}.rule", Rect(place.left, head.bottom, place.width, 1))
                    top = head.bottom + round(0.7 * u)
                    room = Rect(place.left, top, place.width, place.bottom - top)
                    sections[at](canvas, controls, room)
        if not self.house.notice:
            canvas.words("quiet", places.quiet, self._quiet(), style=fonts.ITALIC, size=0.95, colour="graphite",
                         least=0.6)  # fmt: skip

    def _tap_here(self) -> None:
        """A tap on the space bar."""
        from trainer.listening.clock import now

        if self.tapping is not None:
            self.taps = self.tapping.hear(Press(now(), MIDDLE_C, 64))

    def _quiet(self) -> str:
        if self.finding:
            return say("setup.find.now")
        if self.clicking:
            return say("setup.tap.now", taps=self.taps, all=tapping.TAPS)
        if self.last is None:
            return say("setup.last.none") if self.house.no_piano else say("setup.last.wait")
        letters = self.house.settings.letters
        from trainer.window.singer import pitch_of

        pitch = pitch_of(self.last.pitch)
        name = f"{letter_name(pitch, letters)}{pitch.octave}"
        return say("setup.last", name=name, number=self.last.pitch, velocity=self.last.velocity, port=self._port())

    def _port(self) -> str:
        from trainer.listening.ports import shown_name

        ports, last = self.house.ports, self.last
        if ports is None or ports.last is None or last is None or ports.last[1].at != last.at:
            return say("setup.last.typed")
        return shown_name(ports.last[0])

    def _lay_fields(self, canvas: Canvas, controls: Controls, rect: Rect, fields: Sequence[Field]) -> Rect:
        """Fields in rows of two; returns what is left under them."""
        u = canvas.unit
        high, gap = round(2.65 * u), round(0.6 * u)
        size = 1.1
        across = 2 if rect.width < 40 * u else 3
        for at, one in enumerate(fields):
            row, column = divmod(at, across)
            line = Rect(rect.left, rect.top + row * (high + gap), rect.width, high)
            place = layout.columns(line, [0] * across, round(1.6 * u))[column]

            def choose(index: int, one: Field = one) -> None:
                one.choose(one.values[index])

            controls.choice(one.name, place, say(f"setup.{one.name}"), one.shown, one.at, choose, key=one.key,
                            size=size)  # fmt: skip
        rows = -(-len(fields) // across)
        top = rect.top + rows * (high + gap)
        return Rect(rect.left, top, rect.width, rect.bottom - top)

    def _lay_piano(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        u = canvas.unit
        rest = self._lay_fields(canvas, controls, rect, self.fields("piano"))
        moved = self.house.settings.piano_transposes
        label = say("setup.stop") if self.finding else say("setup.find")
        said = say("setup.transposes.none") if not moved else say("setup.transposes", semitones=f"{moved:+d}")
        self._lay_act(canvas, controls, _top(rest, u), ("find", label, "v", said,
                                                        self.find))  # fmt: skip

    def _lay_page(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        rest = self._lay_fields(canvas, controls, rect, self.fields("page"))
        if rest.height > 1.2 * canvas.unit:
            room = Rect(rest.left, rest.top, rest.width, min(rest.height, round(2.6 * canvas.unit)))
            canvas.words("page.keys", room, say("setup.page.keys"), style=fonts.ITALIC, size=0.95, colour="graphite",
                         lines=2, stand=TOP, least=0.7)  # fmt: skip

    def _lay_practice(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        u = canvas.unit
        rest = self._lay_fields(canvas, controls, rect, self.fields("practice"))
        label = say("setup.stop") if self.clicking else say("setup.tap")
        offset = self.house.settings.click_offset_ms
        said = say("setup.offset", ms=f"{offset:+d}") if offset else say("setup.offset.none")
        line = _top(rest, u)
        self._lay_act(canvas, controls, line, ("tap", label, "b", said, self.tap))
        room = Rect(rest.left, line.bottom + round(0.5 * u), rest.width, rest.bottom - line.bottom - round(0.5 * u))
        if room.height > 1.1 * u:
            size = self.house.settings.hand_size
            named = say(f"setup.hand_size.{size}")
            words = say("setup.hand", size=named, wide=_article(widest(size)), easy=_article(widest(size, True)))
            canvas.words("practice.hand", room, words, style=fonts.ITALIC, size=0.95, colour="graphite", lines=3,
                         stand=TOP, least=0.7)  # fmt: skip

    def _lay_act(
        self, canvas: Canvas, controls: Controls, line: Rect, act: tuple[str, str, str, str, Callable[[], None]]
    ) -> None:
        """A button with what it found last beside it."""
        name, label, key, said, do = act
        u = canvas.unit
        wide = min(controls.button_width(label, key, 0.95), round(line.width * 0.6))
        button = Rect(line.left, line.top, wide, line.height)
        controls.button(name, button, label, do, key=key, size=0.95)
        after = Rect(button.right + round(0.8 * u), line.top, line.right - button.right - round(0.8 * u), line.height)
        canvas.words(f"{name}.said", after, said, style=fonts.ITALIC, size=0.95, colour="graphite", lines=2, least=0.6)

    def _lay_player(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        u = canvas.unit
        who, _, place, _, orders = layout.rows(
            rect, [round(2.65 * u), round(0.6 * u), round(2.4 * u), round(0.6 * u), round(1.8 * u)]
        )
        left, right = layout.columns(who, [0, 0], round(1.6 * u))
        (one,) = self.fields("player")
        controls.choice("player", left, say("setup.player.who"), one.shown, one.at,
                        lambda at: self.switch(self.players[at]), key=one.key, size=1.1)  # fmt: skip
        self._lay_fresh(canvas, controls, right)
        shown = say("setup.where", path=_home(self.journal_path))
        canvas.words("setup.where", place, shown, size=0.95, colour="graphite", style=fonts.ITALIC, lines=2, stand=TOP,
                     least=0.6)  # fmt: skip
        if self.asking:
            self._lay_question(canvas, controls, Rect(orders.left, orders.top, orders.width, rect.bottom - orders.top))
            return
        x = orders.left
        for name, key, act in (("export", "x", self.export), ("erase", "d", self.ask_erase)):
            label = say(f"setup.{name}")
            wide = min(controls.button_width(label, key, 0.95), orders.right - x)
            controls.button(name, Rect(x, orders.top, wide, orders.height), label, act, key=key, size=0.95)
            x += wide + round(0.6 * u)

    def _lay_fresh(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        """A line for a new player's name."""
        u = canvas.unit
        add = say("setup.player.add")
        wide = controls.button_width(add, "return", 0.95) if self.fresh.strip() else 0
        line = Rect(rect.left, rect.bottom - round(1.75 * u), rect.width - wide - (round(0.5 * u) if wide else 0),
                    round(1.75 * u))  # fmt: skip
        controls.entry("fresh", line, say("setup.player.new"), self.fresh, self.type_name, key="n",
                       hint=say("setup.player.new"))  # fmt: skip
        if wide:
            button = Rect(rect.right - wide, line.top, wide, line.height)
            controls.button("add", button, add, self.add_player, key="return", size=0.95)

    def _lay_question(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        u = canvas.unit
        yes, no = say("setup.erase.yes"), say("setup.erase.no")
        wides = [controls.button_width(yes, "delete"), controls.button_width(no, "escape")]
        words = Rect(
            rect.left, rect.top, rect.width, min(round(2.6 * u), max(round(1.2 * u), rect.height - round(2.2 * u)))
        )
        canvas.words("erase.ask", words, say("setup.erase.ask", player=self.house.player), size=1.0, lines=2,
                     stand=TOP, least=0.6)  # fmt: skip
        top = min(words.bottom + round(0.2 * u), rect.bottom - round(1.8 * u))
        button = Rect(rect.left, top, wides[0], round(1.8 * u))
        controls.button("erase.no", Rect(button.right + round(0.6 * u), top, wides[1], button.height), no,
                        self.ask_erase, key="escape", main=True)  # fmt: skip
        controls.button("erase.yes", button, yes, self.erase, key="delete")


def _field(
    screen: Setup, settings: Settings, name: str, key: str, values: Sequence[object], shown: Sequence[str] = ()
) -> Field:
    """A field that changes one setting."""
    said = shown or [say(f"setup.{name}.{str(value).lower()}") for value in values]
    return Field(name, key, values, said, getattr(settings, name), partial(screen.change, name))


def _top(rect: Rect, u: float) -> Rect:
    """A line for a button at the top of what is left."""
    return Rect(rect.left, rect.top + round(0.1 * u), rect.width, round(1.8 * u))


def _article(interval: str) -> str:
    return f"{'an' if interval[0] in 'aeio' else 'a'} {interval}"


def _home(path: Path) -> str:
    """A path as short as it can be said: from the player's own folder on."""
    try:
        return f"~/{path.relative_to(Path.home())}"
    except ValueError:
        return str(path)
