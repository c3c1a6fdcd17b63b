"""The window itself: one loop that sleeps until something happens and paints only what changed."""

from __future__ import annotations

import gc
import importlib
import math
import sys
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, replace
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any

import pygame

from trainer.hands.keyboard import KEYBOARDS
from trainer.listening.clock import now
from trainer.listening.press import Event, Press, Release
from trainer.listening.typing import TypedPiano
from trainer.window import settings as kept
from trainer.window.bell import Bell
from trainer.window.canvas import Canvas, Easel, Kept
from trainer.window.controls import Control, Controls, key_name
from trainer.window.screen import Screen
from trainer.window.settings import Settings
from trainer.window.strings import say
from trainer.window.theme import DAY, NIGHT, Theme
from trainer.window.workroom import Workroom

# What takes long to import and is not needed to draw the first frame is imported where it is used.
if TYPE_CHECKING:
    from pathlib import Path

    from trainer.journal.store import Journal
    from trainer.listening.ports import Ports
    from trainer.listening.replay import Replay
    from trainer.sounding.opening import Sound
    from trainer.window.rounds import Rounds

LEAST = (960, 600)
# The name of a player who has given none, as the journal has it.
NOBODY = "Player"
# Quiet lines stay this long.
NOTICE_S = 7.0
_PORTS_S = 1.0
# Imported after the first frame.
_LATER = ("window.rounds", "window.copy", "journal.store", "listening.ports", "sounding.opening", "coaching.schedule")


_ORDERS = (pygame.KEYDOWN, pygame.TEXTINPUT, pygame.MOUSEBUTTONDOWN, pygame.MOUSEWHEEL)


@dataclass(frozen=True)
class Notice:
    """One quiet line, and when it goes."""

    words: str
    until: float


class House:
    """Everything the screens share: settings, ports, the second process, the quiet line; and the loop.

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
        self.first_frame = 0.0
        self._size = size
        self._own = surface is None
        self._surface = surface
        self._easel = Easel()
        self._kept: dict[str, Kept] = {}
        self._screens: dict[str, Screen] = {}
        self.screen: Screen | None = None
        self._focus: dict[str, str] = {}
        self._seen = False
        self._pointer: tuple[int, int] | None = None
        self._controls: Controls | None = None
        self._bell = Bell()
        self._swallowed = False
        self._stale = False
        self.running = True
        self.notice: Notice | None = None
        self.ports: Ports | None = None
        self.typed = TypedPiano()
        self.workroom = Workroom(self.wake, here=not self._own)
        self.journal: Journal | None = None
        self._calls: deque[Callable[[], None]] = deque()
        # For the bench: seconds of work a frame, and seconds from a press to the painted frame.
        self.work: deque[float] = deque(maxlen=20000)
        self.answered: deque[float] = deque(maxlen=20000)
        self.opened: deque[float] = deque(maxlen=1000)
        self._oldest: float | None = None
        self.canvas: Canvas | None = None
        self._sound: Sound | None = None
        self._rounds: Rounds | None = None
        # Whether journal, ports and sound are open; and whether what they need is imported.
        self.ready = False
        self._loaded = False
        self.journal_at: str | None = None
        self.replayed: Replay | None = None
        self.played: SimpleQueue[tuple[Event, float]] = SimpleQueue()

    # Screens

    def show(self, screen: Screen) -> None:
        """Bring a screen to the front."""
        if self.screen is not None:
            self.screen.left()
        self.screen = screen
        screen.entered()

    def screen_of(self, kind: type[Screen]) -> Screen:
        """The one screen of a kind, made when first asked for."""
        if kind.name not in self._screens:
            self._screens[kind.name] = kind(self)
        return self._screens[kind.name]

    def go(self, name: str) -> None:
        """Bring the screen of that name to the front."""
        from trainer.window.rooms import ROOMS

        self.show(self.screen_of(ROOMS[name]()))

    def open_file(self, path: str) -> None:
        """A file was dropped: read it elsewhere, and play it once it is read; until then all stays as it is."""
        from trainer.window.desk import Desk

        desk = self.screen_of(Desk)
        assert isinstance(desk, Desk)
        desk.bring(path)

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
        board = KEYBOARDS[self.settings.keys]
        return board.lowest, board.highest

    # What is made when first needed

    @property
    def rounds(self) -> Rounds:
        """Takes, and how they come about."""
        if self._rounds is None:
            from trainer.window.rounds import Rounds

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
        if self._own:
            kept.save(self.settings)

    def switch(self, player: str) -> None:
        """Another player sits down, with their own settings; what belongs to the room stays."""
        self.change()
        self.settings = kept.load("" if player == NOBODY else player)
        self.change()

    def scale_step(self, by: int) -> None:
        """Larger or smaller text."""
        at = min(range(len(kept.SCALES)), key=lambda i: abs(kept.SCALES[i] - self.settings.scale))
        self.change(scale=kept.SCALES[max(0, min(len(kept.SCALES) - 1, at + by))])

    def say(self, words: str, seconds: float = NOTICE_S) -> None:
        """Show one quiet line for a while."""
        self.notice = Notice(words, now() + seconds)

    # The loop

    def wake(self) -> None:
        """Something waits for the loop; may be called from any thread."""
        self._bell.ring()

    def open_window(self) -> None:
        """Make the window; raises pygame.error without a screen."""
        pygame.display.init()
        pygame.font.init()
        pygame.display.set_caption(say("window.title"))
        pygame.display.set_icon(_icon())
        flags = pygame.RESIZABLE
        if self.settings.full_screen:
            self._surface = pygame.display.set_mode((0, 0), pygame.FULLSCREEN)
        else:
            self._surface = pygame.display.set_mode(self._size, flags)
        self._bell.open()
        pygame.key.set_repeat(350, 45)
        pygame.event.set_blocked([pygame.JOYAXISMOTION, pygame.JOYBUTTONDOWN])

    def open_ports(self) -> None:
        """Start hearing the piano."""
        from trainer.listening.ports import Ports

        wanted = [self.settings.midi_in] if self.settings.midi_in else []
        self.ports = Ports(wanted, wake=self.wake, told=lambda event: self._told(event, self._as_struck(event)))

    def open_journal(self) -> None:
        """Begin to keep takes."""
        from trainer.journal.store import Journal

        self.journal = Journal(self.journal_at)
        if self.journal.trouble:
            self.say(self.journal.trouble)

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
            self._told(event, event)
            self.played.put((event, now()))
            self.wake()

        self.replayed = replay
        replay.start(hear)

    def figures(self) -> dict[str, object]:
        """How long things took, for `tools/bench.py window`: seconds, the first frame on the system's steady clock."""
        return {
            "first_frame_at": self.first_frame,
            "work": list(self.work),
            "answered": list(self.answered),
            "opened": list(self.opened),
        }

    def picture(self, path: str) -> None:
        """Write what the window shows to a picture file."""
        assert self._surface is not None
        pygame.image.save(self._surface, path)

    def _preload(self) -> None:
        """Import what the first frame did not need, in a thread of its own."""
        for name in _LATER:
            importlib.import_module(f"trainer.{name}")
        self._loaded = True
        self.wake()

    def _open_up(self) -> bool:
        """Once all is imported: keep takes, hear the piano, sound."""
        if not self._loaded or self.ready:
            return False
        from trainer.window import jobs

        self.ready = True
        self.open_journal()
        self.open_ports()
        self.open_sound()
        assert self.screen is not None
        self.screen.opened()
        # The second process starts and loads the engraver now, so that the first piece need not wait for it.
        self.workroom.ask(jobs.warm, then=lambda _: None, failed=lambda trouble: self.say(str(trouble)))
        if self.replayed is not None:
            self.start_replay(self.replayed)
        # What is there now stays: it need not be gone through for garbage again while somebody plays.
        gc.collect()
        gc.freeze()
        gc.set_threshold(20_000, 20, 50)
        return True

    def run(self) -> None:
        """The loop, until the window is closed."""
        assert self.screen is not None
        # Other threads (journal, tones, ports) hand the interpreter back to a frame within a millisecond, not five.
        sys.setswitchinterval(0.001)
        self.draw()
        self.first_frame = time.monotonic()
        threading.Thread(target=self._preload, name="preload", daemon=True).start()
        next_tick = 0.0
        next_ports = 0.0
        active = now()
        while self.running:
            moment = now()
            until = min(next_tick, next_ports, self.notice.until if self.notice else math.inf)
            self._bell.wait(until - moment, moment - active)
            events = pygame.event.get()
            began = time.perf_counter()
            touched = bool(events)
            for event in events:
                self.handle(event)
            if touched:
                active = now()
            touched |= self._open_up()
            touched |= self._listen()
            touched |= self._collect()
            moment = now()
            if moment >= next_ports:
                touched |= self._watch_ports()
                next_ports = now() + _PORTS_S
            if self.notice and moment >= self.notice.until:
                self.notice = None
                touched = True
            if moment >= next_tick or touched:
                assert self.screen is not None
                wish = self.screen.tick(moment)
                touched |= moment >= next_tick
                next_tick = moment + wish
            if touched and self.running:
                self.draw()
                self.work.append(time.perf_counter() - began)
        self.close()

    def stop(self) -> None:
        """Leave the loop; may be called from a signal handler."""
        self.running = False
        self.wake()

    def close(self) -> None:
        if self.screen is not None:
            self.screen.left()
        if self.replayed is not None:
            self.replayed.stop()
        self.sound.close()
        if self.ports is not None:
            self.ports.close()
        self.workroom.close()
        if self.journal is not None:
            self.journal.close()
        self._bell.close()

    def draw(self) -> None:
        """Lay the screen anew and paint what changed."""
        assert self.screen is not None
        assert self._surface is not None
        canvas, controls = self.laid()
        self._controls = controls
        self._stale = False
        self.canvas = canvas
        touched = self._easel.paint(self._surface, canvas)
        if touched and self._own:
            pygame.display.update(touched)
        if self._oldest is not None:
            self.answered.append(now() - self._oldest)
            self._oldest = None

    def laid(self) -> tuple[Canvas, Controls]:
        """The boxes and controls of the screen as it is now."""
        assert self.screen is not None
        assert self._surface is not None
        size = self._surface.get_size()
        canvas = Canvas(size, self.theme, self.settings.scale / 100, self._kept)
        name = self.screen.name
        controls = Controls(canvas, self._focus.get(name, ""), self._pointer, self._seen)
        self.screen.lay(canvas, controls)
        return canvas, controls

    # What happens

    def _listen(self) -> bool:
        heard = self.ports.pending() if self.ports is not None else []
        for event in heard:
            struck = self._as_struck(event)
            self._take_over(struck)
            self.hear(struck, struck.at)
            self._dealt_with(event)
        try:
            while True:
                # A recorded take keeps its own times.
                event, put = self.played.get_nowait()
                heard.append(event)
                self.hear(event, put)
                self._dealt_with(event)
        except Empty:
            return bool(heard)

    def _told(self, event: Event, struck: Event) -> None:
        """Let the journal know what is on its way to the Stand, from the thread that heard it."""
        if self.journal is not None and self.screen is self._screens.get("stand"):
            self.journal.coming(event, struck)

    def _dealt_with(self, event: Event) -> None:
        if self.journal is not None:
            self.journal.dealt_with(event)

    def _as_struck(self, event: Event) -> Event:
        """The key that was struck: the piano's own transpose function taken off what it sent."""
        moved = self.settings.piano_transposes
        if not moved or not isinstance(event, Press | Release):
            return event
        return replace(event, pitch=max(0, min(127, event.pitch - moved)))

    def _take_over(self, event: Event) -> None:
        """A real key ends what plays itself."""
        if self._rounds is not None and self._rounds.demonstrating and isinstance(event, Press):
            self._rounds.take_over()

    def hear(self, event: Event, happened: float, typed: bool = False) -> None:
        """An event from any piano, and when it happened on the house's clock."""
        assert self.screen is not None
        if isinstance(event, Press) and self._oldest is None:
            self._oldest = happened
        if typed or self.settings.echo:
            self.sound.echo.hear(event)
        self.screen.heard(event)

    def _collect(self) -> bool:
        had = self.workroom.waiting
        self.workroom.collect()
        return had != self.workroom.waiting

    def _watch_ports(self) -> bool:
        if self.ports is None:
            return False
        heard = self.ports.hearing
        lines = self.ports.watch() + self.sound.lines()
        for line in lines:
            self.say(line)
        if self.ports.hearing != heard and self.settings.sound == "auto" and not self.sound.player.playing:
            self.open_sound()
        return bool(lines)

    def handle(self, event: pygame.event.Event) -> None:
        """One event of the window."""
        assert self.screen is not None
        if event.type in _ORDERS:
            # Several may come between two frames: each must find the controls as the one before left them.
            if self._stale:
                self._controls = self.laid()[1]
            self._stale = True
        if event.type == pygame.QUIT:
            self.running = False
        elif event.type == pygame.KEYDOWN:
            self._key_down(event)
        elif event.type == pygame.KEYUP:
            release = self.typed.up(event.scancode, now())
            if release is not None:
                self.hear(release, release.at, typed=True)
            self.screen.key_up(pygame.key.name(event.key))
        elif event.type == pygame.TEXTINPUT:
            control = self._focused()
            if control is not None and control.typed is not None and not self._swallowed:
                control.typed(event.text)
            self._swallowed = False
        elif event.type == pygame.MOUSEMOTION:
            self._pointer = event.pos
        elif event.type == pygame.MOUSEBUTTONDOWN and event.button == 1:
            self._click(event.pos)
        elif event.type == pygame.MOUSEWHEEL:
            self._wheel(event.y)
        elif event.type == pygame.DROPFILE:
            self.screen.dropped(event.file)
        elif event.type == pygame.WINDOWFOCUSLOST:
            for release in self.typed.let_go(now()):
                self.hear(release, release.at, typed=True)
        elif event.type == pygame.WINDOWLEAVE:
            self._pointer = None
        elif event.type in (pygame.VIDEORESIZE, pygame.WINDOWEXPOSED):
            self._resized()

    def _resized(self) -> None:
        if self._own:
            self._surface = pygame.display.get_surface()
        self._easel.forget()

    def _focused(self) -> Control | None:
        assert self.screen is not None
        if self._controls is None:
            return None
        return self._controls.named(self._focus.get(self.screen.name, ""))

    def focus(self, name: str) -> None:
        """Give the focus to a control of the screen in front."""
        assert self.screen is not None
        self._focus[self.screen.name] = name

    def _key_down(self, event: pygame.event.Event) -> None:
        assert self.screen is not None
        name = key_name(event)
        control = self._focused()
        if self._anywhere(name):
            return
        if self.screen.plays and not event.mod & (pygame.KMOD_CTRL | pygame.KMOD_ALT | pygame.KMOD_META):
            press = self.typed.down(event.scancode, now())
            if press is not None:
                self._take_over(press)
                self.hear(press, press.at, typed=True)
            if press is not None or self.typed.pitch(event.scancode) is not None:
                return
        if control is not None and control.typed is not None and self._typing(control, name, event):
            return
        if self._by_key(name) or (control is not None and self._arrows(control, name)):
            return
        if name in ("tab", "ctrl tab"):
            self._move_focus(-1 if event.mod & pygame.KMOD_SHIFT else 1)
        elif not self.screen.key_down(name, event) and name == "escape":
            self.go("desk")

    def _anywhere(self, name: str) -> bool:
        """Keys that work on every screen."""
        from trainer.window.rooms import KEYS

        if name in KEYS:
            self.go(KEYS[name])
        elif name == "f11":
            self._full_screen()
        elif name == "f9":
            self.change(night=not self.settings.night)
        elif name in ("ctrl +", "ctrl =", "ctrl [+]"):
            self.scale_step(1)
        elif name in ("ctrl -", "ctrl [-]"):
            self.scale_step(-1)
        elif name == "ctrl q":
            self.running = False
        else:
            return False
        return True

    def _full_screen(self) -> None:
        if not self._own:
            return
        self.change(full_screen=not self.settings.full_screen)
        if self.settings.full_screen:
            self._size = self._surface.get_size() if self._surface else self._size
            self._surface = pygame.display.set_mode((0, 0), pygame.FULLSCREEN)
        else:
            self._surface = pygame.display.set_mode(self._size, pygame.RESIZABLE)
        self._easel.forget()

    def _typing(self, control: Control, name: str, event: pygame.event.Event) -> bool:
        """Keys of a line being typed on; letters come as text of their own."""
        assert control.typed is not None
        assert self.screen is not None
        if name == "backspace":
            control.typed("\b")
        elif name == "escape":
            self._focus[self.screen.name] = ""
        elif len(name) != 1 and name != "space":
            if name in ("return", "enter"):
                # What was typed is done: the letters are the screen's keys again.
                self._focus[self.screen.name] = ""
            return False
        return True

    def _by_key(self, name: str) -> bool:
        assert self._controls is not None
        for control in self._controls.all:
            if control.key == name:
                if control.typed is not None:
                    # The letter that leads to the line is not written on it.
                    self.focus(control.name)
                    self._swallowed = True
                control.act()
                return True
        return False

    def _arrows(self, control: Control, name: str) -> bool:
        act = {"left": control.less, "right": control.more, "up": control.back, "down": control.forth,
               "page up": control.page_back, "page down": control.page_forth}.get(name)  # fmt: skip
        if name in ("return", "space", "enter"):
            self._seen = True
            control.act()
            return True
        if act is None:
            return False
        self._seen = True
        act()
        return True

    def _move_focus(self, by: int) -> None:
        assert self.screen is not None
        assert self._controls is not None
        names = [control.name for control in self._controls.all if control.rect.width]
        if not names:
            return
        self._seen = True
        current = self._focus.get(self.screen.name, "")
        at = names.index(current) + by if current in names else (0 if by > 0 else -1)
        self._focus[self.screen.name] = names[at % len(names)]

    def _click(self, point: tuple[int, int]) -> None:
        assert self.screen is not None
        assert self._controls is not None
        self._pointer = point
        for control in reversed(self._controls.all):
            if control.rect.collidepoint(point):
                self._focus[self.screen.name] = control.name
                if control.at is None or not control.at(point):
                    control.act()
                return

    def _wheel(self, lines: int) -> None:
        if self._controls is None or self._pointer is None:
            return
        for control in reversed(self._controls.all):
            if control.rect.collidepoint(self._pointer) and control.forth and control.back:
                for _ in range(min(3, abs(lines))):
                    (control.back if lines > 0 else control.forth)()
                return


def _icon() -> pygame.Surface:
    """The window's sign: a note head between two staff lines on paper, ringed in blue."""
    from trainer.window.shapes import picture, sign
    from trainer.window.signs import BLACK_HEAD
    from trainer.window.theme import hexed

    body = f'<rect width="64" height="64" rx="12" fill="{hexed(DAY["paper"])}"/>'
    for y in (16, 32, 48):
        body += f'<path d="M6 {y}H58" stroke="{hexed(DAY["graphite"])}" stroke-width="1.6"/>'
    body += sign(BLACK_HEAD, 22, 32, 16, hexed(DAY["ink"]))
    body += (
        f'<ellipse cx="32" cy="32" rx="22" ry="17" transform="rotate(-14 32 32)" fill="none" '
        f'stroke="{hexed(DAY["blue"])}" stroke-width="4"/>'
    )
    return picture(body, 64, 64)
