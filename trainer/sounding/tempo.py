"""The tempo map of a piece: quarter notes to seconds and back."""

from __future__ import annotations

from bisect import bisect_right
from fractions import Fraction

from trainer.music.piece import Piece
from trainer.music.pitch import MusicError

SLOWEST, FASTEST = 5.0, 600.0


class TempoMap:
    """Seconds of every onset of a piece, its written tempo changes kept in proportion.

    Parameters
    ----------
    piece : Piece
    tempo : float, optional
        Quarters a minute at the start instead of the written tempo.
    speed : float
        1.0 as written, 0.5 half as fast; on top of `tempo`.

    Raises
    ------
    MusicError
        When that would be slower than 5 or faster than 600 quarters a minute at the start.
    """

    def __init__(self, piece: Piece, tempo: float | None = None, speed: float = 1.0) -> None:
        written = [(max(onset, Fraction(0)), rate) for onset, rate in piece.tempi if rate > 0]
        if not written or written[0][0] > 0:
            written.insert(0, (Fraction(0), piece.tempo))
        factor = speed * (tempo / written[0][1] if tempo else 1.0)
        self.start = written[0][1] * factor
        if not SLOWEST <= self.start <= FASTEST:
            raise MusicError(f"{self.start:g} quarter notes a minute cannot be played: choose between 5 and 600.")
        self._onsets: list[Fraction] = []
        self._seconds: list[float] = []
        self._rates: list[float] = []
        seconds, before = 0.0, Fraction(0)
        for onset, rate in sorted(written, key=lambda change: change[0]):
            if self._onsets:
                seconds += float(onset - before) * 60.0 / self._rates[-1]
            before = onset
            self._onsets.append(onset)
            self._seconds.append(seconds)
            self._rates.append(rate * factor)

    def seconds(self, onset: Fraction | int) -> float:
        """When an onset is reached, counted from onset 0; onsets before 0 have negative times."""
        at = max(bisect_right(self._onsets, onset) - 1, 0)
        return self._seconds[at] + float(onset - self._onsets[at]) * 60.0 / self._rates[at]

    def quarters(self, seconds: float) -> float:
        """The place in quarters after some seconds: the inverse of `seconds`."""
        at = max(bisect_right(self._seconds, seconds) - 1, 0)
        return float(self._onsets[at]) + (seconds - self._seconds[at]) * self._rates[at] / 60.0

    def rate(self, onset: Fraction | int) -> float:
        """Quarters a minute at an onset."""
        return self._rates[max(bisect_right(self._onsets, onset) - 1, 0)]
