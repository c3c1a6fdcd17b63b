"""Fingers of one's own, on the Stand: one note is framed, and the player says which finger takes it.

While it is on every note bears its finger. What is said goes to ``fingers.toml`` (`coaching.ownfingers`), for the
player and the key that is played, and stands at once beside the note; the fingers around it follow a moment later.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from fractions import Fraction
from functools import partial
from typing import TYPE_CHECKING

import pygame
from pygame import Rect

from trainer.coaching.ownfingers import alike, refusal, remarked
from trainer.hands.own import Remark, lie, objection, struck_together
from trainer.listening.clock import now
from trainer.listening.press import Event, Press
from trainer.listening.typing import is_letter
from trainer.music.piece import BOTH, LEFT, RIGHT
from trainer.music.pitch import SpelledPitch
from trainer.window import barwords, fingerframe, studies
from trainer.window.amending import Amending
from trainer.window.canvas import Canvas
from trainer.window.controls import Control, Controls
from trainer.window.fingered import Whose
from trainer.window.music import Score, System
from trainer.window.practice import Wish
from trainer.window.strings import key_name, letter_name, say
from trainer.window.workroom import told

if TYPE_CHECKING:
    from trainer.window.stand import Stand

# The keys over the letters from 1 to 5, whatever they are called without shift.
_ROW = {pygame.KSCAN_1: 1, pygame.KSCAN_2: 2, pygame.KSCAN_3: 3, pygame.KSCAN_4: 4, pygame.KSCAN_5: 5}
# What goes with another key: by itself it asks for nothing, and with it a letter is no key of the piano.
_ALONE = frozenset({
    pygame.K_LSHIFT, pygame.K_RSHIFT, pygame.K_LCTRL, pygame.K_RCTRL, pygame.K_LALT, pygame.K_RALT, pygame.K_LMETA,
    pygame.K_RMETA, pygame.K_MODE, pygame.K_CAPSLOCK, pygame.K_NUMLOCK, pygame.K_SCROLLOCK,
})  # fmt: skip
_WITH = pygame.KMOD_CTRL | pygame.KMOD_ALT | pygame.KMOD_META
# Staff spaces from a head within which a click means it.
_NEAR = 2.2


class OwnFingers(Amending):
    """Which note is framed, and what was said so far."""

    def __init__(self, stand: Stand) -> None:
        super().__init__(stand)
        self.note = 0
        # Said, and not on the page yet: finger by note, 0 where one was taken away.
        self._pending: dict[int, int] = {}
        self._undo: list[tuple[int, int]] = []
        # What each hand strikes, worked out once.
        self._struck: dict[str, list[list[int]]] = {}
        # The systems in sight with their corners, and the room they stand in.
        self._seen: dict[int, tuple[System, tuple[int, int]]] = {}
        self._room = Rect(0, 0, 0, 0)
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

    def leave(self) -> None:
        super().leave()
        self._seen = {}

    # Moving the frame

    def _moments(self, hand: str) -> list[list[int]]:
        """The notes of a hand that is asked for, in order: those struck together, from low to high."""
        if hand in self._struck or self._wish.hands not in (BOTH, hand):
            return self._struck.get(hand, [])
        notes = self._piece.notes
        found = struck_together(self._piece, (i for i, note in enumerate(notes) if note.hand == hand))
        return self._struck.setdefault(hand, [sorted(one, key=lambda i: notes[i].midi) for one in found])

    @property
    def _wish(self) -> Wish:
        assert self._stand.practice is not None
        return self._stand.practice.wish

    @property
    def _hand(self) -> str:
        return self._piece.notes[self.note].hand

    @property
    def onset(self) -> Fraction:
        return self._piece.notes[self.note].onset

    def _go(self, note: int) -> None:
        self.note = note
        self._stand.house.notice = None

    def _outer(self, moment: list[int]) -> int:
        """What is framed of a chord first: its outer note, which a page names when it names one."""
        return moment[-1 if self._piece.notes[moment[0]].hand == RIGHT else 0]

    def _to(self, hand: str, onset: Fraction) -> None:
        """To what a hand strikes at an onset, or next after it."""
        moments = self._moments(hand)
        at = next((at for at, one in enumerate(moments) if self._piece.notes[one[0]].onset >= onset), len(moments) - 1)
        self._go(self._outer(moments[at]))

    def step(self, by: int) -> None:
        """To the note the hand strikes next, or before; along a chord's edge."""
        moments = self._moments(self._hand)
        at = next(at for at, one in enumerate(moments) if self.note in one)
        to = moments[max(0, min(len(moments) - 1, at + by))]
        if to is not moments[at]:
            self._go(self._outer(to))

    def bar(self, by: int) -> None:
        """To the hand's first note of the next bar that has one, or of the one before."""
        piece, moments = self._piece, self._moments(self._hand)
        bars = [piece.bar_index(piece.notes[one[0]].onset) for one in moments]
        here = piece.bar_index(self.onset)
        to = [bar for bar in bars if (bar > here if by > 0 else bar < here)]
        if to:
            self._go(self._outer(moments[bars.index(min(to) if by > 0 else max(to))]))

    def up(self, by: int) -> None:
        """Through the notes of both hands struck together, from low to high; past them to the other hand."""
        together = [moment for hand in (LEFT, RIGHT) for moment in self._moments(hand) if self._is_here(moment)]
        order = sorted((i for moment in together for i in moment), key=lambda i: self._piece.notes[i].midi)
        at = order.index(self.note) + by
        if 0 <= at < len(order):
            self._go(order[at])
        elif self._hand == (LEFT if by > 0 else RIGHT):
            self.other()

    def _is_here(self, moment: list[int]) -> bool:
        first, here = self._piece.notes[moment[0]], self._piece.notes[self.note]
        return self.note in moment or (first.onset == here.onset and not first.grace and not here.grace)

    def other(self) -> None:
        """To the other hand, at the same place."""
        hand = LEFT if self._hand == RIGHT else RIGHT
        moments = self._moments(hand)
        if moments:
            onsets = [self._piece.notes[one[0]].onset for one in moments]
            self._go(self._outer(moments[max(0, bisect_right(onsets, self.onset) - 1)]))

    def played(self, event: Event) -> None:
        """The next note that is played with this key, in the hand that is framed first; else the first one."""
        if not isinstance(event, Press):
            return
        wish = self._wish
        found = [i for i, one in enumerate(wish.expected.notes) if one.midi == event.pitch and i != self.note]
        found = [i for i in found if wish.hands in (BOTH, self._piece.notes[i].hand)]
        if found:
            notes = self._piece.notes
            self._go(
                min(found, key=lambda i: (notes[i].onset < self.onset, notes[i].onset, notes[i].hand != self._hand))
            )

    def clicked(self, point: tuple[int, int]) -> bool:
        """A click on a head frames its note."""
        best, least = None, 0.0
        for system, corner in self._seen.values():
            for note, (x, y) in system.heads.items():
                away = ((point[0] - corner[0] - x) ** 2 + (point[1] - corner[1] - y) ** 2) ** 0.5 / system.space
                if away < _NEAR and (best is None or away < least) and self._moments(self._piece.notes[note].hand):
                    best, least = note, away
        if best is not None:
            self._go(best)
        return best is not None

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

        def written(known: Remark | None) -> None:
            words = {"bar": self._bar(note), "note": self._name(piece.notes[note].pitch)}
            if known is not None:
                stand.house.say(remarked(piece, note, finger, known, self._name))
            elif finger:
                key = key_name(plan.target, stand.house.settings.letters)
                stand.house.say(say("stand.finger.kept", finger=finger, key=key, **words))
            else:
                stand.house.say(say("stand.finger.gone", **words))

        def failed(trouble: Exception) -> None:
            for one in notes:
                self._pending.pop(one, None)
            if not undoing and before in self._undo:
                self._undo.remove(before)
            stand.house.say(told(trouble, "stand.finger-not-kept"))

        given = piece, plan, stand.house.settings.hand_size, self.whose, note, finger
        stand.house.workroom.ask(studies.finger_kept, *given, then=written, failed=failed)
        # Asked for next, it comes with what is written before.
        stand.page.refinger()

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
            unknown = "stand.engraving" if not stand.page.fingered.fingers else "stand.finger.left"
            return say("stand.finger.unknown", why=say(unknown), **words), quiet
        name = "stand.finger.own" if self.note in self.said else "stand.finger.here"
        return say(name, finger=finger, **words), quiet
