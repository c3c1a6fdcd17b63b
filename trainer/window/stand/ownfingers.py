"""Fingers of one's own, on the Stand: one note is framed, and the player says which finger takes it.

While it is on every note bears its finger. What is said goes to ``fingers.toml`` (`coaching.own.ownfingers`), for the
player and the key that is played, and stands at once beside the note; the fingers around it follow a moment later.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

import pygame
from pygame import Rect

from trainer.coaching.own.ownfingers import alike, refusal, remarked
from trainer.hands.own import Remark, lie, objection
from trainer.listening.clock import now
from trainer.listening.typing import is_letter
from trainer.music.piece import LEFT, RIGHT
from trainer.music.pitch import SpelledPitch
from trainer.window import barwords
from trainer.window.page.music import Score
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.controls import Control, Controls
from trainer.window.stand import fingerframe
from trainer.window.stand.framing import Framing
from trainer.window.strings import key_name, letter_name, say
from trainer.window.workroom import fingered, studies
from trainer.window.workroom.fingered import Fingered, Whose
from trainer.window.workroom.workroom import told

if TYPE_CHECKING:
    from trainer.window.stand.stand import Stand

# The keys over the letters from 1 to 5, whatever they are called without shift.
_ROW = {pygame.KSCAN_1: 1, pygame.KSCAN_2: 2, pygame.KSCAN_3: 3, pygame.KSCAN_4: 4, pygame.KSCAN_5: 5}
# What goes with another key: by itself it asks for nothing, and with it a letter is no key of the piano.
_ALONE = frozenset({
    pygame.K_LSHIFT, pygame.K_RSHIFT, pygame.K_LCTRL, pygame.K_RCTRL, pygame.K_LALT, pygame.K_RALT, pygame.K_LMETA,
    pygame.K_RMETA, pygame.K_MODE, pygame.K_CAPSLOCK, pygame.K_NUMLOCK, pygame.K_SCROLLOCK,
})  # fmt: skip
_WITH = pygame.KMOD_CTRL | pygame.KMOD_ALT | pygame.KMOD_META


class OwnFingers(Framing):
    """Which note is framed, and what was said so far."""

    def __init__(self, stand: Stand) -> None:
        super().__init__(stand)
        # Said, and not on the page yet: finger by note, 0 where one was taken away.
        self._pending: dict[int, int] = {}
        self._undo: list[tuple[int, int]] = []
        # They are wanted as soon as the page is there.
        self.awaited = False

    # In and out

    def toggle(self) -> None:
        if self.on:
            self.leave()
            return
        house = self._stand.house
        if self._at_sight:
            house.say(say("stand.finger.sight"))
            return
        self.awaited = self._stand.page.score is None and not self.awaited
        if self._stand.page.score is None:
            house.notice = None
            return
        self._struck = {}
        begins, hands = self._begins, [hand for hand in (RIGHT, LEFT) if self._moments(hand)]
        if not hands:
            house.say(say("stand.finger.none"))
            return
        if self._start():
            self._undo = []
        self._pending = {}
        self._to(hands[0], begins)
        self._look_up()

    def _look_up(self) -> None:
        """The fingers are known sooner than a page with all of them is laid out."""
        stand, wish, settings = self._stand, self._wish, self._stand.house.settings
        if stand.page.fingered.fingers:
            return

        def found(these: Fingered) -> None:
            now_ = stand.practice.wish if stand.practice is not None else None
            if (
                now_ is not None
                and now_.piece is wish.piece
                and now_.plan == wish.plan
                and not stand.page.fingered.fingers
            ):
                stand.page.fingered = these

        given = wish.piece, wish.plan.interval, settings.hand_size, self.whose
        stand.house.workroom.ask(fingered.known, *given, then=found, failed=lambda _: None)

    # Saying which

    def key(self, event: pygame.event.Event) -> bool:
        """A digit is a finger; of the letters those that play frame a note, as the piano's keys do."""
        stand, typed = self._stand, event.unicode
        if typed in ("1", "2", "3", "4", "5"):
            self.say(int(typed))
        elif typed == "0":
            self.take_away()
        elif not typed.isdigit() and event.scancode in _ROW:
            self.say(_ROW[event.scancode])
        elif stand.typing and not event.mod & _WITH and is_letter(event.scancode):
            press = stand.house.typed.down(event.scancode, now())
            if press is not None:
                stand.house.take_over(press)
                stand.house.hear(press, press.at, typed=True)
        elif event.key not in _ALONE:
            stand.house.say(say("stand.finger.keys"))
        return True

    @property
    def said(self) -> dict[int, int]:
        """The player's own fingers by note, with those that are on their way to the page."""
        both = {**self._stand.page.fingered.said, **self._pending}
        return {note: finger for note, finger in both.items() if finger}

    def finger_of(self, note: int) -> int:
        """The finger of a note as far as it is known, 0 for none."""
        return self.said.get(note, 0) or self._stand.page.fingered.fingers.get(note, 0)

    def say(self, finger: int) -> None:
        """This finger takes the framed note from now on, in the key that is played."""
        against = objection(self._wish.expected, self.note, finger, self.said)
        if against is not None:
            self._stand.house.say(refusal(self._piece, finger, against, self._name))
        else:
            self._write(self.note, finger)

    def take_away(self) -> None:
        """The note has again the finger that is found for it."""
        if self.note in self.said:
            self._write(self.note, 0)
        else:
            self._stand.house.say(say("stand.finger.untouched"))

    def undo(self) -> None:
        """What was last said or taken away is as before."""
        if not self._undo:
            self._stand.house.say(say("stand.chord.undo.none"))
            return
        note, finger = self._undo.pop()
        self._go(note)
        self._write(note, finger, undoing=True)

    def _write(self, note: int, finger: int, undoing: bool = False) -> None:
        """Ask for it to be kept; it is drawn and can be undone at once, though it is kept a moment later."""
        stand, piece = self._stand, self._piece
        before = note, self.said.get(note, 0)
        if not undoing:
            self._undo.append(before)
        notes, plan = alike(piece, note), self._wish.plan
        self._pending |= dict.fromkeys(notes, finger)

        given = piece, plan, stand.house.settings.hand_size, self.whose, note

        def seen(known: Remark | None) -> None:
            # Who said another finger of it meanwhile is told of that one.
            if known is not None and self.said.get(note) == finger:
                stand.house.say(remarked(piece, note, finger, known, self._name))

        def kept(_: None) -> None:
            words = {"bar": self._bar(note), "note": self._name(piece.notes[note].pitch)}
            key = key_name(plan.target, stand.house.settings.letters)
            stand.house.say(
                say("stand.finger.kept" if finger else "stand.finger.gone", finger=finger, key=key, **words)
            )
            if finger:
                stand.house.workroom.ask(studies.finger_seen, *given, then=seen, failed=lambda _: None)
            stand.page.refinger()

        def failed(trouble: Exception) -> None:
            for one in notes:
                self._pending.pop(one, None)
            if not undoing and before in self._undo:
                self._undo.remove(before)
            stand.house.say(told(trouble, "stand.finger-not-kept"))

        stand.house.workroom.keep(studies.finger_kept, piece, plan, self.whose, note, finger, then=kept, failed=failed)

    def come(self) -> None:
        """A page has come: what it bears is no longer on its way; who waited for it with no key struck, goes on."""
        practice = self._stand.practice
        here = self._stand.house.screen is self._stand
        if self.awaited and here and practice is not None and not practice.presses:
            self.toggle()
        self.awaited = False
        said = self._stand.page.fingered.said
        self._pending = {note: finger for note, finger in self._pending.items() if said.get(note, 0) != finger}

    @property
    def whose(self) -> Whose:
        """Whose fingers these are, and where they are kept."""
        house = self._stand.house
        return Whose(str(house.journal_file.parent), house.settings.player)

    # What is shown

    def _bar(self, note: int) -> str:
        return barwords.bar_of(self._piece, self._piece.bar_index(self._piece.notes[note].onset))

    def _name(self, pitch: SpelledPitch) -> str:
        return letter_name(pitch, self._stand.house.settings.letters)

    @property
    def keys(self) -> dict[int, int]:
        """The keys under the framed hand as its notes are struck, and the fingers on them."""
        notes = self._wish.expected.notes
        moment = next(one for one in self._moments(self._hand) if self.note in one)
        return {notes[i].midi: finger for i in moment if (finger := self.finger_of(i))}

    @property
    def pressed(self) -> int:
        """The key of the framed note."""
        return self._wish.expected.notes[self.note].midi

    def orders(self) -> list[tuple[str, str, Callable[[], object], str]]:
        both = bool(self._moments(LEFT) and self._moments(RIGHT))
        return [
            ("finger.step", "← →", lambda: self.step(1), "right"),
            ("finger.up" if both else "finger.up.one", "↑ ↓", lambda: self.up(1), "up"),
            ("finger.say", "1 – 5", lambda: None, ""),
            ("finger.leave", "esc", self.leave, "escape"),
            ("finger.away", "del", self.take_away, "delete"),
            ("finger.undo", "ctrl z", self.undo, "ctrl z"),
            ("finger.bar", "ctrl ← →", lambda: self.bar(1), "ctrl right"),
            *([("finger.other", "tab", self.other, "tab")] if both else []),
        ]

    def order(self, controls: Controls) -> None:
        controls.order("finger.left", "left", lambda: self.step(-1))
        controls.order("finger.down", "down", lambda: self.up(-1))
        controls.order("finger.bar.left", "ctrl left", lambda: self.bar(-1))
        controls.order("finger.erase", "backspace", self.take_away)
        for key in ("return", "enter"):
            controls.order(f"finger.{key}", key, self.leave)
        # Of one hand alone it is not shown, and leads nowhere.
        controls.order("finger.tab", "tab", self.other)
        self._order_again(controls, "t", typed=False)
        if self._stand.typing:
            for key, octaves in (("f6", -1), ("f7", 1)):
                controls.order(f"finger.{key}", key, partial(self._stand.house.typed.shift, octaves))
        if self._seen:
            controls.add(Control("finger.page", self._room, lambda: None, at=self.clicked))

    def begin_frame(self, room: Rect) -> None:
        """The page is about to be laid."""
        self._seen, self._room = {}, room

    def lay(self, canvas: Canvas, score: Score, at: int, corner: tuple[int, int]) -> None:
        """The frame round the note with its finger, if it stands in this system, and what is not on the page yet."""
        system = score.systems[at]
        if score.piece is not self._piece or system.ink is None:
            return
        self._seen[at] = system, corner
        unprinted = self.said.keys() - system.fingers.keys()
        for note in {*self._pending, *unprinted, self.note} & system.heads.keys():
            hand, finger = self._piece.notes[note].hand, self.finger_of(note)
            chord = next(one for one in self._moments(hand) if note in one)
            place = fingerframe.place_of(system, note, chord, hand == LEFT)
            if note == self.note:
                fingerframe.lay_framed(canvas, system, note, place, corner, finger)
            else:
                fingerframe.lay_said(canvas, f"finger.said.{note}", place, corner, finger)

    @property
    def margin(self) -> str:
        target = self._wish.plan.target
        here = "stand.finger.margin.written" if lie(target) == lie(self._piece.key) else "stand.finger.margin.target"
        key = key_name(target, self._stand.house.settings.letters)
        return f"{say('stand.finger.margin')}\n{say(here, key=key)}"

    @property
    def caption(self) -> tuple[str, str]:
        stand = self._stand
        quiet = stand.house.notice.words if stand.house.notice else say("stand.finger.how")
        wish, finger = self._wish, self.finger_of(self.note)
        written, sounding = (self._name(of.notes[self.note].pitch) for of in (self._piece, wish.expected))
        words = {
            "bar": self._bar(self.note),
            "hand": say(f"stand.hand.{self._hand}"),
            "note": written if written == sounding else say("stand.finger.note", written=written, sounding=sounding),
        }
        if not finger:
            unknown = "stand.finger.looking" if not stand.page.fingered.fingers else "stand.finger.left"
            return say("stand.finger.unknown", why=say(unknown), **words), quiet
        name = "stand.finger.own" if self.note in self.said else "stand.finger.here"
        return say(name, finger=finger, **words), quiet
