"""What can be ordered at the Stand, each with its key: another key or tempo, help, a loop, what is heard and shown."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from trainer.music.piece import HANDS
from trainer.music.transpose import by_semitones
from trainer.scores.notation.verses import verses_in
from trainer.session import A_TEMPO, MODES, PRIMA_VISTA, SENZA_MISURA
from trainer.window import barwords
from trainer.window.practice import COUNTING, ENDED, LOOKING, PLAYING, READY, Practice
from trainer.window.stand.placing import Placing
from trainer.window.stand.steering import AGAIN, NEXT, STOP
from trainer.window.strings import say

if TYPE_CHECKING:
    from trainer.window.stand.stand import Stand

# Bars of a loop, as its key steps through them.
LOOPS = (1, 2, 4, 8)
# What a test at sight keeps as it is or does not show: these orders are of no use there, and not offered.
TESTED = frozenset({"again", "tempo", "rekey", "correct", "finger", "help", "let", "hold", "glimpse", "mode", "loop",
                    "bars", "hands", "listen", "sing", "degrees", "clef", "tone"})  # fmt: skip
# What helps, and so is not offered at sight before the one take is over.
HELPING = frozenset(
    {"help", "let", "hold", "glimpse", "listen", "sing", "degrees", "clef", "correct", "finger", "bars"}
)
# Its word in the strings, the key as shown, what it does, the key as pygame names it.
Order = tuple[str, str, Callable[[], object], str]


class Orders:
    """The orders of the Stand.

    Parameters
    ----------
    stand : Stand
    """

    def __init__(self, stand: Stand) -> None:
        self._stand = stand
        self.house = stand.house
        self.placing = Placing(stand)

    @property
    def _practice(self) -> Practice:
        assert self._stand.practice is not None
        return self._stand.practice

    @property
    def _still(self) -> bool:
        """Whether there is a piece on the stand and nobody plays it now."""
        practice = self._stand.practice
        return practice is not None and practice.phase not in (COUNTING, PLAYING)

    @property
    def _at_sight(self) -> bool:
        """Whether the piece is to be read at sight, without help."""
        practice = self._stand.practice
        return practice is not None and practice.wish.mode == PRIMA_VISTA and practice.phase != ENDED

    def steer(self, wish: str) -> None:
        """What an outer key or the soft pedal of the piano asks for."""
        stand = self._stand
        if wish == AGAIN:
            stand.again()
        elif wish == STOP:
            stand.stop()
        elif wish == NEXT and self.house.rounds.row:
            stand.next()
        elif wish == NEXT and stand.practice is not None:
            if stand.practice.phase == ENDED:
                self.house.go("copy")
            else:
                stand.stop()

    @property
    def _over(self) -> bool:
        """Whether a take that still goes on has been played to its end."""
        practice = self._stand.practice
        return (
            practice is not None and practice.phase == PLAYING and practice.wish.loop is None and practice.finished
            and not self._stand.tested
        )  # fmt: skip

    def stop(self) -> None:
        """End the take; of one that has been played to its end, on to its marked copy at once."""
        over, rounds = self._over, self.house.rounds
        self._stand.stop()
        if not over:
            return
        said = self.house.notice
        self._stand.stop()
        if said is not None and rounds.lasting:
            # A rest that is due, a step that is over, a key that has opened.
            self.house.notice = replace(said, words=rounds.lasting)

    # Another take of the piece

    def tempo(self, by: int) -> None:
        """Metronome steps faster or slower."""
        self._stand.change(self._practice.wish.stepped_tempo(by))

    def rekey(self, by: int) -> None:
        """Play it a semitone (or more) higher or lower than now.

        In the middle of a piece the page stays where it is: the choir that sank sings on.
        """
        before = self._practice
        wish = before.wish
        semitones = wish.plan.interval.semitones + by
        if abs(semitones) > 12:
            return
        free = wish.mode == SENZA_MISURA and wish.loop is None and before.phase in (READY, PLAYING) and not before.stray
        place = before.place if free else 0
        timed = wish.mode == A_TEMPO and wish.loop is None and before.phase == PLAYING and not before.finished
        start = self.placing.here if timed else wish.start
        self.placing.change(replace(wish, plan=by_semitones(wish.piece.key, semitones), start=start))
        if timed:
            self.placing.tell()
        elif 0 < place < len(wish.piece.moments):
            self._practice.wait_at(place)
            here = barwords.bar_of(wish.piece, wish.piece.bar_index(wish.piece.moments[place].onset))
            self.house.say(say("stand.rekeyed", bar=here), 6)

    def mode(self) -> None:
        """*Senza misura*, *a tempo*, *prima vista*, round and round."""
        wish = self._practice.wish
        mode = MODES[(MODES.index(wish.mode) + 1) % len(MODES)]
        self._stand.change(replace(wish, mode=mode, start=0 if mode == PRIMA_VISTA else wish.start))

    def hands(self) -> None:
        """Both hands, the right, the left, round and round."""
        wish = self._practice.wish
        if len(wish.piece.hands) < 2:
            return
        self.placing.change(replace(wish, hands=HANDS[(HANDS.index(wish.hands) + 1) % len(HANDS)]))

    def loop(self) -> None:
        """Step through loops of 1, 2, 4 and 8 bars from the place on, then on from the bar chosen before."""
        wish = self._practice.wish
        piece = wish.piece
        if wish.loop is None:
            moments = piece.moments
            place = min(self._practice.place, len(moments) - 1)
            first, long = piece.bar_index(moments[place].onset), 0
        else:
            first, long = wish.loop[0], wish.loop[1] - wish.loop[0] + 1
        for bars in (bars for bars in LOOPS if bars > long and first + bars <= len(piece.bars)):
            tried = replace(wish, loop=(first, first + bars - 1))
            if tried.part:
                self._stand.change(tried)
                looped = barwords.bars(piece, first, first + bars - 1)
                self.house.say(say("stand.loop.on", bars=looped), 3)
                return
        self.placing.change(replace(wish, loop=None))
        if self._practice.wish.start:
            self.placing.tell()
        else:
            self.house.say(say("stand.loop.off"), 3)

    # Help

    def help(self) -> None:
        """One step through the syllables shown, round and round."""
        practice = self._stand.practice
        if practice is None or practice.wish.mode == PRIMA_VISTA:
            self.house.say(say("help.none"), 2.5)
            return
        helping = self.house.rounds.helping
        self.house.say(helping.step(), 2.5)
        take = practice.record
        if take is not None and hasattr(take, "set_help"):
            take.set_help(helping.shown)
        self._stand.page.mark_afresh()

    def hold(self) -> None:
        """Keep the help as it is, or let it fade."""
        self.house.say(self.house.rounds.helping.hold())

    def degrees(self) -> None:
        """Chords by degree and function under the staff, or not."""
        self.house.change(chords=not self.house.settings.chords)
        self.house.say(say("stand.degrees.on" if self.house.settings.chords else "stand.degrees.off"), 4)

    def clef(self) -> None:
        """The clef to imagine before each staff, or not."""
        self.house.change(clef=not self.house.settings.clef)
        self.house.say(say("stand.clef.wish" if self.house.settings.clef else "stand.clef.off"), 4)

    def voice(self) -> None:
        """The voice of a song with its words, verse after verse, then more room for the piano's music."""
        page, numbers = self._stand.page, verses_in(self._practice.wish.piece)
        if self.house.settings.voice and page.verse < len(numbers):
            page.verse += 1
            self.house.say(say("stand.voice.verse", number=numbers[page.verse - 1]), 4)
            return
        page.verse = 1
        self.house.change(voice=not self.house.settings.voice)
        self.house.say(say("stand.voice.on" if self.house.settings.voice else "stand.voice.off"), 4)

    # What is heard

    def listen(self) -> None:
        """Hear the piece as it should sound; again to stop."""
        if self._at_sight:
            self.house.say(say("stand.sight.unheard"), 4)
        elif self._still and not self._stand.tested:
            self._stand.hearing.model(self._practice.wish)

    def cadence(self) -> None:
        """Set the ear: what was chosen for it, in the target key."""
        if self._still:
            self._stand.hearing.ear(self._practice.wish)

    def sing(self) -> None:
        """Be asked for tonic, fifth and the first notes; again to leave it."""
        if self._at_sight:
            self.house.say(say("stand.sight.unheard"), 4)
        elif self._still and not self._stand.tested:
            self.house.notice = None
            self._stand.hearing.sing(self._practice.wish, self.house.settings.minor)

    def other_hand(self) -> None:
        """Let the other hand sound, or be silent."""
        self.house.change(other_hand=not self.house.settings.other_hand)
        self.house.say(say("stand.other.on" if self.house.settings.other_hand else "stand.other.off"), 4)
        self._stand.other_hand()

    # What is shown

    def tune(self) -> None:
        """The card of ear and time, over the page; again to put it away."""
        self._stand.tuning = not self._stand.tuning
        self._stand.keys_shown = False

    def show_keys(self) -> None:
        """Every order with its key, over the page; again to put it away."""
        self._stand.keys_shown = not self._stand.keys_shown
        self._stand.tuning = False

    def margin(self) -> None:
        """The margin, or more room for the music."""
        self.house.change(margin=not self.house.settings.margin)

    def typing(self) -> None:
        """The letters of the computer keyboard are a piano, or give orders."""
        self._stand.typing = not self._stand.typing
        self.house.say(say("stand.typing.on" if self._stand.typing else "stand.typing.off"), 4)

    # All of them, with their keys

    def offered(self, word: str) -> bool:
        """Whether an order, by its word, is of any use now."""
        return not (self._stand.tested and word in TESTED) and not (self._at_sight and word in HELPING)

    def listed(self) -> list[Order]:
        """What can be done, the most wanted first."""
        stand = self._stand
        before = stand.key_labels()
        practice = stand.practice
        ended = practice is not None and (practice.phase == ENDED or self.house.rounds.rounded(practice))
        timed = practice is not None and practice.wish.mode != SENZA_MISURA
        begin = practice is not None and timed and practice.phase in (READY, LOOKING)
        row: list[Order] = [("next", f"{before}n", stand.next, f"{before}n")] if self.house.rounds.row else []
        correct: list[Order] = [("correct", f"{before}r", stand.correcting.toggle, f"{before}r")]
        finger: list[Order] = [("finger", f"{before}t", stand.fingering.toggle, f"{before}t")]
        # Where chords are shown it stands where a narrow window has room for it.
        shown = self.house.settings.chords
        song = practice is not None and bool(practice.wish.piece.sung or practice.wish.piece.lyrics)
        return [
            *row,
            ("begin" if begin else "again", "space", stand.again, "space"),
            ("keys", "f10", self.show_keys, "f10"),
            ("copy" if ended or self._over else "stop", "enter", self.stop, "return"),
            ("page", "esc", self.show_keys, "escape")
            if stand.keys_shown
            else ("desk", "esc", partial(self.house.go, "desk"), "escape"),
            ("tempo", "↑ ↓", partial(self.tempo, 1), "up"),
            ("rekey", "← →", partial(self.rekey, 1), "right"),
            *(correct if shown else []),
            ("help", f"{before}h", self.help, f"{before}h"),
            ("let" if self.house.rounds.helping.held else "hold", f"{before}f", self.hold, f"{before}f"),
            ("glimpse", f"{before}g", partial(stand.glimpse, True), ""),
            ("mode", f"{before}m", self.mode, f"{before}m"),
            ("loop", f"{before}l", self.loop, f"{before}l"),
            ("bars", "pg up pg dn", partial(self.placing.step, 1), "page down"),
            ("hands", f"{before}b", self.hands, f"{before}b"),
            ("listen", f"{before}i", self.listen, f"{before}i"),
            ("ear", f"{before}c", self.cadence, f"{before}c"),
            ("sing", f"{before}s", self.sing, f"{before}s"),
            ("tuning", f"{before}e", self.tune, f"{before}e"),
            ("degrees", f"{before}d", self.degrees, f"{before}d"),
            *([] if shown else correct),
            *finger,
            ("clef", f"{before}k", self.clef, f"{before}k"),
            *([("voice", f"{before}v", self.voice, f"{before}v")] if song else []),
            ("other", f"{before}o", self.other_hand, f"{before}o"),
            ("margin", f"{before}p", self.margin, f"{before}p"),
        ]

    def more(self) -> list[Order]:
        """What can be done besides, told only on the list of all keys."""
        return [
            ("tone", "ctrl ← →", partial(self.rekey, 2), "ctrl right"),
            ("typing", "f8", self.typing, "f8"),
            ("octave", "f6 f7", partial(self.house.typed.shift, 1), "f7"),
            ("night", "f9", lambda: self.house.change(night=not self.house.settings.night), ""),
            ("full", "f11", self.house.pane.full_screen, ""),
            ("scale", "ctrl + −", partial(self.house.scale_step, 1), ""),
        ]

    def ways(self, word: str) -> tuple[Callable[[], object], Callable[[], object]] | None:
        """Of an order that goes two ways, what the first and what the second of its keys does; None of another."""
        shift = self.house.typed.shift
        two: dict[str, tuple[Callable[[], object], Callable[[], object]]] = {
            "tempo": (partial(self.tempo, 1), partial(self.tempo, -1)),
            "rekey": (partial(self.rekey, -1), partial(self.rekey, 1)),
            "bars": (partial(self.placing.step, -1), partial(self.placing.step, 1)),
            "tone": (partial(self.rekey, -2), partial(self.rekey, 2)),
            "octave": (partial(shift, -1), partial(shift, 1)),
            "scale": (partial(self.house.scale_step, 1), partial(self.house.scale_step, -1)),
        }
        return two.get(word)

    def unshown(self) -> list[tuple[str, Callable[[], object]]]:
        """The other way of keys that go two ways."""
        return [
            ("left", partial(self.rekey, -1)),
            ("ctrl left", partial(self.rekey, -2)),
            ("down", partial(self.tempo, -1)),
            ("f6", partial(self.house.typed.shift, -1)),
        ]
