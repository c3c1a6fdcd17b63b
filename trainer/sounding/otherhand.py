"""The hand that is not practised, played for the player: in time with the click, or waiting for the right notes."""

from __future__ import annotations

import threading
from bisect import bisect_left
from fractions import Fraction

from trainer.listening.clock import now
from trainer.music.piece import LEFT, RIGHT, Piece
from trainer.sounding.model import in_bars
from trainer.sounding.tempo import TempoMap
from trainer.sounding.voice import Schedule, Voice

OTHER = {RIGHT: LEFT, LEFT: RIGHT}


def in_time(piece: Piece, practised: str, bars: tuple[int, int] | None = None, tempo: float | None = None) -> Schedule:
    """The other hand as a schedule whose 0 is the first bar; empty when there is no other hand, or it rests.

    Parameters
    ----------
    piece : Piece
        In the target key.
    practised : str
        ``right`` or ``left``; ``both`` leaves nothing to play.
    """
    other = OTHER.get(practised)
    first, last = bars or (0, len(piece.bars))
    if other is None or not any(
        note.hand == other and first <= piece.bar_index(note.onset) <= last for note in piece.notes
    ):
        return Schedule(())
    return in_bars(piece, other, bars, tempo)


class Waiting:
    """The other hand in *senza misura*: it sounds when the player has come so far, never before.

    Notes written together with a practised note sound as that note is played; notes between it and the next
    practised note follow at the tempo, and stop to wait there.

    Parameters
    ----------
    piece : Piece
        In the target key.
    bars : (int, int), optional
        Beyond these it is silent: first and last, as indices in `Piece.bars`.
    """

    def __init__(
        self,
        piece: Piece,
        practised: str,
        voice: Voice,
        tempo: float | None = None,
        bars: tuple[int, int] | None = None,
    ) -> None:
        self._voice = voice
        self._course = TempoMap(piece, tempo)
        begun = self._course.seconds(piece.bars[bars[0]].onset) if bars else 0.0
        self._schedule = in_time(piece, practised, bars, tempo).later(begun)
        mine = {note.onset for note in piece.notes if note.hand == practised and not note.grace}
        self._mine = sorted(mine)
        self._done: Fraction | None = None
        # Opening a port or making a tone may take a second; the page need not wait for it.
        threading.Thread(target=self._voice.prepare, args=(self._schedule.notes,), name="prepare", daemon=True).start()

    def before(self) -> None:
        """Play what the other hand has before the practised hand's first note."""
        if self._mine and self._mine[0] > 0:
            self._sound(Fraction(0), self._mine[0])

    def reached(self, onset: Fraction) -> None:
        """The player has played everything the practised hand has at this onset."""
        if onset == self._done:
            return
        self._done = onset
        at = bisect_left(self._mine, onset)
        following = self._mine[at + 1] if at + 1 < len(self._mine) else None
        self._sound(onset, following)

    def sounds_on(self, voice: Voice) -> None:
        """From now on another voice sounds: the piano came or went."""
        self._voice = voice

    def stop(self) -> None:
        """Let go of everything."""
        self._voice.cancel()

    def _sound(self, first: Fraction, until: Fraction | None) -> None:
        begin = self._course.seconds(first)
        end = float("inf") if until is None else self._course.seconds(until)
        # Half a millisecond keeps onsets that are equal in quarters equal in seconds.
        notes = [note for note in self._schedule.notes if begin - 5e-4 <= note.at < end - 5e-4]
        self._voice.play(notes, now() - begin)
