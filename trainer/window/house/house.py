"""The house: everything the screens share. The loop, the window's surface and the console have files of their own."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from queue import SimpleQueue
from typing import TYPE_CHECKING, Any

import pygame

from trainer.hands.keyboard import KEYBOARDS
from trainer.journal.errors import JournalError
from trainer.listening.clock import now
from trainer.listening.press import Event, Press, Release
from trainer.listening.typing import TypedPiano
from trainer.window import settings as kept
from trainer.window.house.houseconsole import Console
from trainer.window.house.houseloop import Loop
from trainer.window.house.housepane import Pane
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.controls import Controls
from trainer.window.paint.theme import DAY, NIGHT, Theme
from trainer.window.places import home
from trainer.window.screen import OneScreen, Screen
from trainer.window.settings import Settings
from trainer.window.strings import say
from trainer.window.workroom.workroom import Workroom, told

# What takes long to import and is not needed to draw the first frame is imported where it is used.
if TYPE_CHECKING:
    from pathlib import Path

    from trainer.journal.store import Journal
    from trainer.listening.ports import Ports
    from trainer.listening.replay import Replay
    from trainer.sounding.opening import Sound
    from trainer.window.practice import Practice
    from trainer.window.rounds.rounds import Rounds
    from trainer.window.wish import Wish

LEAST = (960, 600)
# The name of a player who has given none, as the journal has it.
NOBODY = "Player"
# Quiet lines stay this long, and what keeps takes out of the journal.
NOTICE_S, TROUBLE_S = 7.0, 20.0


@dataclass(frozen=True)
class Notice:
    """One quiet line, and when it goes."""

    words: str
    until: float


class House:
    """Everything the screens share: settings, ports, the second process, the journal, the quiet line.

    Parameters
    ----------
    settings : Settings
    size : (int, int)
        Pixels of the window at first.
    surface : Surface, optional
        Painted on instead of a window of its own (pictures and tests).
    """

    def __init__(self, settings: Settings, size: tuple[int, int], surface: pygame.Surface | None = None) -> None:
        self.settings = settings
        self._screens: dict[str, Screen] = {}
        self.screen: Screen | None = None
        self.running = True
        self.notice: Notice | None = None
        self.pane = Pane(self, size, surface)
        self.console = Console(self)
        self.loop = Loop(self)
        self.ports: Ports | None = None
        self.typed = TypedPiano()
        self.workroom = Workroom(self.wake, here=not self.pane.own)
        self.journal: Journal | None = None
        # What was last said of the journal's trouble.
        self._told = ""
        # The line about the journal that was said last.
        self.of_journal: Notice | None = None
        # For the bench: seconds from a piece put on the stand to its page.
        self.opened: deque[float] = deque(maxlen=1000)
        self._sound: Sound | None = None
        self._rounds: Rounds | None = None
        # Whether journal, ports and sound are open.
        self.ready = False
        self.journal_at: str | None = None
        self.replayed: Replay | None = None
        # Why the shelf, or a folder of it, cannot be read, in a sentence.
        self.shelf_trouble = ""
        self.played: SimpleQueue[tuple[Event, float]] = SimpleQueue()

    # Screens

    def show(self, screen: Screen) -> None:
        """Bring a screen to the front."""
        if self.screen is not None:
            self.screen.left()
            screen.came_from(self.screen.name)
        self.screen = screen
        screen.entered()

    def screen_of(self, kind: type[OneScreen]) -> OneScreen:
        """The one screen of a kind, made when first asked for."""
        if kind.name not in self._screens:
            self._screens[kind.name] = kind(self)
        found = self._screens[kind.name]
        assert isinstance(found, kind)
        return found

    @property
    def on_stand(self) -> Wish | None:
        """What lies on the stand, if anything does."""
        practice: Practice | None = getattr(self._screens.get("stand"), "practice", None)
        return practice.wish if practice is not None else None

    def go(self, name: str) -> None:
        """Bring the screen of that name to the front."""
        from trainer.window.rooms import ROOMS

        self.show(self.screen_of(ROOMS[name]()))

    def open_files(self, paths: Sequence[str]) -> None:
        """Files came: what was handed over is taken in, music is kept, and played where it is one file."""
        from trainer.window.desk.desk import Desk
        from trainer.window.studio.handingpage import HandingPage

        music = self.screen_of(HandingPage).take_dropped(paths)
        if music:
            self.screen_of(Desk).bring(music)

    @property
    def player(self) -> str:
        """The name takes are kept under."""
        return self.settings.player or NOBODY

    @property
    def journal_file(self) -> Path:
        """Where the journal lies; what else the player keeps lies beside it."""
        from trainer.journal.files import where

        return self.journal.path if self.journal is not None else where()

    @property
    def no_piano(self) -> bool:
        """Whether no instrument is connected."""
        return self.ports is None or not self.ports.hearing

    @property
    def outer_keys(self) -> tuple[int, int]:
        """The lowest and the highest key of the player's piano."""
        return KEYBOARDS[self.settings.keys].compass

    # What is made when first needed

    @property
    def rounds(self) -> Rounds:
        """Takes, and how they come about."""
        if self._rounds is None:
            from trainer.window.rounds.rounds import Rounds

            self._rounds = Rounds(self)
        return self._rounds

    @property
    def sound(self) -> Sound:
        """What the player hears; silent until `open_sound`."""
        if self._sound is None:
            from trainer.sounding.opening import NONE, open_sound

            self._sound = open_sound(NONE)
        return self._sound

    # Settings

    @property
    def theme(self) -> Theme:
        return NIGHT if self.settings.night else DAY

    def change(self, **values: Any) -> None:
        """Change settings and keep them."""
        self.settings = replace(self.settings, **values)
        if self.pane.own:
            kept.save(self.settings)

    def switch(self, player: str) -> None:
        """Another player sits down, with their own settings; what belongs to the room stays."""
        self.change()
        self.settings = kept.load("" if player == NOBODY else player)
        self.change()

    def scale_step(self, by: int) -> None:
        """Larger or smaller text."""
        self.change(scale=kept.scale_beside(self.settings.scale, by))

    def say(self, words: str, seconds: float = NOTICE_S) -> None:
        """Show one quiet line for a while."""
        self.notice = Notice(words, now() + seconds)

    # The window

    def wake(self) -> None:
        """Something waits for the loop; may be called from any thread."""
        self.loop.bell.ring()

    def open_window(self) -> None:
        """Make the window; raises pygame.error without a screen."""
        self.pane.open()
        self.loop.bell.open()

    def run(self) -> None:
        """The loop, until the window is closed."""
        self.loop.run()

    def stop(self) -> None:
        """Leave the loop; may be called from a signal handler."""
        self.running = False
        self.wake()

    def draw(self) -> None:
        """Lay the screen anew and paint what changed."""
        self.pane.draw()

    def laid(self) -> tuple[Canvas, Controls]:
        """The boxes and controls of the screen as it is now."""
        return self.pane.laid()

    @property
    def canvas(self) -> Canvas | None:
        """What was last painted."""
        return self.pane.canvas

    def handle(self, event: pygame.event.Event) -> None:
        """One event of the window."""
        self.console.handle(event)

    def focus(self, name: str) -> None:
        """Give the focus to a control of the screen in front."""
        self.console.focus(name)

    def picture(self, path: str) -> None:
        """Write what the window shows to a picture file."""
        self.pane.picture(path)

    # What is opened after the first frame

    def open_up(self) -> None:
        """Keep takes, hear the piano, sound; and load the engraver where it will be needed."""
        from trainer.window.workroom import jobs

        self.ready = True
        self.open_journal()
        self.open_ports()
        self.open_sound()
        assert self.screen is not None
        self.screen.opened()
        # The second process loads the engraver now, for the first piece, which will tell when it cannot.
        self.workroom.ask(jobs.warm, then=lambda _: None, failed=lambda _: None)
        if self.replayed is not None:
            self.start_replay(self.replayed)

    def unable(self, otherwise: str) -> Callable[[Exception], None]:
        """What becomes of a job that failed: one quiet line, as `workroom.told`."""
        return lambda trouble: self.say(told(trouble, otherwise))

    def open_ports(self) -> None:
        """Start hearing the piano."""
        from trainer.listening.ports import Ports

        wanted = [self.settings.midi_in] if self.settings.midi_in else []
        self.ports = Ports(wanted, wake=self.wake, told=lambda event: self.told(event, self.as_struck(event)))

    def open_journal(self) -> None:
        """Begin to keep takes."""
        from trainer.coaching.path.comeback import take_back
        from trainer.journal.files import BRIEF_S
        from trainer.journal.store import Journal

        self.journal = Journal(self.journal_at)
        back = take_back(self.journal, self.outer_keys)
        self.journal.wait_s = BRIEF_S
        self.rounds.resume()
        if not self.tell_trouble() and back.words:
            self.say(back.words, TROUBLE_S)
            self.of_journal = self.notice

    def flushed(self) -> bool:
        """Write all takes to their file, for what reads them there; where it cannot be written that is said."""
        try:
            if self.journal is not None:
                self.journal.flush()
        except JournalError as trouble:
            self.say(str(trouble))
            return False
        return True

    @property
    def trouble(self) -> str:
        """What keeps takes out of the journal, and where they are instead; empty when all is well."""
        if self.journal is None:
            return ""
        aside = self.journal.aside
        return f"{self.journal.reason} {say('house.aside', path=home(aside))}" if aside else self.journal.trouble

    def tell_trouble(self) -> bool:
        """Say once what has befallen the journal, also while somebody plays; whether there was something to say."""
        before, self._told = self._told, self.trouble
        if self._told == before:
            return False
        if self._told:
            self.say(self._told, TROUBLE_S)
            self.of_journal = self.notice
        elif self.notice is not None and self.notice.words == before:
            self.notice = None
        return True

    def open_sound(self) -> None:
        """Open what the player hears; its quiet lines come with the ports'."""
        from trainer.sounding.opening import open_sound

        if self._sound is not None:
            self._sound.close()
        # A chosen output stands for the piano's own; the tone and silence do not need one.
        choice = self.settings.sound
        if choice == "auto" and self.settings.midi_out:
            choice = self.settings.midi_out
        self._sound = open_sound(choice, self.ports)

    def start_replay(self, replay: Replay) -> None:
        """Let a recorded take play as if live."""

        def hear(event: Event) -> None:
            self.told(event, event)
            self.played.put((event, now()))
            self.wake()

        self.replayed = replay
        replay.start(hear)

    def stop_replay(self) -> None:
        """The recorded take falls silent, with what of it was not heard yet."""
        if self.replayed is not None:
            self.replayed.stop()
        self.replayed, self.played = None, SimpleQueue()

    def close(self) -> None:
        if self.screen is not None:
            self.screen.left()
        self.stop_replay()
        self.sound.close()
        if self.ports is not None:
            self.ports.close()
        self.workroom.close()
        if self.journal is not None:
            self.rounds.close()
            self.journal.close()
        self.loop.bell.close()

    # What is heard

    def told(self, event: Event, struck: Event) -> None:
        """Let the journal know what is on its way to the Stand, from the thread that heard it."""
        if self.journal is not None and self.screen is self._screens.get("stand"):
            self.journal.coming(event, struck)

    def dealt_with(self, event: Event) -> None:
        """Let the journal know that what came has been marked."""
        if self.journal is not None:
            self.journal.dealt_with(event)

    def as_struck(self, event: Event) -> Event:
        """The key that was struck: the piano's own transpose function taken off what it sent."""
        moved = self.settings.piano_transposes
        if not moved or not isinstance(event, Press | Release):
            return event
        return replace(event, pitch=max(0, min(127, event.pitch - moved)))

    def take_over(self, event: Event) -> None:
        """A real key ends what plays itself."""
        if self._rounds is not None and isinstance(event, Press):
            self._rounds.take_over()

    def hear(self, event: Event, happened: float, typed: bool = False) -> None:
        """An event from any piano, and when it happened on the house's clock."""
        assert self.screen is not None
        if isinstance(event, Press):
            self.pane.struck(happened)
        if typed or self.settings.echo:
            self.sound.echo.hear(event)
        self.screen.heard(event)
