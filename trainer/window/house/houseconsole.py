"""The computer's keyboard and the pointer: what they do on any screen, and where the focus is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pygame

from trainer.listening.clock import now
from trainer.listening.press import Press
from trainer.listening.typing import POINTER
from trainer.window.house.repeats import STEPS
from trainer.window.paint.controls import Control, Controls, key_name

if TYPE_CHECKING:
    from trainer.window.house.house import House

_ORDERS = (pygame.KEYDOWN, pygame.TEXTINPUT, pygame.MOUSEBUTTONDOWN, pygame.MOUSEWHEEL)


class Console:
    """Hands events of the window to the controls of the screen in front, or to the screen itself.

    Attributes
    ----------
    controls : Controls or None
        Those of the frame last laid.
    pointer : (int, int) or None
    pointing : bool
        Whether the pointer was moved since a key was struck: what it only happens to rest on is not lit.
    seen : bool
        Whether the keyboard has been used to move the focus: only then is the focus drawn.
    selected : bool
        Whether what is typed next replaces the line that has the focus.
    """

    def __init__(self, house: House) -> None:
        self.house = house
        self.controls: Controls | None = None
        self.pointer: tuple[int, int] | None = None
        self.pointing = False
        self.seen = False
        self.selected = False
        self._focus: dict[str, str] = {}
        self._firsts: dict[str, dict[str, int]] = {}
        self._swallowed = False
        self._stale = False
        # Files dropped so far of those that come together.
        self._dropped: list[str] | None = None

    def laid(self, controls: Controls) -> None:
        """A frame has been drawn with these."""
        self.controls = controls
        self._stale = False

    def focused(self, screen: str) -> str:
        """The name of the control that has the focus on a screen; empty for none."""
        return self._focus.get(screen, "")

    def firsts(self, screen: str) -> dict[str, int]:
        """Of every list of a screen the first row in sight."""
        return self._firsts.setdefault(screen, {})

    def handle(self, event: pygame.event.Event) -> None:
        """One event of the window."""
        assert self.house.screen is not None
        if event.type in _ORDERS:
            # Several may come between two frames: each must find the controls as the one before left them.
            if self._stale:
                self.controls = self.house.laid()[1]
            self._stale = True
        if event.type == pygame.QUIT:
            self.house.running = False
        elif event.type == pygame.KEYDOWN:
            self._key_down(event)
        elif event.type == pygame.KEYUP:
            self._let_go(event.scancode)
            self.house.screen.key_up(pygame.key.name(event.key))
        elif event.type == pygame.TEXTINPUT:
            control = self._focused()
            if control is not None and control.typed is not None and not self._swallowed:
                control.typed(event.text)
                self.selected = False
            self._swallowed = False
        elif event.type == pygame.MOUSEMOTION:
            self.pointer, self.pointing = event.pos, True
        elif event.type == pygame.MOUSEBUTTONDOWN and event.button == 1:
            self._click(event.pos)
        elif event.type == pygame.MOUSEBUTTONUP and event.button == 1:
            self._let_go(POINTER)
            self.house.screen.pointer_up()
        elif event.type == pygame.MOUSEWHEEL:
            self._wheel(event.y)
        elif event.type in (pygame.DROPBEGIN, pygame.DROPFILE, pygame.DROPCOMPLETE):
            self._drop(event)
        elif event.type == pygame.WINDOWFOCUSLOST:
            for release in self.house.typed.let_go(now()):
                self.house.hear(release, release.at, typed=True)
        elif event.type == pygame.WINDOWLEAVE:
            self.pointer = None
        elif event.type in (pygame.VIDEORESIZE, pygame.WINDOWEXPOSED):
            self.house.pane.resized()

    def _drop(self, event: pygame.event.Event) -> None:
        """Files dropped together come one by one between a beginning and an end."""
        assert self.house.screen is not None
        if event.type == pygame.DROPBEGIN:
            self._dropped = []
            return
        if event.type == pygame.DROPFILE:
            if self._dropped is not None:
                self._dropped.append(event.file)
                return
            self._dropped = [event.file]
        paths, self._dropped = self._dropped, None
        if paths:
            self.house.screen.dropped(paths)

    def _let_go(self, scancode: int) -> None:
        release = self.house.typed.up(scancode, now())
        if release is not None:
            self.house.hear(release, release.at, typed=True)

    def _strike(self, press: Press | None) -> None:
        if press is not None:
            self.house.take_over(press)
            self.house.hear(press, press.at, typed=True)

    def _focused(self) -> Control | None:
        assert self.house.screen is not None
        if self.controls is None:
            return None
        return self.controls.named(self._focus.get(self.house.screen.name, ""))

    def focus(self, name: str) -> None:
        """Give the focus to a control of the screen in front."""
        assert self.house.screen is not None
        self._focus[self.house.screen.name] = name
        self.selected = False

    def _key_down(self, event: pygame.event.Event) -> None:
        assert self.house.screen is not None
        self.pointing = False
        name = key_name(event)
        if getattr(event, "repeated", False) and not self._steps(name):
            return
        control = self._focused()
        if self._anywhere(name) or (name in ("return", "enter") and not self.house.screen.heeds_enter()):
            return
        if self.house.screen.plays and not event.mod & (pygame.KMOD_CTRL | pygame.KMOD_ALT | pygame.KMOD_META):
            press = self.house.typed.down(event.scancode, now())
            self._strike(press)
            if press is not None or self.house.typed.pitch(event.scancode) is not None:
                return
        if control is not None and control.typed is not None and self._typing(control, name, event):
            return
        if name in ("return", "enter") and control is not None and self._entered(control):
            return
        if self.by_key(name) or (control is not None and self.arrows(control, name)):
            return
        if name in ("return", "enter") and self._wanted():
            return
        if name in ("tab", "ctrl tab"):
            self._move_focus(-1 if event.mod & pygame.KMOD_SHIFT else 1)
        elif not self.house.screen.key_down(name, event) and name == "escape":
            self.house.go(self.house.screen.back)

    def _steps(self, name: str) -> bool:
        """Whether a key held down goes on: arrows and their like, and choices; what is done once is done once."""
        assert self.controls is not None
        return name in STEPS or any(control.key == name and control.more for control in self.controls.all)

    def _anywhere(self, name: str) -> bool:
        """Keys that work on every screen."""
        from trainer.window.rooms import KEYS

        if name in KEYS:
            self.house.go(KEYS[name])
        elif name == "f11":
            self.house.pane.full_screen()
        elif name == "f9":
            self.house.change(night=not self.house.settings.night)
        elif name in ("ctrl +", "ctrl =", "ctrl [+]"):
            self.house.scale_step(1)
        elif name in ("ctrl -", "ctrl [-]"):
            self.house.scale_step(-1)
        elif name == "ctrl q":
            self.house.running = False
        else:
            return False
        return True

    def _typing(self, control: Control, name: str, event: pygame.event.Event) -> bool:
        """Keys of a line being typed on; letters come as text of their own."""
        assert control.typed is not None
        assert self.house.screen is not None
        if name == "backspace":
            control.typed("\b")
            self.selected = False
        elif name == "escape":
            self.focus(control.leads)
            if control.emptied is not None:
                control.emptied()
        elif len(name) != 1 and name != "space":
            if name not in ("return", "enter"):
                return False
            if control.leads:
                # What was found is chosen among next, and how it is to be played; where nothing was, it is typed anew.
                self.focus(control.leads if control.forth is not None else control.name)
                return True
            # What was typed is done: the letters are the screen's keys again.
            self.focus("")
            return False
        return True

    def _entered(self, control: Control) -> bool:
        """Enter on what shows the focus, a list's row or a button in its ring, comes before what it does elsewhere."""
        if not control.enters or not (self.seen or control.is_list):
            return False
        control.act()
        return True

    def _wanted(self) -> bool:
        """Press the main button of the screen, where there is one."""
        assert self.controls is not None
        wanted = next((control for control in self.controls.all if control.main), None)
        if wanted is not None:
            wanted.act()
        return wanted is not None

    def by_key(self, name: str) -> bool:
        assert self.controls is not None
        focused = self._focused()
        for control in self.controls.all:
            if control.key == name:
                if control.typed is not None:
                    # The letter that leads to the line is not written on it.
                    self.focus(control.name)
                    self._swallowed = True
                    self.selected = control.emptied is not None
                elif not control.enters and focused is not None and focused.enters and not focused.is_list:
                    # The ring goes from a button to what its letter chooses: enter is the screen's own again.
                    self.focus(control.name)
                control.act()
                return True
        return False

    def arrows(self, control: Control, name: str) -> bool:
        act = {"left": control.less, "right": control.more, "up": control.back, "down": control.forth,
               "page up": control.page_back, "page down": control.page_forth}.get(name)  # fmt: skip
        if name in ("return", "space", "enter"):
            self.seen = True
            control.act()
            return True
        if act is None:
            return False
        self.seen = True
        act()
        return True

    def _move_focus(self, by: int) -> None:
        assert self.house.screen is not None
        assert self.controls is not None
        names = [control.name for control in self.controls.all if control.rect.width and control.ringed]
        if not names:
            return
        self.seen = True
        current = self._focus.get(self.house.screen.name, "")
        at = names.index(current) + by if current in names else (0 if by > 0 else -1)
        self.focus(names[at % len(names)])

    def _click(self, point: tuple[int, int]) -> None:
        assert self.house.screen is not None
        assert self.controls is not None
        self.pointer, self.pointing = point, True
        # Who points needs no ring, and enter is the screen's own.
        self.seen = False
        pitch = self.house.screen.touched(point)
        if pitch is not None:
            self._strike(self.house.typed.touch(pitch, now()))
            return
        for control in reversed(self.controls.all):
            if control.rect.collidepoint(point):
                if control.ringed:
                    self.focus(control.name)
                if control.at is None or not control.at(point):
                    control.act()
                return

    def _wheel(self, lines: int) -> None:
        if self.controls is None or self.pointer is None:
            return
        for control in reversed(self.controls.all):
            if control.rect.collidepoint(self.pointer) and control.forth and control.back:
                for _ in range(min(3, abs(lines))):
                    (control.back if lines > 0 else control.forth)()
                return
