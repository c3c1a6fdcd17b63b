"""Correcting the chords under the staff, on the Stand: one chord is framed, and the player says what it is.

The numeral is typed, or named from the keys held on the piano in the key that is played. What is kept goes to
``harmony.toml`` (`coaching.own.corrections`) and stands at once under the staff and in the harmony drill.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from fractions import Fraction
from typing import TYPE_CHECKING

import pygame
from pygame import Rect

from trainer.listening.press import Event, Press, Release
from trainer.scores.harmony import Correction, Harmony, is_skeleton
from trainer.scores.numerals import of_keys
from trainer.window import barwords
from trainer.window.page.chordrow import SIZE, height, stacked
from trainer.window.page.music import Score
from trainer.window.paint import fonts
from trainer.window.paint.canvas import OVER, Canvas
from trainer.window.paint.controls import Controls
from trainer.window.paint.theme import hexed
from trainer.window.stand.amending import Amending
from trainer.window.strings import key_name, letter_name, say
from trainer.window.workroom import studies
from trainer.window.workroom.workroom import told

if TYPE_CHECKING:
    from trainer.window.stand.stand import Stand

# A numeral is never longer.
_LONGEST = 12
_SIGNS = (("/o", "ø"), ("o", "°"), ("b", "♭"), ("#", "♯"))


def printed(typed: str) -> str:
    """A numeral being typed, as it would be printed.

    >>> printed("viio65/V"), printed("bVI"), printed("ii/o7")
    ('vii°⁶₅/V', '♭VI', 'iiø⁷')
    """
    for plain, sign in _SIGNS:
        typed = typed.replace(plain, sign)
    return stacked(typed)


class Correcting(Amending):
    """Which chord is framed, what has been said of it, and what was kept so far."""

    def __init__(self, stand: Stand) -> None:
        super().__init__(stand)
        self.text = ""
        self._place = Fraction(0)
        # The frame stands on a beat inside a chord, which will be divided there.
        self._inside = False
        self._held: set[int] = set()
        self._undo: list[Correction] = []

    # Where it is

    @property
    def found(self) -> tuple[Harmony, ...]:
        return self._stand.page.chords.of(self._piece)

    @property
    def chord(self) -> Harmony | None:
        """The chord at the frame."""
        found = self.found
        at = bisect_right([chord.onset for chord in found], self._place) - 1
        return found[max(at, 0)] if found else None

    @property
    def onset(self) -> Fraction:
        """Where a correction would begin."""
        chord = self.chord
        return self._place if chord is None or self._inside else chord.onset

    # In and out

    def toggle(self) -> None:
        if self.on:
            self.leave()
            return
        stand = self._stand
        if self._at_sight:
            stand.house.say(say("stand.chord.sight"))
            return
        if is_skeleton(self._piece):
            stand.house.say(say("stand.chord.drill"))
            return
        if not stand.house.settings.chords:
            stand.house.change(chords=True)
        self._place, self._inside = self._begins, False
        if self._start():
            self._undo = []
        self.text, self._held = "", set()

    # Moving the frame

    def step(self, by: int) -> None:
        """To a neighbouring chord; back from inside a chord first to its beginning."""
        onsets = [chord.onset for chord in self.found]
        if not onsets:
            return
        at = max(bisect_right(onsets, self._place) - 1, 0)
        to = at if self._inside and by < 0 else at + by
        self._go(onsets[max(0, min(len(onsets) - 1, to))])

    def beat(self, by: int) -> None:
        """A beat on or back, into the chord: where it is divided."""
        piece = self._piece
        beats = [
            bar.onset + number * bar.beat_quarters
            for bar in piece.bars
            for number in range(-(-bar.length // bar.beat_quarters))
        ]
        at = bisect_right(beats, self.onset) - 1
        self._go(beats[max(0, min(len(beats) - 1, at + by))])

    def _go(self, onset: Fraction) -> None:
        self._place = onset
        self._inside = onset not in [chord.onset for chord in self.found]
        self.text = ""
        self._stand.house.notice = None

    # Saying what it is

    def key(self, event: pygame.event.Event) -> bool:
        """A letter of the numeral."""
        letter = event.unicode
        if len(letter) == 1 and letter.isprintable() and not letter.isspace() and len(self.text) < _LONGEST:
            self.text += letter
        return True

    def erase(self) -> None:
        self.text = self.text[:-1]

    def played(self, event: Event) -> None:
        """The chord as it is played, in the key that is played."""
        stand = self._stand
        if isinstance(event, Release):
            self._held.discard(event.pitch)
        chord = self.chord
        if not isinstance(event, Press) or chord is None:
            return
        self._held.add(event.pitch)
        move = stand.practice.wish.plan.interval if stand.practice else None
        tonic = chord.key.tonic + move if move else chord.key.tonic
        named = of_keys(self._held, tonic.pitch_class, chord.key.mode)
        if named is not None:
            self.text = named.figure
            stand.house.notice = None
        elif len(self._held) > 2:
            self.text = ""
            stand.house.say(say("stand.chord.nameless"))

    def confirm(self) -> None:
        if self.text:
            self.keep(lambda: self.step(1))
        else:
            self.step(1)

    # Keeping it

    def keep(self, then: Callable[[], None] | None = None) -> None:
        """What was typed or played stands from now on."""
        if not self.text:
            self._stand.house.say(say("stand.chord.unsaid"))
        elif self.chord is not None:
            # Until the chords are found the line at the foot says so.
            self._write(Correction(self.onset, self.text), then)

    def take_away(self) -> None:
        """The chord is again as it was found."""
        self.text = ""
        if not self._said_at(self.onset):
            self._stand.house.say(say("stand.chord.untouched"))
            return
        self._write(Correction(self.onset, ""))

    def undo(self) -> None:
        """What was last kept or taken away is as before."""
        if not self._undo:
            self._stand.house.say(say("stand.chord.undo.none"))
            return
        before = self._undo.pop()
        self._place, self.text = before.onset, ""
        self._write(before, undoing=True)

    def _said_at(self, onset: Fraction) -> str:
        """The player's own numeral that begins there, or nothing."""
        return next((c.numeral.figure for c in self.found if c.onset == onset and c.corrected), "")

    def _write(self, change: Correction, then: Callable[[], None] | None = None, undoing: bool = False) -> None:
        """Ask for a change to be kept; it can be undone at once, though it is kept a moment later."""
        stand, piece = self._stand, self._piece
        before, place = Correction(change.onset, self._said_at(change.onset)), self._place
        if not undoing:
            self._undo.append(before)

        def written(said: tuple[Correction, ...]) -> None:
            stand.page.chords.put(piece, said)
            if self._of is not piece or not self.on or self._place != place:
                # Who has gone on to another chord meanwhile stays there.
                return
            self._go(change.onset)
            if change.figure:
                stand.house.say(say("stand.chord.kept", bar=self._bar, chord=self._words))
            else:
                self._inside = False
                stand.house.say(say("stand.chord.gone", bar=self._bar, chord=self._words))
            if then is not None:
                then()

        def failed(trouble: Exception) -> None:
            if not undoing and before in self._undo:
                self._undo.remove(before)
            stand.house.say(told(trouble, "stand.chord-not-kept"))

        folder = str(stand.house.journal_file.parent)
        stand.house.workroom.keep(studies.chord_kept, piece, folder, change, then=written, failed=failed)

    # What is shown

    @property
    def _bar(self) -> str:
        return barwords.bar_of(self._piece, self._piece.bar_index(self.onset))

    @property
    def _words(self) -> str:
        """The framed chord as it stands: numeral and function."""
        chord = self.chord
        if chord is None:
            return ""
        numeral = chord.numeral
        return ", ".join(part for part in (stacked(numeral.sign), numeral.function) if part)

    def orders(self) -> list[tuple[str, str, Callable[[], object], str]]:
        return [
            ("chord.step", "← →", lambda: self.step(1), "right"),
            ("chord.keep", "enter", self.keep, "return"),
            ("chord.leave", "esc", self.leave, "escape"),
            ("chord.away", "del", self.take_away, "delete"),
            ("chord.undo", "ctrl z", self.undo, "ctrl z"),
            ("chord.beat", "ctrl ← →", lambda: self.beat(1), "ctrl right"),
        ]

    def order(self, controls: Controls) -> None:
        controls.order("chord.left", "left", lambda: self.step(-1))
        controls.order("chord.beat.left", "ctrl left", lambda: self.beat(-1))
        controls.order("chord.tab", "tab", lambda: self.step(1))
        controls.order("chord.enter", "enter", self.keep)
        controls.order("chord.erase", "backspace", self.erase)
        self._order_again(controls, "r", typed=True)

    def lay(self, canvas: Canvas, score: Score, at: int, corner: tuple[int, int]) -> None:
        """The frame, when the chord stands under this system; after the row of chords has been laid."""
        chord = self.chord
        if chord is None:
            return
        system, x = score.engraved.place_at(score.piece, self.onset)
        if system != at:
            return
        pixels = canvas.size[1] * SIZE
        size = pixels / canvas.unit
        left, wide = corner[0] + x - pixels * 0.4, pixels
        new = bool(self.text) or self._inside
        shown = printed(self.text)
        if not self._inside:
            # The frame holds all that is said of the chord, also while another is typed over it.
            here = [c.onset for c in self.found if score.engraved.place_at(score.piece, c.onset)[0] == at]
            name = f"chord.{at}.{here.index(chord.onset)}."
            extents = [box.extent for box in canvas.boxes if box.name.startswith(name) and box.extent is not None]
            if extents:
                left, wide = extents[0].left, extents[-1].right - extents[0].left
        if new:
            wide = max(wide, canvas.width(shown, fonts.ROMAN, size) + 2)
        row = Rect(round(left), corner[1] + score.systems[at].size[1], round(wide), height(canvas.size[1]))
        frame = row.inflate(round(pixels * 0.4), 0)
        ground = hexed(canvas.colour("paper")) if new else "none"
        thick = max(1.6, pixels * 0.07)
        dashes = f' stroke-dasharray="{pixels * 0.22:.1f}"' if self._inside else ""
        body = (
            f'<rect x="{thick / 2}" y="{thick / 2}" width="{frame.width - thick}" height="{frame.height - thick}" '
            f'rx="{pixels * 0.2:.1f}" fill="{ground}" stroke="{hexed(canvas.colour("blue"))}" '
            f'stroke-width="{thick:.1f}"{dashes}/>'
        )
        canvas.shape("chord.frame", frame, body, OVER)
        if shown:
            canvas.words("chord.typed", row, shown, size=size, kind=OVER, least=1.0)

    @property
    def margin(self) -> str:
        return say("stand.chord.margin")

    @property
    def caption(self) -> tuple[str, str]:
        """Bar, chord and its notes in the key that is played; and how to say another, or what was just said."""
        stand, chord = self._stand, self.chord
        assert stand.practice is not None
        quiet = stand.house.notice.words if stand.house.notice else say("stand.chord.how")
        if chord is None:
            return say("stand.chord.wait"), quiet
        move, letters = stand.practice.wish.plan.interval, stand.house.settings.letters
        notes = " ".join(letter_name(pitch + move, letters) for pitch in chord.numeral.pitches(chord.key))
        name = "stand.chord.own" if chord.corrected else "stand.chord.here"
        key = key_name(chord.key.transposed(move), letters)
        return say(name, bar=self._bar, chord=self._words, notes=notes, key=key), quiet
