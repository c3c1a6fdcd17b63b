"""The Stand: the piece in its written key, the key to play it in, and the pencil that follows."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pygame
from pygame import Rect

from trainer.listening.clock import now
from trainer.listening.press import Event, Press, Release
from trainer.session import A_TEMPO, PRIMA_VISTA, SENZA_MISURA
from trainer.window.paint import keyboard, layout
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.controls import Controls
from trainer.window.practice import COUNTING, ENDED, LOOKING, PLAYING, READY, Practice
from trainer.window.screen import NEVER, Screen
from trainer.window.stand import standsize, standview
from trainer.window.stand.amending import Amending
from trainer.window.stand.correcting import Correcting
from trainer.window.stand.hearing import Hearing
from trainer.window.stand.ownfingers import OwnFingers
from trainer.window.stand.playedon import PlayedOn, why_stray
from trainer.window.stand.standmargin import slip_of
from trainer.window.stand.standorders import Orders
from trainer.window.stand.standpage import Page
from trainer.window.stand.standtime import Pace
from trainer.window.stand.steering import Steering
from trainer.window.strings import key_name, say
from trainer.window.wish import Wish

if TYPE_CHECKING:
    from trainer.window.house.house import House, Notice


class Stand(Screen):
    """See `screens`: head, music, margin, keyboard.

    Attributes
    ----------
    practice : Practice or None
        What is practised; None before the first piece.
    slips : list of (str, str)
        Where and what, of every press that was not right.
    """

    name = "stand"
    _board = Rect(0, 0, 0, 0)

    def __init__(self, house: House) -> None:
        super().__init__(house)
        self.practice: Practice | None = None
        # What the player chose: whether the letters play; None as long as they have not.
        self._typing: bool | None = None
        self.page = Page(self)
        self.pace = Pace(self)
        self.orders = Orders(self)
        # The line that told of the last take, while that lies on the stand.
        self._ended: Notice | None = None
        self._still()

    def _still(self) -> None:
        """Nothing is down, shown over the page or heard."""
        self.glimpsing = self.tuning = self.keys_shown = False
        self.down: set[int] = set()
        self.slips: list[tuple[str, str]] = []
        self.hearing = Hearing(self.house)
        self.correcting = Correcting(self)
        self.fingering = OwnFingers(self)
        self.steering = Steering(*self.house.outer_keys)

    def entered(self) -> None:
        self.page.entered()
        self._still()
        self.house.typed.let_go(now())
        if self.practice is not None:
            if self.practice.phase == ENDED:
                self.practice.again()
                self._clean()
            self.practice.played_on(self.house.outer_keys)

    def opened(self) -> None:
        # From now on takes are kept; what was put on the stand before has no record yet.
        if self.practice is not None and not self.practice.presses:
            self.begin(self.practice.wish)

    def left(self) -> None:
        self.house.rounds.hush()
        self.house.rounds.end_demonstration()
        self.house.rounds.leave_sighting()
        self.house.sound.player.stop()
        self.hearing.stop()
        self._put_down()

    # What is practised

    def play(self, wish: Wish) -> None:
        """Bring the stand to the front with a piece on it."""
        self.house.rounds.leave_row()
        self.house.rounds.leave_sighting()
        self.house.show(self)
        self.begin(wish)
        self._set_ear()

    def resume(self, practice: Practice) -> None:
        """Show a take as it is, played here or elsewhere."""
        self.house.show(self)
        self.practice = practice
        self._clean()
        self._tell_slips()

    def begin(self, wish: Wish) -> None:
        """Put a piece on the stand."""
        fresh = self.practice is None or self.practice.wish.piece is not wish.piece
        self._put_down()
        self.house.sound.player.stop()
        self.hearing.stop()
        self.practice = Practice(wish, self.house.settings.minor, self.house.rounds.record_of, self.house.outer_keys)
        self.page.glimpse = None
        if fresh:
            self.page.fresh()
        self._clean()
        if wish.mode == PRIMA_VISTA:
            self.pace.look()
        if wish.plan.note:
            self.house.say(wish.plan.note)

    def change(self, wish: Wish) -> None:
        """The same piece, something about it different: a new take."""
        if self.tested:
            self.house.say(say("sight.fixed"))
            return
        self.house.rounds.end_demonstration()
        self.begin(wish)

    def again(self, ear: bool = True) -> None:
        """From the start; the ear is set first, where that is wished."""
        self.house.rounds.take_over()
        if self.practice is None:
            return
        if self.tested and (self.practice.presses or self.practice.phase == ENDED):
            self.house.say(say("sight.fixed"))
            return
        if self.practice.presses or self.practice.phase in (ENDED, COUNTING):
            self._put_down()
            self.practice.again()
            self._clean()
        if self.practice.wish.mode in (A_TEMPO, PRIMA_VISTA):
            self.pace.count_in(ear)
        elif ear:
            self._set_ear()

    @property
    def tested(self) -> bool:
        """Whether what is on the stand belongs to a test at sight."""
        return self.house.rounds.sighting is not None

    @property
    def place(self) -> int:
        """The moment that is due."""
        return self.pace.place

    def _set_ear(self) -> None:
        """What sets the ear before a take without a count-in, where it is wished."""
        wish = self.practice.wish if self.practice is not None else None
        if wish is not None and wish.mode == SENZA_MISURA and not self.house.rounds.demonstrating:
            self.hearing.before_take(wish)

    def stop(self, tell: bool = True) -> None:
        """End the take, and `tell` what there is to say of it; a second time, on to the marked copy."""
        if self.practice is None:
            return
        self.house.rounds.halt_demonstration()
        self.house.sound.player.stop()
        self.hearing.stop()
        if self.practice.phase == ENDED or not self.practice.presses:
            if self.practice.phase == COUNTING:
                self.practice.phase = READY  # nobody counts any more
            if self.practice.settled is not None or self.house.rounds.rounded(self.practice):
                self.house.notice = None
                self.house.go("copy")
            return
        if self.end() and tell:
            self.say_ended()

    def end(self) -> bool:
        """The take is over: settled, kept and marked; after a stray key all is as before it, and there was none."""
        assert self.practice is not None
        if self.practice.stray:
            self._as_before()
            return False
        self.practice.finish()
        self._tell_slips()
        self.house.rounds.finished(self.practice)
        self.page.mark_afresh()
        return True

    def _as_before(self) -> None:
        """What was played is no take: the stand is as it was, with the take on it that was played on from."""
        assert self.practice is not None
        before = self.practice.before if isinstance(self.practice, PlayedOn) else None
        self._put_down()
        if before is None:
            self.practice.again()
            self._clean()
            return
        self.practice = before
        self._clean()
        self._tell_slips()
        self.house.say(say("stand.back"))
        self._ended = self.house.notice

    def say_ended(self) -> None:
        """What there is to say after a take."""
        if self.practice is not None and self.practice.phase == ENDED:
            self.house.say(*self.house.rounds.ended_line())
            self._ended = self.house.notice

    def _put_down(self) -> None:
        """The take in hand, if there is one, is over; what is too short to be one is not kept, and that is said."""
        if self.practice is None or self.practice.phase == ENDED:
            return
        if self.practice.stray:
            self.house.say(say(why_stray(self.practice)))
        self.practice.finish()

    def next(self) -> None:
        """On to the next step of a warm-up."""
        self._put_down()
        self.house.rounds.next_of_row()

    def _clean(self) -> None:
        self.slips = []
        notice, self._ended = self._ended, None
        if notice is not None and self.house.notice is notice:
            # The last take and its marked copy are no longer what lies here.
            lasting = self.house.rounds.lasting
            self.house.notice = replace(notice, words=lasting) if lasting else None
        self.other_hand()
        if self.practice is not None:
            self.steering.expected = self.practice.wish.expected
            if self.glimpsing and self.practice.phase != ENDED:
                self.glimpse(True)
        self.page.mark_afresh()

    def other_hand(self) -> None:
        """Let the hand that is not practised wait for the player, where that is wished."""
        self.hearing.other_hand(self.practice.wish if self.practice is not None else None)

    # What is heard

    def heard(self, event: Event) -> None:
        if isinstance(event, Press):
            self.down.add(event.pitch)
        elif isinstance(event, Release):
            self.down.discard(event.pitch)
        if self.amending is not None:
            self.amending.heard(event)
            return
        if self.house.settings.steering:
            wish, playing = self.steering.hear(event)
            if wish:
                self.orders.steer(wish)
            if not playing:
                return
        # Nothing is played while the glimpse is shown; what is let go then is let go.
        if self.practice is not None and not (self.glimpsing and isinstance(event, Press)):
            self._play_on(self.practice, event)

    def _play_on(self, practice: Practice, event: Event) -> None:
        """What was heard belongs to the take, or begins one."""
        if practice.phase not in (COUNTING, PLAYING) and self.hearing.pressed(event):
            return
        if practice.phase == LOOKING and isinstance(event, Press):
            practice.phase = PLAYING if practice.wish.mode == SENZA_MISURA else practice.phase
            return
        if practice.phase == ENDED and isinstance(event, Press):
            if self.tested:
                self.again()
                return
            practice = self._played_on(practice)
        if self.pace.leads(event):
            return
        if isinstance(event, Press) and practice.goes_round(event):
            self.pace.over()
        mark = practice.hear(event)
        if mark is None:
            return
        self.page.mark(mark, practice.presses[-1])
        if self.house.rounds.tell_of_all(practice):
            self._tell_slips()
            self.page.mark_afresh()
        self.pace.hurried = self.house.loop.running  # without the loop nobody would come back to the margin
        if slip := slip_of(practice, len(practice.marks) - 1, self.house.settings.letters):
            self.slips.append(slip)
        elif mark.note is not None:
            self.hearing.reached(practice.wish.piece.notes[mark.note].onset)

    def _played_on(self, ended: Practice) -> Practice:
        """Playing on after the end begins the next take; what ended is not lost by it."""
        self.house.notice = None
        self.practice = PlayedOn(ended)
        self._clean()
        self.again(ear=False)
        return self.practice

    def _tell_slips(self) -> None:
        """The slips of the take as it is: at its end, known as a whole, some are told otherwise."""
        assert self.practice is not None
        these, letters = range(len(self.practice.marks))[self.practice.within], self.house.settings.letters
        self.slips = [slip for at in these if (slip := slip_of(self.practice, at, letters))]

    # Time and laying

    def tick(self, now: float) -> float:
        return self.pace.tick(now) if self.practice is not None else NEVER

    @property
    def caption(self) -> str:
        if self.practice is None:
            return super().caption
        wish = self.practice.wish
        name = f"{wish.piece.title}, {key_name(wish.plan.target, self.house.settings.letters)}"
        return name if self.page.score is not None or self.page.trouble else f"{name}: {say('stand.engraving')}"

    def lay(self, canvas: Canvas, controls: Controls) -> None:
        if self.practice is None:
            self.house.go("desk")
            return
        places = layout.stand(canvas, self.house.settings.keys, self.house.settings.margin)
        if self.page.readings is not None and not self.tuning:
            places = standsize.beside_clefs(places, self.practice.wish.plan, self.page.look(places, canvas))
        self._board = places.keys
        self.page.want(places, canvas)
        self.page.in_tone(canvas)
        standview.lay(self, canvas, controls, places)

    # Keys

    @property
    def typing(self) -> bool:
        """Whether the letters of the computer keyboard play: while no piano is connected, or as the player chose."""
        return self.house.no_piano if self._typing is None else self._typing

    @typing.setter
    def typing(self, plays: bool) -> None:
        self._typing = plays

    @property
    def plays(self) -> bool:
        return self.typing and self.amending is None

    @property
    def amending(self) -> Amending | None:
        """What the player puts right on the page now."""
        return next((one for one in (self.correcting, self.fingering) if one.on), None)

    def key_down(self, name: str, event: pygame.event.Event) -> bool:
        if self.amending is not None:
            return self.amending.key(event)
        if name in ("g", "ctrl g"):
            self.glimpse(True)
            return True
        # Who has learnt an order with ctrl before its letter finds it also while the letters do not play.
        return not self.plays and name.startswith("ctrl ") and self.house.console.by_key(name.removeprefix("ctrl "))

    def key_up(self, name: str) -> None:
        if name in ("g", "return", "enter") and self.glimpsing:
            self.glimpse(False)

    def pointer_up(self) -> None:
        self.key_up("g")

    def touched(self, point: tuple[int, int]) -> int | None:
        heard = self.plays or self.fingering.on
        return keyboard.key_at(self._board, self.house.settings.keys, point) if heard else None

    def glimpse(self, shown: bool) -> None:
        """Show the page in the key to play, or no more; the take will say that it was looked at."""
        practice = self.practice
        self.glimpsing = shown and practice is not None and practice.wish.mode != PRIMA_VISTA
        if not self.glimpsing or practice is None:
            return
        practice.glimpsed = True
        take = practice.record
        if take is not None and hasattr(take, "glimpse"):
            take.glimpse()
        self.page.show_glimpse()

    def key_labels(self) -> str:
        """What goes before a letter that gives orders: ctrl while letters play."""
        return "ctrl " if self.plays else ""
