"""What can be heard at the Stand beside a take: the model, what sets the ear, singing back with the keys, and the other
hand where it waits for the player.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.listening.press import Event, Press
from trainer.music.piece import BOTH
from trainer.music.pitch import MusicError
from trainer.session import SENZA_MISURA
from trainer.sounding.ear import CADENCE, SungBack, set_ear
from trainer.sounding.model import model
from trainer.sounding.otherhand import Waiting
from trainer.sounding.voice import Schedule
from trainer.window.settings import Settings
from trainer.window.strings import say

if TYPE_CHECKING:
    from trainer.window.house.house import House
    from trainer.window.wish import Wish

MODEL, EAR = "model", "ear"
# Silence between what sets the ear and the count-in.
_BREATH_S = 0.7
# What the key for setting the ear sounds where nothing is wished before a take.
_USUAL_EAR = CADENCE
_NOTHING = "none"


def model_of(wish: Wish, settings: Settings) -> Schedule:
    """The piece as it should sound, by the player's choices: key, hands, speed; the bars to be played.

    Raises
    ------
    MusicError
        When the hand chosen has nothing to play there.
    """
    piece = wish.piece if settings.model_key == "written" else wish.expected
    hand = wish.hands if settings.model_hand == "practised" else settings.model_hand
    return model(piece, hand, wish.bars, wish.quarters, settings.model_speed / 100)


class Hearing:
    """Plays what is to be heard before a take, and stops at the first press.

    Parameters
    ----------
    house : House
        Its player sounds, its settings choose.
    """

    def __init__(self, house: House) -> None:
        self.house = house
        self.what = ""
        # Seconds heard before the count-in begins.
        self.lead = 0.0
        self._sung: SungBack | None = None
        self._said = ""
        # The other hand in senza misura.
        self._waiting: Waiting | None = None

    @property
    def on(self) -> bool:
        """Whether something of it sounds now."""
        return bool(self.what) and self.house.sound.player.playing

    @property
    def place(self) -> Fraction | None:
        """The onset of the piece the model has come to."""
        return self.house.sound.player.place if self.what == MODEL and self.on else None

    @property
    def prompt(self) -> str:
        """What to sing and play now; empty when nothing is asked."""
        if self._sung is None:
            return ""
        return " ".join(part for part in (self._said, self._sung.prompt) if part)

    def stop(self) -> None:
        """Be silent and ask nothing."""
        if self.on:
            self.house.sound.player.stop()
        if self._waiting is not None:
            self._waiting.stop()
        self.what = ""
        self.lead = 0.0
        self._sung = None

    def other_hand(self, wish: Wish | None) -> None:
        """Let the hand that is not practised wait for the player, where that is wished; what sounds of it stops."""
        if self._waiting is not None:
            self._waiting.stop()
            self._waiting = None
        if wish is not None and self.house.settings.other_hand and wish.hands != BOTH and wish.mode == SENZA_MISURA:
            self._waiting = Waiting(wish.expected, wish.hands, self.house.sound.voice, wish.quarters, wish.loop)

    def reached(self, onset: Fraction) -> None:
        """The player has come so far."""
        if self._waiting is not None:
            self._waiting.sounds_on(self.house.sound.voice)
            self._waiting.reached(onset)

    def model(self, wish: Wish) -> None:
        """Let the piece be heard; again to stop."""
        self._toggle(MODEL, lambda: model_of(wish, self.house.settings))

    def ear(self, wish: Wish) -> None:
        """Let what sets the ear be heard; again to stop."""
        chosen = self.house.settings.ear
        self._toggle(EAR, lambda: set_ear(_USUAL_EAR if chosen == _NOTHING else chosen, wish.plan.target))

    def _toggle(self, what: str, schedule: Callable[[], Schedule]) -> None:
        was = self.what if self.on else ""
        self.stop()
        if was == what:
            return
        try:
            self.house.sound.player.play(schedule(), ended=self.house.wake)
        except MusicError as nothing:
            self.house.say(str(nothing))
            return
        self.what = what

    def before_take(self, wish: Wish) -> None:
        """Set the ear where that is wished before every take."""
        self.stop()
        if self.house.settings.ear != _NOTHING:
            self.ear(wish)

    def before_count(self, wish: Wish, counted: Schedule, ear: bool = True) -> Schedule:
        """A count-in and what follows it, with what sets the ear before it; `lead` is then how long that takes."""
        self.stop()
        if not ear or self.house.settings.ear == _NOTHING:
            return counted
        first = set_ear(self.house.settings.ear, wish.plan.target, seconds=5.6)
        self.lead = first.length + _BREATH_S
        # The pattern's own places are none of the piece.
        moved = counted.later(self.lead)
        return Schedule(tuple(sorted((*first.notes, *moved.notes))), moved.places, moved.length)

    def sing(self, wish: Wish, minor: str) -> None:
        """Ask for tonic, fifth and the first notes, sung and then played; again to leave it."""
        asked = self._sung is not None
        self.stop()
        self._said = ""
        if not asked:
            played, start = wish.expected, wish.span[0]
            asked_for = (played.notes[at] for at in wish.part)
            self._sung = SungBack(played.with_notes(note for note in asked_for if note.onset >= start), minor)

    def pressed(self, event: Event) -> bool:
        """Hear the player: what sounds stops; True when the press answered what was asked, and is no part of a take."""
        if not isinstance(event, Press):
            return False
        if self.on:
            self.house.sound.player.stop()
        self.what = ""
        if self._sung is None:
            return False
        answer = self._sung.hear(event)
        self._said = "" if answer is None or answer.right else say("sing.wrong", asked=answer.asked)
        if answer is None or answer.done:
            self._sung = None
            self.house.say(say("sing.done"))
        return True
