"""What the player puts right on the page itself, at the Stand: chords (`correcting`), fingers (`ownfingers`).

While it is on nothing is played: arrows, letters and the keys of the piano speak of what is framed.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from fractions import Fraction
from typing import TYPE_CHECKING

import pygame

from trainer.listening.press import Event
from trainer.music.piece import Piece
from trainer.session import PRIMA_VISTA
from trainer.window.paint.controls import Controls
from trainer.window.practice import COUNTING, PLAYING, READY
from trainer.window.stand.steering import AGAIN, NEXT

if TYPE_CHECKING:
    from trainer.window.stand.stand import Stand


class Amending(ABC):
    """One thing that can be put right: in and out of it, and what steers it.

    Parameters
    ----------
    stand : Stand
        Its piece, its page and its quiet line are used.
    """

    def __init__(self, stand: Stand) -> None:
        self._stand = stand
        self.on = False
        self._of: Piece | None = None
        # It ended a take, of which is told once it is left.
        self._untold = False

    @property
    def _piece(self) -> Piece:
        assert self._stand.practice is not None
        return self._stand.practice.wish.piece

    @property
    def _at_sight(self) -> bool:
        practice = self._stand.practice
        return practice is None or self._stand.tested or practice.wish.mode == PRIMA_VISTA

    def _start(self) -> bool:
        """Nothing else is on, sounds or counts, and a take under way ends; whether this is another piece than last."""
        stand, piece = self._stand, self._piece
        practice = stand.practice
        assert practice is not None
        self._untold = False
        if practice.phase in (COUNTING, PLAYING):
            if practice.presses:
                stand.stop(tell=False)
                self._untold = True
            else:
                practice.phase = READY
        stand.house.sound.player.stop()
        stand.hearing.stop()
        stand.keys_shown = stand.tuning = False
        stand.house.notice = None
        self.on = True
        fresh, self._of = self._of is not piece, piece
        return fresh

    @property
    def _begins(self) -> Fraction:
        """The onset it begins at: that of the place, after a take that of what was practised."""
        practice = self._stand.practice
        assert practice is not None
        moments = self._piece.moments
        ended = practice.finished or not moments
        return practice.wish.span[0] if ended else moments[min(self._stand.place, len(moments) - 1)].onset

    @abstractmethod
    def toggle(self) -> None:
        """Begin with what stands at the place, or leave it."""

    def leave(self) -> None:
        self.on = False
        self._stand.house.notice = None
        if self._untold:
            self._stand.say_ended()

    def heard(self, event: Event) -> None:
        """The outer keys and the pedal steer; what else is played speaks of what is framed."""
        stand = self._stand
        if stand.house.settings.steering:
            wish, playing = stand.steering.hear(event)
            if wish == AGAIN:
                self.step(-1)
            elif wish == NEXT:
                self.confirm()
            elif wish:
                self.leave()
            if not playing:
                return
        self.played(event)

    @abstractmethod
    def played(self, event: Event) -> None:
        """What the piano says."""

    @abstractmethod
    def step(self, by: int) -> None:
        """To what is framed next, or before."""

    def confirm(self) -> None:
        """On, with all that was said."""
        self.step(1)

    @abstractmethod
    def key(self, event: pygame.event.Event) -> bool:
        """A key no order wants; whether it is used."""

    @property
    @abstractmethod
    def onset(self) -> Fraction:
        """Where what is framed begins."""

    @property
    @abstractmethod
    def caption(self) -> tuple[str, str]:
        """What is framed; and how to say another, or what was just said."""

    @property
    @abstractmethod
    def margin(self) -> str:
        """What it is about, in the margin."""

    @abstractmethod
    def orders(self) -> list[tuple[str, str, Callable[[], object], str]]:
        """What can be done, in the form of the Stand's orders."""

    @abstractmethod
    def order(self, controls: Controls) -> None:
        """The keys the row of orders does not show."""

    def _order_again(self, controls: Controls, letter: str, typed: bool) -> None:
        """What began it leaves it again: its letter, unless letters are typed here or play the piano, and with ctrl."""
        keys = [f"ctrl {letter}"] if typed or self._stand.typing else [letter, f"ctrl {letter}"]
        for key in keys:
            controls.order(f"amending.{key}", key, self.leave)
